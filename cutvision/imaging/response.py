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
"""Blur of chroma beyond luma's, where the photo does not tell: colour mosaic and 4:2:0 storage (rendered photos show
1.3 to 2.4 px in all)."""
LEAST_SHARPENING = 0.05
KERNEL_REACH = 3.5
"""Half the length of a tabulated Gaussian kernel, in its standard deviations."""


@dataclass(frozen=True, slots=True)
class EdgeResponse:
    """How a step comes out in the file.

    blur_px: standard deviation of the blur in linear light; stored_blur_px: of the blur of stored values. sharpening, radius_px: stored values have `sharpening` times
    what a Gaussian blur of radius_px takes from them added (an unsharp mask), which leaves a halo on either side.
    chroma_blur_px: standard deviation of the further blur of both chroma channels; chroma_sharpening: share of the
    sharpening that they got, 0 to 1.
    """

    blur_px: float
    sharpening: float = 0.0
    radius_px: float = 1.0
    stored_blur_px: float = 0.0
    chroma_blur_px: float = USUAL_CHROMA_BLUR_PX
    chroma_sharpening: float = 0.0

    @property
    def reach_px(self) -> float:
        """How far from a step its blur and its halo count."""
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


def _gaussian(sigma_px: float, step_px: float) -> np.ndarray:
    """(2 k + 1,) a Gaussian on the grid, of sum one; the unit impulse where it is narrower than the grid can show."""
    if sigma_px < step_px / 3:
        return np.ones(1)
    half = math.ceil(KERNEL_REACH * sigma_px / step_px)
    t = np.arange(-half, half + 1) * step_px / sigma_px
    weights = np.exp(-0.5 * t * t)
    return np.asarray(weights / weights.sum())


def _sharpened(kernel: np.ndarray, amount: float, radius_px: float, step_px: float) -> np.ndarray:
    """kernel * (impulse + amount (impulse - Gaussian))."""
    if amount <= 0:
        return kernel
    mask = -amount * _gaussian(radius_px, step_px)
    mask[len(mask) // 2] += 1 + amount
    return np.convolve(kernel, mask)


@lru_cache(maxsize=256)
def kernels(response: EdgeResponse, step_px: float = GRID_PX) -> tuple[np.ndarray, np.ndarray]:
    """What turns a stored profile along a grid into what luma shows of it, and into what chroma shows."""
    base = _gaussian(response.stored_blur_px, step_px)
    luma = _sharpened(base, response.sharpening, response.radius_px, step_px)
    share = response.sharpening * response.chroma_sharpening
    chroma = np.convolve(
        _sharpened(base, share, response.radius_px, step_px), _gaussian(response.chroma_blur_px, step_px)
    )
    return luma, chroma


def spread(values: np.ndarray, kernel: np.ndarray) -> np.ndarray:
    """(n, k) columns convolved with a kernel along the grid, their ends held."""
    half = len(kernel) // 2
    padded = np.pad(values, ((half, half), (0, 0)), mode="edge")
    return np.column_stack([np.convolve(column, kernel, mode="valid") for column in padded.T])


def filed(stored: np.ndarray, response: EdgeResponse, step_px: float = GRID_PX) -> tuple[np.ndarray, np.ndarray]:
    """(n, 3) stored red, green, blue along a grid -> the same as luma shows them and as chroma shows them."""
    luma, chroma = kernels(response, step_px)
    return spread(stored, luma), spread(stored, chroma)
