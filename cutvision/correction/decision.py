"""Move the fence, leave it alone, or say that these readings cannot tell, and what would."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from cutvision.correction.remedies import Remedy, advise, kept_side
from cutvision.correction.tolerance import DEFAULT_TOLERANCE
from cutvision.errors import InputError
from cutvision.uncertainty import Quantity
from cutvision.uncertainty.distributions import student_below

Action = Literal["move", "leave", "cannot-tell", "needs-kept"]
# Rounding must not push a result that lies on the limit over it.
ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Decision:
    """What to do, for an error of known uncertainty and a tolerance.

    action: "cannot-tell" when not even the way to turn is known, so that the fence stays; "needs-kept" when a photo of
    a miter was measured without the kept side. tolerance_rad: the stated default when none was given
    (tolerance_is_default); tolerance_said: in the words it was said in. bound_rad: the error's 95 % uncertainty U.
    probability_within: of the error lying within the tolerance, 0 to 1. at_worst_rad: how far off the fence may still
    be after the move, 95 %; None without a move.
    remedies: what would narrow U when these readings cannot tell, in order of cost. remedy: the cheapest of them that
    would tell; when none would, the one that gets farthest; None when there is none.
    """

    action: Action
    tolerance_rad: float
    tolerance_said: str
    tolerance_is_default: bool
    bound_rad: float
    probability_within: float
    at_worst_rad: float | None = None
    remedies: tuple[Remedy, ...] = ()
    remedy: Remedy | None = None

    @property
    def moves(self) -> bool:
        """Whether the fence is to be moved."""
        return self.action == "move"


def decide(
    error: Quantity, tolerance_rad: float | None = None, *, said: str = "", pieces: int = 1, needs_kept: bool = False
) -> Decision:
    """What to do with a fence that stands off by this error (rad).

    With U the error's 95 % uncertainty and T the tolerance: when U is at most T, leave it up to T and move it past T;
    when U is larger, nothing can be told up to U, not even the way, and past U it is moved. So the action changes once
    as the error grows. The limits themselves count as "leave" and "cannot-tell".
    tolerance_rad: the error that still does no harm; None for the stated default. said: in the words it was said in.
    pieces: over how many pieces the error is a mean already. needs_kept: whether the error hangs on a kept side that
    nobody said. Raises InputError for a tolerance that is not positive.
    """
    if tolerance_rad is not None and not tolerance_rad > 0:
        raise InputError("The tolerance must be more than zero.", "Give the error that does no harm, such as 0.05deg.")
    limit_rad = DEFAULT_TOLERANCE.angle_rad if tolerance_rad is None else tolerance_rad
    action: Action = "needs-kept" if needs_kept else _action(error, limit_rad)
    remedies: tuple[Remedy, ...] = ()
    remedy = None
    if action == "cannot-tell":
        remedies = advise(error, lambda after: _action(after, limit_rad) != "cannot-tell", pieces)
        farthest = min(remedies, key=lambda one: one.bound_after_rad, default=None)
        remedy = next((one for one in remedies if one.settles), farthest)
    elif action == "needs-kept":
        remedy = kept_side(error)
        remedies = (remedy,)
    bound_rad = error.expanded_uncertainty
    return Decision(
        action,
        limit_rad,
        DEFAULT_TOLERANCE.said if tolerance_rad is None else said or f"{math.degrees(limit_rad):.3g} deg",
        tolerance_rad is None,
        bound_rad,
        probability_between(error, -limit_rad, limit_rad),
        bound_rad if action == "move" else None,
        remedies,
        remedy,
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
    return student_below(freedom, above) - student_below(freedom, below)


def _action(error: Quantity, limit_rad: float) -> Literal["move", "leave", "cannot-tell"]:
    size, bound = abs(error.value), error.expanded_uncertainty
    limit_rad *= 1 + ROUNDING
    if bound <= limit_rad:
        return "leave" if size <= limit_rad else "move"
    return "cannot-tell" if size <= bound * (1 + ROUNDING) else "move"
