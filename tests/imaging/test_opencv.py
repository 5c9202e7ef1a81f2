"""OpenCV's door: shapes that no version changes, centres at whole pixels, and words when it cannot be loaded."""

from __future__ import annotations

import builtins
import sys
from collections.abc import Mapping, Sequence
from types import ModuleType

import numpy as np
import pytest
from scipy.special import erf

from cutvision.errors import CutvisionError
from cutvision.imaging import opencv

SADDLE_PX = 0.02  # how near a noise-free saddle is found
MARKER_CORNER_PX = 1.0  # markers tell who they are, not where: their corners are coarse


def chequered(centre: tuple[float, float], size: int = 61, blur_px: float = 1.0) -> np.ndarray:
    """(size, size) uint8: a saddle point at `centre` as a lens shows it.

    Closed form: a Gaussian blur turns the two steps of a chequer board into error functions, whose product it is.
    """
    across, down = (erf((np.arange(size) - at) / (blur_px * np.sqrt(2))) for at in centre)
    return np.round(130.0 - 90.0 * down[:, None] * across[None, :]).astype(np.uint8)


@pytest.mark.parametrize("centre", [(30.0, 30.0), (30.4, 29.75), (29.55, 30.3)])
def test_a_saddle_is_found_where_it_lies(centre: tuple[float, float]) -> None:
    """Pixel centres are whole numbers: a saddle drawn at x, y is found at x, y."""
    guess = np.array([[31.0, 29.0]])
    assert np.abs(opencv.refine_saddles(chequered(centre), guess, 6) - np.array(centre)).max() < SADDLE_PX


def test_a_saddle_at_the_rim_is_not_guessed() -> None:
    """Where the window leaves the picture there is no answer; the other points keep theirs."""
    picture = chequered((30.0, 30.0))
    refined = opencv.refine_saddles(picture, np.array([[2.0, 30.0], [30.5, 30.5], [-4.0, 900.0]]), 6)
    assert np.isnan(refined[[0, 2]]).all()
    assert np.abs(refined[1] - 30.0).max() < SADDLE_PX
    assert opencv.refine_saddles(picture, np.empty((0, 2)), 6).shape == (0, 2)


def test_a_marker_gives_its_id_and_corners() -> None:
    """A drawn marker is found with its id, and four corners clockwise from its own top left."""
    aruco = opencv.cv2.aruco
    picture = np.full((160, 200), 255, np.uint8)
    marker = aruco.generateImageMarker(aruco.getPredefinedDictionary(aruco.DICT_5X5_1000), 437, 70)
    picture[40:110, 60:130] = marker
    ids, corners = opencv.detect_markers(picture)
    assert ids.tolist() == [437]
    expected = np.array([[60, 40], [129, 40], [129, 109], [60, 109]])
    assert np.abs(corners[0] - expected).max() <= MARKER_CORNER_PX


def test_only_the_wanted_markers_are_found() -> None:
    """With ids given, those markers keep their own numbers and corners, and all others are passed over."""
    aruco = opencv.cv2.aruco
    picture = np.full((160, 320), 255, np.uint8)
    for k, marker_id in enumerate((437, 12, 600)):
        marker = aruco.generateImageMarker(aruco.getPredefinedDictionary(aruco.DICT_5X5_1000), marker_id, 70)
        picture[40:110, 20 + 100 * k : 90 + 100 * k] = marker
    every, corners = opencv.detect_markers(picture)
    assert sorted(every.tolist()) == [12, 437, 600]
    wanted, found = opencv.detect_markers(picture, [600, 3, 437])
    assert sorted(wanted.tolist()) == [437, 600]
    for marker_id, at in zip(wanted, found, strict=True):
        assert np.array_equal(at, corners[every == marker_id][0])


def test_no_marker_gives_empty_arrays_of_the_usual_shape() -> None:
    """An empty picture gives (0,) ids and (0, 4, 2) corners."""
    ids, corners = opencv.detect_markers(np.full((50, 50), 128, np.uint8))
    assert ids.shape == (0,)
    assert corners.shape == (0, 4, 2)


@pytest.mark.parametrize(
    ("system", "words"), [("linux", "libgl1"), ("win32", "Media Feature Pack"), ("darwin", "anew")]
)
def test_a_failed_import_says_what_to_install(monkeypatch: pytest.MonkeyPatch, system: str, words: str) -> None:
    """Without its system libraries OpenCV's failure names the library, the package and the other wheel."""
    real = builtins.__import__

    def without_cv2(
        name: str,
        globals_: Mapping[str, object] | None = None,
        locals_: Mapping[str, object] | None = None,
        fromlist: Sequence[str] = (),
        level: int = 0,
    ) -> ModuleType:
        if name == "cv2":
            message = "libGL.so.1: cannot open shared object file: No such file or directory"
            raise ImportError(message)
        return real(name, globals_, locals_, fromlist, level)

    monkeypatch.setattr(builtins, "__import__", without_cv2)
    monkeypatch.setattr(sys, "platform", system)
    with pytest.raises(CutvisionError, match=r"libGL\.so\.1") as caught:
        opencv.import_opencv()
    assert words in caught.value.remedy
    assert "opencv-python-headless" in caught.value.remedy
