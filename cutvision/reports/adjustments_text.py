"""A run of adjustments as a person reads it at the saw: what to do next, then how the fence has answered so far."""

from __future__ import annotations

import math

from cutvision.correction.adjustments import Adjustments, Answer, Cut, Gain, LastMove, Move, NextMove
from cutvision.reports.cautions import Topic, cautions
from cutvision.reports.columns import bullets, wrap
from cutvision.uncertainty import Quantity
from cutvision.units import (
    MM_PER_INCH,
    format_angle,
    format_angle_with_bound,
    format_bound,
    format_length_with_bound,
    format_number,
)

TURN = {"clockwise": "clockwise", "counterclockwise": "counter-clockwise"}
_PLOT = 57
_TOPICS: dict[str, tuple[Topic, ...]] = {
    "move": ("measure", "adjust", "cut"),
    "stop": ("measure", "cut"),
    "cut-more": ("measure", "cut"),
    "cut-first": ("measure", "adjust", "cut"),
}


def adjustments_text(run: Adjustments) -> str:
    """The whole report; at most 80 columns."""
    blocks = [
        "\n".join(wrap(line) for line in answer_lines(run)),
        "\n".join(wrap(line) for line in _history_lines(run)),
        _table(run),
        _plot(run),
        bullets("Notes", _notes(run)),
        bullets("Cautions", cautions(*_TOPICS[run.action], *_looked_for(run))),
    ]
    return "\n\n".join(block for block in blocks if block) + "\n"


def _looked_for(run: Adjustments) -> tuple[Topic, ...]:
    """Looking for play is work at the fence."""
    return ("adjust",) if run.gain is not None and run.gain.behaviour != "as asked" else ()


def answer_lines(run: Adjustments) -> list[str]:
    """What to do, and how the fence stands."""
    if run.action == "cut-first":
        expected = format_angle_with_bound(run.error.value, run.error.expanded_uncertainty)
        return [
            f"Cut and measure a test piece now: {run.reason}.",
            f"If the fence answers {format_number(run.gain_used.value, 0.01)} of what it is asked, the piece will show "
            f"{expected} (+ counter-clockwise).",
        ]
    state = state_line(run)
    if run.action == "stop":
        return [f"Leave the fence alone: {run.reason}.", state]
    if run.next_move is None:
        return [_more(run), state]
    return [_move(run.next_move), f"{state[:-1]}: {run.reason}."]


def state_line(run: Adjustments) -> str:
    """How the fence stands; after a move without a cut, how it is expected to stand."""
    if run.action == "cut-first":
        return f"By what was asked of it: {_state(run.error)[0].lower()}{_state(run.error)[1:]}."
    return f"{_state(run.error)}{_over(run.cuts)}."


def _more(run: Adjustments) -> str:
    if run.pieces is None:
        return (
            f"Measure this setting better before you move the fence: {run.reason}. More pieces alone would not settle "
            "it: a better instrument, or photos of the turned piece, may."
        )
    pieces = "one more piece" if run.pieces == 1 else f"{run.pieces} more pieces"
    return f"Leave the fence, cut and measure {pieces} at this setting and add them to the run: {run.reason}."


def _move(move: NextMove) -> str:
    amount = format_length_with_bound(move.distance.value, move.distance.expanded_uncertainty)
    where = f"at {lever_text(move.lever)} from its pivot"
    if move.reversed:
        return (
            f"Move the fence the way that you have called {TURN[move.turn]}, by {amount} {where}: every move so far "
            "turned it against your words. First see which way it really turns, and whether left and right of the "
            "test piece are as you took them."
        )
    end = "left" if move.turn == "clockwise" else "right"
    return f"Turn the fence {TURN[move.turn]}: what lies {end} of its pivot goes away from you, by {amount} {where}."


def _state(error: Quantity) -> str:
    amount = format_angle_with_bound(abs(error.value), error.expanded_uncertainty)
    way = " counter-clockwise of true" if error.value > 0 else " clockwise of true" if error.value < 0 else " off true"
    return f"The fence stands {amount}{way}"


def _over(cuts: int) -> str:
    return f", by {cuts} cuts at this setting" if cuts > 1 else ""


def _history_lines(run: Adjustments) -> list[str]:
    lines = []
    if run.last_move is not None:
        lines.append(last_move_words(run.last_move, run.answers[-1]))
    if run.gain is None:
        lines.append("How the fence answers is not known yet: that takes a move with a cut before and one after it.")
    else:
        lines.append(_gain(run, run.gain))
    return lines


def last_move_words(last: LastMove, answer: Answer) -> str:
    """Whether the last move brought the fence nearer to true. answer: how the fence answered to it."""
    if last.verdict == "cannot-tell":
        return (
            f"Whether the last move went the right way cannot be told (chance that it was the wrong way: "
            f"{chance(last.probability_wrong)}): the change is too small beside its bound."
        )
    if last.verdict == "right way":
        crossed = answer.before.value * answer.after.value < 0
        past = " and past true" if crossed and abs(answer.after.value) > answer.after.expanded_uncertainty else ""
        return f"The last move went the right way{past} (chance that not: {chance(last.probability_wrong)})."
    how = "the fence turned against your words" if last.opposite > 0.5 else "it was made away from true"
    off = f"{last.times:.1f} times as far off as before" if 1 < last.times < 100 else "farther off"
    return (
        f"The last move went the wrong way: {how}, and it now stands {off} (chance that not: "
        f"{chance(1 - last.probability_wrong)})."
    )


def _gain(run: Adjustments, gain: Gain) -> str:
    quantity = gain.quantity
    bound = quantity.expanded_uncertainty
    amount = f"{format_number(quantity.value, bound)} ± {format_bound(bound)}"
    answered = f"The fence has answered {amount} of what it was asked"
    used = "" if run.gain_used.value == 1 or run.next_move is None else " The next move allows for it."
    if gain.behaviour == "as asked":
        return f"{answered}: as asked, within the bound."
    if gain.behaviour == "uneven":
        return (
            f"{answered}, but not evenly (chance of that by itself: {chance(gain.probability or 0.0)}): look for play "
            "in the pivot or the stop, and come up to the last setting from the same side each time."
        )
    levers = {step.lever.value for step in run.steps if isinstance(step, Move)}
    lever = ", or a lever other than the one given"
    if len(levers) == 1 and quantity.value > bound:
        lever_mm = levers.pop() / quantity.value
        lever = f", or a lever of {lever_mm:.0f} mm ({lever_mm / MM_PER_INCH:.1f} in) rather than the one given"
    why = {
        "less": "play in the pivot, a fence that springs back when clamped",
        "more": "a fence that slips when clamped, a leaf that pushes it beyond its stop",
    }[gain.behaviour]
    return f"{answered}: {gain.behaviour} than asked, beyond the bound. Look for {why}{lever}.{used}"


def _table(run: Adjustments) -> str:
    lines = ["The run (+ counter-clockwise, seen from above; bounds hold about 95 of 100)"]
    cuts = 0
    for place, step in enumerate(run.steps, 1):
        if isinstance(step, Cut):
            cuts += 1
            error = step.error
            text = f"cut {cuts}: {format_angle_with_bound(error.value, error.expanded_uncertainty)}"
        else:
            asked = format_angle(step.intended.value, 2 * step.intended.standard_uncertainty)
            text = (
                f"move: {step.distance.value:.3g} mm ({step.distance.value / MM_PER_INCH:.3g} in) {TURN[step.turn]} at "
                f"{lever_text(step.lever)}, that is {asked}"
            )
        lines.append(wrap(text, f"  {place:>3}  "))
    return "\n".join(lines)


def _plot(run: Adjustments) -> str:
    """Each cut as a mark on a line with its bound, the true fence in the middle."""
    cuts = [step.error for step in run.steps if isinstance(step, Cut)]
    limit = run.decision.tolerance_rad
    reach = max(limit * 1.2, *(abs(error.value) + error.expanded_uncertainty for error in cuts))
    middle = _PLOT // 2

    def column(value: float) -> int:
        return middle + round(value / reach * middle)

    lines = [f"{'':9}{'clockwise':<{middle}}|{'counter-clockwise':>{middle}}"]
    for number, error in enumerate(cuts, 1):
        marks = [" "] * _PLOT
        marks[middle] = "|"
        if limit:
            marks[column(-limit)], marks[column(limit)] = "(", ")"
        low, high = column(error.value - error.expanded_uncertainty), column(error.value + error.expanded_uncertainty)
        for place in range(low, high + 1):
            marks[place] = "-"
        marks[column(error.value)] = "o"
        lines.append(f"  cut {number:<3}{''.join(marks)}".rstrip())
    wide = f"{math.degrees(reach):.2g} deg"
    held = "; ( ) the tolerance" if limit else ""
    lines.append(f"{'':9}o error, --- bound, | true{held}; {wide} to each side")
    return "\n".join(lines)


def _notes(run: Adjustments) -> list[str]:
    lines = []
    if run.action == "move":
        lines.append("Then cut and measure one more piece, and add both to the run.")
    if run.gain is not None and len(run.answers) == 1:
        lines.append("One move tells the fence's answer only as well as its two cuts: more moves narrow the bound.")
    limit, said = run.decision.tolerance_rad, run.decision.tolerance_said
    why = ", as nothing else was said" if run.decision.tolerance_is_default else ""
    lines.append(f"Tolerance: {format_angle(limit, limit / 10)} ({said}{why}).")
    return lines


def chance(probability: float) -> str:
    """A probability as people read it."""
    if probability < 0.001:
        return "under 0.1 %"
    return "over 99.9 %" if probability > 0.999 else f"{100 * probability:.2g} %"


def lever_text(lever: Quantity) -> str:
    """A lever in both units."""
    return f"{lever.value:.4g} mm ({lever.value / MM_PER_INCH:.4g} in)"
