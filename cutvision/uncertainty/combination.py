"""Several estimates of one thing brought together."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from cutvision.uncertainty.quantity import Quantity, covariance, propagate


def combine(estimates: Sequence[Quantity]) -> Quantity:
    """The best linear unbiased combination; what the estimates share is not averaged down.

    The weights w minimise w' V w with sum(w) = 1, where V is the estimates' covariance (generalised least squares of a
    constant, Aitken 1936); an estimate may get a weight of nothing, or less, when it is correlated with a better one.
    Raises ValueError for no estimates and for mixed units.
    """
    if not estimates:
        raise ValueError("there is nothing to combine")
    unit = estimates[0].unit
    if any(q.unit != unit for q in estimates):
        raise ValueError("estimates in different units cannot be combined")
    weights = best_weights(estimates)
    # Deviations from the first estimate are small, so that rounding of the weights' sum does not touch the value.
    first = estimates[0].value
    value = first + math.fsum(w * (q.value - first) for w, q in zip(weights, estimates, strict=True))
    return propagate(value, unit, list(zip(estimates, weights, strict=True)))


def best_weights(estimates: Sequence[Quantity]) -> list[float]:
    """The weights of `combine`: minimum of w' V w with sum(w) = 1 by its Lagrange system, even for a singular V."""
    matrix = covariance(estimates)
    n = len(matrix)
    scale = float(np.trace(matrix)) / n or 1.0
    system = np.ones((n + 1, n + 1))
    system[:n, :n] = matrix / scale
    system[n, n] = 0.0
    solution = np.linalg.lstsq(system, np.append(np.zeros(n), 1.0), rcond=1e-13)[0]
    return [float(w) for w in solution[:n]]
