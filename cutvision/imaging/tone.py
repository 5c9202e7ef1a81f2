"""Stored values and light: the sRGB tone curve and the luma and chroma in which JPEG stores colour."""

from __future__ import annotations

import numpy as np


def linear_from_stored(stored: np.ndarray) -> np.ndarray:
    """Stored sRGB values (uint8, or floats 0..255) -> linear light 0..1. Source: IEC 61966-2-1."""
    if stored.dtype == np.uint8:
        return np.asarray(_LINEAR_OF_8_BIT[stored])
    s = np.clip(stored / 255.0, 0.0, 1.0)
    return np.asarray(np.where(s <= 0.04045, s / 12.92, ((s + 0.055) / 1.055) ** 2.4))


_LINEAR_OF_8_BIT = linear_from_stored(np.arange(256.0)).astype(np.float32)


def stored_from_linear(light: np.ndarray) -> np.ndarray:
    """Linear light 0..1 -> stored sRGB values 0..255, unrounded. Source: IEC 61966-2-1."""
    c = np.clip(light, 0.0, 1.0)
    return np.asarray(255.0 * np.where(c <= 0.0031308, 12.92 * c, 1.055 * np.power(c, 1 / 2.4) - 0.055))


LUMA_CHROMA_FROM_RGB = np.array([[0.299, 0.587, 0.114], [-0.168736, -0.331264, 0.5], [0.5, -0.418688, -0.081312]])
"""Rows: luma, blue chroma, red chroma from stored red, green, blue. Source: ITU-T T.871 (JFIF), clause 7."""
RGB_FROM_LUMA_CHROMA = np.linalg.inv(LUMA_CHROMA_FROM_RGB)
