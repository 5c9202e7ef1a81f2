"""`cutvision target`: the reference sheet to print, and what the printer did to it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cutvision.cli.commands import Said, add
from cutvision.cli.force import Force
from cutvision.cli.jigs import names_a_file, read_text
from cutvision.cli.keeping import LOGBOOK
from cutvision.cli.output import answer, answer_json, tell
from cutvision.cli.shown import Shown
from cutvision.files import write_output
from cutvision.jobs.said import NAME, Say
from cutvision.jobs.target_check import TargetCheck, kept_in_jig, run_target_check
from cutvision.reports.columns import wrap

if TYPE_CHECKING:
    from collections.abc import Mapping

app = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    add_completion=False,
    help="The reference sheet: make it, and check what the printer did to it.",
)


@app.callback()
def _group() -> None:
    """The reference sheet: make it, and check what the printer did to it."""


@app.command()
def make(
    paper: Annotated[str, typer.Option(help="Paper: a4, letter, a3 or tabloid.")],
    out: Annotated[Path, typer.Option(help="File to write; it ends in .pdf (best for printing), .svg or .png.")],
    dpi: Annotated[float, typer.Option(help="Pixels per inch of a .png.")] = 300.0,
    force: Force = False,
) -> None:
    """Write the reference sheet for a paper as PDF, SVG or PNG."""
    from cutvision.target.files import sheet_of_paper, write_sheet
    from cutvision.target.margins import printing_advice, sheet_id

    sheet = sheet_of_paper(paper)
    write_sheet(sheet, out, dpi, force=force)
    typer.echo(f"Wrote {out}: sheet {sheet_id(sheet)}.")
    typer.echo(printing_advice(sheet))


@dataclass(frozen=True, kw_only=True)
class KeptIn:
    """The jig that keeps the readings; it fills nothing here."""

    keeper: Annotated[
        str | None,
        Say("The jig, in the logbook or a file, that keeps what was read.", NAME, option="jig", main=True),
    ] = None
    logbook: Annotated[Path | None, LOGBOOK] = None


def check(asked: TargetCheck, _said: Said, shown: Shown, kept_in: KeptIn) -> None:
    """Work out what the printer did, keep what was read, and print."""
    from cutvision.logbook.recording import day_of
    from cutvision.reports.says_print import print_object, print_report
    from cutvision.reports.terminal import to_terminal

    found = run_target_check(asked)
    if kept_in.keeper is not None:
        read = kept_in_jig(asked, found, day_of(asked.read_on, "--read-on").isoformat())
        _keep(kept_in.keeper, kept_in.logbook, read)
    if shown.as_json:
        answer_json(print_object(found))
    else:
        answer(to_terminal(print_report(found, kept_in.keeper or ""), shown.detail))


def _keep(keeper: str, logbook: Path | None, read: Mapping[str, str]) -> None:
    """Put what was read into the jig. Raises InputError when there is none, and when it cannot be written."""
    from cutvision.correction.jig_file import with_print_read

    if names_a_file(keeper):
        file = Path(keeper)
        changed = with_print_read(read_text(file), read, keeper)
        write_output(file, changed.encode(), "jig", force=True)  # it was read as a jig, and is to be changed
        tell(f"Wrote {file}.")
        return
    from cutvision.logbook.book import open_book
    from cutvision.logbook.place import place_of_book

    with open_book(place_of_book(logbook)) as book:
        jig = book.jig(keeper)
        changed = with_print_read(jig.text, read, keeper)
        version = len(book.change_jig(keeper, changed, datetime.now(UTC), jig.squared_by).versions)
    tell(wrap(f"'{jig.name}' holds the readings, as its version {version}; the earlier ones stay."))


add(app, "check", TargetCheck, check, beside=(Shown, KeptIn))
