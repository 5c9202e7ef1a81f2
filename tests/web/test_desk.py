"""The queue: bounded, each form once, files tidied whatever happens."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from typing import Any

import pytest

from cutvision.web.answering import Answer
from cutvision.web.desk import MOST_REMEMBERED, BusyError, Desk, Job
from cutvision.web.worker import WorkerLostError


class Slow:
    """A worker that waits until it is let go."""

    def __init__(self) -> None:
        self.go = threading.Event()
        self.asked: list[Any] = []
        self.lost = False

    def ask(self, task: Any) -> Answer:
        """An empty answer, or none."""
        self.asked.append(task)
        self.go.wait(10.0)
        if self.lost:
            raise WorkerLostError("crash")
        return Answer(None)

    def close(self) -> None:
        """Let everything go."""
        self.go.set()


class Counted:
    """How often jobs were kept and tidied."""

    def __init__(self) -> None:
        self.kept = 0
        self.tidied = 0

    def job(self, task: Any = "task") -> Job:
        """One that counts."""

        def keep(_answer: Answer) -> None:
            self.kept += 1

        def tidy() -> None:
            self.tidied += 1

        return Job(task, "/", keep, tidy)


@pytest.fixture
def slow() -> Slow:
    """The worker."""
    return Slow()


@pytest.fixture
def desk(slow: Slow) -> Iterator[Desk]:
    """A desk at which three may wait."""
    made = Desk(slow, most_waiting=3)  # type: ignore[arg-type]
    yield made
    made.close()


def test_the_queue_is_bounded(desk: Desk, slow: Slow) -> None:
    """One more than may wait is refused at once, its files tidied; when there is room again it is taken."""
    counted = Counted()
    jobs = [desk.submit(str(n), counted.job(n)) for n in range(3)]
    assert [desk.ahead(job) for job in jobs] == [0, 1, 2]
    with pytest.raises(BusyError):
        desk.submit("one more", counted.job())
    assert counted.tidied == 1
    assert desk.busy
    slow.go.set()
    assert all(job.finished.wait(10.0) for job in jobs)
    assert desk.submit("one more", counted.job()).finished.wait(10.0)
    assert not desk.busy
    assert (counted.kept, counted.tidied) == (4, 5)


def test_the_same_form_makes_no_second_job(desk: Desk, slow: Slow) -> None:
    """Sent again while it waits and after it is done, it finds the first one; nothing is kept twice."""
    counted = Counted()
    first = desk.submit("form", counted.job())
    assert desk.submit("form", counted.job()) is first
    slow.go.set()
    assert first.finished.wait(10.0)
    assert desk.submit("form", counted.job()) is first
    assert (counted.kept, len(slow.asked)) == (1, 1)


def test_a_lost_worker_is_told_and_nothing_kept(desk: Desk, slow: Slow) -> None:
    """Its job ends with the trouble in words, its files tidied."""
    counted = Counted()
    slow.lost = True
    slow.go.set()
    job = desk.submit("form", counted.job())
    assert job.finished.wait(10.0)
    assert "broke down" in job.trouble
    assert (counted.kept, counted.tidied) == (0, 1)


def test_old_answers_are_forgotten(desk: Desk, slow: Slow) -> None:
    """Memory is bounded however many come."""
    slow.go.set()
    counted = Counted()
    for n in range(MOST_REMEMBERED + 20):
        assert desk.submit(str(n), counted.job()).finished.wait(10.0)
    assert len(desk._jobs) <= MOST_REMEMBERED + 1
    assert len(desk._by_form) <= MOST_REMEMBERED + 1


def test_a_change_is_made_once(desk: Desk) -> None:
    """The same form sent again gives what it gave; one that failed may be sent again."""
    made: list[int] = []
    for _ in range(2):
        assert desk.once("form", lambda: str(made.append(1) or len(made))) == "1"
    with pytest.raises(ValueError, match="no"):
        desk.once("other", lambda: str(int("no")))
    assert desk.once("other", lambda: "now") == "now"
