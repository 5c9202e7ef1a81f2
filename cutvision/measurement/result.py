"""What a measurement hands on: named quantities of one piece, the photos behind them, and what to draw over each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from cutvision.errors import Note
from cutvision.uncertainty import Quantity

Shape = Literal["miter", "strip", "corner", "board"]
SHAPES: tuple[Shape, ...] = ("miter", "strip", "corner", "board")


@dataclass(frozen=True, slots=True)
class EdgeEvidence:
    """One fitted edge as it lies in the photo, for drawing.

    name: as people say it and the annotated photo shows it: right leg, cut, left leg | first long edge, second long
    edge | first edge, second edge | edge 1 to edge 4.
    line_px: (M, 2) the fitted line as it runs through the photo (curved by the lens), end to end.
    used_px, dropped_px: (N, 2) edge points that made the line, and those left out.
    residual_rms_mm: scatter of the used points about the line.
    height_mm: 0 for an edge seen at the paper, the thickness for one seen at the top face.
    """

    name: str
    line_px: np.ndarray
    used_px: np.ndarray
    dropped_px: np.ndarray
    residual_rms_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class PhotoEvidence:
    """What one photo contributed.

    corners_px: name of the angle's quantity (angle_left, corner, corner_2, ...) -> (2,) where its two fitted edges
    meet in the photo.
    scale_px_per_mm: pixels per millimetre at the middle of the piece.
    frame_px: (4, 2) outer corners of the sheet's ring in the photo, clockwise from the sheet's top left.
    quantities: the photo's own reading of each quantity before combination.
    """

    file: str
    sha256: str
    paper: str
    used: bool
    width_px: int
    height_px: int
    edges: tuple[EdgeEvidence, ...]
    corners_px: Mapping[str, tuple[float, float]]
    frame_px: np.ndarray
    scale_px_per_mm: float
    lens_height_mm: float
    tilt_deg: float
    saddles_used: int
    saddle_rms_px: float
    quantities: Mapping[str, Quantity]
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True, slots=True)
class Measurement:
    """The combined result for one piece. Angles in rad and lengths in mm inside; names as in the interface.

    edge_form_rad: angle quantity -> standard uncertainty that the roughness of the sawn edges adds once the angle is
    taken for the fence's (not part of the quantity's own bound).
    """

    shape: Shape
    quantities: Mapping[str, Quantity]
    photos: tuple[PhotoEvidence, ...]
    edge_form_rad: Mapping[str, float] = field(default_factory=dict)
    notes: tuple[Note, ...] = ()
