"""How a jig's fence has moved of what was set: its runs as a run of test cuts and moves."""

from __future__ import annotations

import math
from collections.abc import Iterable

from cutvision.correction import Correction, ReadingCare, typed_distance
from cutvision.correction.adjustments import Adjustments, MoveSet, RunShown, judge_runs, shown_by_run
from cutvision.errors import InputError
from cutvision.logbook.records import Run


def answers_of(runs: Iterable[Run], now: Correction | None = None) -> Adjustments:
    """The moves that were set, each between the run before it and the run after it.

    runs: one jig's, oldest first. now: what a check cut shows that is not recorded yet. Runs struck out, without an
    error of the fence, or whose kept side was not said are passed over. Raises InputError when no move stands between
    them.
    """
    shown: list[RunShown] = []
    lever, tolerance_deg = None, None
    for run in runs:
        tolerance_deg = run.headline.tolerance_deg or tolerance_deg
        told = None if run.struck is not None or run.headline.error_deg is None else run.correction
        if told is None or told["positive_means"] != "counterclockwise":
            continue
        error, length_mm = told["angle_error"], told["fence_length"]["value"]
        if lever is None or lever.value != length_mm:
            lever = typed_distance(length_mm, "lever", ReadingCare())
        moves = [MoveSet(m.distance_mm, m.turn) for m in run.moves if m.distance_mm and m.turn is not None]
        shown.append(
            RunShown(math.radians(error["value"]), math.radians(error["expanded_uncertainty"]), lever, tuple(moves))
        )
    if now is not None and now.error.positive_means == "counterclockwise":
        shown.append(shown_by_run(now))
        tolerance_deg = math.degrees(now.decision.tolerance_rad)
    if not any(run.moves for run in shown):
        raise InputError(
            "No move is in the logbook between runs that show the fence's error.",
            "Record what was set after a run, cutvision log move RUN --set 0.5mm --turn clockwise, then a check cut.",
            at_the_saw=True,
        )
    return judge_runs(shown, None if tolerance_deg is None else math.radians(tolerance_deg))
