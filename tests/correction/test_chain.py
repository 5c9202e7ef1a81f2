"""The chain to a tight joint: every effect in closed form."""

from __future__ import annotations

import math

import pytest

from cutvision.correction.chain import Joint, JointChain, LinkShare, blade_lean_mm, joint_chain, link_names
from cutvision.correction.piece_safety import PlanKind
from cutvision.errors import InputError

DEG = math.radians(1.0)


def chain(kind: PlanKind = "miter") -> JointChain:
    """A joint 100 mm wide in stock 20 mm thick, tolerance 0.05 deg, bound 0.02 deg; links as assumed."""
    return joint_chain(kind, 0.05 * DEG, 0.02 * DEG, joint_width_mm=100.0, thickness_mm=20.0)


def joint(made: JointChain, kind: str) -> Joint:
    """The joint of that kind."""
    return next(one for one in made.joints if one.kind == kind)


def share(made: JointChain, kind: str, name: str) -> LinkShare:
    """A link's part in it."""
    return next(one for one in joint(made, kind).shares if one.link.name == name)


@pytest.mark.parametrize(
    ("name", "one_arm", "each_arm"),
    [
        ("blade to table", 2 * 20, 2 * 20),
        ("runner play", math.sqrt(2) * 100, math.sqrt(2) * 100),
        ("sled square", 100, 0),
        ("blank's corner", 100, 0),
        ("V's own angle", 0, 100),
        ("miter setting", 2 * 100, 0),
    ],
)
def test_each_link_alone_opens_a_miter_by_its_closed_form(name: str, one_arm: float, each_arm: float) -> None:
    """0.1 deg of one link alone: length x times x tan; half of the corner goes into each of a joint's two cuts."""
    links = dict.fromkeys(link_names("miter"), 0.0) | {name: 0.1 * DEG}
    made = joint_chain("miter", 0.05 * DEG, 0.02 * DEG, joint_width_mm=100.0, thickness_mm=20.0, said_rad=links)
    tangent = math.tan(0.1 * DEG)
    assert joint(made, "one arm").squares_mm == pytest.approx(one_arm * tangent, abs=1e-12)
    assert joint(made, "each arm").squares_mm == pytest.approx(each_arm * tangent, abs=1e-12)


def test_the_blade_off_its_slot_leans_the_face() -> None:
    """Radius 127 mm raised 10 mm over 19 mm of wood: half chords 80.777472 mm at the table, 49.396356 mm on top."""
    at_table = math.sqrt(127**2 - (127 - 29) ** 2)
    on_top = math.sqrt(127**2 - (127 - 10) ** 2)
    assert (at_table, on_top) == (pytest.approx(80.777472, abs=1e-6), pytest.approx(49.396356, abs=1e-6))
    assert blade_lean_mm(19.0) == pytest.approx(at_table - on_top)


def test_runner_play_of_a_tenth_over_450_is_the_stated_angle() -> None:
    """atan(0.1/450) = 0.0127324 deg (closed form), once in a square joint 100 mm wide: 0.0222 mm."""
    play = share(chain("square"), "square", "runner play")
    assert math.degrees(play.link.half_width_rad) == pytest.approx(0.0127324, abs=5e-8)
    assert play.squares_mm == pytest.approx(100 * 0.1 / 450)


def test_totals_are_root_sum_of_squares_and_sum() -> None:
    """Squares add for the first total, amounts for the worst case; shares come to one; the worse joint stands first."""
    made = chain()
    for one in made.joints:
        assert one.squares_mm**2 == pytest.approx(sum(part.squares_mm**2 for part in one.shares))
        assert one.worst_mm == pytest.approx(sum(part.worst_mm for part in one.shares))
        assert sum(part.share for part in one.shares) == pytest.approx(1.0)
        assert one.worst_mm >= one.squares_mm
    assert made.joints[0].squares_mm >= made.joints[1].squares_mm


def test_two_cuts_with_play_add_in_squares_but_may_add_up_at_worst() -> None:
    """Runner play is drawn anew in each of the two cuts: sqrt 2 times in squares, twice at worst."""
    play = share(chain(), "one arm", "runner play")
    assert play.worst_mm == pytest.approx(math.sqrt(2) * play.squares_mm)


def test_the_largest_removable_share_is_next() -> None:
    """A blade 1 deg off outweighs all; truing it to what careful work leaves takes most of the squares away."""
    links = {"blade to table": 1.0 * DEG}
    made = joint_chain("miter", 0.05 * DEG, 0.02 * DEG, joint_width_mm=100.0, thickness_mm=20.0, said_rad=links)
    assert made.true_next is not None
    assert made.true_next.name == "blade to table"
    part = share(made, made.joints[0].kind, "blade to table")
    left = 40 * math.tan(0.03 * DEG)
    assert part.removable == pytest.approx((part.squares_mm**2 - left**2) / made.joints[0].squares_mm ** 2)


def test_nothing_is_next_when_all_is_as_true_as_work_can_make_it() -> None:
    """Every link at nothing: no gap, no share, nothing to true."""
    made = joint_chain(
        "square",
        0.05 * DEG,
        0.02 * DEG,
        joint_width_mm=60.0,
        thickness_mm=19.0,
        said_rad=dict.fromkeys(link_names("square"), 0.0),
    )
    assert made.true_next is None
    assert made.joints[0].squares_mm == 0
    assert {part.share for part in made.joints[0].shares} == {0.0}


@pytest.mark.parametrize(
    ("name", "value_deg", "words"),
    [
        ("belt", 0.1, "no link 'belt'"),
        ("V's own angle", 0.1, "no link"),
        ("runner play", 9.0, "off by 9 deg"),
        ("runner play", -0.1, "off by -0.1 deg"),
        ("runner play", math.nan, "off by nan deg"),
    ],
)
def test_a_link_that_is_none_is_refused(name: str, value_deg: float, words: str) -> None:
    """A square cut's chain has no V; values outside 0 to 5 deg are no link's."""
    with pytest.raises(InputError, match=words):
        joint_chain(
            "square", 0.05 * DEG, 0.02 * DEG, joint_width_mm=60.0, thickness_mm=19.0, said_rad={name: value_deg * DEG}
        )


@pytest.mark.parametrize("width", [0.0, -5.0, math.nan, math.inf])
def test_a_joint_without_a_width_is_refused(width: float) -> None:
    """A width that is no positive length is refused in words."""
    with pytest.raises(InputError, match="wide is none"):
        joint_chain("miter", 0.05 * DEG, 0.02 * DEG, joint_width_mm=width, thickness_mm=19.0)
