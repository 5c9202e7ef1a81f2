"""`cutvision target`: the reference sheet to print."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

app = typer.Typer(
    no_args_is_help=True, rich_markup_mode=None, add_completion=False, help="The reference sheet to print."
)


@app.callback()
def _group() -> None:
    """The reference sheet to print."""


@app.command()
def make(
    paper: Annotated[str, typer.Option(help="Paper: a4, letter, a3 or tabloid.")],
    out: Annotated[Path, typer.Option(help="File to write; it ends in .pdf (best for printing), .svg or .png.")],
    dpi: Annotated[float, typer.Option(help="Pixels per inch of a .png.")] = 300.0,
) -> None:
    """Write the reference sheet for a paper as PDF, SVG or PNG."""
    from cutvision.target.files import sheet_of_paper, write_sheet
    from cutvision.target.margins import printing_advice, sheet_id

    sheet = sheet_of_paper(paper)
    write_sheet(sheet, out, dpi)
    typer.echo(f"Wrote {out}: sheet {sheet_id(sheet)}.")
    typer.echo(printing_advice(sheet))
