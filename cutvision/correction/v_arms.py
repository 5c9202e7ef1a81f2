"""Both arms of a V fence, from one test piece cut on each: how far the V stands from true, and its own angle.

Left and right arm as seen from behind the saw. Work kept on the left of the blade lies on the left arm, its piece's
right leg at the fence; kept on the right on the right arm, the left leg at the fence. With N the true angle between
fence and cut, R the left piece's right angle and L the right piece's left one, the arms stand off by N - R and L - N,
counterclockwise positive. Their mean is the V's turn; their difference, L + R - 2 N, is what its own angle is over a
true V's, which no turning cures (closed form).
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Literal

from cutvision.correction.angle_error import AngleError, Kept, check_plausible, saw_doubt
from cutvision.correction.decision import Action, decide
from cutvision.correction.edge_form import EdgeForm
from cutvision.correction.fence_move import FenceMove, Side, distance_at_lever, turn_against
from cutvision.correction.jig import Jig
from cutvision.correction.miter import (
    NOMINAL_RAD,
    check_corner,
    is_45,
    leg_angles,
    rule_formula,
    rule_of_45,
    rule_of_others,
    suspected_leg,
    trace_leg_angle,
)
from cutvision.correction.move_plan import with_plan
from cutvision.correction.readings import SAME_STRETCH_MM
from cutvision.correction.result import Candidate, Correction, FirstOrder, Method, PieceRead, VAngle, VArms, Way
from cutvision.correction.trace import DEG_PER_RAD, Tracer
from cutvision.errors import InputError, Note
from cutvision.uncertainty import Quantity

LEG_MM = 100.0
_WAY_OFF = {"left": ("clockwise", "counterclockwise"), "right": ("counterclockwise", "clockwise")}


@dataclass(frozen=True, slots=True)
class LegPair:
    """The two legs of one test piece, in mm, left and right as it lies with its cut toward you."""

    left: Quantity
    right: Quantity


def correct_arms_from_legs(
    left_arm: LegPair,
    right_arm: LegPair,
    corner: Quantity,
    jig: Jig,
    *,
    nominal_rad: float = NOMINAL_RAD,
    same_corner: bool = True,
    edge_form: EdgeForm | None = None,
) -> Correction:
    """The V from the legs of a piece cut on each arm; corner: rad, as far as it is known.

    same_corner: whether both pieces have the same corner (both ends of the board cut square at one fence with the same
    edge at it, and that edge laid at both arms): what is not known of it then leaves the turn alone, for legs of 45
    deg exactly in first order, and goes into the V's own angle in full. Else each piece's corner is in doubt by itself.
    The caliper's error is shared where both pieces' end legs, and both their fence legs, lie on the same stretch of its
    scale; all else is each piece's own.
    Raises InputError for legs that make no triangle, a corner far from 90 deg, an arm over 2 deg off, a jig that is no
    V or has a kept side, and a lever or tolerance that is not positive.
    """
    form = edge_form or EdgeForm()
    check_corner(corner)
    _check_nominal(nominal_rad)
    shared = {"corner"} if same_corner else set()
    if _alike(left_arm.left, right_arm.right) and _alike(left_arm.right, right_arm.left):
        shared.add("caliper")
    errors, rules = [], []
    tracer = Tracer()
    for kept, legs in (("left", left_arm), ("right", right_arm)):
        for side, leg in (("left", legs.left), ("right", legs.right)):
            words = f"{side} leg of the piece from the {kept} arm"
            tracer.give(f"{kept}_arm_{side}_leg", words, leg.value, "mm")
    tracer.give("corner", "corner of both test pieces", math.degrees(corner.value), "deg")
    tracer.give("true", "true angle at the fence leg", math.degrees(math.pi / 2 - nominal_rad), "deg")
    arms: tuple[tuple[Kept, LegPair], ...] = (("left", left_arm), ("right", right_arm))
    for kept, legs in arms:
        at_left, at_right = leg_angles(legs.left, legs.right, corner)
        at_fence = at_right if kept == "left" else at_left
        error = _error(kept, at_fence, nominal_rad)
        own, far = (legs.right, legs.left) if kept == "left" else (legs.left, legs.right)
        names = [f"{kept}_arm_{side}_leg" for side in (("right", "left") if kept == "left" else ("left", "right"))]
        trace_leg_angle(
            tracer, (names[0], own.value, names[1], far.value), corner.value, at_fence.value, f"{kept}_angle"
        )
        _trace_arm(tracer, kept, error)
        asked = suspected_leg(legs.left.value, legs.right.value, corner.value, kept, nominal_rad)
        check_plausible(error, asked.replace("(left leg)", f"(left leg, {kept} arm)") if asked else "")
        error = _caliper_by_role(error, kept)
        cut_mm = math.sqrt(legs.left.value**2 + legs.right.value**2)
        at_fence_mm = legs.right.value if kept == "left" else legs.left.value
        form_rad = math.hypot(form.direction_rad(cut_mm), form.direction_rad(at_fence_mm))
        errors.append(
            own_influences(error + saw_doubt(form_rad, f"cut and fence leg {form.words}"), f"{kept} arm", shared)
        )
        if is_45(nominal_rad):
            rules.append(rule_of_45(legs.left.value, legs.right.value, None)[0])
        else:
            rules.append(rule_of_others(legs.left.value, legs.right.value, nominal_rad, kept)[0])
    rule = "mean of both arms' errors, each difference of the legs / 2 / mean leg, x lever"
    if not is_45(nominal_rad):
        rule = "mean of both arms' errors, each to first order of its legs, x lever"
    found = _arms_found(errors[0], errors[1], jig)
    formulas = [
        re.sub(r"\b(left_leg|right_leg)", rf"{kept}_arm_\1", rule_formula(kept, nominal_rad)) for kept, _ in arms
    ]
    return judge_arms(
        found,
        jig,
        nominal_rad,
        ("arms", "both arms by their legs"),
        ((rules[0] + rules[1]) / 2, rule),
        (tracer, f"({formulas[0]} + {formulas[1]}) / 2"),
        PieceRead("legs", (left_arm.right.value + right_arm.left.value) / 2, corner_rad=corner.value),
    )


def correct_arms_from_angles(
    left_arm: Quantity,
    right_arm: Quantity,
    jig: Jig,
    *,
    nominal_rad: float = NOMINAL_RAD,
    leg_mm: float = LEG_MM,
    edge_form: EdgeForm | None = None,
) -> Correction:
    """The V from the angle between cut and fence leg of a piece cut on each arm, as photos give it; no corner matters.

    left_arm: rad, the right angle of the piece from the left arm; right_arm: the left angle of the one from the right.
    leg_mm: about how long the fence legs are, for the roughness of the edges.
    Raises InputError as `correct_arms_from_legs`, where it applies.
    """
    form = edge_form or EdgeForm()
    _check_nominal(nominal_rad)
    cut_mm = leg_mm / math.cos(math.pi / 2 - nominal_rad)
    form_rad = math.hypot(form.direction_rad(leg_mm), form.direction_rad(cut_mm))
    doubt = saw_doubt(form_rad, f"cut and fence leg {form.words}")
    errors = []
    arms: tuple[tuple[Kept, Quantity], ...] = (("left", left_arm), ("right", right_arm))
    tracer = Tracer()
    for kept, angle in arms:
        words = f"angle between the cut and the leg at the fence, of the piece from the {kept} arm"
        tracer.give(f"{kept}_angle", words, math.degrees(angle.value), "deg")
    tracer.give("true", "true angle at the fence leg", math.degrees(math.pi / 2 - nominal_rad), "deg")
    for kept, angle in arms:
        error = _error(kept, angle, nominal_rad) + doubt
        check_plausible(error)
        _trace_arm(tracer, kept, error)
        errors.append(own_influences(error, f"{kept} arm", ()))
    found = _arms_found(errors[0], errors[1], jig)
    first_order_rad = (found.left.value + found.right.value) / 2
    return judge_arms(
        found,
        jig,
        nominal_rad,
        ("arms", "both arms by their angles"),
        (first_order_rad, "mean of both arms' errors in radians x lever"),
        (tracer, f"error / {DEG_PER_RAD}"),
    )


def judge_arms(
    found: VArms,
    jig: Jig,
    nominal_rad: float,
    how: tuple[Method, Way],
    first_order: tuple[float, str],
    traced: tuple[Tracer, str],
    piece: PieceRead | None = None,
) -> Correction:
    """The V's turn as a correction, its own angle in the notes; each candidate trues one arm.

    how: method and way. first_order: the turn by the shop's rule, rad, and it in words. traced: how both arms' errors
    were computed, and the rule's formula in those names. piece: of either arm, the mean of both.
    Raises InputError for an error over 2 deg, a jig that is no V or has a kept side, and a lever or tolerance that is
    not positive.
    """
    if jig.kept is not None:
        raise InputError("Both arms were cut on, one on each side of the blade.", "Leave the kept side out.")
    if jig.geometry is not None and jig.geometry.kind == "single":
        raise InputError("A single fence has no second arm.", "Say --fence v-foot or --fence v-point, or leave it out.")
    jig.check(nominal_rad)
    error = (found.left + found.right).scaled(0.5)
    for one in (found.left, found.right, error):
        check_plausible(one)
    tracer, rule = traced
    words = "What the V's own angle is over, + too wide; no turning cures that"
    tracer.line(words, "own_angle = right_arm - left_arm", math.degrees(found.opening.value), "deg")
    words = "How far the V stands from true, + counterclockwise"
    tracer.line(words, "error = (left_arm + right_arm) / 2", math.degrees(error.value), "deg")
    turn = turn_against(error)
    side: Side | None = None if turn is None else "left" if turn == "clockwise" else "right"
    corrected = Correction(
        method=how[0],
        way=how[1],
        error=AngleError(error),
        move=FenceMove(distance_at_lever(error, jig.lever), jig.lever, side, turn, jig.geometry),
        first_order=FirstOrder(first_order[0], abs(first_order[0]) * jig.lever.value, first_order[1]),
        decision=decide(error, jig.tolerance_rad, said=jig.tolerance_said, pieces=jig.pieces),
        nominal_rad=nominal_rad,
        kept=None,
        candidates=(_alone("left", found.left, jig), _alone("right", found.right, jig)),
        notes=_own_angle(found.opening, nominal_rad),
        piece=piece,
        arms=found,
        uncured=_uncured(found.opening, jig.tolerance_rad, nominal_rad),
        trace=tracer.trace(rule, first_order[0]),
    )
    return with_plan(corrected)


def _trace_arm(tracer: Tracer, kept: Kept, error: Quantity) -> None:
    formula = f"true - {kept}_angle" if kept == "left" else f"{kept}_angle - true"
    words = f"So the {kept} arm is off by, + counterclockwise"
    tracer.line(words, f"{kept}_arm = {formula}", math.degrees(error.value), "deg")


def _error(kept: Kept, fence_angle: Quantity, nominal_rad: float) -> Quantity:
    at_fence_leg = math.pi / 2 - nominal_rad
    return -fence_angle + at_fence_leg if kept == "left" else fence_angle - at_fence_leg


def own_influences(quantity: Quantity, whose: str, shared: Collection[str]) -> Quantity:
    """The quantity with every influence made its own, but for the rows of the budget that it shares with others."""
    return Quantity(
        quantity.value,
        quantity.unit,
        {
            influence if influence.name in shared else replace(influence, key=f"{influence.key}/{whose}"): part
            for influence, part in quantity.components.items()
        },
    )


def _alike(one: Quantity, other: Quantity) -> bool:
    """Whether a caliper errs alike in both lengths."""
    return abs(one.value - other.value) <= SAME_STRETCH_MM


def _caliper_by_role(error: Quantity, kept: Kept) -> Quantity:
    """The caliper's error in two legs of unlike length, told apart as end and fence leg instead of left and right.

    The left leg of one arm's piece is as long as the right leg of the other's.
    """
    end, fence = ("left", "right") if kept == "left" else ("right", "left")
    roles = {f"caliper/{end} leg": "caliper/end leg", f"caliper/{fence} leg": "caliper/fence leg"}
    parts = {replace(i, key=roles.get(i.key, i.key)): part for i, part in error.components.items()}
    return Quantity(error.value, error.unit, parts)


def _arms_found(left: Quantity, right: Quantity, jig: Jig) -> VArms:
    """Both arms with the spread of one cut on each."""
    if jig.cut_spread is not None:
        of_one_cut = jig.cut_spread.on(Quantity(0.0, "rad"), 1)
        left += own_influences(of_one_cut, "left arm", ())
        right += own_influences(of_one_cut, "right arm", ())
    return VArms(left, right, right - left)


def _alone(kept: Kept, error: Quantity, jig: Jig) -> Candidate:
    return Candidate(kept, error, distance_at_lever(error, jig.lever), turn_against(error))


def _uncured(opening: Quantity, tolerance_rad: float | None, nominal_rad: float) -> VAngle:
    each_arm = opening.scaled(0.5)
    states: dict[Action, Literal["within", "out", "cannot-tell"]] = {"leave": "within", "move": "out"}
    count = math.pi / nominal_rad
    sides = round(count) if math.isclose(count, round(count), abs_tol=1e-6) else None
    return VAngle(
        opening,
        each_arm,
        states.get(decide(each_arm, tolerance_rad).action, "cannot-tell"),
        sides,
        None if sides is None else opening.scaled(sides),
    )


def _own_angle(opening: Quantity, nominal_rad: float) -> tuple[Note, ...]:
    """What the V's own angle is, and what can be done about it."""
    size, bound = math.degrees(abs(opening.value)), math.degrees(opening.expanded_uncertainty)
    between = 180 - 2 * math.degrees(nominal_rad)
    way = "over" if opening.value > 0 else "under"
    stands = f"The V's own angle is {size:.3f} ± {bound:.3f} deg {way} {between:g} deg"
    if size <= bound:
        return (Note("v-angle-untold", f"{stands}: too little to be told from true.", ""),)
    wide = 0 if opening.value > 0 else 1
    left, right = _WAY_OFF["left"][wide], _WAY_OFF["right"][wide]
    return (
        Note("v-angle", f"{stands}. No turning of the V cures that: share it between the arms, or true one arm."),
        Note(
            "v-share",
            f"Share it: with the V turned true each arm is {size / 2:.3f} deg off, the left one {left}, the right one "
            f"{right}.",
            "A joint of one piece from each arm then still closes, heel to toe, in a corner that is off by the whole "
            "of it; a frame adds that up at its last joint. Choose this when each joint has one piece from each arm.",
        ),
        Note(
            "v-one-arm",
            f"True one arm: turn by what is told for that arm alone; the other is then {size:.3f} deg off.",
            "Choose this when both pieces of each joint come from one arm, and cut on that one only. To cure the angle "
            "itself, true the face of one arm.",
        ),
    )


def _check_nominal(nominal_rad: float) -> None:
    if not 0 < nominal_rad < math.pi / 2:
        raise InputError(
            f"A V for a miter of {math.degrees(nominal_rad):g} deg has no arms.",
            "Give the miter as shops say it, from a square cut: between 0 and 90 deg.",
        )
