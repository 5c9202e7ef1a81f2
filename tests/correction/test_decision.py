"""Move, leave alone, or cannot tell."""

from __future__ import annotations

import math
from itertools import groupby

import pytest

from cutvision.correction import (
    DEFAULT_TOLERANCE,
    Jig,
    ReadingCare,
    correct_miter_from_legs,
    decide,
    probability_between,
    typed_corner,
    typed_distance,
    typed_legs,
)
from cutvision.errors import InputError
from cutvision.uncertainty import Influence, Quantity


def error_of(value_deg: float, u_deg: float, name: str = "reading") -> Quantity:
    """An error with one influence."""
    return Quantity(math.radians(value_deg), "rad", {Influence(name, name): math.radians(u_deg)})


@pytest.mark.parametrize(
    ("error", "u", "action"),
    [
        # U 0.04 at most T 0.05: the tolerance decides
        (0.030, 0.020, "leave"),
        (0.050, 0.020, "leave"),
        (0.051, 0.020, "move"),
        (0.080, 0.020, "move"),
        # U 0.08 more than T 0.05: U decides
        (0.000, 0.040, "cannot-tell"),
        (0.060, 0.040, "cannot-tell"),
        (0.080, 0.040, "cannot-tell"),
        (0.081, 0.040, "move"),
        # U is T
        (0.050, 0.025, "leave"),
        (0.051, 0.025, "move"),
    ],
)
def test_the_larger_of_tolerance_and_uncertainty_decides(error: float, u: float, action: str) -> None:
    """Tolerance 0.05 deg, U = 2 u: leave up to T where U <= T; where U > T nothing is told up to U; past either, move.

    The limits themselves count as leave and cannot-tell (closed form).
    """
    for sign in (1, -1):
        assert decide(error_of(sign * error, u), math.radians(0.05)).action == action


@pytest.mark.parametrize("u", [0.0, 0.001, 0.0099, 0.0100, 0.0101, 0.02, 0.1])
@pytest.mark.parametrize("tolerance", [None, 0.02, 0.05])
def test_the_action_changes_once_as_the_error_grows(u: float, tolerance: float | None) -> None:
    """For a fixed uncertainty and tolerance the fence stays up to one size of the error and is moved past it."""
    limit = None if tolerance is None else math.radians(tolerance)
    actions = [decide(error_of(0.001 * step, u), limit).action for step in range(400)]
    runs = [action for action, _ in groupby(actions)]
    assert len(runs) == 2
    assert runs[1] == "move"


def test_shorter_and_shorter_legs_change_the_advice_once() -> None:
    """Legs of 101.62 and 101.47 down to 101.20 mm, tolerance 0.05 deg: what was to be moved stays to be moved."""
    care = ReadingCare()
    jig = Jig(typed_distance(380.0, "lever", care), "left", math.radians(0.05))
    actions = []
    for step in range(28):
        left, right = typed_legs(101.62, 101.47 - 0.01 * step, care)
        actions.append(correct_miter_from_legs(left, right, typed_corner(math.pi / 2, care), jig).decision.action)
    assert [action for action, _ in groupby(actions)] == ["leave", "move"]


def test_the_tolerance_is_a_stated_default_when_nobody_gave_one() -> None:
    """0.1 mm over 300 mm (common practice, no source): 0.0191 deg, marked as the default and named in words."""
    assert math.degrees(DEFAULT_TOLERANCE.angle_rad) == pytest.approx(0.019099, abs=1e-6)
    without = decide(error_of(0.019, 0.001))
    assert (without.action, without.tolerance_is_default) == ("leave", True)
    assert (without.tolerance_rad, without.tolerance_said) == (DEFAULT_TOLERANCE.angle_rad, "0.1 mm over 300 mm")
    assert decide(error_of(0.0192, 0.001)).action == "move"
    given = decide(error_of(0.03, 0.001), math.radians(0.05), said="3min")
    assert (given.tolerance_said, given.tolerance_is_default) == ("3min", False)
    assert decide(error_of(0.03, 0.001), math.radians(0.05)).tolerance_said == "0.05 deg"


def test_a_move_leaves_at_worst_what_the_error_is_not_known_to() -> None:
    """After a move by the error the fence stands within U of true; without a move nothing is promised."""
    moved = decide(error_of(0.3, 0.04), math.radians(0.05))
    assert math.degrees(moved.at_worst_rad or 0.0) == pytest.approx(0.08)
    assert math.degrees(moved.bound_rad) == pytest.approx(0.08)
    assert decide(error_of(0.03, 0.02), math.radians(0.05)).at_worst_rad is None
    assert decide(error_of(0.03, 0.04), math.radians(0.05)).at_worst_rad is None


def test_nothing_both_moves_and_cannot_tell() -> None:
    """Only "move" moves; what would tell is named only where it cannot be told."""
    for error, u in ((0.03, 0.01), (0.03, 0.04), (0.2, 0.04), (0.09, 0.01)):
        found = decide(error_of(error, u), math.radians(0.05))
        assert found.moves == (found.action == "move")
        assert (found.remedy is None) == (found.action != "cannot-tell")


def test_without_the_kept_side_a_photo_advises_no_move() -> None:
    """However large the error, the kept side comes first."""
    found = decide(error_of(0.5, 0.01, "corner"), math.radians(0.05), needs_kept=True)
    assert (found.action, found.moves, found.at_worst_rad) == ("needs-kept", False, None)
    assert found.remedy is not None
    assert "left or right" in found.remedy.what
    assert found.remedy.bound_after_rad == 0.0


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
