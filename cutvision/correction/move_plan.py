"""The move, for a fence of known geometry: what is done at which end, and how a V's point is brought back."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from cutvision.correction.fence_geometry import OTHER_END, Direction, End, FenceGeometry, ScrewTurn
from cutvision.correction.fence_move import Turn
from cutvision.correction.next_reading import NextReading, next_readings
from cutvision.correction.result import Correction
from cutvision.uncertainty import Quantity, propagate

Means = Literal["leaf in", "leaf out", "screw", "push"]


@dataclass(frozen=True, slots=True)
class Push:
    """What is done at one end (or foot) of the fence.

    distance: mm, never negative. way: where that end goes, away from the person behind the saw or toward.
    means: "leaf in" between stop and fence; "leaf out" of there, or the stop set back; a "screw", turned as said; or
    "push", by whatever holds the fence.
    leaf_on: the side of the fence on which a leaf goes, or would have to go to push it; None with a screw.
    """

    end: End
    distance: Quantity
    way: Direction
    means: Means
    leaf_on: Literal["operator", "work"] | None
    screw: ScrewTurn | None = None


@dataclass(frozen=True, slots=True)
class PointShift:
    """Where a V's point goes as the V turns about a foot, and how to bring it back to the kerf.

    slide: which way the whole V then slides along its rear stop. slide_mm: how far; None when it is not known how far
    the point stands ahead of the feet. away_mm: how far the point then lies further from the person, which does no
    harm, as the kerf runs that way; negative for nearer.
    """

    slide: End
    slide_mm: Quantity | None
    away_mm: float | None


@dataclass(frozen=True, slots=True)
class MovePlan:
    """The move as it is done. pivot: the end or foot about which the fence turns, or a V's point."""

    geometry: FenceGeometry
    turn: Turn
    pivot: Literal["left", "right", "point"]
    pushes: tuple[Push, ...]
    point: PointShift | None
    readings: tuple[NextReading, ...]


def plan_move(correction: Correction, geometry: FenceGeometry | None = None) -> MovePlan | None:
    """How the correction's move is done; None when the geometry was not said or nothing is to be turned.

    geometry: in place of the correction's own. Raises InputError as `FenceGeometry.check`.
    """
    geometry = correction.move.geometry if geometry is None else geometry
    turn = correction.move.turn
    if geometry is None:
        return None
    geometry.check(correction.kept, correction.nominal_rad)
    if turn is None:
        return None
    forward: End = "left" if turn == "clockwise" else "right"
    pivot: Literal["left", "right", "point"]
    ends: tuple[End, ...]
    if geometry.kind == "v-point":
        pivot, ends = "point", (forward, OTHER_END[forward])
    else:
        foot = geometry.pivot or OTHER_END[forward]
        pivot, ends = foot, (OTHER_END[foot],)
    distance = correction.move.distance.scaled(1 / len(ends))
    return MovePlan(
        geometry=geometry,
        turn=turn,
        pivot=pivot,
        pushes=tuple(_push(end, distance, "away" if end == forward else "toward", geometry) for end in ends),
        point=None if geometry.kind != "v-foot" or pivot == "point" else _point_shift(correction, geometry, pivot),
        readings=next_readings(correction),
    )


def _push(end: End, distance: Quantity, way: Direction, geometry: FenceGeometry) -> Push:
    if geometry.screw is not None:
        return Push(end, distance, way, "screw", None, geometry.screw.turned_by(distance.value, way))
    pushing: Literal["operator", "work"] = "operator" if way == "away" else "work"
    stop = geometry.leaf_at if geometry.kind == "single" else "operator"
    if stop is None:
        return Push(end, distance, way, "push", pushing)
    return Push(end, distance, way, "leaf in" if stop == pushing else "leaf out", stop)


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
