"""Move, leave alone, or cannot tell."""

from __future__ import annotations

import math

import pytest

from cutvision.correction import decide
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


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("reading", "Read each distance again"),
        ("broken tips", "sharp tips"),
        ("edge form", "longer test piece"),
        ("corner", "side of the blade"),
        ("print stretch", "quarter turn"),
        ("mapping", "second piece"),
    ],
)
def test_the_remedy_goes_for_the_largest_doubt(name: str, words: str) -> None:
    """When it cannot be told, the cheapest thing is what lessens the largest row of the budget."""
    doubtful = error_of(0.0, 0.05, name).with_influence(Influence("small", "lever"), 1e-6)
    decision = decide(doubtful)
    assert decision.value == "cannot-tell"
    assert words in decision.remedy
    assert decide(error_of(0.0, 0.01, name)).remedy == ""


@pytest.mark.parametrize("tolerance", [0.0, -0.1, math.nan])
def test_a_tolerance_is_positive(tolerance: float) -> None:
    """A tolerance of nothing cannot be met."""
    with pytest.raises(InputError, match="tolerance"):
        decide(error_of(0.1, 0.01), tolerance)
