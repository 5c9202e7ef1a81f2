"""Wood stands out from paper by its hue, in light, in shadow and beside the print."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest
from scipy import ndimage

from cutvision.imaging.locate import locate_sheet
from cutvision.imaging.photo import Photo
from cutvision.imaging.pose import SheetPose, fit_pose, prior_from_photo
from cutvision.imaging.wood import WoodMap, _spline, map_wood
from simulation.photo_file import as_photo
from simulation.refused_scenes import good_scene
from simulation.render import render
from simulation.scene import Ambient, Light, Scene

CLEAR_MM = 4.0


def lit(species: str, lamp: tuple[float, float, float], sky: tuple[float, float, float]) -> Scene:
    """A miter under a small lamp of one colour that throws a hard shadow, in light of another colour from all round."""
    scene = good_scene()
    return replace(
        scene,
        pieces=(replace(scene.pieces[0], species=species),),
        lights=(Light(-350.0, -200.0, 600.0, 30.0, 0.6, lamp),),
        ambient=Ambient(0.4, sky),
    )


@cache
def seen(species: str, lamp: tuple[float, float, float], sky: tuple[float, float, float]) -> tuple[Scene, WoodMap]:
    """The scene and the coarse map of its photo."""
    scene = lit(species, lamp, sky)
    photo = as_photo(render(scene))
    return scene, map_wood(photo, fit_pose(locate_sheet(photo), prior_from_photo(photo)))


def footprint(scene: Scene, wood: WoodMap, grow_mm: float) -> np.ndarray:
    """(h, w) cells within the piece's outline on the paper, grown or (negative) shrunk."""
    cells = np.zeros(wood.hue.shape, np.uint8)
    corners = scene.pieces[0].vertices_mm / wood.mm_per_cell - 0.5
    cv2.fillPoly(cells, [np.rint(corners).astype(np.int32)], 1)
    reach = round(abs(grow_mm) / wood.mm_per_cell)
    kernel = np.ones((2 * reach + 1, 2 * reach + 1), np.uint8)
    return (cv2.dilate if grow_mm > 0 else cv2.erode)(cells, kernel).astype(bool)


@pytest.mark.parametrize(
    ("species", "lamp", "sky"),
    [
        ("maple", (1.0, 1.0, 1.0), (1.0, 1.0, 1.0)),
        ("cherry", (1.12, 1.0, 0.8), (0.95, 1.0, 1.06)),
        ("oak", (1.12, 1.0, 0.8), (0.95, 1.0, 1.06)),
        ("maple", (0.95, 1.0, 1.06), (1.06, 1.0, 0.9)),
    ],
)
def test_a_coloured_shadow_is_not_wood(
    species: str, lamp: tuple[float, float, float], sky: tuple[float, float, float]
) -> None:
    """On paper in a shadow, whose colour is the other light's, the hue stays under half of what the wood shows.

    The shadow darkens the paper to half there, so brightness alone would take it for wood.
    """
    scene, wood = seen(species, lamp, sky)
    left, top, right, bottom = (round(v / wood.mm_per_cell) for v in scene.sheet.window_mm)
    window = np.zeros(wood.hue.shape, bool)
    window[top + 6 : bottom - 6, left + 6 : right - 6] = True
    # the top face shows farther from the point below the lens than its footprint: 19 mm high, 6 % at most
    paper = window & ~footprint(scene, wood, 2 * CLEAR_MM)
    shadow = paper & (wood.colour.mean(axis=2) < 0.75)
    face = wood.hue[footprint(scene, wood, -2 * CLEAR_MM)]
    assert shadow.sum() > 200
    assert np.quantile(wood.hue[shadow], 0.98) < 0.5 * np.median(face)
    assert np.quantile(wood.hue[paper & ~shadow], 0.98) < 0.5 * np.median(face)


def test_print_is_not_wood() -> None:
    """Black and white squares have no hue: the ring's 98th percentile is under a quarter of the wood's."""
    scene, wood = seen("maple", (1.0, 1.0, 1.0), (1.0, 1.0, 1.0))
    left = round(scene.sheet.window_mm[0] / wood.mm_per_cell)
    ring = wood.hue[:, : left - 6]
    assert np.quantile(ring, 0.98) < 0.25 * np.median(wood.hue[footprint(scene, wood, -2 * CLEAR_MM)])


def test_cells_lie_on_the_sheet(photo: Photo, fitted: SheetPose) -> None:
    """A cell covers a third of a millimetre, and the map the whole ring of squares."""
    wood = map_wood(photo, fitted)
    assert wood.mm_per_cell == pytest.approx(1 / 3)
    assert wood.hue.shape == (540, 750)
    assert np.median(wood.colour[100, 200:550]) == pytest.approx(1.0, abs=0.1)
    # the square at the sheet's origin is black, its right neighbour white
    assert wood.colour[10:20, 10:20].max() < 0.3
    assert np.median(wood.colour[3, 35:55]) > 0.7


def test_the_spline_is_the_usual_cubic_one() -> None:
    """Its weights are those of scipy's cubic spline that goes on level beyond its ends."""
    at = np.linspace(-0.4, 9.4, 61)
    expected = [ndimage.map_coordinates(knot, [at], order=3, mode="nearest") for knot in np.eye(10)]
    assert np.abs(_spline(at, 10) - np.column_stack(expected)).max() < 1e-12
