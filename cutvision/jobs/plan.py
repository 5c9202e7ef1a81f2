"""Before cutting: what to cut, and what stands between it and a tight joint."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

from cutvision.errors import InputError
from cutvision.jobs.fence import FENCE, FENCE_LENGTH, KEPT, REPEATS, Side
from cutvision.jobs.reading import BLANK, NOMINAL, CaliperSaid
from cutvision.jobs.said import ANGLE_OR_NONE, LENGTH, LENGTH_OR_NONE, TEXT, TOLERANCE, Needs, Say, length
from cutvision.units import parse_angle, parse_lengths

if TYPE_CHECKING:
    from cutvision.correction.chain import JointChain
    from cutvision.correction.lever_check import LeafStep
    from cutvision.correction.planning import Plan, PlanQuestion, Tool

USUAL_THICKNESS_MM = 19.0
STOCK, JOINT = "The stock", "The joint"
TOOLS: dict[str, tuple[Tool, ...]] = {
    "caliper": ("caliper",),
    "photo": ("photo",),
    "both": ("caliper", "photo"),
    "shims": ("leaves",),
}


@dataclass(frozen=True, kw_only=True)
class PlanSaid(CaliperSaid):
    """Before cutting: how large a test piece shows the error, can it be held, and what else opens the joint.

    cutvision plan --kind miter --tolerance 0.05deg --fence-length 380mm --kept left

    With --link you say what you know of the saw: --link "runner play=0.05deg". A page to check a V fence by:
    cutvision print check-list
    """

    needs: ClassVar[Needs] = (("kind",), ("fence_length",))
    kind: Annotated[
        Literal["miter", "square"], Say("The fence: a miter fence (or V), or a square one.", group=FENCE, main=True)
    ]
    tolerance: Annotated[
        str,
        Say(
            "The fence error that does no harm: 0.05deg, 3min, 0.1mm/300mm, or gap:0.1mm/60mm.",
            TOLERANCE,
            FENCE,
            main=True,
        ),
    ] = "0.1mm/300mm"
    fence_length: Annotated[str, FENCE_LENGTH]
    nominal: Annotated[str | None, NOMINAL] = None
    kept: Annotated[Side | None, KEPT] = None
    fence: Annotated[
        Literal["single", "v-foot", "v-point"] | None,
        Say(
            "How it is held: one straight fence, a V turned about a foot, or a V held at its point. For a V, a piece "
            "of each arm is planned too.",
            group=FENCE,
        ),
    ] = None
    at_hand: Annotated[
        Literal["caliper", "photo", "both", "shims"],
        Say("What is at hand to read the test piece; both: caliper and photo.", option="with", main=True),
    ] = "both"
    tips: Annotated[str | None, Say("How much of a tip may be missing (0mm if none).", LENGTH_OR_NONE, BLANK)] = None
    corner_to: Annotated[str | None, Say("How well the blank's corner is known.", ANGLE_OR_NONE, BLANK)] = None
    cut_spread: Annotated[str | None, Say("Standard deviation from one cut to the next.", ANGLE_OR_NONE, REPEATS)] = (
        None
    )
    thickness: Annotated[str | None, Say("The stock's thickness (19mm unless you say).", LENGTH, STOCK)] = None
    stock_width: Annotated[str | None, Say("The width of the stock for the test piece.", LENGTH, STOCK)] = None
    longest_piece: Annotated[
        str | None, Say("The longest leg of a triangle, or side of a board, that you can spare.", LENGTH, STOCK)
    ] = None
    least_piece: Annotated[
        str | None, Say("The smallest that you want to hold, where it is more than what is advised.", LENGTH, STOCK)
    ] = None
    paper: Annotated[
        Literal["a4", "letter", "a3", "tabloid"] | None,
        Say("The one paper that you can print on; else all are looked at."),
    ] = None
    joint_width: Annotated[str | None, Say("Along which the two cuts of the joint meet.", LENGTH, JOINT)] = None
    link: Annotated[
        tuple[str, ...],
        Say("How far one part of the saw may be off, NAME=ANGLE: 'runner play=0.05deg'.", TEXT, JOINT),
    ] = ()


@dataclass(frozen=True, slots=True)
class PlanResult:
    """The piece to cut; steps: what the finest shims do at this lever; chain: what opens the joint beside the fence.

    joint_said: whether the joint's width was said.
    """

    plan: Plan
    steps: tuple[LeafStep, ...]
    chain: JointChain
    joint_said: bool


def run_plan(asked: PlanSaid) -> PlanResult:
    """The plan. Raises InputError in the option's name, and for what nothing at hand can show."""
    from cutvision.correction.lever_check import leaf_steps
    from cutvision.correction.planning import chain_for, make_plan

    if asked.kind == "square" and (asked.nominal is not None or asked.fence in {"v-foot", "v-point"}):
        strange = "--nominal" if asked.nominal is not None else f"--fence {asked.fence}"
        raise InputError(f"{strange} belongs to a miter fence, and a square one is planned.", f"Leave {strange} out.")
    said = _links(asked.link)
    question = _question(asked, said.get("runner play"))
    steps = leaf_steps(question.lever_mm, question.tolerance_rad, held_at_point=asked.fence == "v-point")
    made = make_plan(question)
    chain = chain_for(made, length(asked.joint_width, "--joint-width"), said)
    return PlanResult(made, steps, chain, asked.joint_width is not None)


def _question(asked: PlanSaid, play_rad: float | None) -> PlanQuestion:
    """From the texts to the question; the cut repeats as the runners' play lets it unless more is said of it."""
    from cutvision.correction import CutSpread, ReadingCare, typed_distance
    from cutvision.correction.piece_safety import safe_holding
    from cutvision.correction.planning import PlanQuestion
    from cutvision.correction.tolerance import parse_tolerance
    from cutvision.measurement.paper_fit import paper_windows

    nominal_rad = parse_angle(asked.nominal or "45deg", "--nominal")
    spread = None if play_rad is None else CutSpread(play_rad, "runner play as you said")
    if asked.cut_spread is not None:
        spread = CutSpread(parse_angle(asked.cut_spread, "--cut-spread", zero=True), "as you said")
    thickness_mm = length(asked.thickness, "--thickness") or USUAL_THICKNESS_MM
    lever = typed_distance(parse_lengths(asked.fence_length, "--fence-length"), "lever", ReadingCare())
    cut_rad = nominal_rad if asked.kind == "miter" else 0.0
    return PlanQuestion(
        kind=asked.kind,
        tolerance_rad=parse_tolerance(asked.tolerance, "--tolerance", cut_rad).angle_rad,
        lever_mm=lever.value,
        tools=TOOLS[asked.at_hand],
        holding=safe_holding(asked.kind, thickness_mm, length(asked.least_piece, "--least-piece")),
        thickness_mm=thickness_mm,
        nominal_rad=nominal_rad,
        kept=asked.kept,
        care=asked.care(asked.tips, asked.corner_to),
        cut_spread=spread,
        fence=asked.fence,
        longest_mm=length(asked.longest_piece, "--longest-piece"),
        stock_width_mm=length(asked.stock_width, "--stock-width"),
        windows=tuple(one for one in paper_windows() if asked.paper in {None, one.paper}),
    )


def _links(texts: Sequence[str]) -> dict[str, float]:
    """NAME=ANGLE, each name once. Raises InputError for anything else."""
    said: dict[str, float] = {}
    for text in texts:
        name, equals, value = text.partition("=")
        name = " ".join(name.split()).lower()
        name = "V's own angle" if name == "v's own angle" else name
        if not equals:
            raise InputError(f"--link is '{text}', without a value.", "Type it like --link 'runner play=0.05deg'.")
        if name in said:
            raise InputError(f"--link names '{name}' twice.", "Give each link once.")
        said[name] = parse_angle(value, f"--link {name}", zero=True)
    return said
