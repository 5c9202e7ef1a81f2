"""The same work on several things at once, on the computer's cores, with results in the order asked."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")


def cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def side_by_side(work: Callable[[Item], Result], items: Sequence[Item]) -> list[Result]:
    """The work's result for each item, in their order, at most as many at once as there are cores.

    Threads serve where the work is done in OpenCV and numpy, which leave Python to others meanwhile. Raises what the
    work raises for the first item that fails.
    """
    at_once = min(len(items), cores())
    if at_once < 2:
        return [work(item) for item in items]
    with ThreadPoolExecutor(at_once) as pool:
        return list(pool.map(work, items))
