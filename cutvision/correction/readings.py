"""Readings typed in by a person, as quantities: what is assumed of an instrument and a hand unless it is said.

Every figure below is a default with its reason; half-widths are those of a rectangular distribution.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from cutvision.correction.cut_spread import check_pieces
from cutvision.correction.edge_form import EdgeForm
from cutvision.correction.instruments import CALIPER, Instrument
from cutvision.correction.lever_check import check_lever
from cutvision.errors import InputError, Note
from cutvision.uncertainty import Influence, Quantity, from_expanded, rectangular, repeated, resolution
from cutvision.uncertainty.distributions import student_quantile

# One reading, or several of the same thing, in mm.
Reading = float | Sequence[float]

READ_TO_MM = CALIPER.repeat_mm
TIPS_MM = 0.1
DISTANCE_TO_MM = 1.0
CORNER_TO_RAD = math.radians(0.05)
# Readings closer than this use the same stretch of the caliper's scale, whose error they share.
SAME_STRETCH_MM = 5.0
# Repeated readings further apart than this hold a misread digit rather than a scatter.
CALIPER_APART_MM = 1.0
RULE_APART_MM = 10.0
ANGLES_APART_RAD = math.radians(1.0)
# A reading further from the mean of the others than so many times its repeatability may be a slip.
OUTLIER_REPEATS = 3.0
OUTLIER_RISK = 0.01

GAP_TO_MM = 0.05
# A joint that looks shut may be open by this much (half of the least gap that shows; common practice, no source).
SHUT_TO_MM = 0.05
GAUGE_TO_RAD = math.radians(0.03)
# A protractor that shows tenths of a degree, or a vernier of 5', read by eye.
PROTRACTOR_TO_RAD = math.radians(0.05)

DistanceName = Literal["lever", "between", "over", "stock", "face"]
AssumedName = Literal[
    "reading",
    "caliper",
    "broken tips",
    "edge form",
    "distance",
    "corner",
    "gap",
    "gauge",
    "protractor",
    "shut",
    "leg length",
    "least gap",
]
KnownLeg = Literal["left", "right"]
KnownWidth = Literal["fence", "far"]

_DISTANCES: dict[DistanceName, str] = {
    "lever": "lever",
    "between": "distance between readings",
    "over": "length beside the gap",
    "stock": "width of the stock",
    "face": "length of the joint",
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
    square's or protractor's own angle. reading_to_rad: how well one protractor reading repeats. shut_to_mm: how far a
    joint that looks shut may be open. instrument: whose figures stand in for read_to_mm and accuracy_mm. pieces: over
    how many pieces the readings are means, so that tips and edges, which differ from piece to piece, average.
    """

    read_to_mm: float | None = None
    accuracy_mm: float | None = None
    tips_mm: float | None = None
    distance_to_mm: float | None = None
    corner_to_rad: float | None = None
    edge_form_mm: float | None = None
    gap_to_mm: float | None = None
    gauge_to_rad: float | None = None
    reading_to_rad: float | None = None
    shut_to_mm: float | None = None
    instrument: Instrument | None = None
    pieces: int = 1

    def __post_init__(self) -> None:
        check_pieces(self.pieces)
        if self.instrument is not None and self.instrument.reads != "length":
            raise InputError(f"{self.instrument.what} read no length.", "Name a caliper, a rule or an indicator.")

    @property
    def edge_form(self) -> EdgeForm:
        form = EdgeForm() if self.edge_form_mm is None else EdgeForm(self.edge_form_mm)
        return replace(form, pieces=self.pieces)

    @property
    def tool(self) -> Instrument:
        return CALIPER if self.instrument is None else self.instrument

    @property
    def one_reading_mm(self) -> float:
        return self.tool.repeat_mm if self.read_to_mm is None else self.read_to_mm


def typed_legs(left_mm: Reading, right_mm: Reading, care: ReadingCare) -> tuple[Quantity, Quantity]:
    """Two legs read from the corner's other side to the tip, which may have lost a little: a tip only ever shortens.

    Of repeated readings the mean is taken, and their scatter (type A) stands in for how well one reading repeats.
    Both tips are expected to have lost as much, which leaves the angle alone, so the legs are taken as they were read.
    Raises InputError for readings of one leg over 1 mm apart.
    """
    return _lost_at_tips(*_caliper_pair(("left leg", left_mm), ("right leg", right_mm), care), care)


def typed_legs_by_difference(
    leg_mm: Reading, known: KnownLeg, difference_mm: Reading, shorter: KnownLeg, care: ReadingCare
) -> tuple[Quantity, Quantity]:
    """Left and right leg from one of them and the difference shown by a caliper that was zeroed on it.

    known: the leg that was read. shorter: the leg that is the shorter by the difference (any when it is nothing).
    The caliper's error cancels in a difference of a few mm, which zeroing and reading make doubtful, once each;
    repeated differences, zeroed anew each time, show both in their scatter. The leg's own doubt only scales the piece.
    Raises InputError for readings of one thing over 1 mm apart, and for a difference as long as the longer leg.
    """
    leg, other = _by_difference(("leg", leg_mm), difference_mm, longer=shorter != known, care=care)
    return _lost_at_tips(*((leg, other) if known == "left" else (other, leg)), care)


def typed_widths_by_difference(
    width_mm: Reading, known: KnownWidth, difference_mm: Reading, wider: KnownWidth, care: ReadingCare
) -> tuple[Quantity, Quantity]:
    """Widths at the fence and at the far end from one of them and the difference, as `typed_legs_by_difference`.

    known: where the width was read. wider: the end that is the wider by the difference.
    """
    width, other = _by_difference(("width", width_mm), difference_mm, longer=wider == known, care=care)
    return (width, other) if known == "fence" else (other, width)


def typed_widths(at_fence_mm: Reading, far_end_mm: Reading, care: ReadingCare) -> tuple[Quantity, Quantity]:
    """Two widths of one piece read across it with one caliper; repeated readings as in `typed_legs`."""
    return _caliper_pair(("width at the fence", at_fence_mm), ("width at the far end", far_end_mm), care)


def typed_distance(value_mm: Reading, name: DistanceName, care: ReadingCare) -> Quantity:
    """The lever, the distance between two readings, the length beside a gap, a stock or a joint, taken with a rule.

    Of repeated readings the mean is taken.

    How well it is known stays as it is, since repeating tells nothing of where the rule was held; the scatter
    comes on top. Raises InputError for readings over 10 mm apart, and for a lever too short for a fence.
    """
    to_mm = DISTANCE_TO_MM if care.distance_to_mm is None else care.distance_to_mm
    row = _DISTANCES[name]
    mean = _mean(value_mm, f"scatter/{name}", row, row, RULE_APART_MM)
    if name == "lever":
        check_lever(mean.value)
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


def typed_protractor(value_rad: Reading, care: ReadingCare) -> Quantity:
    """A protractor's reading in rad, without its own error (see `typed_gauge`); repeated ones within 1 deg."""
    to_rad = PROTRACTOR_TO_RAD if care.reading_to_rad is None else care.reading_to_rad
    mean = _mean_angle(value_rad, "protractor", "protractor")
    if mean.components:
        return mean
    source = f"one reading repeats to {math.degrees(to_rad):g} deg"
    return mean.with_influence(Influence("protractor", "protractor", source=source), rectangular(to_rad))


def typed_angle(value_rad: Reading, bound_rad: float, key: str) -> Quantity:
    """An angle of a piece in rad within a 95 % bound, as `measure` prints it; the scatter of repeated ones on top.

    Raises InputError for repeated ones over 1 deg apart.
    """
    source = f"95 % bound of {math.degrees(bound_rad):g} deg, as you said"
    angle = Influence(f"angle/{key}", "angle of the piece", source=source)
    return _mean_angle(value_rad, key, "angle of the piece").with_influence(angle, from_expanded(bound_rad))


def typed_corner(value_rad: float, care: ReadingCare) -> Quantity:
    """The test piece's corner, assumed or measured, within a stated half-width."""
    to_rad = CORNER_TO_RAD if care.corner_to_rad is None else care.corner_to_rad
    source = f"test piece's corner known to {math.degrees(to_rad):g} deg"
    return Quantity(value_rad, "rad", {Influence("corner", "corner", source=source): rectangular(to_rad)})


def caliper_limit_mm(length_mm: float) -> float:
    """The limit of error of a 0.01 mm digital or 0.02 mm vernier caliper for a length. Source: DIN 862."""
    return CALIPER.limit_mm(length_mm)


def outliers(readings: Mapping[str, Reading], care: ReadingCare) -> tuple[Note, ...]:
    """Repeated readings of which one lies far off the others: Grubbs's test at 1 %, and over 3 times the repeatability.

    readings: mm, by what was read. Source: Grubbs, Technometrics 11 (1969) 1-21, two-sided critical value.
    """
    notes = []
    for where, reading in readings.items():
        values = _listed(reading)
        n = len(values)
        if n < 3:
            continue
        mean = math.fsum(values) / n
        deviation = math.sqrt(math.fsum((x - mean) ** 2 for x in values) / (n - 1))
        odd = max(values, key=lambda x: abs(x - mean))
        from_others = abs(odd - mean) * n / (n - 1)
        t = student_quantile(n - 2, 1 - OUTLIER_RISK / (2 * n))
        critical = (n - 1) / math.sqrt(n) * math.sqrt(t * t / (n - 2 + t * t))
        if from_others > OUTLIER_REPEATS * care.one_reading_mm and abs(odd - mean) >= critical * deviation:
            notes.append(
                Note(
                    "outlier",
                    f"Of {n} readings of the {where}, {odd:.6g} mm lies {from_others:.2g} mm from the mean of the "
                    "others.",
                    "Read there again; leave a reading out only when you know what went wrong with it.",
                )
            )
    return tuple(notes)


def assumptions(
    care: ReadingCare, way: Literal["legs", "widths"], longest_mm: float, *, all_repeated: bool = False
) -> tuple[Assumption, ...]:
    """The defaults that stand in for what was not said; longest_mm: the longest caliper reading.

    all_repeated: whether every caliper reading was repeated, so that nothing needs to be assumed of its scatter.
    """
    limit_mm, form_mm = care.tool.limit_mm(longest_mm), EdgeForm().rms_mm
    hand = "careful hands on wood, common practice"
    limit = "limit of error in DIN 862, 0.01 mm digital or 0.02 mm vernier"
    if care.instrument is not None:
        hand = limit = f"record {care.instrument.name}: {care.instrument.source}"
    listed = [
        (care.read_to_mm, Assumption("reading", care.tool.repeat_mm, "mm", hand)),
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


def gap_assumptions(
    care: ReadingCare, way: Literal["direct", "protractor", "facing", "frame", "assembly"]
) -> tuple[Assumption, ...]:
    """The defaults that stand in for what was not said of a gap, or of a protractor held to the fence."""
    leaf = "the leaf's fit and the flatness of what it touches, common practice"
    by_eye = "read by eye, common practice"
    gap = (care.gap_to_mm, Assumption("gap", GAP_TO_MM, "mm", leaf))
    distance = (care.distance_to_mm, Assumption("distance", DISTANCE_TO_MM, "mm", "a rule, held by eye"))
    gauge = (
        care.gauge_to_rad,
        Assumption("gauge", GAUGE_TO_RAD, "rad", "0.05 mm in 100 mm, a fair try square, common practice"),
    )
    edges = (
        care.edge_form_mm,
        Assumption("edge form", EdgeForm().rms_mm, "mm", "clean cut by a sharp blade, common practice"),
    )
    reading = (care.reading_to_rad, Assumption("protractor", PROTRACTOR_TO_RAD, "rad", by_eye))
    shut = (care.shut_to_mm, Assumption("shut", SHUT_TO_MM, "mm", "half of the least gap that shows, common practice"))
    listed = {
        "direct": (gap, distance, gauge),
        "protractor": (reading, gauge, distance),
        "facing": (gap, distance, edges),
        "frame": (gap, distance, edges, shut),
        "assembly": (gap, distance, gauge, edges),
    }[way]
    return tuple(assumption for given, assumption in listed if given is None)


def angle_assumptions(care: ReadingCare, leg_mm: float | None) -> tuple[Assumption, ...]:
    """The defaults beside angles of pieces; leg_mm: assumed for the legs at the fence, None when it was said."""
    listed = [
        (care.distance_to_mm, Assumption("distance", DISTANCE_TO_MM, "mm", "a rule, held to a pivot by eye")),
        (
            care.edge_form_mm,
            Assumption("edge form", EdgeForm().rms_mm, "mm", "clean cut by a sharp blade, common practice"),
        ),
    ]
    told = [assumption for given, assumption in listed if given is None]
    if leg_mm is not None:
        told.append(Assumption("leg length", leg_mm, "mm", "for the roughness of their edges"))
    return tuple(told)


def _caliper_pair(
    first: tuple[str, Reading], second: tuple[str, Reading], care: ReadingCare
) -> tuple[Quantity, Quantity]:
    """Two lengths read with one caliper; close together they share its error, so that their difference forgets it."""
    means = [_mean(value, f"reading/{where}", "reading", where, CALIPER_APART_MM) for where, value in (first, second)]
    limit = _limit_mm(max(mean.value for mean in means), care)
    shared = abs(means[0].value - means[1].value) <= SAME_STRETCH_MM
    keys = ["caliper" if shared else f"caliper/{where}" for where, _ in (first, second)]
    return (
        _with_scale(_by_hand(means[0], first[0], care), keys[0], limit),
        _with_scale(_by_hand(means[1], second[0], care), keys[1], limit),
    )


def _by_difference(
    known: tuple[str, Reading], difference_mm: Reading, *, longer: bool, care: ReadingCare
) -> tuple[Quantity, Quantity]:
    """The length that was read, and the other one. longer: whether the one that was read is the longer."""
    where, value = known
    mean = _mean(value, f"reading/{where}", "reading", where, CALIPER_APART_MM)
    length = _by_hand(mean, where, care)
    difference = _mean(difference_mm, "reading/difference", "reading", "difference", CALIPER_APART_MM)
    if not 0 <= difference.value < (length.value if longer else math.inf):
        raise InputError(
            f"A difference of {difference.value:g} mm cannot be that of a {where} of {length.value:g} mm.",
            "Type the difference that the zeroed caliper shows, without its sign.",
        )
    zeroed = not difference.components
    difference = _by_hand(difference, "difference", care)
    if zeroed:
        zero = Influence("reading/zero", "reading", source=f"zeroing repeats to {care.one_reading_mm:g} mm")
        difference = difference.with_influence(zero, rectangular(care.one_reading_mm))
    other = length - difference if longer else length + difference
    if difference.value <= SAME_STRETCH_MM:
        limit = _limit_mm(length.value, care)
        return _with_scale(length, "caliper", limit), _with_scale(other, "caliper", limit)
    # Zeroed far from where it is read, the caliper errs at either place by itself.
    limit = _limit_mm(max(length.value, other.value), care)
    return _with_scale(length, "caliper", limit), _with_scale(other, "caliper/difference", limit)


def _lost_at_tips(left: Quantity, right: Quantity, care: ReadingCare) -> tuple[Quantity, Quantity]:
    tips_mm = TIPS_MM if care.tips_mm is None else care.tips_mm
    source = f"0 to {tips_mm:g} mm lost at a tip" + (f", mean of {care.pieces} pieces" if care.pieces > 1 else "")
    lost = -rectangular(tips_mm / 2) / math.sqrt(care.pieces)
    return (
        left.with_influence(Influence("broken tips/left", "broken tips", source=source), lost),
        right.with_influence(Influence("broken tips/right", "broken tips", source=source), lost),
    )


def _limit_mm(longest_mm: float, care: ReadingCare) -> float:
    return care.tool.limit_mm(longest_mm) if care.accuracy_mm is None else care.accuracy_mm


def _by_hand(mean: Quantity, where: str, care: ReadingCare) -> Quantity:
    """With what one reading repeats to; of a mean that carries its scatter, with what the display hides."""
    if mean.components:
        step_mm = care.tool.step_mm
        step = Influence(f"step/{where}", "resolution", source=f"shown in steps of {step_mm:g} mm")
        return mean.with_influence(step, resolution(step_mm))
    read_to = care.one_reading_mm
    by_hand = Influence(f"reading/{where}", "reading", source=f"one reading repeats to {read_to:g} mm")
    return mean.with_influence(by_hand, rectangular(read_to))


def _with_scale(length: Quantity, key: str, limit_mm: float) -> Quantity:
    scale = Influence(key, "caliper", source=f"limit of error {limit_mm:g} mm")
    return length.with_influence(scale, rectangular(limit_mm))


def _listed(reading: Reading) -> tuple[float, ...]:
    return (float(reading),) if isinstance(reading, float | int) else tuple(reading)


def _mean(reading: Reading, key: str, row: str, where: str, apart_mm: float) -> Quantity:
    """One reading as it is; of several the mean with their scatter. Raises InputError when they lie far apart."""
    values = _listed(reading)
    if len(values) == 1:
        return Quantity(values[0], "mm")
    if max(values) - min(values) > apart_mm:
        raise InputError(
            f"The readings of the {where} lie {max(values) - min(values):.3g} mm apart, from {min(values):.6g} to "
            f"{max(values):.6g} mm.",
            "Was a digit misread, or a unit mixed up? Read again; give only readings of the same length at one place.",
            at_the_saw=True,
        )
    return repeated(values, "mm", key, row)


def _mean_angle(reading: Reading, key: str, row: str) -> Quantity:
    """As `_mean`, in rad, within 1 deg."""
    values = _listed(reading)
    if len(values) == 1:
        return Quantity(values[0], "rad")
    if max(values) - min(values) > ANGLES_APART_RAD:
        raise InputError(
            f"The readings of one angle lie {math.degrees(max(values) - min(values)):.3g} deg apart.",
            "Was a digit misread? Read again; give only readings of the same angle.",
            at_the_saw=True,
        )
    return repeated(values, "rad", f"scatter/{key}", row)
