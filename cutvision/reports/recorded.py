"""What a run of the logbook says: its stored result, read back and reported like one that was just computed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from cutvision.errors import InputError, PhotoRefused
from cutvision.logbook.records import Run
from cutvision.reports.cautions import brief_caution, cautions
from cutvision.reports.encode import recorded_correction
from cutvision.reports.model import Report
from cutvision.reports.says_correction import correction_report
from cutvision.reports.says_refusal import refusal_report


def recorded_report(run: Run) -> Report:
    """The answer that the run gave, from its stored plan; what cannot be read is said, and nothing is made up."""
    refusals = run.result.get("refusals")
    if refusals is not None:
        return refusal_report([_refused(one) for one in refusals])
    correction = run.correction
    if correction is None:
        return Report(
            ("Measured; nothing was asked about the fence.",),
            cautions=cautions("photo"),
            brief_cautions=brief_caution("photo"),
        )
    try:
        report = correction_report(recorded_correction(correction))
    except (InputError, KeyError, TypeError, ValueError):
        return Report(
            ("This run's correction cannot be read by this version of the program.",),
            cautions=cautions("measure", "cut"),
            brief_cautions=brief_caution("measure"),
        )
    return replace(report, headline=(*report.headline, *_shims(correction)))


def _refused(told: Mapping[str, Any]) -> PhotoRefused:
    try:
        return PhotoRefused(told["reason"], told["message"], told["remedy"], told["file"])
    except KeyError:  # a reason of another version
        return PhotoRefused("unreadable", str(told.get("message", "")), str(told.get("remedy", "")), "")


def _shims(correction: Mapping[str, Any]) -> tuple[str, ...]:
    """The best stack that was found for the move, by either version's key."""
    stack = correction.get("shims") or correction.get("leaf_stack") or {}
    best = stack.get("best") or {}
    marks = best.get("shims") or best.get("leaves") or []
    return (f"Shims: {' + '.join(map(str, marks))}.",) if marks else ()
