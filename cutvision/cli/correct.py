"""`cutvision correct`: what was read on a test piece to the fence move, one command a way of reading."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any

import typer

from cutvision.cli import steps
from cutvision.cli.commands import Said, add
from cutvision.cli.keeping import Keeping, raise_unkept, tell_kept
from cutvision.cli.output import answer, answer_json, tell
from cutvision.cli.shown import Drawn, ShownReadings, check_drawing, write_drawing
from cutvision.errors import InputError

app = typer.Typer(
    help="From readings of a test piece to how far, and which way, the fence must be moved.",
    no_args_is_help=True,
    rich_markup_mode=None,
    add_completion=False,
)


def _handler(name: str) -> Any:
    def handle(asked: Any, said: Said, shown: ShownReadings, drawn: Drawn, keeping: Keeping) -> None:
        answer_of(name, asked, said, shown, drawn, keeping)

    return handle


def answer_of(name: str, asked: Any, said: Said, shown: ShownReadings, drawn: Drawn, keeping: Keeping) -> None:
    """Compute, draw, record and print one correction."""
    from cutvision.jobs.registry import CORRECT
    from cutvision.reports.encoded import encoded
    from cutvision.reports.reading_help import how_to_read
    from cutvision.reports.says_check import checked_report
    from cutvision.reports.says_correction import correction_report
    from cutvision.reports.says_kept import drawn_move, kept_words
    from cutvision.reports.terminal import to_terminal

    check_drawing(drawn.drawing, "--drawing")
    recorder = keeping.recorder(CORRECT[name].kind, said)
    found = CORRECT[name].run(asked)
    if shown.explain:
        _explain(found, shown, recorded=recorder is not None)
        return
    checked = None
    if recorder is not None:
        correction, checked = recorder.answered(found.correction)
        found = replace(found, correction=correction, shims=asked.stack(correction))
    correction = found.correction
    plain = encoded(found, checked)
    if drawn.drawing is not None:
        from cutvision.reports.saw_drawing import saw_drawing

        write_drawing(drawn.drawing, saw_drawing(correction), force=shown.force)
    recorded = None if recorder is None else recorder.keep(plain, drawn_move(correction))
    if shown.as_json:
        answer_json(plain)
        tell_kept(recorded)
    else:
        how = how_to_read(correction.method, correction.way)
        report = correction_report(correction, found.assumed, shims=found.shims, joints=found.joints, how=how)
        report = checked_report(report, checked)
        report = replace(report, kept=kept_words(recorded, checked=checked is not None))
        answer(to_terminal(report, shown.detail))
    raise_unkept(recorded)


def _how(name: Any) -> Any:
    def instead(shown: ShownReadings, *_others: object) -> bool:
        """Show how to read when that was asked for, before anything was read."""
        if not (shown.how or shown.how_drawing):
            return False
        if shown.how and shown.as_json:
            raise InputError("--how shows a text and --json asks for an object.", "Give one of them.")
        from cutvision.reports.cautions import cautions
        from cutvision.reports.columns import bullets

        check_drawing(shown.how_drawing, "--how-drawing")
        if shown.how_drawing is not None:
            from cutvision.reports.reading_drawing import reading_drawing

            write_drawing(shown.how_drawing, reading_drawing(name), force=shown.force)
        if shown.how:
            answer("\n\n".join([_how_text(name), bullets("Cautions", cautions("measure", "cut"))]))
        return True

    return instead


def _how_text(name: Any) -> str:
    from cutvision.reports.columns import bullets
    from cutvision.reports.reading_ascii import reading_ascii
    from cutvision.reports.reading_help import how_to_read

    blocks = (reading_ascii(name), bullets(f"How to read for `correct {name}`", how_to_read(name)))
    return "\n\n".join(block for block in blocks if block)


def _explain(found: Any, shown: ShownReadings, *, recorded: bool) -> None:
    from cutvision.correction.explanation import explain
    from cutvision.reports.explanation_text import explanation_as_json, explanation_text

    explanation = explain(found.correction, found.read)
    if shown.as_json:
        answer_json(explanation_as_json(explanation))
    else:
        answer(explanation_text(explanation).rstrip())
    if recorded:
        tell("Not recorded: a calculation is only shown. `correct` without --explain keeps the run.")


def _register() -> None:
    from cutvision.jobs.registry import CORRECT
    from cutvision.reports.cautions import cautions

    for name, job in CORRECT.items():
        epilog = " ".join(("Where to hold the instrument: --how.", *cautions("measure", "cut")))
        add(
            app,
            name,
            job.kind,
            _handler(name),
            beside=(ShownReadings, Drawn, Keeping),
            epilog=epilog,
            cuts=job.cuts,
            instead=_how(name),
            how=partial(_how_text, name),
        )
    steps.register(app)


_register()
