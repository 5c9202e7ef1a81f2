"""The sheet is found by its codes and measured by its saddle points, and by nothing less."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from cutvision.errors import PhotoRefused
from cutvision.imaging.camera import project, world_from_sheet
from cutvision.imaging.locate import SheetSighting, locate_sheet
from cutvision.imaging.photo import ExifFacts, Photo
from simulation.render import RenderedPhoto

SADDLE_RMS_PX = 0.06  # on rendered photos of 4 px a mm with blur, noise and JPEG; common practice is 0.05 to 0.1
SADDLE_WORST_PX = 0.25
REFINED_TO_PX = 1e-3  # where the search for a saddle stops depends on where it starts


def true_px(rendered: RenderedPhoto, nominal_mm: np.ndarray) -> np.ndarray:
    """(N, 2) where the scene's camera sees drawn places of the sheet."""
    scene = rendered.scene
    return project(scene.camera, scene.pose, world_from_sheet(scene.true_from_nominal(nominal_mm)))


def repainted(photo: Photo, rows: slice, columns: slice, seed: int = 0) -> Photo:
    """The photo with a part of it covered by something grey and uneven."""
    stored = photo.stored.copy()
    part = stored[rows, columns]
    part[:] = np.random.default_rng(seed).integers(70, 110, part.shape, dtype=np.uint8)
    return replace(photo, stored=stored)


def made_of_markers(places: dict[int, tuple[int, int]], side_px: int = 60) -> Photo:
    """A grey picture with single codes of the sheet, each by its id at a place (x, y) of its top left."""
    grey = np.full((900, 1200), 120, np.uint8)
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
    for marker_id, (x, y) in places.items():
        grey[y - 20 : y + side_px + 20, x - 20 : x + side_px + 20] = 235
        grey[y : y + side_px, x : x + side_px] = cv2.aruco.generateImageMarker(dictionary, marker_id, side_px)
    return Photo("made", "0" * 64, np.repeat(grey[..., None], 3, axis=2), ExifFacts())


def test_every_saddle_is_found_where_it_is(rendered: RenderedPhoto, sighting: SheetSighting) -> None:
    """All saddles of a sheet that shows whole are found, 0.06 px rms from where the scene's camera puts them."""
    assert len(sighting.saddles_mm) == len(sighting.sheet.saddles_mm)
    miss = np.hypot(*(sighting.saddles_px - true_px(rendered, sighting.saddles_mm)).T)
    assert np.sqrt((miss**2).mean() / 2) < SADDLE_RMS_PX
    assert miss.max() < SADDLE_WORST_PX


def test_a_covered_part_of_the_frame_is_left_out(rendered: RenderedPhoto, photo: Photo) -> None:
    """With a quarter of the picture covered, no saddle is claimed there and all others stay where they are."""
    sighting = locate_sheet(repainted(photo, slice(0, 612), slice(0, 816)))
    true = true_px(rendered, sighting.sheet.saddles_mm)
    covered = (true[:, 0] < 816) & (true[:, 1] < 612)
    clear = (true[:, 0] > 850) | (true[:, 1] > 645)
    found = {tuple(mm) for mm in sighting.saddles_mm.tolist()}
    assert covered.sum() > 20
    assert not found & {tuple(mm) for mm in sighting.sheet.saddles_mm[covered].tolist()}
    assert found >= {tuple(mm) for mm in sighting.sheet.saddles_mm[clear].tolist()}
    miss = np.hypot(*(sighting.saddles_px - true_px(rendered, sighting.saddles_mm)).T)
    assert miss.max() < SADDLE_WORST_PX


@pytest.mark.parametrize("quarter_turns", [1, 2])
def test_a_turned_photo_shows_the_same_saddles(photo: Photo, sighting: SheetSighting, quarter_turns: int) -> None:
    """A photo turned by quarter turns gives every saddle again, turned with it, to 0.05 px."""
    turned = replace(photo, stored=np.ascontiguousarray(np.rot90(photo.stored, quarter_turns)))
    again = locate_sheet(turned)
    x, y = sighting.saddles_px.T
    width, height = photo.width_px, photo.height_px
    expected = np.column_stack([y, width - 1 - x] if quarter_turns == 1 else [width - 1 - x, height - 1 - y])
    assert np.array_equal(again.saddles_mm, sighting.saddles_mm)
    assert np.abs(again.saddles_px - expected).max() < 0.05


def test_a_lone_code_makes_no_sheet() -> None:
    """One code of the sheet in the picture, as a false hit would be, is no target."""
    with pytest.raises(PhotoRefused) as refusal:
        locate_sheet(made_of_markers({17: (500, 400)}))
    assert refusal.value.reason == "no-target"


def test_codes_that_lie_on_no_sheet_make_none() -> None:
    """Nine codes strewn over the picture, each readable but not where one sheet has them, are refused."""
    rng = np.random.default_rng(4)
    places = [(100 + 320 * column, 80 + 260 * row) for row in range(3) for column in range(3)]
    strewn = dict(zip((int(k) for k in rng.permutation(100)[:9]), places, strict=True))
    with pytest.raises(PhotoRefused) as refusal:
        locate_sheet(made_of_markers(strewn))
    assert refusal.value.reason == "target-too-little"


def test_a_picture_of_noise_shows_no_sheet() -> None:
    """A picture of mere noise is refused as showing no sheet."""
    stored = np.random.default_rng(0).integers(0, 256, (900, 1200, 3), dtype=np.uint8)
    with pytest.raises(PhotoRefused) as refusal:
        locate_sheet(Photo("noise", "0" * 64, stored, ExifFacts()))
    assert refusal.value.reason == "no-target"


def test_another_sheet_s_code_in_the_picture_changes_nothing(photo: Photo, sighting: SheetSighting) -> None:
    """A code of another paper's sheet in the blank window does not change which sheet is seen, nor a saddle of it."""
    code = made_of_markers({320: (40, 40)}, side_px=40).stored[10:110, 10:110]
    stored = photo.stored.copy()
    stored[380:480, 520:620] = code
    again = locate_sheet(replace(photo, stored=stored))
    assert again.sheet.paper == "a4"
    assert np.abs(again.saddles_px - sighting.saddles_px).max() < REFINED_TO_PX
