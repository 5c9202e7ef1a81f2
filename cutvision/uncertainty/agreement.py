"""Whether two measurements of one thing agree, each within what it says of itself."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from cutvision.uncertainty.quantity import Quantity, covariance

Verdict = Literal["agree", "doubtful", "disagree"]
AGREE_TO = 1.0
# E_n = 1.5 is a z score of 3, from which on ISO 13528 calls a result unsatisfactory (below 2, E_n = 1: satisfactory).
DOUBT_TO = 1.5


@dataclass(frozen=True, slots=True)
class Agreement:
    """Two estimates of one thing set side by side.

    difference: first less second, with what both share taken out of its bound. number: E_n, never negative.
    """

    first: Quantity
    second: Quantity
    difference: Quantity
    number: float

    @property
    def verdict(self) -> Verdict:
        return verdict_of(self.number)


def agreement(first: Quantity, second: Quantity) -> Agreement:
    """E_n = |x - y| / sqrt(Ux^2 + Uy^2 - 2 kx ky cov(x, y)), with expanded uncertainties U = k u.

    Source: ISO/IEC 17043 and ISO 13528, for estimates that share nothing; the covariance as in JCGM 100:2008, 5.2.2.
    Raises ValueError for mixed units.
    """
    difference = first - second
    shared = float(covariance((first, second))[0, 1])
    variance = math.fsum(
        (
            first.expanded_uncertainty**2,
            second.expanded_uncertainty**2,
            -2 * first.coverage_factor * second.coverage_factor * shared,
        )
    )
    return Agreement(first, second, difference, _over(abs(difference.value), math.sqrt(max(variance, 0.0))))


def verdict_of(number: float) -> Verdict:
    """E_n in a word. A number exactly on a limit counts as within it."""
    return "agree" if number <= AGREE_TO else "doubtful" if number <= DOUBT_TO else "disagree"


def _over(size: float, bound: float) -> float:
    if bound > 0:
        return size / bound
    return 0.0 if size == 0 else math.inf
