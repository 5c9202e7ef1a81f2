"""A correction for other programs: angles in degrees, lengths in millimetres, whatever a person reads."""

from __future__ import annotations

import math
from typing import Literal, NotRequired, TypedDict

from cutvision.correction import Correction, StackAdvice, plan_move
from cutvision.correction.joint import JointPreview
from cutvision.correction.result import Method
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
    """What to do, why, the tolerance asked for in degrees and in its own words, and the cheapest way to know more.

    `tolerance`, `conformity` and `probability_within` (0 to 1) are null without a tolerance. `remedies` in order of
    cost.
    """

    value: Literal["move", "leave", "cannot-tell"]
    reason: str
    tolerance: float | None
    remedy: str
    tolerance_said: str
    conformity: Literal["in", "out", "cannot-tell"] | None
    probability_within: float | None
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


class CorrectionJson(TypedDict):
    """The object that `correct --json` prints. `positive_means` says what a positive `angle_error` is.

    `leaf_stack` is there when leaves were asked for, `move` when the fence's geometry was said and it is to be turned,
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
    move: NotRequired[MoveJson]
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
            "value": decision.value,
            "reason": decision.reason,
            "tolerance": None if decision.tolerance_rad is None else math.degrees(decision.tolerance_rad),
            "remedy": decision.remedy,
            "tolerance_said": decision.tolerance_said,
            "conformity": decision.conformity,
            "probability_within": decision.probability_within,
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
    plan = plan_move(correction)
    if plan is not None:
        told["move"] = move_as_json(plan)
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
