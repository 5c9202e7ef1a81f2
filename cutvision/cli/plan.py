"""`cutvision plan`: before cutting, what to cut, and what stands between it and a tight joint."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from cutvision.cli.correct_options import CaliperOptions, Kept, length
from cutvision.cli.jig_option import JigOptions
from cutvision.cli.output import answer, answer_json, tell
from cutvision.errors import InputError
from cutvision.files import write_output

if TYPE_CHECKING:
    from cutvision.correction import ReadingCare
    from cutvision.correction.planning import PlanQuestion, Tool

Kind = Literal["miter", "square"]
At = Literal["caliper", "photo", "both", "leaves"]
USUAL_THICKNESS_MM = 19.0


def plan(
    kind: Annotated[Kind, typer.Option("--kind", help="The fence: a miter fence (or V), or a square one.")],
    tolerance: Annotated[
        str | None,
        typer.Option(
            "--tolerance",
            metavar="TOLERANCE",
            help="The fence error that does no harm: 0.05deg, 3min, 0.1mm/300mm, or gap:0.1mm/60mm.",
        ),
    ] = None,
    fence_length: Annotated[
        str | None,
        typer.Option(
            "--fence-length",
            metavar="LENGTH",
            help="From the fence's pivot to where the leaf goes; for a V fence on two feet, from foot to foot.",
        ),
    ] = None,
    nominal: Annotated[
        str | None,
        typer.Option("--nominal", metavar="ANGLE", help="The miter as shops say it, from a square cut (45deg)."),
    ] = None,
    kept: Kept = None,
    fence: Annotated[
        Literal["single", "v-foot", "v-point"] | None,
        typer.Option(
            "--fence",
            help="How it is held: one straight fence, a V turned about a foot, or a V held at its point. For a V, a "
            "piece of each arm is planned too.",
        ),
    ] = None,
    at_hand: Annotated[
        At, typer.Option("--with", help="What is at hand to read the test piece; both: caliper and photo.")
    ] = "both",
    tips: Annotated[
        str | None, typer.Option("--tips", metavar="LENGTH", help="How much of a tip may be missing (0mm if none).")
    ] = None,
    corner_to: Annotated[
        str | None, typer.Option("--corner-to", metavar="ANGLE", help="How well the blank's corner is known.")
    ] = None,
    cut_spread: Annotated[
        str | None,
        typer.Option("--cut-spread", metavar="ANGLE", help="Standard deviation from one cut to the next."),
    ] = None,
    thickness: Annotated[
        str | None, typer.Option("--thickness", metavar="LENGTH", help="Of the stock (19mm unless said).")
    ] = None,
    stock_width: Annotated[
        str | None, typer.Option("--stock-width", metavar="LENGTH", help="Of the stock for the test piece.")
    ] = None,
    longest_piece: Annotated[
        str | None,
        typer.Option(
            "--longest-piece",
            metavar="LENGTH",
            help="The longest leg of a triangle, or side of a board, that you can spare.",
        ),
    ] = None,
    least_piece: Annotated[
        str | None,
        typer.Option(
            "--least-piece",
            metavar="LENGTH",
            help="The smallest that you want to hold, where it is more than what is advised.",
        ),
    ] = None,
    paper: Annotated[
        Literal["a4", "letter", "a3", "tabloid"] | None,
        typer.Option("--paper", help="The one paper that you can print on; else all are looked at."),
    ] = None,
    joint_width: Annotated[
        str | None,
        typer.Option("--joint-width", metavar="LENGTH", help="Along which the two cuts of the joint meet."),
    ] = None,
    link: Annotated[
        list[str] | None,
        typer.Option(
            "--link", metavar="NAME=ANGLE", help="How far a link of the chain may be off: 'runner play=0.05deg'."
        ),
    ] = None,
    v_check_list: Annotated[
        Path | None,
        typer.Option("--v-check-list", metavar="FILE", help="Write a page to check a V fence by: .pdf, .svg or .png."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")] = False,
    *,
    caliper: CaliperOptions,
    jig: JigOptions,  # noqa: ARG001  fills the other options when it is read
) -> None:
    """Before cutting: how large a test piece shows the error, can it be held, and what else opens the joint.

    cutvision plan --kind miter --tolerance 0.05deg --fence-length 380mm --kept left

    With --link you say what you know of the saw: --link "runner play=0.05deg". For a V fence, a page to check it by:

    cutvision plan --kind miter --v-check-list v-fence.pdf
    """
    from cutvision.correction.lever_check import leaf_steps
    from cutvision.correction.planning import chain_for, make_plan
    from cutvision.reports.plan_json import plan_as_json
    from cutvision.reports.plan_text import advice_lines, plan_text

    if v_check_list is not None:
        _write_check_list(kind, v_check_list)
        if tolerance is None and fence_length is None:
            return
    if tolerance is None or fence_length is None:
        missing = "--tolerance" if tolerance is None else "--fence-length"
        raise InputError(
            f"{missing} is missing: the tolerance says how finely a test piece must tell, the lever what a leaf does.",
            "Type both, such as --tolerance 0.05deg --fence-length 380mm.",
        )
    if kind == "square" and (nominal is not None or fence in {"v-foot", "v-point"}):
        strange = "--nominal" if nominal is not None else f"--fence {fence}"
        raise InputError(f"{strange} belongs to a miter fence, and a square one is planned.", f"Leave {strange} out.")
    asked = _Asked(tolerance, fence_length, nominal or "45deg", kept, fence, at_hand, cut_spread)
    stock = _Stock(thickness, stock_width, longest_piece, least_piece, paper)
    said = _links(link or [])
    question = _question(kind, asked, stock, caliper.care(tips, corner_to), said.get("runner play"))
    steps = leaf_steps(question.lever_mm, question.tolerance_rad, held_at_point=fence == "v-point")
    made = make_plan(question)
    chain = chain_for(made, length(joint_width, "--joint-width"), said)
    if as_json:
        answer_json(plan_as_json(made, steps, chain, advice_lines(made, steps, chain)))
    else:
        answer(plan_text(made, steps, chain, joint_said=joint_width is not None).rstrip())


@dataclass(frozen=True, slots=True)
class _Asked:
    tolerance: str
    fence_length: str
    nominal: str
    kept: Literal["left", "right"] | None
    fence: Literal["single", "v-foot", "v-point"] | None
    at_hand: At
    cut_spread: str | None


@dataclass(frozen=True, slots=True)
class _Stock:
    thickness: str | None
    width: str | None
    longest: str | None
    least: str | None
    paper: str | None


def _question(kind: Kind, asked: _Asked, stock: _Stock, care: ReadingCare, play_rad: float | None) -> PlanQuestion:
    """From the texts to the question; the cut spreads by the runners' play unless more is said of it.

    Raises InputError in the option's name.
    """
    from cutvision.correction import CutSpread
    from cutvision.correction.piece_safety import safe_holding
    from cutvision.correction.planning import PlanQuestion
    from cutvision.correction.tolerance import parse_tolerance
    from cutvision.measurement.paper_fit import paper_windows
    from cutvision.units import parse_angle, parse_length

    nominal_rad = parse_angle(asked.nominal, "--nominal")
    spread = None if play_rad is None else CutSpread(play_rad, "runner play as you said")
    if asked.cut_spread is not None:
        spread = CutSpread(parse_angle(asked.cut_spread, "--cut-spread", zero=True), "as you said")
    thickness_mm = length(stock.thickness, "--thickness") or USUAL_THICKNESS_MM
    tools: dict[At, tuple[Tool, ...]] = {
        "caliper": ("caliper",),
        "photo": ("photo",),
        "both": ("caliper", "photo"),
        "leaves": ("leaves",),
    }
    return PlanQuestion(
        kind=kind,
        tolerance_rad=parse_tolerance(
            asked.tolerance, "--tolerance", nominal_rad if kind == "miter" else 0.0
        ).angle_rad,
        lever_mm=parse_length(asked.fence_length, "--fence-length"),
        tools=tools[asked.at_hand],
        holding=safe_holding(kind, thickness_mm, length(stock.least, "--least-piece")),
        thickness_mm=thickness_mm,
        nominal_rad=nominal_rad,
        kept=asked.kept,
        care=care,
        cut_spread=spread,
        fence=asked.fence,
        longest_mm=length(stock.longest, "--longest-piece"),
        stock_width_mm=length(stock.width, "--stock-width"),
        windows=tuple(one for one in paper_windows() if stock.paper in {None, one.paper}),
    )


def _links(texts: Sequence[str]) -> dict[str, float]:
    """NAME=ANGLE, each name once. Raises InputError for anything else."""
    from cutvision.units import parse_angle

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


def _write_check_list(kind: Kind, file: Path) -> None:
    """Draw the page and write it. Raises InputError for a square fence, another ending, or where it cannot be."""
    if kind != "miter":
        raise InputError("The check list is for a V fence, which cuts miters.", "Give --kind miter, or leave it out.")
    from cutvision.reports.figure import figure_bytes, format_of
    from cutvision.reports.v_check_list import v_check_list

    write_output(file, figure_bytes(v_check_list(), format_of(file)), "printed sheet")
    tell(f"Check list written to {file}.")
