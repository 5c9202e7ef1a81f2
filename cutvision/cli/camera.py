"""`cutvision camera`: a file that tells later measurements what this camera's lens does."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cutvision.cli.force import Force
from cutvision.cli.output import Progress, answer, refusals_told
from cutvision.files import check_output

app = typer.Typer(
    help="Calibrate a camera from shots of the bare sheet.",
    no_args_is_help=True,
    rich_markup_mode=None,
    add_completion=False,
)


@app.callback()
def camera() -> None:
    """Calibrate a camera from shots of the bare sheet."""


@app.command(short_help="Make a camera file for `measure --camera`.")
def calibrate(
    photos: Annotated[
        list[Path],
        typer.Argument(
            metavar="PHOTO...",
            help="Shots of the bare sheet by one camera at one zoom, from different sides: 6 to 10, at least 3.",
        ),
    ],
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="The camera file to write.")],
    progress: Annotated[
        bool, typer.Option("--progress", help="Say what is being done even without a terminal.")
    ] = False,
    force: Force = False,
) -> None:
    """Make a camera file, for `measure --camera`, from several shots of the bare sheet."""
    from cutvision.imaging.camera_file import calibrate as fit
    from cutvision.imaging.camera_file import verdict, write_camera_file
    from cutvision.jobs.photos import read_photos

    check_output(out, "camera", inputs=photos, force=force)
    report = Progress(True if progress else None)
    with refusals_told(as_json=False):
        made = fit(read_photos(photos, report), report)
    write_camera_file(out, made, force=force)
    answer(f"Wrote {out}.")
    answer(verdict(made))
