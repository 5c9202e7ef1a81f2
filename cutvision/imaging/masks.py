"""Masks of the coarse map: worn down, opened, parted into patches, filled; what lies beyond the map counts as empty.

Neighbours are the cells that share a side. OpenCV does each in a tenth of the time that scipy.ndimage takes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutvision.imaging.opencv import cv2

_CROSS = np.array([[0, 1, 0], [1, 1, 1], [0, 1, 0]], dtype=np.uint8)


@dataclass(frozen=True, slots=True)
class Patches:
    """labels: (h, w) 0 for nothing, k + 1 for patch k; areas: (count,) in cells."""

    labels: np.ndarray
    areas: np.ndarray


def eroded(mask: np.ndarray, steps: int) -> np.ndarray:
    """(h, w) bool: the mask without what lies within so many steps of its rim."""
    worn = cv2.erode(mask.view(np.uint8), _CROSS, iterations=steps, borderType=cv2.BORDER_CONSTANT, borderValue=0)
    return np.asarray(worn).view(bool)


def grown(mask: np.ndarray, steps: int) -> np.ndarray:
    """(h, w) bool: the mask and what lies within so many steps of it."""
    wide = cv2.dilate(mask.view(np.uint8), _CROSS, iterations=steps, borderType=cv2.BORDER_CONSTANT, borderValue=0)
    return np.asarray(wide).view(bool)


def opened(mask: np.ndarray, steps: int) -> np.ndarray:
    """(h, w) bool: the mask without its parts narrower than twice so many steps."""
    return grown(eroded(mask, steps), steps)


def patches(mask: np.ndarray) -> Patches:
    """The mask's connected patches."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask.view(np.uint8), connectivity=4, ltype=cv2.CV_32S)
    return Patches(np.asarray(labels), np.asarray(stats)[1:, cv2.CC_STAT_AREA].astype(float))


def filled(mask: np.ndarray) -> np.ndarray:
    """(h, w) bool: the mask and all that it encloses."""
    padded = np.pad(mask.astype(np.uint8), 1)
    cv2.floodFill(padded, None, (0, 0), 2, flags=4)
    return np.asarray(padded[1:-1, 1:-1] != 2)


def extent(mask: np.ndarray, margin: int) -> tuple[slice, slice]:
    """Rows and columns that hold the mask and so many cells about it, as far as there are any."""
    left, top, width, height = cv2.boundingRect(mask.view(np.uint8))
    return (
        slice(max(0, top - margin), top + height + margin),
        slice(max(0, left - margin), left + width + margin),
    )
