"""A process beside the page's own, in which photos are decoded and measured: what goes wrong there costs one answer."""

from __future__ import annotations

import contextlib
import multiprocessing
import pickle
import signal
import sys
import threading
from collections.abc import Callable
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from typing import Any, Literal

TIME_LIMIT_S = 60.0
# Of address space: three times what two photos of 12 million pixels take.
MEMORY_LIMIT_BYTES = 6_000_000_000
_START_S = 60.0

Loss = Literal["time", "memory", "crash", "fault"]
SAID: dict[Loss, str] = {
    "time": f"It took longer than {TIME_LIMIT_S:g} seconds and was stopped.",
    "memory": "It took more memory than there is for one answer and was stopped.",
    "crash": "The part of the program that does it broke down. Nothing was recorded.",
    "fault": "This is a fault in cutvision, not in what you did. Nothing was recorded.",
}


class WorkerLostError(Exception):
    """An answer that will not come. why: what ended it."""

    def __init__(self, why: Loss, detail: str = "") -> None:
        super().__init__(f"{SAID[why]} {detail}".strip())
        self.why = why


class Worker:
    """One process, begun when it is first asked and after each loss; work: what it does with each task."""

    def __init__(
        self,
        work: Callable[[Any], Any],
        *,
        time_limit_s: float = TIME_LIMIT_S,
        memory_limit_bytes: int = MEMORY_LIMIT_BYTES,
    ) -> None:
        self.work = work
        self.time_limit_s = time_limit_s
        self.memory_limit_bytes = memory_limit_bytes
        self._context = multiprocessing.get_context("spawn")
        self._process: SpawnProcess | None = None
        self._line: Connection | None = None
        self._lock = threading.Lock()

    def ask(self, task: Any) -> Any:
        """What the work gives for the task. Raises WorkerLostError; one task at a time."""
        with self._lock:
            how: Any
            try:
                line = self._started()
                line.send(task)
                how, found = line.recv() if line.poll(self.time_limit_s) else ("time", "")
            except (EOFError, OSError) as error:
                self._end()
                raise WorkerLostError("crash") from error
            if how == "done":
                return found
            if how != "fault":
                self._end()
            raise WorkerLostError(how, found)

    def close(self) -> None:
        """End the process, whatever it is doing."""
        self._end()

    def _started(self) -> Connection:
        if self._process is not None and self._process.is_alive() and self._line is not None:
            return self._line
        self._end()
        ours, theirs = self._context.Pipe()
        self._process = self._context.Process(
            target=_serve, args=(theirs, self.work, self.memory_limit_bytes), daemon=True, name="cutvision-worker"
        )
        self._process.start()
        theirs.close()
        self._line = ours
        # its start, which loads the heavy packages, is no part of the task's time
        if not ours.poll(_START_S):
            raise EOFError
        ours.recv()
        return ours

    def _end(self) -> None:
        process, line = self._process, self._line
        self._process = self._line = None
        if process is not None:
            process.kill()
            process.join()
            process.close()
        if line is not None:
            line.close()


def _serve(line: Connection, work: Callable[[Any], Any], memory_limit_bytes: int) -> None:
    """Do task after task, until the page ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the page ends this process itself
    _limit_memory(memory_limit_bytes)
    with contextlib.suppress(EOFError, OSError):  # the page is gone
        line.send("ready")
        while True:
            task = line.recv()
            try:
                answer = ("done", work(task))
            except MemoryError:
                answer = ("memory", "")
            except Exception as error:  # noqa: BLE001  a person gets a line, and the next task is done all the same
                answer = ("fault", f"{type(error).__name__}: {error}")
            try:
                line.send(answer)
            except (TypeError, AttributeError, pickle.PicklingError) as error:
                line.send(("fault", f"{type(error).__name__}: {error}"))


def _limit_memory(limit_bytes: int) -> None:
    if sys.platform == "win32":
        return
    import resource

    # macOS knows the limit and does not keep it; the time limit holds there
    with contextlib.suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_AS, (limit_bytes, limit_bytes))
