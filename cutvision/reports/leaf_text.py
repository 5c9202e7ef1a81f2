"""Which leaves to lay together, in words and for other programs."""

from __future__ import annotations

import math
from typing import TypedDict

from cutvision.correction import Correction, FeelerStack, StackAdvice
from cutvision.reports.move_text import said_plan
from cutvision.units import MM_PER_INCH, format_bound


class StackJson(TypedDict):
    """A stack of leaves: marks and `thickness` in mm, thickest first; `short` is what it leaves of the move in mm.

    `angle_left` is the fence's error in degrees that would remain, with the sign of `short`.
    """

    leaves: list[str]
    thickness: list[float]
    total: float
    short: float
    angle_left: float


class LeafAdviceJson(TypedDict):
    """The best stack of at most `most_leaves`, and the next best; `leaf_set` and `source` say whose leaves they are.

    `leaf_to`: how true each leaf is, and `best_total_bound`: the 95 % bound of the best stack for that, in mm; null
    when nobody said.
    """

    leaf_set: str
    source: str
    most_leaves: int
    leaf_to: float | None
    best_total_bound: float | None
    best: StackJson
    next_best: StackJson | None


def leaf_lines(correction: Correction, advice: StackAdvice) -> tuple[str, ...]:
    """The stack for the move, what it leaves, the next best, and which leaves it was chosen from."""
    best, lever_mm = advice.best, correction.move.shim_lever_mm
    if not best.leaves:
        thinnest = min(advice.choice.leaf_set.leaves, key=lambda leaf: leaf.thickness_nm)
        first = f"No leaf: the move is so small that the thinnest ({thinnest.mark}) would do more harm than good."
    else:
        first = f"{_what_for(correction)}: {_stack(best)}: {_left(best, lever_mm)}."
    told = [first]
    if abs(best.angle_left_rad(lever_mm)) > correction.angle_error.expanded_uncertainty:
        told.append(
            "What is left is more than the measurement's own bound: other leaves, or paper or foil that you have "
            "measured, would bring the fence nearer."
        )
    if advice.next_best is not None:
        other = advice.next_best
        told.append(f"Next best: {_stack(other)}: {_left(other, lever_mm)}.")
    bound_mm = advice.choice.bound_mm(best)
    if bound_mm is not None and best.leaves:
        limit_mm = advice.choice.leaf_to_mm or 0.0
        told.append(
            f"With each leaf true to {limit_mm:g} mm ({limit_mm / MM_PER_INCH:.2g} in), as you said, the stack is "
            f"known to ±{format_bound(bound_mm)} mm ({format_bound(bound_mm / MM_PER_INCH)} in)."
        )
    marks = ", ".join(leaf.mark for leaf in advice.choice.leaf_set.leaves)
    chosen_from = f"Chosen from {advice.choice.leaf_set.name} ({advice.choice.leaf_set.source})"
    told.append(f"{chosen_from}, at most {advice.choice.most_leaves} together: {marks}.")
    return tuple(told)


def _what_for(correction: Correction) -> str:
    """Which way the leaves go: in where they push, out where the fence must come back; each at its own foot."""
    plan = said_plan(correction)
    pushes = () if plan is None else tuple(push for push in plan.pushes if push.means in {"shim in", "shim out"})
    if all(push.means == "shim in" for push in pushes):
        return "Leaves"
    if len(pushes) == 1:
        return "Leaves to take out"
    return "Leaves, " + " and ".join(
        f"{'into' if push.means == 'shim in' else 'out of'} the {push.end} foot's gap" for push in pushes
    )


def leaf_advice_as_json(correction: Correction, advice: StackAdvice) -> LeafAdviceJson:
    """The advice as a plain object: lengths in mm, angles in degrees."""
    lever_mm = correction.move.shim_lever_mm
    return {
        "leaf_set": advice.choice.leaf_set.name,
        "source": advice.choice.leaf_set.source,
        "most_leaves": advice.choice.most_leaves,
        "leaf_to": advice.choice.leaf_to_mm,
        "best_total_bound": advice.choice.bound_mm(advice.best),
        "best": _stack_as_json(advice.best, lever_mm),
        "next_best": None if advice.next_best is None else _stack_as_json(advice.next_best, lever_mm),
    }


def _stack_as_json(stack: FeelerStack, lever_mm: float) -> StackJson:
    return {
        "leaves": [leaf.mark for leaf in stack.leaves],
        "thickness": [leaf.thickness_mm for leaf in stack.leaves],
        "total": stack.total_mm,
        "short": stack.short_mm,
        "angle_left": math.degrees(stack.angle_left_rad(lever_mm)),
    }


def _stack(stack: FeelerStack) -> str:
    if not stack.leaves:
        return "no leaf"
    marks = " + ".join(leaf.mark for leaf in stack.leaves)
    together = f", together {stack.total_mm:.6g} mm ({stack.total_mm / MM_PER_INCH:.4f} in)"
    return marks + (together if len(stack.leaves) > 1 else "")


def _left(stack: FeelerStack, lever_mm: float) -> str:
    """What remains of the move: in mm and thousandths of an inch, and as an angle of the fence."""
    short = stack.short_mm
    if abs(short) < 0.0005:
        return "the whole move"
    amount = f"{abs(short):.3f} mm ({abs(short) / MM_PER_INCH:.4f} in)"
    angle = format_bound(abs(math.degrees(stack.angle_left_rad(lever_mm))))
    return f"{amount} {'short' if short > 0 else 'too much'}, {angle} deg of the fence"
