"""Work done side by side gives what it would give one after another."""

from __future__ import annotations

from threading import Barrier

import pytest
from threadpoolctl import threadpool_info

from cutvision.measurement import side_by_side as module
from cutvision.measurement.side_by_side import algebra_on_one_core, side_by_side


@pytest.mark.parametrize("cores", [1, 2, 8])
@pytest.mark.parametrize("count", [0, 1, 5])
def test_results_come_in_order(monkeypatch: pytest.MonkeyPatch, cores: int, count: int) -> None:
    """Whatever the number of cores, the result of each item stands in its place."""
    monkeypatch.setattr(module, "cores", lambda: cores)
    assert side_by_side(lambda n: n * n, range(count)) == [n * n for n in range(count)]


def test_two_cores_work_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """With two cores two items are in hand at the same time: each waits here until the other has begun."""
    monkeypatch.setattr(module, "cores", lambda: 2)
    both = Barrier(2, timeout=30)
    assert sorted(side_by_side(lambda _: both.wait(), [0, 1])) == [0, 1]


def test_what_fails_is_raised(monkeypatch: pytest.MonkeyPatch) -> None:
    """An error of the work comes out as it is."""
    monkeypatch.setattr(module, "cores", lambda: 2)
    with pytest.raises(ZeroDivisionError):
        side_by_side(lambda n: 1 // n, [1, 0])


def test_linear_algebra_keeps_to_one_core() -> None:
    """While it is held, numpy's linear algebra has one thread, and afterwards as many as before."""

    def threads() -> list[int]:
        return [pool["num_threads"] for pool in threadpool_info() if pool["user_api"] == "blas"]

    before = threads()
    with algebra_on_one_core():
        assert set(threads()) == {1}
    assert threads() == before
