"""Quantities: sums, differences, units, coverage factors."""

from __future__ import annotations

import math

import pytest

from cutvision.uncertainty import Influence, Quantity, budget, covariance, freedom_of_factor

A = Influence("a", "a")
B = Influence("b", "b")
ROUNDING = 1e-12


def test_a_difference_forgets_what_both_share_and_a_sum_does_not() -> None:
    """Shared 1 and own 0.5 each: difference 0.5 sqrt 2, sum sqrt(4 + 0.5) (closed form)."""
    left = Quantity(10.0, "mm", {A: 1.0, B: 0.5})
    right = Quantity(9.0, "mm", {A: 1.0, Influence("c", "c"): 0.5})
    assert (left - right).standard_uncertainty == pytest.approx(0.5 * math.sqrt(2), rel=ROUNDING)
    assert (left + right).standard_uncertainty == pytest.approx(math.sqrt(4.5), rel=ROUNDING)
    assert covariance([left, right])[0, 1] == pytest.approx(1.0, rel=ROUNDING)
    assert (-left).value == -10.0
    assert (left + 1.0).value == 11.0
    assert (left - 1.0).standard_uncertainty == left.standard_uncertainty


def test_units_are_not_mixed() -> None:
    """A length and an angle have no sum."""
    with pytest.raises(ValueError, match="rad"):
        Quantity(1.0, "mm") + Quantity(1.0, "rad")
    with pytest.raises(ValueError, match="rad"):
        Quantity(1.0, "mm") - Quantity(1.0, "rad")


@pytest.mark.parametrize(
    ("dof", "t"),
    list(
        zip(
            (1, 2, 3, 4, 5, 6, 9, 10, 19, 30),
            (12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.262, 2.228, 2.093, 2.042),
            strict=True,
        )
    ),
)
def test_few_readings_widen_the_bound_by_student_s_t(dof: int, t: float) -> None:
    """t at 95 % (closed form; printed to 3 places)."""
    q = Quantity(0.0, "mm", {Influence("a", "a", "A", degrees_of_freedom=dof): 1.0})
    assert q.coverage_factor == pytest.approx(t, abs=0.5e-3)


def test_many_readings_never_bring_the_factor_below_two() -> None:
    """t at 95 % for infinite degrees of freedom is 1.960; the factor stays 2 (JCGM 100:2008, 6.3.3 and G.6.6)."""
    assert Quantity(0.0, "mm", {A: 1.0}).coverage_factor == 2.0
    assert Quantity(0.0, "mm").coverage_factor == 2.0
    assert Quantity(0.0, "mm").degrees_of_freedom == math.inf


def test_a_row_counts_the_degrees_of_freedom_of_its_own_influences() -> None:
    """Relative u 0.57 (dof 9) and 0.25 (inf) together: 12.796 (Welch-Satterthwaite, a course example, recomputed)."""
    q = Quantity(0.0, "1", {Influence("a1", "a", "A", degrees_of_freedom=9): 0.57, Influence("a2", "a"): 0.25})
    assert budget(q)[0].degrees_of_freedom == pytest.approx(12.796, abs=0.5e-3)
    assert q.degrees_of_freedom == pytest.approx(12.796, abs=0.5e-3)


@pytest.mark.parametrize(
    ("factor", "dof"), [(12.706, 1), (4.303, 2), (2.776, 4), (2.228, 10), (2.0, math.inf), (1.5, math.inf), (99.0, 1)]
)
def test_the_factor_tells_the_degrees_of_freedom(factor: float, dof: float) -> None:
    """t at 95 % turned round (closed form; printed to 3 places); no more than 2 tells of none, and one is the least."""
    assert freedom_of_factor(factor) == pytest.approx(dof, rel=2e-3)
