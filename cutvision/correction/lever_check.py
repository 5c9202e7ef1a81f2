"""What a leaf does at a lever, and whether the finest one is fine enough for a tolerance."""

from __future__ import annotations

import math
from dataclasses import dataclass

from cutvision.correction.feeler_stack import Leaf
from cutvision.errors import InputError
from cutvision.units import MM_PER_INCH

SHORTEST_LEVER_MM = 25.0
"""Judged: a fence pushed nearer to its pivot turns by 0.1 deg with the finest leaf; a lever typed so is a slip."""
LEAVES = (Leaf(0.05, "0.05 mm"), Leaf(0.0381, "0.0015 in"))
"""The finest leaf of a common metric and of a common inch set, from memory, no standard read."""


@dataclass(frozen=True, slots=True)
class LeafStep:
    """How far one leaf turns the fence, and whether the lever is long enough for it.

    suffices: the leaf turns the fence by no more than the tolerance, so that a stack in steps of this leaf leaves at
    most half of the tolerance. lever_needed_mm: the shortest lever for which it does.
    """

    leaf: Leaf
    angle_rad: float
    suffices: bool
    lever_needed_mm: float


def leaf_steps(lever_mm: float, tolerance_rad: float, *, held_at_point: bool = False) -> tuple[LeafStep, ...]:
    """Each leaf at this lever: atan(leaf / lever), closed form.

    held_at_point: a V that is held at its point, whose lever is from foot to foot, but whose leaf moves one foot half
    that way from the pivot, so that a leaf turns it twice as far.

    Raises InputError for a lever that is no fence's, and for a tolerance that is not positive.
    """
    check_lever(lever_mm)
    check_tolerance(tolerance_rad)
    steps = []
    times = 2.0 if held_at_point else 1.0
    for leaf in LEAVES:
        angle = math.atan(times * leaf.thickness_mm / lever_mm)
        needed_mm = times * leaf.thickness_mm / math.tan(tolerance_rad)
        steps.append(LeafStep(leaf, angle, angle <= tolerance_rad, needed_mm))
    return tuple(steps)


def check_lever(lever_mm: float) -> None:
    """Raise InputError for a lever in mm that is no fence's."""
    if not (math.isfinite(lever_mm) and lever_mm >= SHORTEST_LEVER_MM):
        shortest = f"{SHORTEST_LEVER_MM:g} mm ({SHORTEST_LEVER_MM / MM_PER_INCH:.2f} in)"
        raise InputError(
            f"A lever of {lever_mm:g} mm is too short: the finest shim would turn the fence by more than anyone wants.",
            f"Give the distance from the pivot to where the shim goes, at least {shortest}; is the unit right?",
        )


def check_tolerance(tolerance_rad: float) -> None:
    """Raise InputError for a tolerance that is no positive angle."""
    if not (math.isfinite(tolerance_rad) and tolerance_rad > 0):
        raise InputError("The tolerance must be more than zero.", "Give the error that does no harm, such as 0.05deg.")
