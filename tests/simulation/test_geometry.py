"""Where things lie in a rendered photo, against the camera model and against a step fit that shares nothing with it."""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest
from scipy.ndimage import map_coordinates
from scipy.optimize import least_squares
from scipy.special import erf

from cutvision.imaging.camera import back_project, project, world_from_sheet
from cutvision.target.sheet import SHEETS
from simulation.grid import grid_of
from simulation.pose import phone_camera, pose_over
from simulation.render import render_linear
from simulation.scene import Ambient, Curl, PhotoSettings, Piece, Scene, Stretch

EDGE_OFFSET_PX = 0.01  # the renderer's promise for noise-free edges without grain
SADDLE_RMS_PX = 0.03  # the plain quadratic below is no better than this on a blurred saddle
WIDTH, HEIGHT = 1440, 1080
TRIANGLE = ((122.0, 42.0), (186.0, 110.0), (54.0, 107.0))


def plain_scene(tilt_deg: float, azimuth_deg: float, roll_deg: float, thickness_mm: float = 19.0) -> Scene:
    """A prism on a stretched print without grain, noise or shadow."""
    camera = phone_camera(WIDTH, HEIGHT, 26.0, k1=0.03, k2=-0.02, p1=2e-4, p2=-3e-4)
    pose = pose_over((125.0, 90.0), 350.0, *(math.radians(a) for a in (tilt_deg, azimuth_deg, roll_deg)))
    return Scene(
        SHEETS["a4"],
        camera,
        pose,
        PhotoSettings(WIDTH, HEIGHT, blur_px=1.2, vignette=0.0),
        stretch=Stretch(0.001, -0.002, 0.0015),
        pieces=(Piece(TRIANGLE, thickness_mm, "walnut"),),
        ambient=Ambient(1.0, occlusion=0.0),
        plain=True,
    )


def step_place(distance: np.ndarray, value: np.ndarray) -> float:
    """Where an error-function step between two levels lies along a profile."""

    def misfit(p: np.ndarray) -> np.ndarray:
        return np.asarray(p[1] + (p[2] - p[1]) * 0.5 * (1 + erf((distance - p[0]) / (p[3] * math.sqrt(2)))) - value)

    return float(least_squares(misfit, [0.0, value[0], value[-1], 1.3]).x[0])


def edge_offsets(scene: Scene, image: np.ndarray, edge: int) -> tuple[bool, np.ndarray]:
    """Whether the edge's wall shows, and (N,) signed distances in px of the seen outline from its true place."""
    a, b = scene.pieces[0].vertices_mm[[edge, (edge + 1) % 3]]
    along = (b - a) / np.hypot(*(b - a))
    outward = np.array([along[1], -along[0]])
    wall = bool((scene.pose.centre_mm[:2] - a) @ outward > 0)
    height = 0.0 if wall else scene.pieces[0].top_mm
    offsets = []
    for share in np.linspace(0.2, 0.8, 25):
        p = a + share * (b - a)
        pair = np.array([[*p, height], [*(p + 0.05 * outward), height]])
        here, out = project(scene.camera, scene.pose, world_from_sheet(pair))
        normal = (out - here) / np.hypot(*(out - here))
        distance = np.linspace(-5, 5, 41)
        points = here + distance[:, None] * normal
        offsets.append(step_place(distance, map_coordinates(image, [points[:, 1], points[:, 0]], order=3)))
    return wall, np.array(offsets)


@pytest.mark.parametrize(("tilt", "azimuth", "roll"), [(8, 30, 4), (24, 215, -8), (24, 95, 0)])
def test_edges_lie_where_the_camera_puts_them(tilt: float, azimuth: float, roll: float) -> None:
    """An edge's outline lies within 0.01 px of the projected bottom edge where its wall shows, else of the top edge."""
    scene = plain_scene(tilt, azimuth, roll)
    image = render_linear(scene)[..., 1]
    walls = 0
    for edge in range(3):
        wall, offsets = edge_offsets(scene, image, edge)
        if wall and tilt < 20:
            continue  # a narrow wall's two steps blur into one another
        walls += wall
        assert abs(np.mean(offsets)) < EDGE_OFFSET_PX
        assert abs(np.polyfit(np.linspace(-0.5, 0.5, len(offsets)), offsets, 1)[0]) < 2 * EDGE_OFFSET_PX
    assert walls >= (tilt > 20)


def test_saddle_points_lie_where_the_camera_puts_them() -> None:
    """The stretched print's saddle points lie, by a quadratic fit, where the camera projects them."""
    scene = plain_scene(8, 30, 4)
    true = project(scene.camera, scene.pose, world_from_sheet(scene.true_from_nominal(scene.sheet.saddles_mm)))
    errors = saddle_errors(scene, true)
    assert len(errors) == len(scene.sheet.saddles_mm)
    assert np.sqrt(np.mean(np.square(errors))) < SADDLE_RMS_PX
    assert np.all(np.abs(np.mean(errors, axis=0)) < EDGE_OFFSET_PX)


def saddle_errors(scene: Scene, true: np.ndarray) -> np.ndarray:
    """(N, 2) how far the extremum of a quadratic about each (N, 2) true saddle point lies from it."""
    image = render_linear(scene)[..., 1]
    v, u = (grid.ravel() for grid in np.mgrid[-3:4, -3:4])
    terms = np.column_stack([np.ones(49), u, v, u * u, u * v, v * v])
    weight = np.exp(-(u * u + v * v) / 4)[:, None]
    errors = []
    for x, y in true:
        column, row = round(x), round(y)
        patch = image[row - 3 : row + 4, column - 3 : column + 4].ravel()
        c = np.linalg.lstsq(terms * weight, patch * weight[:, 0], rcond=None)[0]
        place = -np.linalg.solve(np.array([[2 * c[3], c[4]], [c[4], 2 * c[5]]]), c[1:3])
        errors.append(place + np.array([column, row]) - np.array([x, y]))
    return np.array(errors)


def test_raised_corner_shows_where_the_camera_puts_it() -> None:
    """Saddle points on a corner that stands off the board are drawn where the camera projects them at their height."""
    curl = Curl(2, 6.0, 90.0)
    scene = replace(plain_scene(12, 200, -5), curls=(curl,), pieces=())
    flat = scene.true_from_nominal(scene.sheet.saddles_mm)
    height = scene.paper_height_mm(flat[:, 0], flat[:, 1])
    assert np.max(height) > 1.5
    assert scene.paper_height_mm(np.array(250 + 23.5), np.array(180 + 15.0)) == pytest.approx(6.0)
    true = project(scene.camera, scene.pose, world_from_sheet(np.column_stack([flat, height])))
    errors = saddle_errors(scene, true)
    assert np.sqrt(np.mean(np.square(errors))) < SADDLE_RMS_PX
    raised = errors[height > 0.3]
    assert np.all(np.abs(np.mean(raised, axis=0)) < 3 * EDGE_OFFSET_PX)


def test_camera_model_agrees_with_opencv() -> None:
    """The camera that renderer and measurement share projects raised points as cv2.projectPoints does."""
    scene = plain_scene(12, 300, 25)
    heights = np.linspace(0, 40, len(scene.sheet.saddles_mm))
    world = world_from_sheet(np.column_stack([scene.sheet.saddles_mm, heights]))
    c = scene.camera
    matrix = np.array([[c.focal_px, 0, c.centre_x_px], [0, c.focal_px, c.centre_y_px], [0, 0, 1.0]])
    turn, _ = cv2.Rodrigues(scene.pose.rotation)
    seen, _ = cv2.projectPoints(
        world, turn, scene.pose.translation_mm, matrix, np.array([c.k1, c.k2, c.p1, c.p2, c.k3])
    )
    assert np.allclose(seen[:, 0], project(c, scene.pose, world), atol=1e-9)


def test_lattice_spreads_rays_as_the_camera_casts_them() -> None:
    """Cubic interpolation between every 32nd pixel gives each pixel's place on the paper to 0.001 px."""
    scene = plain_scene(12, 300, 25)
    grid = grid_of(scene)
    rows = slice(500, 540)
    x, y = (grid.spread(v, rows) for v in (grid.x_mm, grid.y_mm))
    v, u = np.mgrid[500:540, 0:WIDTH]
    true = back_project(scene.camera, scene.pose, np.column_stack([u.ravel(), v.ravel()]).astype(float), 0.0)
    pixel_mm = 350.0 / scene.camera.focal_px
    assert np.max(np.abs(np.column_stack([x.ravel(), y.ravel()]) - true)) < 0.001 * pixel_mm


def test_pose_stands_off_where_it_is_told() -> None:
    """The camera's axis meets the aim, its centre stands off in the azimuth by the tilt; roll turns x toward down."""
    pose = pose_over((100.0, 80.0), 300.0, math.radians(10), math.radians(30), 0.0)
    aim = pose.rotation @ np.array([100.0, 80.0, 0.0]) + pose.translation_mm
    assert np.allclose(aim, [0, 0, 300.0])
    off = 300 * math.sin(math.radians(10))
    place = [100 + off * math.cos(math.radians(30)), 80 + off / 2, 300 * math.cos(math.radians(10))]
    assert np.allclose(pose.centre_mm, place)
    rolled = pose_over((0.0, 0.0), 300.0, 0.0, 0.0, math.radians(90))
    assert np.allclose(rolled.rotation @ [1, 0, 0], [0, 1, 0])
