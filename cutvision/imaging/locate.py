"""Find the sheet in a photo: markers tell which squares are seen, saddle points tell where they are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutvision.errors import PhotoRefused
from cutvision.imaging import opencv
from cutvision.imaging.opencv import cv2
from cutvision.imaging.photo import Photo
from cutvision.target import SHEETS, Sheet

REDUCED_LONG_SIDE_PX = 2000
FEWEST_MARKERS = 6
PROBE_LONG_SIDE_PX = 1200
PROBE_STRIDE = 16
FEWEST_PROBED = 4
MOST_STRAY = 1
"""A probe with every sixteenth code settles the paper by this many hits and at most so many of others' codes."""
ANOTHER_SHEET_MM = 20.0
"""How far from where one sheet puts them, by the median, codes lie that are another sheet's: two squares."""
SADDLE_WINDOW_MM = 1.1
"""Half the window of a refinement: under the 1.5 mm at which a marker's border would pull the saddle."""


@dataclass(frozen=True, slots=True)
class SheetSighting:
    """The sheet as seen in one photo.

    saddles_mm: (N, 2) places on the drawn sheet; saddles_px: (N, 2) the same in the photo, x right, y down, pixel
    centres at whole numbers.
    start: (3, 3) homography, pixels from sheet mm, good to some pixels (it knows no lens).
    markers: how many markers agreed on this sheet.
    """

    sheet: Sheet
    saddles_mm: np.ndarray
    saddles_px: np.ndarray
    start: np.ndarray
    markers: int


def grey_of(photo: Photo) -> np.ndarray:
    """(H, W) uint8 luma of the stored values."""
    return np.asarray(cv2.cvtColor(photo.stored, cv2.COLOR_RGB2GRAY))


def _detect(grey: np.ndarray, long_side_px: int) -> tuple[np.ndarray, np.ndarray]:
    """Marker ids (N,) and corners (N, 4, 2) in full-size pixels, found on a copy of at most the given long side."""
    shrink = long_side_px / max(grey.shape)
    if shrink >= 1:
        return _markers_of_a_sheet(grey)
    small = cv2.resize(grey, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    ids, corners = _markers_of_a_sheet(small)
    ratio = np.array([grey.shape[1] / small.shape[1], grey.shape[0] / small.shape[0]])
    return ids, (corners + 0.5) * ratio - 0.5


def _markers_of_a_sheet(grey: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Ids (N,) and corners (N, 4, 2) of the markers of one paper's sheet; of all papers when a probe leaves doubt.

    Looking for few codes is quick: a coarse probe with some of every paper's tells which paper's to look for.
    """
    every = [marker_id for sheet in SHEETS.values() for marker_id in sheet.marker_squares]
    shrink = min(1.0, PROBE_LONG_SIDE_PX / max(grey.shape))
    small = cv2.resize(grey, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA) if shrink < 1 else grey
    ids, _ = opencv.detect_markers(small, every[::PROBE_STRIDE])
    counts = {paper: sum(int(k) in sheet.marker_squares for k in ids) for paper, sheet in SHEETS.items()}
    paper = max(counts, key=lambda name: counts[name])
    clear = counts[paper] >= FEWEST_PROBED and sum(counts.values()) - counts[paper] <= MOST_STRAY
    return opencv.detect_markers(grey, list(SHEETS[paper].marker_squares) if clear else every)


@dataclass(frozen=True, slots=True)
class _Agreement:
    """Marker corners that one plane explains: mm, px (M, 2) and the homography, pixels from sheet mm."""

    sheet: Sheet
    mm: np.ndarray
    px: np.ndarray
    homography: np.ndarray


def _agreements(ids: np.ndarray, corners: np.ndarray) -> list[_Agreement]:
    """The sheets that the markers make, that of most markers first; empty when too few agree on any."""
    found: list[_Agreement] = []
    for sheet in SHEETS.values():
        left = np.array([int(k) in sheet.marker_squares for k in ids], dtype=bool)
        while left.sum() >= FEWEST_MARKERS:
            rows = np.flatnonzero(left)
            mm = np.array([sheet.marker_corners_mm(int(k)) for k in ids[rows]])
            px = corners[rows]
            agreed = _on_one_plane(mm.reshape(-1, 2), px.reshape(-1, 2))
            if agreed is None:
                break
            homography, good = agreed
            one = _Agreement(sheet, mm[good].reshape(-1, 2), px[good].reshape(-1, 2), homography)
            if any(other.sheet is sheet and not _lies_apart(one, other) for other in found):
                break
            found.append(one)
            left[rows[good]] = False
    return sorted(found, key=lambda one: -len(one.mm))


def _on_one_plane(mm: np.ndarray, px: np.ndarray) -> tuple[np.ndarray, np.ndarray] | None:
    """The homography, pixels from mm, of most of M markers' corners (4 M, 2), and which of the markers (M,) agree."""
    reach = float(np.ptp(px, axis=0).max())
    homography, inlier = cv2.findHomography(mm, px, cv2.RANSAC, max(4.0, 0.01 * reach), maxIters=2000, confidence=0.999)
    if homography is None:
        return None
    good = np.asarray(np.asarray(inlier).reshape(-1, 4).all(axis=1))
    return (np.asarray(homography), good) if good.sum() >= FEWEST_MARKERS else None


def _lies_apart(one: _Agreement, other: _Agreement) -> bool:
    """Whether the markers of one lie where the other, of the same paper, does not put them: a second such sheet."""
    there = homography_points(np.linalg.inv(other.homography), one.px)
    return bool(np.median(np.hypot(*(there - one.mm).T)) > ANOTHER_SHEET_MM)


def homography_points(homography: np.ndarray, points: np.ndarray) -> np.ndarray:
    """(N, 2) points through a (3, 3) homography -> (N, 2)."""
    mapped = np.column_stack([points, np.ones(len(points))]) @ homography.T
    return np.asarray(mapped[:, :2] / mapped[:, 2:])


def _local_prediction(mm: np.ndarray, px: np.ndarray, homography: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    """Where (N, 2) sheet points should show: the homography and a smooth cubic of what it misses at marker corners."""
    miss = px - homography_points(homography, mm)
    middle, spread = mm.mean(axis=0), np.ptp(mm, axis=0).max() / 2

    def terms(points: np.ndarray) -> np.ndarray:
        x, y = ((points - middle) / spread).T
        return np.column_stack([np.ones_like(x), x, y, x * x, x * y, y * y, x**3, x * x * y, x * y * y, y**3])

    basis = terms(mm)
    ridge = 1e-3 * len(mm) * np.eye(basis.shape[1])
    cubic = np.linalg.solve(basis.T @ basis + ridge, basis.T @ miss)
    return np.asarray(homography_points(homography, wanted) + terms(wanted) @ cubic)


def _is_saddle(grey: np.ndarray, points_px: np.ndarray, across: np.ndarray, down: np.ndarray) -> np.ndarray:
    """(N,) whether the four quarters about each point are black, white, black, white with a clear contrast.

    across, down: (N, 2) local steps in px of 1 mm along the sheet's x and y.
    """
    means = []
    for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
        samples = [
            _bilinear(grey, points_px + sx * ax * across + sy * ay * down) for ax in (0.6, 1.0) for ay in (0.6, 1.0)
        ]
        means.append(np.mean(samples, axis=0))
    a, b, c, d = means
    contrast = (a + c - b - d) / 2
    uneven = np.maximum(np.abs(a - c), np.abs(b - d))
    return np.asarray((np.abs(contrast) > 20) & (uneven < 0.6 * np.abs(contrast)))


def _bilinear(grey: np.ndarray, points_px: np.ndarray) -> np.ndarray:
    x = np.ascontiguousarray(points_px[:, 0], dtype=np.float32).reshape(1, -1)
    y = np.ascontiguousarray(points_px[:, 1], dtype=np.float32).reshape(1, -1)
    sampled = cv2.remap(grey, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=0)
    return np.asarray(sampled, dtype=float).ravel()


def _read_markers(grey: np.ndarray) -> list[_Agreement]:
    """The sheets that the markers make, sought on a reduced copy first. Raises PhotoRefused."""
    any_marker = 0
    for long_side in (REDUCED_LONG_SIDE_PX, 2 * REDUCED_LONG_SIDE_PX, max(grey.shape)):
        ids, corners = _detect(grey, long_side)
        any_marker = max(any_marker, len(ids))
        found = _agreements(ids, corners)
        if found:
            return found
        if long_side >= max(grey.shape):
            break
    if any_marker >= 3:
        raise PhotoRefused(
            "target-too-little",
            f"Only {any_marker} of the sheet's square codes could be read, and {FEWEST_MARKERS} that agree are needed.",
        )
    raise PhotoRefused("no-target", "None of the sheet's square codes could be read in this photo.")


def locate_sheets(photo: Photo) -> list[SheetSighting]:
    """The sheets in the photo, that of most codes first. Raises PhotoRefused("no-target" or "target-too-little")."""
    grey = grey_of(photo)
    return [_sighting(grey, found) for found in _read_markers(grey)]


def locate_sheet(photo: Photo) -> SheetSighting:
    """The sheet of most codes. Raises PhotoRefused as `locate_sheets`."""
    return locate_sheets(photo)[0]


def _sighting(grey: np.ndarray, found: _Agreement) -> SheetSighting:
    """The saddle points of a sheet whose markers were found."""
    sheet, mm, px, homography = found.sheet, found.mm, found.px, found.homography
    predicted = _local_prediction(mm, px, homography, sheet.saddles_mm)
    here = homography_points(homography, sheet.saddles_mm)
    across = homography_points(homography, sheet.saddles_mm + np.array([1.0, 0.0])) - here
    down = homography_points(homography, sheet.saddles_mm + np.array([0.0, 1.0])) - here
    scale = np.sqrt(np.abs(across[:, 0] * down[:, 1] - across[:, 1] * down[:, 0]))
    edge = 3 * scale
    inside = (
        (predicted[:, 0] > edge)
        & (predicted[:, 1] > edge)
        & (predicted[:, 0] < grey.shape[1] - 1 - edge)
        & (predicted[:, 1] < grey.shape[0] - 1 - edge)
    )
    half = max(3, round(float(SADDLE_WINDOW_MM * np.median(scale))))
    points = predicted.copy()
    if inside.any():
        points[inside] = opencv.refine_saddles(grey, predicted[inside], half)
    moved = np.hypot(*(points - predicted).T)
    good = inside & (moved < 1.5 * half)
    good[good] = _is_saddle(grey, points[good], across[good], down[good])
    return SheetSighting(sheet, sheet.saddles_mm[good], points[good], homography, len(mm) // 4)
