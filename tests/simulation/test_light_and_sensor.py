"""Shadows, light, tone and the file."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cutvision.target.sheet import SHEETS
from simulation.photo_file import as_photo, jpeg_bytes, write_jpeg
from simulation.pieces import miter_outline, turned
from simulation.pose import phone_camera, pose_over
from simulation.printed import ink_share, ring_cells
from simulation.render import RenderedPhoto, render, render_linear
from simulation.scene import Ambient, Light, PhotoSettings, Piece, Scene
from simulation.sensor import blurred, developed, tone_curve
from simulation.shadow import lamp_patch, surround_patch

SQUARE = Piece(((50.0, 50.0), (90.0, 50.0), (90.0, 90.0), (50.0, 90.0)), 20.0)
EVERYWHERE = np.array([[-100.0, -100.0], [300.0, 300.0]])


def at(patch: object, x: float, y: float) -> float:
    """The patch's factor at one place."""
    return float(patch.at(np.full((1, 1), x, np.float32), np.full((1, 1), y, np.float32))[0, 0])  # type: ignore[attr-defined]


def test_hard_shadow_ends_where_the_top_edge_throws_it() -> None:
    """A point lamp at (-130, 70, 220) throws the far top edge x = 90, height 20, to x = 112 (similar triangles)."""
    patch = lamp_patch(Light(-130.0, 70.0, 220.0, 0.01, 1.0), [SQUARE], 0.0, EVERYWHERE)
    assert patch is not None
    assert at(patch, 111.0, 70.0) == pytest.approx(0, abs=1e-3)
    assert at(patch, 113.0, 70.0) == pytest.approx(1, abs=1e-3)
    row = [at(patch, x, 70.0) for x in np.arange(110.5, 113.6, 0.05)]
    assert 110.5 + 0.05 * np.sum(1 - np.array(row)) == pytest.approx(112.0, abs=0.15)


def test_lit_side_stays_bright_up_to_the_wall() -> None:
    """No dark seam runs along the wall that faces the lamp."""
    patch = lamp_patch(Light(-130.0, 70.0, 220.0, 5.0, 1.0), [SQUARE], 0.0, EVERYWHERE)
    assert min(at(patch, x, 70.0) for x in np.arange(45, 50.01, 0.05)) > 0.999


def test_soft_shadow_is_as_wide_as_the_lamp_makes_it() -> None:
    """A lamp of radius 40 at height 420 behind a top edge at height 20 gives a penumbra of 2 x 40 x 20 / 400 = 4 mm."""
    patch = lamp_patch(Light(-330.0, 70.0, 420.0, 40.0, 1.0), [SQUARE], 0.0, EVERYWHERE)
    far = 90.0 + 420.0 * 20.0 / 400.0
    assert at(patch, far, 70.0) == pytest.approx(0.5, abs=0.06)
    assert at(patch, far - 2.8, 70.0) == pytest.approx(0, abs=0.02)
    assert at(patch, far + 2.8, 70.0) == pytest.approx(1, abs=0.02)
    assert 0.1 < at(patch, far - 1.0, 70.0) < 0.4


def test_light_from_all_round_beside_a_wall() -> None:
    """At a distance equal to the wall's height it hides (1 - 1/sqrt 2)/2 of the light (closed form)."""
    patch = surround_patch([SQUARE], 0.0, EVERYWHERE, 0.0)
    assert at(patch, 70.0, 110.0) == pytest.approx(1 - (1 - math.sqrt(0.5)) / 2, abs=1e-3)
    assert at(patch, 250.0, 250.0) == pytest.approx(1.0)


def test_nothing_above_a_plane_throws_no_shadow() -> None:
    """A piece's own top face has neither lamp shadow nor loss of light from all round."""
    light = Light(-130.0, 70.0, 220.0, 5.0, 1.0)
    assert lamp_patch(light, [SQUARE], 20.0, EVERYWHERE) is None
    assert surround_patch([SQUARE], 20.0, EVERYWHERE, 0.0) is None


@pytest.mark.parametrize("paper", list(SHEETS))
def test_print_has_half_ink_at_every_edge_and_saddle(paper: str) -> None:
    """Places across a square's edge run from white to black with one half at the edge; saddles have a half."""
    sheet = SHEETS[paper]
    x = np.array([[-0.3, -0.05, 0.0, 0.05, 0.3]], np.float32)
    assert ink_share(sheet, x, x * 0 + 5, 0.1, 0.1) == pytest.approx(np.array([[0, 0.25, 0.5, 0.75, 1]]), abs=1e-5)
    saddles = sheet.saddles_mm.astype(np.float32)
    assert ink_share(sheet, saddles[:, 0], saddles[:, 1], 0.1, 0.1) == pytest.approx(0.5, abs=1e-5)
    assert ring_cells(sheet).shape == (sheet.rows * 20 + 4, sheet.columns * 20 + 4)


def test_tone_curve_is_srgb_when_nothing_bends_it() -> None:
    """Linear 0.2140 is stored as 127.5 of 255 (sRGB, IEC 61966-2-1), the ends stay, and a bend parts dark and light."""
    settings = PhotoSettings(8, 8, s_curve=0.0, exponent=1.0)
    curve = tone_curve(settings)
    steps = len(curve) - 1
    assert curve[round(0.21404 * steps)] == pytest.approx(127.5, abs=0.05)
    assert (curve[0], curve[-1]) == (0.0, 255.0)
    bent = tone_curve(replace(settings, s_curve=0.2))
    assert bent[round(0.05 * steps)] < curve[round(0.05 * steps)] < 127.5
    assert bent[round(0.6 * steps)] > curve[round(0.6 * steps)] > 127.5


def test_noise_is_shot_and_read_noise() -> None:
    """Stored scatter on a grey is the linear one, sqrt(x/well + (read/well)^2), times the curve's slope (seeded)."""
    settings = PhotoSettings(300, 300, full_well=2500.0, read_noise=10.0, denoise=0.0, sharpen=0.0, s_curve=0.0)
    stored = developed(np.full((300, 300, 3), 0.3, np.float32), settings, 1).astype(float)
    sigma = math.sqrt(0.3 / 2500 + (10 / 2500) ** 2)
    slope = 255 * 1.055 / 2.4 * 0.3 ** (1 / 2.4 - 1)
    rounding2 = 1 / 12
    # 270000 values: the standard error of their deviation is 0.14 %; 1 % is 7 of them.
    assert np.std(stored) == pytest.approx(math.sqrt((sigma * slope) ** 2 + rounding2), rel=0.01)


def test_blur_and_motion_keep_the_light_and_its_place() -> None:
    """A point of light keeps its sum and its centre under blur and motion; motion along x spreads it along x."""
    light = np.zeros((41, 41, 3), np.float32)
    light[20, 20] = 1
    out = blurred(light, PhotoSettings(41, 41, blur_px=1.0, motion_px=(6.0, 0.0)))[..., 0].astype(float)
    v, u = np.mgrid[0:41, 0:41]
    assert np.sum(out) == pytest.approx(1, abs=1e-5)
    assert (np.sum(out * u), np.sum(out * v)) == pytest.approx((20, 20), abs=1e-4)
    # Variances add: the blur's 1 px^2 and the motion's 6^2/12 = 3 px^2 (plus the kernel's interpolation, under 0.3).
    assert np.sum(out * (u - 20) ** 2) == pytest.approx(4.0, abs=0.3)
    assert np.sum(out * (v - 20) ** 2) == pytest.approx(1.0, abs=0.05)


def small_scene(**changes: object) -> Scene:
    """An oak miter piece under one lamp, half a megapixel."""
    camera = phone_camera(800, 600, 26.0)
    pose = pose_over((125.0, 90.0), 340.0, 0.1, 0.4, 0.05)
    outline = turned(miter_outline(110.0, math.pi / 4, math.pi / 4), 0.1, (125.0, 90.0))
    scene = Scene(
        SHEETS["a4"], camera, pose, PhotoSettings(800, 600), pieces=(Piece(outline, 18.0, "oak", seed=3),),
        lights=(Light(-300.0, -300.0, 900.0, 60.0, 0.6),), ambient=Ambient(0.4), seed=9,
    )  # fmt: skip
    return replace(scene, **changes)  # type: ignore[arg-type]


def test_same_scene_gives_the_same_photo() -> None:
    """Rendering is settled by the scene alone; another seed gives other noise."""
    one, again, other = (render(small_scene(seed=seed)).stored for seed in (9, 9, 10))
    assert np.array_equal(one, again)
    assert not np.array_equal(one, other)


def test_white_paper_gets_the_level_asked_for() -> None:
    """In the middle of an empty window, lit evenly, the green channel holds the level."""
    scene = small_scene(pieces=(), lights=(), ambient=Ambient(1.0), plain=True)
    assert render_linear(scene)[280:320, 380:420, 1] == pytest.approx(0.7, rel=0.005)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_file_is_read_back_upright(orientation: int) -> None:
    """Whatever EXIF turn the file is stored under, it is read back as the upright picture, with its EXIF facts."""
    stored = np.zeros((400, 600, 3), np.uint8)
    stored[:200, :300] = (200, 40, 40)
    stored[200:, 300:] = (40, 40, 200)
    settings = PhotoSettings(600, 400, orientation=orientation, focal_35mm=27.0, quality=95)
    photo = as_photo(RenderedPhoto(small_scene(settings=settings), stored, {}))
    assert photo.stored.shape == stored.shape
    assert np.max(np.abs(photo.stored[100, 100].astype(int) - stored[100, 100])) < 8
    assert np.max(np.abs(photo.stored[300, 500].astype(int) - stored[300, 500])) < 8
    assert (photo.exif.model, photo.exif.focal_35mm) == ("rendered", 27.0)


def test_file_without_focal_length_has_no_exif(tmp_path: object) -> None:
    """focal_35mm None leaves camera facts out of the file."""
    scene = small_scene(settings=PhotoSettings(400, 300, focal_35mm=None))
    rendered = RenderedPhoto(scene, np.full((300, 400, 3), 90, np.uint8), {})
    path = tmp_path / "a photo.jpg"  # type: ignore[operator]
    write_jpeg(rendered, path)
    assert path.read_bytes() == jpeg_bytes(rendered)
    assert as_photo(rendered).exif.focal_35mm is None
