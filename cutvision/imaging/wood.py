"""Wood against paper: a coarse map of the sheet on which the piece stands out by its hue, shadow or no shadow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutvision.imaging.opencv import cv2
from cutvision.imaging.photo import Photo
from cutvision.imaging.pose import SheetPose, predicted_px
from cutvision.imaging.tone import linear_from_stored
from cutvision.target.sheet import MARKER_MM, SQUARE_MM, Sheet

MAP_PX_PER_MM = 3.0
LIT_SHARE = 0.6
"""Paper darker than this share of the brightest lies in a shadow."""


@dataclass(frozen=True, slots=True)
class WoodMap:
    """A coarse view of the sheet, for looking and never for measuring.

    hue: (h, w) how far each place departs from the paper's colour toward wood, in linear light relative to the paper;
    0 on paper in light or shadow and on print, positive on wood.
    colour: (h, w, 3) linear red, green, blue relative to the lit paper.
    shown: (h, w) bool, what lies inside the picture.
    mm_per_cell: edge of a cell; cell (row i, column j) has its centre at ((j + 0.5), (i + 0.5)) times it in the
    sheet's frame.
    """

    hue: np.ndarray
    colour: np.ndarray
    shown: np.ndarray
    mm_per_cell: float


def map_wood(photo: Photo, pose: SheetPose) -> WoodMap:
    """The coarse map of the whole ring and window."""
    sheet = pose.sheet
    columns, rows = round(sheet.width_mm * MAP_PX_PER_MM), round(sheet.height_mm * MAP_PX_PER_MM)
    x, y = (np.arange(columns) + 0.5) / MAP_PX_PER_MM, (np.arange(rows) + 0.5) / MAP_PX_PER_MM
    coarse_x, coarse_y = np.meshgrid(np.linspace(0, sheet.width_mm, 51), np.linspace(0, sheet.height_mm, 37))
    knots = predicted_px(sheet, pose.values, pose.turned_from, np.column_stack([coarse_x.ravel(), coarse_y.ravel()]))
    along, down = _spline(x / sheet.width_mm * 50, 51), _spline(y / sheet.height_mm * 36, 37)
    px = [down @ k.reshape(37, 51) @ along.T for k in knots.T]

    span = np.hypot(*(knots[0] - knots[50])) / sheet.width_mm
    shrink = min(1.0, 1.2 * MAP_PX_PER_MM / span)
    stored = photo.stored
    small = cv2.resize(stored, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA) if shrink < 1 else stored
    ratio_x, ratio_y = small.shape[1] / stored.shape[1], small.shape[0] / stored.shape[0]
    view = cv2.remap(
        small,
        ((px[0] + 0.5) * ratio_x - 0.5).astype(np.float32),
        ((px[1] + 0.5) * ratio_y - 0.5).astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=(0, 0, 0),
    )
    light = linear_from_stored(view)
    paper = _paper_colour(sheet, light)
    colour = cv2.medianBlur((light / paper).astype(np.float32), 5)
    hue = (colour[..., 0] + colour[..., 1]) / 2 - colour[..., 2]
    height, width = stored.shape[:2]
    shown = (px[0] >= 0) & (px[1] >= 0) & (px[0] <= width - 1) & (px[1] <= height - 1)
    return WoodMap(hue, colour, shown, 1 / MAP_PX_PER_MM)


def _spline(at: np.ndarray, count: int) -> np.ndarray:
    """(N, count) weights of `count` knots in a cubic spline at places (N,); a surface is the product of two.

    Beyond its ends the spline goes on level. Source: Unser, Aldroubi and Eden, IEEE Trans. Signal Processing 41 (1993).
    """
    spare = 12  # knots beyond each end: what is farther off counts for less than a double's last digit
    total = count + 2 * spare
    of_knots = np.diag(np.full(total, 4 / 6)) + sum(np.diag(np.full(total - 1, 1 / 6), side) for side in (-1, 1))
    of_knots[0, 1] = of_knots[-1, -2] = 2 / 6
    level = np.clip(np.arange(total) - spare, 0, count - 1)
    coefficients = np.linalg.solve(of_knots, np.eye(count)[level])
    k = np.floor(at).astype(int)
    t = (at - k)[:, None]
    pieces = ((1 - t) ** 3, 3 * t**3 - 6 * t**2 + 4, -3 * t**3 + 3 * t**2 + 3 * t + 1, t**3)
    return np.asarray(sum(piece / 6 * coefficients[k + spare - 1 + j] for j, piece in enumerate(pieces)))


def _paper_colour(sheet: Sheet, light: np.ndarray) -> np.ndarray:
    """(3,) linear colour of the lit paper, from the blank rims of the ring's white squares.

    A large board may lie over half of them, and wood is yellower than the paper it lies on: the bluer half counts.
    """
    cell = 1 / MAP_PX_PER_MM
    rim = (SQUARE_MM - MARKER_MM) / 2
    samples = []
    for column, row in sheet.marker_squares.values():
        middle = np.array([column + 0.5, row + 0.5]) * SQUARE_MM
        for away in ((0, -1), (1, 0), (0, 1), (-1, 0)):
            x, y = middle + np.array(away) * (SQUARE_MM - rim) / 2
            samples.append(light[int(y / cell), int(x / cell)])
    colours = np.array(samples)
    bright = colours.sum(axis=1)
    lit = colours[bright > LIT_SHARE * np.quantile(bright, 0.9)]
    blueness = lit[:, 2] / np.maximum(lit[:, :2].mean(axis=1), 1e-6)
    return np.asarray(np.median(lit[blueness >= np.median(blueness)], axis=0))
