"""The uncertainty budget of a quantity: its influences summed into rows, largest first."""

from __future__ import annotations

import math
from dataclasses import dataclass

from cutvision.uncertainty.quantity import Influence, Quantity


@dataclass(frozen=True, slots=True)
class BudgetRow:
    """What the influences of one name do to a quantity.

    kind: "A", "B", or "A, B" when influences of both kinds bear the name.
    contribution: standard uncertainty in the quantity's unit (sensitivity times the influence's own).
    share: part of the quantity's variance, 0 to 1.
    sources: where the figures come from, each once.
    degrees_of_freedom: effective ones of this row, infinite when nothing in it was estimated from few readings.
    """

    name: str
    kind: str
    contribution: float
    share: float
    sources: tuple[str, ...]
    degrees_of_freedom: float = math.inf


def budget(quantity: Quantity) -> tuple[BudgetRow, ...]:
    """The rows whose contributions combine, root sum of squares, to the standard uncertainty; largest first.

    Source: JCGM 100:2008, 5.1.2 (distinct influences are uncorrelated) and clause 7.2.7 (what a report must give).
    """
    by_name: dict[str, list[Influence]] = {}
    for influence in quantity.components:
        by_name.setdefault(influence.name, []).append(influence)
    variance = quantity.standard_uncertainty**2
    rows = []
    for name, influences in by_name.items():
        part = Quantity(0.0, quantity.unit, {influence: quantity.components[influence] for influence in influences})
        contribution = part.standard_uncertainty
        rows.append(
            BudgetRow(
                name,
                ", ".join(sorted({influence.kind for influence in influences})),
                contribution,
                contribution**2 / variance if variance > 0 else 0.0,
                tuple(dict.fromkeys(influence.source for influence in influences if influence.source)),
                part.degrees_of_freedom,
            )
        )
    return tuple(sorted(rows, key=lambda row: -row.contribution))
