"""Every sign and order of the named quantities, from polygons whose angles and lengths are known beforehand."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutvision.measurement.shapes import ANGLE_SIDES, KINDS, parameters_of, quantities_of
from cutvision.plane import Line

PRINTED_DEG = 0.5e-8  # half of the last digit of the table
FLOAT_NOISE = 1e-9
Points = Sequence[tuple[float, float]]

turns = st.floats(-math.pi, math.pi)
angles = st.floats(math.radians(40), math.radians(50))


def sides_of(polygon: Points) -> list[Line]:
    """Directed lines of a polygon's sides, each from a vertex to the next."""
    lines = []
    for (x0, y0), (x1, y1) in zip(polygon, [*polygon[1:], polygon[0]], strict=True):
        lines.append(Line((x0 + x1) / 2, (y0 + y1) / 2, math.atan2(y1 - y0, x1 - x0)))
    return lines


def moved(
    polygon: Points, turn_rad: float = 0.0, scale: float = 1.0, away: tuple[float, float] = (30.0, 60.0)
) -> Points:
    """The polygon turned about the origin, scaled and moved."""
    c, s = scale * math.cos(turn_rad), scale * math.sin(turn_rad)
    return [(away[0] + c * x - s * y, away[1] + s * x + c * y) for x, y in polygon]


def triangle(left_mm: float, right_mm: float, corner_rad: float) -> Points:
    """Corner, right tip, left tip; the corner away from the reader (y down), the cut toward them."""
    half = corner_rad / 2
    return [
        (0.0, 0.0),
        (right_mm * math.sin(half), right_mm * math.cos(half)),
        (-left_mm * math.sin(half), left_mm * math.cos(half)),
    ]


def strip(length_mm: float, fence_mm: float, far_mm: float) -> tuple[Points, tuple[float, float]]:
    """A strip's outline, the fence end at the left, and the reach from its middle to both ends."""
    corners = [(0.0, -fence_mm / 2), (length_mm, -far_mm / 2), (length_mm, far_mm / 2), (0.0, fence_mm / 2)]
    return corners, (length_mm / 2, length_mm / 2)


def named(shape: str, lines: Sequence[Line], reach: tuple[float, float] = (0.0, 0.0)) -> dict[str, float]:
    """The shape's quantities by name."""
    return dict(zip(KINDS[shape].quantities, quantities_of(shape, parameters_of(shape, lines), reach), strict=True))


@pytest.mark.parametrize(
    ("corner_deg", "left_deg", "right_deg"),
    [(90.0, 44.92378257, 45.07621743), (89.9, 44.97364943, 45.12635057), (90.1, 44.87391548, 45.02608452)],
)
def test_miter_of_known_legs(corner_deg: float, left_deg: float, right_deg: float) -> None:
    """Legs of 101.62 mm left and 101.35 mm right give atan(R sin c / (L - R cos c)) at the left, and split it (exact).

    Closed form. The split error is positive because the left leg is the longer, and so is the leg difference.
    """
    found = named("miter", sides_of(moved(triangle(101.62, 101.35, math.radians(corner_deg)), 0.3)))
    assert math.degrees(found["angle_left"]) == pytest.approx(left_deg, abs=PRINTED_DEG)
    assert math.degrees(found["angle_right"]) == pytest.approx(right_deg, abs=PRINTED_DEG)
    assert math.degrees(found["corner"]) == pytest.approx(corner_deg, abs=FLOAT_NOISE)
    assert math.degrees(found["split_error"]) == pytest.approx((right_deg - left_deg) / 2, abs=PRINTED_DEG)
    assert found["split_error"] > 0
    assert found["leg_left"] == pytest.approx(101.62, abs=FLOAT_NOISE)
    assert found["leg_right"] == pytest.approx(101.35, abs=FLOAT_NOISE)
    assert found["leg_difference"] == pytest.approx(0.27, abs=FLOAT_NOISE)


@given(turn=turns, left=st.floats(60, 130), right=st.floats(60, 130), corner=st.floats(1.4, 1.75))
def test_turning_and_moving_a_piece_changes_nothing(turn: float, left: float, right: float, corner: float) -> None:
    """A triangle turned by any angle and moved has the same angles and legs."""
    polygon = triangle(left, right, corner)
    one, other = named("miter", sides_of(polygon)), named("miter", sides_of(moved(polygon, turn)))
    assert list(other.values()) == pytest.approx(list(one.values()), abs=1e-8)


@given(left=st.floats(60, 130), right=st.floats(60, 130), corner=st.floats(1.4, 1.75), turn=turns)
def test_a_mirrored_miter_swaps_left_and_right(left: float, right: float, corner: float, turn: float) -> None:
    """Turned over, left and right change places, leg difference and split error their sign; the corner stays."""
    one = named("miter", sides_of(moved(triangle(left, right, corner), turn)))
    over = named("miter", sides_of(moved(triangle(right, left, corner), -turn)))
    assert over["angle_left"] == pytest.approx(one["angle_right"], abs=FLOAT_NOISE)
    assert over["leg_left"] == pytest.approx(one["leg_right"], abs=1e-8)
    assert over["leg_difference"] == pytest.approx(-one["leg_difference"], abs=1e-8)
    assert over["split_error"] == pytest.approx(-one["split_error"], abs=FLOAT_NOISE)
    assert over["corner"] == pytest.approx(one["corner"], abs=FLOAT_NOISE)


@given(scale=st.floats(0.2, 5), left=st.floats(60, 130), right=st.floats(60, 130))
def test_scale_scales_lengths_only(scale: float, left: float, right: float) -> None:
    """A piece larger in every length has the same angles and legs as much longer."""
    polygon = triangle(left, right, 1.57)
    one, other = named("miter", sides_of(polygon)), named("miter", sides_of(moved(polygon, 0.5, scale)))
    for name, value in one.items():
        factor = scale if KINDS["miter"].units.get(name) == "mm" else 1.0
        assert other[name] == pytest.approx(factor * value, abs=1e-7)


@given(left=angles, right=angles, legs=st.floats(100, 300))
def test_quantities_of_a_miter_fit_together(left: float, right: float, legs: float) -> None:
    """Angles make a half turn, legs make their sum and obey the law of sines: a triangle (closed form)."""
    found = dict(zip(KINDS["miter"].quantities, quantities_of("miter", np.array([left, right, legs])), strict=True))
    assert found["angle_left"] + found["angle_right"] + found["corner"] == pytest.approx(math.pi)
    assert found["leg_left"] + found["leg_right"] == pytest.approx(legs)
    assert found["leg_left"] * math.sin(left) == pytest.approx(found["leg_right"] * math.sin(right))


@pytest.mark.parametrize(("fence_mm", "far_mm"), [(24.91, 24.78), (24.78, 24.91), (30.0, 30.0)])
@pytest.mark.parametrize("turn_rad", [0.0, 0.12, -0.1])
def test_a_strip_wider_at_the_fence_tapers_positively(fence_mm: float, far_mm: float, turn_rad: float) -> None:
    """Taper is 2 atan((fence - far) / 2L), positive when the fence end is the wider, and the end widths come back."""
    outline, reach = strip(412.0, fence_mm, far_mm)
    sides = sides_of(moved(outline, turn_rad))
    found = named("strip", [sides[0], sides[2]], reach)
    assert found["taper"] == pytest.approx(2 * math.atan((fence_mm - far_mm) / 2 / 412.0), abs=1e-12)
    assert found["width_fence"] == pytest.approx(fence_mm, abs=1e-9)
    assert found["width_far"] == pytest.approx(far_mm, abs=1e-9)


def test_a_strip_laid_the_other_way_round_tapers_the_other_way() -> None:
    """With the strip turned half round its other end lies at the fence end's place: the taper changes its sign."""
    outline, reach = strip(150.0, 26.0, 25.6)
    sides = sides_of(outline)
    one, other = named("strip", [sides[0], sides[2]], reach), named("strip", [sides[2], sides[0]], reach)
    assert other["taper"] == pytest.approx(-one["taper"], abs=1e-12)
    assert other["width_fence"] == pytest.approx(one["width_far"], abs=1e-9)


@given(corner=st.floats(1.3, 1.8), turn=turns)
def test_a_corner_is_the_angle_inside(corner: float, turn: float) -> None:
    """A corner's angle is the one on the piece's side, however the piece lies."""
    polygon = moved([(0.0, 0.0), (100.0, 0.0), (100.0, 80.0), (100 * math.cos(corner), 100 * math.sin(corner))], turn)
    sides = sides_of(polygon)
    assert named("corner", [sides[3], sides[0]])["corner"] == pytest.approx(corner, abs=FLOAT_NOISE)


def test_a_board_s_corners_come_in_the_order_of_its_sides() -> None:
    """Corner n lies where side n - 1 meets side n, clockwise from the first side's start; the four make a full turn."""
    polygon = [(0.0, 0.0), (100.0, 1.0), (98.0, 70.0), (-3.0, 72.0)]
    found = named("board", sides_of(polygon))
    for k, (x, y) in enumerate(polygon):
        (ax, ay), (bx, by) = polygon[k - 1], polygon[(k + 1) % 4]
        inside = math.atan2(ay - y, ax - x) - math.atan2(by - y, bx - x)
        assert found[f"corner_{k + 1}"] == pytest.approx(inside % (2 * math.pi), abs=FLOAT_NOISE)
    assert sum(found.values()) == pytest.approx(2 * math.pi)


@pytest.mark.parametrize("shape", ["miter", "strip", "corner", "board"])
def test_each_side_enters_each_angle_as_the_table_says(shape: str) -> None:
    """Turning one side by a small angle changes every angle by that times the side's weight (closed form)."""
    polygon = {
        "miter": triangle(100.0, 98.0, 1.57),
        "strip": strip(150.0, 26.0, 25.8)[0],
        "corner": [(0.0, 0.0), (100.0, 0.0), (100.0, 80.0), (2.0, 80.0)],
        "board": [(0.0, 0.0), (100.0, 1.0), (98.0, 70.0), (-3.0, 72.0)],
    }[shape]
    sides = sides_of(polygon)
    chosen = {"miter": (0, 1, 2), "strip": (0, 2), "corner": (3, 0), "board": (0, 1, 2, 3)}[shape]
    lines = [sides[k] for k in chosen]
    before = named(shape, lines)
    for k, line in enumerate(lines):
        turned = [*lines]
        turned[k] = Line(line.x, line.y, line.angle_rad + 1e-6)
        after = named(shape, turned)
        for name, weights in ANGLE_SIDES[shape].items():
            assert (after[name] - before[name]) / 1e-6 == pytest.approx(weights.get(k, 0.0), abs=1e-6)
