"""What a plan says before cutting: what to cut, then the pieces, paper, holding, lever and the chain to the joint."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from cutvision.correction import Assumption, assumptions, gap_assumptions
from cutvision.correction.chain import SAID, VISIBLE_GAP_MM, Joint, JointChain
from cutvision.correction.lever_check import LeafStep
from cutvision.correction.piece_fit import PaperFit
from cutvision.correction.piece_safety import CLAMP_FROM_BLADE_MM
from cutvision.correction.planning import (
    PHOTO_EDGE_MM,
    PHOTO_SOURCE,
    USUAL_STOCK_MM,
    PiecePlan,
    Plan,
    PlanQuestion,
    Trial,
)
from cutvision.reports.cautions import Topic, brief_caution, cautions
from cutvision.reports.model import Report, Section, Table
from cutvision.reports.says_correction import assumption_line
from cutvision.reports.wording import bound_words, capitalized
from cutvision.units import MM_PER_INCH, format_bound, format_number

_JOINT = {
    "one arm": "both cuts on one arm (or on a single fence)",
    "each arm": "one cut from each arm of a V",
    "square": "one square cut against a straight edge",
}
_SHOWN = {
    "legs": "legs apart by",
    "one photo": "legs apart by",
    "two photos": "legs apart by",
    "arms": "legs apart by",
    "arms photos": "legs apart by",
    "frame": "joint open by",
    "strip": "widths apart by",
    "board": "widths apart by",
    "strip photo": "widths apart by",
    "facing": "a gap of",
}
_SIZE = {
    "legs": "shorter leg",
    "one photo": "shorter leg",
    "two photos": "shorter leg",
    "arms": "shorter leg",
    "arms photos": "shorter leg",
    "frame": "stock's width",
    "strip": "board's side",
    "board": "board's side",
    "strip photo": "board's side",
    "facing": "cut's length",
}
_SEES = {"caliper": "your caliper shows", "photo": "the photos show", "leaves": "your shims show"}
_TOPICS: tuple[Topic, ...] = ("photo", "measure", "adjust", "cut")


def plan_report(plan: Plan, steps: Sequence[LeafStep], chain: JointChain, *, joint_said: bool = True) -> Report:
    """The whole plan. steps: what the finest shims do at the lever. joint_said: whether a joint's width was given."""
    trial = _advised(plan.chosen)
    return Report(
        headline=advice_lines(plan, steps, chain),
        sure=(_shows(trial, plan.question),),
        figures=_pieces(plan.chosen, plan),
        tables=(
            *(_pieces(one, plan) for one in plan.tests if one is not plan.chosen),
            *(_joint_table(joint) for joint in chain.joints),
        ),
        sections=tuple(
            one
            for one in (
                Section("About the pieces", tuple(_about(one, plan) for one in plan.tests)),
                Section("Paper, clear of the squares", _paper_lines(plan)),
                Section("Holding it (common practice, no source, on the careful side)", tuple(_holding(plan.question))),
                Section("Distance from pivot to shim", _lever_lines(plan.question, steps)),
                Section("The chain to a tight joint", _chain_lines(chain)),
            )
            if one.lines
        ),
        assumed=tuple(_assumed(plan, chain, joint_said=joint_said)),
        cautions=cautions(*_TOPICS),
        brief_cautions=brief_caution("cut"),
    )


def advice_lines(plan: Plan, steps: Sequence[LeafStep], chain: JointChain) -> tuple[str, ...]:
    """What to do: what to cut, whether the shim will do, what to fix next."""
    lines = [_cut(plan)]
    if not any(step.suffices for step in steps):
        needed = min(step.lever_needed_mm for step in steps)
        lines.append(
            f"The finest shim is too thick for this distance from the pivot: make it {_length(math.ceil(needed))} or "
            "longer, or use paper or foil that you have measured."
        )
    if chain.true_next is not None:
        share = next(share for share in chain.joints[0].shares if share.link == chain.true_next)
        lines.append(f"For a tight joint fix next: {share.link.name}. {share.link.truing}")
    return tuple(lines)


def _cut(plan: Plan) -> str:
    trial = _advised(plan.chosen)
    size = _length(trial.size_mm)
    if trial.other_mm > 1.01 * trial.size_mm:
        size += f" and {_length(trial.other_mm)}"
    what = trial.test.one.format(size) if trial.pieces == 1 else trial.test.many.format(size)
    count = "one" if trial.pieces == 1 else str(trial.pieces)
    apart = " at one setting and take the mean" if trial.pieces > 1 else ""
    times = f", each length read {trial.readings} times" if trial.readings > 1 else ""
    sheet = next((fit.paper for fit in trial.papers if fit.flat and (fit.turned or trial.test.photos < 2)), None)
    on = "" if sheet is None else f", on the sheet for {_PAPER[sheet]}"
    source = " from the end of a long board" if "triangle" in trial.test.one else ""
    return f"Cut {count} {what}{source}{apart}; read: {trial.test.means}{times}{on}."


def _shows(trial: Trial, question: PlanQuestion) -> str:
    tolerance = f"{math.degrees(question.tolerance_rad):.3g} deg"
    enough = (
        "which is at most half of it"
        if trial.bound_rad <= 0.5 * question.tolerance_rad
        else "which is more than half of it, and nothing at hand brings it to half"
    )
    return (
        f"It shows the fence to {bound_words(trial.bound_rad)} against a tolerance of {tolerance}, {enough}. A fence "
        f"just at the tolerance shows as {_SHOWN[trial.test.name]} {_small(trial.shows_mm)}; {_SEES[trial.test.tool]} "
        f"{_small(trial.tells_mm)}."
    )


def _pieces(plan: PiecePlan, whole: Plan) -> Table:
    """One kind of test: the sizes and their uncertainties."""
    test = plan.test
    head = (_SIZE[test.name], "pieces", "reads", "uncertainty", f"{_SHOWN[test.name]}, at tolerance")
    rows = []
    for trial in plan.table:
        mark = "  <" if plan.trial is not None and trial == plan.trial else ""
        shows = f"{trial.shows_mm:.2f} mm ({trial.shows_mm / MM_PER_INCH:.4f} in){mark}"
        size = _length(trial.size_mm)
        rows.append((size, str(trial.pieces), str(trial.readings), bound_words(trial.bound_rad), shows))
    return Table(f"{test.means.capitalize()}{', as advised' if plan is whole.chosen else ''}", head, tuple(rows))


def _about(plan: PiecePlan, whole: Plan) -> str:
    name = plan.test.means.capitalize()
    if plan.trial is None:
        best = bound_words(plan.best.bound_rad)
        return f"{name}: not enough for this tolerance, {best} at best, most of it from the {plan.best.most}."
    marked = "at the size marked <" if plan is whole.chosen else "at the size that would do"
    return f"{name}: most of the uncertainty {marked} is from the {plan.trial.most}."


_PAPER = {"a4": "A4", "a3": "A3", "letter": "Letter", "tabloid": "Tabloid"}


def _paper_lines(plan: Plan) -> tuple[str, ...]:
    """Which sheets hold the piece that a photo is advised of, and what to do when only one way fits."""
    photo = next((one.trial for one in plan.tests if one.test.tool == "photo" and one.trial is not None), None)
    if photo is None:
        return ()
    lines = [
        f"{_PAPER[fit.paper]}: the piece of {_length(photo.size_mm)} {_fit_words(fit, photo)}." for fit in photo.papers
    ]
    if photo.test.photos > 1:
        lines.append("Two photos, the second with the piece turned, need a sheet on which it fits both ways.")
    if photo.test.kind == "square":
        lines.append("The strip's ends may run out over the window's ends; what lies inside is measured.")
    return tuple(lines)


def _fit_words(fit: PaperFit, trial: Trial) -> str:
    along = "with its cut along" if trial.test.kind == "miter" else "lying along"
    if fit.flat and fit.turned:
        return f"fits {along} the long side, and turned by a quarter turn"
    if fit.flat:
        return f"fits {along} the long side only, not turned"
    return "fits turned by a quarter turn only" if fit.turned else "does not fit"


def _holding(question: PlanQuestion) -> Iterator[str]:
    holding = question.holding
    least = f"{_length(holding.piece_mm)}{', as you asked' if holding.raised else ''}"
    if question.kind == "miter":
        yield f"No triangle with a leg below {least}: a smaller one is caught or thrown."
        yield (
            f"Saw it off the end of a long board, {_length(holding.board_mm)} or more staying at the fence; never "
            "saw short stock."
        )
    else:
        yield f"No board with a side below {least}: it must stay clamped until the last strip is off."
        yield f"Strips no narrower than {_length(holding.strip_mm)}."
    yield f"Clamps at least {_length(CLAMP_FROM_BLADE_MM)} from the blade's path, hands farther."


_V_FOOT = (
    "a V on two feet turns about one foot (the pivot), and the shim goes between the other foot and the rear stop, so "
    "that the distance is from foot to foot, not an arm's length"
)
_V_POINT = (
    "a V held at its point turns about it, and the shim goes between a foot and the rear stop; the distance is from "
    "foot to foot, and each foot moves by half of what it says"
)
_SINGLE = (
    "a single fence has its pivot at the screw or pin that stays, and the shim at its free end, as far from the pivot "
    "as the fence is long"
)
_ENDS = {"v-foot": _V_FOOT, "v-point": _V_POINT, "single": _SINGLE, None: f"{_V_FOOT}; {_SINGLE}"}


def _lever_lines(question: PlanQuestion, steps: Sequence[LeafStep]) -> tuple[str, ...]:
    lines = [f"{capitalized(_ENDS['single' if question.kind == 'square' else question.fence])}."]
    for step in steps:
        turns = f"{format_bound(math.degrees(step.angle_rad))} deg"
        verdict = (
            "fine enough" if step.suffices else f"too coarse: needs {_length(math.ceil(step.lever_needed_mm))} or more"
        )
        lines.append(
            f"At {_length(question.lever_mm)} a shim of {step.leaf.mark} turns the fence by {turns}: {verdict}."
        )
    return (*lines, "Steps of one shim leave at most half of that.")


def _chain_lines(chain: JointChain) -> tuple[str, ...]:
    first = (
        f"{_length(chain.joint_width_mm)} wide in stock {_length(chain.thickness_mm)} thick: the tables above show the "
        f"gap that each link may add. A gap shows from about {_small(VISIBLE_GAP_MM)} (common practice, no source)."
    )
    if chain.true_next is None:
        return (first, "Nothing in it can be made truer by careful work.")
    share = next(share for share in chain.joints[0].shares if share.link == chain.true_next)
    worse = " of the worse joint" if len(chain.joints) > 1 else ""
    return (
        first,
        f"Fix next: {share.link.name}, which would take away {share.removable:.0%} of the sum of squares{worse}.",
    )


def _joint_table(joint: Joint) -> Table:
    rows = []
    for share in joint.shares:
        if share.worst_mm == 0 and share.link.half_width_rad > 0:
            continue
        said = "  (yours)" if share.link.reason == SAID else ""
        off = f"{math.degrees(share.link.half_width_rad):.3g} deg"
        rows.append((share.link.name, off, *_gap(share.squares_mm), f"{share.share:.0%}{said}"))
    for words, gap_mm in (("root sum of squares", joint.squares_mm), ("all the same way", joint.worst_mm)):
        rows.append((words, "", *_gap(gap_mm), "shows" if gap_mm > VISIBLE_GAP_MM else "does not show"))
    return Table(_JOINT[joint.kind].capitalize(), ("link", "off by", "gap, mm", "in", "share"), tuple(rows))


def _gap(gap_mm: float) -> tuple[str, str]:
    return f"{gap_mm:.3f}", f"{gap_mm / MM_PER_INCH:.4f}"


def _assumed(plan: Plan, chain: JointChain, *, joint_said: bool) -> Iterator[str]:
    question = plan.question
    yield from (assumption_line(one) for one in _reading_assumptions(plan))
    if question.cut_spread is None:
        amount = f"{math.degrees(question.spread.standard_deviation_rad):.2g} deg"
        yield f"the cut varies by {amount} from one to the next ({question.spread.source}); change it with --cut-spread"
    if "photo" in question.tools:
        yield (
            f"photos are as good as the README's table says ({PHOTO_SOURCE}, for edges of {PHOTO_EDGE_MM:g} mm and "
            "more); each photo says its own bound"
        )
    if not joint_said:
        yield f"the joint is that of stock {_length(USUAL_STOCK_MM)} wide; change it with --joint-width"
    links = [share.link for share in chain.joints[0].shares if share.link.reason != SAID]
    if links:
        listed = "; ".join(f"{link.name}: {link.reason}" for link in links)
        yield f'links of the chain ({listed}); change one with --link "{links[0].name}=0.05deg"'


def _reading_assumptions(plan: Plan) -> tuple[Assumption, ...]:
    """The defaults that the bounds of all tests rest on, each once."""
    question = plan.question
    found: list[Assumption] = []
    if "caliper" in question.tools:
        longest = max(one.other_mm for one in plan.tests[0].table)
        found += assumptions(question.care, "legs" if question.kind == "miter" else "widths", longest)
    if "leaves" in question.tools:
        found += gap_assumptions(question.care, "frame" if question.kind == "miter" else "facing")
    return tuple({one.name: one for one in found}.values())


def _advised(plan: PiecePlan) -> Trial:
    if plan.trial is None:
        raise ValueError("a chosen plan has a trial")
    return plan.trial


def _small(length_mm: float) -> str:
    return f"{format_number(length_mm, length_mm)} mm ({length_mm / MM_PER_INCH:.4f} in)"


def _length(length_mm: float) -> str:
    return f"{length_mm:.4g} mm ({length_mm / MM_PER_INCH:.3g} in)"
