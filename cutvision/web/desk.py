"""The queue of what is being measured, and what came of it; the same form sent again finds the same answer."""

from __future__ import annotations

import contextlib
import queue
import secrets
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

from cutvision.logbook.recording import Recorded
from cutvision.web.answering import Answer, Task
from cutvision.web.worker import Worker, WorkerLostError

MOST_WAITING = 12
MOST_REMEMBERED = 60


class BusyError(Exception):
    """So many wait already that one more is not taken."""


@dataclass
class Job:
    """One task and what came of it. back: where the person asked. trouble: why there is no answer."""

    task: Task
    back: str
    keep: Callable[[Answer], Recorded | None]
    tidy: Callable[[], None]
    identity: str = field(default_factory=lambda: secrets.token_urlsafe(16))
    state: Literal["waiting", "working", "done"] = "waiting"
    answer: Answer | None = None
    recorded: Recorded | None = None
    trouble: str = ""
    finished: threading.Event = field(default_factory=threading.Event)


class Desk:
    """One worker, one queue. Finished jobs are remembered, the oldest forgotten first; the logbook has them all."""

    def __init__(self, worker: Worker, most_waiting: int = MOST_WAITING) -> None:
        self.worker = worker
        self.most_waiting = most_waiting
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self._by_form: dict[str, str] = {}
        self._done_forms: OrderedDict[str, str] = OrderedDict()
        self._lock = threading.Lock()
        self._queue: queue.SimpleQueue[Job | None] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None
        self._closed = False

    def submit(self, form: str, job: Job) -> Job:
        """The job, queued; or the one that the same form began. form: its session and once.

        Raises BusyError when too many wait. Of a job that is not taken the files are tidied away.
        """
        with self._lock:
            known = self._jobs.get(self._by_form.get(form, ""))
            waiting = sum(one.state != "done" for one in self._jobs.values())
            if known is None and waiting < self.most_waiting:
                self._jobs[job.identity] = job
                self._by_form[form] = job.identity
                self._forget()
                if self._thread is None:
                    self._thread = threading.Thread(target=self._run, name="cutvision-desk", daemon=True)
                    self._thread.start()
                self._queue.put(job)
                return job
        job.tidy()
        if known is None:
            raise BusyError
        return known

    def find(self, identity: str) -> Job | None:
        """The job; None when it is not known, or not any more."""
        with self._lock:
            return self._jobs.get(identity)

    def ahead(self, job: Job) -> int:
        """How many are to be done before it."""
        with self._lock:
            order = [one.identity for one in self._jobs.values() if one.state != "done"]
        return order.index(job.identity) if job.identity in order else 0

    @property
    def busy(self) -> bool:
        """Whether something is worked on, or waits."""
        with self._lock:
            return any(one.state != "done" for one in self._jobs.values())

    def once(self, form: str, change: Callable[[], str]) -> str:
        """What the change gives, such as where to go next; the same form sent again gives that, and changes nothing."""
        with self._lock:
            if form not in self._done_forms:
                self._done_forms[form] = change()
                while len(self._done_forms) > MOST_REMEMBERED:
                    self._done_forms.popitem(last=False)
            return self._done_forms[form]

    def close(self) -> None:
        """Stop after what is being worked on now, which is given up."""
        self._closed = True
        self._queue.put(None)
        self.worker.close()
        if self._thread is not None:
            self._thread.join(10.0)

    def _forget(self) -> None:
        done = [one.identity for one in self._jobs.values() if one.state == "done"]
        for identity in done[: max(0, len(self._jobs) - MOST_REMEMBERED)]:
            del self._jobs[identity]
        self._by_form = {form: identity for form, identity in self._by_form.items() if identity in self._jobs}

    def _run(self) -> None:
        while (job := self._queue.get()) is not None and not self._closed:
            job.state = "working"
            try:
                job.answer = self.worker.ask(job.task)
                job.recorded = job.keep(job.answer)
            except WorkerLostError as lost:
                job.trouble = str(lost)
            except Exception as error:  # noqa: BLE001  the next one is done all the same
                job.trouble = f"This is a fault in cutvision, not in what you did: {type(error).__name__}: {error}"
            finally:
                with contextlib.suppress(OSError):
                    job.tidy()
                job.state = "done"
                job.finished.set()
