"""From the fence's error to how far, at which end and which way it is moved."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from cutvision.correction.fence_geometry import End, FenceGeometry
from cutvision.errors import InputError
from cutvision.uncertainty import Quantity, propagate

Side = Literal["left", "right", "toward-work", "away-from-work"]
Turn = Literal["clockwise", "counterclockwise"]


@dataclass(frozen=True, slots=True)
class FenceMove:
    """The displacement that brings the fence true, seen from above by a person behind the saw, work beyond the fence.

    distance: mm at the lever, never negative. lever: mm from the pivot, at right angles to the push.
    side: miter of 45 deg: the leg that the fence's error makes short, and the foot that goes away from you; square:
    which way the fence's end on the kept side goes; None when there is none.
    turn: how the fence must be turned; None when it is not known or nothing is to be turned.
    geometry: how the fence is held, when that was said.
    """

    distance: Quantity
    lever: Quantity
    side: Side | None
    turn: Turn | None
    geometry: FenceGeometry | None = None

    @property
    def forward_end(self) -> End | None:
        """The end of the fence that goes away from you; the other end is the pivot, or goes toward you."""
        return None if self.turn is None else "left" if self.turn == "clockwise" else "right"

    @property
    def _part(self) -> float:
        """Of a V held at its point each foot goes half the way, at half the lever from the point."""
        return 0.5 if self.geometry is not None and self.geometry.kind == "v-point" else 1.0

    @property
    def at_shim(self) -> Quantity:
        """How far the place goes at which a leaf or a screw sets the fence, in mm."""
        return self.distance.scaled(self._part)

    @property
    def shim_lever_mm(self) -> float:
        """How far that place is from the pivot, at right angles to the push."""
        return self.lever.value * self._part


def distance_at_lever(error: Quantity, lever: Quantity) -> Quantity:
    """lever x tan |error|, in mm. Raises InputError for a lever that is not positive."""
    if not lever.value > 0:
        raise InputError(
            f"The distance from the pivot to the push is {lever.value:g} mm.",
            "Measure from the pivot to where the shim goes or the fence is pushed, at right angles to the push.",
        )
    tangent = math.tan(abs(error.value))
    slope = math.copysign(lever.value * (1 + tangent**2), error.value)
    return propagate(lever.value * tangent, "mm", ((error, slope), (lever, tangent)))


def turn_against(error: Quantity) -> Turn | None:
    """The turn that takes a counterclockwise error away; None when there is no error at all."""
    if error.value == 0:
        return None
    return "clockwise" if error.value > 0 else "counterclockwise"
