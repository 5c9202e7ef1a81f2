"""A move in words, from its plan alone: which end, how far, which way, by what, and at right angles to what."""

from __future__ import annotations

import math

from cutvision.correction import Correction, MovePlan, NextReading, PointShift, Push
from cutvision.reports.wording import (
    degrees_words,
    length_words,
    plain_length_words,
    short_length_words,
    small_length_words,
    turned_words,
)
from cutvision.units import format_length, format_length_with_bound, format_number

WAY = {"away": "away from you", "toward": "toward you"}
_STOP_ON = {"operator": "your side", "work": "the work's side"}
_SQUARE_TO = {"fence": "at right angles to the fence's face", "rear stop": "at right angles to the rear stop"}
_READING = {
    "legs": "left leg less right leg",
    "widths": "width at the fence end less width at the far end",
    "gap": "gap",
    "last joint": "gap at the last joint",
    "left arm": "angle between the cut and the right leg of a piece cut on the left arm",
    "right arm": "angle between the cut and the left leg of a piece cut on the right arm",
    "split": "half the difference of the two angles",
    "taper": "taper, positive when wider at the fence end",
}
ONE_ARM = "This piece shows the arm on which it lay; the other arm needs a piece of its own."


def part_words(plan: MovePlan) -> str:
    """What a fence's end is called."""
    return "end" if plan.fence == "single" else "foot"


def place_words(push: Push, plan: MovePlan) -> str:
    """The end that is moved."""
    return "end on the side you keep" if push.end == "kept" else f"{push.end} {part_words(plan)}"


def move_sentences(correction: Correction, plan: MovePlan) -> tuple[str, ...]:
    """What to do, and how a V's point is brought back."""
    if plan.pivot == "point":
        return (_both_feet(plan),)
    lever = plain_length_words(correction.move.lever.value)
    said = [_push_sentence(push, plan, lever) for push in plan.pushes]
    return tuple(said) if plan.point is None else (*said, _point_sentence(plan.point))


def push_label(push: Push, plan: MovePlan, *, short: bool = False) -> str:
    """What is done at one end, in a few words; short: without the end's name."""
    amount = short_length_words(push.distance)
    if push.screw is not None:
        done = f"screw {turned_words(push.screw)}, {amount} {WAY[push.way]}"
    elif push.means == "push":
        done = f"{amount} {WAY[push.way]}"
    else:
        done = f"{push.means}, {amount} {WAY[push.way]}"
    return done if short else f"{place_words(push, plan)}: {done}"


def pivot_words(plan: MovePlan) -> tuple[str, ...]:
    """About what the fence turns; nothing when that is not known."""
    if plan.turn is None or plan.pivot is None:
        return ()
    about = "point" if plan.pivot == "point" else f"{plan.pivot} {part_words(plan)}"
    return (f"turns {plan.turn} about its {about}",)


def turn_words(plan: MovePlan) -> str:
    """The move as a title."""
    if plan.turn is None:
        return "Move the fence's end on the side you keep"
    about = "point" if plan.pivot == "point" else f"{plan.pivot} {part_words(plan)}"
    return f"Turn the fence {plan.turn}, about its {about}"


def slide_words(point: PointShift) -> str:
    """How a V's point comes back to the kerf, for a drawing."""
    far = "" if point.slide_mm is None else f" {short_length_words(point.slide_mm)}"
    return f"then slide the V{far} to the {point.slide}, back to the kerf"


def plan_remark(plan: MovePlan, correction: Correction) -> str:
    """What was assumed of a fence that nobody described; empty when it was described."""
    if not plan.assumed:
        return ""
    if plan.turn is None or plan.pivot is None:
        return "Give --kept left or --kept right, and the turn is known too."
    if plan.fence != "single":
        return (
            "This is for a V on two feet. A single fence turns the same way, by as much at that distance from its "
            "pivot. Give --fence for yours."
        )
    if correction.is_square_cut:
        return f"This is for a pivot at the fence's {plan.pivot} end. Give --fence single and --pivot for yours."
    forward = "left" if plan.turn == "clockwise" else "right"
    return (
        f"Wherever your pivot is, what lies {forward} of it goes away from you. Give --fence single and --pivot for "
        "yours."
    )


def geometry_notes(plan: MovePlan, *, both_arms: bool) -> list[str]:
    """What goes with a move of such a fence; both_arms: a V's two arms were both measured."""
    if plan.fence == "single":
        lines = ["The distance from the pivot and the push are meant at right angles to the fence's own face."]
        bare = next((push for push in plan.pushes if push.means == "push"), None)
        if bare is not None:
            lines.append(
                f"A shim does this on {_STOP_ON[bare.shim_on or 'operator']} of the fence, between it and a stop; on "
                "the other side it would push the wrong way."
            )
        return lines
    lines = [
        "The distance is from foot to foot, at right angles to the push. Along an arm it would be wrong by the square "
        "root of two."
    ]
    return lines if both_arms else [*lines, ONE_ARM]


def way_words(plan: MovePlan) -> str:
    """Which end goes which way, by what, whatever the amount: for a card."""
    said = [_way_of(push, plan) for push in plan.pushes]
    return "; ".join(said if plan.turn is None else [*said, f"the fence turns {plan.turn}"])


def way_label(push: Push, plan: MovePlan) -> str:
    """The same for a drawing, in a few words."""
    by = "" if push.means == "push" else f"{push.means}, "
    return f"{place_words(push, plan)}: {by}{WAY[push.way]}"


def _way_of(push: Push, plan: MovePlan) -> str:
    place = f"the fence's {place_words(push, plan)}"
    goes = f"that {part_words(plan)} goes {WAY[push.way]}"
    if push.screw is not None:
        return f"turn the screw at {place} {'clockwise' if push.screw.way == 'in' else 'counterclockwise'}: {goes}"
    if push.means == "shim in":
        return f"put the shim between {place} and {_stop_words(push, plan)}: {goes}"
    if push.means == "shim out":
        return f"take the shim out from between {place} and {_stop_words(push, plan)}, or set the stop back: {goes}"
    return f"move {place} {WAY[push.way]}"


def next_lines(correction: Correction) -> tuple[str, ...]:
    """What the next test piece should measure, and what it would measure had the fence gone the wrong way."""
    plan = correction.plan
    return () if plan is None else tuple(_reading_line(reading, correction) for reading in plan.readings)


def _push_sentence(push: Push, plan: MovePlan, lever: str) -> str:
    amount = length_words(push.distance)
    part = part_words(plan)
    place = f"the fence's {place_words(push, plan)}"
    behind = "" if push.end == "kept" else ", as you stand behind the saw,"
    where = f"{lever} from {'the other foot' if part == 'foot' else 'its pivot'}, {_SQUARE_TO[push.square_to]}"
    turns = "" if plan.turn is None else f"; the fence turns {plan.turn}"
    goes = f"That {part} goes {WAY[push.way]}{turns}."
    if push.screw is not None:
        turned = f"{turned_words(push.screw)}{_screw_rest(push)}"
        return (
            f"Turn the screw at {place}{behind} {turned}, facing its head. That {part} goes {WAY[push.way]} by "
            f"{amount}, {where}{turns}."
        )
    if push.means == "shim in":
        return f"Put a shim of {amount} between {place}{behind} and {_stop_words(push, plan)}, {where}. {goes}"
    if push.means == "shim out":
        return (
            f"Take shims of {amount} out from between {place}{behind} and {_stop_words(push, plan)}, or set the stop "
            f"back by as much, {where}, and bring the fence against it. {goes}"
        )
    return f"Move {place}{behind or ','} {amount} {WAY[push.way]}, {where}{turns}."


def _both_feet(plan: MovePlan) -> str:
    """A V held at its point: each foot goes as far, one away, one toward."""
    away, toward = sorted(plan.pushes, key=lambda push: push.way)
    amount = length_words(away.distance)
    goes = (
        f"The {away.end} foot goes away from you, the {toward.end} foot toward you, at right angles to the rear "
        f"stop; the fence turns {plan.turn}."
    )
    hold = "Hold the V at its point, at the kerf. As you stand behind the saw,"
    if away.screw is not None and toward.screw is not None:
        return (
            f"{hold} turn the screw at its {away.end} foot {turned_words(away.screw)}, the one at its {toward.end} "
            f"foot {turned_words(toward.screw)}{_screw_rest(away)}, facing their heads: each moves its foot by "
            f"{amount}. {goes}"
        )
    return (
        f"{hold} put a shim of {amount} between its {away.end} foot and the rear stop, and take as much out behind its "
        f"{toward.end} foot, or set the stop back there. {goes}"
    )


def _stop_words(push: Push, plan: MovePlan) -> str:
    return f"its stop on {_STOP_ON[push.shim_on or 'operator']}" if plan.fence == "single" else "the rear stop"


def _screw_rest(push: Push) -> str:
    """The exact turns, and what the nearest eighth leaves."""
    screw = push.screw
    if screw is None:
        return ""
    rest = screw.short_mm
    left = f", which leaves {small_length_words(abs(rest))} {'short' if rest > 0 else 'too much'}" if rest else ""
    return f" (exactly {screw.exact:.3f} turns of {screw.pitch_mm:.4g} mm{left})"


def _point_sentence(point: PointShift) -> str:
    far = "" if point.slide_mm is None else f" {length_words(point.slide_mm)}"
    return f"Then slide the whole V{far} to the {point.slide} along its stop, so that its point is back at the kerf."


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
        after = degrees_words(reading.after, reading.bound)
        bound = math.degrees(reading.bound)
        wrong, now = (f"{format_number(math.degrees(value), bound)} deg" for value in (reading.wrong_way, reading.now))
    return f"{name}: {after}. It is {now} now; {wrong} would mean that the fence went the wrong way."
