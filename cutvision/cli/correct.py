"""`cutvision correct`: caliper readings of a test piece to the fence move."""

from __future__ import annotations

from typing import Annotated

import typer

from cutvision.cli.correct_by_gap import direct, facing, frame
from cutvision.cli.correct_options import (
    AnswerOptions,
    CaliperOptions,
    FenceOptions,
    Kept,
    Lever,
    all_repeated,
    given,
    length,
)
from cutvision.cli.leaves import LeafOptions
from cutvision.cli.option_groups import with_groups
from cutvision.cli.spread import SpreadOptions

app = typer.Typer(
    help="From caliper readings of a test piece to how far, and which way, the fence must be moved.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@app.command()
@with_groups
def miter(
    left_leg: Annotated[
        str,
        typer.Option(
            "--left-leg", metavar="LENGTH", help="The leg on your left, piece face up with its cut toward you."
        ),
    ],
    right_leg: Annotated[str, typer.Option("--right-leg", metavar="LENGTH", help="The leg on your right.")],
    fence_length: Lever,
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
    corner: Annotated[
        str, typer.Option("--corner", metavar="ANGLE", help="The test piece's corner between the legs.")
    ] = "90deg",
    corner_to: Annotated[
        str | None, typer.Option("--corner-to", metavar="ANGLE", help="How well the corner is known, as a half-width.")
    ] = None,
    tips: Annotated[
        str | None, typer.Option("--tips", metavar="LENGTH", help="How much of a tip may be missing (0mm if none).")
    ] = None,
    *,
    caliper: CaliperOptions,
    fence: FenceOptions,
    spread: SpreadOptions,
    leaves: LeafOptions,
    told: AnswerOptions,
) -> None:
    """Find a miter fence's error from the two legs of a test piece.

    cutvision correct miter --left-leg 101.62mm --right-leg 101.35mm --fence-length 380mm

    Read each leg three times and the bound rests on your own hands: --left-leg 101.62mm,101.64mm,101.61mm
    """
    from cutvision.correction import assumptions, correct_miter_from_legs, typed_corner, typed_legs
    from cutvision.units import parse_angle

    care = caliper.care(tips, corner_to)
    lefts, rights = given(left_leg, "--left-leg"), given(right_leg, "--right-leg")
    left, right = typed_legs(lefts, rights, care)
    correction = correct_miter_from_legs(
        left,
        right,
        typed_corner(parse_angle(corner, "--corner"), care),
        fence.jig(fence_length, kept, care, spread.asked()),
        nominal_rad=parse_angle(nominal, "--nominal"),
        piece_width_mm=length(piece_width, "--piece-width"),
        edge_form=care.edge_form,
    )
    longest_mm = max(left.value, right.value)
    assumed = assumptions(care, "legs", longest_mm, all_repeated=all_repeated(lefts, rights))
    told.tell(correction, assumed, leaves)


@app.command()
@with_groups
def square(
    at_fence: Annotated[
        str, typer.Option("--at-fence", metavar="LENGTH", help="The width at the end that lay at the fence.")
    ],
    far_end: Annotated[str, typer.Option("--far-end", metavar="LENGTH", help="The width at the far end.")],
    between: Annotated[
        str, typer.Option("--between", metavar="LENGTH", help="Along the piece from one reading to the other.")
    ],
    fence_length: Lever,
    turns: Annotated[
        int,
        typer.Option(
            "--turns",
            help="4: the strip sawn off last (fifth cut or later). 2: the board's own width after three cuts.",
        ),
    ] = 4,
    kept: Kept = None,
    *,
    caliper: CaliperOptions,
    fence: FenceOptions,
    spread: SpreadOptions,
    leaves: LeafOptions,
    told: AnswerOptions,
) -> None:
    """Find a square fence's error from two widths of a strip, or of the board, after turned cuts.

    cutvision correct square --at-fence 24.91mm --far-end 24.78mm --between 380mm --fence-length 560mm

    Every length may be a list of repeated readings: --at-fence 24.91mm,24.93mm,24.90mm
    """
    from cutvision.correction import assumptions, correct_square_from_widths, typed_distance, typed_widths

    care = caliper.care()
    ats, fars = given(at_fence, "--at-fence"), given(far_end, "--far-end")
    at, far = typed_widths(ats, fars, care)
    correction = correct_square_from_widths(
        at,
        far,
        typed_distance(given(between, "--between"), "between", care),
        fence.jig(fence_length, kept, care, spread.asked()),
        turns=turns,
        edge_form=care.edge_form,
    )
    longest_mm = max(at.value, far.value)
    assumed = assumptions(care, "widths", longest_mm, all_repeated=all_repeated(ats, fars))
    told.tell(correction, assumed, leaves)


for by_gap in (direct, facing, frame):
    app.command()(with_groups(by_gap))
