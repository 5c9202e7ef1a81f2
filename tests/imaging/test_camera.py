"""The camera model against OpenCV's, its own inverse, and the closed forms of raised planes."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest

from cutvision.imaging.camera import (
    CameraModel,
    Pose,
    back_project,
    distort,
    project,
    undistort,
    world_from_sheet,
)
from simulation.pose import phone_camera, pose_over

FLOAT_NOISE_PX = 1e-8
FLOAT_NOISE_MM = 1e-9
LENS = {"k1": 0.05, "k2": -0.04, "k3": 0.01, "p1": 3e-4, "p2": -4e-4}


def points_on_sheet(rng: np.random.Generator, count: int = 50) -> np.ndarray:
    """(N, 3) places over an A4 sheet, up to 30 mm high."""
    return rng.uniform([0, 0, 0], [250, 180, 30], (count, 3))


def hand_held(seed: int) -> Pose:
    """A phone over the sheet's middle, tilted by up to 25 deg any way."""
    rng = np.random.default_rng(seed)
    return pose_over((125.0, 90.0), 330.0, math.radians(rng.uniform(0, 25)), rng.uniform(0, 6.28), rng.uniform(-3, 3))


@pytest.mark.parametrize("seed", range(5))
def test_undistort_is_the_inverse_of_distort(seed: int) -> None:
    """Undistorting a distorted point gives the point back to 1e-10, out to the corner of a 24 mm lens."""
    rng = np.random.default_rng(seed)
    camera = CameraModel(1000, 0, 0, *rng.normal(0, [0.03, 0.03, 5e-4, 5e-4, 0.01]))
    angle, radius = rng.uniform(0, 2 * np.pi, 200), np.sqrt(rng.uniform(0, 0.81, 200))
    ideal = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
    assert np.abs(undistort(camera, distort(camera, ideal)) - ideal).max() < 1e-10


@pytest.mark.parametrize("seed", range(5))
def test_projection_is_opencv_s(seed: int) -> None:
    """Points, lens and pose give the pixels of OpenCV's projectPoints (outside package; its order k1 k2 p1 p2 k3)."""
    camera, pose = phone_camera(1632, 1224, 26.0, aspect=1e-3, **LENS), hand_held(seed)
    world = world_from_sheet(points_on_sheet(np.random.default_rng(seed)))
    matrix = np.array(
        [
            [camera.focal_px * (1 + camera.aspect), 0, camera.centre_x_px],
            [0, camera.focal_px, camera.centre_y_px],
            [0, 0, 1],
        ]
    )
    turn, _ = cv2.Rodrigues(pose.rotation)
    lens = np.array([camera.k1, camera.k2, camera.p1, camera.p2, camera.k3])
    outside, _ = cv2.projectPoints(world, turn, pose.translation_mm, matrix, lens)
    assert np.abs(project(camera, pose, world) - outside.reshape(-1, 2)).max() < FLOAT_NOISE_PX


def test_skew_moves_a_pixel_along_its_row_by_its_height() -> None:
    """A skew s moves a pixel by s times its distance below the centre, along the row only (closed form)."""
    pose, world = hand_held(1), world_from_sheet(points_on_sheet(np.random.default_rng(1)))
    square = phone_camera(1632, 1224, 26.0, **LENS)
    leaning = phone_camera(1632, 1224, 26.0, skew=2e-3, **LENS)
    moved = project(leaning, pose, world) - project(square, pose, world)
    below = project(square, pose, world)[:, 1] - square.centre_y_px
    assert np.abs(moved[:, 0] - 2e-3 * below).max() < FLOAT_NOISE_PX
    assert np.abs(moved[:, 1]).max() < FLOAT_NOISE_PX


@pytest.mark.parametrize("height_mm", [0.0, 19.0])
def test_back_projection_finds_the_place_on_its_plane(height_mm: float) -> None:
    """A place at a height, projected and brought back to that height, is itself."""
    camera, pose = phone_camera(1632, 1224, 26.0, aspect=5e-4, skew=-3e-4, **LENS), hand_held(2)
    places = points_on_sheet(np.random.default_rng(3))
    places[:, 2] = height_mm
    back = back_project(camera, pose, project(camera, pose, world_from_sheet(places)), height_mm)
    assert np.abs(back - places[:, :2]).max() < FLOAT_NOISE_MM


def test_the_lens_stands_above_the_paper() -> None:
    """The lens's height is positive: its distance times the cosine of its tilt (closed form)."""
    pose = pose_over((125.0, 90.0), 400.0, math.radians(10), math.radians(90), 0.3)
    expected = [125.0, 90.0 + 400.0 * math.sin(math.radians(10)), 400.0 * math.cos(math.radians(10))]
    assert np.abs(pose.centre_mm - expected).max() < FLOAT_NOISE_MM


def test_height_is_up_toward_the_lens() -> None:
    """What is raised shows farther from the point below the lens, and the solver's frame is right-handed."""
    camera, pose = phone_camera(1632, 1224, 26.0), pose_over((125.0, 90.0), 400.0, 0.0, 0.0, 0.0)
    low, high = project(camera, pose, world_from_sheet(np.array([[200.0, 90.0, 0.0], [200.0, 90.0, 19.0]])))
    assert high[0] > low[0] > camera.centre_x_px
    assert np.linalg.det(pose.rotation) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize(
    ("thickness_mm", "lens_height_mm", "ratio"), [(19.0, 400.0, 1.04986877), (19.0, 500.0, 1.03950104)]
)
def test_a_raised_length_reads_too_long(thickness_mm: float, lens_height_mm: float, ratio: float) -> None:
    """A length at height t under a lens at height Z reads Z / (Z - t) too long on the paper (closed form)."""
    camera = phone_camera(1632, 1224, 26.0, **LENS)
    pose = pose_over((125.0, 90.0), lens_height_mm, 0.0, 0.0, 0.2)
    ends = np.array([[80.0, 60.0, thickness_mm], [170.0, 110.0, thickness_mm]])
    on_paper = back_project(camera, pose, project(camera, pose, world_from_sheet(ends)), 0.0)
    assert math.dist(*on_paper) / math.dist(*ends[:, :2]) == pytest.approx(ratio, abs=0.5e-8)


@pytest.mark.parametrize("seed", range(3))
def test_directions_are_the_same_at_every_height(seed: int) -> None:
    """A line at any height, taken for one on the paper, keeps its direction: angles need no thickness (closed form)."""
    rng = np.random.default_rng(seed)
    camera, pose = phone_camera(1632, 1224, 26.0, **LENS), hand_held(seed)
    for _ in range(10):
        ends = points_on_sheet(rng, 2)
        ends[:, 2] = rng.uniform(3, 30)
        seen = back_project(camera, pose, project(camera, pose, world_from_sheet(ends)), 0.0)
        true, read = ends[1, :2] - ends[0, :2], seen[1] - seen[0]
        assert abs(true[0] * read[1] - true[1] * read[0]) < 1e-9 * np.hypot(*true) * np.hypot(*read)
