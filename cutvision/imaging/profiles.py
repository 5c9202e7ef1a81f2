"""Mean profiles across an edge, about one a millimetre, and the noise of the grain and of the paper beside it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cutvision.imaging.opencv import cv2
from cutvision.imaging.photo import Photo
from cutvision.imaging.pose import SheetPose, predicted_view_px
from cutvision.imaging.tone import LUMA_CHROMA_FROM_RGB

BLOCK_MM = 1.0
LEAST_BLOCK_PX = 7.0
REACH_PX = 8
"""What lies farther than this from a step says nothing of it."""
CHANNELS = 3
TRIM_MM = 1.2
"""Left out at each end, where the neighbouring edge's blur begins."""


@dataclass(frozen=True, slots=True)
class Profiles:
    """Mean profiles across a line: values (B, n, 3) luma and chroma at offsets_px (n,), outward positive.

    scales: (B,) pixels per mm of paper across the line.
    """

    along_mm: np.ndarray
    base_px: np.ndarray
    across: np.ndarray
    offsets_px: np.ndarray
    values: np.ndarray
    scale_px_per_mm: float
    scales: np.ndarray


def profiles_across(photo: Photo, pose: SheetPose, start: np.ndarray, end: np.ndarray, widest_px: float) -> Profiles:
    """Profiles across the line from start to end (mm on the paper, running clockwise round the piece)."""
    length = float(np.hypot(*(end - start)))
    direction = (end - start) / length
    ends_px = predicted_view_px(pose, np.array([start, end, start + direction, end - direction]))
    scale = float(np.hypot(*(ends_px[1] - ends_px[0])) / length)
    block_mm = max(BLOCK_MM, LEAST_BLOCK_PX / scale)
    count = max(4, int((length - 2 * TRIM_MM) / block_mm))
    edges_mm = np.linspace(TRIM_MM, length - TRIM_MM, count + 1)
    rows = max(4, math.ceil((edges_mm[1] - edges_mm[0]) * scale))
    stations = edges_mm[:-1, None] + (np.arange(rows) + 0.5) / rows * (edges_mm[1] - edges_mm[0])
    points = predicted_view_px(pose, start + stations.reshape(-1, 1) * direction)
    tangent = np.gradient(points, axis=0)
    tangent /= np.hypot(*tangent.T)[:, None]
    # clockwise round the piece with y down: outside is to the left, (t_y, -t_x)
    normal = np.column_stack([tangent[:, 1], -tangent[:, 0]])
    inward = predicted_view_px(
        pose, start + stations.reshape(-1, 1) * direction + np.array([-direction[1], direction[0]])
    )
    scales = ((points - inward) * normal).sum(axis=1).reshape(count, rows).mean(axis=1)
    reach = math.ceil(widest_px + 4 * REACH_PX)
    offsets = np.arange(-reach, reach + 1, dtype=float)
    x = (points[:, 0:1] + normal[:, 0:1] * offsets).astype(np.float32)
    y = (points[:, 1:2] + normal[:, 1:2] * offsets).astype(np.float32)
    x0, y0 = int(max(0, x.min() - 4)), int(max(0, y.min() - 4))
    patch = photo.stored[y0 : int(y.max()) + 6, x0 : int(x.max()) + 6]
    patch = patch if patch.dtype == np.uint8 else (patch / 257.0).astype(np.float32)
    luma_chroma = patch.astype(np.float32) @ LUMA_CHROMA_FROM_RGB.T.astype(np.float32)
    sampled = cv2.remap(luma_chroma, x - x0, y - y0, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    values = np.asarray(sampled, dtype=float).reshape(count, rows, len(offsets), CHANNELS).mean(axis=1)
    middle = points.reshape(count, rows, 2).mean(axis=1)
    across = normal.reshape(count, rows, 2).mean(axis=1)
    return Profiles(stations.mean(axis=1), middle, across, offsets, values, scale, scales)


def strip_covariance(values: np.ndarray, lags: int, share: float) -> np.ndarray:
    """(lags, 3, 3) autocovariance of profiles (B, n, 3) along the offset, over the quieter `share` of blocks."""
    centred = values - values.mean(axis=1, keepdims=True)
    energy = (centred[..., 0] ** 2).mean(axis=1)
    centred = centred[energy <= np.quantile(energy, share)]
    n = centred.shape[1]
    result = np.zeros((lags, CHANNELS, CHANNELS))
    for lag in range(min(lags, n - 2)):
        a, b = (part.reshape(-1, CHANNELS) for part in (centred[:, : n - lag], centred[:, lag:]))
        result[lag] = a.T @ b / (len(centred) * n)
    return result


def block_covariance(lags: np.ndarray, count: int) -> np.ndarray:
    """(3 n, 3 n) covariance, channel by channel, from (lags, 3, 3) autocovariance; made positive definite."""
    index = np.abs(np.arange(count)[:, None] - np.arange(count)[None, :])
    capped = np.minimum(index, len(lags) - 1)
    full = np.zeros((CHANNELS * count, CHANNELS * count))
    for c in range(CHANNELS):
        for d in range(CHANNELS):
            half = (lags[:, c, d] + lags[:, d, c]) / 2
            full[c * count : (c + 1) * count, d * count : (d + 1) * count] = np.where(
                index < len(lags), half[capped], 0.0
            )
    values, vectors = np.linalg.eigh((full + full.T) / 2)
    return np.asarray((vectors * np.clip(values, 1e-3, None)) @ vectors.T)
