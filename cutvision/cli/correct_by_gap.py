"""`cutvision correct direct`, `facing` and `frame`: a gap that a leaf fills to the fence move."""

from __future__ import annotations

from typing import Annotated, Literal

import typer

from cutvision.cli.correct_options import (
    AnswerOptions,
    EdgeFormText,
    FenceOptions,
    GapOptions,
    Kept,
    Lever,
    Side,
    given,
)
from cutvision.cli.leaves import LeafOptions
from cutvision.cli.spread import SpreadOptions


def direct(
    over: Annotated[
        str, typer.Option("--over", metavar="LENGTH", help="Along the square's arm, from where it touches to the leaf.")
    ],
    gap_at: Annotated[
        Literal["fence", "far"],
        typer.Option(
            "--gap-at", help="Where the leaf goes: near the fence, or far from it, the arm touching near the fence."
        ),
    ],
    square_on: Annotated[
        Side, typer.Option("--square-on", help="The side of the blade on which the square lies, as you stand.")
    ],
    fence_length: Lever,
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
    told: AnswerOptions,
) -> None:
    """Find a fence's error with a square, or a protractor, held along it and a leaf between its arm and the blade.

    Saw off and unplugged. Hold the stock of the square along the fence, slide it until its arm touches the blade's
    plate, not a tooth, and find the leaf that fills the gap at the arm's other end. Error = atan(gap / length); by the
    shop's rule gap / length. A gap far from the fence: the angle between fence and blade is too large. With the square
    on the left that is a fence standing counter-clockwise, on the right one standing clockwise.

    cutvision correct direct --gap 0.15mm --over 200mm --gap-at far --square-on left --fence-length 560mm
    """
    from cutvision.correction import (
        correct_direct,
        gap_assumptions,
        typed_distance,
        typed_gap,
        typed_gauge,
    )
    from cutvision.units import parse_angle

    care = opening.care(square_to=square_to)
    correction = correct_direct(
        typed_gap(given(opening.gap, "--gap", zero=True), care),
        typed_distance(given(over, "--over"), "over", care),
        gap_at,
        typed_gauge(care),
        fence.jig(fence_length, square_on, care),
        0.0 if nominal is None else parse_angle(nominal, "--nominal", zero=True),
    )
    told.tell(correction, gap_assumptions(care, "direct"), leaves)


def facing(
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
    told: AnswerOptions,
) -> None:
    """Find a square fence's error, doubled, from two pieces with one turned over and their cuts put together.

    Cut two pieces on the same side of the blade. Stand both, away from the saw, with the edge that lay at the fence on
    one straight edge; turn one over like a page so that the cuts meet; find the leaf that fills the gap. Error =
    atan(gap / length) / 2; by the shop's rule gap / 2 / length. A gap at the straight edge: the corners exceed 90 deg.

    cutvision correct facing --gap 0.5mm --over 300mm --gap-at fence --fence-length 560mm --kept left
    """
    from cutvision.correction import correct_facing, gap_assumptions, typed_distance, typed_gap

    care = opening.care(edge_form)
    correction = correct_facing(
        typed_gap(given(opening.gap, "--gap", zero=True), care),
        typed_distance(given(over, "--over"), "over", care),
        gap_at,
        fence.jig(fence_length, kept, care, spread.asked()),
        edge_form=care.edge_form,
    )
    told.tell(correction, gap_assumptions(care, "facing"), leaves)


def frame(
    stock: Annotated[str, typer.Option("--stock", metavar="LENGTH", help="The width of the frame's sides.")],
    sides: Annotated[int, typer.Option("--sides", help="How many sides the frame has (3 to 24).")],
    gap_at: Annotated[
        Literal["heel", "toe"],
        typer.Option("--gap-at", help="Where the last joint gapes: at its heel (inner corner) or toe (outer corner)."),
    ],
    fence_length: Lever,
    kept: Kept = None,
    edge_form: EdgeFormText = None,
    *,
    opening: GapOptions,
    fence: FenceOptions,
    spread: SpreadOptions,
    leaves: LeafOptions,
    told: AnswerOptions,
) -> None:
    """Find a miter fence's error from a frame that is closed but for its last joint, where all errors add up.

    Every end cut at this one fence; all joints but one clamped shut, the last touching at one corner. With face = stock
    / cos(180 deg / N), error = 2 asin(gap / (2 face)) / (2 N); by the shop's rule gap / face / (2 N). A gap at the toe:
    the cuts are short of 180 deg / N. With the work kept on the left, and a fence that runs away from you toward the
    right, that is a fence standing clockwise; for a fence that leans the other way give the other --kept.

    cutvision correct frame --gap 1.2mm --stock 60mm --sides 4 --gap-at toe --kept left --fence-length 380mm
    """
    from cutvision.correction import correct_frame, gap_assumptions, typed_distance, typed_gap

    care = opening.care(edge_form)
    correction = correct_frame(
        typed_gap(given(opening.gap, "--gap", zero=True), care),
        typed_distance(given(stock, "--stock"), "stock", care),
        sides,
        gap_at,
        fence.jig(fence_length, kept, care, spread.asked()),
        edge_form=care.edge_form,
    )
    told.tell(correction, gap_assumptions(care, "frame"), leaves)
