"""A correction as a person reads it at the saw: what to do first, then the figures, the drawing, notes and cautions.

Plain words without colour, at most 80 columns.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from cutvision.correction import Assumption, Correction, Decision, StackAdvice
from cutvision.correction.cut_spread import NAME as SPREAD_NAME
from cutvision.correction.cut_spread import RUNNER_PLAY_RAD
from cutvision.correction.joint import JointPreview
from cutvision.reports.cautions import Topic, cautions
from cutvision.reports.columns import bullets, wrap
from cutvision.reports.joint_text import joint_block
from cutvision.reports.leaf_text import leaf_lines
from cutvision.reports.move_drawing import move_drawing
from cutvision.reports.move_text import ONE_ARM, action_lines, geometry_notes, planned, readings_block
from cutvision.uncertainty import Quantity, budget
from cutvision.units import (
    MM_PER_INCH,
    format_angle,
    format_angle_with_bound,
    format_bound,
    format_length,
    format_length_with_bound,
    format_number,
)

# From here on the other influences together matter less than the spread of the cut.
MOSTLY = 0.5

_TURN = {"clockwise": "clockwise", "counterclockwise": "counter-clockwise"}
_ASSUMED = {
    "reading": ("a reading repeats to ±{}", "--read-to"),
    "caliper": ("the caliper errs by at most {}, alike on both readings", "--accuracy"),
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
_DECIDED: dict[str, tuple[Topic, ...]] = {
    "move": ("measure", "adjust", "cut"),
    # a note beside it may ask for one more cut
    "leave": ("measure", "cut"),
    "cannot-tell": ("photo", "measure", "adjust", "cut"),
    "needs-kept": ("photo", "measure", "adjust", "cut"),
}


def answer_lines(correction: Correction) -> tuple[str, ...]:
    """The answer in two or three sentences, the action first."""
    decision = correction.decision
    remedy = () if decision.remedy is None else (decision.remedy.sentence,)
    if decision.action == "move":
        plan = planned(correction)
        actions = (_action(correction),) if plan is None else action_lines(correction, plan)
        return (*actions, f"{_state(correction)}, more than the tolerance and than its uncertainty.")
    if decision.action == "leave":
        return ("Leave the fence alone: its error is within the tolerance.", f"{_state(correction)}.")
    if decision.action == "needs-kept":
        return ("Leave the fence as it is: it hangs on the side of the blade on which the work was kept.", *remedy)
    return (
        "Leave the fence as it is: the error is too small to see with these readings.",
        f"{_state(correction)}.",
        *remedy,
    )


def correction_text(
    correction: Correction,
    assumed: Sequence[Assumption] = (),
    *,
    with_budget: bool = False,
    leaves: StackAdvice | None = None,
    joints: JointPreview | None = None,
    how: Sequence[str] = (),
) -> str:
    """The whole report: answer, figures beside the shop's rule, what was assumed, drawing, notes and cautions.

    assumed: the defaults that the result rests on. with_budget: whether the error's uncertainty budget is printed too.
    leaves: the stack for the move, told when the fence is to be moved. joints: of a frame cut at this fence. how: where
    to hold what the readings are taken with.
    """
    decided = correction.decision.action
    blocks = [
        "\n".join(wrap(line) for line in answer_lines(correction)),
        leaf_block(correction, leaves),
        figures(correction),
        bullets("Assumed, as nothing else was said", [assumption_line(one) for one in assumed]),
        budget_table(correction.angle_error) if with_budget else "",
        "\n".join(move_drawing(correction)) if correction.decision.moves else "",
        next_block(correction),
        "" if joints is None else joint_block(joints),
        bullets("How to read", how),
        bullets("Notes", note_lines(correction)),
        bullets("Cautions", cautions(*_DECIDED[decided])),
    ]
    return "\n\n".join(block for block in blocks if block) + "\n"


def leaf_block(correction: Correction, leaves: StackAdvice | None) -> str:
    """The leaves for the move; empty when nobody asked or nothing is to be moved."""
    if leaves is None or not correction.decision.moves:
        return ""
    return "\n".join(wrap(line) for line in leaf_lines(correction, leaves))


def next_block(correction: Correction) -> str:
    """What the next piece should read; empty when the fence's geometry was not said or nothing is to be moved."""
    plan = planned(correction)
    return "" if plan is None or not plan.readings else readings_block(correction, plan)


def figures(correction: Correction) -> str:
    """The error and the move, exact and by the shop's rule, in a small table; both candidates when there are two."""
    error, move, first_order = correction.angle_error, correction.fence_move, correction.first_order
    shop_angle = format_number(math.degrees(first_order.angle_rad), math.degrees(error.expanded_uncertainty))
    rows = [
        ("fence error", f"{_angle(error)} {_positive(correction)}"),
        ("  by the shop rule", f"{shop_angle} deg"),
        ("move at the lever", format_length_with_bound(move.value, move.expanded_uncertainty)),
        ("  by the shop rule", format_length(first_order.move_mm, move.expanded_uncertainty)),
        ("  the shop rule", first_order.rule),
        ("lever", _lever(correction)),
        *_conformity_rows(correction.decision),
        ("bounds (±)", "hold the true value in about 95 of 100 cases"),
    ]
    for candidate in correction.candidates:
        distance = format_length(candidate.fence_move.value, candidate.fence_move.expanded_uncertainty)
        found = f"{_angle(candidate.angle_error)}: {distance} {_turn(candidate.turn)}"
        which = f"if kept on the {candidate.kept}" if correction.arms is None else f"the {candidate.kept} arm alone"
        rows.append((which, found))
    return "\n".join(wrap(text, f"{name:22}") for name, text in rows)


def _conformity_rows(decision: Decision) -> list[tuple[str, str]]:
    """The tolerance in its own words, and how probable it is that the error lies within it."""
    limit = f"{format_angle(decision.tolerance_rad, decision.tolerance_rad / 10)}"
    why = ", as nothing else was said" if decision.tolerance_is_default else ""
    return [
        ("tolerance", f"±{limit} ({decision.tolerance_said}{why})"),
        ("  within it?", f"{_percent(decision.probability_within)} probable"),
    ]


def _percent(probability: float) -> str:
    if probability > 0.999:
        return "over 99.9 %"
    return (
        "less than 0.1 %"
        if probability < 0.001
        else f"{100 * probability:.2g} %"
        if probability < 0.99
        else f"{100 * probability:.1f} %"
    )


def _action(correction: Correction) -> str:
    amount = format_length_with_bound(correction.fence_move.value, correction.fence_move.expanded_uncertainty)
    lever = _lever(correction)
    if correction.is_square_cut:
        toward = correction.side == "toward-work"
        way = "toward the work (away from you)" if toward else "away from the work (toward you)"
        end = f"{correction.kept} end" if correction.kept else "end on the side you keep"
        turned = f"; it turns {_turn(correction.turn)}" if correction.turn else ""
        return f"Move the fence's {end} {amount} {way}, at {lever} from its pivot{turned}."
    if correction.side is not None:
        return (
            f"Put a leaf of {amount} between the fence's {correction.side} foot and its rear stop, {lever} from the "
            f"other foot; the fence turns {_turn(correction.turn)}."
        )
    forward = correction.move.forward_end
    return (
        f"Turn the fence {_turn(correction.turn)}: what lies {forward} of its pivot goes away from you, by {amount} at "
        f"{lever} from the pivot."
    )


def _state(correction: Correction, *, starts: bool = True) -> str:
    """How the fence stands, with its 95 % bound."""
    error = correction.angle_error
    amount = format_angle_with_bound(abs(error.value), error.expanded_uncertainty)
    if correction.error.positive_means == "counterclockwise":
        way = "counter-clockwise of true" if error.value > 0 else "clockwise of true"
        text = f"the fence stands {amount} {way if error.value else 'off true'}"
    else:
        way = "over" if error.value > 0 else "under"
        text = f"the kept corner is {amount} {way} 90 deg"
    return text[0].upper() + text[1:] if starts else text


def _positive(correction: Correction) -> str:
    if correction.error.positive_means == "counterclockwise":
        return "(+ counter-clockwise, seen from above)"
    return "(+ kept corner over 90 deg)"


def note_lines(correction: Correction) -> list[str]:
    """What was noted, what would settle more, and what goes with any move of such a fence."""
    lines = [f"{note.message} {note.remedy}".strip() for note in correction.notes]
    if correction.way == "split of the angles":
        lines.append("Say --kept left or --kept right, and the test piece's own corner no longer matters.")
    lines += _spread_lines(correction)
    if not correction.decision.moves:
        return lines
    lines += ["Then cut and measure one more piece. If it comes out about twice as bad, the fence went the wrong way."]
    if correction.move.geometry is not None:
        lines += geometry_notes(correction.move.geometry, both_arms=correction.arms is not None)
    elif correction.side in ("left", "right"):
        lines += [
            "The distance is from foot to foot, at right angles to the push, not the length of an arm: that would be "
            "wrong by the square root of two.",
            "After turning a V fence bring its point back to the kerf.",
        ]
        if correction.arms is None:
            lines += [
                f"A single fence turns the same way, by as much at {_lever(correction)} from its pivot.",
                ONE_ARM,
            ]
    return lines


def _small_length(value_mm: float) -> str:
    return f"{value_mm:g} mm ({value_mm / MM_PER_INCH:.2g} in)"


def _spread_lines(correction: Correction) -> list[str]:
    """Whether the spread of the cut was counted, and when more pieces are what helps."""
    rows = budget(correction.angle_error)
    spread = next((row for row in rows if row.name == SPREAD_NAME), None)
    if spread is None:
        play = f"{math.degrees(RUNNER_PLAY_RAD):.3f} deg"
        counted = (
            "How much the cut itself spreads from piece to piece is not counted. Runner play of 0.1 mm over 450 mm "
            f"alone is {play}: say --cut-spread {play.replace(' ', '')}, or give --cut-angles of three or more pieces."
        )
        return [] if correction.method == "direct" else [counted]
    if spread.share < MOSTLY:
        return []
    return [
        f"The spread of the cut makes {spread.share:.0%} of the doubt: more pieces help, measuring better does not. "
        "Four times the pieces, cut at one setting, halve it."
    ]


def assumption_line(one: Assumption) -> str:
    """A default that the result rests on, why, and the option that changes it."""
    words, option = _ASSUMED[one.name]
    amount = f"{math.degrees(one.value):g} deg" if one.unit == "rad" else _small_length(one.value)
    return f"{words.format(amount)} ({one.reason}); change it with {option}"


def budget_table(error: Quantity) -> str:
    """The uncertainty budget of the fence's error, largest row first."""
    unit = math.degrees(1.0)
    u = error.standard_uncertainty * unit
    lines = [
        "Budget of the fence's error (standard uncertainties in deg)",
        f"  {'influence':34}{'type':6}{'part':>10}{'share':>8}",
    ]
    for row in budget(error):
        lines.append(f"  {row.name:34}{row.kind:6}{format_number(row.contribution * unit, u / 10):>10}{row.share:8.0%}")
        lines += [wrap(source, "      ") for source in row.sources]
    lines.append(f"  {'together':40}{format_number(u, u / 10):>10}")
    expanded = format_number(error.coverage_factor * u, u / 10)
    lines.append(f"  {f'times {error.coverage_factor:.2f} for 95 %':40}{expanded:>10}")
    return "\n".join(lines)


def _angle(error: Quantity) -> str:
    bound = math.degrees(error.expanded_uncertainty)
    return f"{format_number(math.degrees(error.value), bound)} ± {format_bound(bound)} deg"


def _lever(correction: Correction) -> str:
    lever_mm = correction.move.lever.value
    return f"{lever_mm:.4g} mm ({lever_mm / MM_PER_INCH:.4g} in)"


def _turn(turn: str | None) -> str:
    return _TURN.get(turn or "", "")
