"""A run of adjustments: what test cuts and the moves between them say of the fence, and what to do next.

A move asks the fence to turn by atan(distance / lever); the test cuts before and after show by how much it did turn.
The ratio is the fence's gain: 1 when it does as it is told. Angles in rad, positive counterclockwise seen from above.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from cutvision.correction.angle_error import check_plausible
from cutvision.correction.cut_spread import NAME as SPREAD_NAME
from cutvision.correction.cut_spread import CutSpread
from cutvision.correction.decision import Decision, decide
from cutvision.correction.fence_move import Turn, distance_at_lever
from cutvision.correction.move_plan import with_plan
from cutvision.correction.result import Correction
from cutvision.errors import InputError
from cutvision.uncertainty import Influence, Quantity, combine, covariance, from_expanded, propagate, rectangular
from cutvision.uncertainty.distributions import chi_square_above, student_below

SURE = 0.95
MOST_PIECES = 20
NOTHING = 1e-13  # relative, of a variance: far below what any figure shows
BLOCK = 100  # the work of combining cuts grows with the cube of their number
# A leaf's own thickness and how it seats, or a rule laid to a pencil mark it is not (common practice, no source).
MOVED_TO_MM = 0.02
LARGEST_TURN_RAD = math.radians(5.0)
# An uncertainty as large as the error does not tell its way yet; this much less does.
BELOW = 1 - 1e-6
COMMON_KEY = "shared by all cuts"


@dataclass(frozen=True, slots=True)
class Cut:
    """A test cut: the fence's error that it shows, with everything in doubt about it."""

    error: Quantity


@dataclass(frozen=True, slots=True)
class Move:
    """A move made between cuts. distance, lever: mm; turn: as the person meant to turn the fence."""

    distance: Quantity
    lever: Quantity
    turn: Turn

    @property
    def intended(self) -> Quantity:
        """The turn that was asked for: atan(distance / lever), positive counterclockwise."""
        ratio = self.distance.value / self.lever.value
        slope = 1 / (self.lever.value * (1 + ratio**2))
        angle = propagate(math.atan(ratio), "rad", ((self.distance, slope), (self.lever, -ratio * slope)))
        return angle if self.turn == "counterclockwise" else -angle


Step = Cut | Move
Solver = Callable[[np.ndarray], np.ndarray]


@dataclass(frozen=True, slots=True)
class Answer:
    """How the fence answered between two settings: asked for and seen turn, and the errors before and after.

    opposite: the probability that it turned the other way than asked.
    """

    before: Quantity
    after: Quantity
    intended: Quantity
    seen: Quantity
    opposite: float


@dataclass(frozen=True, slots=True)
class LastMove:
    """Whether the last move brought the fence nearer to true or turned it away from it.

    probability_wrong: that it turned away. opposite: that the fence turned the other way than was asked.
    times: error after over error before, in size; inf when there was none before.
    """

    verdict: Literal["right way", "wrong way", "cannot-tell"]
    probability_wrong: float
    opposite: float
    times: float


@dataclass(frozen=True, slots=True)
class Gain:
    """What the fence did of what it was asked.

    quantity: dimension one. behaviour: "as asked" when 1 lies within its bound; "uneven" when moves differ by more
    than their bounds. probability: of a scatter of the moves as large as this one by chance; None with one move.
    """

    quantity: Quantity
    behaviour: Literal["as asked", "less", "more", "uneven"]
    probability: float | None = None


@dataclass(frozen=True, slots=True)
class NextMove:
    """What to do next to bring the fence true. distance, lever: mm; turn: the way the fence must turn, from above.

    undo: what was set since the cut before the last, when that turned the fence the other way than was said of it: it
    is taken back first, and then the fence is moved by `distance` the other way than it was.
    """

    distance: Quantity
    lever: Quantity
    turn: Turn
    undo: tuple[Move, ...] = ()


@dataclass(frozen=True, slots=True)
class Adjustments:
    """What a run of cuts and moves comes to.

    error: of the fence as it stands, from the cuts since the last move; when no cut followed it, as it is expected.
    cuts: how many cuts that is. gain_used: 1 unless another gain was seen beyond its bound. pieces: how many more
    pieces at this setting would tell, None when none would or none are needed.
    """

    steps: tuple[Step, ...]
    answers: tuple[Answer, ...]
    error: Quantity
    cuts: int
    gain: Gain | None
    gain_used: Quantity
    last_move: LastMove | None
    action: Literal["move", "stop", "cut-more", "cut-first"]
    reason: str
    decision: Decision
    next_move: NextMove | None = None
    pieces: int | None = None


def shown_by_cut(
    value_rad: float, bound_rad: float, number: int, *, common_rad: float = 0.0, spread: CutSpread | None = None
) -> Cut:
    """A test cut by what a measurement of it told: value and 95 % bound.

    number: which cut of the run. common_rad: the part of the bound that is the same in every cut (the test piece's
    corner, a print). spread: of the cut itself, when the bound does not hold it already.
    Raises InputError for an error over 2 deg, a bound that is not positive, and a common part larger than the bound.
    """
    if not math.isfinite(value_rad):
        raise InputError(
            f"Cut {number} shows no error.", "Give the fence's error, such as 'cut 0.30deg ccw to 0.02deg'."
        )
    if not (math.isfinite(bound_rad) and bound_rad > 0):
        raise InputError(
            f"Cut {number} has no bound.", "Give the ± that stood beside it, such as 'cut 0.30deg ccw to 0.02deg'."
        )
    if not 0 <= common_rad <= bound_rad:
        raise InputError(
            f"Cut {number} is known to {math.degrees(bound_rad):g} deg, but the part that all cuts share is "
            f"{math.degrees(common_rad):g} deg.",
            "Give the cuts' whole bounds; the common part lies within them.",
        )
    own = math.sqrt(bound_rad**2 - common_rad**2)
    told = Influence(f"cut {number}", "measuring the cuts", source="95 % bounds as you gave them")
    error = Quantity(value_rad, "rad", {told: from_expanded(own)})
    if common_rad:
        shared = Influence(COMMON_KEY, COMMON_KEY, source="as you said")
        error = error.with_influence(shared, from_expanded(common_rad))
    if spread is not None:
        kind: Literal["A", "B"] = "A" if math.isfinite(spread.degrees_of_freedom) else "B"
        of_cut = Influence(f"{SPREAD_NAME}/cut {number}", SPREAD_NAME, kind, spread.source, spread.degrees_of_freedom)
        error = error.with_influence(of_cut, spread.standard_deviation_rad / math.sqrt(spread.pieces))
    check_plausible(error)
    return Cut(error)


def move_made(distance_mm: float, turn: Turn, lever: Quantity, number: int, *, to_mm: float = MOVED_TO_MM) -> Move:
    """A move as a person made it. number: which move of the run; to_mm: how well it was set, a half-width.

    Raises InputError for a distance or lever that is not positive and for a turn over 5 deg.
    """
    for name, value in (("distance", distance_mm), ("lever", lever.value)):
        if not (math.isfinite(value) and value > 0):
            raise InputError(f"Move {number} has a {name} of {value:g} mm.", "Give it as it was, more than zero.")
    if math.atan(distance_mm / lever.value) > LARGEST_TURN_RAD:
        raise InputError(
            f"Move {number} would turn the fence by {math.degrees(math.atan(distance_mm / lever.value)):.1f} deg.",
            "Was a digit misread, or a unit mixed up? Look at the lever too.",
        )
    set_to = Influence(f"move {number}", "setting the moves", source=f"set to {to_mm:g} mm")
    return Move(Quantity(distance_mm, "mm", {set_to: rectangular(to_mm)}), lever, turn)


@dataclass(frozen=True, slots=True)
class MoveSet:
    """A move that was set after a run. distance_mm: at the lever, more than zero; turn: as the person meant it."""

    distance_mm: float
    turn: Turn


@dataclass(frozen=True, slots=True)
class RunShown:
    """A run: the fence's error that it showed, its 95 % uncertainty (rad), its lever, and the moves set after it."""

    error_rad: float
    bound_rad: float
    lever: Quantity
    moves: tuple[MoveSet, ...] = ()


def shown_by_run(correction: Correction, moves: Sequence[MoveSet] = ()) -> RunShown:
    """What a correction showed of the fence, and the moves that were set after it."""
    error = correction.angle_error
    return RunShown(error.value, error.expanded_uncertainty, correction.move.lever, tuple(moves))


def judge_runs(runs: Sequence[RunShown], tolerance_rad: float | None = None, tolerance_said: str = "") -> Adjustments:
    """How the fence moved of what was set between runs, oldest first, and what to do next, at the last run's lever.

    Each run counts as independent of the others. Of runs between which nothing was set, the last before a move and the
    first after it count, and the last of all: between others the wood may have moved.
    Raises InputError for no runs, and as `shown_by_cut`, `move_made` and `judge_run`.
    """
    steps: list[Step] = []
    for number, run in enumerate(runs, 1):
        steps.append(shown_by_cut(run.error_rad, run.bound_rad, number))
        steps += [move_made(move.distance_mm, move.turn, run.lever, len(steps)) for move in run.moves]
    kept = {len(steps) - 1}
    for place, step in enumerate(steps):
        if isinstance(step, Move):
            kept |= {place - 1, place, min(place + 1, len(steps) - 1)}
    lever = runs[-1].lever if runs else Quantity(0.0, "mm")
    return judge_run([steps[place] for place in sorted(kept) if place >= 0], lever, tolerance_rad, tolerance_said)


def check_cut(before: Correction, moves: Sequence[MoveSet], after: Correction) -> Adjustments:
    """What a check cut says: how the fence moved of what was set after the run before it, and what to do next.

    Raises InputError as `judge_runs`, and for a run that does not show which way the fence stands off.
    """
    for correction in (before, after):
        if correction.error.positive_means != "counterclockwise":
            raise InputError(
                "How the fence moved shows only when it is known on which side of the blade the work was kept.",
                "Say --kept left or --kept right with both cuts.",
            )
    decision = after.decision
    limit_rad = None if decision.tolerance_is_default else decision.tolerance_rad
    return judge_runs((shown_by_run(before, moves), shown_by_run(after)), limit_rad, decision.tolerance_said)


def as_answered(correction: Correction, run: Adjustments) -> Correction:
    """The correction with the move that the run advises, which allows for how the fence moved so far.

    As it is when the run advises no move, or one that begins with taking the last one back.
    """
    needed = run.next_move
    if needed is None or needed.undo or needed.turn != correction.turn:
        return correction
    return with_plan(replace(correction, move=replace(correction.move, distance=needed.distance)))


def judge_run(
    steps: Sequence[Step], lever: Quantity, tolerance_rad: float | None = None, tolerance_said: str = ""
) -> Adjustments:
    """What the run says and what to do next. lever: mm, of the next move.

    Raises InputError for a run that does not start with a cut, and as `decide`. The work grows as the steps do.
    """
    settings, between = _grouped(steps)
    answers = tuple(
        _answer(before, after, intended)
        for (before, after), intended in zip(itertools.pairwise(settings), between, strict=False)
    )
    gain, gain_used = _gain(answers)
    backwards = _backwards(answers)
    unproven = len(between) == len(settings)
    error = settings[-1]
    if unproven:
        turned = between[-1].scaled(-1.0) if backwards else between[-1]
        error = propagate(
            error.value + gain_used.value * turned.value,
            "rad",
            ((error, 1.0), (turned, gain_used.value), (gain_used, turned.value)),
        )
    cuts = sum(1 for _ in itertools.takewhile(lambda step: isinstance(step, Cut), reversed(steps)))
    decision = decide(error, tolerance_rad, said=tolerance_said)
    told = Adjustments(
        steps=tuple(steps),
        answers=answers,
        error=error,
        cuts=cuts,
        gain=gain,
        gain_used=gain_used,
        last_move=_last_move(answers[-1]) if answers and not unproven else None,
        action="cut-first",
        reason="the last move has not been tested by a cut yet",
        decision=decision,
    )
    if unproven:
        return told
    action, reason, pieces = _next(told)
    undo, stands = _undone(told, gain_used)
    needed = _needed(stands, gain_used, lever, undo) if action == "move" else None
    return replace(told, action=action, reason=reason, pieces=pieces, next_move=needed)


def _grouped(steps: Sequence[Step]) -> tuple[list[Quantity], list[Quantity]]:
    """The fence's error at each setting, cuts at one setting combined, and the turn asked for after each."""
    if not steps or not isinstance(steps[0], Cut):
        raise InputError(
            "The run does not start with a test cut: how the fence answered a move shows only between two cuts.",
            "Give the cut that was measured before the first move, such as 'cut 0.30deg ccw to 0.02deg'.",
        )
    settings, between = [], []
    for is_cut, group in itertools.groupby(steps, key=lambda step: isinstance(step, Cut)):
        if is_cut:
            settings.append(_combined([step.error for step in group if isinstance(step, Cut)]))
        else:
            moves = [step.intended for step in group if isinstance(step, Move)]
            between.append(propagate(math.fsum(m.value for m in moves), "rad", [(m, 1.0) for m in moves]))
    return settings, between


def _combined(errors: Sequence[Quantity]) -> Quantity:
    """The cuts at one setting combined, many of them in blocks: as good, since what cuts share weighs alike in each."""
    while len(errors) > BLOCK:
        errors = [combine(errors[start : start + BLOCK]) for start in range(0, len(errors), BLOCK)]
    return errors[0] if len(errors) == 1 else combine(errors)


def _answer(before: Quantity, after: Quantity, intended: Quantity) -> Answer:
    seen = after - before
    opposite = 0.5 if intended.value == 0 else _below_zero(seen.scaled(math.copysign(1.0, intended.value)))
    return Answer(before, after, intended, seen, opposite)


def _below_zero(quantity: Quantity) -> float:
    """The probability that it is negative, normal or Student's t. Source: JCGM 106:2012, 7.2."""
    u = quantity.standard_uncertainty
    if u == 0:
        return 0.5 if quantity.value == 0 else float(quantity.value < 0)
    return student_below(quantity.degrees_of_freedom, -quantity.value / u)


def _backwards(answers: Sequence[Answer]) -> bool:
    """Whether the fence turned against what was said of every move whose way can be told, and of one at least."""
    told = [one.opposite >= SURE for one in answers if one.opposite >= SURE or one.opposite <= 1 - SURE]
    return bool(told) and all(told)


def _gain(answers: Sequence[Answer]) -> tuple[Gain | None, Quantity]:
    """Generalised least squares of seen = gain x intended over all settings.

    A move that surely turned the fence the other way counts as asked that way. The covariance of the changes holds the
    cuts that two of them share and the moves' own doubt, gain^2 times. Source: Aitken, 1936; JCGM 100:2008, 5.2. When
    the moves scatter more than their bounds say, the excess is a doubt of its own (Birge, 1932).
    """
    one = Quantity(1.0, "1")
    useful = [a for a in answers if a.intended.value != 0]
    if not useful:
        return None, one
    asked = [-a.intended if a.opposite >= SURE else a.intended for a in answers]
    seen = [a.seen for a in answers]
    d, c = np.array([q.value for q in asked]), np.array([q.value for q in seen])
    gain, weights = 1.0, np.zeros(len(d))
    doubts, solve = _Doubts.of(seen, asked), None
    for _ in range(5):
        solve = _solver(*doubts.left(gain))
        if solve is None:
            return None, one
        weighed = solve(d)
        weights = weighed / float(d @ weighed)
        gain = float(weights @ c)
    parts = [(s, float(w)) for s, w in zip(seen, weights, strict=True)]
    parts += [(a, -gain * float(w)) for a, w in zip(asked, weights, strict=True)]
    quantity = propagate(gain, "1", parts)
    freedom = len(d) - 1
    probability = None
    if freedom and solve is not None:
        residual = c - gain * d
        square = float(residual @ solve(residual))
        probability = chi_square_above(freedom, square)
        if square > freedom:
            excess = Influence("move to move", "move to move", "A", f"scatter of {len(d)} moves", freedom)
            quantity = quantity.with_influence(excess, quantity.standard_uncertainty * math.sqrt(square / freedom - 1))
    bound = quantity.expanded_uncertainty
    off = abs(gain - 1) > bound
    used = quantity if off and gain > bound else one
    if probability is not None and probability < 1 - SURE:
        return Gain(quantity, "uneven", probability), used
    return Gain(quantity, "as asked" if not off else "less" if gain < 1 else "more", probability), used


@dataclass(frozen=True, slots=True)
class _Doubts:
    """The components of changes and of the turns asked for, one an entry, by the change that they are on.

    changes: how many there are. place, seen, asked: (N,) the change, and the component of what was seen and asked.
    column: (N,) of an influence that changes far apart share, its number; else -1. pairs: (M, 2) the entries of one
    influence on two changes that follow each other.
    """

    changes: int
    place: np.ndarray
    seen: np.ndarray
    asked: np.ndarray
    column: np.ndarray
    pairs: np.ndarray

    @classmethod
    def of(cls, seen: Sequence[Quantity], asked: Sequence[Quantity]) -> _Doubts:
        """Found once, whatever the gain."""
        rows: list[tuple[int, float, float]] = []
        entries: dict[Influence, list[int]] = {}
        for place, (one, turn) in enumerate(zip(seen, asked, strict=True)):
            for influence in {**one.components, **turn.components}:
                entries.setdefault(influence, []).append(len(rows))
                rows.append((place, one.components.get(influence, 0.0), turn.components.get(influence, 0.0)))
        places, of_seen, of_asked = (np.array(column) for column in zip(*rows, strict=True)) if rows else ([],) * 3
        column = np.full(len(rows), -1)
        pairs, shared = [], 0
        for where in entries.values():
            if rows[where[-1]][0] - rows[where[0]][0] > 1:
                column[where] = shared
                shared += 1
            elif len(where) > 1:
                pairs.append(where)
        return cls(
            len(seen),
            np.array(places, dtype=int),
            np.array(of_seen),
            np.array(of_asked),
            column,
            np.array(pairs, dtype=int).reshape(-1, 2),
        )

    def left(self, gain: float) -> tuple[np.ndarray, np.ndarray]:
        """The covariance of seen - gain x asked: (2, changes) its band, above, and (changes, S) what others share."""
        parts, near = self.seen - gain * self.asked, self.column < 0
        band = np.zeros((2, self.changes))
        np.add.at(band[1], self.place[near], parts[near] ** 2)
        before, after = self.pairs.T
        np.add.at(band[0], self.place[after], parts[before] * parts[after])
        across = np.zeros((self.changes, int(self.column.max(initial=-1)) + 1))
        across[self.place[~near], self.column[~near]] = parts[~near]
        return band, across


def _solver(band: np.ndarray, across: np.ndarray) -> Solver | None:
    """What multiplies by the inverse of a covariance; None when nothing is uncertain.

    band: (2, N) of what is on one change or on two that follow each other; across: (N, S) the few influences that more
    share, which the matrix inversion lemma adds (Woodbury, 1950). The work grows as the number of changes does.
    """
    from scipy import linalg  # noqa: PLC0415  it takes a third of a second, and is needed here alone

    largest = float(np.max(band[1] + np.sum(across**2, axis=1)))
    if not largest > 0:
        return None
    band[1] += NOTHING * largest  # a change without any doubt of its own would leave nothing to divide by
    factor = linalg.cholesky_banded(band)

    def apart(values: np.ndarray) -> np.ndarray:
        solved: np.ndarray = linalg.cho_solve_banded((factor, False), values)
        return solved

    if not across.size:
        return apart
    of_shared = apart(across)
    inner = np.eye(across.shape[1]) + across.T @ of_shared

    def together(values: np.ndarray) -> np.ndarray:
        plain = apart(values)
        return np.asarray(plain - of_shared @ np.linalg.solve(inner, across.T @ plain))

    return together


def _last_move(answer: Answer) -> LastMove:
    """The probability that error before and change have one sign, both normal and correlated through the first cut."""
    before, seen = answer.before, answer.seen
    wrong = _of_one_sign(before, seen)
    verdict: Literal["right way", "wrong way", "cannot-tell"] = "cannot-tell"
    if wrong >= SURE:
        verdict = "wrong way"
    elif wrong <= 1 - SURE:
        verdict = "right way"
    times = abs(answer.after.value / before.value) if before.value else math.inf
    return LastMove(verdict, wrong, answer.opposite, times)


def _of_one_sign(one: Quantity, other: Quantity) -> float:
    """The probability that both are positive or both negative."""
    u, v = one.standard_uncertainty, other.standard_uncertainty
    if u == 0 or v == 0:
        p, q = _below_zero(one), _below_zero(other)
        return p * q + (1 - p) * (1 - q)
    correlation = float(covariance((one, other))[0, 1]) / (u * v)
    a, b = one.value / u, other.value / v
    from scipy import stats  # noqa: PLC0415  it takes half a second, and is needed here alone

    both = stats.multivariate_normal([0.0, 0.0], [[1.0, correlation], [correlation, 1.0]], allow_singular=True)
    return min(1.0, max(0.0, float(both.cdf([a, b]) + both.cdf([-a, -b]))))


def _next(told: Adjustments) -> tuple[Literal["move", "stop", "cut-more"], str, int | None]:
    action = told.decision.action
    if action == "leave":
        return "stop", "the error is within the tolerance", None
    if action == "move":
        if _stalled(told):
            reason = "the last two moves brought the fence no nearer: what a cut spreads, or play, outweighs them"
            return "cut-more", reason, max(1, 3 - told.cuts)
        return "move", "the error is larger than the tolerance and than its uncertainty", None
    reason = "the error is smaller than its uncertainty, and that is larger than the tolerance"
    return "cut-more", reason, more_pieces(told.error, told.cuts, told.decision.tolerance_rad)


def _stalled(told: Adjustments) -> bool:
    """Whether neither of the last two moves lowered the error beyond the change's bound, none of them a wrong way.

    A gain that is known beyond its bound explains it, and the next move allows for that.
    """
    if len(told.answers) < 2 or told.gain_used.value != 1:
        return False
    return all(
        abs(one.before.value) - abs(one.after.value) <= one.seen.expanded_uncertainty
        and _last_move(one).verdict != "wrong way"
        for one in told.answers[-2:]
    )


def more_pieces(error: Quantity, cuts: int, tolerance_rad: float) -> int | None:
    """How many more pieces at this setting would tell, if the error stays; None when more than 20, or none, would.

    What belongs to each cut falls with the root of their number, what all share stays (JCGM 100:2008, 4.2.3).
    The bound is to come down to the tolerance, or below the error.
    """
    shared = math.fsum(c * c for i, c in error.components.items() if i.key == COMMON_KEY)
    own = (error.standard_uncertainty**2 - shared) * cuts
    margin = max(tolerance_rad, abs(error.value) * BELOW)
    room = (margin / error.coverage_factor) ** 2 - shared
    if not room > 0:
        return None
    more = math.ceil(own / room * (1 - 1e-9)) - cuts
    return max(1, more) if more <= MOST_PIECES else None


def _undone(told: Adjustments, gain: Quantity) -> tuple[tuple[Move, ...], Quantity]:
    """The moves to take back, and the fence's error then.

    The last ones, when they surely turned the fence the other way than was said, and away from true; else none.
    """
    if not told.answers or told.answers[-1].opposite < SURE:
        return (), told.error
    intended = told.answers[-1].intended
    parts = ((told.error, 1.0), (intended, gain.value), (gain, intended.value))
    before = propagate(told.error.value + gain.value * intended.value, "rad", parts)
    if before.value * told.error.value <= 0 or abs(before.value) >= abs(told.error.value):
        return (), told.error
    since = itertools.dropwhile(lambda step: isinstance(step, Cut), reversed(told.steps))
    moves = [step for step in itertools.takewhile(lambda step: isinstance(step, Move), since) if isinstance(step, Move)]
    return tuple(reversed(moves)), before


def _needed(error: Quantity, gain: Quantity, lever: Quantity, undo: tuple[Move, ...]) -> NextMove:
    turn: Turn = "clockwise" if error.value > 0 else "counterclockwise"
    size = error.scaled(math.copysign(1.0, error.value))
    asked = propagate(size.value / gain.value, "rad", ((size, 1 / gain.value), (gain, -size.value / gain.value**2)))
    return NextMove(distance_at_lever(asked, lever), lever, turn, undo)
