"""The move as it is done with a fence: what at which end, and how a V's point is brought back."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

from cutvision.correction.fence_geometry import OTHER_END, Direction, End, FenceGeometry
from cutvision.correction.next_reading import next_readings
from cutvision.correction.result import Correction, MovePlan, PointShift, Push
from cutvision.uncertainty import Quantity, propagate


def with_plan(correction: Correction) -> Correction:
    """The correction with the move as it is done.

    Where nobody said how the fence is held: a V on two feet for a miter of 45 deg and for both arms of a V; for any
    other miter a single fence with its pivot at the end that does not go away from you; for a square cut one with its
    pivot at the end opposite the kept side. Raises InputError as `FenceGeometry.check`.
    """
    said = correction.move.geometry
    if said is not None:
        said.check(correction.kept, correction.nominal_rad)
    if correction.decision.action == "needs-kept":
        return correction
    geometry = said or _assumed(correction)
    if geometry is not None:
        return replace(correction, plan=_planned(correction, geometry, assumed=said is None))
    if correction.move.side is not None:
        return replace(correction, plan=_by_the_kept_end(correction))
    return correction


def _assumed(correction: Correction) -> FenceGeometry | None:
    """None when nothing is to be turned, or when it is not known which way."""
    forward = correction.move.forward_end
    if forward is None:
        return None
    if correction.is_square_cut:
        return FenceGeometry("single", OTHER_END[correction.kept or "left"])
    if correction.move.side is not None:
        return FenceGeometry("v-foot")
    return FenceGeometry("single", OTHER_END[forward])


def _planned(correction: Correction, geometry: FenceGeometry, *, assumed: bool) -> MovePlan | None:
    turn, forward = correction.move.turn, correction.move.forward_end
    if turn is None or forward is None:
        return None
    pivot: Literal["left", "right", "point"]
    ends: tuple[End, ...]
    if geometry.kind == "v-point":
        pivot, ends = "point", (forward, OTHER_END[forward])
    else:
        foot = geometry.pivot or OTHER_END[forward]
        pivot, ends = foot, (OTHER_END[foot],)
    distance = correction.move.distance.scaled(1 / len(ends))
    return MovePlan(
        fence=geometry.kind,
        geometry=geometry,
        assumed=assumed,
        turn=turn,
        pivot=pivot,
        pushes=tuple(_push(end, distance, "away" if end == forward else "toward", geometry) for end in ends),
        point=None if geometry.kind != "v-foot" or pivot == "point" else _point_shift(correction, geometry, pivot),
        readings=next_readings(correction),
    )


def _by_the_kept_end(correction: Correction) -> MovePlan:
    """A square cut without the kept side: the end on that side and its way are known, left and right are not."""
    way: Direction = "away" if correction.move.side == "toward-work" else "toward"
    return MovePlan(
        fence="single",
        geometry=None,
        assumed=True,
        turn=None,
        pivot=None,
        pushes=(Push("kept", correction.move.distance, way, "push", _pushing(way), "fence"),),
        point=None,
        readings=next_readings(correction),
    )


def _push(end: End, distance: Quantity, way: Direction, geometry: FenceGeometry) -> Push:
    square_to: Literal["fence", "rear stop"] = "fence" if geometry.kind == "single" else "rear stop"
    if geometry.screw is not None:
        return Push(end, distance, way, "screw", None, square_to, geometry.screw.turned_by(distance.value, way))
    stop = geometry.shim_at if geometry.kind == "single" else "operator"
    if stop is None:
        return Push(end, distance, way, "push", _pushing(way), square_to)
    return Push(end, distance, way, "shim in" if stop == _pushing(way) else "shim out", stop, square_to)


def _pushing(way: Direction) -> Literal["operator", "work"]:
    """The side of the fence on which something must press to send it this way."""
    return "operator" if way == "away" else "work"


def _point_shift(correction: Correction, geometry: FenceGeometry, pivot: End) -> PointShift:
    """The point stands midway between the feet (F apart) and h ahead of them; the V turns about a foot by e.

    Clockwise it goes right by h sin e, less or more F/2 (1 - cos e), as the foot is the left or the right one: that
    turns (-+F/2, h) about the foot. Closed form. The leaf lies along the stop, so sliding the V keeps its angle.
    """
    error, lever = correction.angle_error, correction.move.lever
    clockwise = 1.0 if error.value > 0 else -1.0
    h = geometry.point_ahead_mm
    if h is None:
        return PointShift("left" if clockwise > 0 else "right", None, None)
    e, half, foot = abs(error.value), lever.value / 2, 1.0 if pivot == "right" else -1.0
    to_right = clockwise * h * math.sin(e) + foot * half * (1 - math.cos(e))
    slope = math.copysign(1.0, error.value) * (clockwise * h * math.cos(e) + foot * half * math.sin(e))
    size = math.copysign(1.0, to_right)
    moved = propagate(abs(to_right), "mm", ((error, size * slope), (lever, size * foot * (1 - math.cos(e)) / 2)))
    away = clockwise * foot * half * math.sin(e) - h * (1 - math.cos(e))
    return PointShift("left" if to_right > 0 else "right", moved, away)
