"""`cutvision how`, and `--how` beside a correction: where, and against what, to hold the caliper or the leaf."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from cutvision.cli.output import answer, tell
from cutvision.errors import InputError
from cutvision.files import write_output

if TYPE_CHECKING:
    from cutvision.correction.result import Method

MethodName = Literal["miter", "square", "arms", "assembly", "direct", "facing", "frame"]
DrawingFile = Annotated[
    Path | None,
    typer.Option("--drawing", metavar="FILE", help="Draw it, as .svg, .png or .pdf."),
]


def how(
    method: Annotated[MethodName, typer.Argument(help="The `correct` command whose readings are to be taken.")],
    drawing: DrawingFile = None,
) -> None:
    """Tell where, and against what, to hold the caliper, the leaf or the square for the readings of `correct`.

    cutvision how miter
    """
    from cutvision.reports.cautions import cautions
    from cutvision.reports.columns import bullets
    from cutvision.reports.reading_help import how_to_read

    check_drawing(drawing, "--drawing")
    blocks = [
        bullets(f"How to read for `correct {method}`", how_to_read(method)),
        bullets("Cautions", cautions("measure", "cut")),
    ]
    answer("\n\n".join(blocks))
    draw(drawing, method)


def reading_epilog(method: str) -> str:
    """What stands below a `correct` command's options: how to read, and the cautions that go with it."""
    from cutvision.reports.cautions import cautions
    from cutvision.reports.reading_help import how_to_read

    return " ".join(("How to read:", *how_to_read(method), *cautions("measure", "cut")))


def check_drawing(file: Path | None, option: str) -> None:
    """Raise InputError, before anything is worked out, for a file that no drawing can be written to."""
    if file is None:
        return
    from cutvision.reports.figure import format_of

    format_of(file)
    if not file.parent.is_dir():
        raise InputError(f"{option} {file}: there is no folder {file.parent}.", "Name a folder that exists.")


def draw(file: Path | None, method: Method) -> None:
    """Write the drawing of a method when a file was named. Raises InputError when it cannot be written."""
    if file is None:
        return
    from cutvision.reports.figure import figure_bytes, format_of
    from cutvision.reports.reading_drawing import reading_drawing

    write_output(file, figure_bytes(reading_drawing(method), format_of(file)), "drawing")
    tell(f"Wrote {file}.")
