"""Move the fence, leave it alone, or say that this piece cannot tell, and what would."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from scipy import special

from cutvision.correction.remedies import KEPT_SIDE, Advice, Remedy, advise
from cutvision.errors import InputError
from cutvision.uncertainty import Quantity
from cutvision.units import format_number

Conformity = Literal["in", "out", "cannot-tell"]
# Two cuts 0.05 deg off open a joint of 60 mm stock by 0.15 mm, about the least gap that shows (common practice, no
# source).
COARSE_BOUND_RAD = math.radians(0.05)
# Rounding must not push a result that lies on the limit over it.
ROUNDING = 1e-9
NO_REMEDIES: tuple[Remedy, ...] = ()


@dataclass(frozen=True, slots=True)
class Decision:
    """What to do, and why.

    tolerance_rad: what was asked for; None when the decision rests on the bound alone. tolerance_said: in the words it
    was said in. conformity: whether the error lies within it, guarded by its bound; None without a tolerance.
    probability_within: of lying within it, 0 to 1; None without a tolerance.
    remedy: the cheapest thing that would tell, in a sentence or more; empty when it is told well enough. remedies: all
    that lessen the bound, in order of cost.
    betters: whether the error exceeds its own bound, so that moving the fence by it betters it whatever the tolerance.
    """

    value: Literal["move", "leave", "cannot-tell"]
    reason: str
    tolerance_rad: float | None = None
    remedy: str = ""
    tolerance_said: str = ""
    conformity: Conformity | None = None
    probability_within: float | None = None
    remedies: tuple[Remedy, ...] = ()
    betters: bool = False

    @property
    def moves(self) -> bool:
        """Whether the fence is to be moved: it is out, or nothing would tell and the move betters it all the same."""
        would_tell = any(one.settles or one.name == KEPT_SIDE for one in self.remedies)
        return self.value == "move" or (self.value == "cannot-tell" and self.betters and not would_tell)


def decide(error: Quantity, tolerance_rad: float | None = None, *, said: str = "", pieces: int = 1) -> Decision:
    """In tolerance only if |error| + U <= tolerance, out only if |error| - U > tolerance, else it cannot be told.

    Without a tolerance the fence is moved when the error exceeds its own bound U, and left alone when it does not,
    unless U is so wide that it could hide an error that shows. Source: guard band rule of JCGM 106:2012, 8.3.3, with w
    = U. said: the tolerance's words. pieces: over how many pieces the error is a mean already.
    Raises InputError for a tolerance that is not positive.
    """
    if tolerance_rad is not None and not tolerance_rad > 0:
        raise InputError("The tolerance must be more than zero.", "Give the error that does no harm, such as 0.05deg.")
    value, reason = _judged(error, tolerance_rad)
    betters = abs(error.value) > error.expanded_uncertainty
    remedy, remedies = "", NO_REMEDIES
    if value == "cannot-tell":
        advice = advise(error, lambda after: _judged(after, tolerance_rad)[0] != "cannot-tell", pieces)
        remedy, remedies = _remedy(advice, error, tolerance_rad, betters=betters), advice.remedies
    if tolerance_rad is None:
        return Decision(value, reason, remedy=remedy, remedies=remedies, betters=betters)
    conformities: dict[str, Conformity] = {"move": "out", "leave": "in", "cannot-tell": "cannot-tell"}
    return Decision(
        value,
        reason,
        tolerance_rad,
        remedy,
        tolerance_said=said,
        conformity=conformities[value],
        probability_within=probability_between(error, -tolerance_rad, tolerance_rad),
        remedies=remedies,
        betters=betters,
    )


def probability_between(quantity: Quantity, lower: float, upper: float) -> float:
    """The probability that what was measured lies from lower to upper, 0 to 1; either limit may be infinite.

    Normal about the value, or Student's t with the quantity's effective degrees of freedom when these are finite; the
    limits in the quantity's unit. Source: JCGM 106:2012, 7.2 to 7.4 (normal); JCGM 101:2008, 6.4.9 (t).
    """
    u = quantity.standard_uncertainty
    if u == 0:
        return 1.0 if lower <= quantity.value <= upper else 0.0
    below, above = (lower - quantity.value) / u, (upper - quantity.value) / u
    if below > 0:
        # far out in a tail, small numbers are told by their distance from the end, not from one
        below, above = -above, -below
    freedom = quantity.degrees_of_freedom
    return float(special.stdtr(freedom, above) - special.stdtr(freedom, below))


def _judged(error: Quantity, tolerance_rad: float | None) -> tuple[Literal["move", "leave", "cannot-tell"], str]:
    """What to do and why."""
    size, bound = abs(error.value), error.expanded_uncertainty
    if tolerance_rad is None:
        if size > bound:
            return "move", "the error is larger than its bound"
        if bound > COARSE_BOUND_RAD:
            return (
                "cannot-tell",
                "the error is smaller than its bound, but the bound is wide enough to hide an error that would show",
            )
        return "leave", "the error is smaller than its bound: nothing finer can be told from this piece"
    limit = tolerance_rad * (1 + ROUNDING)
    if size + bound <= limit:
        return "leave", "the error lies within the tolerance, its bound included"
    if size - bound > limit:
        return "move", "the error lies outside the tolerance, its bound allowed for"
    return "cannot-tell", "the bound straddles the limit of the tolerance"


def _remedy(advice: Advice, error: Quantity, tolerance_rad: float | None, *, betters: bool) -> str:
    """The cheapest thing that settles it; when nothing does, what to do then and how far the best gets."""
    first = advice.first
    if first is not None and first.name == KEPT_SIDE:
        return f"{first.sentence} The error found changes with it: decide then."
    if first is not None and first.settles:
        return first.sentence
    then = (
        "Move the fence although nothing that can be had here settles it: the error is larger than its bound, so that "
        "the move betters it."
        if betters
        else "Leave the fence as it is: no move from this piece is sure to better it, and nothing that can be had here "
        "settles it."
    )
    if first is None:
        return f"{then} What was read here cannot be bettered: measure in another way and compare."
    size = abs(error.value)
    needed_rad = max(size, COARSE_BOUND_RAD) if tolerance_rad is None else abs(tolerance_rad - size)
    farthest = f"What gets farthest: {first.sentence[0].lower()}{first.sentence[1:]}"
    if needed_rad < first.bound_after_rad / 10:
        return f"{then} {farthest} The error lies on the limit itself, so that no bound is narrow enough."
    needed = format_number(math.degrees(needed_rad), math.degrees(needed_rad))
    return f"{then} {farthest} It would take a bound of {needed} deg with this error."
