"""`cutvision plan`: before cutting, what to cut, and what stands between it and a tight joint."""

from __future__ import annotations

import typer

from cutvision.cli.commands import Said, add
from cutvision.cli.keeping import WithJig
from cutvision.cli.output import answer, answer_json
from cutvision.cli.shown import Shown
from cutvision.jobs.plan import PlanSaid, run_plan


def plan(asked: PlanSaid, _said: Said, shown: Shown, _jig: WithJig) -> None:
    """Plan and print."""
    from cutvision.reports.plan_json import plan_as_json
    from cutvision.reports.says_plan import advice_lines, plan_report
    from cutvision.reports.terminal import to_terminal

    found = run_plan(asked)
    if shown.as_json:
        advice = advice_lines(found.plan, found.steps, found.chain)
        answer_json(plan_as_json(found.plan, found.steps, found.chain, advice))
    else:
        report = plan_report(found.plan, found.steps, found.chain, joint_said=found.joint_said)
        answer(to_terminal(report, shown.detail))


def register(app: typer.Typer) -> None:
    """Add the command."""
    from cutvision.reports.cautions import cautions

    epilog = " ".join(cautions("measure", "adjust", "cut"))
    add(app, "plan", PlanSaid, plan, beside=(Shown, WithJig), epilog=epilog)
