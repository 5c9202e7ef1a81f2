"""What a correction says: what to do, how sure that is, and everything behind it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from cutvision.correction import Assumption, Correction, Decision, StackAdvice
from cutvision.correction.cut_spread import NAME as SPREAD_NAME
from cutvision.correction.cut_spread import RUNNER_PLAY_RAD
from cutvision.correction.joint import JointPreview
from cutvision.reports.cautions import Topic, brief_caution, cautions
from cutvision.reports.model import Report, Section, Table
from cutvision.reports.move_words import geometry_notes, move_sentences, next_lines, plan_remark
from cutvision.reports.saw_scene import saw_scene
from cutvision.reports.says_joint import joint_lines
from cutvision.reports.shim_words import shim_lines
from cutvision.reports.wording import (
    angle_words,
    bound_words,
    capitalized,
    chance_words,
    degrees_words,
    length_words,
    plain_length_words,
    slope_words,
    small_angle_words,
    small_length_words,
    uncapitalized,
)
from cutvision.uncertainty import Quantity, budget
from cutvision.units import format_length, format_number

# From here on the other influences together matter less than the repeatability of the cut.
MOSTLY = 0.5
CHECK_CUT = "Then cut and measure one more piece. If it comes out about twice as bad, the fence went the wrong way."

_ASSUMED = {
    "reading": ("a reading repeats to ±{}", "--read-to"),
    "caliper": ("the caliper errs by at most {}, the same on both readings", "--accuracy"),
    "broken tips": ("each tip may have lost 0 to {}", "--tips"),
    "edge form": ("sawn edges are rough by {} RMS", "--edge-form"),
    "distance": ("distances are known to ±{}", "--distance-to"),
    "gap": ("the gap is known to ±{}", "--gap-to"),
    "gauge": ("the square is true to ±{}", "--square-to"),
    "protractor": ("a protractor reading repeats to ±{}", "--reading-to"),
    "shut": ("joints that look shut may be open by {}", "--shut-to"),
    "leg length": ("the legs at the fence are about {} long", "--leg-length"),
    "least gap": ("a gap of up to {} does not show", "--least-gap"),
    "corner": ("the test piece's corner is known to ±{}", "--corner-to"),
}
_TOPICS: dict[str, tuple[Topic, ...]] = {
    "move": ("measure", "adjust", "cut"),
    # a note beside it may ask for one more cut
    "leave": ("measure", "cut"),
    "cannot-tell": ("photo", "measure", "adjust", "cut"),
    "needs-kept": ("photo", "measure"),
}
_BRIEF: dict[str, Topic] = {"move": "adjust", "leave": "measure", "cannot-tell": "cut", "needs-kept": "measure"}


def correction_report(
    correction: Correction,
    assumed: Sequence[Assumption] = (),
    *,
    shims: StackAdvice | None = None,
    joints: JointPreview | None = None,
    how: Sequence[str] = (),
) -> Report:
    """The whole answer.

    assumed: the defaults that the result rests on. shims: the stack for the move, shown when the fence is to be moved.
    joints: of a frame cut at this fence. how: where to hold what the readings are taken with.
    """
    moves = correction.decision.moves
    stack = shim_lines(correction, shims) if moves and shims is not None else ()
    after = next_lines(correction) if moves else ()
    sections = (
        Section("Shims", stack[1:]),
        Section("The next test piece, cut at the same fence, should measure", after),
        Section("In a frame", () if joints is None else joint_lines(joints)),
        Section("How to read", tuple(how)),
        Section("What would narrow it", _remedies(correction.decision)),
    )
    return Report(
        headline=(*headline(correction), *stack[:1]),
        sure=sure_lines(correction),
        drawing=saw_scene(correction),
        figures=None if correction.arms is None else _candidates(correction),
        tables=(_figures(correction), budget_table(correction.angle_error, "fence's error")),
        sections=tuple(one for one in sections if one.lines),
        notes=tuple(note_lines(correction)),
        assumed=tuple(assumption_line(one) for one in assumed),
        cautions=correction_cautions(correction),
        brief_cautions=brief_caution(_BRIEF[correction.decision.action]),
    )


def correction_cautions(correction: Correction) -> tuple[str, ...]:
    """All cautions that go with this answer."""
    return cautions(*_TOPICS[correction.decision.action])


def headline(correction: Correction) -> tuple[str, ...]:
    """What to do, the action first; what no turning cures before it."""
    decision = correction.decision
    first = _uncured(correction)
    if decision.action == "needs-kept":
        return (
            *first,
            "Do not move the fence yet. On which side of the blade did the work lie, and stay? Give --kept left or "
            "--kept right: the answer differs, and a photo cannot show it.",
            *(_candidate_sentence(correction, one.kept) for one in correction.candidates),
        )
    if decision.action == "leave":
        return (
            *first,
            f"Leave the fence alone. It is within the tolerance, {small_angle_words(decision.tolerance_rad)}.",
        )
    if decision.action == "cannot-tell":
        return (*first, "Leave the fence as it is: its error is too small to see here.", *_remedy(decision))
    return (*first, *_move(correction))


def sure_lines(correction: Correction) -> tuple[str, ...]:
    """The error in degrees and as shops say it, the tolerance, the odds, and what the move leaves at worst."""
    decision = correction.decision
    if decision.action == "needs-kept":
        return ()
    default = " (default)" if decision.tolerance_is_default else ""
    said = decision.tolerance_said or small_angle_words(decision.tolerance_rad)
    chance = chance_words(decision.probability_within)
    worst = "" if decision.at_worst_rad is None else f" After the move: {bound_words(decision.at_worst_rad)} at worst."
    odds = f"Tolerance: {said}{default}; chance that it is within that, {chance}.{worst}"
    return (f"{state(correction)} {odds}",)


def state(correction: Correction) -> str:
    """How the fence stands, with its uncertainty, in a sentence."""
    error = correction.angle_error
    size, bound = abs(error.value), error.expanded_uncertainty
    if correction.error.positive_means == "counterclockwise":
        way = "off true" if not error.value else f"{'counterclockwise' if error.value > 0 else 'clockwise'} of true"
        text = f"The fence stands {degrees_words(size, bound)} (95 %) {way}"
    else:
        way = "over" if error.value > 0 else "under"
        text = f"The corner on the side you keep is {degrees_words(size, bound)} (95 %) {way} 90 deg"
    return f"{text}: {slope_words(size, bound)}."


def note_lines(correction: Correction) -> list[str]:
    """What was noted, what would settle more, and what goes with any move of such a fence."""
    lines = [f"{note.message} {note.remedy}".strip() for note in correction.notes]
    if correction.way == "split of the angles" and correction.decision.action != "needs-kept":
        lines.append("Give --kept left or --kept right, and the test piece's own corner no longer matters.")
    lines += _repeatability_lines(correction)
    plan = correction.plan
    if correction.decision.moves and plan is not None:
        lines += [CHECK_CUT, *geometry_notes(plan, both_arms=correction.arms is not None)]
        remark = plan_remark(plan, correction)
        lines += [remark] if remark else []
    return lines


def assumption_line(one: Assumption) -> str:
    """A default that the result rests on, why, and the option that changes it."""
    words, option = _ASSUMED[one.name]
    amount = f"{math.degrees(one.value):g} deg" if one.unit == "rad" else small_length_words(one.value)
    return f"{capitalized(words.format(amount))} ({one.reason}). Change it with {option}."


def budget_table(quantity: Quantity, what: str) -> Table:
    """A quantity's uncertainty budget, largest row first, standard uncertainties in deg or mm."""
    factor, unit = (math.degrees(1.0), "deg") if quantity.unit == "rad" else (1.0, quantity.unit)
    u = quantity.standard_uncertainty * factor
    rows = [
        (
            row.name,
            row.kind,
            format_number(row.contribution * factor, u / 10),
            f"{row.share:.0%}",
            "; ".join(row.sources),
        )
        for row in budget(quantity)
    ]
    k = quantity.coverage_factor
    rows.append(("together", "", format_number(u, u / 10), "", "root sum of squares"))
    rows.append((f"times {k:.2f}", "", format_number(k * u, u / 10), "", "the 95 % uncertainty"))
    return Table(
        f"Uncertainty budget of the {what}, standard uncertainties in {unit}",
        ("influence", "type", "part", "share", "from"),
        tuple(rows),
    )


def _move(correction: Correction) -> tuple[str, ...]:
    plan = correction.plan
    if plan is not None:
        return move_sentences(correction, plan)
    # a run that was recorded before plans were
    lever = plain_length_words(correction.move.lever.value)
    turn = f"Turn the fence {correction.turn}: " if correction.turn else "Move the fence: "
    return (
        f"{turn}{length_words(correction.fence_move)} at {lever} from its pivot. At which end, and by what, was not "
        "recorded with this run.",
    )


def _uncured(correction: Correction) -> tuple[str, ...]:
    """What no turning of the fence cures, when it is or may be out of tolerance."""
    angle = correction.uncured
    if angle is None or angle.state == "within":
        return ()
    opening = angle.opening
    size = degrees_words(abs(opening.value), opening.expanded_uncertainty)
    if angle.state == "cannot-tell":
        return (
            f"The V's own angle is {size} {'more' if opening.value > 0 else 'less'} than it should be: too close to "
            "call. No turning cures that.",
        )
    frame = ""
    if angle.sides is not None and angle.last_joint is not None:
        frame = f" It opens the last joint of a frame of {angle.sides} sides by {angle_words(_size(angle.last_joint))}."
    return (
        f"Reset the V's arms to each other: the angle between them is {size} too "
        f"{'large' if opening.value > 0 else 'small'}, which no turning of the V cures.{frame}",
    )


def _candidate_sentence(correction: Correction, kept: str) -> str:
    one = next(one for one in correction.candidates if one.kept == kept)
    lever = plain_length_words(correction.move.lever.value)
    turn = "nothing to turn" if one.turn is None else f"turn {one.turn}, {length_words(one.fence_move)} at {lever}"
    return f"Kept on the {kept}: off by {angle_words(_size(one.angle_error))}; {turn}."


def _size(error: Quantity) -> Quantity:
    return error if error.value >= 0 else -error


def _remedy(decision: Decision) -> tuple[str, ...]:
    """The one cheapest thing that would tell, or what helps most."""
    remedy = decision.remedy
    if remedy is None:
        return ("Measure in another way, and compare.",)
    if remedy.settles:
        return (f"To know: {uncapitalized(remedy.sentence)}",)
    return (f"Nothing here settles it. What helps most: {uncapitalized(remedy.sentence)}",)


def _remedies(decision: Decision) -> tuple[str, ...]:
    return tuple(one.sentence for one in decision.remedies)


def _candidates(correction: Correction) -> Table | None:
    """Both candidates, when there are two."""
    if not correction.candidates or correction.decision.action == "needs-kept":
        return None
    which = "{} arm alone" if correction.arms is not None else "if kept on the {}"
    rows = [
        (
            which.format(one.kept),
            f"{angle_words(one.angle_error)}: {length_words(one.fence_move)} {one.turn or ''}".strip(),
        )
        for one in correction.candidates
    ]
    return Table("", (), tuple(rows))


def _figures(correction: Correction) -> Table:
    """The error and the move, exact and by the shop's rule; both candidates when there are two."""
    error, move, first_order = correction.angle_error, correction.fence_move, correction.first_order
    bound = error.expanded_uncertainty
    positive = (
        "counterclockwise, seen from above"
        if correction.error.positive_means == "counterclockwise"
        else "when the corner on the side you keep is over 90 deg"
    )
    rows = [
        ("fence's error", f"{angle_words(error)}, positive {positive}"),
        ("  as shops say it", slope_words(error.value, bound)),
        ("  by the shop's rule", f"{format_number(math.degrees(first_order.angle_rad), math.degrees(bound))} deg"),
        ("move at that distance", length_words(move)),
        ("  by the shop's rule", format_length(first_order.move_mm, move.expanded_uncertainty)),
        ("  the shop's rule", first_order.rule),
        ("distance from the pivot", plain_length_words(correction.move.lever.value)),
        ("tolerance", f"±{small_angle_words(correction.decision.tolerance_rad)}"),
        ("±", "is a 95 % uncertainty"),
    ]
    candidates = _candidates(correction)
    return Table("", (), (*rows, *(() if candidates is None else candidates.rows)))


def _repeatability_lines(correction: Correction) -> list[str]:
    """Whether the repeatability of the cut was counted, and when more pieces are what helps."""
    rows = budget(correction.angle_error)
    spread = next((row for row in rows if row.name == SPREAD_NAME), None)
    if spread is None:
        play = f"{math.degrees(RUNNER_PLAY_RAD):.3f} deg"
        counted = (
            "The repeatability of the cut, from piece to piece, is not counted. Runner play of 0.1 mm over 450 mm "
            f"alone is {play}. Give --cut-spread {play.replace(' ', '')}, or --cut-angles of three or more pieces."
        )
        return [] if correction.method == "direct" else [counted]
    if spread.share < MOSTLY:
        return []
    return [
        f"The repeatability of the cut makes {spread.share:.0%} of the variance: more pieces help, measuring better "
        "does not. Four times the pieces, cut at one setting, halve it."
    ]
