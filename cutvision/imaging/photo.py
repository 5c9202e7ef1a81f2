"""A photo file as it came: decoded upright from its bytes, with what the file says of the camera."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class ExifFacts:
    """What the file says of the camera; None where it says nothing."""

    make: str | None = None
    model: str | None = None
    lens: str | None = None
    focal_mm: float | None = None
    focal_35mm: float | None = None
    digital_zoom: float | None = None
    taken: str | None = None


@dataclass(frozen=True, slots=True)
class Photo:
    """An upright photo.

    name: the file's name as it was given.
    sha256: of the file's bytes as they came.
    stored: (H, W, 3) uint8 or uint16 stored (tone-curved) red, green, blue in sRGB, upright after the EXIF turn.
    notes: what the decoder noticed that lowers trust (shrunk by a chat, no EXIF, digital zoom).
    """

    name: str
    sha256: str
    stored: np.ndarray
    exif: ExifFacts
    notes: tuple[str, ...] = ()

    @property
    def width_px(self) -> int:
        return int(self.stored.shape[1])

    @property
    def height_px(self) -> int:
        return int(self.stored.shape[0])
