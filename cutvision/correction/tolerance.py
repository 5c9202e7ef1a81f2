"""A tolerance the way people say it: an angle, a deviation over a length, or a gap in a joint.

Whatever was said becomes the error of one cut, in rad, that still does no harm; the words are kept beside it.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from cutvision.correction.angle_error import PLAUSIBLE_RAD
from cutvision.errors import InputError
from cutvision.units import parse_angle, parse_length

FORMS = "0.05deg, 3min, 0.1mm/300mm, 3thou/18in, 0.001in/ft or gap:0.1mm/60mm"
# Before the length stands a unit, so that the stroke of a fraction (3/64in over 12in) is not taken for it; the length
# may be a unit alone: 0.001in/ft, 1mm per m, 0.004in over a foot.
_UNIT = r"(?:mm|cm|m|in|inch|ft|foot)\b"
_OVER = re.compile(
    rf"(?<=[^\s\d])\s*(?:/|\bover\b|\bon\b|\bper\b)\s*(?:an?\s+)?(?=[\d.]|{_UNIT}\.?\s*$)", re.IGNORECASE
)
_BARE_UNIT = re.compile(rf"\s*{_UNIT}\.?\s*", re.IGNORECASE)
_GAP = re.compile(r"\s*gap\b\s*:?", re.IGNORECASE)
_LENGTH = re.compile(r"\s*[\d. /]+\s*(?:mm|cm|um|microns?|in\.?|inch(?:es)?|thous?|mils?|\"|″|”)\s*", re.IGNORECASE)
_FIGURES = re.compile(r"\s*[-+]?[\d.,]+\s*")


@dataclass(frozen=True, slots=True)
class Tolerance:
    """The error of one cut that still does no harm. angle_rad: more than zero. said: in the words it was said in."""

    angle_rad: float
    said: str


# What is meant when nobody said: 0.1 mm over 300 mm, 0.004 in over a foot. Common practice, no source.
DEFAULT_TOLERANCE = Tolerance(math.atan(0.1 / 300), "0.1 mm over 300 mm")


def parse_tolerance(text: str, what: str, nominal_rad: float | None = None) -> Tolerance:
    """A tolerance as people type it, with units everywhere; `what` names the option in messages.

    An angle: `0.05deg`, `3min`. A deviation over a length, mm or thousandths over the cut: `0.1mm/300mm`,
    `3thou/18in`, or over one unit of length, `0.001in/ft`; the angle is atan(deviation / length). A gap of at most x in
    a joint of stock y wide: `gap:0.1mm/60mm` (`joint_error` says what that is); for that the cut's nominal angle must
    be known, as shops say it, from a square cut (0).
    Raises InputError for text that is none of these, a bare number, a length alone, zero, a negative or a huge value,
    and for a gap where nominal_rad is None.
    """
    gap = _GAP.match(text)
    rest = text[gap.end() :] if gap else text
    parts = _OVER.split(rest, maxsplit=1)
    if gap:
        if len(parts) != 2:
            raise InputError(
                f"{what} is '{text}': a gap alone does not say how wide the joint is.",
                "Type the gap and the width of the stock, such as gap:0.1mm/60mm.",
            )
        gap_mm, stock_mm = parse_length(parts[0], f"{what}, its gap,"), parse_length(parts[1], f"{what}, its width,")
        if nominal_rad is None:
            raise InputError(
                f"{what} is '{text}', but it is not known here at which angle the joint is cut.",
                "Type the error of one cut instead, such as 0.05deg or 0.1mm/300mm.",
            )
        angle_rad = _checked(joint_error(gap_mm, stock_mm, nominal_rad), text, what)
        joint = "butt joint" if nominal_rad == 0 else f"joint of two {math.degrees(nominal_rad):g} deg cuts"
        return Tolerance(angle_rad, f"a gap of at most {parts[0].strip()} in a {joint} {parts[1].strip()} wide")
    if len(parts) == 2:
        rise_mm = parse_length(parts[0], f"{what}, its deviation,")
        run = f"1{parts[1].strip()}" if _BARE_UNIT.fullmatch(parts[1]) else parts[1].strip()
        run_mm = parse_length(run, f"{what}, its length,")
        angle_rad = _checked(math.atan(rise_mm / run_mm), text, what)
        return Tolerance(angle_rad, f"{parts[0].strip()} over {run}")
    if _FIGURES.fullmatch(text) or not text.strip():
        raise InputError(f"{what} is '{text}' without a unit.", f"Type it like {FORMS}.")
    if _LENGTH.fullmatch(text):
        example = "0.1mm" if "/" in text else text.strip()
        raise InputError(
            f"{what} is '{text}', a length alone: over which length?",
            f"Type both lengths, each with its unit, such as {example}/300mm or {example}/18in; or an angle, such as "
            "0.05deg.",
        )
    return Tolerance(_checked(parse_angle(text, what), text, what), text.strip())


def joint_error(gap_mm: float, stock_mm: float, nominal_rad: float) -> float:
    """The error of each cut, in rad, that leaves a gap this wide in a joint of two pieces of this stock.

    A miter joint is made of two such cuts, each off by e the same way: it opens by 2 e along its face, stock /
    cos(nominal), and touches at one end; the gap at the other end is the chord 2 face sin(e), so e = asin(gap / (2
    face)). In a butt joint one square cut meets a straight edge: it opens by e over the stock, so e = 2 asin(gap / (2
    stock)). Closed form.
    Raises InputError for lengths that are not positive, a nominal angle outside 0 to 90 deg (not 90), and a gap wider
    than the joint is long.
    """
    if not (math.isfinite(gap_mm) and gap_mm > 0 and math.isfinite(stock_mm) and stock_mm > 0):
        raise InputError("A gap and a joint's width are more than zero.", "Type them like gap:0.1mm/60mm.")
    if not 0 <= nominal_rad < math.pi / 2:
        raise InputError(
            f"No joint is cut at {math.degrees(nominal_rad):g} deg.", "Give 0 to 90 deg, from a square cut."
        )
    half_sine = gap_mm * math.cos(nominal_rad) / (2 * stock_mm)
    if half_sine >= 1:
        raise InputError(
            f"A gap of {gap_mm:g} mm is wider than a joint of {stock_mm:g} mm stock can open.",
            "Give the gap first, then the width of the stock, such as gap:0.1mm/60mm.",
        )
    opening_rad = 2 * math.asin(half_sine)
    return opening_rad if nominal_rad == 0 else opening_rad / 2


def _checked(angle_rad: float, text: str, what: str) -> float:
    if angle_rad > PLAUSIBLE_RAD:
        raise InputError(
            f"{what} is '{text}', which is {math.degrees(angle_rad):.3g} deg: no saw needs so much.",
            "Are the units mixed up? Type it like 0.05deg or 3min; or the deviation first, then the length over which "
            "it is meant, such as 0.1mm/300mm or 3thou/18in.",
        )
    return angle_rad
