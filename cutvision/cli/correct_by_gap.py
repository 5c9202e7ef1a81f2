"""`cutvision correct direct`, `facing` and `frame`: a gap that a leaf fills to the fence move."""

from __future__ import annotations

from typing import Annotated, Literal

import typer

from cutvision.cli.correct_options import (
    EdgeFormText,
    ExplainedAnswer,
    FenceOptions,
    Gap,
    GapOptions,
    Kept,
    Lever,
    Side,
    angle,
    angles,
    given,
)
from cutvision.cli.drawing_option import DrawingOptions
from cutvision.cli.leaves import LeafOptions
from cutvision.cli.spread import SpreadOptions
from cutvision.errors import InputError


def direct(
    square_on: Annotated[
        Side, typer.Option("--square-on", help="The side of the blade on which the square lies, as you stand.")
    ],
    fence_length: Lever,
    gap: Annotated[
        str | None,
        typer.Option("--gap", metavar="LENGTH", help="The leaf, or the leaves together, that just fit (0mm if none)."),
    ] = None,
    over: Annotated[
        str | None,
        typer.Option("--over", metavar="LENGTH", help="Along the square's arm, from where it touches to the leaf."),
    ] = None,
    gap_at: Annotated[
        Literal["fence", "far"] | None,
        typer.Option(
            "--gap-at", help="Where the leaf goes: near the fence, or far from it, the arm touching near the fence."
        ),
    ] = None,
    reading: Annotated[
        str | None,
        typer.Option("--reading", metavar="ANGLE", help="Instead of a gap: what a protractor shows, or several such."),
    ] = None,
    reading_from: Annotated[
        Literal["square", "blade"] | None,
        typer.Option(
            "--reading-from",
            help="Whether the protractor counts from a square cut (0deg there) or from the blade (90deg there). Needed "
            "near 45deg, where both are possible.",
        ),
    ] = None,
    reading_to: Annotated[
        str | None, typer.Option("--reading-to", metavar="ANGLE", help="How well one protractor reading repeats.")
    ] = None,
    nominal: Annotated[
        str | None, typer.Option("--nominal", metavar="ANGLE", help="A protractor's setting, from a square cut.")
    ] = None,
    square_to: Annotated[
        str | None, typer.Option("--square-to", metavar="ANGLE", help="How true the square or protractor is.")
    ] = None,
    *,
    opening: GapOptions,
    fence: FenceOptions,
    leaves: LeafOptions,
    drawn: DrawingOptions,
    told: ExplainedAnswer,
) -> None:
    """Find a fence's error with a square, or a protractor, held along it and a leaf between its arm and the blade.

    Saw off and unplugged. Hold the stock of the square along the fence, slide it until its arm touches the blade's
    plate, not a tooth, and find the leaf that fills the gap at the arm's other end. Error = atan(gap / length); by the
    shop's rule gap / length. A gap far from the fence: the angle between fence and blade is too large. With the square
    on the left that is a fence standing counter-clockwise, on the right one standing clockwise.

    cutvision correct direct --gap 0.15mm --over 200mm --gap-at far --square-on left --fence-length 560mm

    Or type what a protractor shows in place of the gap: error = reading - true setting, as its scale counts.

    --reading 22.4deg --nominal 22.5deg --square-on left --fence-length 560mm
    """
    from cutvision.correction import (
        correct_by_protractor,
        correct_direct,
        gap_assumptions,
        typed_distance,
        typed_gap,
        typed_gauge,
        typed_protractor,
    )
    from cutvision.correction.explained_ways import explain_direct, explain_protractor

    drawn.check()
    care = opening.care(square_to=square_to, reading_to=reading_to)
    nominal_rad = angle(nominal, "--nominal", zero=True) or 0.0
    jig = fence.jig(fence_length, square_on, care, nominal_rad=nominal_rad)
    if reading is not None:
        if not gap == over == gap_at is None:
            raise InputError("--reading stands in for --gap, --over and --gap-at.", "Give it, or these three.")
        readings = angles(reading, "--reading")
        shown = typed_protractor(readings, care)
        correction = correct_by_protractor(shown, typed_gauge(care), jig, nominal_rad, reading_from)
        drawn.write(correction)
        told.tell_explained(
            correction,
            gap_assumptions(care, "protractor"),
            leaves,
            lambda found: explain_protractor(found, readings),
        )
        return
    if reading_from is not None or reading_to is not None:
        raise InputError("--reading-from and --reading-to are about --reading, which is not given.", "Leave them out.")
    if gap is None or over is None or gap_at is None:
        raise InputError(
            "A gap takes --gap, --over and --gap-at together.", "Give all three, or what a protractor shows: --reading."
        )
    gaps, overs = given(gap, "--gap", zero=True), given(over, "--over")
    correction = correct_direct(
        typed_gap(gaps, care),
        typed_distance(overs, "over", care),
        gap_at,
        typed_gauge(care),
        jig,
        nominal_rad,
    )
    drawn.write(correction)
    told.tell_explained(
        correction,
        gap_assumptions(care, "direct"),
        leaves,
        lambda found: explain_direct(found, gaps, overs, gap_at),
    )


def facing(
    gap: Gap,
    over: Annotated[
        str, typer.Option("--over", metavar="LENGTH", help="Along the cut, from where the pieces touch to the leaf.")
    ],
    gap_at: Annotated[
        Literal["fence", "far"],
        typer.Option("--gap-at", help="Where the leaf goes: at the edges that lay at the fence, or far from them."),
    ],
    fence_length: Lever,
    kept: Kept = None,
    edge_form: EdgeFormText = None,
    *,
    opening: GapOptions,
    fence: FenceOptions,
    spread: SpreadOptions,
    leaves: LeafOptions,
    drawn: DrawingOptions,
    told: ExplainedAnswer,
) -> None:
    """Find a square fence's error, doubled, from two pieces with one turned over and their cuts put together.

    Cut two pieces on the same side of the blade. Stand both, away from the saw, with the edge that lay at the fence on
    one straight edge; turn one over like a page so that the cuts meet; find the leaf that fills the gap. Error =
    atan(gap / length) / 2; by the shop's rule gap / 2 / length. A gap at the straight edge: the corners exceed 90 deg.

    cutvision correct facing --gap 0.5mm --over 300mm --gap-at fence --fence-length 560mm --kept left
    """
    from cutvision.correction import correct_facing, gap_assumptions, typed_distance, typed_gap
    from cutvision.correction.explained_ways import explain_facing

    drawn.check()
    care = opening.care(edge_form=edge_form, pieces=spread.count())
    gaps, overs = given(gap, "--gap", zero=True), given(over, "--over")
    correction = correct_facing(
        typed_gap(gaps, care),
        typed_distance(overs, "over", care),
        gap_at,
        fence.jig(fence_length, kept, care, spread.asked(wood_read=True), 0.0),
        edge_form=care.edge_form,
    )
    drawn.write(correction)
    told.tell_explained(
        correction,
        gap_assumptions(care, "facing"),
        leaves,
        lambda found: explain_facing(found, gaps, overs, gap_at),
    )


def frame(
    gap: Gap,
    stock: Annotated[str, typer.Option("--stock", metavar="LENGTH", help="The width of the frame's sides.")],
    sides: Annotated[int, typer.Option("--sides", help="How many sides the frame has (3 to 24).")],
    gap_at: Annotated[
        Literal["heel", "toe"],
        typer.Option("--gap-at", help="Where the last joint gapes: at its heel (inner corner) or toe (outer corner)."),
    ],
    fence_length: Lever,
    kept: Kept = None,
    edge_form: EdgeFormText = None,
    shut_to: Annotated[
        str | None, typer.Option("--shut-to", metavar="LENGTH", help="How far a joint that looks shut may be open.")
    ] = None,
    *,
    opening: GapOptions,
    fence: FenceOptions,
    spread: SpreadOptions,
    leaves: LeafOptions,
    drawn: DrawingOptions,
    told: ExplainedAnswer,
) -> None:
    """Find a miter fence's error from a frame that is closed but for its last joint, where all errors add up.

    Every end cut at this one fence; all joints but one clamped shut, the last touching at one corner. With face = stock
    / cos(180 deg / N), error = 2 asin(gap / (2 face)) / (2 N); by the shop's rule gap / face / (2 N). A gap at the toe:
    the cuts are short of 180 deg / N. With the work kept on the left, and a fence that runs away from you toward the
    right, that is a fence standing clockwise; for a fence that leans the other way give the other --kept.

    cutvision correct frame --gap 1.2mm --stock 60mm --sides 4 --gap-at toe --kept left --fence-length 380mm
    """
    from cutvision.correction import correct_frame, gap_assumptions, typed_distance, typed_gap
    from cutvision.correction.explained_ways import explain_frame
    from cutvision.correction.joint import frame_miter
    from cutvision.correction.readings import SHUT_TO_MM

    drawn.check()
    care = opening.care(edge_form=edge_form, shut_to=shut_to, pieces=spread.count())
    gaps, stocks = given(gap, "--gap", zero=True), given(stock, "--stock")
    correction = correct_frame(
        typed_gap(gaps, care),
        typed_distance(stocks, "stock", care),
        sides,
        gap_at,
        fence.jig(fence_length, kept, care, spread.asked(wood_read=True), frame_miter(sides)),
        edge_form=care.edge_form,
        shut_to_mm=SHUT_TO_MM if care.shut_to_mm is None else care.shut_to_mm,
    )
    drawn.write(correction)
    told.tell_explained(
        correction,
        gap_assumptions(care, "frame"),
        leaves,
        lambda found: explain_frame(found, gaps, stocks, sides, gap_at),
    )
