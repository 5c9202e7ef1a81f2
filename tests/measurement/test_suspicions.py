"""What photos say against how they came: copies of one look, and pixels that are not square."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from cutvision.errors import InputError
from cutvision.imaging.offcut import look_at
from cutvision.imaging.photo import Photo, read_photo
from cutvision.imaging.pose import prior_from_photo
from cutvision.measurement.observation import Observation
from cutvision.measurement.pipeline import measure
from cutvision.measurement.request import MeasureRequest
from cutvision.measurement.suspicions import check_square_pixels, copies_among
from cutvision.target import SHEETS
from cutvision.target.print_scale import print_scale
from cutvision.uncertainty import Influence
from simulation.photo_file import as_photo
from simulation.pieces import turned
from simulation.refused_scenes import good_scene
from simulation.render import render


@pytest.fixture(scope="module")
def original() -> Photo:
    """A two megapixel photo of a cherry miter."""
    return as_photo(render(good_scene()))


def saved_again(photo: Photo, quality: int, shrink: float = 1.0) -> Photo:
    """The photo as a chat or an editor saves it, without camera data."""
    image = Image.fromarray(photo.stored)
    size = (round(photo.width_px * shrink / 8) * 8, round(photo.height_px * shrink / 8) * 8)
    out = io.BytesIO()
    image.resize(size, Image.Resampling.LANCZOS).save(out, "JPEG", quality=quality)
    return replace(read_photo(out.getvalue(), "copy.jpg"), exif=photo.exif)


def test_a_look_saved_again_is_counted_once(original: Photo) -> None:
    """Copies at quality 75 and at three quarters of the size add nothing: the result is that of the first alone."""
    photos = [original, saved_again(original, 75), saved_again(original, 88, 0.75)]
    request = MeasureRequest("miter", 18.0)
    together, alone = (measure(some, request, lambda _: None) for some in (photos, photos[:1]))
    assert [photo.used for photo in together.photos] == [True, False, False]
    assert all(any(note.name == "same-look" for note in photo.notes) for photo in together.photos[1:])
    for name, quantity in alone.quantities.items():
        assert together.quantities[name].value == pytest.approx(quantity.value)
        assert together.quantities[name].standard_uncertainty == pytest.approx(quantity.standard_uncertainty)


def test_a_piece_moved_by_three_millimetres_is_a_new_look(original: Photo) -> None:
    """The same camera over the same sheet, the piece laid down 3 mm away: two looks."""
    scene = good_scene()
    piece = scene.pieces[0]
    moved = replace(piece, polygon=tuple((x + 3.0, y) for x, y in turned(piece.polygon, 0.0, (126.0, 94.0))))
    again = as_photo(render(replace(scene, pieces=(moved,), seed=22)))
    looks = [look_at(p, "miter", 18.0, prior_from_photo(p), lambda _: None) for p in (original, again, original)]
    assert copies_among(looks) == [None, None, 0]


@pytest.mark.parametrize(("anisotropy", "shear"), [(0.007, 0.0), (-0.007, 0.001), (0.0, 0.02)])
def test_a_stretched_picture_is_asked_about(anisotropy: float, shear: float) -> None:
    """A photo that shows the print stretched by 1.4 % or sheared by 2 %, and is sure of it to 0.05 %, is no print's."""
    observation = seen(anisotropy, shear, 5e-4)
    with pytest.raises(InputError, match="stretched or sheared") as asked:
        check_square_pixels([seen(0.0005, -0.0005, 5e-4), observation], print_scale(SHEETS["a4"], None))
    assert "as the phone stored it" in asked.value.remedy


def test_a_printer_s_stretch_or_a_photo_that_cannot_tell_passes() -> None:
    """An ordinary printer's 0.2 % passes; so does 1 % in a photo that knows it to no better than 0.5 %."""
    check_square_pixels([seen(0.001, -0.001, 5e-4), seen(0.005, 0.01, 5e-3)], print_scale(SHEETS["a4"], None))


def seen(anisotropy: float, shear: float, doubt: float) -> Observation:
    """An observation of a piece whose own parameters do not matter."""
    influences = tuple(Influence(key, key, "A", "test") for key in ("anisotropy", "shear"))
    components = np.zeros((5, 2))
    components[-2, 0] = components[-1, 1] = doubt
    return Observation(np.array([1.0, 2.0, 3.0, anisotropy, shear]), influences, components)
