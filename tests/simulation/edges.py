"""The edges of a simulated piece: straight sides with roughness, chips, fibres and broken tips."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import ndimage, signal

from cutvision.plane import Line
from simulation.scene import Piece

STEP_MM = 0.02
_BEYOND_MM = 6.0


@dataclass(frozen=True)
class Side:
    """One side of a prism: the half plane behind a rough line.

    profile_mm: offsets along the outward normal every `STEP_MM` from `_BEYOND_MM` before the start; None when straight.
    """

    start: tuple[float, float]
    direction: tuple[float, float]
    length_mm: float
    profile_mm: np.ndarray | None

    @property
    def outward(self) -> tuple[float, float]:
        """Clockwise with y down, the inside lies to the right of the direction and the outside to the left."""
        return self.direction[1], -self.direction[0]

    def distance(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Signed distance outside the straight line."""
        nx, ny = self.outward
        return np.asarray(
            x * x.dtype.type(nx) + y * y.dtype.type(ny) - x.dtype.type(nx * self.start[0] + ny * self.start[1])
        )

    def along(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Length along the side from its start."""
        ux, uy = self.direction
        return np.asarray(
            x * x.dtype.type(ux) + y * y.dtype.type(uy) - x.dtype.type(ux * self.start[0] + uy * self.start[1])
        )

    def rough_distance(self, x: np.ndarray, y: np.ndarray, smooth_mm: float) -> np.ndarray:
        """Signed distance along the normal outside the rough edge; the profile is first averaged over `smooth_mm`."""
        distance = self.distance(x, y)
        if self.profile_mm is None:
            return distance
        profile = ndimage.uniform_filter1d(self.profile_mm, max(1, round(smooth_mm / STEP_MM)), mode="nearest")
        index = ((self.along(x, y) + _BEYOND_MM) / STEP_MM + 0.5).astype(np.int32)
        return np.asarray(distance - profile.astype(distance.dtype)[np.clip(index, 0, len(profile) - 1)])


def _straight(piece: Piece, edge: int) -> tuple[np.ndarray, np.ndarray, float]:
    a = piece.vertices_mm[edge]
    step = piece.vertices_mm[(edge + 1) % len(piece.polygon)] - a
    length = float(np.hypot(*step))
    return a, step / length, length


@lru_cache(maxsize=64)
def _roughness(seed: int, edge: int, length_mm: float, rms_mm: float, correlation_mm: float) -> np.ndarray:
    count = math.ceil((length_mm + 2 * _BEYOND_MM) / STEP_MM)
    noise = np.random.default_rng([seed, 1, edge]).standard_normal(count)
    keep = math.exp(-STEP_MM / correlation_mm)
    noise[1:] *= math.sqrt(1 - keep * keep)
    return rms_mm * np.asarray(signal.lfilter([1.0], [1.0, -keep], noise))


def _places(length_mm: float) -> np.ndarray:
    return np.arange(math.ceil((length_mm + 2 * _BEYOND_MM) / STEP_MM)) * STEP_MM - _BEYOND_MM


def _profile(piece: Piece, edge: int, length_mm: float) -> np.ndarray | None:
    chips = [c for c in piece.chips if c.edge == edge]
    fibres = [f for f in piece.fibres if f.edge == edge]
    if piece.roughness_mm == 0 and not chips and not fibres:
        return None
    profile = _roughness(piece.seed, edge, length_mm, piece.roughness_mm, piece.correlation_mm).copy()
    s = _places(length_mm)
    for chip in chips:
        bite = np.clip(1 - ((s - chip.at_mm) / (chip.length_mm / 2)) ** 2, 0, None)
        profile -= chip.depth_mm * np.sqrt(bite)
    for fibre in fibres:
        profile += fibre.length_mm * np.clip(1 - np.abs(s - fibre.at_mm) / (fibre.width_mm / 2), 0, None)
    return profile


def _broken(piece: Piece) -> list[Side]:
    sides = []
    for tip in piece.broken_tips:
        v = piece.vertices_mm[tip.vertex]
        before = piece.vertices_mm[tip.vertex - 1] - v
        after = piece.vertices_mm[(tip.vertex + 1) % len(piece.polygon)] - v
        inward = before / np.hypot(*before) + after / np.hypot(*after)
        angle = math.atan2(inward[1], inward[0])
        start = v + tip.depth_mm * inward / np.hypot(*inward)
        lean = angle - math.pi / 2 + tip.lean_rad
        sides.append(Side((float(start[0]), float(start[1])), (math.cos(lean), math.sin(lean)), 0.0, None))
    return sides


def sides_of(piece: Piece) -> tuple[Side, ...]:
    """The piece's sides in the polygon's order, then those that its broken tips add."""
    sides = []
    for edge in range(len(piece.polygon)):
        a, u, length = _straight(piece, edge)
        sides.append(
            Side((float(a[0]), float(a[1])), (float(u[0]), float(u[1])), length, _profile(piece, edge, length))
        )
    return (*sides, *_broken(piece))


def sawn_line(piece: Piece, edge: int) -> Line:
    """The ideal line that the saw followed."""
    a, u, _ = _straight(piece, edge)
    return Line(float(a[0]), float(a[1]), math.atan2(u[1], u[0]))


def shown_span(piece: Piece, edge: int, window_mm: np.ndarray) -> tuple[float, float]:
    """Where along an edge it shows inside the window's (4, 2) clockwise outline, broken tips left out.

    An edge that lies wholly over the printed squares shows there over all its length.
    """
    a, u, length = _straight(piece, edge)
    tips = [(np.array(side.start), np.array(side.direction)) for side in _broken(piece)]
    sides = [(p, q - p) for p, q in zip(window_mm, np.roll(window_mm, -1, axis=0), strict=True)]
    low, high = _between(a, u, (0.0, length), [*sides, *tips])
    return (low, high) if high > low else _between(a, u, (0.0, length), tips)


def _between(
    a: np.ndarray, u: np.ndarray, span: tuple[float, float], limits: list[tuple[np.ndarray, np.ndarray]]
) -> tuple[float, float]:
    """The part of a span along a line that lies inside clockwise limits, each a point and a direction."""
    low, high = span
    for point, direction in limits:
        outward = np.array([direction[1], -direction[0]]) / np.hypot(*direction)
        rate, offset = float(outward @ u), float(outward @ (a - point))
        if rate > 1e-12:
            high = min(high, -offset / rate)
        elif rate < -1e-12:
            low = max(low, -offset / rate)
        elif offset > 0:
            high = low
    return low, high


def true_line(piece: Piece, edge: int, window_mm: np.ndarray) -> Line:
    """Least-squares line of the rough edge over the length that shows; chips, fibres and broken tips left out."""
    a, u, length = _straight(piece, edge)
    low, high = shown_span(piece, edge, window_mm)
    offset, slope = 0.0, 0.0
    if piece.roughness_mm > 0:
        s = _places(length)
        shown = (s >= low) & (s <= high)
        rough = _roughness(piece.seed, edge, length, piece.roughness_mm, piece.correlation_mm)
        slope, offset = (float(c) for c in np.polyfit(s[shown], rough[shown], 1))
    outward = np.array([u[1], -u[0]])
    start = a + offset * outward
    along = u + slope * outward
    return Line(float(start[0]), float(start[1]), math.atan2(along[1], along[0]))
