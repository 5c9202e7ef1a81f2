"""`cutvision print`: one side of paper each, so that the shop needs no computer that day."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from cutvision.cli.commands import Said, add
from cutvision.cli.force import FORCE_HELP, Force
from cutvision.cli.keeping import WithJig
from cutvision.cli.output import answer
from cutvision.files import write_output
from cutvision.jobs.card import CardResult, MiterCard, SquareCard, run_miter_card, run_square_card
from cutvision.jobs.said import FILE, Say
from cutvision.reports.cautions import cautions
from cutvision.reports.columns import bullets, wrap

if TYPE_CHECKING:
    from cutvision.reports.printed_sheet import PrintedSheet
    from cutvision.reports.wall_card import CardFacts

app = typer.Typer(
    help="Pages for the wall and the bench: a card, a worksheet, a V fence's check list.",
    no_args_is_help=True,
    rich_markup_mode=None,
    add_completion=False,
)
card = typer.Typer(
    help="A card for the wall: for your fence and test piece, from the difference read to the move.",
    no_args_is_help=True,
    rich_markup_mode=None,
    add_completion=False,
)
worksheet = typer.Typer(
    help="A worksheet: blanks for the readings, the arithmetic in order, which way to move.",
    no_args_is_help=True,
    rich_markup_mode=None,
    add_completion=False,
)
app.add_typer(card, name="card")
app.add_typer(worksheet, name="worksheet")

_CAUTIONS = " ".join(cautions("measure", "adjust", "cut"))
PaperName = Literal["a4", "letter"]
OUT_HELP = "The file to write; it ends in .pdf (best for printing), .svg or .png."
Out = Annotated[Path, typer.Option("--out", metavar="FILE", help=OUT_HELP)]
Paper = Annotated[PaperName, typer.Option("--paper", help="The paper, upright.")]


@dataclass(frozen=True, kw_only=True)
class Printed:
    """Where the page goes, and its paper."""

    out: Annotated[Path, Say(OUT_HELP, FILE, main=True)]
    paper: Annotated[PaperName, Say("The paper, upright.", main=True)] = "a4"
    force: Annotated[bool, Say(FORCE_HELP)] = False


@worksheet.command("miter", epilog=_CAUTIONS)
def worksheet_miter(out: Out, paper: Paper = "a4", force: Force = False) -> None:
    """Write a worksheet for a 45 deg miter fence, from the two legs of a test piece.

    cutvision print worksheet miter --out miter.pdf --paper letter
    """
    from cutvision.reports.worksheet import miter_worksheet

    _check(out)
    _write(miter_worksheet(paper), out, force=force)


@worksheet.command("square", epilog=_CAUTIONS)
def worksheet_square(out: Out, paper: Paper = "a4", force: Force = False) -> None:
    """Write a worksheet for a square fence, from the widths of a strip, or of the board, after turned cuts.

    cutvision print worksheet square --out square.pdf
    """
    from cutvision.reports.worksheet import square_worksheet

    _check(out)
    _write(square_worksheet(paper), out, force=force)


@app.command("check-list", epilog=_CAUTIONS)
def check_list(out: Out, force: Force = False) -> None:
    """Write a page to check a V fence by, before any test cut.

    cutvision print check-list --out v-fence.pdf
    """
    from cutvision.reports.figure import figure_bytes, format_of
    from cutvision.reports.v_check_list import v_check_list

    write_output(out, figure_bytes(v_check_list(), format_of(out)), "printed sheet", force=force)
    _say(out)


def miter_card(asked: MiterCard, _said: Said, printed: Printed, _jig: WithJig) -> None:
    """Work the rows out and write the card."""
    from cutvision.reports.wall_card import miter_card as drawn

    _check(printed.out)
    found = run_miter_card(asked)
    _write(drawn(printed.paper, found.rows, _facts(found)), printed.out, force=printed.force)


def square_card(asked: SquareCard, _said: Said, printed: Printed, _jig: WithJig) -> None:
    """Work the rows out and write the card."""
    from cutvision.reports.wall_card import square_card as drawn

    _check(printed.out)
    found = run_square_card(asked)
    board = found.rows if found.board is None else found.board
    _write(drawn(printed.paper, found.rows, board, _facts(found)), printed.out, force=printed.force)


def _facts(found: CardResult) -> CardFacts:
    from cutvision.reports.wall_card import CardFacts

    return CardFacts(dt.datetime.now().astimezone().date().isoformat(), found.shims)


def _check(out: Path) -> None:
    from cutvision.reports.figure import format_of

    format_of(out)


def _write(sheet: PrintedSheet, out: Path, *, force: bool) -> None:
    from cutvision.reports.figure import format_of

    write_output(out, sheet.bytes(format_of(out)), "printed sheet", force=force)
    _say(out)


def _say(out: Path) -> None:
    answer(wrap(f"Wrote {out}: one side, to print at 100 % or fitted to the page, as nothing is measured on it."))
    answer("\n" + bullets("Cautions", cautions("measure", "adjust", "cut")))


add(card, "miter", MiterCard, miter_card, beside=(Printed, WithJig), epilog=_CAUTIONS, cuts="miter")
add(card, "square", SquareCard, square_card, beside=(Printed, WithJig), epilog=_CAUTIONS, cuts="square")
