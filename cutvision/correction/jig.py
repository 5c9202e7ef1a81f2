"""The fence to be corrected: what a person knows of it before any piece is measured."""

from __future__ import annotations

from dataclasses import dataclass

from cutvision.correction.angle_error import Kept
from cutvision.correction.cut_spread import CutSpread
from cutvision.correction.fence_geometry import FenceGeometry
from cutvision.uncertainty import Quantity


@dataclass(frozen=True, slots=True)
class Jig:
    """A fence with a pivot and a place where it is pushed.

    lever: mm from the pivot to where the leaf goes or the fence is pushed, at right angles to the push; for a V fence
    that turns about one foot, from foot to foot.
    kept: the side of the blade on which the work lay and was kept. tolerance_rad: the error that still does no harm.
    cut_spread: how the saw cuts from piece to piece; None when nothing is known of it, which then is not counted.
    geometry: how the fence is held and moved; None when nobody said, and then the move is told for either.
    tolerance_said: the tolerance in the words it was said in.
    """

    lever: Quantity
    kept: Kept | None = None
    tolerance_rad: float | None = None
    cut_spread: CutSpread | None = None
    geometry: FenceGeometry | None = None
    tolerance_said: str = ""

    @property
    def pieces(self) -> int:
        """Over how many pieces, cut at one setting, the readings are means."""
        return 1 if self.cut_spread is None else self.cut_spread.pieces

    def check(self, nominal_rad: float) -> None:
        """Raise InputError for a cut (rad from a square cut) that a fence held like this does not make."""
        if self.geometry is not None:
            self.geometry.check(self.kept, nominal_rad)
