"""`cutvision correct steps` and `correct instruments`: a run of cuts and moves, and what is assumed of instruments."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from cutvision.cli.commands import Said, add
from cutvision.cli.keeping import WithJig
from cutvision.cli.output import answer, answer_json
from cutvision.cli.shown import FILES, Shown, check_drawing, write_drawing
from cutvision.jobs.said import FILE, Say
from cutvision.jobs.steps import Steps, run_steps


@dataclass(frozen=True, kw_only=True)
class Charted:
    """Where the run's chart goes."""

    chart: Annotated[Path | None, Say("Draw the run, as .svg, .png or .pdf.", FILE, FILES, main=True)] = None


def steps(asked: Steps, _said: Said, shown: Shown, charted: Charted, _jig: WithJig) -> None:
    """Judge the run, draw and print."""
    from cutvision.reports.objects import adjustments_object
    from cutvision.reports.says_steps import steps_report
    from cutvision.reports.terminal import to_terminal

    check_drawing(charted.chart, "--chart")
    found = run_steps(asked)
    if charted.chart is not None:
        from cutvision.reports.adjustments_chart import adjustments_chart

        inputs = () if asked.file is None else (asked.file,)
        write_drawing(charted.chart, adjustments_chart(found), force=shown.force, inputs=inputs)
    if shown.as_json:
        answer_json(adjustments_object(found))
    else:
        answer(to_terminal(steps_report(found), shown.detail))


def instruments(
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")] = False,
) -> None:
    """List the instruments that --instrument names: steps, limits of error, repeatability, and their sources."""
    from cutvision.correction import INSTRUMENTS
    from cutvision.reports.instrument_text import instruments_as_json, instruments_text

    records = tuple(INSTRUMENTS.values())
    if as_json:
        answer_json(instruments_as_json(records))
    else:
        answer(instruments_text(records).rstrip())


def register(app: typer.Typer) -> None:
    """Add both to the group `correct`."""
    from cutvision.reports.cautions import cautions

    epilog = " ".join(cautions("measure", "adjust", "cut"))
    add(app, "steps", Steps, steps, beside=(Shown, Charted, WithJig), epilog=epilog)
    app.command("instruments")(instruments)
