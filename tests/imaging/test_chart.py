"""What was done to a photo is read off the sheet's squares: blur, sharpening, lateral color."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest

from cutvision.imaging.chart import FEWEST_SIDES, USUAL, Chart, LateralColor, read_chart
from cutvision.imaging.locate import locate_sheet
from cutvision.imaging.photo import ExifFacts, Photo
from cutvision.imaging.pose import fit_pose, prior_from_photo
from cutvision.imaging.response import GRID_PX, EdgeResponse, filed, stored_steps
from cutvision.imaging.tone import LUMA_CHROMA_FROM_RGB, linear_from_stored
from simulation.photo_file import as_photo
from simulation.refused_scenes import good_scene
from simulation.render import render
from simulation.scene import PhotoSettings

WIDTH_PX, HEIGHT_PX = 1632, 1224
U_PX = np.arange(-60, 61) * GRID_PX
CORNER_PX = float(np.hypot(WIDTH_PX, HEIGHT_PX)) / 2
MIDDLE_PX = np.array([(WIDTH_PX - 1) / 2, (HEIGHT_PX - 1) / 2])


@cache
def clean_photo() -> Photo:
    """A bare sheet with little noise, no denoising, no sharpening and a plain sRGB curve."""
    clean = PhotoSettings(
        WIDTH_PX, HEIGHT_PX, blur_px=0.7, full_well=60000.0, s_curve=0.0, denoise=0.0, sharpen=0.0, quality=97
    )
    return as_photo(render(replace(good_scene(), pieces=(), settings=clean, plain=True, ink_blur_mm=0.02)))


def changed(stored: np.ndarray) -> Photo:
    """The clean photo with other pixels."""
    return replace(clean_photo(), stored=np.clip(np.rint(stored), 0, 255).astype(np.uint8))


def chart_of(photo: Photo) -> Chart:
    """What its squares tell."""
    return read_chart(photo, fit_pose(locate_sheet(photo), prior_from_photo(photo)))


def sharpened(stored: np.ndarray, amount: float, radius_px: float) -> np.ndarray:
    """An unsharp mask of all three colors alike."""
    values = stored.astype(np.float32)
    return np.asarray(values + amount * (values - cv2.GaussianBlur(values, (0, 0), radius_px)))


def fringed(stored: np.ndarray, red_px: float, blue_px: float) -> np.ndarray:
    """Red and blue drawn larger about the middle, by so many pixels at the corner."""
    result = stored.astype(np.float32)
    y, x = np.mgrid[:HEIGHT_PX, :WIDTH_PX].astype(np.float32)
    for color, shift in ((0, red_px), (2, blue_px)):
        scale = 1 / (1 + shift / CORNER_PX)
        at_x = (MIDDLE_PX[0] + (x - MIDDLE_PX[0]) * scale).astype(np.float32)
        at_y = (MIDDLE_PX[1] + (y - MIDDLE_PX[1]) * scale).astype(np.float32)
        result[..., color] = cv2.remap(result[..., color], at_x, at_y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    return result


def profile(response: EdgeResponse) -> np.ndarray:
    """(n,) luma of a step from black to white under a response, 0 to 1."""
    black, white = linear_from_stored(np.array([[50.0] * 3, [210.0] * 3]))
    stored = stored_steps(np.array([white, black]), U_PX, np.zeros((1, 3)), response.blur_px)
    return np.asarray((filed(stored, response)[0][:, 0] - 50) / 160)


@pytest.mark.parametrize(("amount", "radius_px"), [(0.8, 1.2), (1.4, 2.0)])
def test_an_unsharp_mask_is_found(amount: float, radius_px: float) -> None:
    """The response of a sharpened photo is the clean photo's own, sharpened so: to 3 % of the step everywhere.

    Amount and radius apart are not told as well: a weak wide halo and a strong narrow one look alike.
    """
    chart = chart_of(changed(sharpened(clean_photo().stored, amount, radius_px)))
    plain = profile(chart_of(clean_photo()).response)[:, None]
    expected = filed(plain, EdgeResponse(0.7, amount, radius_px))[0][:, 0]
    assert expected.max() > 1.05
    assert np.abs(profile(chart.response) - expected).max() < 0.03
    assert chart.misfit < 0.015


def test_a_photo_without_sharpening_shows_no_halo() -> None:
    """On a clean photo the response overshoots by less than 2 % of a step, and colors stand within 0.15 px."""
    chart = chart_of(clean_photo())
    assert profile(chart.response).max() < 1.02
    assert chart.misfit < 0.005
    assert np.abs(chart.color.terms.sum(axis=1)).max() < 0.15


@pytest.mark.parametrize(("red_px", "blue_px"), [(1.0, -0.6), (-0.5, 0.9)])
def test_lateral_color_is_found(red_px: float, blue_px: float) -> None:
    """Red and blue displaced in proportion to the distance from the middle come back to 0.15 px."""
    chart = chart_of(changed(fringed(clean_photo().stored, red_px, blue_px)))
    out = MIDDLE_PX + 0.75 * CORNER_PX * np.array([[0.8, 0.6]])
    red, green, blue = chart.color.shifts_px(out, np.array([[0.8, 0.6]]))[0]
    assert red - green == pytest.approx(0.75 * red_px, abs=0.15)
    assert blue - green == pytest.approx(0.75 * blue_px, abs=0.15)


def test_luma_stands_still() -> None:
    """Displacements are from where luma shows a neutral step: weighted as luma weighs the colors, they cancel."""
    color = LateralColor(MIDDLE_PX, CORNER_PX, np.array([[1.0, 0.2], [-0.7, 0.1]]))
    points = np.array([[100.0, 200.0], [1500.0, 900.0]])
    across = np.array([[1.0, 0.0], [0.6, 0.8]])
    assert np.abs(color.shifts_px(points, across) @ LUMA_CHROMA_FROM_RGB[0]).max() < 1e-9


def test_displacement_is_outward_and_only_across() -> None:
    """Along a circle about the middle nothing is displaced; outward at the corner red is, by its own terms."""
    color = LateralColor(MIDDLE_PX, CORNER_PX, np.array([[1.0, 0.2], [0.0, 0.0]]))
    corner = MIDDLE_PX + CORNER_PX * np.array([[0.8, 0.6]])
    outward = color.shifts_px(corner, np.array([[0.8, 0.6]]))[0]
    assert outward[0] - outward[1] == pytest.approx(1.2)
    assert np.abs(color.shifts_px(corner, np.array([[-0.6, 0.8]]))).max() < 1e-9


def test_without_squares_the_usual_response_is_taken() -> None:
    """When the pose puts the squares out of the picture there is nothing to read, and nothing is made up."""
    photo = clean_photo()
    pose = fit_pose(locate_sheet(photo), prior_from_photo(photo))
    small = Photo("crop", photo.sha256, photo.stored[500:700, 700:900], ExifFacts())
    chart = read_chart(small, pose)
    assert FEWEST_SIDES > 0
    assert chart.response == USUAL
    assert not chart.color.terms.any()
