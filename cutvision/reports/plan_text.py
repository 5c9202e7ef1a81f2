"""A plan as a person reads it before cutting: what to cut first, then the pieces, paper, holding, lever and chain.

Plain words without colour, at most 80 columns.
"""

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
from cutvision.reports.cautions import Topic, cautions
from cutvision.reports.columns import bullets, wrap
from cutvision.reports.says_correction import assumption_line
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
_TELLS = {"caliper": "your caliper tells", "photo": "the photos tell", "leaves": "your leaves tell"}
_TOPICS: tuple[Topic, ...] = ("photo", "measure", "adjust", "cut")


def plan_text(plan: Plan, steps: Sequence[LeafStep], chain: JointChain, *, joint_said: bool = True) -> str:
    """The whole plan. steps: what the finest leaves do at the lever. joint_said: whether a joint's width was given."""
    blocks = [
        "\n".join(wrap(line) for line in advice_lines(plan, steps, chain)),
        *(_piece_block(one, plan) for one in plan.tests),
        _paper_block(plan),
        bullets("Holding it (common practice, no source, on the careful side)", tuple(_holding(plan.question))),
        _lever_block(plan.question, steps),
        _chain_block(chain),
        bullets("Assumed, as nothing else was said", tuple(_assumed(plan, chain, joint_said=joint_said))),
        bullets("Cautions", cautions(*_TOPICS)),
    ]
    return "\n\n".join(block for block in blocks if block) + "\n"


def advice_lines(plan: Plan, steps: Sequence[LeafStep], chain: JointChain) -> tuple[str, ...]:
    """What to do, in two to four sentences: what to cut, what it will tell, whether the leaf will do, what else."""
    trial, question = _advised(plan.chosen), plan.question
    lines = [_cut(plan), _tells(trial, question)]
    if not any(step.suffices for step in steps):
        needed = min(step.lever_needed_mm for step in steps)
        lines.append(
            f"The finest leaf is too thick for this lever: make it {_length(math.ceil(needed))} or longer, or use "
            "paper or foil that you have measured."
        )
    if chain.true_next is not None:
        share = next(share for share in chain.joints[0].shares if share.link == chain.true_next)
        lines.append(f"In the chain to a tight joint true next: {share.link.name}. {share.link.truing}")
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


def _tells(trial: Trial, question: PlanQuestion) -> str:
    bound, tolerance = _angle(trial.bound_rad), f"{math.degrees(question.tolerance_rad):.3g} deg"
    inside = question.tolerance_rad - trial.bound_rad
    enough = (
        "which is at most half of it"
        if trial.bound_rad <= 0.5 * question.tolerance_rad
        else "which is more than half of it, and nothing at hand brings it to half"
    )
    return (
        f"That tells the fence to ±{bound} against a tolerance of {tolerance}, {enough}: an error up to "
        f"{format_bound(math.degrees(inside))} deg will be told as in. A fence just at the tolerance shows as "
        f"{_SHOWN[trial.test.name]} {_small(trial.shows_mm)}; {_TELLS[trial.test.tool]} {_small(trial.tells_mm)}."
    )


def _piece_block(plan: PiecePlan, whole: Plan) -> str:
    """One kind of test: the sizes and their bounds, and where the bound comes to the goal."""
    test = plan.test
    chosen = ", as advised" if plan is whole.chosen else ""
    title = f"{test.means.capitalize()}{chosen}"
    head = f"  {_SIZE[test.name]:>16}{'pieces':>8}{'reads':>7}{'bound':>14}  {_SHOWN[test.name]}, at tolerance"
    rows = [wrap(title), head]
    for trial in plan.table:
        mark = " <" if plan.trial is not None and trial == plan.trial else ""
        shows = f"{trial.shows_mm:.2f} mm ({trial.shows_mm / MM_PER_INCH:.4f} in)"
        bound = f"±{format_bound(math.degrees(trial.bound_rad))} deg"
        rows.append(f"  {_length(trial.size_mm):>16}{trial.pieces:>8}{trial.readings:>7}{bound:>14}  {shows}{mark}")
    if plan.trial is None:
        best = f"±{format_bound(math.degrees(plan.best.bound_rad))} deg"
        rows.append(wrap(f"Not enough for this tolerance: {best} at best, most of it from the {plan.best.most}.", "  "))
    else:
        most = f"Most of the doubt at the size marked <: {plan.trial.most}."
        rows.append(wrap(f"{most} The instrument tells {_small(plan.trial.tells_mm)}.", "  "))
    return "\n".join(rows)


_PAPER = {"a4": "A4", "a3": "A3", "letter": "Letter", "tabloid": "Tabloid"}


def _paper_block(plan: Plan) -> str:
    """Which sheets hold the piece that a photo is advised of, and what to do when only one way fits."""
    photo = next((one.trial for one in plan.tests if one.test.tool == "photo" and one.trial is not None), None)
    if photo is None:
        return ""
    lines = [f"Paper for the piece of {_length(photo.size_mm)}, clear of the squares"]
    lines += [f"  {_PAPER[fit.paper]:9}{_fit_words(fit, photo)}" for fit in photo.papers]
    if photo.test.photos > 1:
        lines.append(wrap("Two turned photos need a sheet on which it fits both ways.", "  "))
    if photo.test.kind == "square":
        lines.append(wrap("The strip's ends may run out over the window's ends; what lies inside is measured.", "  "))
    return "\n".join(lines)


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
    "a V on two feet turns about one foot (the pivot), and the leaf goes between the other foot and the rear stop, so "
    "that the lever is from foot to foot, not an arm's length"
)
_V_POINT = (
    "a V held at its point turns about it, and the leaf goes between a foot and the rear stop; the lever is from foot "
    "to foot, and each foot moves by half of what it says"
)
_SINGLE = (
    "a single fence has its pivot at the screw or pin that stays, and the leaf at its free end, as far from the pivot "
    "as the fence is long"
)
_ENDS = {"v-foot": _V_FOOT, "v-point": _V_POINT, "single": _SINGLE, None: f"{_V_FOOT}; {_SINGLE}"}


def _lever_block(question: PlanQuestion, steps: Sequence[LeafStep]) -> str:
    where = f"Lever: {_ENDS['single' if question.kind == 'square' else question.fence]}."
    lines = [wrap(where), wrap(f"At {_length(question.lever_mm)}:", "  ")]
    for step in steps:
        turns = f"{format_bound(math.degrees(step.angle_rad))} deg"
        verdict = (
            "fine enough" if step.suffices else f"too coarse: needs {_length(math.ceil(step.lever_needed_mm))} or more"
        )
        lines.append(f"  a leaf of {step.leaf.mark:10} turns the fence by {turns}: {verdict}")
    lines.append(wrap("Steps of a leaf leave at most half of that.", "  "))
    return "\n".join(lines)


def _chain_block(chain: JointChain) -> str:
    blocks = [
        wrap(
            f"The chain to a tight joint, {_length(chain.joint_width_mm)} wide in stock {_length(chain.thickness_mm)} "
            f"thick: the gap that each link may add (a gap shows from about {_small(VISIBLE_GAP_MM)}, common practice)"
        )
    ]
    blocks += [_joint_table(joint) for joint in chain.joints]
    if chain.true_next is None:
        blocks.append(wrap("Nothing in it can be trued further by careful work.", "  "))
    else:
        share = next(share for share in chain.joints[0].shares if share.link == chain.true_next)
        blocks.append(
            wrap(
                f"True next: {share.link.name}, which would take away {share.removable:.0%} of the sum of squares"
                f"{' of the worse joint' if len(chain.joints) > 1 else ''}.",
                "  ",
            )
        )
    return "\n".join(blocks)


def _joint_table(joint: Joint) -> str:
    rows = [f"  {_JOINT[joint.kind]}", f"    {'link':16}{'off by':>11}{'gap, mm':>9}{'in':>8}{'share':>7}"]
    for share in joint.shares:
        if share.worst_mm == 0 and share.link.half_width_rad > 0:
            continue
        off = f"{math.degrees(share.link.half_width_rad):.3g} deg"
        inches = share.squares_mm / MM_PER_INCH
        said = "  (yours)" if share.link.reason == SAID else ""
        rows.append(f"    {share.link.name:16}{off:>11}{share.squares_mm:9.3f}{inches:8.4f}{share.share:7.0%}{said}")
    for words, gap_mm in (("root sum of squares", joint.squares_mm), ("all the same way", joint.worst_mm)):
        shows = "shows" if gap_mm > VISIBLE_GAP_MM else "does not show"
        rows.append(f"    {words:27}{gap_mm:9.3f}{gap_mm / MM_PER_INCH:8.4f}  {shows}")
    return "\n".join(rows)


def _assumed(plan: Plan, chain: JointChain, *, joint_said: bool) -> Iterator[str]:
    question = plan.question
    yield from (assumption_line(one) for one in _reading_assumptions(plan))
    if question.cut_spread is None:
        amount = f"{math.degrees(question.spread.standard_deviation_rad):.2g} deg"
        yield f"the cut spreads by {amount} from one to the next ({question.spread.source}); say --cut-spread"
    if "photo" in question.tools:
        yield (
            f"photos are as good as the README's table says ({PHOTO_SOURCE}, for edges of {PHOTO_EDGE_MM:g} mm and "
            "more); each photo says its own bound"
        )
    if not joint_said:
        yield f"the joint is that of stock {_length(USUAL_STOCK_MM)} wide; say --joint-width"
    links = [share.link for share in chain.joints[0].shares if share.link.reason != SAID]
    if links:
        listed = "; ".join(f"{link.name}: {link.reason}" for link in links)
        yield f'links of the chain ({listed}); say --link "{links[0].name}=0.05deg" and so on'


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


def _angle(angle_rad: float) -> str:
    degrees = math.degrees(angle_rad)
    return f"{format_bound(degrees)} deg ({format_bound(60 * degrees)}')"


def _small(length_mm: float) -> str:
    return f"{format_number(length_mm, length_mm)} mm ({length_mm / MM_PER_INCH:.4f} in)"


def _length(length_mm: float) -> str:
    return f"{length_mm:.4g} mm ({length_mm / MM_PER_INCH:.3g} in)"
