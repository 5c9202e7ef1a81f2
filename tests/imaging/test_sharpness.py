"""The blur and the tone curve's step shift that were put into a photo are read off the sheet's squares."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import pytest

from cutvision.imaging.locate import locate_sheet
from cutvision.imaging.pose import fit_pose, prior_from_photo
from cutvision.imaging.sharpness import Optics, measure_optics
from simulation.photo_file import as_photo
from simulation.refused_scenes import good_scene
from simulation.render import render
from simulation.scene import PhotoSettings

WIDTH_PX, HEIGHT_PX = 1632, 1224
INK_MM = 0.02


@cache
def optics_of(**settings: float) -> Optics:
    """What is read off a bare sheet's photo with little noise, no denoising, no sharpening and a plain sRGB curve."""
    clean = PhotoSettings(
        WIDTH_PX,
        HEIGHT_PX,
        **{"full_well": 60000.0, "s_curve": 0.0, "denoise": 0.0, "sharpen": 0.0, "quality": 97, **settings},
    )
    photo = as_photo(render(replace(good_scene(), pieces=(), settings=clean, plain=True, ink_blur_mm=INK_MM)))
    return measure_optics(photo, fit_pose(locate_sheet(photo), prior_from_photo(photo)))


@pytest.mark.parametrize("blur_px", [0.5, 0.7])
def test_the_blur_of_the_photo_is_measured(blur_px: float) -> None:
    """The lens's blur comes back to 6 %, together with the pixel's own (1/12 px^2) and the print's, in variance.

    The blurs tried stand 10 % apart; a usual phone photo's is 0.6 to 1 px.
    """
    optics = optics_of(blur_px=blur_px)
    expected = math.sqrt(blur_px**2 + 1 / 12 + (INK_MM * optics.scale_px_per_mm) ** 2)
    assert optics.blur_px == pytest.approx(expected, rel=0.06)
    assert abs(optics.shift_px) < 0.06


def test_a_bent_tone_curve_shifts_the_steps() -> None:
    """A curve darker than sRGB's moves the half-way points of black-white steps into the white; the shift is told."""
    darker, brighter = optics_of(blur_px=0.7, exponent=1.25), optics_of(blur_px=0.7, exponent=0.8)
    assert darker.shift_px > 0.05
    assert brighter.shift_px < -0.05


def test_the_scale_is_the_picture_s() -> None:
    """Pixels per mm are the focal length over the distance from the paper, to 3 % under a tilt of 7 deg."""
    scene = good_scene()
    optics = optics_of(blur_px=0.7)
    assert optics.scale_px_per_mm == pytest.approx(scene.camera.focal_px / scene.pose.centre_mm[2], rel=0.03)
    assert 0 < optics.shift_scatter_px < 0.1
