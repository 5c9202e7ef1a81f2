"""What an error of the cut means in the joints of a frame: gaps at heel or toe, what adds up, what closes."""

from __future__ import annotations

import math

import pytest

from cutvision.correction import (
    Jig,
    ReadingCare,
    correct_frame,
    correct_miter_from_legs,
    joint_error,
    typed_corner,
    typed_distance,
    typed_gap,
    typed_legs,
)
from cutvision.correction.joint import (
    VISIBLE_MM,
    JointPreview,
    check_miter,
    frame_miter,
    open_frame,
    preview_from,
    preview_joints,
    sight,
)
from cutvision.errors import InputError
from cutvision.uncertainty import Influence, Quantity

CARE = ReadingCare()
LEVER = typed_distance(380.0, "lever", CARE)


def cut_off_by(error_deg: float, u_deg: float = 0.0) -> Quantity:
    """An error of each cut, positive when short."""
    return Quantity(math.radians(error_deg), "rad", {Influence("error", "error"): math.radians(u_deg)})


def frame(error_deg: float, sides: int = 4, stock_mm: float = 60.0) -> JointPreview:
    """A frame without lengths."""
    return preview_joints(cut_off_by(error_deg), sides, stock_mm)


@pytest.mark.parametrize(
    ("sides", "error_deg", "stock_mm", "face", "each", "each_mm", "last", "last_mm"),
    [
        (4, 0.1, 60.0, 84.852814, 0.2, 0.2961920, 0.8, 1.1847592),
        (8, 0.1, 60.0, 64.943532, 0.2, 0.2266956, 1.6, 1.8135065),
        (6, 0.05, 50.0, 57.735027, 0.1, 0.1007666, 0.6, 0.6045970),
    ],
)
def test_closed_frames(
    sides: int, error_deg: float, stock_mm: float, face: float, each: float, each_mm: float, last: float, last_mm: float
) -> None:
    """Face stock / cos(180 / N); gap 2 face sin(half the opening), 2 e at each joint, 2 N e at the last (closed form).

    Eight figures; one unit of the last, as the printed ones come from rounded faces.
    """
    found = frame(error_deg, sides, stock_mm)
    assert found.face_mm == pytest.approx(face, abs=5e-7)
    assert math.degrees(found.opening_each_rad) == pytest.approx(each)
    assert found.gap_each.value == pytest.approx(each_mm, abs=1.5e-7)
    assert math.degrees(found.opening_last_rad) == pytest.approx(last)
    assert found.gap_last.value == pytest.approx(last_mm, abs=1.5e-7)


def test_to_first_order_a_gap_is_the_face_times_the_opening() -> None:
    """4 sides, 0.1 deg, 60 mm: 0.2961922 and 1.1847688 mm (closed form)."""
    found = frame(0.1)
    assert found.face_mm * found.opening_each_rad == pytest.approx(0.2961922, abs=5.1e-8)
    assert found.face_mm * found.opening_last_rad == pytest.approx(1.1847688, abs=5.1e-8)


@pytest.mark.parametrize(("sides", "cut"), [(3, 60.0), (5, 36.0), (7, 25.714286), (12, 15.0), (20, 9.0)])
def test_the_miter_of_a_polygon(sides: int, cut: float) -> None:
    """180 deg over the count of sides."""
    assert math.degrees(frame_miter(sides)) == pytest.approx(cut, abs=5e-7)


def test_short_cuts_gape_at_the_toe_and_over_ones_at_the_heel() -> None:
    """As the frame method has it; with no error, or one of unknown sign, neither."""
    assert (frame(0.1).gapes_at, frame(-0.1).gapes_at, frame(0.0).gapes_at) == ("toe", "heel", None)
    assert preview_joints(cut_off_by(0.1), 4, 60.0, way_known=False).gapes_at is None
    assert frame(-0.1).gap_each.value == pytest.approx(frame(0.1).gap_each.value)


@pytest.mark.parametrize(("error_deg", "corner"), [(0.1, 90.2), (-0.1, 89.8), (0.0, 90.0)])
def test_a_joint_pulled_shut_makes_a_corner_off_by_two_errors(error_deg: float, corner: float) -> None:
    """Two tips of 90 deg less the cut's angle each."""
    assert math.degrees(frame(error_deg).shut_corner_rad) == pytest.approx(corner)


@pytest.mark.parametrize("sides", [3, 4, 6, 12])
@pytest.mark.parametrize("gap_at", ["toe", "heel"])
def test_the_frame_method_read_backwards(sides: int, gap_at: str) -> None:
    """The gap left at the last joint of a previewed frame, given to the frame method, finds the error again.

    The preview takes a true joint's length, the method the cuts': cos(180 deg / N) over that of the cut as it is.
    """
    error_deg = 0.07 if gap_at == "toe" else -0.07
    face = math.cos(math.pi / sides) / math.cos(math.pi / sides - math.radians(error_deg))
    gap = typed_gap(face * frame(error_deg, sides).gap_last.value, CARE)
    stock = typed_distance(60.0, "stock", CARE)
    found = correct_frame(gap, stock, sides, gap_at, Jig(LEVER, "left"))  # type: ignore[arg-type]
    again = preview_from(found, sides, 60.0)
    assert math.degrees(again.error.value) == pytest.approx(error_deg, rel=1e-9)
    assert again.gapes_at == gap_at


def test_a_tolerance_said_as_a_gap_is_the_error_that_leaves_it() -> None:
    """The shared gap and the tolerance by a joint's gap are one formula, and the least that shows is told by it."""
    found = frame(0.1)
    assert joint_error(found.gap_each.value, 60.0, math.pi / 4) == pytest.approx(math.radians(0.1))
    good = preview_joints(Quantity(found.least_error_rad, "rad"), 4, 60.0)
    assert good.gap_each.value == pytest.approx(VISIBLE_MM[0])


@pytest.mark.parametrize(("kept", "gapes_at"), [("left", "toe"), ("right", "heel"), (None, None)])
def test_from_a_miter_fence(kept: str | None, gapes_at: str | None) -> None:
    """Left leg longer: kept on the left the fence leg's angle is over 45 deg, so the cut is short; mirrored, over."""
    left, right = typed_legs(101.62, 101.35, CARE)
    jig = Jig(LEVER, kept)  # type: ignore[arg-type]
    found = preview_from(correct_miter_from_legs(left, right, typed_corner(math.pi / 2, CARE), jig), 4, 60.0)
    assert found.gapes_at == gapes_at
    assert found.gap_each.value == pytest.approx(2 * 84.852814 * math.sin(math.radians(0.07621742791)), rel=1e-7)


def test_the_bound_of_the_error_goes_into_the_gaps() -> None:
    """To first order a gap is 2 face e, and the last one N times that; so are their uncertainties."""
    found = preview_joints(cut_off_by(0.1, 0.01), 4, 60.0)
    assert found.gap_each.standard_uncertainty == pytest.approx(2 * found.face_mm * math.radians(0.01), rel=1e-4)
    assert found.gap_last.standard_uncertainty == pytest.approx(8 * found.face_mm * math.radians(0.01), rel=1e-4)


def test_opposite_errors_close_but_for_a_step() -> None:
    """45.1 and 44.9 deg on 60 mm: together 90, faces 60 / cos of each, 0.2962 mm apart; nothing without an error."""
    step = 60 / math.cos(math.radians(45.1)) - 60 / math.cos(math.radians(44.9))
    assert frame(0.1).step_opposite_mm == pytest.approx(step)
    assert frame(-0.1).step_opposite_mm == pytest.approx(step)
    assert frame(0.0).step_opposite_mm == 0.0


@pytest.mark.parametrize("sides_mm", [(400.0, 300.0, 400.0, 300.0), (250.0,) * 3, (200.0,) * 8, (120.0,) * 5])
def test_a_true_frame_closes(sides_mm: tuple[float, ...]) -> None:
    """No error, opposite sides alike: the walk ends where it began."""
    found = open_frame(sides_mm, len(sides_mm), 30.0, 0.0)
    assert (found.toe_mm, found.heel_mm, found.step_mm) == pytest.approx((0.0, 0.0, 0.0), abs=1e-9)


@pytest.mark.parametrize(("a", "b"), [(400.0, 300.0), (300.0, 300.0), (500.0, 250.0)])
def test_flush_joints_turn_the_last_one_about_the_frames_centre(a: float, b: float) -> None:
    """To first order four shut corners, each 2 e off, add up to a turn by 8 e about the centre of the four.

    So the last toe moves by 8 e times its distance from there, across the diagonal; the heel likewise (closed form).
    """
    small = 1e-7
    found = open_frame((a, b, a, b), 4, 60.0, small)
    # seen along the face, which stands at 45 deg to the sides
    toe, heel = ((x + y) / 2 / math.sqrt(2) for x, y in ((a, b), (a - 120, b - 120)))
    assert found.toe_mm == pytest.approx(8 * small * toe, rel=1e-4)
    assert found.heel_mm == pytest.approx(8 * small * heel, rel=1e-4)


def test_what_the_last_joint_opens_more_at_one_end_than_the_other_is_its_opening() -> None:
    """Toe less heel is the wedge of 2 N e over the face, whatever the lengths of the sides."""
    for sides_mm in ((400.0, 300.0, 400.0, 300.0), (200.0, 180.0, 200.5, 180.0)):
        found = open_frame(sides_mm, 4, 60.0, math.radians(0.1))
        assert found.toe_mm - found.heel_mm == pytest.approx(frame(0.1).gap_last.value, rel=3e-3)


def test_short_cuts_walk_open_and_over_ones_overlap() -> None:
    """Short cuts turn less than a full circle: open over the whole joint; with cuts over it the last side overlaps."""
    for error_deg, sign in ((0.1, 1), (-0.1, -1)):
        found = open_frame((200.0,) * 6, 6, 40.0, math.radians(error_deg))
        assert sign * found.toe_mm > 0
        assert sign * found.heel_mm > 0


@pytest.mark.parametrize(
    ("sides_mm", "open_mm"),
    [
        ((400.5, 300.0, 400.0, 300.0), -0.5),
        ((400.0, 300.0, 400.5, 300.0), 0.5),
        ((400.0, 300.5, 400.0, 300.0), 0.5),
        ((400.0, 300.0, 400.0, 300.5), -0.5),
        ((400.5, 300.5, 400.0, 300.0), 0.0),
    ],
)
def test_unequal_opposite_sides(sides_mm: tuple[float, ...], open_mm: float) -> None:
    """True cuts, opposite sides d apart: the last joint stands d / sqrt 2 open or overlapping, as wide at either end.

    Both pairs off alike leave it shut with a step of d sqrt 2 along the face (closed form).
    """
    found = open_frame(sides_mm, 4, 60.0, 0.0)
    assert found.toe_mm == pytest.approx(open_mm / math.sqrt(2), abs=1e-9)
    assert found.heel_mm == pytest.approx(open_mm / math.sqrt(2), abs=1e-9)
    step = abs(found.step_mm)
    assert step == pytest.approx(0.5 / math.sqrt(2) if open_mm else 0.5 * math.sqrt(2), abs=1e-9)


def test_a_frame_twice_the_size_has_gaps_twice_as_wide() -> None:
    """Nothing but lengths scales."""
    one = preview_joints(cut_off_by(0.1), 4, 60.0, (400.0, 300.0, 400.2, 300.0))
    two = preview_joints(cut_off_by(0.1), 4, 120.0, (800.0, 600.0, 800.4, 600.0))
    assert two.gap_each.value == pytest.approx(2 * one.gap_each.value)
    assert two.open_frame is not None
    assert one.open_frame is not None
    assert two.open_frame.toe_mm == pytest.approx(2 * one.open_frame.toe_mm)
    assert two.open_frame.step_mm == pytest.approx(2 * one.open_frame.step_mm)
    assert one.nominal_rad == two.nominal_rad == math.pi / 4


@pytest.mark.parametrize(
    ("gap_mm", "seen"), [(0.0, "does not show"), (0.09, "does not show"), (0.12, "may just show"), (0.2, "shows")]
)
def test_whether_a_gap_shows(gap_mm: float, seen: str) -> None:
    """From 0.1 to 0.15 mm a gap begins to show (common practice, no source)."""
    assert sight(gap_mm) == seen


@pytest.mark.parametrize(
    ("error_deg", "sides", "stock_mm", "sides_mm", "said"),
    [
        (0.1, 2, 60.0, (), "2 sides"),
        (0.1, 25, 60.0, (), "25 sides"),
        (0.1, 4, 0.0, (), "0 mm wide"),
        (0.1, 4, math.nan, (), "nan mm wide"),
        (0.1, 4, math.inf, (), "inf mm wide"),
        (45.0, 4, 60.0, (), "make no frame"),
        (math.nan, 4, 60.0, (), "make no frame"),
        (0.1, 4, 60.0, (400.0, 300.0), "do not make a frame"),
        (0.1, 4, 60.0, (400.0, 110.0, 400.0, 110.0), "no room"),
        (0.1, 4, 60.0, (400.0, math.nan, 400.0, 300.0), "no room"),
    ],
)
def test_what_makes_no_frame_is_refused(
    error_deg: float, sides: int, stock_mm: float, sides_mm: tuple[float, ...], said: str
) -> None:
    """Counts, widths, errors and lengths that cannot be, in words."""
    with pytest.raises(InputError, match=said):
        preview_joints(cut_off_by(error_deg), sides, stock_mm, sides_mm)


def test_a_fence_tested_at_another_angle_is_refused() -> None:
    """Six sides take 30 deg: a 45 deg fence says nothing of them."""
    left, right = typed_legs(101.62, 101.35, CARE)
    found = correct_miter_from_legs(left, right, typed_corner(math.pi / 2, CARE), Jig(LEVER, "left"))
    with pytest.raises(InputError, match="cut at 30 deg, but the fence was tested at 45 deg"):
        preview_from(found, 6, 60.0)


def test_a_fence_tested_by_a_square_cut_says_nothing_of_a_frame() -> None:
    """Four sides take 45 deg; the refusal names the square cut as such."""
    with pytest.raises(InputError, match="cut at 45 deg, but the fence was tested at a square cut"):
        check_miter(4, 0.0)
