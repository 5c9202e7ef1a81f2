"""A plan for other programs: angles in degrees, lengths in millimetres, whatever a person reads."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal, TypedDict

from cutvision.correction.chain import JointChain, LinkShare
from cutvision.correction.lever_check import LeafStep
from cutvision.correction.planning import PiecePlan, Plan, Trial

SCHEMA: Literal["cutvision/plan/1"] = "cutvision/plan/1"


class PaperJson(TypedDict):
    """Whether the piece fits one sheet's window flat, its longest edge along the long side, and turned."""

    paper: str
    flat: bool
    turned: bool


class TrialJson(TypedDict):
    """One piece: sizes in mm, what it would tell. `bound` (95 %, deg) is what `correct` would state.

    `shows_at_tolerance` and `instrument_tells` are mm: a difference of legs or widths, or a gap.
    """

    size: float
    other_leg: float
    pieces: int
    readings: int
    cuts: int
    bound: float
    largest_influence: str
    shows_at_tolerance: float
    instrument_tells: float
    papers: list[PaperJson]


class TestJson(TypedDict):
    """One kind of test. `advised` is null when it cannot keep below the tolerance; `best` is what it reaches then."""

    test: str
    tool: str
    advised: TrialJson | None
    best: TrialJson
    table: list[TrialJson]


class HoldingJson(TypedDict):
    """Least sizes in mm, common practice without a source."""

    least_piece: float
    least_strip_width: float
    least_board: float


class LeafJson(TypedDict):
    """What one leaf does at the lever: `angle` in deg; `lever_needed` in mm for it to be fine enough."""

    leaf: str
    thickness: float
    angle: float
    suffices: bool
    lever_needed: float


class LinkJson(TypedDict):
    """One link: `off_by` in deg (half-width), its gap in mm by root sum of squares and at worst, its shares."""

    name: str
    off_by: float
    reason: str
    gap: float
    gap_worst: float
    share: float
    removable: float


class JointJson(TypedDict):
    """One kind of joint and the gap, in mm, that all links together may leave."""

    joint: str
    gap: float
    gap_worst: float
    links: list[LinkJson]


class ChainJson(TypedDict):
    """The chain to a tight joint; lengths in mm. `true_next` names a link, or is null."""

    joint_width: float
    thickness: float
    joints: list[JointJson]
    true_next: str | None
    how: str


class PlanJson(TypedDict):
    """The object that `plan --json` prints. `chosen` names the test to follow among `tests`."""

    schema: Literal["cutvision/plan/1"]
    kind: str
    tolerance: float
    fence_length: float
    nominal: float
    kept: str | None
    fence: str | None
    cut_spread: float
    advice: list[str]
    chosen: str
    tests: list[TestJson]
    holding: HoldingJson
    leaves: list[LeafJson]
    chain: ChainJson


def plan_as_json(plan: Plan, steps: Sequence[LeafStep], chain: JointChain, advice: Sequence[str]) -> PlanJson:
    """The plan as a plain object that json.dumps takes as it is. advice: the same sentences that lead the text."""
    question = plan.question
    return {
        "schema": SCHEMA,
        "kind": question.kind,
        "tolerance": math.degrees(question.tolerance_rad),
        "fence_length": question.lever_mm,
        "nominal": math.degrees(question.nominal_rad) if question.kind == "miter" else 0.0,
        "kept": question.kept,
        "fence": question.fence,
        "cut_spread": math.degrees(question.spread.standard_deviation_rad),
        "advice": list(advice),
        "chosen": plan.chosen.test.name,
        "tests": [_test(one) for one in plan.tests],
        "holding": {
            "least_piece": question.holding.piece_mm,
            "least_strip_width": question.holding.strip_mm,
            "least_board": question.holding.board_mm,
        },
        "leaves": [
            {
                "leaf": step.leaf.mark,
                "thickness": step.leaf.thickness_mm,
                "angle": math.degrees(step.angle_rad),
                "suffices": step.suffices,
                "lever_needed": step.lever_needed_mm,
            }
            for step in steps
        ],
        "chain": _chain(chain),
    }


def _test(plan: PiecePlan) -> TestJson:
    return {
        "test": plan.test.name,
        "tool": plan.test.tool,
        "advised": None if plan.trial is None else _trial(plan.trial),
        "best": _trial(plan.best),
        "table": [_trial(one) for one in plan.table],
    }


def _trial(trial: Trial) -> TrialJson:
    return {
        "size": trial.size_mm,
        "other_leg": trial.other_mm,
        "pieces": trial.pieces,
        "readings": trial.readings,
        "cuts": trial.cuts,
        "bound": math.degrees(trial.bound_rad),
        "largest_influence": trial.most,
        "shows_at_tolerance": trial.shows_mm,
        "instrument_tells": trial.tells_mm,
        "papers": [{"paper": fit.paper, "flat": fit.flat, "turned": fit.turned} for fit in trial.papers],
    }


def _chain(chain: JointChain) -> ChainJson:
    return {
        "joint_width": chain.joint_width_mm,
        "thickness": chain.thickness_mm,
        "joints": [
            {
                "joint": joint.kind,
                "gap": joint.squares_mm,
                "gap_worst": joint.worst_mm,
                "links": [_link(share) for share in joint.shares],
            }
            for joint in chain.joints
        ],
        "true_next": None if chain.true_next is None else chain.true_next.name,
        "how": "" if chain.true_next is None else chain.true_next.truing,
    }


def _link(share: LinkShare) -> LinkJson:
    return {
        "name": share.link.name,
        "off_by": math.degrees(share.link.half_width_rad),
        "reason": share.link.reason,
        "gap": share.squares_mm,
        "gap_worst": share.worst_mm,
        "share": share.share,
        "removable": share.removable,
    }
