"""`cutvision joint`: what an error of the cut means in the joints of a frame."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from cutvision.cli.commands import Said, add
from cutvision.cli.output import answer, answer_json
from cutvision.cli.shown import FILES, Shown, check_drawing, write_drawing
from cutvision.jobs.joint import JointAsked, run_joint
from cutvision.jobs.said import FILE, Say


@dataclass(frozen=True, kw_only=True)
class DrawnFrame:
    """Where the frame's drawing goes."""

    drawing: Annotated[
        Path | None, Say("Draw the frame with its gaps enlarged, as .svg, .png or .pdf.", FILE, FILES, main=True)
    ] = None


def joint(asked: JointAsked, _said: Said, shown: Shown, drawn: DrawnFrame) -> None:
    """Work out, draw and print."""
    from cutvision.reports.joint_drawing import joint_drawing
    from cutvision.reports.objects import joint_object
    from cutvision.reports.says_joint import joint_report
    from cutvision.reports.terminal import to_terminal

    check_drawing(drawn.drawing, "--drawing")
    preview = run_joint(asked)
    if drawn.drawing is not None:
        write_drawing(drawn.drawing, joint_drawing(preview), force=shown.force)
    if shown.as_json:
        answer_json(joint_object(preview))
    else:
        answer(to_terminal(joint_report(preview), shown.detail))


def register(app: typer.Typer) -> None:
    """Add the command."""
    from cutvision.reports.cautions import cautions

    add(app, "joint", JointAsked, joint, beside=(Shown, DrawnFrame), epilog=" ".join(cautions("cut")))
