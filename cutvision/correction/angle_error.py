"""How far the fence stands from true, worked out from what the test piece shows."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from cutvision.errors import InputError
from cutvision.uncertainty import Influence, Quantity

Kept = Literal["left", "right"]
PLAUSIBLE_RAD = math.radians(2.0)


@dataclass(frozen=True, slots=True)
class AngleError:
    """How far the fence stands from true, seen from above by a person behind the saw.

    quantity: in rad, with everything that is in doubt about the fence (not only about the piece).
    positive_means: "counterclockwise" of the fence; or, for a square cut when nobody said which side was kept, that the
    kept corner is over 90 deg.
    """

    quantity: Quantity
    positive_means: Literal["counterclockwise", "kept corner over 90 deg"] = "counterclockwise"


def saw_doubt(edge_form_rad: float, source: str) -> Quantity:
    """What stands between the piece and the saw's path: nothing in value, an angle's doubt in rad.

    edge_form_rad: standard uncertainty from the roughness of the sawn edges; source: where that comes from. The spread
    of the cut itself, from piece to piece, belongs here too.
    """
    return Quantity(0.0, "rad", {Influence("edge form", "edge form", source=source): edge_form_rad})


_ASK = "Was a digit misread, or are two readings swapped or in mixed units?"


def check_plausible(error: Quantity, suspected: str = "", meant: str = "") -> None:
    """Raise InputError for an error so large that a misread digit or a wrong option is likelier than such a fence.

    suspected: what to ask first, when a certain reading is suspected. meant: what to ask instead of all that, when the
    readings fit another cut.
    """
    if abs(error.value) > PLAUSIBLE_RAD:
        limit = f"{math.degrees(PLAUSIBLE_RAD):.0f}"
        raise InputError(
            f"The fence would stand {abs(math.degrees(error.value)):.2f} deg off, more than {limit} deg.",
            f"{meant or f'{suspected or _ASK} Check the nominal angle too.'} If the fence really is that far off, set "
            f"it with a square to within {limit} deg first, then cut a new piece.",
            at_the_saw=True,
        )
