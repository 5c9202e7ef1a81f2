"""Whether the paper is burnt out: cut off at the sensor's end, which leaves neither noise nor color."""

from __future__ import annotations

import numpy as np

from cutvision.imaging.photo import Photo

BURNT_VALUE = 250
"""Stored value that counts as the end of the scale."""
LEAST_WHITE = 200
"""Local tone mapping pulls what was cut off down again, by a fifth at the most (rendered photos), but evenly: what is
at least so bright, of one value over a patch and without any color, was cut off."""
FINE_STEP = 45.0
"""A JPEG that rounds more coarsely (quality 62 and less of the usual tables) makes fair paper as even as cut-off."""
PATCH_PX = 2
FLAT, NEUTRAL = 0, 0
MOST_BURNT = 0.5
"""Share of the brighter half of the window past which the photo is burnt out (rendered photos: none in fair ones)."""


def burnt_share(photo: Photo, places_px: np.ndarray) -> float:
    """Share that is burnt out of the brighter half of places (N, 2) in a photo."""
    stored = photo.stored
    scale = 257 if stored.dtype == np.uint16 else 1
    height, width = stored.shape[:2]
    x, y = np.rint(places_px).astype(int).T
    inside = (x >= PATCH_PX) & (y >= PATCH_PX) & (x < width - PATCH_PX) & (y < height - PATCH_PX)
    if not inside.any():
        return 0.0
    around = np.arange(-PATCH_PX, PATCH_PX + 1)
    rows, columns = y[inside, None, None] + around[:, None], x[inside, None, None] + around
    patch = stored[rows, columns].reshape(int(inside.sum()), -1, 3).astype(int) // scale
    level = np.median(patch, axis=1)
    flat = (np.ptp(patch, axis=1) <= FLAT).all(axis=1)
    even = flat & (np.ptp(level, axis=1) <= NEUTRAL) & (level.min(axis=1) >= LEAST_WHITE)
    burnt = (even & (photo.jpeg_step <= FINE_STEP)) | (level.min(axis=1) >= BURNT_VALUE)
    bright = level.sum(axis=1) >= np.median(level.sum(axis=1))
    return float(burnt[bright].mean())
