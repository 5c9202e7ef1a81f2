"""What a run of test cuts and moves says: what to do next, and how the fence moved of what was set."""

from __future__ import annotations

import math

from cutvision.correction.adjustments import Adjustments, Answer, Cut, Gain, LastMove, Move, NextMove
from cutvision.reports.cautions import Topic, brief_caution, cautions
from cutvision.reports.model import Report, Table
from cutvision.reports.wording import (
    angle_words,
    capitalized,
    chance_words,
    degrees_words,
    length_words,
    plain_length_words,
    slope_words,
    small_angle_words,
    small_length_words,
)
from cutvision.uncertainty import Quantity
from cutvision.units import format_bound, format_number

_TOPICS: dict[str, tuple[Topic, ...]] = {
    "move": ("measure", "adjust", "cut"),
    "stop": ("measure", "cut"),
    "cut-more": ("measure", "cut"),
    "cut-first": ("measure", "adjust", "cut"),
}
# Of a long record the last steps are shown.
MOST_STEPS = 12
_BRIEF: dict[str, Topic] = {"move": "adjust", "stop": "measure", "cut-more": "cut", "cut-first": "cut"}


def steps_report(run: Adjustments) -> Report:
    """The whole answer: what to do next, how the fence stands, how it moved of what was set, and the run."""
    extra: tuple[Topic, ...] = ("adjust",) if run.gain is not None and run.gain.behaviour != "as asked" else ()
    return Report(
        headline=steps_headline(run),
        sure=(state_sentence(run), *history_sentences(run)),
        figures=_table(run),
        notes=_notes(run),
        cautions=cautions(*_TOPICS[run.action], *extra),
        brief_cautions=brief_caution(_BRIEF[run.action]),
    )


def steps_headline(run: Adjustments) -> tuple[str, ...]:
    """What to do next."""
    if run.action == "cut-first":
        return ("Cut and measure a test piece now: the last move has not been checked by a cut yet.",)
    if run.action == "stop":
        return (f"Leave the fence alone. It is within the tolerance, {small_angle_words(run.decision.tolerance_rad)}.",)
    if run.next_move is not None:
        return (_move(run.next_move),)
    if run.pieces is None:
        return (
            "Leave the fence as it is: its error is too small to see here. Measure this setting better, by photos of "
            "the turned piece or a finer instrument; more pieces alone would not settle it.",
        )
    pieces = "one more piece" if run.pieces == 1 else f"{run.pieces} more pieces"
    return (
        f"Leave the fence as it is: its error is too small to see here. Cut and measure {pieces} at this setting and "
        "add them to the run.",
    )


def state_sentence(run: Adjustments) -> str:
    """How the fence stands, or is expected to stand after a move that no cut has checked."""
    error = run.error
    size = degrees_words(abs(error.value), error.expanded_uncertainty)
    way = "counterclockwise of true" if error.value > 0 else "clockwise of true" if error.value < 0 else "off true"
    stands = "should now stand" if run.action == "cut-first" else "stands"
    pieces = f", by {run.cuts} cuts at this setting" if run.cuts > 1 and run.action != "cut-first" else ""
    slope = slope_words(abs(error.value), error.expanded_uncertainty)
    return f"The fence {stands} {size} (95 %) {way}{pieces}: {slope}."


def history_sentences(run: Adjustments) -> tuple[str, ...]:
    """Whether the last move went the right way, and how the fence moves of what is set."""
    last = () if run.last_move is None else (last_move_sentence(run.last_move, run.answers[-1]),)
    if run.gain is None:
        return (
            *last,
            "How the fence moves of what is set is not known yet: that takes a cut before and after a move.",
        )
    return (*last, _gain(run, run.gain))


def last_move_sentence(last: LastMove, answer: Answer) -> str:
    """Whether the last move brought the fence nearer to true. answer: the error before and after it."""
    if last.verdict == "cannot-tell":
        return (
            "Whether the last move went the right way is too close to call (chance that it went the wrong way: "
            f"{chance_words(last.probability_wrong)})."
        )
    if last.verdict == "right way":
        crossed = answer.before.value * answer.after.value < 0
        past = " and past true" if crossed and abs(answer.after.value) > answer.after.expanded_uncertainty else ""
        return f"The last move went the right way{past} (chance that not: {chance_words(last.probability_wrong)})."
    how = "the fence turned the other way than was recorded" if last.opposite > 0.5 else "it was made away from true"
    off = f"{last.times:.1f} times as far off as before" if 1 < last.times < 100 else "farther off"
    return (
        f"The last move went the wrong way: {how}, and it now stands {off} (chance that not: "
        f"{chance_words(1 - last.probability_wrong)})."
    )


def _move(move: NextMove) -> str:
    where = f"{plain_length_words(move.lever.value)} from its pivot"
    end = "left" if move.turn == "clockwise" else "right"
    if move.undo:
        last = "the last move" if len(move.undo) == 1 else "the last moves"
        return (
            f"Undo {last}, so that the fence stands as before. Then move it the other way than you did, by "
            f"{length_words(move.distance)} at {where}: what lies {end} of its pivot goes away from you, and it turns "
            f"{move.turn}."
        )
    return (
        f"Turn the fence {move.turn}: what lies {end} of its pivot goes away from you, by "
        f"{length_words(move.distance)} at {where}."
    )


def _gain(run: Adjustments, gain: Gain) -> str:
    quantity = gain.quantity
    share_to = quantity.expanded_uncertainty
    moved = f"The fence moved by {format_number(quantity.value, share_to)} ± {format_bound(share_to)} of what was set"
    used = "" if run.gain_used.value == 1 or run.next_move is None else " The next move allows for it."
    if gain.behaviour == "as asked":
        return f"{moved}: all of it, within the uncertainty."
    if gain.behaviour == "uneven":
        return (
            f"{moved}, but not evenly (chance of that by itself: {chance_words(gain.probability or 0.0)}): look for "
            "play in the pivot or the stop, and come up to the last setting from the same side each time."
        )
    levers = {step.lever.value for step in run.steps if isinstance(step, Move)}
    lever = ", or a distance from pivot to shim other than the one given"
    if len(levers) == 1 and quantity.value > share_to:
        lever = f", or a distance from pivot to shim of {small_length_words(levers.pop() / quantity.value)}"
    why = {
        "less": "play in the pivot, a fence that springs back when clamped",
        "more": "a fence that slips when clamped, a shim that pushes it beyond its stop",
    }[gain.behaviour]
    return f"{moved}: {gain.behaviour} than all of it. Look for {why}{lever}.{used}"


def _table(run: Adjustments) -> Table:
    rows = []
    cuts = 0
    for step in run.steps:
        if isinstance(step, Cut):
            cuts += 1
            rows.append((f"cut {cuts}", angle_words(step.error)))
        else:
            set_to = f"{small_length_words(step.distance.value)} {step.turn} at {plain_length_words(step.lever.value)}"
            rows.append(("  move", f"{set_to}: {_intended(step.intended)}"))
    shown = rows[-MOST_STEPS:]
    which = "The run" if len(shown) == len(rows) else f"The last {len(shown)} of {len(rows)} steps"
    return Table(f"{which} (+ counterclockwise, seen from above; ± is a 95 % uncertainty)", (), tuple(shown))


def _intended(turned: Quantity) -> str:
    return f"{format_number(math.degrees(abs(turned.value)), 0.001)} deg"


def _notes(run: Adjustments) -> tuple[str, ...]:
    lines = []
    if run.action == "move":
        lines.append("Then cut and measure one more piece, and add both to the run.")
    if run.gain is not None and len(run.answers) == 1:
        lines.append("One move shows how the fence moves only as well as its two cuts: more moves narrow it.")
    decision = run.decision
    default = " (default)" if decision.tolerance_is_default else ""
    lines.append(capitalized(f"tolerance: {decision.tolerance_said}{default}."))
    return tuple(lines)
