"""The normal distribution's integral without scipy is scipy's."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from cutvision.imaging.normal import normal_below

INTERPOLATED_TO = 1e-12


def test_it_is_the_normal_integral() -> None:
    """Between its knots and beyond them, in an array of any shape, to 1e-12."""
    z = np.linspace(-12, 12, 100_001).reshape(-1, 11)
    assert np.abs(normal_below(z) - ndtr(z)).max() < INTERPOLATED_TO
    assert np.abs(normal_below(np.array([-np.inf, np.inf])) - [0, 1]).max() < INTERPOLATED_TO
