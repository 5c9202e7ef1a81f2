"""What camera and file make of a step: blurred in linear light, stored, sharpened, its color blurred further."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import ndtr

from cutvision.imaging.tone import stored_from_linear

GRID_PX = 0.25
"""Spacing of tabulated profiles."""
USUAL_CHROMA_BLUR_PX = 1.6
"""Blur of chroma beyond luma's before an edge has told its own: color mosaic and 4:2:0 storage. Study: rendered photos
show 1.3 to 2.4 px in all."""
LEAST_SHARPENING = 0.05
"""A weaker halo than this share of the step is not waited for where levels are read."""
KERNEL_REACH = 3.5
"""Half the length of a tabulated Gaussian kernel, in its standard deviations."""


@dataclass(frozen=True, slots=True)
class EdgeResponse:
    """How a step comes out in the file.

    blur_px: standard deviation of the blur in linear light; stored_blur_px: of the blur of stored values.
    sharpening, radius_px: stored luma has `sharpening` times what a Gaussian blur of radius_px takes from it added (an
    unsharp mask), which leaves a halo on either side. chroma_blur_px: standard deviation of the further blur of both
    chroma channels, which are not sharpened.
    """

    blur_px: float
    sharpening: float = 0.0
    radius_px: float = 1.0
    stored_blur_px: float = 0.0
    chroma_blur_px: float = USUAL_CHROMA_BLUR_PX

    @property
    def reach_px(self) -> float:
        """How far from a step its blur and its halo count: two standard deviations."""
        halo = self.radius_px if self.sharpening > LEAST_SHARPENING else 0.0
        return 2.0 * math.hypot(self.blur_px, self.stored_blur_px, halo)


def stored_steps(levels: np.ndarray, offsets: np.ndarray, places: np.ndarray, blur_px: float) -> np.ndarray:
    """(n, 3) stored red, green, blue of regions of linear light, before sharpening.

    levels: (regions, 3), outermost first; places: (regions - 1, 3) where each ends, px, one a color; offsets: (n,)
    outward.
    """
    light = np.broadcast_to(levels[0], (len(offsets), 3)).copy()
    for k, place in enumerate(places):
        light += (levels[k + 1] - levels[k]) * ndtr((place - offsets[:, None]) / blur_px)
    return stored_from_linear(light)


def _gaussian(sigma_px: float) -> np.ndarray:
    """(2 k + 1,) a Gaussian on the grid, of sum one; the unit impulse where it is narrower than the grid can show."""
    if sigma_px < GRID_PX / 3:
        return np.ones(1)
    half = math.ceil(KERNEL_REACH * sigma_px / GRID_PX)
    t = np.arange(-half, half + 1) * GRID_PX / sigma_px
    weights = np.exp(-0.5 * t * t)
    return np.asarray(weights / weights.sum())


@lru_cache(maxsize=256)
def kernels(response: EdgeResponse) -> tuple[np.ndarray, np.ndarray]:
    """What turns a stored profile along the grid into what luma shows of it, and into what chroma shows."""
    base = _gaussian(response.stored_blur_px)
    mask = -response.sharpening * _gaussian(response.radius_px)
    mask[len(mask) // 2] += 1 + response.sharpening
    return np.convolve(base, mask), np.convolve(base, _gaussian(response.chroma_blur_px))


def filed(stored: np.ndarray, response: EdgeResponse) -> tuple[np.ndarray, np.ndarray]:
    """(n, k) stored values along the grid -> the same as luma shows them and as chroma shows them; their ends held."""
    luma, chroma = kernels(response)
    return _spread(stored, luma), _spread(stored, chroma)


def _spread(values: np.ndarray, kernel: np.ndarray) -> np.ndarray:
    half = len(kernel) // 2
    padded = np.pad(values, ((half, half), (0, 0)), mode="edge")
    return np.column_stack([np.convolve(column, kernel, mode="valid") for column in padded.T])
