"""`cutvision demo`: the whole job on two photos that come with the program, each step told in a line."""

from __future__ import annotations

from importlib import resources
from pathlib import Path
from typing import Annotated

import typer

from cutvision.cli.commands import Said
from cutvision.cli.keeping import Keeping
from cutvision.cli.measure import measure
from cutvision.cli.output import answer
from cutvision.cli.shown import Drawn, Pictured, Shown
from cutvision.jobs.measure import Measure
from cutvision.jobs.said import request
from cutvision.reports.columns import wrap

SAMPLES = ("miter-1.jpg", "miter-2-turned.jpg")
THICKNESS, FENCE_LENGTH = "19mm", "380mm"

STEPS = (
    "Print the sheet at 100 %: cutvision target make --paper a4 --out sheet.pdf",
    "Cut a test piece, and pencil L and R on its legs before you lift it (mind the cautions at the end).",
    "Away from the saw, lay it in the sheet's window; take a photo from above, turn it a quarter turn, take another.",
    "The program finds the sheet by its markers, and scale, perspective and lens from the corners of its squares.",
    "It fits a straight line to each edge of the piece, to a fraction of a pixel, and turns the lines into angles.",
    "The turned photo cancels what the printer stretched; every doubt that is left goes into the bound.",
    "From the angle at the fence and the distance from pivot to leaf comes how far the fence moves, and which way.",
)


def demo(
    picture: Annotated[
        Path | None,
        typer.Option(
            "--picture", metavar="FILE", help="Write the annotated photos too (FILE-1, FILE-2; .jpg or .png)."
        ),
    ] = None,
) -> None:
    """Do the whole job on two rendered sample photos and explain each step."""
    folder = Path(str(resources.files("cutvision"))) / "samples"
    for number, step in enumerate(STEPS, start=1):
        answer(wrap(step, f"{number}. ", "   "))
    shown = " ".join(SAMPLES)
    answer("\nThe last four steps now run on two photos of a piece (rendered, not taken), in")
    answer(f"{folder}:")
    options = f"--shape miter --thickness {THICKNESS} --fence-length {FENCE_LENGTH} --kept left"
    answer(f"\n  cutvision measure {shown} \\\n    {options}\n")
    asked = request(
        Measure,
        {
            "photos": tuple(folder / name for name in SAMPLES),
            "shape": "miter",
            "thickness": THICKNESS,
            "fence_length": FENCE_LENGTH,
            "kept": "left",
        },
    )
    measure(asked, Said((), {}, {}), Shown(), Pictured(picture=picture), Drawn(), Keeping())


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("demo")(demo)
