"""The move in words and for other programs, for a fence whose geometry is known."""

from __future__ import annotations

import math
from typing import Literal, TypedDict

from cutvision.correction import (
    Correction,
    FenceGeometry,
    MovePlan,
    NextReading,
    PointShift,
    Push,
    ScrewTurn,
)
from cutvision.reports.columns import bullets
from cutvision.reports.measurement_json import QuantityJson, quantity_as_json
from cutvision.units import (
    MM_PER_INCH,
    format_bound,
    format_length,
    format_length_with_bound,
    format_number,
)

_TURN = {"clockwise": "clockwise", "counterclockwise": "counter-clockwise"}
_WAY = {"away": "away from you", "toward": "toward you"}
_LEAF_ON = {"operator": "your side", "work": "the work's side"}
_READING = {
    "legs": "left leg less right leg",
    "widths": "width at the fence less width at the far end",
    "gap": "gap",
    "last joint": "gap at the last joint",
    "left arm": "angle between the cut and the right leg of a piece from the left arm",
    "right arm": "angle between the cut and the left leg of a piece from the right arm",
    "split": "uneven split of the corner",
    "taper": "taper of the piece, + wider at the fence",
}


class ScrewJson(TypedDict):
    """Turns of a screw: `pitch` and what the rounding leaves (`short`) in mm; `mark_ends_at` as an hour hand tells."""

    pitch: float
    turns: float
    way: Literal["in", "out"]
    whole_turns: int
    hours: float
    mark_ends_at: float
    short: float


class PushJson(TypedDict):
    """What is done at one end or foot, and where that goes, seen by the person behind the saw."""

    end: Literal["left", "right", "kept"]
    distance: QuantityJson
    way: Literal["away", "toward"]
    means: str
    shim_on: str | None
    square_to: Literal["fence", "rear stop"]
    screw: ScrewJson | None


class PointJson(TypedDict):
    """How a V's point is brought back to the kerf; `distance` and `away` are null when they are not known."""

    slide: Literal["left", "right"]
    distance: QuantityJson | None
    away: float | None


class NextReadingJson(TypedDict):
    """What the next piece reads: mm or degrees; `bound` covers about 95 % of what `after` may be."""

    name: str
    unit: Literal["mm", "deg"]
    now: float
    after: float
    bound: float
    wrong_way: float


class MoveJson(TypedDict):
    """The move as it is done with this fence."""

    fence: str
    pivot: Literal["left", "right", "point"] | None
    assumed: bool
    turn: str | None
    pushes: list[PushJson]
    point: PointJson | None
    next_readings: list[NextReadingJson]


def move_as_json(plan: MovePlan) -> MoveJson:
    """The plan as a plain object: lengths in mm, angles in degrees."""
    point = plan.point
    return {
        "fence": plan.fence,
        "pivot": plan.pivot,
        "assumed": plan.assumed,
        "turn": plan.turn,
        "pushes": [
            {
                "end": push.end,
                "distance": quantity_as_json(push.distance),
                "way": push.way,
                "means": push.means,
                "shim_on": push.shim_on,
                "square_to": push.square_to,
                "screw": None if push.screw is None else _screw_as_json(push.screw),
            }
            for push in plan.pushes
        ],
        "point": None
        if point is None
        else {
            "slide": point.slide,
            "distance": None if point.slide_mm is None else quantity_as_json(point.slide_mm),
            "away": point.away_mm,
        },
        "next_readings": [_reading_as_json(reading) for reading in plan.readings],
    }


def action_lines(correction: Correction, plan: MovePlan) -> tuple[str, ...]:
    """What to do, a sentence or two for each end, and how a V's point is brought back."""
    told = []
    if plan.pivot == "point":
        told.append("Hold the V at its point, at the kerf, and move both feet by the same amount:")
    told += [_push_sentence(push, correction, plan) for push in plan.pushes]
    told += [screw_sentence(push.screw) for push in plan.pushes[:1] if push.screw is not None]
    if plan.pivot == "point":
        told.append(
            f"The fence turns {_turned(plan)}. Without leaves behind both feet to take from, put equal ones there "
            "first, or turn the V about a foot."
            if plan.geometry is None or plan.geometry.screw is None
            else f"The fence turns {_turned(plan)}."
        )
    if plan.point is not None and plan.geometry is not None:
        told.append(point_sentence(plan.point, correction.angle_error.value, plan.geometry))
    return tuple(told)


def readings_block(correction: Correction, plan: MovePlan) -> str:
    """What the next piece, of this size and cut likewise, will read."""
    if not plan.readings:
        return ""
    return bullets(
        "What the next piece, as large and cut likewise, should read",
        [
            *(_reading_line(reading, correction) for reading in plan.readings),
            "These bounds come from the move alone; reading the piece adds its own.",
        ],
    )


ONE_ARM = "This piece speaks of the arm on which it lay; the other arm needs a piece of its own."


def geometry_notes(geometry: FenceGeometry, *, both_arms: bool) -> list[str]:
    """What goes with a move of such a fence; both_arms: a V's two arms were both read."""
    if geometry.kind == "single":
        return []
    lines = [
        "The lever is from foot to foot, at right angles to the push, not the length of an arm: that would be wrong by "
        "the square root of two.",
    ]
    return lines if both_arms else [*lines, ONE_ARM]


def planned(correction: Correction) -> MovePlan | None:
    """The plan when the fence is to be moved and its geometry was said."""
    return said_plan(correction) if correction.decision.moves else None


def said_plan(correction: Correction) -> MovePlan | None:
    """The plan, when it was said how the fence is held."""
    plan = correction.plan
    return None if plan is None or plan.assumed else plan


def _turned(plan: MovePlan) -> str:
    return _TURN.get(plan.turn or "", "")


def push_label(push: Push) -> str:
    """What is done at one end, in a few words."""
    amount = format_length(push.distance.value, push.distance.expanded_uncertainty)
    if push.screw is not None:
        return f"screw {push.screw.way} {_turns(push.screw)}: {amount} {_WAY[push.way]}"
    if push.means == "push":
        return f"goes {_WAY[push.way]} by {amount}"
    doing = f"leaf of {amount} goes in" if push.means == "shim in" else f"leaves of {amount} come out"
    return f"{doing}: {_WAY[push.way]}"


def screw_sentence(screw: ScrewTurn) -> str:
    """Turns and clock positions, the exact fraction, and what the rounding leaves."""
    direction = "on" if screw.way == "in" else "back"
    return (
        f"Screw of {screw.pitch_mm:.5g} mm ({screw.pitch_mm / MM_PER_INCH:.4g} in) a turn: {_turns(screw)}; a mark "
        f"that began at 12 o'clock goes {direction} to {clock(screw.mark_ends_at)}, read like an hour hand. Exactly "
        f"{screw.exact:.3f} turns; the rounding leaves {abs(screw.short_mm):.3f} mm "
        f"({abs(screw.short_mm) / MM_PER_INCH:.4f} in) {'short' if screw.short_mm >= 0 else 'too much'}."
    )


def point_sentence(point: PointShift, error_rad: float, geometry: FenceGeometry) -> str:
    """How a V's point comes back to the kerf."""
    went = "right" if error_rad > 0 else "left"
    along = "along its stop, leaf and all" if geometry.screw is None else "along its stop, both feet bearing"
    if point.slide_mm is None:
        return (
            f"The V's point goes to the {went} as it turns: slide the whole V to the {point.slide} "
            f"{along}, until the point is back at the kerf. --point-ahead, from the line through the feet to the "
            "point, would tell how far."
        )
    slide = format_length_with_bound(point.slide_mm.value, point.slide_mm.expanded_uncertainty)
    return f"Then slide the whole V {slide} to the {point.slide} {along}: that brings its point back to the kerf."


def clock(hours: float) -> str:
    """An hour, 0 up to 11.75, as a clock shows it: "12", "4", "4:15"."""
    whole, quarter = int(hours) or 12, round(hours % 1 * 60)
    return f"{whole}:{quarter:02d}" if quarter else f"{whole} o'clock"


def _turns(screw: ScrewTurn) -> str:
    whole, hours = screw.whole_turns, screw.hours
    named = f"{hours:g} {'hour' if hours == 1 else 'hours'}"
    return f"{whole} {'turn' if whole == 1 else 'turns'} and {named}"


def _push_sentence(push: Push, correction: Correction, plan: MovePlan) -> str:
    amount = format_length_with_bound(push.distance.value, push.distance.expanded_uncertainty)
    lever_mm = correction.move.lever.value
    lever = f"{lever_mm:.4g} mm ({lever_mm / MM_PER_INCH:.4g} in)"
    single = plan.fence == "single"
    place = f"the fence's {push.end} {'end' if single else 'foot'}"
    stop = f"its stop on {_LEAF_ON[push.shim_on or 'operator']}" if single else "its rear stop"
    if plan.pivot == "point":
        where, end = "", "."
    else:
        pivot = f"its pivot at the {plan.pivot} end" if single else "the other foot"
        where, end = f", {lever} from {pivot}", f"; the fence turns {_turned(plan)}."
    goes = f"that {'end' if single else 'foot'} goes {_WAY[push.way]}"
    if push.screw is not None:
        clockwise = "clockwise" if push.screw.way == "in" else "counter-clockwise"
        turned = f"{push.screw.way} ({clockwise}, facing its head)"
        follow = "" if push.screw.way == "in" else ", and keep the fence against it"
        return f"Turn the screw at {place} {_turns(push.screw)} {turned}{follow}{where}: {goes}, by {amount}{end}"
    if push.means == "shim in":
        return f"Put a leaf of {amount} between {place} and {stop}{where}: {goes}{end}"
    if push.means == "shim out":
        said = (
            f"Take leaves of {amount} out from between {place} and {stop}, or set the stop back by as much{where}, and "
            f"bring the fence against it: {goes}{end}"
        )
        return said if plan.pivot == "point" else f"{said} A leaf put in there would push it the wrong way."
    return (
        f"Move {place} {amount} {_WAY[push.way]}{where}{end} A leaf can only push: it does this on "
        f"{_LEAF_ON[push.shim_on or 'operator']} of the fence, between the fence and a stop."
    )


def _reading_line(reading: NextReading, correction: Correction) -> str:
    if reading.name == "fence leg":
        side = "right" if correction.kept == "left" else "left"
        name = f"angle between the cut and the {side} leg, which lay at the fence"
    else:
        name = _READING[reading.name]
    if reading.unit == "mm":
        after = format_length_with_bound(reading.after, reading.bound)
        wrong, now = (format_length(value, reading.bound) for value in (reading.wrong_way, reading.now))
    else:
        bound = math.degrees(reading.bound)
        after = f"{format_number(math.degrees(reading.after), bound)} ± {format_bound(bound)} deg"
        wrong, now = (f"{format_number(math.degrees(v), bound)} deg" for v in (reading.wrong_way, reading.now))
    return f"{name}: {after}; it is {now} now; {wrong} would mean the move went the wrong way"


def _screw_as_json(screw: ScrewTurn) -> ScrewJson:
    return {
        "pitch": screw.pitch_mm,
        "turns": screw.exact,
        "way": screw.way,
        "whole_turns": screw.whole_turns,
        "hours": screw.hours,
        "mark_ends_at": screw.mark_ends_at,
        "short": screw.short_mm,
    }


def _reading_as_json(reading: NextReading) -> NextReadingJson:
    scale = 1.0 if reading.unit == "mm" else math.degrees(1.0)
    return {
        "name": reading.name,
        "unit": "mm" if reading.unit == "mm" else "deg",
        "now": reading.now * scale,
        "after": reading.after * scale,
        "bound": reading.bound * scale,
        "wrong_way": reading.wrong_way * scale,
    }
