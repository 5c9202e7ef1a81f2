"""Best linear combinations, with and without shared influences."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cutvision.uncertainty import Influence, Quantity, combine

ROUNDING = 1e-9


def correlated_pair(r: float) -> tuple[Quantity, Quantity]:
    """10.0 with u 0.1 and 10.2 with u 0.2, correlated by r through one shared influence."""
    shared, own = Influence("shared", "shared"), Influence("own", "own")
    first = Quantity(10.0, "mm", {shared: 0.1})
    return first, Quantity(10.2, "mm", {shared: 0.2 * r, own: 0.2 * math.sqrt(1 - r * r)})


@pytest.mark.parametrize(("r", "value", "u"), [(0.0, 10.040, 0.0894427), (0.25, 10.025, 0.0968246), (0.5, 10.0, 0.1)])
def test_what_is_shared_is_not_averaged_down(r: float, value: float, u: float) -> None:
    """Weights 0.8 and 0.2 at r = 0; exactly none for the worse at r = u1/u2 (closed form; u printed to 7 places)."""
    best = combine(correlated_pair(r))
    assert best.value == pytest.approx(value, abs=1e-9)
    assert best.standard_uncertainty == pytest.approx(u, abs=0.5e-7)


def test_order_is_irrelevant_and_one_estimate_stays_itself() -> None:
    """Combining in another order gives the same; one alone is returned as it is."""
    pair = correlated_pair(0.25)
    assert combine(pair[::-1]).value == pytest.approx(combine(pair).value, rel=ROUNDING)
    assert combine(pair[:1]).value == pair[0].value
    assert combine(pair[:1]).standard_uncertainty == pytest.approx(0.1, rel=ROUNDING)


def test_an_exact_estimate_and_a_twin_are_no_trouble() -> None:
    """An exact value takes all the weight; the same estimate twice says what it says once (singular covariance)."""
    noise = Influence("noise", "noise")
    rough = Quantity(1.0, "mm", {noise: 0.1})
    exact = combine([rough, Quantity(2.0, "mm")])
    assert (exact.value, exact.standard_uncertainty) == (pytest.approx(2.0), pytest.approx(0.0, abs=ROUNDING))
    twins = combine([rough, rough])
    assert (twins.value, twins.standard_uncertainty) == (pytest.approx(1.0), pytest.approx(0.1))
    assert combine([Quantity(1.0, "mm"), Quantity(3.0, "mm")]).value == pytest.approx(2.0)


def test_the_stated_bound_is_the_scatter_of_many_trials() -> None:
    """20 000 seeded draws of correlated pairs scatter as stated (3 %: five standard errors of a standard deviation)."""
    rng = np.random.default_rng(20240614)
    r, n = 0.25, 20_000
    z = rng.standard_normal((2, n))
    first, second = 0.1 * z[0], 0.2 * (r * z[0] + math.sqrt(1 - r * r) * z[1])
    best = combine(correlated_pair(r))
    weight = (best.value - 10.2) / (10.0 - 10.2)
    assert float(np.std(weight * first + (1 - weight) * second)) == pytest.approx(best.standard_uncertainty, rel=0.03)


def test_nothing_and_mixed_units_raise() -> None:
    """There must be something to combine, all of it in one unit."""
    with pytest.raises(ValueError, match="nothing"):
        combine([])
    with pytest.raises(ValueError, match="units"):
        combine([Quantity(1.0, "mm"), Quantity(1.0, "rad")])
