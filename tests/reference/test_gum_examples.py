"""Worked examples of the GUM (JCGM 100:2008) through quantities with named influences.

Inputs and results as quoted in public test suites and documentation of uncertainty packages; those marked "from memory"
are the document's own, recomputed here. Tolerances: half of the last published figure unless stated.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest
import uncertainties
from uncertainties import umath

from cutvision.uncertainty import (
    Influence,
    Quantity,
    arcsine,
    budget,
    covariance,
    from_expanded,
    propagate,
    rectangular,
)

STEP = 1e-6


def applied(function: Callable[..., float], *inputs: Quantity) -> Quantity:
    """A function of quantities, all in unit one here, its sensitivities from central differences."""
    values = [q.value for q in inputs]
    pairs = []
    for i, q in enumerate(inputs):
        step = STEP * max(abs(q.value), q.standard_uncertainty, 1e-9)
        up, down = list(values), list(values)
        up[i] += step
        down[i] -= step
        pairs.append((q, (function(*up) - function(*down)) / (2 * step)))
    return propagate(function(*values), "1", pairs)


def known(value: float, name: str, u: float, dof: float = math.inf) -> Quantity:
    """An input with one influence of its own."""
    return Quantity(value, "1", {Influence(name, name, degrees_of_freedom=dof): u})


def end_gauge() -> Quantity:
    """H.1: l = ls + d - ls (da th + as dt), in nm and K."""
    ls = known(50_000_623.0, "ls", from_expanded(75.0, 3.0), 18)
    d = (
        known(215.0, "d0", 5.8, 24)
        + known(0.0, "d1", 3.9, 5)
        + known(0.0, "d2", 6.7, 8)
    )  # fmt: skip
    alpha = known(11.5e-6, "as", rectangular(2e-6))
    theta = known(-0.1, "tb", 0.2) + known(0.0, "D", arcsine(0.5))
    d_alpha = known(0.0, "da", rectangular(1e-6), 50)
    d_theta = known(0.0, "dt", rectangular(0.05), 2)
    return applied(
        lambda s, delta, a, t, da, dt: s + delta - s * (da * t + a * dt), ls, d, alpha, theta, d_alpha, d_theta
    )


def test_h1_end_gauge() -> None:
    """H.1: l 50 000 838, u 32 (31.664), dof 16.7 (16.75), contributions 25, 16.6, 6.7, 5.8, 3.9, 2.9."""
    length = end_gauge()
    assert length.value == pytest.approx(50_000_838, abs=0.5)
    assert length.standard_uncertainty == pytest.approx(31.664, abs=0.5e-2)
    assert length.degrees_of_freedom == pytest.approx(16.75, abs=0.05)
    parts = {row.name: row.contribution for row in budget(length)}
    published = {"ls": 25.0, "dt": 16.6, "d2": 6.7, "d0": 5.8, "d1": 3.9, "da": 2.9}
    assert {name: parts[name] for name in published} == pytest.approx(published, abs=0.05)
    assert parts["as"] == pytest.approx(0.0, abs=1e-6)
    assert parts["tb"] == pytest.approx(0.0, abs=1e-6)


VOLTS = (5.007, 4.994, 5.005, 4.990, 4.999)
AMPERES = (19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3)
RADIANS = (1.0456, 1.0438, 1.0468, 1.0428, 1.0433)


def read_together(series: Sequence[float]) -> Quantity:
    """A mean of readings taken together with others: each occasion is an influence that all their means share."""
    n, mean = len(series), math.fsum(series) / len(series)
    occasions = {
        Influence(f"occasion {i}", "readings", "A"): (x - mean) / math.sqrt(n * (n - 1)) for i, x in enumerate(series)
    }
    return Quantity(mean, "1", occasions)


def correlation(a: Quantity, b: Quantity) -> float:
    """Correlation coefficient."""
    matrix = covariance([a, b])
    return float(matrix[0, 1] / math.sqrt(matrix[0, 0] * matrix[1, 1]))


def test_h2_resistance_and_reactance() -> None:
    """H.2: correlated inputs give R 127.732, X 219.847, Z 254.260 with their u and correlations."""
    v, i, phi = (read_together(series) for series in (VOLTS, AMPERES, RADIANS))
    assert [correlation(v, i), correlation(v, phi), correlation(i, phi)] == pytest.approx(
        [-0.3553, 0.8576, -0.6451], abs=0.5e-4
    )
    r = applied(lambda a, b, c: a / b * math.cos(c), v, i, phi)
    x = applied(lambda a, b, c: a / b * math.sin(c), v, i, phi)
    z = applied(lambda a, b: a / b, v, i)
    assert [q.value for q in (r, x, z)] == pytest.approx([127.732, 219.847, 254.260], abs=0.6e-3)
    assert [q.standard_uncertainty for q in (r, x, z)] == pytest.approx([0.071, 0.295, 0.236], abs=1e-3)
    assert [correlation(r, x), correlation(r, z), correlation(x, z)] == pytest.approx([-0.588, -0.485, 0.993], abs=1e-3)


def test_h2_inputs_wrongly_taken_as_uncorrelated() -> None:
    """H.2 with correlation ignored: u 0.195, 0.201, 0.204 (from memory, recomputed): the trap that names shut."""
    v, i, phi = (
        known(q.value, name, q.standard_uncertainty)
        for name, q in (("v", read_together(VOLTS)), ("i", read_together(AMPERES)), ("phi", read_together(RADIANS)))
    )
    r = applied(lambda a, b, c: a / b * math.cos(c), v, i, phi)
    x = applied(lambda a, b, c: a / b * math.sin(c), v, i, phi)
    z = applied(lambda a, b: a / b, v, i)
    assert [q.standard_uncertainty for q in (r, x, z)] == pytest.approx([0.195, 0.201, 0.204], abs=0.5e-3)


TEMPERATURES = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
CORRECTIONS = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)


def fitted_line(common_u: float = 0.0) -> tuple[Quantity, Quantity]:
    """H.3: b = y1 + y2 (t - 20) as weighted sums of the readings, each with the residuals' scatter s on 9 dof."""
    t = np.array(TEMPERATURES) - 20.0
    design = np.column_stack([np.ones_like(t), t])
    weights = np.linalg.pinv(design)
    fit = weights @ np.array(CORRECTIONS)
    residuals = np.array(CORRECTIONS) - design @ fit
    s = math.sqrt(float(residuals @ residuals) / (len(t) - 2))
    # Two independent influences with the residuals' nine degrees of freedom carry the parameters' covariance.
    root = np.linalg.cholesky(weights @ weights.T) * s
    names = [Influence(f"residuals {k}", "residuals", "A", degrees_of_freedom=9) for k in range(2)]
    shared = Influence("common", "common")
    lines = [Quantity(float(fit[k]), "1", {names[j]: float(root[k, j]) for j in range(2)}) for k in range(2)]
    return lines[0].with_influence(shared, common_u), lines[1]


def test_h3_thermometer_line_and_its_prediction() -> None:
    """H.3: y1 -0.1712 u 0.0029, y2 0.00218 u 0.00067, r -0.930, and at 30 degC -0.1494 u 0.0041."""
    y1, y2 = fitted_line()
    assert (y1.value, y1.standard_uncertainty) == (pytest.approx(-0.1712, abs=5e-5), pytest.approx(0.0029, abs=5e-5))
    assert (y2.value, y2.standard_uncertainty) == (pytest.approx(0.00218, abs=5e-6), pytest.approx(0.00067, abs=5e-6))
    assert correlation(y1, y2) == pytest.approx(-0.930, abs=5e-4)
    at_30 = y1 + y2.scaled(10.0)
    assert (at_30.value, at_30.standard_uncertainty) == (
        pytest.approx(-0.1494, abs=5e-5),
        pytest.approx(0.0041, abs=5e-5),
    )


def test_h3_a_common_error_moves_the_line_and_not_its_slope() -> None:
    """A common u of 0.005 on every b: u(y1) 0.005769 with 145.38 dof, y2 as before (a package's documentation)."""
    y1, y2 = fitted_line(common_u=0.005)
    assert y1.standard_uncertainty == pytest.approx(0.005769, abs=5e-7)
    assert y1.degrees_of_freedom == pytest.approx(145.38, rel=0.01)
    assert y2.standard_uncertainty == pytest.approx(0.00066794, abs=5e-9)


def test_welch_satterthwaite_of_g41() -> None:
    """G.4.1: relative u 0.25, 0.57, 0.82 % on 9, 4, 14 dof make 1.03 % on 19.0 (from memory, recomputed)."""
    q = known(0.0, "a", 0.25, 9) + known(0.0, "b", 0.57, 4) + known(0.0, "c", 0.82, 14)
    assert q.standard_uncertainty == pytest.approx(1.03, abs=5e-3)
    assert q.degrees_of_freedom == pytest.approx(19.0, abs=0.05)


def test_a_ratio_with_few_readings() -> None:
    """y = X1/X2 Y: 0.6967, u 0.00494, dof 27.7 +- 0.5, U95 0.0101 (a public test suite; recomputed 0.00493, 27.51)."""
    y = applied(
        lambda a, b, c: a / b * c,
        known(0.1820, "x1", 0.00093, 9),
        known(0.1823, "x2", 0.00058, 19),
        known(0.6978, "y", 0.0026, 19),
    )
    assert y.value == pytest.approx(0.6967, abs=5e-5)
    assert y.standard_uncertainty == pytest.approx(0.00493, abs=5e-6)
    assert y.degrees_of_freedom == pytest.approx(27.7, abs=0.5)
    assert y.expanded_uncertainty == pytest.approx(0.0101, abs=5e-5)


def test_nist_tn_1900_expansion() -> None:
    """a = (L1 - L0)/(L0 (T1 - T0)): 1.7266e-5, u 1.7555e-6 (NIST TN 1900, read in a public test suite, recomputed)."""
    a = applied(
        lambda l0, l1, t0, t1: (l1 - l0) / (l0 * (t1 - t0)),
        known(1.4999, "l0", 1e-4),
        known(1.5021, "l1", 2e-4),
        known(288.15, "t0", 0.02),
        known(373.10, "t1", 0.05),
    )
    assert a.value == pytest.approx(1.7266e-5, abs=5e-10)
    assert a.standard_uncertainty == pytest.approx(1.7555e-6, abs=5e-11)


def test_propagation_agrees_with_an_independent_package() -> None:
    """Shared and own influences through a nonlinear chain: the package `uncertainties` gives the same u (1e-8)."""
    shared, own = Influence("shared", "shared"), Influence("own", "own")
    x = Quantity(3.0, "1", {shared: 0.02})
    y = Quantity(2.0, "1", {shared: -0.01, own: 0.03})
    s, o = uncertainties.ufloat(0.0, 1.0), uncertainties.ufloat(0.0, 1.0)
    ux, uy = 3.0 + 0.02 * s, 2.0 - 0.01 * s + 0.03 * o
    ours = applied(lambda a, b: math.atan2(b, a) + a * b / 7, x, y)
    theirs = umath.atan2(uy, ux) + ux * uy / 7
    assert ours.value == pytest.approx(theirs.nominal_value, rel=1e-12)
    assert ours.standard_uncertainty == pytest.approx(theirs.std_dev, rel=1e-8)
