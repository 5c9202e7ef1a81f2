"""A run of adjustments for other programs: angles in degrees, lengths in millimetres."""

from __future__ import annotations

import math
from typing import Literal, TypedDict

from cutvision.correction.adjustments import Adjustments, Answer, Cut, Gain, Step
from cutvision.reports.measurement_json import QuantityJson, quantity_as_json

SCHEMA: Literal["cutvision/adjustments/1"] = "cutvision/adjustments/1"


class StepJson(TypedDict):
    """A cut (`error`) or a move (`distance`, `fence_length`, `turn`, and `asked`, the angle that it asks for)."""

    kind: Literal["cut", "move"]
    error: QuantityJson | None
    distance: QuantityJson | None
    fence_length: QuantityJson | None
    turn: str | None
    asked: QuantityJson | None


class AnswerJson(TypedDict):
    """One change of setting: asked for, seen, and the probability that the fence turned the other way than asked."""

    asked: QuantityJson
    seen: QuantityJson
    probability_opposite: float


class GainJson(TypedDict):
    """What the fence does of what it is asked. `probability`: of the moves' scatter by chance; null with one move."""

    value: QuantityJson
    behaviour: Literal["as asked", "less", "more", "uneven"]
    probability: float | None


class LastMoveJson(TypedDict):
    """Which way the last move went; `times`: error after over error before, null when there was none before."""

    verdict: Literal["right way", "wrong way", "cannot-tell"]
    probability_wrong: float
    probability_opposite: float
    times: float | None


class NextMoveJson(TypedDict):
    """The move to make; `reversed`: `turn` is the person's word for it, as every move so far went against the words."""

    distance: QuantityJson
    fence_length: QuantityJson
    turn: str
    reversed: bool


class AdjustmentsJson(TypedDict):
    """The object that `adjustments --json` prints. `angle_error`: of the fence as it stands, + counter-clockwise.

    After a move without a cut (`action` "cut-first") it is what the next cut is expected to show.
    """

    schema: Literal["cutvision/adjustments/1"]
    action: Literal["move", "stop", "cut-more", "cut-first"]
    reason: str
    angle_error: QuantityJson
    cuts_at_this_setting: int
    next_move: NextMoveJson | None
    more_pieces: int | None
    gain: GainJson | None
    last_move: LastMoveJson | None
    answers: list[AnswerJson]
    steps: list[StepJson]
    tolerance: float | None


def adjustments_as_json(run: Adjustments) -> AdjustmentsJson:
    """The run as a plain object that json.dumps takes as it is."""
    move, last = run.next_move, run.last_move
    return {
        "schema": SCHEMA,
        "action": run.action,
        "reason": run.reason,
        "angle_error": quantity_as_json(run.error),
        "cuts_at_this_setting": run.cuts,
        "next_move": None
        if move is None
        else {
            "distance": quantity_as_json(move.distance),
            "fence_length": quantity_as_json(move.lever),
            "turn": move.turn,
            "reversed": move.reversed,
        },
        "more_pieces": run.pieces,
        "gain": None if run.gain is None else _gain(run.gain),
        "last_move": None
        if last is None
        else {
            "verdict": last.verdict,
            "probability_wrong": last.probability_wrong,
            "probability_opposite": last.opposite,
            "times": last.times if math.isfinite(last.times) else None,
        },
        "answers": [_answer(one) for one in run.answers],
        "steps": [_step(step) for step in run.steps],
        "tolerance": math.degrees(run.decision.tolerance_rad),
    }


def _gain(gain: Gain) -> GainJson:
    return {
        "value": quantity_as_json(gain.quantity),
        "behaviour": gain.behaviour,
        "probability": gain.probability,
    }


def _answer(one: Answer) -> AnswerJson:
    return {
        "asked": quantity_as_json(one.intended),
        "seen": quantity_as_json(one.seen),
        "probability_opposite": one.opposite,
    }


def _step(step: Step) -> StepJson:
    if isinstance(step, Cut):
        error = quantity_as_json(step.error)
        return {
            "kind": "cut",
            "error": error,
            "distance": None,
            "fence_length": None,
            "turn": None,
            "asked": None,
        }
    return {
        "kind": "move",
        "error": None,
        "distance": quantity_as_json(step.distance),
        "fence_length": quantity_as_json(step.lever),
        "turn": step.turn,
        "asked": quantity_as_json(step.intended),
    }
