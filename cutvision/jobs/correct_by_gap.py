"""A fence's error from a gap that a shim fills: beside a square, between two pieces, at a frame's last joint."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from cutvision.errors import InputError
from cutvision.jobs.correct import CorrectResult, CorrectSaid
from cutvision.jobs.fence import FENCE_LENGTH, KEPT, RepeatsSaid, Side
from cutvision.jobs.reading import CARE, EDGE_FORM, GAP, SQUARE_TO, GapSaid
from cutvision.jobs.said import ANGLE_OR_NONE, ANGLES, LENGTH_OR_NONE, LENGTHS, LENGTHS_OR_NONE, Needs, Say, angle
from cutvision.units import parse_angles, parse_lengths

PROTRACTOR = "With a protractor instead"


@dataclass(frozen=True, kw_only=True)
class Direct(CorrectSaid, GapSaid):
    """Find a fence's error with a square, or a protractor, held along it and a shim between its arm and the blade.

    Saw off and unplugged. Hold the stock of the square along the fence, slide it until its arm touches the blade's
    plate, not a tooth, and find the shim that fills the gap at the arm's other end. Error = atan(gap / length); by the
    shop's rule gap / length. A gap far from the fence: the angle between fence and blade is too large. With the square
    on the left that is a fence standing counter-clockwise, on the right one standing clockwise.

    cutvision correct direct --gap 0.15mm --over 200mm --gap-at far --square-on left --fence-length 560mm

    Or type what a protractor shows in place of the gap: error = reading - true setting, as its scale counts.

    --reading 22.4deg --nominal 22.5deg --square-on left --fence-length 560mm
    """

    needs: ClassVar[Needs] = (
        ("gap", "over", "gap_at", "reading"),
        ("square_on",),
        ("fence_length",),
    )
    square_on: Annotated[Side, Say("The side of the blade on which the square lies, as you stand.", main=True)]
    fence_length: Annotated[str, FENCE_LENGTH]
    gap: Annotated[str | None, GAP] = None
    over: Annotated[
        str | None, Say("Along the square's arm, from where it touches to the shim.", LENGTHS, main=True)
    ] = None
    gap_at: Annotated[
        Literal["fence", "far"] | None,
        Say(
            "Where the shim goes: near the fence, or far from it, the arm touching near the fence.",
            main=True,
        ),
    ] = None
    reading: Annotated[
        str | None, Say("Instead of a gap: what a protractor shows, or several such.", ANGLES, PROTRACTOR)
    ] = None
    reading_from: Annotated[
        Literal["square", "blade"] | None,
        Say(
            "Whether the protractor counts from a square cut (0deg there) or from the blade (90deg there). Needed near "
            "45deg, where both are possible.",
            group=PROTRACTOR,
        ),
    ] = None
    reading_to: Annotated[str | None, Say("How well one protractor reading repeats.", ANGLE_OR_NONE, PROTRACTOR)] = None
    nominal: Annotated[str | None, Say("A protractor's setting, from a square cut.", ANGLE_OR_NONE, PROTRACTOR)] = None
    square_to: Annotated[str | None, SQUARE_TO] = None


def run_direct(asked: Direct) -> CorrectResult:
    """The fence from a square or a protractor held along it. Raises InputError in the option's name."""
    from cutvision.correction import (
        correct_by_protractor,
        correct_direct,
        gap_assumptions,
        typed_distance,
        typed_gap,
        typed_gauge,
        typed_protractor,
    )

    care = asked.care(square_to=asked.square_to, reading_to=asked.reading_to)
    nominal_rad = angle(asked.nominal, "--nominal", zero=True) or 0.0
    jig = asked.jig(asked.fence_length, asked.square_on, care, nominal_rad=nominal_rad)
    gap, over, gap_at = asked.gap, asked.over, asked.gap_at
    if asked.reading is not None:
        if not gap == over == gap_at is None:
            raise InputError("--reading stands in for --gap, --over and --gap-at.", "Give it, or these three.")
        readings = parse_angles(asked.reading, "--reading")
        shown = typed_protractor(readings, care)
        return asked.result(
            correct_by_protractor(shown, typed_gauge(care), jig, nominal_rad, asked.reading_from),
            tuple(gap_assumptions(care, "protractor")),
            {"shown": [math.degrees(reading) for reading in readings]},
        )
    if asked.reading_from is not None or asked.reading_to is not None:
        raise InputError("--reading-from and --reading-to are about --reading, which is not given.", "Leave them out.")
    if gap is None or over is None or gap_at is None:
        raise InputError(
            "A gap takes --gap, --over and --gap-at together.", "Give all three, or what a protractor shows: --reading."
        )
    gaps, overs = parse_lengths(gap, "--gap", zero=True), parse_lengths(over, "--over")
    return asked.result(
        correct_direct(
            typed_gap(gaps, care), typed_distance(overs, "over", care), gap_at, typed_gauge(care), jig, nominal_rad
        ),
        tuple(gap_assumptions(care, "direct")),
        {"gap": gaps, "length": overs},
    )


@dataclass(frozen=True, kw_only=True)
class Facing(CorrectSaid, RepeatsSaid, GapSaid):
    """Find a square fence's error, doubled, from two pieces with one turned over and their cuts put together.

    Cut two pieces on the same side of the blade. Stand both, away from the saw, with the edge that lay at the fence on
    one straight edge; turn one over like a page so that the cuts meet; find the shim that fills the gap. Error =
    atan(gap / length) / 2; by the shop's rule gap / 2 / length. A gap at the straight edge: the corners exceed 90 deg.

    cutvision correct facing --gap 0.5mm --over 300mm --gap-at fence --fence-length 560mm --kept left
    """

    needs: ClassVar[Needs] = (("gap",), ("gap_at",), ("over",), ("fence_length",))
    gap: Annotated[str, GAP]
    over: Annotated[str, Say("Along the cut, from where the pieces touch to the shim.", LENGTHS, main=True)]
    gap_at: Annotated[
        Literal["fence", "far"],
        Say("Where the shim goes: at the edges that lay at the fence, or far from them.", main=True),
    ]
    fence_length: Annotated[str, FENCE_LENGTH]
    kept: Annotated[Side | None, KEPT] = None
    edge_form: Annotated[str | None, EDGE_FORM] = None


def run_facing(asked: Facing) -> CorrectResult:
    """The fence from two pieces face to face. Raises InputError in the option's name."""
    from cutvision.correction import correct_facing, gap_assumptions, typed_distance, typed_gap

    care = asked.care(edge_form=asked.edge_form, pieces=asked.count())
    gaps, overs = parse_lengths(asked.gap, "--gap", zero=True), parse_lengths(asked.over, "--over")
    return asked.result(
        correct_facing(
            typed_gap(gaps, care),
            typed_distance(overs, "over", care),
            asked.gap_at,
            asked.jig(asked.fence_length, asked.kept, care, asked.repeats(wood_read=True), 0.0),
            edge_form=care.edge_form,
        ),
        tuple(gap_assumptions(care, "facing")),
        {"gap": gaps, "length": overs},
    )


@dataclass(frozen=True, kw_only=True)
class Frame(CorrectSaid, RepeatsSaid, GapSaid):
    """Find a miter fence's error from a frame that is closed but for its last joint, where all errors add up.

    Cut every end at this one fence. Shut all joints but one, each touching along its whole face, and let the last one
    stand open by itself: clamp it shut at neither corner. Read the gap at its toe (outer corner) and at its heel (inner
    corner): what counts is how much wider it is at the one than at the other. With face = stock / cos(180 deg / N +
    error), error = 2 asin(gap / (2 face)) / (2 N); by the shop's rule gap / face / (2 N). Wider at the toe: the cuts
    are short of 180 deg / N. With the work kept on the left, and a fence that runs away from you toward the right, that
    is a fence standing clockwise; for a fence that leans the other way give the other --kept.

    cutvision correct frame --gap 1.2mm --stock 60mm --sides 4 --gap-at toe --kept left --fence-length 380mm
    """

    needs: ClassVar[Needs] = (("gap",), ("gap_at",), ("stock",), ("sides",), ("fence_length",))
    gap: Annotated[
        str,
        Say(
            "The last joint's gap at the corner that --gap-at names; without --other-gap, less the gap at the other.",
            LENGTHS_OR_NONE,
            main=True,
        ),
    ]
    gap_at: Annotated[
        Literal["heel", "toe"],
        Say("Where the last joint is wider: at its heel (inner corner) or toe (outer corner).", main=True),
    ]
    other_gap: Annotated[
        str | None, Say("The gap at the joint's other corner, where the faces do not touch there.", LENGTHS_OR_NONE)
    ] = None
    stock: Annotated[str, Say("The width of the frame's sides.", LENGTHS, main=True)]
    sides: Annotated[int, Say("How many sides the frame has (3 to 24).", main=True)]
    fence_length: Annotated[str, FENCE_LENGTH]
    kept: Annotated[Side | None, KEPT] = None
    edge_form: Annotated[str | None, EDGE_FORM] = None
    shut_to: Annotated[str | None, Say("How far a joint that looks shut may be open.", LENGTH_OR_NONE, CARE)] = None


def run_frame(asked: Frame) -> CorrectResult:
    """The fence from a frame's last joint. Raises InputError in the option's name."""
    from cutvision.correction import correct_frame, gap_assumptions, typed_distance, typed_gap
    from cutvision.correction.joint import frame_miter
    from cutvision.correction.readings import SHUT_TO_MM

    care = asked.care(edge_form=asked.edge_form, shut_to=asked.shut_to, pieces=asked.count())
    gaps, stocks = parse_lengths(asked.gap, "--gap", zero=True), parse_lengths(asked.stock, "--stock")
    others = None
    if asked.other_gap is not None:
        others = typed_gap(parse_lengths(asked.other_gap, "--other-gap", zero=True), care)
    return asked.result(
        correct_frame(
            typed_gap(gaps, care),
            typed_distance(stocks, "stock", care),
            asked.sides,
            asked.gap_at,
            asked.jig(asked.fence_length, asked.kept, care, asked.repeats(wood_read=True), frame_miter(asked.sides)),
            other_end=others,
            edge_form=care.edge_form,
            shut_to_mm=SHUT_TO_MM if care.shut_to_mm is None else care.shut_to_mm,
        ),
        tuple(gap_assumptions(care, "frame")),
        {"stock_width": stocks} if others else {"gap": gaps, "stock_width": stocks},
    )
