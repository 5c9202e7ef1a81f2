"""A correction for other programs: angles in degrees, lengths in millimetres, whatever a person reads."""

from __future__ import annotations

import math
from typing import Literal, NotRequired, TypedDict

from cutvision.correction import Correction, StackAdvice
from cutvision.correction.result import Method
from cutvision.reports.leaf_text import LeafAdviceJson, leaf_advice_as_json
from cutvision.reports.measurement_json import (
    BudgetRowJson,
    NoteJson,
    QuantityJson,
    budget_as_json,
    notes_as_json,
    quantity_as_json,
)

SCHEMA: Literal["cutvision/correction/1"] = "cutvision/correction/1"


class FirstOrderJson(TypedDict):
    """The shop's rule: `angle_error` in degrees, signed like the exact one; `fence_move` in mm; the rule in words."""

    angle_error: float
    fence_move: float
    rule: str


class DecisionJson(TypedDict):
    """What to do, why, the tolerance asked for in degrees (null without), and the cheapest way to know more."""

    value: Literal["move", "leave", "cannot-tell"]
    reason: str
    tolerance: float | None
    remedy: str


class CandidateJson(TypedDict):
    """What it would be had the work been kept on this side of the blade."""

    kept: Literal["left", "right"]
    angle_error: QuantityJson
    fence_move: QuantityJson
    turn: str | None


class CorrectionJson(TypedDict):
    """The object that `correct --json` prints. `positive_means` says what a positive `angle_error` is.

    `leaf_stack` is there when leaves were asked for.
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


def correction_as_json(correction: Correction, leaves: StackAdvice | None = None) -> CorrectionJson:
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
    if leaves is not None:
        told["leaf_stack"] = leaf_advice_as_json(correction, leaves)
    return told
