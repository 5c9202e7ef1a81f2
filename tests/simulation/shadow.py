"""What a piece keeps from the plane under or beside it: lamps' shadows, hard or soft, and light from all round."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from simulation.edges import Side, sides_of
from simulation.scene import Light, Piece

_SAMPLES = 24


@dataclass(frozen=True)
class Patch:
    """A factor over a rectangle of a plane: pixel (column, row) at origin + step (column, row); 1 outside it."""

    values: np.ndarray
    origin_mm: tuple[float, float]
    step_mm: float

    def at(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """The factor at float32 places of one 2-D shape."""
        u = (x - np.float32(self.origin_mm[0])) * np.float32(1 / self.step_mm)
        v = (y - np.float32(self.origin_mm[1])) * np.float32(1 / self.step_mm)
        return np.asarray(
            cv2.remap(self.values, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=1.0)
        )


def _patch_places(box: np.ndarray, step: float) -> tuple[np.ndarray, np.ndarray]:
    columns = np.arange(box[0, 0], box[1, 0] + step, step, dtype=np.float32)
    rows = np.arange(box[0, 1], box[1, 1] + step, step, dtype=np.float32)
    x, y = np.meshgrid(columns, rows)
    return x, y


def _lamp_points(light: Light) -> np.ndarray:
    """(N, 2) points spread evenly over the lamp's disc (a sunflower's spiral)."""
    k = np.arange(_SAMPLES) + 0.5
    r, turn = light.radius_mm * np.sqrt(k / _SAMPLES), k * math.pi * (3 - math.sqrt(5))
    return np.column_stack([light.x_mm + r * np.cos(turn), light.y_mm + r * np.sin(turn)])


def lamp_patch(light: Light, pieces: Sequence[Piece], plane_mm: float, limits: np.ndarray) -> Patch | None:
    """Share of a lamp's disc that each place at height `plane_mm` sees past the pieces above it.

    limits: (2, 2) corners low and high of the part that shows. None when nothing throws a shadow there.

    A place in a piece's own base plan counts as if it saw through the walls that face the lamp, so the factor runs on
    smoothly under the piece and its interpolation brings no dark or bright seam along a lit wall.
    """
    above = [piece for piece in pieces if plane_mm + 1e-6 < piece.top_mm < light.height_mm]
    if not above:
        return None
    points = _lamp_points(light)
    reach = []
    for piece in above:
        factor = (light.height_mm - plane_mm) / (light.height_mm - piece.top_mm)
        reach.append(piece.vertices_mm)
        reach += [point + (piece.vertices_mm - point) * factor for point in points]
    corners = np.concatenate(reach)
    box = np.array([np.maximum(corners.min(axis=0) - 3, limits[0]), np.minimum(corners.max(axis=0) + 3, limits[1])])
    if np.any(box[1] <= box[0]):
        return None
    penumbra = max(2 * light.radius_mm * (p.top_mm - plane_mm) / (light.height_mm - p.top_mm) for p in above)
    step = float(np.clip(penumbra / 10, 0.2, 0.8))
    x, y = _patch_places(box, step)
    lit = np.ones(x.shape, np.float32)
    for piece in above:
        lit = np.minimum(lit, _seen(light, points, piece, plane_mm, x, y))
    blurred = cv2.GaussianBlur(lit, (0, 0), max(0.6, penumbra / math.sqrt(_SAMPLES) / step * 0.6))
    return Patch(blurred, (float(x[0, 0]), float(y[0, 0])), step)


def _seen(light: Light, points: np.ndarray, piece: Piece, plane_mm: float, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Share of the lamp's points seen from each place past one prism."""
    sides = sides_of(piece)
    here = [side.distance(x, y) for side in sides]
    bottom = max(piece.base_mm - plane_mm, 0.0) / (light.height_mm - plane_mm)
    top = np.float32((piece.top_mm - plane_mm) / (light.height_mm - plane_mm))
    hidden = np.zeros(x.shape, np.float32)
    on_plane = bottom == 0.0
    for point in points:
        hidden += _crosses(sides, here, point, np.float32(bottom), top, on_plane=on_plane)
    return np.asarray(1 - hidden / np.float32(len(points)))


def _crosses(
    sides: Sequence[Side],
    here: Sequence[np.ndarray],
    point: np.ndarray,
    bottom: np.float32,
    top: np.float32,
    *,
    on_plane: bool,
) -> np.ndarray:
    """Whether the way from each place to a lamp's point runs through the prism.

    Along that way (0 at the place, 1 at the lamp) the prism's heights lie between `bottom` and `top`.
    """
    enter = np.full(here[0].shape, -np.inf, np.float32)
    leave = np.full(here[0].shape, np.inf, np.float32)
    for side, distance in zip(sides, here, strict=True):
        nx, ny = side.outward
        lamp = np.float32(nx * (point[0] - side.start[0]) + ny * (point[1] - side.start[1]))
        with np.errstate(divide="ignore", invalid="ignore"):
            crossing = distance / (distance - lamp)
        if lamp > 0:
            np.minimum(leave, np.where(distance > 0, np.float32(-1), crossing), out=leave)
        else:
            np.maximum(enter, np.where(distance < 0, np.float32(-1), crossing), out=enter)
    if on_plane:
        return (enter < top) & (np.maximum(enter, 0) < leave) & ((enter > 0) | (leave > top))
    return np.maximum(enter, bottom) < np.minimum(leave, top)


def surround_patch(pieces: Sequence[Piece], plane_mm: float, limits: np.ndarray, bounce: float) -> Patch | None:
    """Share of the light from all round that reaches a place beside the pieces.

    Beside a long wall of height t at distance d the wall hides (1 - d / sqrt(d^2 + t^2)) / 2 of it (closed form of the
    view factor) and gives back the share `bounce` of that.
    """
    above = [piece for piece in pieces if piece.top_mm > plane_mm + 1e-6]
    if not above:
        return None
    margin = 4 * max(piece.top_mm - plane_mm for piece in above) + 2
    corners = np.concatenate([piece.vertices_mm for piece in above])
    box = np.array(
        [np.maximum(corners.min(axis=0) - margin, limits[0]), np.minimum(corners.max(axis=0) + margin, limits[1])]
    )
    if np.any(box[1] <= box[0]):
        return None
    step = 0.75
    x, y = _patch_places(box, step)
    open_share = np.ones(x.shape, np.float32)
    for piece in above:
        d = np.maximum(np.max([side.distance(x, y) for side in sides_of(piece)], axis=0), 0)
        height = piece.top_mm - plane_mm
        open_share *= 1 - (1 - bounce) * 0.5 * (1 - d / np.sqrt(d * d + height * height))
    return Patch(open_share.astype(np.float32), (float(x[0, 0]), float(y[0, 0])), step)
