"""Lengths and angles as people write them, and numbers shown to people in both units, no finer than their bound.

Text is read on exact fractions; mm and rad come out. A bare number is refused: it would be guessed wrong some day.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable, Mapping
from fractions import Fraction
from functools import partial
from typing import NamedTuple

from cutvision.errors import InputError

MM_PER_INCH = 25.4
LONGEST_MM = 100_000.0
LARGEST_ANGLE_DEG = 360.0
# Nothing in a shop is finer; the formulas divide by some of these values, and far smaller ones would overflow.
SHORTEST_MM = 1e-6
SMALLEST_ANGLE_DEG = 1e-6
LONGEST_TEXT = 80
# A rule's division further off a length than this share of it is not that length to anyone (common sense, no source).
MOST_OFF = 0.05

_INCH = Fraction(254, 10)
_LENGTHS: dict[str, Fraction] = {
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), Fraction(1)),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), Fraction(10)),
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), Fraction(1000)),
    **dict.fromkeys(("um", "micron", "microns", "micrometre", "micrometres"), Fraction(1, 1000)),
    **dict.fromkeys(("in", "in.", "inch", "inches", '"', "''"), _INCH),
    **dict.fromkeys(("thou", "thous", "mil", "mils"), _INCH / 1000),
    **dict.fromkeys(("ft", "ft.", "foot", "feet", "'"), _INCH * 12),
}
_DEGREE = Fraction(1)
_ANGLES: dict[str, Fraction] = {
    **dict.fromkeys(("deg", "degs", "degree", "degrees", "°"), _DEGREE),
    **dict.fromkeys(("min", "mins", "minute", "minutes", "arcmin", "'"), _DEGREE / 60),
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds", "arcsec", '"', "''"), _DEGREE / 3600),
    **dict.fromkeys(("rad", "radian", "radians"), Fraction(180 / math.pi)),
    **dict.fromkeys(("mrad",), Fraction(180 / math.pi) / 1000),
}
_TYPOGRAPHY = str.maketrans(
    {
        **dict.fromkeys("″”“„", '"'),
        **dict.fromkeys("′’‘", "'"),
        **dict.fromkeys("⁄∕", "/"),
        **dict.fromkeys("−‐‑–", "-"),
        **dict.fromkeys("º˚", "°"),
        **dict.fromkeys("µμ", "u"),
    }
)
_FRACTION = r"(?:(?P<whole>[0-9]+)(?: | ?- ?))?(?P<over>[0-9]+) ?/ ?(?P<under>[0-9]+)"
_DECIMAL = r"(?P<decimal>(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:e[+-]?[0-9]{1,3})?)"
_TERM = re.compile(rf" ?(?:{_FRACTION}|{_DECIMAL}) ?(?P<unit>[a-z]+\.?|°|''|'|\")? ?")


class _Kind(NamedTuple):
    """What is being read: its units, those of the other kind, and how a person is told to type one."""

    noun: str
    units: Mapping[str, Fraction]
    compound: tuple[Fraction, ...]
    largest: float
    largest_text: str
    smallest: float
    smallest_text: str
    other_noun: str
    other_units: Mapping[str, Fraction]
    units_text: str
    example: str
    list_example: str


_LENGTH = _Kind(
    noun="a length",
    units=_LENGTHS,
    compound=(_INCH * 12, _INCH),
    largest=LONGEST_MM,
    largest_text="100 m",
    smallest=SHORTEST_MM,
    smallest_text="a millionth of a millimetre",
    other_noun="an angle",
    other_units=_ANGLES,
    units_text="mm, cm, m, in, thou or ft",
    example='19mm, 0.75in, 3/4in, 6 1/2" or 12thou',
    list_example="101.62mm,101.64mm,101.61mm",
)
_ANGLE = _Kind(
    noun="an angle",
    units=_ANGLES,
    compound=(_DEGREE, _DEGREE / 60, _DEGREE / 3600),
    largest=LARGEST_ANGLE_DEG,
    largest_text="a full turn",
    smallest=SMALLEST_ANGLE_DEG,
    smallest_text="a millionth of a degree",
    other_noun="a length",
    other_units=_LENGTHS,
    units_text="deg, min or sec",
    example="45deg, 22.5deg, 30min or 1deg 30min",
    list_example="0.05deg,0.07deg,3min",
)


def parse_length(text: str, what: str, *, zero: bool = False) -> float:
    """A length in mm. `what` names the option or value in messages; `zero` lets nothing at all pass as a length.

    Raises InputError when the text is no length, has no unit, is negative, is zero without `zero`, is under 1 nm
    or past 100 m.
    """
    return float(_parse(text, what, _LENGTH, zero=zero))


def parse_lengths(text: str, what: str, *, zero: bool = False) -> tuple[float, ...]:
    """One length in mm, or several readings of it with commas between, each with its unit; units may be mixed.

    `what` and `zero` as for one length.

    Raises InputError as `parse_length` does for each, also for a reading left empty.
    """
    return _parse_list(text, what, _LENGTH, partial(parse_length, zero=zero))


def parse_angles(text: str, what: str) -> tuple[float, ...]:
    """One angle in rad, or several with commas between, each with its unit, as `parse_lengths`."""
    return _parse_list(text, what, _ANGLE, parse_angle)


def parse_angle(text: str, what: str, *, zero: bool = False) -> float:
    """An angle in rad. `what` and `zero` as for a length.

    Raises InputError when the text is no angle, has no unit, is negative, is zero without `zero`, is under a
    millionth of a degree or past a turn.
    """
    return math.radians(float(_parse(text, what, _ANGLE, zero=zero)))


def _parse_list(text: str, what: str, kind: _Kind, parse: Callable[[str, str], float]) -> tuple[float, ...]:
    """Each part by itself; a part of figures alone is a decimal comma, or a unit left out."""
    parts = text.split(",")
    if len(parts) == 1:
        return (parse(text, what),)
    for number, part in enumerate(parts, 1):
        if not part.strip():
            raise InputError(
                f"{what} is '{text}', in which reading {number} is empty.",
                "Put one comma between two readings and none at either end.",
            )
        if not any(sign.isalpha() or sign in "\"'″”′’°º" for sign in part):
            raise InputError(
                f"{what} is '{text}': a comma may mean a decimal point or one more reading, as '{part.strip()}' has no "
                "unit.",
                f"Type a point for the decimals, and each reading with its unit, such as {kind.list_example}.",
            )
    return tuple(parse(part, f"{what}, reading {number},") for number, part in enumerate(parts, 1))


def _parse(text: str, what: str, kind: _Kind, *, zero: bool) -> Fraction:
    """The value in mm or degrees."""
    plain = _plain(text)
    if len(plain) > LONGEST_TEXT:
        raise InputError(f"{what} is {len(plain)} characters long.", f"Type {kind.noun} with its unit: {kind.example}.")
    if not plain:
        raise InputError(f"{what} is empty; it needs {kind.noun}.", f"Type {kind.noun} with its unit: {kind.example}.")
    if "," in plain:
        raise InputError(
            f"{what} is '{text}': a comma may mean a decimal point or thousands.",
            f"Type a point for the decimals and nothing for thousands, such as {kind.example}.",
        )
    value = _sum_of_terms(plain.removeprefix("-").removeprefix("+"), text, what, kind)
    if value > kind.largest:
        raise InputError(
            f"{what} is '{text}', more than {kind.largest_text}.", "Look for a wrong unit or a digit too many."
        )
    if plain.startswith("-") and value:
        raise InputError(f"{what} is '{text}'; it cannot be negative.", "Type it without a sign.")
    if not float(value) and not zero:
        raise InputError(
            f"{what} is '{text}'; it must be more than zero.", f"Type {kind.noun} above zero: {kind.example}."
        )
    if float(value) and value < kind.smallest:
        raise InputError(
            f"{what} is '{text}', less than {kind.smallest_text}.", "Look for a wrong unit or a wrong exponent."
        )
    return value


def _plain(text: str) -> str:
    """Lower case, ordinary quotes and signs, and 6½ as 6 1/2: a half must not become part of the whole number."""
    spread = "".join(
        f" {unicodedata.normalize('NFKC', c)} " if unicodedata.decomposition(c).startswith("<fraction>") else c
        for c in text
    )
    return re.sub(r"\s+", " ", spread.translate(_TYPOGRAPHY)).strip().lower()


def _sum_of_terms(plain: str, text: str, what: str, kind: _Kind) -> Fraction:
    total, position, last = Fraction(0), 0, None
    while position < max(1, len(plain)):
        term = _TERM.match(plain, position)
        if term is None or (term["unit"] is None and term.end() < len(plain)):
            raise InputError(
                f"{what} is '{text}', which cannot be read.", f"Type {kind.noun} with its unit: {kind.example}."
            )
        unit = _unit(term["unit"], text, what, kind)
        if last is not None and not (last in kind.compound and unit in kind.compound and unit < last):
            raise InputError(
                f"{what} is '{text}': these parts do not belong to one value.",
                f"Type one value, such as {kind.example}.",
            )
        total += _number(term, text, what) * unit
        position, last = term.end(), unit
    return total


def _unit(unit: str | None, text: str, what: str, kind: _Kind) -> Fraction:
    if unit is None:
        if kind is _LENGTH:
            raise InputError(
                f"{what} is '{text}' without a unit: millimetres and inches differ 25-fold; a wrong guess would move "
                "the fence by the wrong amount.",
                f"Type the unit with the number: {text.strip()}mm or {text.strip()}in.",
            )
        raise InputError(
            f"{what} is '{text}' without a unit: degrees and minutes of arc differ 60-fold.",
            f"Type the unit with the number: {text.strip()}deg or {text.strip()}min.",
        )
    if unit in kind.units:
        return kind.units[unit]
    if unit in kind.other_units:
        raise InputError(
            f"{what} is '{text}', which is {kind.other_noun}; {kind.noun} is needed.", f"Type it like {kind.example}."
        )
    raise InputError(f"{what} is '{text}': the unit '{unit}' is not known.", f"Use {kind.units_text}: {kind.example}.")


def _number(term: re.Match[str], text: str, what: str) -> Fraction:
    if term["decimal"] is not None:
        return Fraction(term["decimal"])
    over, under, whole = int(term["over"]), int(term["under"]), term["whole"]
    if under == 0 or (whole is not None and over >= under):
        raise InputError(
            f"{what} is '{text}': {over}/{under} is no part of a whole.", "Type the fraction like 6 1/2in."
        )
    return Fraction(int(whole or 0)) + Fraction(over, under)


def decimals(bound: float) -> int:
    """Decimal places down to the second figure of a bound; negative for tens. At most 6, also for no bound at all."""
    if not (math.isfinite(bound) and bound > 0):
        return 6
    return min(6, 1 - math.floor(math.log10(float(f"{bound:.1e}"))))


def format_number(value: float, bound: float) -> str:
    """The value no finer than the second figure of its bound, never as -0."""
    places = decimals(bound)
    rounded = round(value, places) + 0.0
    return f"{rounded:.{max(0, places)}f}"


def format_bound(bound: float) -> str:
    """The bound with two figures."""
    return format_number(bound, bound)


def format_length(value_mm: float, bound_mm: float) -> str:
    """A length in both units, and as a rule shows it where the bound is no finer than that.

    bound_mm: its expanded uncertainty; its second figure is the last place shown.
    """
    inches = format_number(value_mm / MM_PER_INCH, bound_mm / MM_PER_INCH)
    rule = nearest_on_a_rule(value_mm, bound_mm)
    return f"{format_number(value_mm, bound_mm)} mm ({inches} in{f', about {rule}' if rule else ''})"


def format_angle(value_rad: float, bound_rad: float) -> str:
    """An angle in degrees and in minutes of arc. bound_rad: its expanded uncertainty, as for a length."""
    value, bound = math.degrees(value_rad), math.degrees(bound_rad)
    return f"{format_number(value, bound)} deg ({format_number(60 * value, 60 * bound)}')"


def format_length_with_bound(value_mm: float, bound_mm: float) -> str:
    """A length and its expanded uncertainty in both units."""
    value_in, bound_in = value_mm / MM_PER_INCH, bound_mm / MM_PER_INCH
    return (
        f"{format_number(value_mm, bound_mm)} ± {format_bound(bound_mm)} mm "
        f"({format_number(value_in, bound_in)} ± {format_bound(bound_in)} in)"
    )


def format_angle_with_bound(value_rad: float, bound_rad: float) -> str:
    """An angle and its expanded uncertainty in degrees and in minutes of arc."""
    value, bound = math.degrees(value_rad), math.degrees(bound_rad)
    return (
        f"{format_number(value, bound)} ± {format_bound(bound)} deg "
        f"({format_number(60 * value, 60 * bound)} ± {format_bound(60 * bound)}')"
    )


def nearest_on_a_rule(value_mm: float, bound_mm: float) -> str | None:
    """The length on an inch rule, such as "3 1/2 in", to the division that the bound supports (1/64 to 1/8 in).

    None when the bound is finer than half of 1/64 in or coarser than 1/8 in, below 1/16 in, where people think in
    thousandths and shims, and when the division lies so far off that it would mislead: past the bound, or 5 % of it.
    """
    bound_in, value_in = bound_mm / MM_PER_INCH, value_mm / MM_PER_INCH
    parts = next((parts for parts in (8, 16, 32, 64) if 0.5 / parts <= bound_in <= 1 / 8), None)
    if parts is None or value_in < 1 / 16:
        return None
    nearest = Fraction(round(value_in * parts), parts)
    if abs(float(nearest) - value_in) > min(bound_in, MOST_OFF * value_in):
        return None
    whole, rest = divmod(nearest, 1)
    return f"{' '.join(str(part) for part in (whole, rest) if part)} in"
