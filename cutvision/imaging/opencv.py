"""The one door to OpenCV, in shapes that are the same for 4.14 and 5, with a clear word when it cannot be loaded.

`from cutvision.imaging.opencv import cv2` elsewhere in this room; never `cv2.imread` or `cv2.imwrite` (they fail
silently on some file names), and nothing of `cv2.aruco` or `cv2.imdecode` outside this module.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from cutvision.errors import opencv_missing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

ERROR_CORRECTION_RATE = 0.3
SADDLE_STEPS = 50
SADDLE_STEP_PX = 1e-4


def import_opencv() -> Any:  # the stubs of 4.14 and 5 differ, so neither can name the type
    """The cv2 module. Raises CutvisionError, with what to install, when it or a system library it needs is missing."""
    try:
        import cv2  # noqa: PLC0415  so that the error can be caught and explained
    except ImportError as error:
        raise opencv_missing(error) from error
    return cv2


cv2 = import_opencv()


def keep_to_one_core() -> None:
    """Let OpenCV do everything in the calling thread: where photos are spread over processes, its threads only wait."""
    cv2.setNumThreads(1)


def decoded_colours(data: bytes) -> NDArray[np.uint8]:
    """(H, W, 3) stored red, green, blue of a picture's bytes, as it lies in the file. Raises OSError.

    What a file that was cut short lacks is filled up without a word: whether it is whole is for the caller to see.
    """
    picture = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR_RGB | cv2.IMREAD_IGNORE_ORIENTATION)
    if picture is None:
        raise OSError("the decoder gave nothing")
    return np.asarray(picture, dtype=np.uint8)


def detect_markers(
    grey: NDArray[np.uint8], wanted: Sequence[int] | None = None
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Find the 5 x 5 markers in an (H, W) grey picture: those with the wanted ids, or all of the dictionary's thousand.

    Every candidate is held against every code sought, so the time is nearly that of their number.
    Returns ids (N,) and corners (N, 4, 2) in px, clockwise from the marker's own top left, pixel centres at whole
    numbers. False hits happen: a marker counts only when it fits its neighbours.
    """
    parameters = cv2.aruco.DetectorParameters()
    parameters.errorCorrectionRate = ERROR_CORRECTION_RATE
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
    if wanted is not None:
        codes = np.ascontiguousarray(dictionary.bytesList[list(wanted)])
        dictionary = cv2.aruco.Dictionary(codes, dictionary.markerSize, dictionary.maxCorrectionBits)
    corners, found, _ = cv2.aruco.ArucoDetector(dictionary, parameters).detectMarkers(grey)
    if found is None or len(found) == 0:
        return np.empty(0, dtype=np.int64), np.empty((0, 4, 2))
    ids = np.asarray(found, dtype=np.int64).reshape(-1)
    if wanted is not None:
        ids = np.asarray(wanted, dtype=np.int64)[ids]
    return ids, np.asarray(corners, dtype=float).reshape(-1, 4, 2)


def refine_saddles(grey: NDArray[np.uint8], points_px: NDArray[np.float64], half_window_px: int) -> NDArray[np.float64]:
    """Move (N, 2) guesses to the saddle points beside them, by the grey slopes within `half_window_px` to each side.

    Returns (N, 2); a row of NaN where the window does not lie wholly inside the (H, W) picture.
    """
    points = np.asarray(points_px, dtype=float).reshape(-1, 2)
    refined = np.full_like(points, np.nan)
    reach = max(1, half_window_px) + 2
    height, width = grey.shape
    inside = (points >= reach).all(axis=1) & (points < np.array([width - reach, height - reach])).all(axis=1)
    if inside.any():
        start = np.ascontiguousarray(points[inside], dtype=np.float32).reshape(-1, 1, 2)
        stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, SADDLE_STEPS, SADDLE_STEP_PX)
        window = (max(1, half_window_px), max(1, half_window_px))
        refined[inside] = np.asarray(cv2.cornerSubPix(grey, start, window, (-1, -1), stop), dtype=float).reshape(-1, 2)
    return refined
