"""Readings typed in by a person, as quantities: what is assumed of an instrument and a hand unless it is said.

Every figure below is a default with its reason; half-widths are those of a rectangular distribution.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from cutvision.correction.edge_form import EdgeForm
from cutvision.errors import InputError
from cutvision.uncertainty import Influence, Quantity, rectangular, repeated, resolution

# One reading, or several of the same thing, in mm.
Reading = float | Sequence[float]

READ_TO_MM = 0.03
TIPS_MM = 0.1
DISTANCE_TO_MM = 1.0
CORNER_TO_RAD = math.radians(0.05)
# Readings closer than this use the same stretch of the caliper's scale, whose error they share.
SAME_STRETCH_MM = 5.0
# What a caliper's display, or a vernier read to half a line, steps by.
STEP_MM = 0.01
# Repeated readings further apart than this hold a misread digit rather than a scatter.
CALIPER_APART_MM = 1.0
RULE_APART_MM = 10.0
# Limits of error by the length read, mm. Source: DIN 862, digital 0.01 mm and vernier 0.02 mm.
_CALIPER_LIMITS = ((100.0, 0.02), (600.0, 0.03), (math.inf, 0.04))

GAP_TO_MM = 0.05
GAUGE_TO_RAD = math.radians(0.03)

DistanceName = Literal["lever", "between", "over", "stock"]
AssumedName = Literal["reading", "caliper", "broken tips", "edge form", "distance", "corner", "gap", "gauge"]


_DISTANCES: dict[DistanceName, str] = {
    "lever": "lever",
    "between": "distance between readings",
    "over": "length beside the gap",
    "stock": "width of the stock",
}


@dataclass(frozen=True, slots=True)
class Assumption:
    """A default that a result rests on. value: mm or rad, a half-width, or the RMS of the edge form."""

    name: AssumedName
    value: float
    unit: Literal["mm", "rad"]
    reason: str


@dataclass(frozen=True, slots=True)
class ReadingCare:
    """How well things were read; None stands for the default, which is then listed as an assumption.

    read_to_mm: how well one caliper reading repeats. accuracy_mm: the caliper's limit of error. tips_mm: how much may
    be missing at a tip. distance_to_mm: of the lever, and between the readings. corner_to_rad: of the test piece's
    corner. edge_form_mm: RMS roughness of a sawn edge. gap_to_mm: of a gap filled with a leaf. gauge_to_rad: of a
    square's or protractor's own angle.
    """

    read_to_mm: float | None = None
    accuracy_mm: float | None = None
    tips_mm: float | None = None
    distance_to_mm: float | None = None
    corner_to_rad: float | None = None
    edge_form_mm: float | None = None
    gap_to_mm: float | None = None
    gauge_to_rad: float | None = None

    @property
    def edge_form(self) -> EdgeForm:
        return EdgeForm() if self.edge_form_mm is None else EdgeForm(self.edge_form_mm)


def typed_legs(left_mm: Reading, right_mm: Reading, care: ReadingCare) -> tuple[Quantity, Quantity]:
    """Two legs read from the corner's other side to the tip, which may have lost a little: a tip only ever shortens.

    Of repeated readings the mean is taken, and their scatter (type A) stands in for how well one reading repeats.
    Both tips are expected to have lost as much, which leaves the angle alone, so the legs are taken as they were read.
    Raises InputError for readings of one leg over 1 mm apart.
    """
    tips_mm = TIPS_MM if care.tips_mm is None else care.tips_mm
    source = f"0 to {tips_mm:g} mm lost at a tip"
    left, right = _caliper_pair(("left leg", left_mm), ("right leg", right_mm), care)
    return (
        left.with_influence(Influence("broken tips/left", "broken tips", source=source), -rectangular(tips_mm / 2)),
        right.with_influence(Influence("broken tips/right", "broken tips", source=source), -rectangular(tips_mm / 2)),
    )


def typed_widths(at_fence_mm: Reading, far_end_mm: Reading, care: ReadingCare) -> tuple[Quantity, Quantity]:
    """Two widths of one piece read across it with one caliper; repeated readings as in `typed_legs`."""
    return _caliper_pair(("width at the fence", at_fence_mm), ("width at the far end", far_end_mm), care)


def typed_distance(
    value_mm: Reading, name: Literal["lever", "between", "over", "stock"], care: ReadingCare
) -> Quantity:
    """The lever, the distance between two readings, the length beside a gap, or a frame's stock, taken with a rule.

    Of repeated readings the mean is taken.

    How well it is known stays as it is, since repeating tells nothing of where the rule was held; the scatter
    comes on top. Raises InputError for readings over 10 mm apart.
    """
    to_mm = DISTANCE_TO_MM if care.distance_to_mm is None else care.distance_to_mm
    row = _DISTANCES[name]
    mean = _mean(value_mm, f"scatter/{name}", row, row, RULE_APART_MM)
    return mean.with_influence(Influence(name, row, source=f"known to {to_mm:g} mm"), rectangular(to_mm))


def typed_gap(value_mm: Reading, care: ReadingCare) -> Quantity:
    """A gap by the leaf that just fits, 0 when none does; repeated readings as in `typed_distance`, within 1 mm."""
    to_mm = GAP_TO_MM if care.gap_to_mm is None else care.gap_to_mm
    mean = _mean(value_mm, "scatter/gap", "gap", "gap", CALIPER_APART_MM)
    return mean.with_influence(Influence("gap", "gap", source=f"known to {to_mm:g} mm"), rectangular(to_mm))


def typed_gauge(care: ReadingCare) -> Quantity:
    """The error of a square's or protractor's own angle: nothing in value, within a stated half-width."""
    to_rad = GAUGE_TO_RAD if care.gauge_to_rad is None else care.gauge_to_rad
    source = f"true to {math.degrees(to_rad):g} deg"
    gauge = Influence("square's own angle", "square's own angle", source=source)
    return Quantity(0.0, "rad", {gauge: rectangular(to_rad)})


def typed_corner(value_rad: float, care: ReadingCare) -> Quantity:
    """The test piece's corner, assumed or measured, within a stated half-width."""
    to_rad = CORNER_TO_RAD if care.corner_to_rad is None else care.corner_to_rad
    source = f"test piece's corner known to {math.degrees(to_rad):g} deg"
    return Quantity(value_rad, "rad", {Influence("corner", "corner", source=source): rectangular(to_rad)})


def caliper_limit_mm(length_mm: float) -> float:
    """The limit of error of a 0.01 mm digital or 0.02 mm vernier caliper for a length. Source: DIN 862."""
    return next(limit for longest, limit in _CALIPER_LIMITS if length_mm <= longest)


def assumptions(
    care: ReadingCare, way: Literal["legs", "widths"], longest_mm: float, *, all_repeated: bool = False
) -> tuple[Assumption, ...]:
    """The defaults that stand in for what was not said; longest_mm: the longest caliper reading.

    all_repeated: whether every caliper reading was repeated, so that nothing needs to be assumed of its scatter.
    """
    limit_mm, form_mm = caliper_limit_mm(longest_mm), EdgeForm().rms_mm
    hand = "careful hands on wood, common practice"
    limit = "limit of error in DIN 862, 0.01 mm digital or 0.02 mm vernier"
    listed = [
        (care.read_to_mm, Assumption("reading", READ_TO_MM, "mm", hand)),
        (care.accuracy_mm, Assumption("caliper", limit_mm, "mm", limit)),
        (care.distance_to_mm, Assumption("distance", DISTANCE_TO_MM, "mm", "a rule, held to a pivot or a jaw by eye")),
        (care.edge_form_mm, Assumption("edge form", form_mm, "mm", "clean cut by a sharp blade, common practice")),
    ]
    if way == "legs":
        listed += [
            (care.tips_mm, Assumption("broken tips", TIPS_MM, "mm", "a sharp tip of wood seldom stays whole")),
            (care.corner_to_rad, Assumption("corner", CORNER_TO_RAD, "rad", "0.1 mm in 115 mm, a fair crosscut")),
        ]
    return tuple(
        assumption
        for given, assumption in listed
        if given is None and not (all_repeated and assumption.name == "reading")
    )


def gap_assumptions(care: ReadingCare, way: Literal["direct", "facing", "frame"]) -> tuple[Assumption, ...]:
    """The defaults that stand in for what was not said of a gap."""
    leaf = "the leaf's fit and the flatness of what it touches, common practice"
    listed = [
        (care.gap_to_mm, Assumption("gap", GAP_TO_MM, "mm", leaf)),
        (care.distance_to_mm, Assumption("distance", DISTANCE_TO_MM, "mm", "a rule, held by eye")),
    ]
    if way == "direct":
        fair = "0.05 mm in 100 mm, a fair try square, common practice"
        listed.append((care.gauge_to_rad, Assumption("gauge", GAUGE_TO_RAD, "rad", fair)))
    else:
        clean = "clean cut by a sharp blade, common practice"
        listed.append((care.edge_form_mm, Assumption("edge form", EdgeForm().rms_mm, "mm", clean)))
    return tuple(assumption for given, assumption in listed if given is None)


def _caliper_pair(
    first: tuple[str, Reading], second: tuple[str, Reading], care: ReadingCare
) -> tuple[Quantity, Quantity]:
    """Two lengths read with one caliper; close together they share its error, so that their difference forgets it."""
    read_to = READ_TO_MM if care.read_to_mm is None else care.read_to_mm
    means = [_mean(value, f"reading/{where}", "reading", where, CALIPER_APART_MM) for where, value in (first, second)]
    longest = max(mean.value for mean in means)
    limit = caliper_limit_mm(longest) if care.accuracy_mm is None else care.accuracy_mm
    shared = abs(means[0].value - means[1].value) <= SAME_STRETCH_MM

    def read(mean: Quantity, where: str) -> Quantity:
        scale = Influence("caliper" if shared else f"caliper/{where}", "caliper", source=f"limit of error {limit:g} mm")
        if mean.components:
            step = Influence(f"step/{where}", "reading", source=f"shown in steps of {STEP_MM:g} mm")
            return mean.with_influence(step, resolution(STEP_MM)).with_influence(scale, rectangular(limit))
        by_hand = Influence(f"reading/{where}", "reading", source=f"one reading repeats to {read_to:g} mm")
        return mean.with_influence(by_hand, rectangular(read_to)).with_influence(scale, rectangular(limit))

    return read(means[0], first[0]), read(means[1], second[0])


def _mean(reading: Reading, key: str, row: str, where: str, apart_mm: float) -> Quantity:
    """One reading as it is; of several the mean with their scatter. Raises InputError when they lie far apart."""
    values = (reading,) if isinstance(reading, float | int) else tuple(reading)
    if len(values) == 1:
        return Quantity(float(values[0]), "mm")
    if max(values) - min(values) > apart_mm:
        raise InputError(
            f"The readings of the {where} lie {max(values) - min(values):.3g} mm apart, from {min(values):.6g} to "
            f"{max(values):.6g} mm.",
            "Was a digit misread, or a unit mixed up? Read again; give only readings of the same length at one place.",
        )
    return repeated(values, "mm", key, row)
