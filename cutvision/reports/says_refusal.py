"""What is said of photos that cannot be measured honestly."""

from __future__ import annotations

from collections.abc import Sequence

from cutvision.errors import PhotoRefused
from cutvision.reports.cautions import MEASURED, brief_caution, cautions
from cutvision.reports.columns import one_line
from cutvision.reports.model import Report


def refusal_report(refusals: Sequence[PhotoRefused], good: Sequence[str] = ()) -> Report:
    """What to do about each photo, and what was seen in it. good: the photos that can be measured without these."""
    lines = []
    for refused in refusals:
        name = one_line(refused.file) or "The photo"
        lines += [f"{name} is refused ({refused.reason}): {refused.message}", f"What to do: {refused.remedy}"]
    if good:
        lines.append(f"These can be measured without it: {', '.join(map(one_line, good))}.")
    return Report(headline=tuple(lines), cautions=cautions(*MEASURED), brief_cautions=brief_caution("photo"))
