"""What a person asks of a measurement, in mm and rad."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cutvision.measurement.result import Shape

if TYPE_CHECKING:
    from cutvision.imaging.camera_file import CameraFile
    from cutvision.target.print_scale import PrintReadings


@dataclass(frozen=True, slots=True)
class MeasureRequest:
    """What the photos show and what is known beside them.

    thickness_mm: of the stock; None when it was not measured, so that lengths carry the doubt of it.
    nominal_rad: the miter as shops say it, from a square cut.
    readings: what was read with a rule on the print; None when nothing was.
    camera: the camera's own file; None when there is none.
    """

    shape: Shape
    thickness_mm: float | None = None
    nominal_rad: float = math.pi / 4
    readings: PrintReadings | None = None
    camera: CameraFile | None = None
