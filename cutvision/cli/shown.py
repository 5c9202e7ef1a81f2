"""What shapes an answer and is no part of what is asked: how much is shown, and the files that are drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from cutvision.cli.force import FORCE_HELP
from cutvision.cli.output import tell
from cutvision.errors import InputError
from cutvision.files import write_output
from cutvision.jobs.said import FILE, Say

SHOWN, FILES = "What is shown", "Files that are written"


@dataclass(frozen=True, kw_only=True)
class Shown:
    """How much of an answer is printed, and for whom."""

    more: Annotated[
        bool, Say("Show everything: figures, budget, assumptions, notes, every caution.", group=SHOWN, main=True)
    ] = False
    quiet: Annotated[bool, Say("Show the answer and its cautions alone.", group=SHOWN)] = False
    as_json: Annotated[bool, Say("Print one JSON object instead of text.", group=SHOWN, option="json")] = False
    force: Annotated[bool, Say(FORCE_HELP, group=FILES)] = False

    @property
    def detail(self) -> Literal["quiet", "default", "more"]:
        """How much is shown: "quiet", "default" or "more". Raises InputError for both at once."""
        if self.more and self.quiet:
            raise InputError("--more and --quiet ask for opposite things.", "Give one of them.")
        return "more" if self.more else "quiet" if self.quiet else "default"


@dataclass(frozen=True, kw_only=True)
class ShownReadings(Shown):
    """Beside a way of reading: how to hold the instrument, and the calculation."""

    how: Annotated[
        bool, Say("Show where, and against what, to hold the instrument, and nothing else.", group=SHOWN)
    ] = False
    explain: Annotated[bool, Say("Show the calculation line by line, to follow with a pencil.", group=SHOWN)] = False
    how_drawing: Annotated[Path | None, Say("Draw how to read, as .svg, .png or .pdf.", FILE, FILES)] = None


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """Where the drawing of the move goes."""

    drawing: Annotated[
        Path | None,
        Say("Draw the saw table from above, with the move, as .svg, .png or .pdf.", FILE, FILES),
    ] = None


@dataclass(frozen=True, kw_only=True)
class Pictured:
    """Where the annotated photos go."""

    picture: Annotated[
        Path | None,
        Say("Write the annotated photo (.jpg or .png); of several, FILE-1, FILE-2 ...", FILE, FILES, main=True),
    ] = None
    progress: Annotated[bool, Say("Say what is being done even without a terminal.", group=SHOWN)] = False


def check_drawing(file: Path | None, option: str) -> None:
    """Raise InputError, before anything is worked out, for a file that no drawing can be written to."""
    if file is None:
        return
    from cutvision.reports.figure import format_of

    format_of(file)
    if not file.parent.is_dir():
        raise InputError(f"{option} {file}: there is no folder {file.parent}.", "Name a folder that exists.")


def write_drawing(file: Path | None, figure: object, *, force: bool = False, inputs: Sequence[Path] = ()) -> None:
    """Write a figure where a file was named; None for a figure says why there is none to draw.

    Raises InputError when the file is one of the inputs, or is there and is not the program's own.
    """
    if file is None:
        return
    if figure is None:
        tell(f"Nothing drawn: there is no move to make, so {file} was not written.")
        return
    from cutvision.reports.figure import figure_bytes, format_of

    data = figure_bytes(figure, format_of(file))  # type: ignore[arg-type]
    write_output(file, data, "drawing", inputs=inputs, force=force)
    tell(f"Wrote {file}.")
