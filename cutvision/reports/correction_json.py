"""A correction for other programs: angles in degrees, lengths in millimetres, whatever a person reads."""

from __future__ import annotations

import math
from typing import Literal, NotRequired, TypedDict

from cutvision.correction import Action, Correction, StackAdvice
from cutvision.correction.joint import JointPreview
from cutvision.correction.result import Method, VAngle
from cutvision.reports.joint_text import JointJson, joint_as_json
from cutvision.reports.leaf_text import LeafAdviceJson, leaf_advice_as_json
from cutvision.reports.measurement_json import (
    BudgetRowJson,
    NoteJson,
    QuantityJson,
    budget_as_json,
    notes_as_json,
    quantity_as_json,
)
from cutvision.reports.move_text import MoveJson, move_as_json

SCHEMA: Literal["cutvision/correction/1"] = "cutvision/correction/1"


class FirstOrderJson(TypedDict):
    """The shop's rule: `angle_error` in degrees, signed like the exact one; `fence_move` in mm; the rule in words."""

    angle_error: float
    fence_move: float
    rule: str


class RemedyJson(TypedDict):
    """Something that lessens the bound: `bound_after` in degrees, and whether the decision then comes out."""

    name: str
    sentence: str
    bound_after: float
    settles: bool


class DecisionJson(TypedDict):
    """What to do, the tolerance in degrees and in its own words, and the cheapest thing that would tell.

    `bound` and `at_worst` in degrees; `at_worst` is what may be left after the move, null without one. `remedies` in
    order of cost. `value` is `action` again, under the name by which the logbook's tables know it.
    """

    action: Action
    value: Action
    tolerance: float
    tolerance_said: str
    tolerance_is_default: bool
    probability_within: float
    bound: float
    at_worst: float | None
    remedy: str
    remedies: list[RemedyJson]


class CandidateJson(TypedDict):
    """What it would be had the work been kept on this side of the blade."""

    kept: Literal["left", "right"]
    angle_error: QuantityJson
    fence_move: QuantityJson
    turn: str | None


class ArmsJson(TypedDict):
    """Each arm of a V, counter-clockwise positive, and by how much its own angle exceeds a true V's."""

    left: QuantityJson
    right: QuantityJson
    opening: QuantityJson


class UncuredJson(TypedDict):
    """What no turning of a V cures: its own angle, each arm's half, and what a frame's last joint opens by."""

    opening: QuantityJson
    each_arm: QuantityJson
    state: Literal["within", "out", "cannot-tell"]
    sides: int | None
    last_joint: QuantityJson | None


class CorrectionJson(TypedDict):
    """The object that `correct --json` prints. `positive_means` says what a positive `angle_error` is.

    `leaf_stack` is there when leaves were asked for, `plan` when there is
    anything to turn and it is known what, `uncured` after both arms of a V were judged,
    `joint` when a frame was asked for.
    """

    schema: Literal["cutvision/correction/1"]
    method: Method
    way: str
    angle_error: QuantityJson
    positive_means: str
    fence_move: QuantityJson
    fence_length: QuantityJson
    side: str | None
    turn: str | None
    nominal: float
    kept: str | None
    turns: int | None
    first_order: FirstOrderJson
    decision: DecisionJson
    candidates: list[CandidateJson]
    budget: list[BudgetRowJson]
    notes: list[NoteJson]
    leaf_stack: NotRequired[LeafAdviceJson]
    arms: NotRequired[ArmsJson]
    uncured: NotRequired[UncuredJson]
    plan: NotRequired[MoveJson]
    joint: NotRequired[JointJson]


def correction_as_json(
    correction: Correction, leaves: StackAdvice | None = None, joints: JointPreview | None = None
) -> CorrectionJson:
    """The correction as a plain object that json.dumps takes as it is; `nominal` is in degrees, from a square cut."""
    decision, first_order = correction.decision, correction.first_order
    told: CorrectionJson = {
        "schema": SCHEMA,
        "method": correction.method,
        "way": correction.way,
        "angle_error": quantity_as_json(correction.angle_error),
        "positive_means": correction.error.positive_means,
        "fence_move": quantity_as_json(correction.fence_move),
        "fence_length": quantity_as_json(correction.move.lever),
        "side": correction.side,
        "turn": correction.turn,
        "nominal": math.degrees(correction.nominal_rad),
        "kept": correction.kept,
        "turns": correction.turns,
        "first_order": {
            "angle_error": math.degrees(first_order.angle_rad),
            "fence_move": first_order.move_mm,
            "rule": first_order.rule,
        },
        "decision": {
            "action": decision.action,
            "value": decision.action,
            "tolerance": math.degrees(decision.tolerance_rad),
            "tolerance_said": decision.tolerance_said,
            "tolerance_is_default": decision.tolerance_is_default,
            "probability_within": decision.probability_within,
            "bound": math.degrees(decision.bound_rad),
            "at_worst": None if decision.at_worst_rad is None else math.degrees(decision.at_worst_rad),
            "remedy": "" if decision.remedy is None else decision.remedy.sentence,
            "remedies": [
                {
                    "name": one.name,
                    "sentence": one.sentence,
                    "bound_after": math.degrees(one.bound_after_rad),
                    "settles": one.settles,
                }
                for one in decision.remedies
            ],
        },
        "candidates": [
            {
                "kept": candidate.kept,
                "angle_error": quantity_as_json(candidate.angle_error),
                "fence_move": quantity_as_json(candidate.fence_move),
                "turn": candidate.turn,
            }
            for candidate in correction.candidates
        ],
        "budget": budget_as_json(correction.angle_error),
        "notes": notes_as_json(correction.notes),
    }
    if correction.plan is not None:
        told["plan"] = move_as_json(correction.plan)
    if correction.uncured is not None:
        told["uncured"] = _uncured_as_json(correction.uncured)
    if correction.arms is not None:
        arms = correction.arms
        told["arms"] = {
            "left": quantity_as_json(arms.left),
            "right": quantity_as_json(arms.right),
            "opening": quantity_as_json(arms.opening),
        }
    if joints is not None:
        told["joint"] = joint_as_json(joints)
    if leaves is not None:
        told["leaf_stack"] = leaf_advice_as_json(correction, leaves)
    return told


def _uncured_as_json(angle: VAngle) -> UncuredJson:
    return {
        "opening": quantity_as_json(angle.opening),
        "each_arm": quantity_as_json(angle.each_arm),
        "state": angle.state,
        "sides": angle.sides,
        "last_joint": None if angle.last_joint is None else quantity_as_json(angle.last_joint),
    }
