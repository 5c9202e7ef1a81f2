"""What a run of cuts and moves says: what to do next, and how the fence moved of what was set."""

from __future__ import annotations

from cutvision.correction.adjustments import Adjustments, Answer, Cut, Gain, LastMove, Move, NextMove
from cutvision.reports.cautions import Topic, brief_caution, cautions
from cutvision.reports.model import Report, Section, Table
from cutvision.reports.run_plot import run_plot
from cutvision.reports.wording import (
    angle_words,
    chance_words,
    degrees_words,
    length_words,
    plain_length_words,
    slope_words,
    small_angle_words,
    small_length_words,
    uncapitalized,
)
from cutvision.uncertainty import Quantity
from cutvision.units import format_bound, format_number

_TOPICS: dict[str, tuple[Topic, ...]] = {
    "move": ("measure", "adjust", "cut"),
    "stop": ("measure", "cut"),
    "cut-more": ("measure", "cut"),
    "cut-first": ("measure", "adjust", "cut"),
}
_BRIEF: dict[str, Topic] = {"move": "adjust", "stop": "measure", "cut-more": "cut", "cut-first": "cut"}


def adjustments_report(run: Adjustments) -> Report:
    """The next step, how the fence stands, how it has moved, and the run itself."""
    looks = run.gain is not None and run.gain.behaviour != "as asked"
    topics: tuple[Topic, ...] = (*_TOPICS[run.action], *(("adjust",) if looks else ()))
    return Report(
        headline=next_step(run),
        sure=(state_line(run), *history_lines(run)),
        tables=(_steps(run),),
        sections=(Section("Each cut", run_plot(run)),),
        notes=tuple(_notes(run)),
        cautions=cautions(*topics),
        brief_cautions=brief_caution(_BRIEF[run.action]),
    )


def next_step(run: Adjustments) -> tuple[str, ...]:
    """What to do, in a sentence or two."""
    if run.action == "cut-first":
        return (
            "Cut and measure a test piece now: the last move has not been tested yet.",
            f"If the fence moves by {format_number(run.gain_used.value, 0.01)} of what is set, the piece will show "
            f"{angle_words(run.error)}, positive counterclockwise.",
        )
    if run.action == "stop":
        return (f"Leave the fence alone. It is within the tolerance, {small_angle_words(run.decision.tolerance_rad)}.",)
    if run.next_move is not None:
        return (_move(run.next_move), "Then cut and measure one more piece, and add both to the run.")
    stalled = run.decision.action == "move"
    why = (
        "the last two moves brought the fence no nearer, so the repeatability of the cut, or play, outweighs them"
        if stalled
        else "its error is too small to see with these cuts"
    )
    if run.pieces is None:
        return (
            f"Leave the fence as it is, and measure this setting better: {why}.",
            "More pieces alone would not settle it; a better instrument, or two photos of the piece, turned a quarter "
            "turn between, may.",
        )
    pieces = "one more piece" if run.pieces == 1 else f"{run.pieces} more pieces"
    return (f"Leave the fence as it is. Cut and measure {pieces} at this setting and add them to the run: {why}.",)


def state_line(run: Adjustments) -> str:
    """How the fence stands; after a move without a cut, how it is expected to stand."""
    error, bound = run.error, run.error.expanded_uncertainty
    way = "off true" if not error.value else f"{'counterclockwise' if error.value > 0 else 'clockwise'} of true"
    stands = f"The fence stands {degrees_words(abs(error.value), bound)} (95 %) {way}"
    over = f", by {run.cuts} cuts at this setting" if run.cuts > 1 and run.action != "cut-first" else ""
    text = f"{stands}: {slope_words(abs(error.value), bound)}{over}."
    return f"By what was set, {uncapitalized(text)}" if run.action == "cut-first" else text


def history_lines(run: Adjustments) -> tuple[str, ...]:
    """Whether the last move went the right way, and how the fence moved of what was set."""
    last = () if run.last_move is None else (last_move_words(run.last_move, run.answers[-1]),)
    if run.gain is None:
        return (*last, "How the fence moves is not known yet: that takes a move with a cut before it and one after it.")
    return (*last, _gain(run, run.gain))


def last_move_words(last: LastMove, answer: Answer) -> str:
    """Whether the last move brought the fence nearer to true. answer: how the fence moved with it."""
    wrong = chance_words(last.probability_wrong)
    if last.verdict == "cannot-tell":
        return (
            f"Whether the last move went the right way is too close to call: {wrong} chance that it was the wrong "
            "way. The change is too small beside its uncertainty."
        )
    if last.verdict == "right way":
        crossed = answer.before.value * answer.after.value < 0
        past = " and past true" if crossed and abs(answer.after.value) > answer.after.expanded_uncertainty else ""
        return f"The last move went the right way{past} ({wrong} chance that it did not)."
    how = "the fence turned the other way than was set" if last.opposite > 0.5 else "it was made away from true"
    off = f"{last.times:.1f} times as far off as before" if 1 < last.times < 100 else "farther off"
    right = chance_words(1 - last.probability_wrong)
    return f"The last move went the wrong way: {how}, and it now stands {off} ({right} chance that it did not)."


def _move(move: NextMove) -> str:
    amount = length_words(move.distance)
    where = f"at {plain_length_words(move.lever.value)} from its pivot"
    end = "left" if move.turn == "clockwise" else "right"
    goes = f"what lies {end} of its pivot goes away from you"
    if not move.undo:
        return f"Turn the fence {move.turn}, by {amount} {where}: {goes}."
    last = "the last move" if len(move.undo) == 1 else f"the last {len(move.undo)} moves"
    back = " and ".join(small_length_words(one.distance.value) for one in move.undo)
    return (
        f"Undo {last}, {back}, so that the fence stands as before. Then move it the other way than you did, by "
        f"{amount} {where}: {goes}, and it turns {move.turn}. First see that left and right of the test piece are as "
        "you took them."
    )


def _gain(run: Adjustments, gain: Gain) -> str:
    quantity = gain.quantity
    bound = quantity.expanded_uncertainty
    moved = f"The fence moved by {format_number(quantity.value, bound)} ± {format_bound(bound)} of what was set"
    if gain.behaviour == "as asked":
        return f"{moved}: as set, within the uncertainty."
    if gain.behaviour == "uneven":
        return (
            f"{moved}, but not evenly ({chance_words(gain.probability or 0.0)} chance of that by itself). Look for "
            "play in the pivot or the stop, and come up to the last setting from the same side each time."
        )
    why = {
        "less": "play in the pivot, a fence that springs back when clamped",
        "more": "a fence that slips when clamped, a shim that pushes it beyond its stop",
    }[gain.behaviour]
    levers = {step.lever.value for step in run.steps if isinstance(step, Move)}
    lever = "or another distance from the pivot than was given"
    if len(levers) == 1 and quantity.value > bound:
        lever = (
            f"or {plain_length_words(round(levers.pop() / quantity.value))} from the pivot instead of what was given"
        )
    used = "" if run.gain_used.value == 1 or run.next_move is None else " The next move allows for it."
    return f"{moved}: {gain.behaviour} than set, by more than the uncertainty. Look for {why}, {lever}.{used}"


def _steps(run: Adjustments) -> Table:
    rows, cuts = [], 0
    for place, step in enumerate(run.steps, 1):
        if isinstance(step, Cut):
            cuts += 1
            rows.append((f"{place}  cut {cuts}", angle_words(step.error)))
        else:
            at = plain_length_words(step.lever.value)
            asked = _turn_asked(step.intended)
            text = f"{small_length_words(step.distance.value)} {step.turn} at {at}, that is {asked}"
            rows.append((f"{place}  move", text))
    return Table("The run, positive counterclockwise, seen from above", (), tuple(rows))


def _turn_asked(intended: Quantity) -> str:
    return f"{degrees_words(float(f'{intended.value:.3g}'), 0.0)}"


def _notes(run: Adjustments) -> list[str]:
    lines = []
    if run.gain is not None and len(run.answers) == 1:
        lines.append("One move shows how the fence moves only as well as its two cuts do. More moves narrow it.")
    if run.action == "stop" and run.decision.tolerance_is_default:
        lines.append("More pieces at this setting would show a smaller error; another move would not.")
    said = run.decision.tolerance_said
    default = " (default)" if run.decision.tolerance_is_default else ""
    return [*lines, f"Tolerance: {said or small_angle_words(run.decision.tolerance_rad)}{default}."]
