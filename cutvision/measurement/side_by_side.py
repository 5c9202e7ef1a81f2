"""The same work on several things at once, on the computer's cores, with results in the order asked."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager
from functools import cache
from typing import TypeVar

from threadpoolctl import ThreadpoolController

Item = TypeVar("Item")
Result = TypeVar("Result")


def cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def algebra_on_one_core() -> AbstractContextManager[object]:
    """Keep numpy's linear algebra from spreading single products over the cores while this is held.

    Matrices of some hundred rows gain nothing by it, and on a busy computer its waiting threads take several times the
    work's own time.
    """
    limits: AbstractContextManager[object] = _pools().limit(limits=1, user_api="blas")
    return limits


@cache
def _pools() -> ThreadpoolController:
    return ThreadpoolController()


def side_by_side(work: Callable[[Item], Result], items: Sequence[Item], most: int | None = None) -> list[Result]:
    """The work's result for each item, in their order, at most so many at once, or as many as there are cores.

    Threads serve where the work is done in OpenCV and numpy, which leave Python to others meanwhile. Raises what the
    work raises for the first item that fails.
    """
    at_once = min(len(items), most or cores())
    if at_once < 2:
        return [work(item) for item in items]
    with ThreadPoolExecutor(at_once) as pool:
        return list(pool.map(work, items))
