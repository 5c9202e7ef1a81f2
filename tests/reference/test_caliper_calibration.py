"""EA-4/02 M, supplement S10: a vernier caliper of 0.05 mm checked on a gauge block of 150 mm (result: from memory).

Lengths in mm. Inputs and result as the document prints them; exact halves of its limits give 32.3 um.
"""

from __future__ import annotations

import math

import pytest

from cutvision.correction.instruments import INSTRUMENTS
from cutvision.uncertainty import Influence, Quantity, budget, propagate, rectangular, resolution, trapezoidal

BETA = (50 - 25) / (50 + 25)


def caliper_error() -> Quantity:
    """E = indicated - block + block x expansion x temperature difference + resolution + mechanical effects."""

    def known(value: float, u: float, name: str) -> Quantity:
        return Quantity(value, "mm", {Influence(name, name): u})

    indicated = Quantity(150.10, "mm")
    block = known(150.0, rectangular(0.0008), "gauge block")
    temperature = known(0.0, rectangular(2.0), "temperature difference")  # in K
    display = known(0.0, resolution(0.05), "resolution")
    mechanical = known(0.0, rectangular(0.05), "mechanical effects")
    return propagate(
        indicated.value - block.value,
        "mm",
        ((block, -1.0), (temperature, 150.0 * 11.5e-6), (display, 1.0), (mechanical, 1.0)),
    )


def test_the_budget_of_a_caliper_at_150_mm() -> None:
    """Error 0.10 mm, standard uncertainty 33 um (exact halves: 32.3); mechanical effects and resolution dominate."""
    error = caliper_error()
    assert error.value == pytest.approx(0.10, abs=1e-9)
    assert error.standard_uncertainty == pytest.approx(0.0324, abs=0.0001)
    rows = budget(error)
    assert [row.name for row in rows] == [
        "mechanical effects",
        "resolution",
        "temperature difference",
        "gauge block",
    ]
    # 29, 15, 2.0 and 0.46 um, each rounded as printed.
    assert [row.contribution for row in rows] == pytest.approx([0.029, 0.0144, 0.0020, 0.00046], rel=0.01)


def test_two_rectangles_make_a_trapezium() -> None:
    """Rectangles of 50 and 25 um add to a trapezium of base 75 and top 25: the same standard uncertainty (4.3.9)."""
    together = math.hypot(rectangular(50.0), rectangular(25.0))
    assert trapezoidal(75.0, BETA) == pytest.approx(together, rel=1e-12)


def test_its_coverage_factor_is_1_83_and_ours_is_never_smaller() -> None:
    """k = (1 - sqrt(0.05 (1 - beta^2))) / sqrt((1 + beta^2)/6) = 1.83 covers 95 %: U 0.06 mm; ours is k = 2."""
    k = (1 - math.sqrt(0.05 * (1 - BETA**2))) / math.sqrt((1 + BETA**2) / 6)
    assert k == pytest.approx(1.83, abs=0.005)
    # The trapezium beyond k u: a corner triangle at each end, its area by plain geometry.
    base, top = 75.0, 25.0
    beyond = base - k * trapezoidal(75.0, BETA)
    height = 1 / (base + top)
    assert 2 * (beyond * height * beyond / (base - top) / 2) == pytest.approx(0.05, rel=1e-9)
    error = caliper_error()
    assert round(k * error.standard_uncertainty, 2) == 0.06
    assert error.expanded_uncertainty == pytest.approx(2 * error.standard_uncertainty, rel=1e-12)


def test_the_record_of_that_caliper_covers_the_check() -> None:
    """Its own record allows 50 um at 150 mm (DIN 862), the document's half-width for mechanical effects."""
    assert INSTRUMENTS["vernier-0.05mm"].limit_mm(150.0) == 0.05
    assert INSTRUMENTS["vernier-0.05mm"].step_mm == 0.05
