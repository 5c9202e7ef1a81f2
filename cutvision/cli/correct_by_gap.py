"""`cutvision correct direct`, `facing` and `frame`: a gap that a leaf fills to the fence move."""

from __future__ import annotations

from typing import Annotated, Literal

import typer

from cutvision.cli.correct_options import (
    AsJson,
    Budget,
    DistanceTo,
    Form,
    Kept,
    Lever,
    Side,
    Tolerance,
    given,
    jig,
    length,
    tell,
)
from cutvision.cli.leaves import LeafSetOption, LeavesOption, MostLeavesOption, leaves_asked
from cutvision.cli.spread import CutAnglesOption, CutSpreadOption, PiecesOption, spread_asked

Gap = Annotated[
    str, typer.Option("--gap", metavar="LENGTH", help="The leaf, or the leaves together, that just fit (0mm if none).")
]
GapTo = Annotated[str | None, typer.Option("--gap-to", metavar="LENGTH", help="How well the gap is known.")]


def direct(
    gap: Gap,
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
    gap_to: GapTo = None,
    square_to: Annotated[
        str | None, typer.Option("--square-to", metavar="ANGLE", help="How true the square or protractor is.")
    ] = None,
    distance_to: DistanceTo = None,
    tolerance: Tolerance = None,
    leaf_set: LeafSetOption = None,
    leaves: LeavesOption = None,
    most_leaves: MostLeavesOption = None,
    budget: Budget = False,
    as_json: AsJson = False,
) -> None:
    """Find a fence's error with a square, or a protractor, held along it and a leaf between its arm and the blade.

    Saw off and unplugged. Hold the stock of the square along the fence, slide it until its arm touches the blade's
    plate, not a tooth, and find the leaf that fills the gap at the arm's other end. Error = atan(gap / length); by the
    shop's rule gap / length. A gap far from the fence: the angle between fence and blade is too large. With the square
    on the left that is a fence standing counter-clockwise, on the right one standing clockwise.

    cutvision correct direct --gap 0.15mm --over 200mm --gap-at far --square-on left --fence-length 560mm
    """
    from cutvision.correction import (
        ReadingCare,
        correct_direct,
        gap_assumptions,
        typed_distance,
        typed_gap,
        typed_gauge,
    )
    from cutvision.units import parse_angle

    care = ReadingCare(
        gap_to_mm=length(gap_to, "--gap-to", zero=True),
        distance_to_mm=length(distance_to, "--distance-to", zero=True),
        gauge_to_rad=None if square_to is None else parse_angle(square_to, "--square-to", zero=True),
    )
    correction = correct_direct(
        typed_gap(given(gap, "--gap", zero=True), care),
        typed_distance(given(over, "--over"), "over", care),
        gap_at,
        typed_gauge(care),
        jig(fence_length, square_on, tolerance, care),
        0.0 if nominal is None else parse_angle(nominal, "--nominal", zero=True),
    )
    choice = leaves_asked(leaf_set, leaves, most_leaves)
    tell(correction, gap_assumptions(care, "direct"), choice, budget=budget, as_json=as_json)


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
    gap_to: GapTo = None,
    distance_to: DistanceTo = None,
    edge_form: Form = None,
    tolerance: Tolerance = None,
    cut_spread: CutSpreadOption = None,
    cut_angles: CutAnglesOption = None,
    pieces: PiecesOption = None,
    leaf_set: LeafSetOption = None,
    leaves: LeavesOption = None,
    most_leaves: MostLeavesOption = None,
    budget: Budget = False,
    as_json: AsJson = False,
) -> None:
    """Find a square fence's error, doubled, from two pieces with one turned over and their cuts put together.

    Cut two pieces on the same side of the blade. Stand both, away from the saw, with the edge that lay at the fence on
    one straight edge; turn one over like a page so that the cuts meet; find the leaf that fills the gap. Error =
    atan(gap / length) / 2; by the shop's rule gap / 2 / length. A gap at the straight edge: the corners exceed 90 deg.

    cutvision correct facing --gap 0.5mm --over 300mm --gap-at fence --fence-length 560mm --kept left
    """
    from cutvision.correction import ReadingCare, correct_facing, gap_assumptions, typed_distance, typed_gap

    care = ReadingCare(
        gap_to_mm=length(gap_to, "--gap-to", zero=True),
        distance_to_mm=length(distance_to, "--distance-to", zero=True),
        edge_form_mm=length(edge_form, "--edge-form", zero=True),
    )
    correction = correct_facing(
        typed_gap(given(gap, "--gap", zero=True), care),
        typed_distance(given(over, "--over"), "over", care),
        gap_at,
        jig(fence_length, kept, tolerance, care, spread_asked(cut_spread, cut_angles, pieces)),
        edge_form=care.edge_form,
    )
    choice = leaves_asked(leaf_set, leaves, most_leaves)
    tell(correction, gap_assumptions(care, "facing"), choice, budget=budget, as_json=as_json)


def frame(
    gap: Gap,
    stock: Annotated[str, typer.Option("--stock", metavar="LENGTH", help="The width of the frame's sides.")],
    sides: Annotated[int, typer.Option("--sides", help="How many sides the frame has (3 to 24).")],
    gap_at: Annotated[
        Literal["heel", "toe"],
        typer.Option("--gap-at", help="Where the last joint gapes: at its heel (inner corner) or toe (outer corner)."),
    ],
    kept: Annotated[Side, typer.Option("--kept", help="The side of the blade on which every side lay and was kept.")],
    fence_length: Lever,
    gap_to: GapTo = None,
    distance_to: DistanceTo = None,
    edge_form: Form = None,
    tolerance: Tolerance = None,
    cut_spread: CutSpreadOption = None,
    cut_angles: CutAnglesOption = None,
    pieces: PiecesOption = None,
    leaf_set: LeafSetOption = None,
    leaves: LeavesOption = None,
    most_leaves: MostLeavesOption = None,
    budget: Budget = False,
    as_json: AsJson = False,
) -> None:
    """Find a miter fence's error from a frame that is closed but for its last joint, where all errors add up.

    Every end cut at this one fence; all joints but one clamped shut, the last touching at one corner. With face = stock
    / cos(180 deg / N), error = 2 asin(gap / (2 face)) / (2 N); by the shop's rule gap / face / (2 N). A gap at the toe:
    the cuts are short of 180 deg / N. With the work kept on the left, and a fence that runs away from you toward the
    right, that is a fence standing clockwise; for a fence that leans the other way give the other --kept.

    cutvision correct frame --gap 1.2mm --stock 60mm --sides 4 --gap-at toe --kept left --fence-length 380mm
    """
    from cutvision.correction import ReadingCare, correct_frame, gap_assumptions, typed_distance, typed_gap

    care = ReadingCare(
        gap_to_mm=length(gap_to, "--gap-to", zero=True),
        distance_to_mm=length(distance_to, "--distance-to", zero=True),
        edge_form_mm=length(edge_form, "--edge-form", zero=True),
    )
    correction = correct_frame(
        typed_gap(given(gap, "--gap", zero=True), care),
        typed_distance(given(stock, "--stock"), "stock", care),
        sides,
        gap_at,
        jig(fence_length, kept, tolerance, care, spread_asked(cut_spread, cut_angles, pieces)),
        edge_form=care.edge_form,
    )
    choice = leaves_asked(leaf_set, leaves, most_leaves)
    tell(correction, gap_assumptions(care, "frame"), choice, budget=budget, as_json=as_json)
