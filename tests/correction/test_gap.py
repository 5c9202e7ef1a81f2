"""The fence from a gap: figures from geometry, and every sign from the motion: square, pieces and frame laid out.

The table seen from above as complex numbers: x to the right, y away from the person behind the saw, the blade's path
x = 0. None of the program's formulas is used for what is seen.
"""

from __future__ import annotations

import cmath
import math
from typing import Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutvision.correction import (
    Correction,
    EdgeForm,
    Jig,
    Kept,
    ReadingCare,
    correct_direct,
    correct_facing,
    correct_frame,
    gap_assumptions,
    typed_distance,
    typed_gap,
    typed_gauge,
)
from cutvision.correction.gap import FrameGap, GapEnd
from cutvision.errors import InputError
from cutvision.reports.says_correction import headline
from cutvision.uncertainty import Quantity, budget

LEVER = Quantity(380.0, "mm")
TRUE = Quantity(0.0, "rad")
SMOOTH = EdgeForm(rms_mm=0.0)
KEPT: tuple[Kept, Kept] = ("left", "right")
many = settings(max_examples=200, deadline=None, derandomize=True)
errors_deg = st.floats(-1.0, 1.0).filter(lambda e: abs(e) > 1e-6)
sides_of_blade = st.sampled_from(KEPT)


def mm(value: float) -> Quantity:
    """An exact length."""
    return Quantity(value, "mm")


def turned_true(fence: complex, correction: Correction) -> complex:
    """The fence's direction after its lever was pushed at right angles by the said amount, the said way."""
    turn = math.atan2(correction.fence_move.value, correction.move.lever.value)
    return fence * cmath.rect(1.0, -turn if correction.turn == "clockwise" else turn)


def beside_the_blade(direction: complex, from_square: complex, side: Kept, length: float) -> tuple[float, GapEnd]:
    """The gap at the end of a square's arm, and the end: the arm starts at the fence and is slid against the blade."""
    inward = -1 if side == "left" else 1
    stock = direction * inward
    arm = stock * (from_square.conjugate() if side == "left" else from_square)
    start, end = 0j, arm * length
    nearest = min(start.real * inward, end.real * inward)
    away = [(point.real * inward - nearest) for point in (start, end)]
    # A leaf stands square to the arm; the plate stands along y.
    lean = abs(arm.imag)
    return (away[1] / lean, "far") if away[1] > away[0] else (away[0] / lean, "fence")


@many
@given(
    error_deg=errors_deg,
    side=sides_of_blade,
    nominal_deg=st.floats(0.0, 60.0),
    length=st.floats(50.0, 300.0),
    other_way=st.booleans(),
)
def test_a_gap_beside_a_square_turns_the_fence_true(
    error_deg: float, side: Kept, nominal_deg: float, length: float, *, other_way: bool
) -> None:
    """Fence off by any error and leaning either way, square on either side, any setting: the move leaves nothing."""
    nominal = math.radians(nominal_deg)
    setting = -nominal if other_way else nominal
    lean = setting if side == "left" else -setting
    fence = cmath.rect(1.0, lean + math.radians(error_deg))
    gap, end = beside_the_blade(fence, cmath.rect(1.0, math.pi / 2 + setting), side, length)
    correction = correct_direct(mm(gap), mm(length), end, TRUE, Jig(LEVER, side), nominal)
    assert math.degrees(correction.angle_error.value) == pytest.approx(error_deg, abs=1e-9)
    assert cmath.phase(turned_true(fence, correction)) == pytest.approx(lean, abs=1e-11)


@many
@given(errors_deg, sides_of_blade, st.floats(60.0, 400.0))
def test_two_pieces_face_to_face_turn_the_fence_true(error_deg: float, kept: Kept, width: float) -> None:
    """Two pieces cut at a fence, one turned over, put together on a straight edge: the said move leaves nothing."""
    fence = cmath.rect(1.0, math.radians(error_deg))
    along = -fence if kept == "left" else fence
    corner = abs(cmath.phase(1j / along))
    # One piece lies left with its corner at the bottom right, the other is its mirror image.
    left_cut, right_cut = cmath.rect(width, math.pi - corner), cmath.rect(width, corner)
    touch_at_bottom = left_cut.real < right_cut.real
    end: Literal["fence", "far"] = "far" if touch_at_bottom else "fence"
    opening = abs(cmath.phase(left_cut / right_cut))
    gap = width * math.tan(opening)
    correction = correct_facing(mm(gap), mm(width), end, Jig(LEVER, kept), edge_form=SMOOTH)
    assert math.degrees(correction.angle_error.value) == pytest.approx(error_deg, abs=1e-9)
    assert cmath.phase(turned_true(fence, correction)) == pytest.approx(0.0, abs=1e-11)
    assert correction.side == ("toward-work" if corner > math.pi / 2 else "away-from-work")
    unknown = correct_facing(mm(gap), mm(width), end, Jig(LEVER), edge_form=SMOOTH)
    assert (unknown.turn, unknown.side) == (None, correction.side)
    assert math.degrees(unknown.angle_error.value) == pytest.approx(math.degrees(corner) - 90, abs=1e-9)


def last_joint(miter_rad: float, sides: int, stock: float) -> tuple[float, Literal["heel", "toe"]]:
    """Sides laid one after another, each joint shut: the gap where the last side meets the first, and at which end.

    Rails run counterclockwise, the outer edge on their right; both cuts of a rail stand `miter_rad` off square.
    """
    direction = cmath.rect(1.0, 2 * miter_rad * (sides - 1))
    face = stock / math.cos(miter_rad)
    # From the outer corner to the inner: backwards along the rail at its end, forwards at its start.
    last = face * direction * 1j * cmath.rect(1.0, miter_rad)
    first = face * 1j * cmath.rect(1.0, -miter_rad)
    opening = cmath.phase(first / last)
    # Put together at the toe, the faces gape at the heel or overlap; a gape is the last face lying behind the first.
    return abs(first - last), "heel" if opening < 0 else "toe"


@many
@given(st.floats(-0.2, 0.2).filter(lambda e: abs(e) > 1e-6), sides_of_blade, st.integers(3, 12), st.floats(30.0, 120.0))
def test_the_last_joint_of_a_frame_turns_the_fence_true(error_deg: float, kept: Kept, sides: int, stock: float) -> None:
    """Any fence, frame and kept side: with the gap of the frame laid out, the said move leaves nothing."""
    true = math.pi / sides if kept == "left" else -math.pi / sides
    fence = cmath.rect(1.0, true + math.radians(error_deg))
    miter = abs(cmath.phase(fence))
    gap, end = last_joint(miter, sides, stock)
    correction = correct_frame(mm(gap), mm(stock), sides, end, Jig(LEVER, kept), edge_form=SMOOTH)
    assert math.degrees(correction.angle_error.value) == pytest.approx(error_deg, abs=1e-8)
    assert cmath.phase(turned_true(fence, correction)) == pytest.approx(true, abs=1e-10)
    assert correction.side is None


@pytest.mark.parametrize("sides", [3, 4, 6])
@pytest.mark.parametrize("error_deg", [-1.0, 1.0])
def test_a_frame_far_off_is_judged_by_the_cuts_as_they_are(sides: int, error_deg: float) -> None:
    """At 1 deg the faces of a triangle's cuts are 3 % longer or shorter than true ones, far beyond the uncertainty."""
    miter = math.pi / sides + math.radians(error_deg)
    gap, end = last_joint(miter, sides, 60.0)
    care = ReadingCare()
    found = correct_frame(typed_gap(gap, care), typed_distance(60.0, "stock", care), sides, end, Jig(LEVER, "left"))
    assert math.degrees(found.angle_error.value) == pytest.approx(error_deg, abs=1e-8)


@pytest.mark.parametrize("kept", ["left", "right"])
@pytest.mark.parametrize("error_deg", [-0.4, -0.1])
def test_a_stiff_frame_is_read_at_both_ends_of_its_last_joint(kept: Kept, error_deg: float) -> None:
    """Joints held shut from heel to toe add up along the frame: the wider end alone reads some times too much.

    Four sides laid end to end with their faces together, 300 mm along the outer edge: what toe and heel of the last
    joint are apart, the one less the other, is the opening, however far apart the faces stand.
    """
    sides, stock, side = 4, 60.0, 300.0
    miter = math.pi / sides + math.radians(error_deg)
    toe, heel, direction = 0j, stock * (math.tan(miter) + 1j), 1 + 0j
    first = (toe, heel)
    for _ in range(sides):
        along = side - 2 * stock * math.tan(miter)
        end_toe, end_heel = toe + side * direction, heel + along * direction
        toe, heel, direction = end_toe, end_heel, direction * cmath.rect(1.0, 2 * miter)
    apart = {"toe": abs(toe - first[0]), "heel": abs(heel - first[1])}
    jig = Jig(LEVER, kept)
    sign = 1 if kept == "left" else -1
    ends: tuple[FrameGap, FrameGap] = ("toe", "heel")
    for read, beside in (ends, ends[::-1]):
        found = correct_frame(
            mm(apart[read]), mm(stock), sides, read, jig, other_end=mm(apart[beside]), edge_form=SMOOTH
        )
        assert math.degrees(found.angle_error.value) == pytest.approx(sign * error_deg, rel=0.02)
    alone = correct_frame(mm(apart["toe"]), mm(stock), sides, "toe", jig, edge_form=SMOOTH)
    assert abs(alone.angle_error.value) > 2 * abs(math.radians(error_deg))


def test_both_ends_of_a_joint_are_read_apart() -> None:
    """Two readings of one care: neither's doubt takes the other's away; u of the difference is sqrt 2 times one."""
    care = ReadingCare()
    gap, stock, jig = typed_gap(0.5, care), mm(60.0), Jig(LEVER, "left")
    one = correct_frame(gap, stock, 4, "toe", jig, edge_form=SMOOTH)
    both = correct_frame(gap, stock, 4, "toe", jig, other_end=typed_gap(0.0, care), edge_form=SMOOTH)
    rows = [next(row for row in budget(found.angle_error) if row.name == "gap") for found in (one, both)]
    assert rows[1].contribution == pytest.approx(math.sqrt(2) * rows[0].contribution, rel=1e-9)


def test_a_square_frame_cut_short_gapes_at_its_toe() -> None:
    """Four sides with square ends turned by 90 deg touch at their inner corners: too little miter opens the toe."""
    assert last_joint(math.radians(44.0), 4, 60.0)[1] == "toe"
    assert last_joint(math.radians(46.0), 4, 60.0)[1] == "heel"


def test_a_leaf_of_half_a_millimetre_over_300() -> None:
    """Face to face 0.5 over 300: atan(0.5/300)/2 = 0.04774644 deg (closed form); direct it is twice that."""
    facing = correct_facing(mm(0.5), mm(300.0), "fence", Jig(LEVER, "left"), edge_form=SMOOTH)
    assert math.degrees(facing.angle_error.value) == pytest.approx(0.04774644, abs=0.5e-8)
    assert math.degrees(facing.first_order.angle_rad) == pytest.approx(math.degrees(0.5 / 600), rel=1e-12)
    direct = correct_direct(mm(0.5), mm(300.0), "far", TRUE, Jig(LEVER, "left"))
    assert math.degrees(direct.angle_error.value) == pytest.approx(0.09549288, abs=1e-8)
    assert direct.first_order.move_mm == pytest.approx(380 * 0.5 / 300, rel=1e-12)


@pytest.mark.parametrize(
    ("sides", "error_deg", "stock", "gap", "first_order_gap"),
    [
        (4, 0.1, 60.0, 1.1847592, 1.1847688),
        (8, 0.1, 60.0, 1.8135065, None),
        (6, 0.05, 50.0, 0.6045970, None),
    ],
)
def test_gaps_of_closed_frames(
    sides: int, error_deg: float, stock: float, gap: float, first_order_gap: float | None
) -> None:
    """The gap at the last joint of N sides, each cut short by e: 2 face sin(N e), face = stock/cos(180/N) (closed).

    That is the joint's length to first order; the cuts as they are, stock / cos(180/N - e), gape that much less.
    """
    true = math.pi / sides
    gap *= math.cos(true) / math.cos(true - math.radians(error_deg))
    correction = correct_frame(mm(gap), mm(stock), sides, "toe", Jig(LEVER, "left"), edge_form=SMOOTH)
    assert math.degrees(correction.angle_error.value) == pytest.approx(-error_deg, abs=1e-8)
    assert correction.turn == "counterclockwise"
    if first_order_gap is not None:
        rule = correct_frame(mm(first_order_gap), mm(stock), sides, "toe", Jig(LEVER, "left"), edge_form=SMOOTH)
        assert math.degrees(rule.first_order.angle_rad) == pytest.approx(-error_deg, abs=1e-8)


def test_the_budgets_name_what_is_in_doubt() -> None:
    """Square, gap and length; for wood also its edges; for a frame its other joints and its stock."""
    care = ReadingCare()
    gap, over = typed_gap(0.5, care), typed_distance(300.0, "over", care)
    direct = correct_direct(gap, over, "far", typed_gauge(care), Jig(LEVER, "left"))
    assert [row.name for row in budget(direct.angle_error)] == ["square's own angle", "gap", "length beside the gap"]
    # 0.03 deg, 0.05/300 and 0.5 x 1/300^2 rad, each over sqrt 3 (closed form, to first order of the angle).
    assert math.degrees(direct.angle_error.standard_uncertainty) == pytest.approx(0.0181777, abs=2e-7)
    facing = correct_facing(gap, over, "far", Jig(LEVER))
    assert {row.name for row in budget(facing.angle_error)} == {"edge form", "gap", "length beside the gap"}
    frame = correct_frame(gap, typed_distance(60.0, "stock", care), 4, "toe", Jig(LEVER, "left"))
    assert {row.name for row in budget(frame.angle_error)} == {
        "edge form",
        "gap",
        "closed joints",
        "width of the stock",
    }
    assert [note.name for note in frame.notes] == ["one-fence", "fence-leans"]
    assert [one.name for one in gap_assumptions(care, "direct")] == ["gap", "distance", "gauge"]
    assert [one.name for one in gap_assumptions(care, "frame")] == ["gap", "distance", "edge form", "shut"]
    assert gap_assumptions(ReadingCare(gap_to_mm=0.0, distance_to_mm=0.0, edge_form_mm=0.0), "facing") == ()


def test_no_gap_names_no_side() -> None:
    """A leaf that does not go in at all: nothing to turn, nothing to move, no traceback in the text."""
    for correction in (
        correct_direct(mm(0.0), mm(300.0), "far", TRUE, Jig(LEVER, "right")),
        correct_facing(mm(0.0), mm(300.0), "far", Jig(LEVER, "right"), edge_form=SMOOTH),
    ):
        assert (correction.side, correction.turn, correction.decision.action) == (None, None, "leave")
        assert headline(correction)[0].startswith("Leave the fence alone")


@pytest.mark.parametrize("bad", [-0.1, math.nan, math.inf])
def test_gaps_and_lengths_that_are_none_are_refused(bad: float) -> None:
    """A gap is not negative, a length is positive, both finite."""
    for gap, over in ((bad, 300.0), (0.5, bad), (0.5, 0.0)):
        with pytest.raises(InputError, match=r"gap"):
            correct_direct(mm(gap), mm(over), "far", TRUE, Jig(LEVER, "left"))
        with pytest.raises(InputError, match=r"gap"):
            correct_frame(mm(gap), mm(over), 4, "toe", Jig(LEVER, "left"))


def test_what_else_is_refused() -> None:
    """No side, no such frame, a gap wider than the joint, an error over 2 deg, a cut that is none."""
    left = Jig(LEVER, "left")
    with pytest.raises(InputError, match="square lies"):
        correct_direct(mm(0.5), mm(300.0), "far", TRUE, Jig(LEVER))
    with pytest.raises(InputError, match="were kept"):
        correct_frame(mm(0.5), mm(60.0), 4, "toe", Jig(LEVER))
    for sides in (2, 0, 25):
        with pytest.raises(InputError, match="sides cannot be judged"):
            correct_frame(mm(0.5), mm(60.0), sides, "toe", left)
    with pytest.raises(InputError, match="wider than a joint"):
        correct_frame(mm(170.0), mm(60.0), 4, "toe", left)
    with pytest.raises(InputError, match="2 deg"):
        correct_direct(mm(15.0), mm(300.0), "far", TRUE, left)
    with pytest.raises(InputError, match="is none"):
        correct_direct(mm(0.5), mm(300.0), "far", TRUE, left, math.radians(95.0))
