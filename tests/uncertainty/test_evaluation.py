"""Type A and type B evaluation: divisors, resolution and repeated readings."""

from __future__ import annotations

import math

import pytest

from cutvision.uncertainty import (
    arcsine,
    budget,
    from_expanded,
    rectangular,
    repeated,
    resolution,
    trapezoidal,
    triangular,
)

ROUNDING = 1e-12  # float noise


def test_divisors_of_a_half_width() -> None:
    """Rectangular sqrt 3, triangular sqrt 6, arcsine sqrt 2, trapezium a sqrt((1 + b^2)/6) (closed form)."""
    assert rectangular(3.0) == pytest.approx(math.sqrt(3), rel=ROUNDING)
    assert triangular(3.0) == pytest.approx(3 / math.sqrt(6), rel=ROUNDING)
    assert arcsine(3.0) == pytest.approx(3 / math.sqrt(2), rel=ROUNDING)
    assert trapezoidal(3.0, 0.0) == pytest.approx(triangular(3.0), rel=ROUNDING)
    assert trapezoidal(3.0, 1.0) == pytest.approx(rectangular(3.0), rel=ROUNDING)
    assert trapezoidal(75.0, 25 / 75) == pytest.approx(math.hypot(rectangular(50.0), rectangular(25.0)), rel=ROUNDING)


@pytest.mark.parametrize(
    ("step", "published"),
    [(0.01, 0.0028868), (0.02, 0.0057735), (0.05, 0.0144338), (0.1, 0.0288675), (0.0005 * 25.4, 0.0036662)],
)
def test_resolution_is_a_rectangle_one_step_wide(step: float, published: float) -> None:
    """d / sqrt 12 (closed form; printed to 7 places)."""
    assert resolution(step) == pytest.approx(published, abs=0.5e-7)


def test_a_certificate_is_divided_by_its_factor() -> None:
    """75 nm at k = 3 is 25 nm (JCGM 100:2008, H.1.3.1, read in a public test suite)."""
    assert from_expanded(75.0, 3.0) == pytest.approx(25.0, rel=ROUNDING)
    assert from_expanded(0.1) == pytest.approx(0.05, rel=ROUNDING)


def test_repeated_readings_give_mean_scatter_and_degrees_of_freedom() -> None:
    """5.007 4.994 5.005 4.990 4.999 V: mean 4.9990, u 0.0032 (JCGM 100:2008, H.2, read in a public test suite)."""
    q = repeated([5.007, 4.994, 5.005, 4.990, 4.999], "1", "volts", "reading")
    assert q.value == pytest.approx(4.9990, abs=0.5e-4)
    assert q.standard_uncertainty == pytest.approx(0.0032, abs=0.5e-4)
    assert q.degrees_of_freedom == pytest.approx(4.0, rel=ROUNDING)
    assert budget(q)[0].kind == "A"
    assert budget(q)[0].degrees_of_freedom == pytest.approx(4.0, rel=ROUNDING)


def test_one_reading_tells_nothing_of_its_scatter() -> None:
    """A single reading raises instead of claiming none."""
    with pytest.raises(ValueError, match="at least two"):
        repeated([1.0], "mm", "reading", "reading")


@pytest.mark.parametrize("bad", [-1.0, math.nan, math.inf])
def test_senseless_limits_raise(bad: float) -> None:
    """A half-width is finite and not negative; a trapezium's top is no longer than its base; a factor is positive."""
    with pytest.raises(ValueError, match="limits"):
        rectangular(bad)
    with pytest.raises(ValueError, match="trapezium"):
        trapezoidal(1.0, 1.5)
    with pytest.raises(ValueError, match="coverage factor"):
        from_expanded(1.0, 0.0)
