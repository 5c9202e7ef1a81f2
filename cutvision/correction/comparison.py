"""Caliper against photo on one piece: whether they agree, what likely went wrong when not, and both taken together.

They are compared by angles. A caliper's leg ends at the tip as it is, a photo's where two lines meet, so lengths are
set beside each other for information only. Lengths in mm, angles in rad.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

from cutvision.correction.edge_form import EdgeForm
from cutvision.correction.jig import Jig
from cutvision.correction.misread import neighbours_swapped, one_digit_changed
from cutvision.correction.miter import NOMINAL_RAD, correct_miter_from_angles, leg_angles
from cutvision.correction.result import Correction
from cutvision.correction.square import STRIP_TURNS, correct_square_from_taper
from cutvision.errors import InputError
from cutvision.uncertainty import Influence, Quantity, combine, propagate
from cutvision.uncertainty.agreement import AGREE_TO, Agreement, Verdict, agreement, verdict_of
from cutvision.units import MM_PER_INCH

# An ordinary printer's stretch enlarged more than so many times is no printer's.
PRINT_MOST = 5.0
# More than this at a tip is seen at once (common practice, no source).
TIP_MOST_MM = 1.0
THICKEST_MM = 150.0
MOST_CAUSES = 4
CauseName = Literal[
    "swapped", "corner", "units", "cut-for-leg", "tip", "print", "between", "digit", "lengths", "thickness"
]
# Stock 60 mm thick under a lens 300 mm up, its thickness forgotten, reads 1.25 times as long (closed form).
MOST_LENGTH_RATIO = 1.3
_LIKELIEST: tuple[CauseName, ...] = get_args(CauseName)


@dataclass(frozen=True, slots=True)
class CaliperLegs:
    """A miter's two legs by caliper (mm, as `typed_legs` gives them) and the corner that they are taken with (rad).

    tips_mm: how much a tip may have lost. digits_mm: mm per unit of the digits as they were read (1 or 25.4); None
    when the readings are no single decimal numbers.
    """

    left: Quantity
    right: Quantity
    corner: Quantity
    tips_mm: float
    digits_mm: float | None = 1.0

    def angles(self) -> dict[str, Quantity]:
        """What is judged. Raises InputError as `leg_angles`."""
        left, right = leg_angles(self.left, self.right, self.corner)
        return {"angle_left": left, "angle_right": right, "split_error": (right - left).scaled(0.5)}

    def lengths(self) -> dict[str, Quantity]:
        """The legs to where their lines meet: as read, and half of what a tip may have lost."""
        return {"leg_left": self.left + self.tips_mm / 2, "leg_right": self.right + self.tips_mm / 2}


@dataclass(frozen=True, slots=True)
class CaliperWidths:
    """A strip's two widths by caliper (mm, as `typed_widths` gives them) and the distance between them.

    edge_form: the jaws touch the rough edges at four spots, a photo fits them from end to end; None for the default.
    digits_mm: as in `CaliperLegs`.
    """

    at_fence: Quantity
    far_end: Quantity
    between: Quantity
    edge_form: EdgeForm | None = None
    digits_mm: float | None = 1.0

    def angles(self) -> dict[str, Quantity]:
        """What is judged. Raises InputError for widths or a distance that are not positive."""
        for length in (self.at_fence, self.far_end, self.between):
            if not (math.isfinite(length.value) and length.value > 0):
                raise InputError(f"A width or distance of {length.value:g} mm is none.", "Read it again.")
        form = self.edge_form or EdgeForm()
        difference = self.at_fence - self.far_end
        slope = difference.value / self.between.value
        scale = 1 / (self.between.value * (1 + slope**2))
        taper = propagate(math.atan(slope), "rad", ((difference, scale), (self.between, -slope * scale)))
        spots = Influence(
            "edge form where the jaws touch", "edge form", source=f"edges rough by {form.rms_mm:g} mm RMS, four spots"
        )
        return {"taper": taper.with_influence(spots, math.sqrt(4) * form.spot_mm() / self.between.value)}

    def lengths(self) -> dict[str, Quantity]:
        """The widths where they were read, which need not be where the photo gives them."""
        return {"width_fence": self.at_fence, "width_far": self.far_end}


Caliper = CaliperLegs | CaliperWidths


@dataclass(frozen=True, slots=True)
class PhotoReading:
    """What photos of the piece gave.

    quantities: as `measure` names them. edge_form_rad: what the edges' roughness adds once an angle is taken for the
    fence's. photos: how many. lens_height_mm: their mean. thickness_mm: as it was taken for the stock's; 0 when no
    edge was seen at the top.
    """

    quantities: Mapping[str, Quantity]
    edge_form_rad: Mapping[str, float]
    photos: int
    lens_height_mm: float
    thickness_mm: float


@dataclass(frozen=True, slots=True)
class Cause:
    """What would make them agree. number: the worst E_n that is left then. free: how many figures it sets at will."""

    name: CauseName
    message: str
    remedy: str
    number: float
    free: int = 0


@dataclass(frozen=True, slots=True)
class Comparison:
    """Caliper (first) against photo (second).

    angles: what is judged; lengths: for information. causes: the likeliest first; of the angles when they disagree,
    else of the lengths. combined: both taken together, by name; empty when they disagree.
    """

    angles: Mapping[str, Agreement]
    lengths: Mapping[str, Agreement]
    causes: tuple[Cause, ...]
    combined: Mapping[str, Quantity]
    photo: PhotoReading

    @property
    def number(self) -> float:
        return _worst(self.angles)

    @property
    def verdict(self) -> Verdict:
        """By the angles; lengths that no thickness or print explains are of another piece, or in a wrong unit."""
        return verdict_of(self.number) if self.one_size else "disagree"

    @property
    def one_size(self) -> bool:
        """Whether the lengths are near enough to be of one piece."""
        return _one_size(self.lengths)

    @property
    def lengths_agree(self) -> bool:
        return _worst(self.lengths) <= AGREE_TO


def compare(caliper: Caliper, photo: PhotoReading) -> Comparison:
    """E_n of every angle that both tell, the causes that would explain a disagreement, and the combined values.

    The combined value is the generalised least-squares one. When E_n lies between 1 and 1.5 its uncertainty is
    enlarged by the worst E_n; above, nothing is combined: one of the two is wrong, and a mean would be half wrong. Nor
    is anything when the lengths cannot be of one piece.
    Raises InputError for readings that make no triangle or no strip.
    """
    angles, lengths = _set_against(caliper, photo)
    worst = _worst(angles)
    causes: Sequence[Cause] = ()
    if worst > AGREE_TO:
        causes = _explain(caliper, photo)
    elif _worst(lengths) > AGREE_TO:
        causes = list(_length_causes(lengths, photo))
    apart = verdict_of(worst) == "disagree" or not _one_size(lengths)
    combined = {} if apart else {name: _together(a, worst) for name, a in angles.items()}
    return Comparison(angles, lengths, tuple(causes[:MOST_CAUSES]), combined, photo)


def correct_combined(
    comparison: Comparison, jig: Jig, *, nominal_rad: float = NOMINAL_RAD, turns: int = STRIP_TURNS
) -> Correction:
    """The fence from what both say together; the roughness of the edges comes in here.

    Raises InputError when they disagree, and as the methods for a miter and a strip do.
    """
    if not comparison.combined:
        raise InputError(
            "Caliper and photo disagree, so nothing is said of the fence.", "Find which of them is wrong first."
        )
    combined, form = comparison.combined, comparison.photo.edge_form_rad
    if "taper" in combined:
        return correct_square_from_taper(combined["taper"], jig, turns=turns, edge_form_rad=form.get("taper", 0.0))
    tells = {"left": "angle_right", "right": "angle_left", None: "split_error"}[jig.kept]
    return correct_miter_from_angles(
        combined["angle_left"],
        combined["angle_right"],
        comparison.photo.quantities["corner"],
        jig,
        split_error=combined["split_error"],
        nominal_rad=nominal_rad,
        edge_form_rad=form.get(tells, 0.0),
    )


def _set_against(caliper: Caliper, photo: PhotoReading) -> tuple[dict[str, Agreement], dict[str, Agreement]]:
    seen = photo.quantities
    angles = {name: agreement(quantity, seen[name]) for name, quantity in caliper.angles().items()}
    lengths = {name: agreement(q, seen[name]) for name, q in caliper.lengths().items() if name in seen}
    return angles, lengths


def _one_size(lengths: Mapping[str, Agreement]) -> bool:
    return all(
        1 / MOST_LENGTH_RATIO <= one.first.value / one.second.value <= MOST_LENGTH_RATIO for one in lengths.values()
    )


def _worst(compared: Mapping[str, Agreement]) -> float:
    return max((one.number for one in compared.values()), default=0.0)


def _together(one: Agreement, worst: float) -> Quantity:
    both = combine((one.first, one.second))
    if worst <= AGREE_TO:
        return both
    excess = Influence("caliper against photo", "caliper against photo", "A", f"they differ, E_n {worst:.2f}")
    return both.with_influence(excess, both.standard_uncertainty * math.sqrt(worst**2 - 1))


def _explain(caliper: Caliper, photo: PhotoReading) -> list[Cause]:
    """Every cause that brings all angles into agreement, the likeliest first.

    First those whose lengths agree too, then the fewest figures set at will, then as they stand in `_LIKELIEST`.
    """
    angles, lengths = _set_against(caliper, photo)
    found: list[tuple[tuple[bool, int, int], Cause]] = []

    def keep(cause: Cause, lengths: Mapping[str, Agreement]) -> None:
        found.append(((_worst(lengths) > AGREE_TO, cause.free, _LIKELIEST.index(cause.name)), cause))

    guesses = _of_legs(caliper, photo) if isinstance(caliper, CaliperLegs) else _of_widths(caliper, photo)
    for cause, altered in guesses:
        try:
            angles_then, lengths_then = _set_against(altered, photo)
        except InputError:
            continue
        if (worst := _worst(angles_then)) <= AGREE_TO:
            keep(replace(cause, number=worst), lengths_then)
    if (stretched := _print_cause(angles)) is not None:
        keep(stretched, lengths)
    return [cause for _, cause in sorted(found, key=lambda one: one[0])]


Guess = tuple[Cause, Caliper]


def _of_legs(caliper: CaliperLegs, photo: PhotoReading) -> Iterator[Guess]:
    """One slip each; and, where the photo sees another corner than the legs were taken with, each slip with that."""
    corner = photo.quantities["corner"]
    yield (
        Cause(
            "corner",
            f"The piece's corner is not the {math.degrees(caliper.corner.value):.2f} deg that the legs were taken "
            f"with; the photo sees {math.degrees(corner.value):.2f} deg.",
            f"Give --corner {math.degrees(corner.value):.2f}deg.",
            0.0,
        ),
        replace(caliper, corner=corner),
    )
    yield from _slips_of_legs(caliper, photo)
    if agreement(caliper.corner, corner).number > AGREE_TO:
        also = f" The corner is {math.degrees(corner.value):.2f} deg too, as the photo sees it."
        for cause, altered in _slips_of_legs(replace(caliper, corner=corner), photo):
            remedy = f"{cause.remedy} Give --corner {math.degrees(corner.value):.2f}deg too."
            yield replace(cause, message=cause.message + also, remedy=remedy, free=cause.free + 1), altered


def _slips_of_legs(caliper: CaliperLegs, photo: PhotoReading) -> Iterator[Guess]:
    seen = photo.quantities
    left, right = caliper.left, caliper.right
    yield (
        Cause(
            "swapped",
            "Left and right are swapped: the piece lay turned over, or the legs were read the other way round.",
            "Lay it with your pencil letters up and the cut toward you, and see which leg is the left one.",
            0.0,
        ),
        replace(caliper, left=right, right=left),
    )
    ratio = math.sin(seen["angle_right"].value) / math.sin(seen["angle_left"].value)
    readings: tuple[tuple[_Reading, Callable[[Quantity], Caliper]], ...] = (
        (_Reading("left leg", "--left-leg", left, right.value * ratio), lambda q: replace(caliper, left=q)),
        (_Reading("right leg", "--right-leg", right, left.value / ratio), lambda q: replace(caliper, right=q)),
    )
    for reading, put in readings:
        other = right if reading.quantity is left else left
        if reading.quantity.value > other.value:
            leg_mm = math.sqrt(reading.quantity.value**2 - other.value**2)
            yield (
                Cause(
                    "cut-for-leg",
                    f"The {reading.name} was read along the cut, the piece's longest side.",
                    f"Read the {reading.name} again, from the corner to the tip.",
                    0.0,
                ),
                put(_moved(reading.quantity, leg_mm)),
            )
        yield from _of_reading(reading, caliper.digits_mm, put)
        lost_mm = reading.expected_mm - reading.quantity.value
        if 0 < lost_mm <= TIP_MOST_MM:
            yield (
                Cause(
                    "tip",
                    f"The tip of the {reading.name} has lost about {lost_mm:.2f} mm more than was allowed for.",
                    "Look at the tip with a lens; trust the photo, which does not need the tips, or say --tips.",
                    0.0,
                    1,
                ),
                put(_moved(reading.quantity, reading.expected_mm)),
            )


def _of_widths(caliper: CaliperWidths, photo: PhotoReading) -> Iterator[Guess]:
    tangent = math.tan(photo.quantities["taper"].value)
    at, far, between = caliper.at_fence, caliper.far_end, caliper.between
    yield (
        Cause(
            "swapped",
            "The strip's ends are swapped: it lay the other way round on the sheet, or the widths were exchanged.",
            "Find your pencil letter F: that end lay at the fence, and to the left on the sheet.",
            0.0,
        ),
        replace(caliper, at_fence=far, far_end=at),
    )
    rise = between.value * tangent
    yield from _of_reading(
        _Reading("width at the fence", "--at-fence", at, far.value + rise),
        caliper.digits_mm,
        lambda q: replace(caliper, at_fence=q),
    )
    yield from _of_reading(
        _Reading("width at the far end", "--far-end", far, at.value - rise),
        caliper.digits_mm,
        lambda q: replace(caliper, far_end=q),
    )
    along_mm = (at.value - far.value) / tangent if tangent else math.nan
    if along_mm > 0:
        yield (
            Cause(
                "between",
                f"The widths were read some {along_mm:.0f} mm apart, not {between.value:.0f} mm.",
                "Measure again along the strip from one reading to the other.",
                0.0,
                1,
            ),
            replace(caliper, between=_moved(between, along_mm)),
        )


@dataclass(frozen=True, slots=True)
class _Reading:
    """One caliper reading, the option that takes it, and what it should be for the photo to be right."""

    name: str
    option: str
    quantity: Quantity
    expected_mm: float


def _of_reading(reading: _Reading, digits_mm: float | None, put: Callable[[Quantity], Caliper]) -> Iterator[Guess]:
    for factor, took, for_ in ((MM_PER_INCH, "inches", "mm"), (1 / MM_PER_INCH, "mm", "inches")):
        value_mm = reading.quantity.value * factor
        yield (
            Cause(
                "units",
                f"The {reading.name} was read in {took} and typed in {for_}: it would be {value_mm:.2f} mm.",
                f"Give {reading.option} with the unit that your caliper showed.",
                0.0,
            ),
            put(_moved(reading.quantity, value_mm)),
        )
    if digits_mm is not None and math.isfinite(reading.expected_mm) and reading.expected_mm > 0:
        decimals, unit = (2, "mm") if digits_mm == 1 else (3, "in")
        was = f"{reading.quantity.value / digits_mm:.{decimals}f}"
        text = _misread(was, reading.expected_mm / digits_mm)
        yield (
            Cause(
                "digit",
                f"A digit of the {reading.name} was misread: {text} rather than {was} {unit}.",
                f"Read the {reading.name} again.",
                0.0,
                1,
            ),
            put(_moved(reading.quantity, float(text) * digits_mm)),
        )


def _misread(was: str, expected: float) -> str:
    """Of all numbers with one digit changed, or two neighbours exchanged, the nearest to what is expected.

    The last digit stays: a reading's own doubt covers it.
    """
    changed = (head + was[-1] for head in one_digit_changed(was[:-1]))
    return min((*changed, *neighbours_swapped(was)), key=lambda text: abs(float(text) - expected))


def _moved(quantity: Quantity, value: float) -> Quantity:
    return Quantity(value, quantity.unit, quantity.components)


def _print_cause(angles: Mapping[str, Agreement]) -> Cause | None:
    """How many times the print's usual stretch would have to be exceeded; None when by more than a printer does."""
    factor = max(_print_factor(one, _print_part(one.second)) for one in angles.values())
    if not factor <= PRINT_MOST:
        return None
    return Cause(
        "print",
        f"The print is stretched some {factor:.1f} times as much as the photo's bound allows for.",
        "Take one more photo of the piece, turned by a quarter turn on the same sheet, or read the printed frame "
        "(--long-side, --short-side).",
        AGREE_TO,
        1,
    )


def _print_part(quantity: Quantity) -> float:
    return math.sqrt(math.fsum(c * c for i, c in quantity.components.items() if i.row.reversed))


def _print_factor(one: Agreement, part: float) -> float:
    """By how much the print's part must grow for E_n to be 1; 1 when it is below that already, inf without a part."""
    if one.number <= AGREE_TO:
        return 1.0
    if part == 0:
        return math.inf
    bound = one.difference.value / one.number
    return math.sqrt(1 + (one.difference.value**2 - bound**2) / (one.second.coverage_factor * part) ** 2)


def _length_causes(lengths: Mapping[str, Agreement], photo: PhotoReading) -> Iterator[Cause]:
    """Lengths off by one factor while the angles agree: the thickness that would do it, or a unit."""
    ratios = [_ratio(one.first, one.second) for one in lengths.values()]
    same = len(ratios) > 1 and agreement(ratios[0], ratios[1]).number <= AGREE_TO
    factor = math.fsum(ratio.value for ratio in ratios) / len(ratios)
    if not same:
        yield Cause(
            "lengths",
            "The angles agree, but the lengths differ and not by one factor.",
            "A caliper's leg ends at the tip as it is: look at the tips, and at where the caliper was held.",
            _worst(lengths),
        )
        return
    for unit, took, for_ in ((MM_PER_INCH, "mm", "inches"), (1 / MM_PER_INCH, "inches", "mm")):
        if abs(factor / unit - 1) < 0.1:
            message = f"All caliper readings were taken in {took} and typed in {for_}."
            yield Cause("units", message, "Give them with the unit that your caliper showed.", _worst(lengths))
            return
    height_mm, taken_mm = photo.lens_height_mm, photo.thickness_mm
    thickness_mm = height_mm - factor * (height_mm - taken_mm)
    percent = f"{100 * abs(factor - 1):.1f} % {'longer' if factor > 1 else 'shorter'}"
    if 0 <= thickness_mm <= THICKEST_MM:
        yield Cause(
            "thickness",
            f"The angles agree, but the caliper's lengths are {percent} than the photo's, all by one factor: stock "
            f"about {thickness_mm:.0f} mm thick, where the photo took {taken_mm:.0f} mm, would explain that.",
            "Measure the stock and give --thickness; if that is right, the print is not to scale: read its frame "
            "(--long-side, --short-side). The angles need neither.",
            _worst(lengths),
            1,
        )
        return
    yield Cause(
        "lengths",
        f"The angles agree, but the caliper's lengths are {percent} than the photo's, all by one factor.",
        "The print is not to scale, or the readings are of another piece: read the printed frame (--long-side, "
        "--short-side).",
        _worst(lengths),
    )


def _ratio(first: Quantity, second: Quantity) -> Quantity:
    value = first.value / second.value
    return propagate(value, "1", ((first, 1 / second.value), (second, -value / second.value)))
