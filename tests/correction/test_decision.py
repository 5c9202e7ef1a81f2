"""Move, leave alone, or cannot tell."""

from __future__ import annotations

import math

import pytest

from cutvision.correction import decide, probability_between
from cutvision.correction.decision import COARSE_BOUND_RAD
from cutvision.errors import InputError
from cutvision.uncertainty import Influence, Quantity


def error_of(value_deg: float, u_deg: float, name: str = "reading") -> Quantity:
    """An error with one influence."""
    return Quantity(math.radians(value_deg), "rad", {Influence(name, name): math.radians(u_deg)})


@pytest.mark.parametrize(
    ("error", "outcome"),
    [
        (0.040, "cannot-tell"),
        (0.030, "leave"),
        (0.080, "move"),
        (-0.040, "cannot-tell"),
        (-0.030, "leave"),
        (-0.080, "move"),
    ],
)
def test_the_guard_band_decides(error: float, outcome: str) -> None:
    """Tolerance 0.05 deg, u 0.010, U = 2u: 0.030 is in (its limit counts as in), 0.040 cannot be told, 0.080 is out.

    Source: JCGM 106 with a guard band of U (closed form).
    """
    assert decide(error_of(error, 0.010), math.radians(0.05)).value == outcome


@pytest.mark.parametrize(
    ("error", "u", "outcome"),
    [
        (0.05, 0.02, "move"),
        (-0.05, 0.02, "move"),
        (0.03, 0.02, "leave"),
        (0.03, 0.03, "cannot-tell"),
        (0.0, 0.02, "leave"),
    ],
)
def test_without_a_tolerance_the_bound_decides(error: float, u: float, outcome: str) -> None:
    """Out of its bound U = 2u: move; inside: leave, unless U exceeds 0.05 deg, which could hide a gap that shows."""
    assert math.degrees(COARSE_BOUND_RAD) == pytest.approx(0.05)
    assert decide(error_of(error, u)).value == outcome


def test_conformity_and_its_probability_go_with_a_tolerance_only() -> None:
    """In, out or cannot tell, with the probability of lying within; both are None when no tolerance was asked for."""
    limit = math.radians(0.05)
    assert [decide(error_of(value, 0.010), limit).conformity for value in (0.03, 0.04, 0.08)] == [
        "in",
        "cannot-tell",
        "out",
    ]
    without = decide(error_of(0.03, 0.010))
    assert (without.conformity, without.probability_within) == (None, None)
    assert decide(error_of(0.03, 0.010), limit, said="3min").tolerance_said == "3min"


def test_the_probability_does_not_care_for_the_sign() -> None:
    """An error and its mirror image lie within the tolerance as probably, to the last digits of a small number."""
    limit = math.radians(0.05)
    for size in (0.0, 0.04, 0.08, 0.2):
        one, other = (decide(error_of(sign * size, 0.010), limit).probability_within for sign in (1, -1))
        assert one == pytest.approx(other, rel=1e-9)
    assert decide(error_of(0.2, 0.010), limit).probability_within > 0


def test_a_value_without_doubt_is_in_or_out() -> None:
    """With no uncertainty the probability is 1 or 0, the limit itself counting as in."""
    certain = Quantity(0.5, "1")
    assert probability_between(certain, 0.0, 0.5) == 1.0
    assert probability_between(certain, 0.0, 0.49) == 0.0


@pytest.mark.parametrize("tolerance", [0.0, -0.1, math.nan])
def test_a_tolerance_is_positive(tolerance: float) -> None:
    """A tolerance of nothing cannot be met."""
    with pytest.raises(InputError, match="tolerance"):
        decide(error_of(0.1, 0.01), tolerance)
