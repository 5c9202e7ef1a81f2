"""Quantities that carry named influences, budgets, and type A and type B evaluation."""

from cutvision.uncertainty.budget import BudgetRow, budget, quantity_of_rows
from cutvision.uncertainty.combination import best_weights, combine
from cutvision.uncertainty.evaluation import (
    arcsine,
    from_expanded,
    rectangular,
    repeated,
    resolution,
    trapezoidal,
    triangular,
)
from cutvision.uncertainty.quantity import (
    COVERAGE_PROBABILITY,
    Influence,
    Quantity,
    Unit,
    covariance,
    freedom_of_factor,
    propagate,
)
from cutvision.uncertainty.rows import ROWS, Row, row_of

__all__ = [
    "COVERAGE_PROBABILITY",
    "ROWS",
    "BudgetRow",
    "Influence",
    "Quantity",
    "Row",
    "Unit",
    "arcsine",
    "best_weights",
    "budget",
    "combine",
    "covariance",
    "freedom_of_factor",
    "from_expanded",
    "propagate",
    "quantity_of_rows",
    "rectangular",
    "repeated",
    "resolution",
    "row_of",
    "trapezoidal",
    "triangular",
]
