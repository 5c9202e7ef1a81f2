"""`cutvision compare`: caliper readings against photos of the same piece."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

import typer

from cutvision.cli.commands import Said, add
from cutvision.cli.keeping import WithJig
from cutvision.cli.output import Progress, answer, answer_json, refusals_told
from cutvision.cli.shown import SHOWN, Shown
from cutvision.jobs.compare import Compare, run_compare
from cutvision.jobs.said import Say


@dataclass(frozen=True, kw_only=True)
class WithProgress:
    """Whether the steps of reading photos are named."""

    progress: Annotated[bool, Say("Say what is being done even without a terminal.", group=SHOWN)] = False

    def speaker(self) -> Progress:
        """Who names them."""
        return Progress(True if self.progress else None)


def compare(asked: Compare, _said: Said, shown: Shown, _jig: WithJig, progress: WithProgress) -> None:
    """Compare and print."""
    from cutvision.reports.objects import comparison_object
    from cutvision.reports.says_comparison import comparison_report
    from cutvision.reports.terminal import to_terminal

    with refusals_told(as_json=shown.as_json):
        found = run_compare(asked, progress.speaker())
    if shown.as_json:
        answer_json(comparison_object(found.comparison, found.correction, found.shims))
    else:
        report = comparison_report(found.comparison, found.correction, shims=found.shims)
        answer(to_terminal(report, shown.detail))


def register(app: typer.Typer) -> None:
    """Add the command."""
    from cutvision.reports.cautions import cautions

    epilog = " ".join(cautions("photo", "measure"))
    add(app, "compare", Compare, compare, beside=(Shown, WithJig, WithProgress), epilog=epilog)
