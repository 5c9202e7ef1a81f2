"""Move the fence, leave it alone, or say that this piece cannot tell."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from cutvision.errors import InputError
from cutvision.uncertainty import Quantity, budget

# Two cuts 0.05 deg off open a joint of 60 mm stock by 0.15 mm, about the least gap that shows (common practice, no
# source).
COARSE_BOUND_RAD = math.radians(0.05)
# Rounding must not push a result that lies on the limit over it.
ROUNDING = 1e-9

_CHEAPEST: Mapping[str, str] = {
    "reading": "Read each distance again, three to five times, and take the means.",
    "caliper": "Read with a better caliper, or take a photo.",
    "broken tips": "Take a photo, which does not need the tips, or cut a fresh piece with sharp tips.",
    "corner": "Say which side of the blade was kept and take a photo, or measure the piece's corner better.",
    "edge form": "Cut a longer test piece, or a second one, with a sharp blade.",
    "print stretch": "Take one more photo of the piece, turned by a quarter turn on the same sheet.",
    "gap": "Read the gap again with finer leaves, or farther from where the edges touch.",
    "square's own angle": "Use a better square, or test yours: draw along it, turn it over, draw again.",
    "closed joints": "Clamp the other joints fully shut and read the gap again.",
    "spread of the cut": "Cut and measure more pieces at this setting and go by their mean; better measuring won't do.",
    "lever": "Measure the lever again.",
}
_OTHERWISE = "Take one more photo of the piece, turned by a quarter turn on the same sheet, or cut a second piece."


@dataclass(frozen=True, slots=True)
class Decision:
    """What to do, and why.

    tolerance_rad: what was asked for; None when the decision rests on the bound alone.
    remedy: the cheapest thing that would tell more, by the largest row of the budget; empty when it is told well
    enough.
    """

    value: Literal["move", "leave", "cannot-tell"]
    reason: str
    tolerance_rad: float | None = None
    remedy: str = ""


def decide(error: Quantity, tolerance_rad: float | None = None) -> Decision:
    """In tolerance only if |error| + U <= tolerance, out only if |error| - U > tolerance, else it cannot be told.

    Without a tolerance the fence is moved when the error exceeds its own bound U, and left alone when it does not,
    unless U is so wide that it could hide an error that shows. Source: guard band rule of JCGM 106:2012, 8.3.3, with w
    = U.
    Raises InputError for a tolerance that is not positive.
    """
    size, bound = abs(error.value), error.expanded_uncertainty
    if tolerance_rad is None:
        if size > bound:
            return Decision("move", "the error is larger than its bound")
        if bound > COARSE_BOUND_RAD:
            reason = (
                "the error is smaller than its bound, but the bound is wide enough to hide an error that would show"
            )
            return Decision("cannot-tell", reason, remedy=_cheapest(error))
        return Decision("leave", "the error is smaller than its bound: nothing finer can be told from this piece")
    if not tolerance_rad > 0:
        raise InputError("The tolerance must be more than zero.", "Give the error that does no harm, such as 0.05deg.")
    limit = tolerance_rad * (1 + ROUNDING)
    if size + bound <= limit:
        return Decision("leave", "the error lies within the tolerance, its bound included", tolerance_rad)
    if size - bound > limit:
        return Decision("move", "the error lies outside the tolerance, its bound allowed for", tolerance_rad)
    reason = "the bound straddles the limit of the tolerance"
    return Decision("cannot-tell", reason, tolerance_rad, _cheapest(error))


def _cheapest(error: Quantity) -> str:
    rows = budget(error)
    return _CHEAPEST.get(rows[0].name, _OTHERWISE) if rows else _OTHERWISE
