"""The command `cutvision`: its groups, and the one place where what went wrong becomes words and an exit status."""

from __future__ import annotations

import os
import sys
import traceback
from typing import Annotated

import typer

from cutvision import __version__
from cutvision.cli import (
    adjustments,
    camera,
    compare,
    correct,
    demo,
    explain,
    how,
    instruments,
    jig,
    joint,
    log,
    measure,
    plan,
    spread_command,
    target,
    worksheet,
)
from cutvision.cli.option_groups import with_groups
from cutvision.cli.output import tell, tell_problem, use_utf8
from cutvision.cli.said_twice import refuse_said_twice
from cutvision.errors import CutvisionError, opencv_missing
from cutvision.reports.cautions import cautions

DEBUG = "--debug"
UNEXPECTED_STATUS = 1

app = typer.Typer(
    help="How far a table-saw fence is off, and how to move it, from photos of an offcut or from caliper readings.",
    epilog="To begin: `cutvision demo` shows the whole job. Before any cut, `cutvision plan`. With a caliper, "
    "`cutvision how miter`, then `cutvision correct miter`. With a camera, `cutvision target make`, then "
    "`cutvision measure`.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.add_typer(target.app, name="target")
app.command("measure", epilog=" ".join(cautions("photo")))(with_groups(measure.measure))
app.add_typer(camera.app, name="camera")
app.add_typer(correct.app, name="correct", short_help="From caliper readings to the fence move.")
app.add_typer(jig.app, name="jig", short_help="A jig as a small file that fills every command's options.")
app.command(
    "compare",
    short_help="Caliper against photo on one piece: do they agree, and what do both say together.",
    epilog=" ".join(cautions("photo", "measure")),
)(with_groups(compare.compare))
app.command(
    "adjustments",
    short_help="A run of test cuts and moves: how the fence answers, the next move, when to stop.",
    epilog=" ".join(cautions("measure", "adjust", "cut")),
)(with_groups(adjustments.adjustments))
app.command(
    "spread",
    short_help="Three or more pieces cut at one setting: how much the cut itself spreads.",
    epilog=" ".join(cautions("photo", "cut")),
)(with_groups(spread_command.spread))
app.add_typer(explain.app, name="explain", short_help="The calculation behind `correct`, line by line.")
app.command("joint", short_help="What an error of the cut means in the joints of a frame.")(joint.joint)
app.command(
    "plan",
    short_help="Before cutting: which test piece shows the error, and what else opens the joint.",
    epilog=" ".join(cautions("measure", "adjust", "cut")),
)(with_groups(plan.plan))
app.command("how", short_help="Where to hold the caliper, the leaf or the square for each reading.")(how.how)
app.command("instruments", short_help="What is assumed of calipers, rules and leaves.")(instruments.instruments)
app.add_typer(log.app, name="log", short_help="The logbook: each jig's runs, moves and check cuts, kept for years.")
app.add_typer(worksheet.app, name="worksheet", short_help="A sheet to print: readings and arithmetic by pencil.")
app.add_typer(worksheet.card_app, name="card", short_help="A card for the wall: difference read, leaf, which way.")
app.command("demo", short_help="Run the whole job on two sample photos, explained.")(demo.demo)


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
