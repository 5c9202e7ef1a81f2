"""Quantities that carry the influences on them by name (JCGM 100:2008, clause 5).

A quantity is a value and, for every influence on it, the signed product of sensitivity and standard uncertainty. Two
quantities that share an influence are correlated through it, so a difference of two legs forgets what both share and a
sum does not, without a correlation matrix being written anywhere.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

import numpy as np

from cutvision.uncertainty.distributions import student_freedom, student_quantile
from cutvision.uncertainty.rows import Row, row_of

Unit = Literal["mm", "rad", "1"]
COVERAGE_PROBABILITY = 0.95


@dataclass(frozen=True, slots=True)
class Influence:
    """One source of doubt. Equal keys mean the same influence, that is, full correlation.

    key: identity across quantities, e.g. "thickness" or "edge points/photo 2/4".
    name: the row of the budget it is summed into, e.g. "thickness"; what that shares and what narrows it says `row`.
    kind: "A" from repeated observation, "B" from anything else (JCGM 100:2008, 4.2 and 4.3).
    source: where the figure comes from, in a few words a person can check.
    photo: which of several photos it belongs to; None when it is no photo's own.
    """

    key: str
    name: str
    kind: Literal["A", "B"] = "B"
    source: str = ""
    degrees_of_freedom: float = math.inf
    photo: int | None = None

    @property
    def row(self) -> Row:
        return row_of(self.name)


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value in `unit` with signed components (sensitivity times standard uncertainty, in `unit`) by influence."""

    value: float
    unit: Unit
    components: Mapping[Influence, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "components", MappingProxyType(dict(self.components)))

    def __reduce__(self) -> tuple[type[Quantity], tuple[float, Unit, dict[Influence, float]]]:
        return Quantity, (self.value, self.unit, dict(self.components))  # a read-only mapping cannot be sent as it is

    @property
    def standard_uncertainty(self) -> float:
        """Combined standard uncertainty. Source: JCGM 100:2008, 5.1.2 and 5.2.2."""
        return math.sqrt(math.fsum(c * c for c in self.components.values()))

    @property
    def degrees_of_freedom(self) -> float:
        """Effective degrees of freedom, infinite when nothing was estimated from few. Source: JCGM 100:2008, G.4.1."""
        u = self.standard_uncertainty
        doubt = math.fsum(
            (c / u) ** 4 / i.degrees_of_freedom
            for i, c in self.components.items()
            if u > 0 and math.isfinite(i.degrees_of_freedom)
        )
        return 1.0 / doubt if doubt > 0 else math.inf

    @property
    def coverage_factor(self) -> float:
        """k for 95 %: Student's t for few degrees of freedom, never below 2. Source: JCGM 100:2008, G.3.2 and G.6.6."""
        freedom = self.degrees_of_freedom
        if math.isinf(freedom):
            return 2.0
        return max(2.0, student_quantile(freedom, 0.5 + COVERAGE_PROBABILITY / 2))

    @property
    def expanded_uncertainty(self) -> float:
        return self.coverage_factor * self.standard_uncertainty

    def __add__(self, other: Quantity | float) -> Quantity:
        if not isinstance(other, Quantity):
            return Quantity(self.value + other, self.unit, self.components)
        return propagate(self.value + other.value, _same_unit(self, other), ((self, 1.0), (other, 1.0)))

    def __sub__(self, other: Quantity | float) -> Quantity:
        if not isinstance(other, Quantity):
            return Quantity(self.value - other, self.unit, self.components)
        return propagate(self.value - other.value, _same_unit(self, other), ((self, 1.0), (other, -1.0)))

    def __neg__(self) -> Quantity:
        return self.scaled(-1.0)

    def scaled(self, factor: float) -> Quantity:
        """The quantity times an exact number of dimension one."""
        return propagate(self.value * factor, self.unit, ((self, factor),))

    def with_influence(self, influence: Influence, component: float) -> Quantity:
        """The same value with one more source of doubt; `component` in the quantity's unit, signed."""
        parts = dict(self.components)
        parts[influence] = parts.get(influence, 0.0) + component
        return Quantity(self.value, self.unit, parts)


def freedom_of_factor(coverage_factor: float) -> float:
    """The degrees of freedom for which `coverage_factor` was told: infinite for 2, the least that is ever told.

    Source: JCGM 100:2008, G.3.2, turned round. A factor beyond one degree of freedom's gives one.
    """
    if coverage_factor <= 2.0:
        return math.inf
    return max(1.0, student_freedom(coverage_factor, 0.5 + COVERAGE_PROBABILITY / 2))


def _same_unit(a: Quantity, b: Quantity) -> Unit:
    if a.unit != b.unit:
        raise ValueError(f"a quantity in {a.unit} cannot be added to one in {b.unit}")
    return a.unit


def propagate(value: float, unit: Unit, inputs: Sequence[tuple[Quantity, float]]) -> Quantity:
    """A result with first-order sensitivities to its inputs (law of propagation). Source: JCGM 100:2008, 5.1 and 5.2.

    inputs: pairs of an input and the partial derivative of the result by it, in `unit` per the input's unit.
    """
    parts: dict[Influence, float] = {}
    for quantity, sensitivity in inputs:
        for influence, component in quantity.components.items():
            parts[influence] = parts.get(influence, 0.0) + sensitivity * component
    return Quantity(value, unit, parts)


def covariance(quantities: Sequence[Quantity]) -> np.ndarray:
    """(N, N) covariance of quantities through the influences that they share. Source: JCGM 100:2008, F.1.2.3."""
    influences = list({i for q in quantities for i in q.components})
    matrix = np.array([[q.components.get(i, 0.0) for i in influences] for q in quantities], dtype=float)
    matrix = matrix.reshape(len(quantities), len(influences))
    product: np.ndarray = matrix @ matrix.T
    return product
