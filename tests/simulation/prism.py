"""How a prism shows in a photo: which share of each pixel is its top face and which is each of its walls."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from cutvision.imaging.camera import project, world_from_sheet
from simulation.edges import Side, sides_of
from simulation.scene import Piece, Scene

_NONE, _TOP = 0, 1
# A rank-1 lattice of a prime number of points: edges along a pixel's sides or diagonals are cut as finely as any other.
_COUNT = 37
_LATTICE = (np.column_stack([np.arange(_COUNT), np.arange(_COUNT) * 14 % _COUNT]) + 0.5) / _COUNT - 0.5


@dataclass(frozen=True)
class Appearance:
    """A prism in the part of the photo that holds it.

    rows, columns: that part. top: (h, w) share of each pixel that is the top face. walls: (side's index, (n,) flat
    indices of the part's pixels, (n,) share of each, (n,) height over the paper seen there).
    """

    rows: slice
    columns: slice
    top: np.ndarray
    walls: tuple[tuple[int, np.ndarray, np.ndarray, np.ndarray], ...]


def part_of_photo(scene: Scene, piece: Piece) -> tuple[slice, slice] | None:
    """Rows and columns that can show the prism, or None when it lies out of the photo."""
    outline = [
        np.column_stack([piece.vertices_mm, np.full(len(piece.polygon), h)]) for h in (piece.base_mm, piece.top_mm)
    ]
    ways = np.linspace(0, 1, 9)[:, None, None]
    points = np.concatenate([(a * (1 - ways) + np.roll(a, -1, axis=0) * ways).reshape(-1, 3) for a in outline])
    pixels = project(scene.camera, scene.pose, world_from_sheet(points))
    low = np.floor(pixels.min(axis=0) - 40).astype(int)
    high = np.ceil(pixels.max(axis=0) + 41).astype(int)
    left, right = max(low[0], 0), min(high[0], scene.settings.width_px)
    top, bottom = max(low[1], 0), min(high[1], scene.settings.height_px)
    return (slice(top, bottom), slice(left, right)) if right - left > 2 and bottom - top > 2 else None


def at_height(lens: np.ndarray, x: np.ndarray, y: np.ndarray, height_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """Where rays that meet the paper's plane at (x, y) pass a height; lens: (3,) its centre in the sheet's frame."""
    share = np.float32(height_mm / lens[2])
    return x + (np.float32(lens[0]) - x) * share, y + (np.float32(lens[1]) - y) * share


def _hits(
    sides: Sequence[Side], high: Sequence[np.ndarray], low: Sequence[np.ndarray], smooth_mm: float
) -> tuple[np.ndarray, np.ndarray]:
    """What each ray meets first: 0 nothing, 1 the top, 2 + k wall k; and how far down the prism (0 top, 1 bottom).

    high, low: x and y of the rays in the planes of the prism's upper and lower face.
    """
    enter = np.zeros(high[0].shape, np.float32)
    leave = np.full(high[0].shape, np.float32(np.inf))
    what = np.full(high[0].shape, _TOP, np.int8)
    for k, side in enumerate(sides):
        above = side.rough_distance(high[0], high[1], smooth_mm)
        below = side.rough_distance(low[0], low[1], smooth_mm)
        outside = above > 0
        with np.errstate(divide="ignore", invalid="ignore"):
            crossing = above / (above - below)
        coming = np.where(below < 0, crossing, np.float32(2))
        later = outside & (coming > enter)
        enter[later] = coming[later]
        what[later] = 2 + k
        going = ~outside & (below > 0)
        leave[going] = np.minimum(leave, crossing)[going]
    missed = (enter > 1) | (enter >= leave)
    what[missed] = _NONE
    return what, enter


def appearance(scene: Scene, piece: Piece, x: np.ndarray, y: np.ndarray, part: tuple[slice, slice]) -> Appearance:
    """The prism's shares of the pixels in a part of the photo; x, y: float32 paper places of the pixels' centres."""
    lens, sides = scene.pose.centre_mm, sides_of(piece)
    pixel_mm = float(np.hypot(x[0, 1] - x[0, 0], y[0, 1] - y[0, 0]))

    def look(px: np.ndarray, py: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        high, low = at_height(lens, px, py, piece.top_mm), at_height(lens, px, py, piece.base_mm)
        return _hits(sides, high, low, pixel_mm)

    what, depth = look(x, y)
    shape = np.ones((5, 5), np.uint8)
    plain = what.astype(np.uint8)
    edge = np.nonzero((cv2.dilate(plain, shape) != cv2.erode(plain, shape)).ravel())[0]
    gx, gy = (np.gradient(v) for v in (x, y))
    ox, oy = (_LATTICE[:, k].astype(np.float32) for k in (0, 1))
    fine, fine_depth = look(
        *(
            v.ravel()[edge, None] + g[1].ravel()[edge, None] * ox + g[0].ravel()[edge, None] * oy
            for v, g in ((x, gx), (y, gy))
        )
    )
    top = (what == _TOP).astype(np.float32).ravel()
    top[edge] = np.mean(fine == _TOP, axis=1)
    walls = []
    for k in range(len(sides)):
        share = (what == 2 + k).astype(np.float32).ravel()
        mean_depth = depth.ravel().copy()
        on_wall = fine == 2 + k
        share[edge] = np.mean(on_wall, axis=1)
        mean_depth[edge] = np.sum(np.where(on_wall, fine_depth, 0), axis=1) / np.maximum(on_wall.sum(axis=1), 1)
        seen = np.nonzero(share > 0)[0]
        if len(seen):
            walls.append((k, seen, share[seen], piece.top_mm - mean_depth[seen] * piece.thickness_mm))
    return Appearance(*part, top.reshape(x.shape), tuple(walls))
