"""A run of adjustments: what test cuts and the moves between them say of the fence, and what to do next.

A move asks the fence to turn by atan(distance / lever); the test cuts before and after show by how much it did turn.
The ratio is the fence's gain: 1 when it does as it is told. Angles in rad, positive counter-clockwise seen from above.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from cutvision.correction.angle_error import check_plausible
from cutvision.correction.cut_spread import NAME as SPREAD_NAME
from cutvision.correction.cut_spread import CutSpread
from cutvision.correction.decision import Decision, decide
from cutvision.correction.fence_move import Turn, distance_at_lever
from cutvision.errors import InputError
from cutvision.uncertainty import Influence, Quantity, combine, covariance, from_expanded, propagate, rectangular
from cutvision.uncertainty.distributions import chi_square_above, student_below

SURE = 0.95
MOST_STEPS = 200
MOST_PIECES = 20
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
        """The turn that was asked for: atan(distance / lever), positive counter-clockwise."""
        ratio = self.distance.value / self.lever.value
        slope = 1 / (self.lever.value * (1 + ratio**2))
        angle = propagate(math.atan(ratio), "rad", ((self.distance, slope), (self.lever, -ratio * slope)))
        return angle if self.turn == "counterclockwise" else -angle


Step = Cut | Move


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
    """What to do next to bring the fence true. distance, lever: mm. reversed: the other way than the words say.

    reversed is True when every move so far turned the fence against what was said of it.
    """

    distance: Quantity
    lever: Quantity
    turn: Turn
    reversed: bool


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


def judge_run(
    steps: Sequence[Step], lever: Quantity, tolerance_rad: float | None = None, tolerance_said: str = ""
) -> Adjustments:
    """What the run says and what to do next. lever: mm, of the next move.

    Raises InputError for a run that does not start with a cut, for over 200 steps, and as `decide`.
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
    needed = _needed(error, gain_used, lever, backwards=backwards) if action == "move" else None
    return replace(told, action=action, reason=reason, pieces=pieces, next_move=needed)


def _grouped(steps: Sequence[Step]) -> tuple[list[Quantity], list[Quantity]]:
    """The fence's error at each setting, cuts at one setting combined, and the turn asked for after each."""
    if not steps or not isinstance(steps[0], Cut):
        raise InputError(
            "The run does not start with a test cut: how the fence answered a move shows only between two cuts.",
            "Give the cut that was measured before the first move, such as 'cut 0.30deg ccw to 0.02deg'.",
        )
    if len(steps) > MOST_STEPS:
        raise InputError(f"The run has {len(steps)} steps.", f"Give at most {MOST_STEPS}, the last ones.")
    settings, between = [], []
    for is_cut, group in itertools.groupby(steps, key=lambda step: isinstance(step, Cut)):
        if is_cut:
            settings.append(combine([step.error for step in group if isinstance(step, Cut)]))
        else:
            moves = [step.intended for step in group if isinstance(step, Move)]
            between.append(propagate(math.fsum(m.value for m in moves), "rad", [(m, 1.0) for m in moves]))
    return settings, between


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
    for _ in range(5):
        left = [propagate(0.0, "rad", ((s, 1.0), (a, -gain))) for s, a in zip(seen, asked, strict=True)]
        inverse = np.linalg.pinv(covariance(left), rcond=1e-12, hermitian=True)
        information = float(d @ inverse @ d)
        if not information > 0:
            return None, one
        weights = (inverse @ d) / information
        gain = float(weights @ c)
    parts = [(s, float(w)) for s, w in zip(seen, weights, strict=True)]
    parts += [(a, -gain * float(w)) for a, w in zip(asked, weights, strict=True)]
    quantity = propagate(gain, "1", parts)
    freedom = len(d) - 1
    probability = None
    if freedom:
        residual = c - gain * d
        square = float(residual @ inverse @ residual)
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


def _needed(error: Quantity, gain: Quantity, lever: Quantity, *, backwards: bool) -> NextMove:
    turn: Turn = "clockwise" if (error.value > 0) != backwards else "counterclockwise"
    size = error.scaled(math.copysign(1.0, error.value))
    asked = propagate(size.value / gain.value, "rad", ((size, 1 / gain.value), (gain, -size.value / gain.value**2)))
    return NextMove(distance_at_lever(asked, lever), lever, turn, backwards)
