"""Which shims to lay together, in words."""

from __future__ import annotations

import math

from cutvision.correction import Correction, FeelerStack, StackAdvice
from cutvision.reports.wording import small_length_words
from cutvision.units import MM_PER_INCH, format_bound


def shim_lines(correction: Correction, advice: StackAdvice) -> tuple[str, ...]:
    """The stack for the move and what it leaves; then the next best, and which shims it was chosen from."""
    best, lever_mm = advice.best, correction.move.shim_lever_mm
    if not best.leaves:
        thinnest = min(advice.choice.leaf_set.leaves, key=lambda leaf: leaf.thickness_nm)
        said = [f"No shim: the move is so small that the thinnest ({thinnest.mark}) would do more harm than good."]
    else:
        said = [f"{_what_for(correction)}: {_stack(best)}: {_left(best, lever_mm)}."]
    if abs(best.angle_left_rad(lever_mm)) > correction.angle_error.expanded_uncertainty:
        said.append(
            "What is left is more than the uncertainty of the measurement. Other shims, or paper or foil that you have "
            "measured, bring the fence nearer."
        )
    if advice.next_best is not None:
        other = advice.next_best
        said.append(f"Next best: {_stack(other)}: {_left(other, lever_mm)}.")
    bound_mm = advice.choice.bound_mm(best)
    if bound_mm is not None and best.leaves:
        limit = small_length_words(advice.choice.leaf_to_mm or 0.0)
        said.append(
            f"With each shim within {limit} of its mark, the stack is known to ±{format_bound(bound_mm)} mm "
            f"({format_bound(bound_mm / MM_PER_INCH)} in)."
        )
    marks = ", ".join(leaf.mark for leaf in advice.choice.leaf_set.leaves)
    chosen_from = f"Chosen from {advice.choice.leaf_set.name} ({advice.choice.leaf_set.source})"
    said.append(f"{chosen_from}, at most {advice.choice.most_leaves} together: {marks}.")
    return tuple(said)


def _what_for(correction: Correction) -> str:
    """Which way the shims go: in where they push, out where the fence must come back; each at its own foot."""
    plan = correction.plan
    pushes = () if plan is None else tuple(push for push in plan.pushes if push.means in {"shim in", "shim out"})
    if all(push.means == "shim in" for push in pushes):
        return "Shims"
    if len(pushes) == 1:
        return "Shims to take out"
    return "Shims, " + " and ".join(
        f"{'in behind' if push.means == 'shim in' else 'out from behind'} the {push.end} foot" for push in pushes
    )


def _stack(stack: FeelerStack) -> str:
    if not stack.leaves:
        return "no shim"
    marks = " + ".join(leaf.mark for leaf in stack.leaves)
    together = f", together {stack.total_mm:.6g} mm ({stack.total_mm / MM_PER_INCH:.4f} in)"
    return marks + (together if len(stack.leaves) > 1 else "")


def _left(stack: FeelerStack, lever_mm: float) -> str:
    """What remains of the move: in mm and inches, and as an angle of the fence."""
    short = stack.short_mm
    if abs(short) < 0.0005:
        return "the whole move"
    amount = f"{abs(short):.3f} mm ({abs(short) / MM_PER_INCH:.4f} in)"
    angle = format_bound(abs(math.degrees(stack.angle_left_rad(lever_mm))))
    return f"{amount} {'short' if short > 0 else 'too much'}, {angle} deg of the fence"
