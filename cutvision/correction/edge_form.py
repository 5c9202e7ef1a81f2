"""How well a sawn edge tells the saw's path: the roughness of the edge itself, which no better reading takes away."""

from __future__ import annotations

import math
from dataclasses import dataclass

JAW_MM = 3.0


@dataclass(frozen=True, slots=True)
class EdgeForm:
    """Roughness of a sawn edge along its length: RMS and correlation length, autocovariance rms^2 exp(-|x|/c).

    The default is that of a clean cut by a sharp blade (common practice, no source). pieces: over how many pieces the
    readings are means, whose edges are rough independently.
    """

    rms_mm: float = 0.03
    correlation_mm: float = 1.0
    pieces: int = 1

    @property
    def words(self) -> str:
        mean = f", mean of {self.pieces} pieces" if self.pieces > 1 else ""
        return f"rough by {self.rms_mm:g} mm RMS over {self.correlation_mm:g} mm{mean}"

    def direction_rad(self, length_mm: float) -> float:
        """Standard uncertainty of the direction of an edge this long, for lengths well above the correlation length.

        s sqrt(24 c / L^3): the least-squares slope of a process whose spectrum at low frequencies is 2 c s^2.
        """
        return self.rms_mm * math.sqrt(24 * self.correlation_mm / length_mm**3 / self.pieces)

    def spot_mm(self, contact_mm: float = JAW_MM) -> float:
        """Standard uncertainty of the edge's place where a jaw touches it over `contact_mm`, never above the RMS.

        s sqrt(2 c / L), the same spectrum's mean over a length.
        """
        return self.rms_mm * min(1.0, math.sqrt(2 * self.correlation_mm / contact_mm)) / math.sqrt(self.pieces)
