"""The command `cutvision`: its doors, and the one place where what went wrong becomes words and an exit status."""

from __future__ import annotations

import os
import sys
import traceback
from typing import Annotated

import typer

from cutvision.cli.lazy import Door, Doors
from cutvision.cli.output import tell, tell_problem, use_utf8
from cutvision.cli.said_twice import refuse_said_twice
from cutvision.errors import CutvisionError, opencv_missing
from cutvision.version import __version__

DEBUG = "--debug"
UNEXPECTED_STATUS = 1

_CUT, _READ, _DECIDE, _KEEP, _PRINT = "Before the cut", "Measure", "Decide", "Keep", "Print and learn"


class TopDoors(Doors):
    """What a person finds behind `cutvision`."""

    doors = (
        Door("plan", "cutvision.cli.plan", "Which test piece shows the error, and what else opens the joint.", _CUT),
        Door("joint", "cutvision.cli.joint", "What an error of the cut means in the joints of a frame.", _CUT),
        Door("target", "cutvision.cli.target", "The reference sheet: make it, and check what the printer did.", _CUT),
        Door("measure", "cutvision.cli.measure", "From photos of an offcut to its angles and the fence move.", _READ),
        Door("camera", "cutvision.cli.camera", "Calibrate a camera, for narrower uncertainties.", _READ),
        Door("correct", "cutvision.cli.correct", "From caliper or feeler-gauge readings to the fence move.", _DECIDE),
        Door("compare", "cutvision.cli.compare", "Caliper against photo: do they agree, what do both say.", _DECIDE),
        Door("repeatability", "cutvision.cli.repeatability", "How well the cut repeats from piece to piece.", _DECIDE),
        Door("jig", "cutvision.cli.jig", "A jig: what stays the same from one test piece to the next.", _KEEP),
        Door("log", "cutvision.cli.log", "The logbook: runs, moves, check cuts, trend, evidence.", _KEEP),
        Door("print", "cutvision.cli.printed", "Card, worksheet and check list, for the wall and the bench.", _PRINT),
        Door("demo", "cutvision.cli.demo", "The whole job on two sample photos, explained.", _PRINT),
    )


app = typer.Typer(
    cls=TopDoors,
    help="How far a table-saw fence is off, and how to move it, from photos of an offcut or from caliper readings.",
    epilog="To begin: `cutvision demo` shows the whole job. With a caliper, `cutvision correct miter`. With a camera, "
    "`cutvision target make`, then `cutvision measure`.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _print_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"cutvision {__version__}")
        raise typer.Exit


@app.callback()
def options(
    _version: Annotated[
        bool,
        typer.Option("--version", help="Print the version and stop.", callback=_print_version, is_eager=True),
    ] = False,
    _debug: Annotated[
        bool, typer.Option(DEBUG, help="Show the program's own trace when something goes wrong (anywhere in the line).")
    ] = False,
) -> None:
    """Take the options that stand before any command."""


# the matrices are small: threads that wait for each other cost more than they bring, much more beside another run
ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


def main() -> None:
    """Run the command line and leave with its exit status: 0 a result, 2 a wrong option or value, 3 a refused photo."""
    for name in ONE_THREAD:
        os.environ.setdefault(name, "1")
    use_utf8()
    arguments = [argument for argument in sys.argv[1:] if argument != DEBUG]
    debug = len(arguments) < len(sys.argv) - 1
    try:
        command = typer.main.get_command(app)
        refuse_said_twice(command, arguments)
        command(arguments, prog_name="cutvision")
    except Exception as error:  # noqa: BLE001  the last resort: a person gets a line, not a traceback
        if debug:
            traceback.print_exc()
        if isinstance(error, ImportError) and (error.name or "").startswith("cv2"):
            error = opencv_missing(error)
        if isinstance(error, CutvisionError):
            tell_problem(error)
            sys.exit(error.exit_status)
        tell(f"This is a fault in cutvision, not in what you did: {type(error).__name__}: {error}")
        tell(f"  What to do: run the same command again with {DEBUG} at its end and report what it prints.")
        sys.exit(UNEXPECTED_STATUS)
