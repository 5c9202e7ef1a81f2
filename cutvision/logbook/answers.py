"""How a jig's fence has answered to the moves in the book: its runs as a run of test cuts and moves."""

from __future__ import annotations

import math
from collections.abc import Sequence

from cutvision.correction import ReadingCare, typed_distance
from cutvision.correction.adjustments import Adjustments, Move, Step, judge_run, move_made, shown_by_cut
from cutvision.errors import InputError
from cutvision.logbook.records import Run


def answers_of(runs: Sequence[Run]) -> Adjustments:
    """The moves that were set, each between the run before it and the run after it. runs: one jig's, oldest first.

    Runs struck out, without an error of the fence, or whose kept side was not said are passed over. Raises InputError
    when no move stands between them.
    """
    steps: list[Step] = []
    cuts, lever = 0, None
    for run in runs:
        told = None if run.struck is not None or run.headline.error_deg is None else run.correction
        if told is None or told["positive_means"] != "counterclockwise":
            continue
        cuts += 1
        error, bound = told["angle_error"]["value"], told["angle_error"]["expanded_uncertainty"]
        steps.append(shown_by_cut(math.radians(error), math.radians(bound), cuts))
        length_mm = told["fence_length"]["value"]
        if lever is None or lever.value != length_mm:
            lever = typed_distance(length_mm, "lever", ReadingCare())
        for move in run.moves:
            if move.distance_mm and move.turn is not None:
                steps.append(move_made(move.distance_mm, move.turn, lever, len(steps)))
    if lever is None or not any(isinstance(step, Move) for step in steps):
        raise InputError(
            "No move is in the logbook between runs that tell the fence's error.",
            "Say what was set after a run, cutvision log move RUN --set 0.5mm --turn clockwise, then a check cut.",
            at_the_saw=True,
        )
    tolerance_deg = next((run.headline.tolerance_deg for run in reversed(runs) if run.headline.tolerance_deg), None)
    return judge_run(_beside_moves(steps), lever, None if tolerance_deg is None else math.radians(tolerance_deg))


def _beside_moves(steps: Sequence[Step]) -> list[Step]:
    """Every move, the cut just before and just after it, and the last cut: between others the wood may have moved."""
    kept = {len(steps) - 1}
    for number, step in enumerate(steps):
        if isinstance(step, Move):
            kept |= {number - 1, number, min(number + 1, len(steps) - 1)}
    return [steps[number] for number in sorted(kept)]
