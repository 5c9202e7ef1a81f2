"""Quantities that carry named influences, budgets, and type A and type B evaluation."""

from cutvision.uncertainty.quantity import Influence, Quantity, covariance, propagate

__all__ = ["Influence", "Quantity", "covariance", "propagate"]
