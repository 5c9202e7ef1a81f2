"""The uncertainty budget of a quantity: its influences summed into rows, largest first."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from cutvision.uncertainty.quantity import Influence, Quantity, Unit


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


def quantity_of_rows(value: float, unit: Unit, rows: Sequence[BudgetRow], freedom: float, key: str) -> Quantity:
    """`budget` turned round: each row an influence of its own, its key beginning with `key`.

    freedom: the whole quantity's degrees of freedom, which the rows of type A bear (JCGM 100:2008, G.4.1, turned
    round). The rows' own degrees of freedom are not looked at.
    """
    fourth = math.fsum(row.contribution**4 for row in rows if "A" in row.kind)
    few = math.inf
    if freedom < math.inf and fourth:
        few = freedom * fourth / math.fsum(row.contribution**2 for row in rows) ** 2
    components = {
        Influence(
            f"{key}/{row.name}",
            row.name,
            "A" if "A" in row.kind else "B",
            "; ".join(row.sources),
            few if "A" in row.kind else math.inf,
        ): row.contribution
        for row in rows
    }
    return Quantity(value, unit, components)
