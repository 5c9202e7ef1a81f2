"""`cutvision worksheet` and `cutvision card`: one side of paper each, so that the shop needs no computer that day."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from cutvision.cli.correct_options import CaliperOptions, FenceOptions, Kept, Lever, length
from cutvision.cli.leaves import LeafOptions
from cutvision.cli.option_groups import with_groups
from cutvision.cli.output import answer
from cutvision.cli.spread import SpreadOptions
from cutvision.files import write_output
from cutvision.reports.cautions import cautions
from cutvision.reports.columns import bullets, wrap

if TYPE_CHECKING:
    from cutvision.reports.printed_sheet import PrintedSheet

app = typer.Typer(
    help="A worksheet to print: blanks for the readings, the arithmetic in order, which way to move.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

card_app = typer.Typer(
    help="A card for the wall: for your fence and test piece, from the difference read to the leaf and the way.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

Out = Annotated[
    Path,
    typer.Option("--out", metavar="FILE", help="File to write; it ends in .pdf (best for printing), .svg or .png."),
]
Paper = Annotated[Literal["a4", "letter"], typer.Option("--paper", help="The paper, upright.")]


@app.command("miter")
def worksheet_miter(out: Out, paper: Paper = "a4") -> None:
    """Write a worksheet for a 45 deg miter fence, from the two legs of a test piece.

    cutvision worksheet miter --out miter.pdf --paper letter
    """
    from cutvision.reports.figure import format_of
    from cutvision.reports.worksheet import miter_worksheet

    format_of(out)
    _write(miter_worksheet(paper), out)


@app.command("square")
def worksheet_square(out: Out, paper: Paper = "a4") -> None:
    """Write a worksheet for a square fence, from the widths of a strip, or of the board, after turned cuts.

    cutvision worksheet square --out square.pdf
    """
    from cutvision.reports.figure import format_of
    from cutvision.reports.worksheet import square_worksheet

    format_of(out)
    _write(square_worksheet(paper), out)


@card_app.command("miter")
@with_groups
def card_miter(
    out: Out,
    fence_length: Lever,
    piece_width: Annotated[
        str,
        typer.Option("--piece-width", metavar="LENGTH", help="The test piece's width, for which the card is made."),
    ],
    paper: Paper = "a4",
    nominal: Annotated[
        str, typer.Option("--nominal", metavar="ANGLE", help="The miter as shops say it, from a square cut.")
    ] = "45deg",
    kept: Kept = None,
    corner_to: Annotated[
        str | None,
        typer.Option("--corner-to", metavar="ANGLE", help="How well the piece's corner is 90 deg, as a half-width."),
    ] = None,
    tips: Annotated[
        str | None, typer.Option("--tips", metavar="LENGTH", help="How much of a tip may be missing (0mm if none).")
    ] = None,
    *,
    caliper: CaliperOptions,
    fence: FenceOptions,
    spread: SpreadOptions,
    leaves: LeafOptions,
) -> None:
    """Write a wall card for a miter fence: by how much the legs differ, to the leaf and the foot.

    cutvision card miter --fence-length 380mm --piece-width 102mm --leaf-set metric-13 --out card.pdf
    """
    from cutvision.correction.lookup import check_can_be_held, miter_lookup
    from cutvision.reports.figure import format_of
    from cutvision.reports.wall_card import CardFacts, miter_card
    from cutvision.units import parse_angle, parse_length

    format_of(out)
    care = caliper.care(tips, corner_to, spread.count())
    nominal_rad = parse_angle(nominal, "--nominal")
    jig = fence.jig(fence_length, kept, care, spread.asked(wood_read=True), nominal_rad)
    choice = leaves.choice()
    width_mm = parse_length(piece_width, "--piece-width")
    check_can_be_held(width_mm)
    lookup = miter_lookup(jig, care, width_mm, nominal_rad, choice)
    _write(miter_card(paper, lookup, CardFacts(_today(), choice)), out)


@card_app.command("square")
@with_groups
def card_square(
    out: Out,
    fence_length: Lever,
    between: Annotated[
        str,
        typer.Option("--between", metavar="LENGTH", help="Along the piece from one reading to the other."),
    ],
    piece_width: Annotated[
        str | None,
        typer.Option(
            "--piece-width", metavar="LENGTH", help="The strip's width; only the caliper's limit rests on it."
        ),
    ] = None,
    paper: Paper = "a4",
    kept: Kept = None,
    *,
    caliper: CaliperOptions,
    fence: FenceOptions,
    spread: SpreadOptions,
    leaves: LeafOptions,
) -> None:
    """Write a wall card for a square fence: by how much the widths differ, to the leaf and the way.

    cutvision card square --fence-length 560mm --between 380mm --kept left --out card.pdf
    """
    from cutvision.correction.lookup import STRIP_WIDTH_MM, square_lookup
    from cutvision.correction.square import BOARD_TURNS, STRIP_TURNS
    from cutvision.reports.figure import format_of
    from cutvision.reports.wall_card import CardFacts, square_card
    from cutvision.units import parse_length

    format_of(out)
    care = caliper.care(pieces=spread.count())
    jig = fence.jig(fence_length, kept, care, spread.asked(wood_read=True))
    choice = leaves.choice()
    width_mm = length(piece_width, "--piece-width") or STRIP_WIDTH_MM
    strip, board = (
        square_lookup(jig, care, parse_length(between, "--between"), turns, choice, width_mm)
        for turns in (STRIP_TURNS, BOARD_TURNS)
    )
    _write(square_card(paper, strip, board, CardFacts(_today(), choice)), out)


def _today() -> str:
    return dt.datetime.now().astimezone().date().isoformat()


def _write(sheet: PrintedSheet, out: Path) -> None:
    from cutvision.reports.figure import format_of

    write_output(out, sheet.bytes(format_of(out)), "printed sheet")
    answer(wrap(f"Wrote {out}: one side, to print at 100 % or fitted to the page, as nothing is measured on it."))
    answer("\n" + bullets("Cautions", cautions("measure", "adjust", "cut")))
