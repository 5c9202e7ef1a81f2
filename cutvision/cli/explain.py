"""`cutvision explain`: the calculation of a `correct` command, line by line."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable

import typer

from cutvision.cli import correct
from cutvision.cli.correct_arms import arms
from cutvision.cli.correct_by_gap import direct, facing, frame
from cutvision.cli.option_groups import with_groups

app = typer.Typer(
    help="The calculation behind a `correct` command with your own numbers, line by line, to follow with a pencil and "
    "a pocket calculator, and where the shop's rule departs from it.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


def _explaining(command: Callable[..., None]) -> Callable[..., None]:
    """The same command with its options, but for --explain, which is taken as given."""

    @functools.wraps(command)
    def run(**options: object) -> None:
        command(**options, explain=True)

    signature = inspect.signature(command)
    kept = [parameter for name, parameter in signature.parameters.items() if name != "explain"]
    run.__signature__ = signature.replace(parameters=kept)  # type: ignore[attr-defined]
    run.__annotations__ = {parameter.name: parameter.annotation for parameter in kept}
    run.__doc__ = (command.__doc__ or "").replace("cutvision correct ", "cutvision explain ")
    del run.__wrapped__
    return run


WRITTEN_OUT = (correct.miter, correct.square, *(with_groups(one) for one in (direct, facing, frame, arms)))
for explained in WRITTEN_OUT:
    app.command()(_explaining(explained))
