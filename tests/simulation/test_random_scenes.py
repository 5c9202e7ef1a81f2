"""Scenes drawn at random."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cutvision.imaging.camera import project, world_from_sheet
from cutvision.plane import polygon_area
from simulation.random_scenes import Wishes, random_scene, turned_scene
from simulation.render import render
from simulation.scene import Shape
from simulation.truth import true_quantities

SHAPES: tuple[Shape, ...] = ("miter", "strip", "corner", "board")


@pytest.mark.parametrize("shape", SHAPES)
def test_random_pieces_lie_in_the_window_and_the_photo_shows_the_frame(shape: Shape) -> None:
    """40 scenes a shape: outline clockwise, inside the window (a corner's own corner is), whole frame in the photo."""
    for seed in range(40):
        scene = random_scene(np.random.default_rng(seed), shape)
        vertices = scene.pieces[0].vertices_mm
        assert polygon_area(vertices) > 0
        left, top, right, bottom = scene.sheet.window_mm
        inside = vertices[:1] if shape == "corner" else vertices
        assert np.all((inside > [left, top]) & (inside < [right, bottom]))
        w, h = scene.sheet.width_mm, scene.sheet.height_mm
        ring = scene.true_from_nominal(np.array([[0, 0], [w, 0], [w, h], [0, h]]))
        pixels = project(scene.camera, scene.pose, world_from_sheet(ring))
        assert np.all((pixels > 0) & (pixels < [scene.settings.width_px, scene.settings.height_px]))


@pytest.mark.parametrize("shape", SHAPES)
def test_random_truth_is_near_what_the_shape_is(shape: Shape) -> None:
    """Angles lie within 1.5 deg of 45 or 90, tapers within 1.5 deg of none."""
    for seed in range(20):
        truth = true_quantities(random_scene(np.random.default_rng(seed), shape))
        for name, value in truth.items():
            if name.startswith(("angle", "corner", "taper")):
                nominal = 45 if name.startswith("angle") else 90 if name.startswith("corner") else 0
                assert abs(value - nominal) < 1.5


def test_same_generator_gives_the_same_scene() -> None:
    """A scene is settled by its generator's seed, and its wishes are kept."""
    wishes = Wishes(paper="letter", megapixels=2.0, species="oak", lighting="hard")
    one, again = (random_scene(np.random.default_rng(5), "miter", wishes) for _ in range(2))
    assert one.pieces == again.pieces
    assert np.array_equal(one.pose.rotation, again.pose.rotation)
    assert (one.sheet.paper, one.pieces[0].species) == ("letter", "oak")
    assert one.settings.width_px * one.settings.height_px == pytest.approx(2e6, rel=0.03)


def test_turned_piece_stays_the_same_piece() -> None:
    """A piece laid down anew on the same print keeps its quantities, its camera and the print's stretch."""
    rng = np.random.default_rng(1)
    scene = random_scene(rng, "miter", Wishes(paper="a3", turnable=True))
    again = turned_scene(rng, scene, math.pi / 2)
    assert true_quantities(again) == pytest.approx(true_quantities(scene), abs=1e-6)
    assert (again.camera, again.stretch) == (scene.camera, scene.stretch)
    assert again.pieces[0].polygon != scene.pieces[0].polygon


def test_random_scene_renders_with_its_truth() -> None:
    """A small random photo has wood darker than paper and white paper neither black nor burnt out."""
    wishes = Wishes(paper="a4", megapixels=1.0, species="walnut", lighting="window")
    scene = random_scene(np.random.default_rng(3), "miter", wishes)
    rendered = render(scene)
    assert rendered.stored.shape == (scene.settings.height_px, scene.settings.width_px, 3)
    assert set(rendered.truth) >= {"angle_left", "angle_right", "corner", "split_error"}
    middle = scene.pieces[0].vertices_mm.mean(axis=0)
    places = np.array([[*middle, scene.pieces[0].top_mm], [36.0, 36.0, 0.0]])
    pixels = np.rint(project(scene.camera, scene.pose, world_from_sheet(places))).astype(int)
    wood, paper = (rendered.stored[v - 4 : v + 5, u - 4 : u + 5, 1].mean() for u, v in pixels)
    assert wood < paper - 60
    assert 120 < paper < 250
