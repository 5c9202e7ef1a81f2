"""Leaves for a move: only those at hand, each once, the nearest stack first."""

from __future__ import annotations

import itertools
import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutvision.correction import LEAF_SETS, LeafChoice, StackAdvice, find_stack, own_leaves
from cutvision.errors import InputError


def marks(advice: StackAdvice) -> list[str]:
    """What is written on the best stack's leaves."""
    return [leaf.mark for leaf in advice.best.leaves]


def test_the_common_sets() -> None:
    """13 and 20 metric leaves, 26 in inches (common sets, from memory, no standard read)."""
    sizes = {name: [leaf.mark for leaf in one.leaves] for name, one in LEAF_SETS.items()}
    assert {name: len(leaves) for name, leaves in sizes.items()} == {"metric-13": 13, "metric-20": 20, "inch-26": 26}
    assert sizes["metric-13"][:6] == ["0.05 mm", "0.10 mm", "0.15 mm", "0.20 mm", "0.25 mm", "0.30 mm"]
    assert [leaf.thickness_nm for leaf in LEAF_SETS["metric-20"].leaves] == [50_000 * n for n in range(1, 21)]
    assert sizes["inch-26"][:5] == ["0.0015 in", "0.002 in", "0.0025 in", "0.003 in", "0.004 in"]
    assert sizes["inch-26"][-1] == "0.025 in"
    assert LEAF_SETS["inch-26"].leaves[0].thickness_nm == 38_100
    assert all("no standard read" in one.source for one in LEAF_SETS.values())


def test_56_hundredths_from_13_leaves() -> None:
    """0.56 mm, at most 3: 0.55 by two leaves, 0.01 short; nothing nearer, all being multiples of 0.05 (closed form)."""
    advice = find_stack(0.56, LeafChoice(LEAF_SETS["metric-13"], 3))
    assert marks(advice) == ["0.50 mm", "0.05 mm"]
    assert advice.best.short_mm == pytest.approx(0.01, abs=1e-12)
    assert advice.next_best is not None
    assert [leaf.mark for leaf in advice.next_best.leaves] == ["0.40 mm", "0.15 mm"]
    assert advice.next_best.short_mm == pytest.approx(0.01, abs=1e-12)


def test_22_thousandths_are_one_leaf() -> None:
    """0.022 in from the inch set: one leaf, nothing left."""
    advice = find_stack(0.022 * 25.4, LeafChoice(LEAF_SETS["inch-26"], 3))
    assert marks(advice) == ["0.022 in"]
    assert advice.best.short_mm == pytest.approx(0.0, abs=1e-9)


def test_what_is_left_as_an_angle() -> None:
    """0.01 mm left of 0.56 mm at 380 mm: atan(0.56/380) - atan(0.55/380) = 0.0015078 deg (closed form)."""
    left = find_stack(0.56, LeafChoice(LEAF_SETS["metric-13"])).best.angle_left_rad(380.0)
    assert math.degrees(left) == pytest.approx(math.degrees(math.atan(0.56 / 380) - math.atan(0.55 / 380)), rel=1e-12)
    assert math.degrees(left) == pytest.approx(0.0015078, abs=1e-6)


def test_ties_go_to_fewer_leaves_then_to_the_stack_that_falls_short() -> None:
    """0.30 is one leaf, not 0.20 + 0.10; 0.15 between 0.1 and 0.2 is 0.1, which can be added to."""
    leaves = own_leaves([(0.1, "a"), (0.2, "b"), (0.3, "c")])
    assert marks(find_stack(0.3, LeafChoice(leaves))) == ["c"]
    assert marks(find_stack(0.15, LeafChoice(leaves))) == ["a"]


def test_no_leaf_may_be_the_best() -> None:
    """A move of 0.02 mm is spoilt by the thinnest leaf of 0.05 mm."""
    assert marks(find_stack(0.02, LeafChoice(LEAF_SETS["metric-13"]))) == []
    assert find_stack(0.02, LeafChoice(own_leaves([(0.05, "one")]))).next_best is not None


def test_two_leaves_of_one_size_may_both_be_used() -> None:
    """Each listed leaf is one piece of steel: twice 0.10 makes 0.20, once does not."""
    assert marks(find_stack(0.2, LeafChoice(own_leaves([(0.1, "a"), (0.1, "b")])))) == ["a", "b"]
    once = find_stack(0.2, LeafChoice(own_leaves([(0.1, "a")])))
    assert once.best.total_mm == 0.1
    twins = find_stack(0.1, LeafChoice(own_leaves([(0.1, "a"), (0.1, "b")])))
    assert twins.next_best is not None
    assert twins.next_best.total_mm == 0.0


@settings(max_examples=100, deadline=None, derandomize=True)
@given(
    st.lists(st.integers(1, 100), min_size=1, max_size=8),
    st.integers(0, 250),
    st.integers(1, 3),
)
def test_nothing_that_is_at_hand_is_nearer(hundredths: list[int], wanted: int, most: int) -> None:
    """Against a search of all stacks on exact fractions: no other is nearer, and every leaf is one that was listed."""
    leaves = own_leaves([(n / 100, f"{n}/{i}") for i, n in enumerate(hundredths)])
    advice = find_stack(wanted / 100, LeafChoice(leaves, most))
    every = [c for k in range(most + 1) for c in itertools.combinations(hundredths, k)]
    nearest = min(abs(Fraction(wanted - sum(c), 100)) for c in every)
    assert abs(advice.best.short_mm) == pytest.approx(float(nearest), abs=1e-9)
    assert len(advice.best.leaves) == min(len(c) for c in every if abs(Fraction(wanted - sum(c), 100)) == nearest)
    assert len(set(marks(advice))) == len(advice.best.leaves)
    assert set(advice.best.leaves) <= set(leaves.leaves)


@pytest.mark.parametrize("most", [0, -1, 6])
def test_a_stack_has_one_to_five_leaves(most: int) -> None:
    """No leaves, or more than hold still, are refused."""
    with pytest.raises(InputError, match="at most"):
        LeafChoice(LEAF_SETS["metric-13"], most)


def test_a_list_of_leaves_is_neither_empty_nor_endless_nor_of_nothing() -> None:
    """1 to 40 leaves of some thickness."""
    with pytest.raises(InputError, match="list of 0"):
        own_leaves([])
    with pytest.raises(InputError, match="list of 41"):
        own_leaves([(0.1, "a")] * 41)
    for bad in (0.0, -0.1, math.nan):
        with pytest.raises(InputError, match="no thickness"):
            own_leaves([(bad, "x")])


def test_the_stack_is_as_sure_as_its_leaves() -> None:
    """Two leaves within 0.005 mm each: 2 sqrt(2) 0.005 / sqrt(3) = 0.0081650 mm; none said, none told (closed form)."""
    choice = LeafChoice(LEAF_SETS["metric-13"], 3, 0.005)
    best = find_stack(0.56, choice).best
    assert len(best.leaves) == 2
    assert choice.bound_mm(best) == pytest.approx(0.0081650, abs=5e-8)
    assert LeafChoice(LEAF_SETS["metric-13"]).bound_mm(best) is None


@pytest.mark.parametrize("leaf_to_mm", [0.05, -0.001, math.nan, math.inf])
def test_a_leaf_is_truer_than_it_is_thick(leaf_to_mm: float) -> None:
    """A limit as large as the thinnest leaf (0.05 mm), a negative one and none at all are refused."""
    with pytest.raises(InputError, match="true to"):
        LeafChoice(LEAF_SETS["metric-13"], 3, leaf_to_mm)
