"""Tail probabilities against printed tables, and the shortcut for infinite degrees of freedom against scipy."""

from __future__ import annotations

import math
import subprocess
import sys

import pytest
from scipy import special

from cutvision.uncertainty.distributions import (
    chi_square_above,
    chi_square_exceeded,
    f_above,
    student_below,
    student_freedom,
    student_quantile,
)


@pytest.mark.parametrize(("freedom", "t"), [(1, 12.71), (2, 4.30), (5, 2.57), (10, 2.23), (50, 2.01)])
def test_student_s_t(freedom: int, t: float) -> None:
    """t for 95 % on both sides. Source: JCGM 100:2008, table G.2, two decimals."""
    assert student_quantile(freedom, 0.975) == pytest.approx(t, abs=0.005)
    assert student_below(freedom, student_quantile(freedom, 0.975)) == pytest.approx(0.975, rel=1e-12)
    assert student_freedom(student_quantile(freedom, 0.975), 0.975) == pytest.approx(freedom, rel=1e-6)


@pytest.mark.parametrize("z", [-37.0, -8.0, -1.0, 0.0, 0.3, 5.0, math.inf, -math.inf])
def test_infinite_freedom_is_the_normal(z: float) -> None:
    """Without a doubt of its own the standard deviation makes t normal, far out in the tail too."""
    assert student_below(math.inf, z) == pytest.approx(float(special.ndtr(z)), rel=1e-12, abs=0)


@pytest.mark.parametrize(("freedom", "square"), [(1, 3.841), (4, 9.488), (10, 18.307)])
def test_chi_square(freedom: int, square: float) -> None:
    """The square exceeded by chance in 5 %. Source: the usual printed table, three decimals, from memory."""
    assert chi_square_exceeded(freedom, 0.05) == pytest.approx(square, abs=0.0005)
    assert chi_square_above(freedom, square) == pytest.approx(0.05, abs=1e-4)


def test_f() -> None:
    """F(2, 10) exceeds 4.10 in 5 %. Source: the usual printed table, two decimals, from memory."""
    assert f_above(2, 10, 4.10) == pytest.approx(0.05, abs=2e-4)


def test_a_correction_loads_no_scipy() -> None:
    """The correction's module is there without scipy, which takes longer to load than all else."""
    code = "import cutvision.correction, sys; sys.exit('scipy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
