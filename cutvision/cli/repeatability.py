"""`cutvision repeatability`: three or more pieces cut at one setting to how well the cut repeats."""

from __future__ import annotations

import typer

from cutvision.cli.commands import Said, add
from cutvision.cli.compare import WithProgress
from cutvision.cli.keeping import WithJig
from cutvision.cli.output import answer, answer_json, refusals_told
from cutvision.cli.shown import Shown
from cutvision.jobs.repeatability import Repeatability, run_repeatability


def repeatability(asked: Repeatability, _said: Said, shown: Shown, _jig: WithJig, progress: WithProgress) -> None:
    """Find it and print."""
    from cutvision.reports.says_repeatability import repeatability_object, repeatability_report
    from cutvision.reports.terminal import to_terminal

    with refusals_told(as_json=shown.as_json):
        study = run_repeatability(asked, progress.speaker())
    if shown.as_json:
        answer_json(repeatability_object(study))
    else:
        answer(to_terminal(repeatability_report(study), shown.detail))


def register(app: typer.Typer) -> None:
    """Add the command."""
    from cutvision.reports.cautions import cautions

    epilog = " ".join(cautions("photo", "cut"))
    add(app, "repeatability", Repeatability, repeatability, beside=(Shown, WithJig, WithProgress), epilog=epilog)
