"""`cutvision correct`: caliper readings of a test piece to the fence move."""

from __future__ import annotations

from typing import Annotated, Literal

import typer

from cutvision.cli.correct_arms import arms, assembly
from cutvision.cli.correct_by_gap import direct, facing, frame
from cutvision.cli.correct_options import (
    BlankOptions,
    CaliperOptions,
    DifferenceOption,
    ExplainedAnswer,
    FenceOptions,
    Kept,
    Lever,
    Pair,
    Side,
    given,
    length,
    noted,
)
from cutvision.cli.drawing_option import DrawingOptions
from cutvision.cli.how import reading_epilog
from cutvision.cli.leaves import LeafOptions
from cutvision.cli.option_groups import with_groups
from cutvision.cli.spread import SpreadOptions

app = typer.Typer(
    help="From caliper readings of a test piece to how far, and which way, the fence must be moved.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@app.command(epilog=reading_epilog("miter"))
@with_groups
def miter(
    fence_length: Lever,
    left_leg: Annotated[
        str | None,
        typer.Option(
            "--left-leg", metavar="LENGTH", help="The leg on your left, piece face up with its cut toward you."
        ),
    ] = None,
    right_leg: Annotated[
        str | None, typer.Option("--right-leg", metavar="LENGTH", help="The leg on your right.")
    ] = None,
    shorter: Annotated[Side | None, typer.Option("--shorter", help="With --difference: the shorter leg.")] = None,
    piece_width: Annotated[
        str | None,
        typer.Option(
            "--piece-width", metavar="LENGTH", help="The piece's width, for the shop's rule and to check the tip."
        ),
    ] = None,
    nominal: Annotated[
        str, typer.Option("--nominal", metavar="ANGLE", help="The miter as shops say it, from a square cut.")
    ] = "45deg",
    kept: Kept = None,
    *,
    blank: BlankOptions,
    by_difference: DifferenceOption,
    caliper: CaliperOptions,
    fence: FenceOptions,
    spread: SpreadOptions,
    leaves: LeafOptions,
    drawn: DrawingOptions,
    told: ExplainedAnswer,
) -> None:
    """Find a miter fence's error from the two legs of a test piece.

    Error = 45 deg - atan(left / right), counter-clockwise positive, for a corner of 90 deg; by the shop's rule (right -
    left) / 2 / width. A short left leg: the fence must turn clockwise; a short right leg: counter-clockwise.

    cutvision correct miter --left-leg 101.62mm --right-leg 101.35mm --fence-length 380mm

    Read each leg three times and the bound rests on your own hands: --left-leg 101.62mm,101.64mm,101.61mm

    With the caliper zeroed on the left leg: --left-leg 101.6mm --difference 0.27mm --shorter right
    """
    from cutvision.correction import (
        assumptions,
        correct_miter_from_legs,
        outliers,
        typed_corner,
        typed_legs,
        typed_legs_by_difference,
    )
    from cutvision.correction.explained_ways import Zeroed, explain_legs
    from cutvision.units import parse_angle

    drawn.check()
    care = caliper.care(blank.tips, blank.corner_to, spread.count())
    read = Pair(("left leg", "--left-leg", left_leg), ("right leg", "--right-leg", right_leg))
    lefts, rights = read.first(), read.second()
    difference = by_difference.of(read, "--shorter", shorter)
    known_leg: Side = "left" if lefts else "right"
    if difference is None:
        left, right = typed_legs(lefts, rights, care)
    else:
        left, right = typed_legs_by_difference(lefts or rights, known_leg, difference, shorter or "left", care)
    nominal_rad = parse_angle(nominal, "--nominal")
    corner_rad, width_mm = parse_angle(blank.corner, "--corner"), length(piece_width, "--piece-width")
    correction = correct_miter_from_legs(
        left,
        right,
        typed_corner(corner_rad, care),
        fence.jig(fence_length, kept, care, spread.asked(wood_read=True), nominal_rad),
        nominal_rad=nominal_rad,
        piece_width_mm=width_mm,
        edge_form=care.edge_form,
    )
    longest_mm = max(left.value, right.value)
    assumed = assumptions(care, "legs", longest_mm, all_repeated=read.all_repeated(difference))
    correction = noted(correction, outliers(read.readings(difference), care))
    zeroed = None if difference is None else Zeroed(difference, known_larger=(shorter or "left") != known_leg)
    drawn.write(correction)
    told.tell_explained(
        correction, assumed, leaves, lambda found: explain_legs(found, lefts, rights, corner_rad, width_mm, zeroed)
    )


@app.command(epilog=reading_epilog("square"))
@with_groups
def square(
    between: Annotated[
        str, typer.Option("--between", metavar="LENGTH", help="Along the piece from one reading to the other.")
    ],
    fence_length: Lever,
    at_fence: Annotated[
        str | None, typer.Option("--at-fence", metavar="LENGTH", help="The width at the end that lay at the fence.")
    ] = None,
    far_end: Annotated[
        str | None, typer.Option("--far-end", metavar="LENGTH", help="The width at the far end.")
    ] = None,
    wider: Annotated[
        Literal["fence", "far"] | None, typer.Option("--wider", help="With --difference: the wider end.")
    ] = None,
    turns: Annotated[
        int,
        typer.Option(
            "--turns",
            help="4: the strip sawn off last (fifth cut or later). 2: the board's own width after three cuts.",
        ),
    ] = 4,
    kept: Kept = None,
    *,
    by_difference: DifferenceOption,
    caliper: CaliperOptions,
    fence: FenceOptions,
    spread: SpreadOptions,
    leaves: LeafOptions,
    drawn: DrawingOptions,
    told: ExplainedAnswer,
) -> None:
    """Find a square fence's error from two widths of a strip, or of the board, after turned cuts.

    Error = atan((at the fence - far end) / between) / 4; by the shop's rule difference / 4 / between. A strip wider at
    the fence means that the kept corner is over 90 deg; with --turns 2, 2 for 4, a narrower board means that.

    cutvision correct square --at-fence 24.91mm --far-end 24.78mm --between 380mm --fence-length 560mm

    Every length may be a list of repeated readings: --at-fence 24.91mm,24.93mm,24.90mm

    With the caliper zeroed at the fence end: --at-fence 24.9mm --difference 0.13mm --wider fence
    """
    from cutvision.correction import (
        assumptions,
        correct_square_from_widths,
        outliers,
        typed_distance,
        typed_widths,
        typed_widths_by_difference,
    )
    from cutvision.correction.explained_ways import Zeroed, explain_widths

    drawn.check()
    care = caliper.care(pieces=spread.count())
    read = Pair(("width at the fence", "--at-fence", at_fence), ("width at the far end", "--far-end", far_end))
    ats, fars = read.first(), read.second()
    difference = by_difference.of(read, "--wider", wider)
    known_end: Literal["fence", "far"] = "fence" if ats else "far"
    if difference is None:
        at, far = typed_widths(ats, fars, care)
    else:
        at, far = typed_widths_by_difference(ats or fars, known_end, difference, wider or "fence", care)
    distances = given(between, "--between")
    correction = correct_square_from_widths(
        at,
        far,
        typed_distance(distances, "between", care),
        fence.jig(fence_length, kept, care, spread.asked(wood_read=True), 0.0),
        turns=turns,
        edge_form=care.edge_form,
    )
    longest_mm = max(at.value, far.value)
    assumed = assumptions(care, "widths", longest_mm, all_repeated=read.all_repeated(difference))
    correction = noted(correction, outliers(read.readings(difference), care))
    zeroed = None if difference is None else Zeroed(difference, known_larger=(wider or "fence") == known_end)
    drawn.write(correction)
    told.tell_explained(correction, assumed, leaves, lambda found: explain_widths(found, ats, fars, distances, zeroed))


for way in (direct, facing, frame, arms, assembly):
    app.command(epilog=reading_epilog(way.__name__))(with_groups(way))
