"""The truth that goes with a rendered photo."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cutvision.target.sheet import SHEETS
from simulation.edges import STEP_MM, shown_span, sides_of, true_line
from simulation.pieces import board_outline, miter_outline, strip_outline, turned
from simulation.pose import phone_camera, pose_over
from simulation.scene import BrokenTip, Chip, Fibre, PhotoSettings, Piece, Point, Scene, Shape
from simulation.truth import sawn_quantities, true_quantities, window_outline

FLOAT_NOISE = 1e-9


def scene_of(shape: Shape, polygon: tuple[Point, ...], **piece: object) -> Scene:
    """A scene whose first piece has this outline; other fields of the piece as given."""
    camera, pose = phone_camera(1200, 900, 26.0), pose_over((125.0, 90.0), 350.0, 0.1, 0.5, 0.0)
    wood = replace(Piece(polygon, 19.0), **piece)  # type: ignore[arg-type]
    return Scene(SHEETS["a4"], camera, pose, PhotoSettings(1200, 900), shape, pieces=(wood,))


@pytest.mark.parametrize("turn_deg", [0.0, 77.0, 180.0, 290.0])
def test_miter_angles_and_legs_whatever_its_turn(turn_deg: float) -> None:
    """A triangle sawn at 44.8 and 45.3 deg says so at any turn; its legs follow the law of sines (closed form)."""
    left, right = math.radians(44.8), math.radians(45.3)
    outline = turned(miter_outline(120.0, left, right), math.radians(turn_deg), (125.0, 90.0))
    truth = true_quantities(scene_of("miter", outline))
    scale = 120.0 / math.sin(left + right)
    assert truth["angle_left"] == pytest.approx(44.8, abs=FLOAT_NOISE)
    assert truth["angle_right"] == pytest.approx(45.3, abs=FLOAT_NOISE)
    assert truth["corner"] == pytest.approx(89.9, abs=FLOAT_NOISE)
    assert truth["leg_left"] == pytest.approx(scale * math.sin(right), abs=FLOAT_NOISE)
    assert truth["leg_right"] == pytest.approx(scale * math.sin(left), abs=FLOAT_NOISE)
    assert truth["split_error"] == pytest.approx(0.25, abs=FLOAT_NOISE)
    assert truth["leg_difference"] > 0


def test_miter_left_and_right_swap_when_mirrored() -> None:
    """Sawn with left and right exchanged, the split error and the legs' difference change sign."""
    outlines = [miter_outline(110.0, math.radians(a), math.radians(b)) for a, b in ((44.7, 45.2), (45.2, 44.7))]
    one, other = (true_quantities(scene_of("miter", turned(o, 0.3, (125.0, 90.0)))) for o in outlines)
    assert one["split_error"] == pytest.approx(-other["split_error"], abs=FLOAT_NOISE)
    assert one["leg_difference"] == pytest.approx(-other["leg_difference"], abs=FLOAT_NOISE)


@pytest.mark.parametrize("turn_deg", [-20.0, 0.0, 35.0])
def test_strip_taper_is_positive_when_wider_at_the_fence(turn_deg: float) -> None:
    """A strip 30 mm wide at its middle tapers as it was made; its widths at its own ends follow (closed form)."""
    outline = strip_outline(110.0, 30.0, math.radians(0.2))
    laid = turned(outline, math.radians(turn_deg), (125.0, 90.0))
    truth = true_quantities(scene_of("strip", laid))
    assert truth["taper"] == pytest.approx(0.2, abs=FLOAT_NOISE)
    opening = 110.0 * math.tan(math.radians(0.1))
    assert truth["width_fence"] == pytest.approx(30.0 + opening, abs=1e-6)
    assert truth["width_far"] == pytest.approx(30.0 - opening, abs=1e-6)


def test_long_strip_is_read_at_the_window() -> None:
    """A strip that runs over the squares gives its widths where the centre line crosses the window's sides."""
    taper = math.radians(0.3)
    outline = tuple((x - 5.0, y + 90.0) for x, y in strip_outline(260.0, 30.0, taper))
    truth = true_quantities(scene_of("strip", outline))
    middle = 260.0 / 2 - 5.0
    widths = [30.0 + 2 * (middle - x) * math.tan(taper / 2) for x in (30.0, 220.0)]
    assert [truth["width_fence"], truth["width_far"]] == pytest.approx(widths, abs=1e-6)


def test_board_corners_run_clockwise_from_the_one_nearest_the_origin() -> None:
    """Corner 1 is the one nearest the sheet's origin and the others follow clockwise, whichever vertex comes first."""
    angles = tuple(math.radians(a) for a in (90.1, 89.8, 90.3))
    outline = turned(board_outline(90.0, 70.0, angles), 0.1, (125.0, 90.0))  # type: ignore[arg-type]
    for shift in range(4):
        truth = true_quantities(scene_of("board", outline[shift:] + outline[:shift]))
        assert [truth[f"corner_{k}"] for k in range(1, 5)] == pytest.approx([90.1, 89.8, 90.3, 89.8], abs=1e-9)


def test_truth_is_the_rough_edges_least_squares_line() -> None:
    """Chips, fibres and broken tips leave the truth alone; roughness moves it to the profile's line over what shows."""
    outline = turned(miter_outline(120.0, math.pi / 4, math.pi / 4), 0.0, (125.0, 90.0))
    rough = scene_of("miter", outline, roughness_mm=0.05, correlation_mm=1.0, seed=4)
    torn = replace(rough, pieces=(replace(rough.pieces[0], chips=(Chip(1, 40, 4, 1),), fibres=(Fibre(0, 9, 0.3, 1),)),))
    assert true_quantities(torn) == true_quantities(rough)
    assert true_quantities(rough) != sawn_quantities(rough)
    assert sawn_quantities(rough)["corner"] == pytest.approx(90.0, abs=FLOAT_NOISE)
    piece = rough.pieces[0]
    side, line = sides_of(piece)[1], true_line(piece, 1, window_outline(rough))
    s = np.arange(0, side.length_mm, STEP_MM)
    nx, ny = side.outward
    px, py = (side.start[k] + s * side.direction[k] for k in (0, 1))
    offsets = -side.rough_distance(px, py, 0.0)
    slope, offset = np.polyfit(s, offsets, 1)
    along = math.atan2(side.direction[1] + slope * ny, side.direction[0] + slope * nx)
    assert line.angle_rad == pytest.approx(along, abs=1e-6)
    assert (line.x - side.start[0]) * nx + (line.y - side.start[1]) * ny == pytest.approx(offset, abs=1e-4)


def test_broken_tip_shortens_what_shows_of_its_edges() -> None:
    """A right-angled tip broken 2 mm deep takes 2 sqrt(2) mm of each edge (closed form)."""
    outline = turned(miter_outline(120.0, math.pi / 4, math.pi / 4), 0.0, (125.0, 90.0))
    scene = scene_of("miter", outline, broken_tips=(BrokenTip(0, 2.0),))
    low, high = shown_span(scene.pieces[0], 0, window_outline(scene))
    assert low == pytest.approx(2 * math.sqrt(2), abs=FLOAT_NOISE)
    assert high == pytest.approx(120.0 / math.sqrt(2), abs=FLOAT_NOISE)


def test_roughness_has_the_stated_autocovariance() -> None:
    """Over 60 edges of 100 mm the autocovariance is s^2 exp(-x / c) within 4 standard errors (seeded)."""
    s, c = 0.03, 1.0
    products = {0.0: [], 0.5: [], 1.0: [], 3.0: []}  # type: dict[float, list[float]]
    for seed in range(20):
        piece = Piece(((0.0, 0.0), (100.0, 0.0), (50.0, 87.0)), 10.0, roughness_mm=s, correlation_mm=c, seed=seed)
        for side in sides_of(piece)[:3]:
            assert side.profile_mm is not None
            for lag, values in products.items():
                k = round(lag / STEP_MM)
                profile = side.profile_mm
                values.append(float(np.mean(profile[: len(profile) - k] * profile[k:])))
    for lag, values in products.items():
        error = np.std(values) / math.sqrt(len(values))
        assert abs(np.mean(values) - s * s * math.exp(-lag / c)) < 4 * error


def test_wrong_number_of_sides_has_no_truth() -> None:
    """A triangle asked for as a strip raises ValueError."""
    outline = turned(miter_outline(100.0, math.pi / 4, math.pi / 4), 0.0, (125.0, 90.0))
    with pytest.raises(ValueError, match="4 sides"):
        true_quantities(scene_of("strip", outline))
