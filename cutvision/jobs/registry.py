"""Every job that a logbook keeps, by the words of its command: what it asks and what answers it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

from cutvision.jobs.correct_arms import Arms, Assembly, run_arms, run_assembly
from cutvision.jobs.correct_by_gap import Direct, Facing, Frame, run_direct, run_facing, run_frame
from cutvision.jobs.correct_by_size import Miter, Square, run_miter, run_square
from cutvision.jobs.measure import Measure, run_measure


@dataclass(frozen=True, slots=True)
class Job:
    """kind: the request. run: takes it and gives the result. cuts: which kind of jig it is about; None for either."""

    kind: type
    run: Callable[[Any], Any]
    cuts: Literal["miter", "square"] | None = None


CORRECT: dict[str, Job] = {
    "miter": Job(Miter, run_miter, "miter"),
    "square": Job(Square, run_square, "square"),
    "direct": Job(Direct, run_direct),
    "facing": Job(Facing, run_facing, "square"),
    "frame": Job(Frame, run_frame, "miter"),
    "arms": Job(Arms, run_arms, "miter"),
    "assembly": Job(Assembly, run_assembly, "miter"),
}
JOBS: dict[tuple[str, ...], Job] = {
    ("measure",): Job(Measure, run_measure),
    **{("correct", name): job for name, job in CORRECT.items()},
}
