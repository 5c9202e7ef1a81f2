"""The worker's process: whatever goes wrong in it costs one answer."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator

import pytest

from cutvision.web.worker import Worker, WorkerLostError


def misbehave(how: str) -> object:
    """What a decoder may do."""
    if how == "crash":
        os._exit(139)
    if how == "hang":
        time.sleep(60.0)
    if how == "greedy":
        return len(bytearray(3_000_000_000))
    if how == "fault":
        raise ValueError("no good")
    if how == "unsent":
        return lambda: None
    return how.upper()


@pytest.fixture(scope="module")
def worker() -> Iterator[Worker]:
    """One with small limits."""
    made = Worker(misbehave, time_limit_s=2.0, memory_limit_bytes=2_000_000_000)
    yield made
    made.close()


@pytest.mark.parametrize(
    ("how", "why"), [("crash", "crash"), ("hang", "time"), ("fault", "fault"), ("unsent", "fault")]
)
def test_what_goes_wrong_costs_one_answer(worker: Worker, how: str, why: str) -> None:
    """The loss is told apart, and the next task is done."""
    with pytest.raises(WorkerLostError) as lost:
        worker.ask(how)
    assert lost.value.why == why
    assert worker.ask("fine") == "FINE"


@pytest.mark.skipif(sys.platform != "linux", reason="the system keeps no limit on memory")
def test_memory_is_limited(worker: Worker) -> None:
    """A task that wants more memory than the limit is stopped, and the next is done."""
    with pytest.raises(WorkerLostError) as lost:
        worker.ask("greedy")
    assert lost.value.why == "memory"
    assert worker.ask("fine") == "FINE"
