"""How a jig's fence has answered to the moves in the book: its runs as a run of test cuts and moves."""

from __future__ import annotations

import math
from collections.abc import Sequence

from cutvision.correction import ReadingCare, typed_distance
from cutvision.correction.adjustments import Adjustments, MoveSet, RunShown, judge_runs
from cutvision.errors import InputError
from cutvision.logbook.records import Run


def answers_of(runs: Sequence[Run]) -> Adjustments:
    """The moves that were set, each between the run before it and the run after it. runs: one jig's, oldest first.

    Runs struck out, without an error of the fence, or whose kept side was not said are passed over. Raises InputError
    when no move stands between them.
    """
    shown: list[RunShown] = []
    lever = None
    for run in runs:
        told = None if run.struck is not None or run.headline.error_deg is None else run.correction
        if told is None or told["positive_means"] != "counterclockwise":
            continue
        error, length_mm = told["angle_error"], told["fence_length"]["value"]
        if lever is None or lever.value != length_mm:
            lever = typed_distance(length_mm, "lever", ReadingCare())
        moves = [MoveSet(m.distance_mm, m.turn) for m in run.moves if m.distance_mm and m.turn is not None]
        shown.append(
            RunShown(
                math.radians(error["value"]),
                math.radians(error["expanded_uncertainty"]),
                lever,
                tuple(moves),
            )
        )
    if not any(run.moves for run in shown):
        raise InputError(
            "No move is in the logbook between runs that tell the fence's error.",
            "Say what was set after a run, cutvision log move RUN --set 0.5mm --turn clockwise, then a check cut.",
            at_the_saw=True,
        )
    tolerance_deg = next((run.headline.tolerance_deg for run in reversed(runs) if run.headline.tolerance_deg), None)
    return judge_runs(shown, None if tolerance_deg is None else math.radians(tolerance_deg))
