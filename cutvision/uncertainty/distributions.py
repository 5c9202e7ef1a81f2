"""Probabilities and quantiles of the normal, Student's t, chi-square and F distributions.

scipy's functions, loaded only when an answer needs them: it takes longer to load than all else that a correction
does, and with infinite degrees of freedom, the usual case, the error function of Python says the same.
"""

from __future__ import annotations

import math
from typing import Any


def _special() -> Any:  # scipy has no types
    from scipy import special  # noqa: PLC0415  see above

    return special


def student_below(freedom: float, t: float) -> float:
    """The probability that Student's t with so many degrees of freedom lies below t."""
    if math.isinf(freedom):
        return 0.5 * math.erfc(-t / math.sqrt(2))
    return float(_special().stdtr(freedom, t))


def student_quantile(freedom: float, probability: float) -> float:
    """The t below which Student's t lies with that probability."""
    return float(_special().stdtrit(freedom, probability))


def student_freedom(t: float, probability: float) -> float:
    """The degrees of freedom with which Student's t lies below t with that probability."""
    return float(_special().stdtridf(probability, t))


def chi_square_above(freedom: float, square: float) -> float:
    """The probability that chi-square exceeds the square."""
    return float(_special().chdtrc(freedom, square))


def chi_square_exceeded(freedom: float, probability: float) -> float:
    """The square that chi-square exceeds with that probability."""
    return float(_special().chdtri(freedom, probability))


def f_above(freedom: float, freedom_below: float, ratio: float) -> float:
    """The probability that F, with the degrees of freedom of its upper and lower part, exceeds the ratio."""
    return float(_special().fdtrc(freedom, freedom_below, ratio))
