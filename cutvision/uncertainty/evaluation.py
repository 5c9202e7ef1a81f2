"""Standard uncertainties from limits (type B) and from repeated readings (type A)."""

from __future__ import annotations

import math
from collections.abc import Sequence

from cutvision.uncertainty.quantity import Influence, Quantity, Unit


def rectangular(half_width: float) -> float:
    """Standard uncertainty when every value within +-half_width is as likely. Source: JCGM 100:2008, 4.3.7."""
    return _limit(half_width) / math.sqrt(3)


def triangular(half_width: float) -> float:
    """Standard uncertainty when values near the middle are likelier, falling to none at +-half_width.

    Source: JCGM 100:2008, 4.3.9.
    """
    return _limit(half_width) / math.sqrt(6)


def arcsine(half_width: float) -> float:
    """Standard uncertainty of something that swings to and fro within +-half_width. Source: JCGM 100:2008, H.1.3.4."""
    return _limit(half_width) / math.sqrt(2)


def trapezoidal(half_width: float, top_ratio: float) -> float:
    """Standard uncertainty of a trapezium whose top is `top_ratio` (0 to 1) of its base 2 half_width wide.

    Source: JCGM 100:2008, 4.3.9. Raises ValueError for a ratio outside 0 to 1.
    """
    if not 0 <= top_ratio <= 1:
        raise ValueError(f"the top of a trapezium is 0 to 1 of its base, not {top_ratio}")
    return _limit(half_width) * math.sqrt((1 + top_ratio**2) / 6)


def from_expanded(expanded: float, coverage_factor: float = 2.0) -> float:
    """Standard uncertainty of what a certificate states as an expanded one. Source: JCGM 100:2008, 4.3.3."""
    if not coverage_factor > 0:
        raise ValueError(f"a coverage factor is positive, not {coverage_factor}")
    return _limit(expanded) / coverage_factor


def resolution(step: float) -> float:
    """Standard uncertainty of a display that shows whole steps. Source: JCGM 100:2008, F.2.2.1."""
    return rectangular(step / 2)


def repeated(readings: Sequence[float], unit: Unit, key: str, name: str) -> Quantity:
    """The mean of independent readings of one thing, with s/sqrt(n) and n - 1 degrees of freedom.

    key, name: of the one influence that stands for the scatter, see `Influence`. Source: JCGM 100:2008, 4.2.1 to 4.2.3.
    Raises ValueError for fewer than two readings: one tells nothing of its scatter.
    """
    n = len(readings)
    if n < 2:
        raise ValueError("the scatter of readings takes at least two of them")
    mean = math.fsum(readings) / n
    deviation = math.sqrt(math.fsum((x - mean) ** 2 for x in readings) / (n - 1))
    scatter = Influence(key, name, "A", f"scatter of {n} readings", degrees_of_freedom=n - 1)
    return Quantity(mean, unit, {scatter: deviation / math.sqrt(n)})


def _limit(half_width: float) -> float:
    if not (math.isfinite(half_width) and half_width >= 0):
        raise ValueError(f"limits lie a finite distance apart, not {half_width}")
    return half_width
