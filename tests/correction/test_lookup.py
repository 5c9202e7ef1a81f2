"""A wall card's rows: each is the correction core's, and the span it holds for is where half a leaf is reached."""

from __future__ import annotations

import math

import pytest

from cutvision.correction import LEAF_SETS, Jig, LeafChoice, ReadingCare, decide, find_stack, own_leaves, typed_distance
from cutvision.correction.angle_error import Kept
from cutvision.correction.lookup import (
    MITER_MM,
    MITER_THOU,
    SQUARE_MM,
    SQUARE_THOU,
    check_can_be_held,
    miter_lookup,
    square_lookup,
)
from cutvision.correction.piece_safety import LEAST_LEG_MM
from cutvision.errors import InputError
from cutvision.uncertainty import Quantity

CARE = ReadingCare()
EXACT = 1e-9  # mm; float noise of a few tangents
METRIC = LeafChoice(LEAF_SETS["metric-13"])


def jig(lever_mm: float = 380.0, kept: Kept | None = None, tolerance_rad: float | None = None) -> Jig:
    """A fence with a lever read by a rule."""
    return Jig(typed_distance(lever_mm, "lever", CARE), kept, tolerance_rad)


@pytest.mark.parametrize("kept", ["left", "right", None])
def test_each_row_of_a_45_deg_miter_is_lever_times_difference_over_both_legs(kept: Kept | None) -> None:
    """With a right corner tan(error) = (R - L) / (R + L), so the leaf is F d / (2 W) exactly (closed form)."""
    lookup = miter_lookup(jig(kept=kept), CARE, 102.0, leaves=METRIC)
    assert [row.difference_mm for row in lookup.metric] == list(MITER_MM)
    assert [row.difference_mm / 0.0254 for row in lookup.inch] == pytest.approx(MITER_THOU)
    for row in (*lookup.metric, *lookup.inch):
        leaf_mm = 380 * row.difference_mm / (2 * 102)
        assert row.correction.move.at_shim.value == pytest.approx(leaf_mm, abs=EXACT)
        assert row.stack == find_stack(row.correction.move.at_shim.value, METRIC).best
    assert (lookup.more.side, lookup.more.turn) == ("right", "counterclockwise")
    assert (lookup.less.side, lookup.less.turn) == ("left", "clockwise")


@pytest.mark.parametrize("turns", [4, 2])
def test_each_row_of_a_square_fence_is_the_taper_by_the_turns(turns: int) -> None:
    """F tan(atan(d / X) / turns) (closed form); a strip and a board turn opposite ways."""
    lookup = square_lookup(jig(560.0, "left"), CARE, 380.0, turns)
    assert [row.difference_mm for row in lookup.metric] == list(SQUARE_MM)
    assert [row.difference_mm / 0.0254 for row in lookup.inch] == pytest.approx(SQUARE_THOU)
    for row in (*lookup.metric, *lookup.inch):
        leaf_mm = 560 * math.tan(math.atan(row.difference_mm / 380) / turns)
        assert row.correction.move.at_shim.value == pytest.approx(leaf_mm, abs=EXACT)
        assert row.stack is None
    assert lookup.more.turn == ("clockwise" if turns == 4 else "counterclockwise")
    assert lookup.less.turn == ("counterclockwise" if turns == 4 else "clockwise")


@pytest.mark.parametrize(("kept", "turn"), [("left", "counterclockwise"), ("right", "clockwise")])
def test_each_row_of_another_miter_is_the_fence_legs_angle(kept: Kept, turn: str) -> None:
    """F tan(atan(tan N + d / f) - N) with N = 90 deg less the miter and f = W tan(miter) (closed form)."""
    nominal, true = math.radians(22.5), math.radians(67.5)
    lookup = miter_lookup(jig(kept=kept), CARE, 102.0, nominal)
    fence_leg = 102 * math.tan(nominal)
    for row in lookup.metric:
        leaf_mm = 380 * math.tan(math.atan(math.tan(true) + row.difference_mm / fence_leg) - true)
        assert row.correction.move.at_shim.value == pytest.approx(leaf_mm, abs=EXACT)
    assert (lookup.more.side, lookup.more.turn) == (None, turn)


def test_the_span_ends_where_the_last_row_is_off_by_half_a_leaf() -> None:
    """At the span's ends F d / (2 m) differs from the card's by exactly half of the thinnest leaf (closed form)."""
    lookup = miter_lookup(jig(), CARE, 102.0, leaves=METRIC)
    largest = max(lookup.metric[-1].difference_mm, lookup.inch[-1].difference_mm)
    assert lookup.half_leaf_mm == 0.025
    for size_mm, off_mm in ((lookup.smallest_mm, 0.025), (lookup.largest_mm, -0.025)):
        assert 380 * largest / 2 * (1 / size_mm - 1 / 102) == pytest.approx(off_mm, abs=1e-6)


def test_thick_leaves_and_no_leaves() -> None:
    """With leaves of 5 mm the span ends at half and twice the size; without any set half of 0.05 mm counts."""
    thick = LeafChoice(own_leaves([(5.0, "5mm")]))
    lookup = miter_lookup(jig(), CARE, 102.0, leaves=thick)
    assert (lookup.smallest_mm, lookup.largest_mm) == pytest.approx((51, 204))
    assert miter_lookup(jig(), CARE, 102.0).half_leaf_mm == 0.025


def test_rows_stop_before_the_error_is_more_than_2_deg() -> None:
    """A piece 12 mm wide: a difference of 0.8 mm is 1.9 deg, 0.85 mm is 2.03 deg (closed form)."""
    rows = miter_lookup(jig(), CARE, 12.0).metric
    assert rows[-1].difference_mm == 0.80
    assert math.degrees(math.atan(0.85 / 24)) > 2 > math.degrees(math.atan(0.80 / 24))


def test_rows_stop_where_the_two_signs_part() -> None:
    """A 30 deg miter's moves for plus and minus differ by the rule's curvature; no row differs by half a leaf."""
    nominal, true = math.radians(30), math.radians(60)
    lookup = miter_lookup(jig(kept="left"), CARE, 40.0, nominal)
    fence_leg = 40 * math.tan(nominal)

    def parts_by(difference_mm: float) -> float:
        moves = [
            380 * math.tan(math.atan(math.tan(true) + sign * difference_mm / fence_leg) - true) for sign in (1, -1)
        ]
        return abs(moves[0] + moves[1])

    last = lookup.metric[-1].difference_mm
    assert last < MITER_MM[-1]
    assert parts_by(last) <= 0.025 < parts_by(last + 0.05)


def test_the_band_to_stop_in_is_the_cores_decision() -> None:
    """Every row is what `decide` says of its error, and the fence is moved from one row on, with any tolerance."""
    for tolerance_deg in (None, 0.05, 0.1, 0.2):
        limit = None if tolerance_deg is None else math.radians(tolerance_deg)
        rows = miter_lookup(jig(tolerance_rad=limit), CARE, 102.0).metric
        actions = [row.correction.decision.action for row in rows]
        assert actions == [decide(row.correction.angle_error, limit).action for row in rows]
        assert actions == sorted(actions, key="move".__eq__)
        assert len(set(actions)) == 2
    assert set(actions) == {"leave", "move"}


@pytest.mark.parametrize("size_mm", [0.0, -1.0, math.nan, math.inf])
def test_no_size_is_refused(size_mm: float) -> None:
    """A piece of no size is refused in words, for either card."""
    with pytest.raises(InputError, match="is none"):
        miter_lookup(jig(), CARE, size_mm)
    with pytest.raises(InputError, match="is none"):
        square_lookup(jig(), CARE, size_mm, 4)


def test_a_piece_too_small_for_any_row_is_refused() -> None:
    """At 0.7 mm the smallest difference is over 2 deg already (closed form); at 3 mm and 30 deg the signs part."""
    with pytest.raises(InputError, match="off"):
        miter_lookup(jig(), CARE, 0.7)
    with pytest.raises(InputError, match="too small for a card"):
        miter_lookup(Jig(Quantity(380.0, "mm"), "left"), CARE, 3.0, math.radians(30))


def test_a_piece_too_small_to_hold_gets_no_card() -> None:
    """Below the least leg of a triangle that can be sawn off safely the cautions stand beside the refusal."""
    check_can_be_held(LEAST_LEG_MM)
    with pytest.raises(InputError, match="too small to hold") as refused:
        check_can_be_held(LEAST_LEG_MM - 1)
    assert refused.value.at_the_saw
