"""`--drawing`: the saw table from above, with the move, as a file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cutvision.cli.output import tell
from cutvision.errors import InputError
from cutvision.files import write_output

if TYPE_CHECKING:
    from cutvision.correction import Correction


@dataclass(frozen=True, slots=True)
class DrawingOptions:
    """Where the drawing of the move goes."""

    drawing: Annotated[
        Path | None,
        typer.Option(
            "--drawing",
            metavar="FILE",
            help="Draw the saw table from above, with the move, as .svg, .png or .pdf.",
        ),
    ] = None

    def check(self) -> None:
        """Raise InputError, before anything is worked out, for a file that no drawing can be written to."""
        if self.drawing is None:
            return
        from cutvision.reports.figure import format_of

        format_of(self.drawing)
        if not self.drawing.parent.is_dir():
            raise InputError(
                f"--drawing {self.drawing}: there is no folder {self.drawing.parent}.", "Name a folder that exists."
            )

    def write(self, correction: Correction) -> None:
        """Draw the move, or say why there is none to draw. Raises InputError when the file cannot be written."""
        if self.drawing is None:
            return
        from cutvision.reports.figure import figure_bytes, format_of
        from cutvision.reports.saw_drawing import saw_drawing

        figure = saw_drawing(correction)
        if figure is None:
            tell(f"Nothing drawn: there is no move to make, so {self.drawing} was not written.")
            return
        write_output(self.drawing, figure_bytes(figure, format_of(self.drawing)), "drawing")
        tell(f"Wrote {self.drawing}.")
