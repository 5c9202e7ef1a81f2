"""Points, lines and angles in a plane. Frames have x to the right and y down unless a name says otherwise."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class Line:
    """A directed straight line through (x, y) in the direction `angle_rad`, measured from +x toward +y."""

    x: float
    y: float
    angle_rad: float

    @property
    def direction(self) -> tuple[float, float]:
        return math.cos(self.angle_rad), math.sin(self.angle_rad)

    @property
    def normal(self) -> tuple[float, float]:
        """The direction turned by +90 deg (from +x toward +y)."""
        return -math.sin(self.angle_rad), math.cos(self.angle_rad)


def angle_between(a_rad: float, b_rad: float) -> float:
    """b - a brought into (-pi, pi]."""
    d = math.fmod(b_rad - a_rad, 2 * math.pi)
    if d <= -math.pi:
        d += 2 * math.pi
    elif d > math.pi:
        d -= 2 * math.pi
    return d


def intersection(a: Line, b: Line) -> tuple[float, float]:
    """Where two lines meet. Raises ValueError when they are parallel to rounding."""
    (ax, ay), (bx, by) = a.direction, b.direction
    det = ax * by - ay * bx
    if abs(det) < 1e-12:
        raise ValueError("the lines are parallel")
    s = ((b.x - a.x) * by - (b.y - a.y) * bx) / det
    return a.x + s * ax, a.y + s * ay


def polygon_area(points: np.ndarray) -> float:
    """Signed area of an (N, 2) polygon: positive when it runs clockwise as seen with y down."""
    x, y = points[:, 0], points[:, 1]
    return float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
