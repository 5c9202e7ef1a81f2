"""The proof by assembly: pieces sawn on a V fence put together to a corner in a true square, the gap told by a leaf.

Two pieces of one arm show that arm's error doubled; one piece of each arm shows the V's own angle. A joint gapes at its
toe (the outer corner) when its two cuts are short of 90 deg together, at its heel (the inner) when they are over it.
With A and B the miters that the left and right arm cut, an arm's counterclockwise error makes A larger and B smaller,
so that the left pair opens by 2 left, the right pair by -2 right, and the mixed joint by left - right (closed form).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from cutvision.correction.angle_error import saw_doubt
from cutvision.correction.edge_form import EdgeForm
from cutvision.correction.gap import FrameGap, joint_opening
from cutvision.correction.jig import Jig
from cutvision.correction.miter import NOMINAL_RAD
from cutvision.correction.result import Correction, VArms
from cutvision.correction.trace import DEG_PER_RAD, Tracer
from cutvision.correction.v_arms import judge_arms, own_influences
from cutvision.errors import InputError, Note
from cutvision.uncertainty import Influence, Quantity, best_weights, combine, rectangular

# A gap up to this does not show in a joint (0.1 to 0.15 mm; common practice, no source).
LEAST_GAP_MM = 0.1


@dataclass(frozen=True, slots=True)
class JointGap:
    """A joint held in a true square: the leaf that fills it, in mm (nothing when none goes in), and at which end."""

    gap: Quantity
    gap_at: FrameGap


@dataclass(frozen=True, slots=True)
class Joints:
    """What was put together: two pieces of the left arm, two of the right, one of each. At least two are needed."""

    left_pair: JointGap | None = None
    right_pair: JointGap | None = None
    mixed: JointGap | None = None


def correct_assembly(
    joints: Joints,
    face: Quantity,
    gauge: Quantity,
    jig: Jig,
    *,
    least_gap_mm: float = LEAST_GAP_MM,
    edge_form: EdgeForm | None = None,
) -> Correction:
    """The V from joints put together: 2 asin(gap / (2 face)) each; of three joints the best mean is taken.

    face: length of the joint from heel to toe, in mm, the same for all. gauge: error of the square in which the joints
    are held, shared by them. least_gap_mm: up to which a gap does not show, so that a joint without any (0 mm) may
    gape by so much at either end.
    Raises InputError for fewer than two joints, a gap that is negative or wider than the joint, a face or a least gap
    that is not positive, and as `judge_arms`.
    """
    form = edge_form or EdgeForm()
    if not (math.isfinite(least_gap_mm) and least_gap_mm > 0):
        raise InputError(
            "The least gap must be more than zero.", "Give the gap that just does not show, such as 0.1mm."
        )
    openings = {
        name: _opening(_shown(joint, least_gap_mm), name, face, gauge, jig, form)
        for name, joint in (("left pair", joints.left_pair), ("right pair", joints.right_pair), ("mixed", joints.mixed))
        if joint is not None
    }
    if len(openings) < 2:
        raise InputError(
            "One joint does not tell both arms of a V.",
            "Put together two pieces of one arm and read the gap, then one piece of each arm.",
            at_the_saw=True,
        )
    tracer = Tracer()
    tracer.give("joint_length", "length of the joints", face.value, "mm")
    for name, opening in openings.items():
        _trace_joint(tracer, name, getattr(joints, name.replace(" ", "_")), opening)
    arms = _arms_of(openings, tracer)
    first_order_rad = (arms.left.value + arms.right.value) / 2
    correction = judge_arms(
        arms,
        jig,
        NOMINAL_RAD,
        ("assembly", "joints put together"),
        (first_order_rad, "gap / face for each joint, half of that for a pair of one arm, x lever"),
        (tracer, f"(left_arm + right_arm) / 2 / {DEG_PER_RAD}"),
    )
    return replace(correction, notes=(*_closed(joints, least_gap_mm), *_at_odds(openings), *correction.notes))


def _shown(joint: JointGap, least_gap_mm: float) -> JointGap:
    """The joint with the gap that may be there unseen, at either end, when it looks closed."""
    if joint.gap.value != 0:
        return joint
    unseen = Influence("gap", "gap", source=f"a gap of up to {least_gap_mm:g} mm does not show, at either end")
    return replace(joint, gap=Quantity(0.0, "mm", {unseen: rectangular(least_gap_mm)}))


def _opening(joint: JointGap, name: str, face: Quantity, gauge: Quantity, jig: Jig, form: EdgeForm) -> Quantity:
    """By how much both miters of the joint are over 90 deg together, with what wood, saw and square add."""
    sign = 1.0 if joint.gap_at == "heel" else -1.0
    opening = joint_opening(joint.gap, face).scaled(sign)
    wood = saw_doubt(math.sqrt(2) * form.direction_rad(face.value), f"two faces {form.words}")
    if jig.cut_spread is not None:
        wood = jig.cut_spread.on(wood.scaled(0.5), 2).scaled(2.0)
    return own_influences(opening + wood, name, {influence.name for influence in face.components}) + gauge


def _trace_joint(tracer: Tracer, name: str, joint: JointGap, opening: Quantity) -> None:
    key = name.replace(" ", "_")
    tracer.give(f"{key}_gap", f"gap of the {name} joint", joint.gap.value, "mm")
    minus = "" if joint.gap_at == "heel" else "-"
    words = f"What both miters of the {name} joint are over 90 deg together"
    formula = f"{key} = {minus}2 x asin({key}_gap / 2 / joint_length)"
    tracer.line(words, formula, math.degrees(opening.value), "deg")


def _trace_best(tracer: Tracer, arm: str, found: Quantity, estimates: list[tuple[Quantity, str]]) -> None:
    """An arm's error from one joint, or the best mean of two estimates, weighted by how sure each is."""
    formula = estimates[0][1]
    if len(estimates) > 1:
        first = best_weights([quantity for quantity, _ in estimates])[0]
        words = f"weight of the first of two estimates of the {arm} arm, by how sure both are"
        tracer.give(f"{arm}_weight", words, first, "")
        formula = f"{arm}_weight x ({estimates[0][1]}) + (1 - {arm}_weight) x ({estimates[1][1]})"
    words = f"So the {arm} arm is off by, + counterclockwise"
    tracer.line(words, f"{arm}_arm = {formula}", math.degrees(found.value), "deg")


def _arms_of(openings: dict[str, Quantity], tracer: Tracer) -> VArms:
    """Both arms from two joints, or from three by the best linear combination."""
    left_pair, right_pair, mixed = (openings.get(name) for name in ("left pair", "right pair", "mixed"))
    lefts: list[tuple[Quantity, str]] = []
    rights: list[tuple[Quantity, str]] = []
    if left_pair is not None:
        lefts.append((left_pair.scaled(0.5), "left_pair / 2"))
    if right_pair is not None:
        rights.append((right_pair.scaled(-0.5), "-right_pair / 2"))
    if mixed is not None and right_pair is not None:
        lefts.append((mixed + right_pair.scaled(-0.5), "mixed - right_pair / 2"))
    if mixed is not None and left_pair is not None:
        rights.append((left_pair.scaled(0.5) - mixed, "left_pair / 2 - mixed"))
    left, right = combine([quantity for quantity, _ in lefts]), combine([quantity for quantity, _ in rights])
    _trace_best(tracer, "left", left, lefts)
    _trace_best(tracer, "right", right, rights)
    return VArms(left, right, right - left)


def _closed(joints: Joints, least_gap_mm: float) -> tuple[Note, ...]:
    """For each joint, whether it counts as closed."""
    told = []
    for words, joint in (
        ("Two pieces of the left arm", joints.left_pair),
        ("Two pieces of the right arm", joints.right_pair),
        ("One piece of each arm", joints.mixed),
    ):
        if joint is not None:
            shut = joint.gap.value <= least_gap_mm
            state = (
                f"close within {least_gap_mm:g} mm" if shut else f"gape by {joint.gap.value:g} mm at the {joint.gap_at}"
            )
            if words.startswith("One"):
                state = state.replace("close", "closes", 1) if shut else state.replace("gape", "gapes", 1)
            told.append(Note("joint-closed" if shut else "joint-open", f"{words} {state}."))
    return tuple(told)


def _at_odds(openings: dict[str, Quantity]) -> tuple[Note, ...]:
    """Three joints check each other: the mixed one opens by the mean of the pairs."""
    if len(openings) < 3:
        return ()
    apart = openings["mixed"] - (openings["left pair"] + openings["right pair"]).scaled(0.5)
    if abs(apart.value) <= apart.expanded_uncertainty:
        return ()
    return (
        Note(
            "joints-at-odds",
            f"The three joints contradict each other by {math.degrees(abs(apart.value)):.3f} deg, more than their "
            "bounds allow: the mixed joint should open by the mean of the two pairs.",
            "Was heel taken for toe, a digit misread, or a piece taken from the other arm? Put them together again.",
        ),
    )
