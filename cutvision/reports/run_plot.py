"""A run of cuts in plain characters: each cut on a line with its uncertainty, the true fence in the middle."""

from __future__ import annotations

import math

from cutvision.correction.adjustments import Adjustments, Cut

_WIDE = 57


def run_plot(run: Adjustments) -> tuple[str, ...]:
    """Lines of at most 80 signs."""
    cuts = [step.error for step in run.steps if isinstance(step, Cut)]
    limit = run.decision.tolerance_rad
    reach = max(limit * 1.2, *(abs(error.value) + error.expanded_uncertainty for error in cuts))
    middle = _WIDE // 2

    def column(value: float) -> int:
        return middle + round(value / reach * middle)

    lines = [f"{'':9}{'clockwise':<{middle}}|{'counterclockwise':>{middle}}"]
    for number, error in enumerate(cuts, 1):
        marks = [" "] * _WIDE
        marks[middle], marks[column(-limit)], marks[column(limit)] = "|", "(", ")"
        low, high = column(error.value - error.expanded_uncertainty), column(error.value + error.expanded_uncertainty)
        marks[low : high + 1] = ["-"] * (high + 1 - low)
        marks[column(error.value)] = "o"
        lines.append(f"  cut {number:<3}{''.join(marks)}".rstrip())
    wide = f"{math.degrees(reach):.2g} deg"
    lines.append(f"{'':9}o error, --- its uncertainty, | true, ( ) the tolerance; {wide} to each side")
    return tuple(lines)
