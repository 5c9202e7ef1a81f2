"""What a check cut says beside its own answer: how the fence moved of what was set."""

from __future__ import annotations

from dataclasses import replace

from cutvision.correction.adjustments import Adjustments
from cutvision.reports.model import Report
from cutvision.reports.says_steps import history_sentences, steps_headline


def checked_report(report: Report, found: Adjustments | None) -> Report:
    """The answer with how the fence moved; where a move went the wrong way, that one is taken back first."""
    if found is None:
        return report
    report = replace(report, sure=(*report.sure, *history_sentences(found)))
    if found.next_move is not None and found.next_move.undo:
        return replace(report, headline=steps_headline(found), drawing=None)
    return report
