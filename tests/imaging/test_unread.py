"""Why no code of a sheet could be read: the cause is told when the ring of squares is plain to see."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from cutvision.errors import PhotoRefused
from cutvision.imaging.photo import ExifFacts, Photo
from cutvision.imaging.unread import find_ring, why_unread
from cutvision.target import SHEETS

SHEET = SHEETS["a4"]
PX_PER_MM = 4.0
MARGIN_MM = 20.0


def sheet_photo(blur_mm: float = 0.0, motion_mm: tuple[float, float] = (0.0, 0.0), lift: float = 1.0) -> Photo:
    """The ring's squares, blank where codes are, seen straight from above; blurred, smeared and with more light."""
    size = [round((side + 2 * MARGIN_MM) * PX_PER_MM) for side in (SHEET.height_mm, SHEET.width_mm)]
    light = np.full(size, 0.7)
    for column, row in SHEET.black_squares:
        x, y = (round((10.0 * k + MARGIN_MM) * PX_PER_MM) for k in (column, row))
        light[y : y + round(10 * PX_PER_MM), x : x + round(10 * PX_PER_MM)] = 0.04
    if blur_mm:
        light = cv2.GaussianBlur(light, (0, 0), blur_mm * PX_PER_MM)
    if any(motion_mm):
        shifts = np.linspace(-0.5, 0.5, 41)
        moved = [
            np.float32([[1, 0, s * motion_mm[0] * PX_PER_MM], [0, 1, s * motion_mm[1] * PX_PER_MM]]) for s in shifts
        ]
        light = np.mean([cv2.warpAffine(light, m, size[::-1], borderMode=cv2.BORDER_REPLICATE) for m in moved], axis=0)
    noise = np.random.default_rng(5).normal(0, 0.004, (*size, 3))
    stored = 255 * np.clip(lift * (light[..., None] * [1.0, 0.98, 0.95] + noise), 0, 1) ** (1 / 2.2)
    return Photo("p", "", stored.astype(np.uint8), ExifFacts())


def cause(photo: Photo) -> str:
    """The reason that takes the place of "no-target"."""
    return why_unread(photo, PhotoRefused("no-target", "nothing read")).reason


@pytest.mark.parametrize(
    "photo",
    [
        sheet_photo(0.6),
        sheet_photo(1.2),
        sheet_photo(2.0),
        sheet_photo(motion_mm=(2.5, 0.0)),
        sheet_photo(motion_mm=(0.0, 4.0)),
        sheet_photo(motion_mm=(2.0, -3.0)),
        sheet_photo(2.0, lift=1.3),
    ],
)
def test_a_smeared_ring_is_blurred(photo: Photo) -> None:
    """From a blur at which codes fail to one that leaves a fifth of the squares' contrast, the photo is blurred."""
    assert cause(photo) == "blurred"


def test_a_burnt_ring_is_overexposed() -> None:
    """A sharp ring on paper that is burnt out to white is over-exposed."""
    assert cause(sheet_photo(lift=5.0)) == "overexposed"


def test_squares_of_few_pixels_ask_to_go_closer() -> None:
    """A sharp ring, each square 12 px wide, has lost its codes to the picture's size."""
    photo = sheet_photo()
    small = cv2.resize(photo.stored, None, fx=0.3, fy=0.3, interpolation=cv2.INTER_AREA)
    refusal = why_unread(replace(photo, stored=small), PhotoRefused("no-target", "nothing read"))
    assert refusal.reason == "blurred"
    assert "closer" in refusal.remedy


def test_a_sharp_ring_without_codes_is_no_target() -> None:
    """Squares as sharp as can be, with no codes in them, are not the sheet."""
    assert cause(sheet_photo()) == "no-target"


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_ring_in_wood_or_noise(seed: int) -> None:
    """Blurred noise, stripes and a grid of thin lines hold no ring."""
    rng = np.random.default_rng(seed)
    noise = cv2.GaussianBlur(rng.normal(0, 1, (600, 800)), (0, 0), 4.0)
    grey = np.clip(128 + 60 * noise / noise.std(), 0, 255).astype(np.uint8)
    assert find_ring(grey) is None
    stripes = np.repeat((128 + 80 * np.sin(np.arange(800) / 7.0))[None, :], 600, axis=0)
    assert find_ring((stripes + rng.normal(0, 3, stripes.shape)).astype(np.uint8)) is None
    lines = np.full((600, 800), 90.0)
    lines[::40] = lines[:, ::40] = 110.0
    assert find_ring(cv2.GaussianBlur(lines, (0, 0), 1.5).astype(np.uint8)) is None


def test_the_ring_s_squares_are_measured() -> None:
    """Squares 40 px wide with a blur of 4 px are found to be so, to a tenth and to 15 %."""
    photo = sheet_photo(1.0)
    ring = find_ring(cv2.cvtColor(photo.stored, cv2.COLOR_RGB2GRAY))
    assert ring is not None
    assert ring.square_px == pytest.approx(40, rel=0.1)
    assert ring.blur_px == pytest.approx(4, rel=0.15)
