"""Smooth functions of the pixel, worked out on a coarse lattice and spread over the photo by cubic interpolation."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cutvision.imaging.camera import back_project
from simulation.scene import Scene


def _weights(count: int, step: float) -> tuple[np.ndarray, np.ndarray]:
    """Lattice places (n,) that reach past both ends, and the (count, n) weights of Lagrange's cubic."""
    nodes = (np.arange(math.ceil((count - 1) / step) + 4) - 1) * step
    place = np.arange(count) / step + 1
    base = np.clip(np.floor(place).astype(int), 1, len(nodes) - 3)
    t = place - base
    terms = (
        -t * (t - 1) * (t - 2) / 6,
        (t + 1) * (t - 1) * (t - 2) / 2,
        -(t + 1) * t * (t - 2) / 2,
        (t + 1) * t * (t - 1) / 6,
    )
    weights = np.zeros((count, len(nodes)))
    for k, term in enumerate(terms):
        weights[np.arange(count), base - 1 + k] = term
    return nodes, weights.astype(np.float32)


@dataclass(frozen=True)
class Grid:
    """The lattice of one photo and the paper under it.

    x_mm, y_mm: (h, w) where each lattice pixel's ray meets the paper's plane, float32.
    """

    row_weights: np.ndarray
    column_weights: np.ndarray
    x_mm: np.ndarray
    y_mm: np.ndarray
    rows_px: np.ndarray
    columns_px: np.ndarray

    def spread(self, values: np.ndarray, rows: slice, columns: slice = slice(None)) -> np.ndarray:
        """(h, w) lattice values -> float32 over the photo's `rows` and `columns`."""
        across = self.row_weights[rows] @ values.astype(np.float32)
        return np.asarray(across @ self.column_weights[columns].T)


def grid_of(scene: Scene, step_px: float = 32.0) -> Grid:
    """The lattice of a scene's photo, each node's ray worked out by the camera model itself."""
    rows_px, row_weights = _weights(scene.settings.height_px, step_px)
    columns_px, column_weights = _weights(scene.settings.width_px, step_px)
    u, v = np.meshgrid(columns_px, rows_px)
    places = back_project(scene.camera, scene.pose, np.column_stack([u.ravel(), v.ravel()]), 0.0)
    x, y = (places[:, k].reshape(u.shape).astype(np.float32) for k in (0, 1))
    return Grid(row_weights, column_weights, x, y, rows_px, columns_px)
