"""The spread of the cut: cutting the same piece again does not give the same piece (runner play, clamping, push)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from cutvision.errors import InputError
from cutvision.uncertainty import Influence, Quantity, from_expanded, repeated, rows

NAME = rows.SPREAD.name
FEWEST_PIECES = 3
# Judged: a mean of more than this is a slip of the finger.
MOST_PIECES = 1000
# Pieces further apart than this hold a misread digit, or were not cut at one setting.
APART_RAD = math.radians(1.0)
# How far play of 0.1 mm between runners and slot lets a sled 450 mm long turn: 0.013 deg (closed form).
RUNNER_PLAY_RAD = math.atan(0.1 / 450)


@dataclass(frozen=True, slots=True)
class CutSpread:
    """Standard deviation, in rad, of the angle from one cut to the next at one setting of the fence.

    degrees_of_freedom: infinite when it was not seen in pieces but said. source: where it comes from.
    pieces: over how many pieces, cut at one setting, the readings are means.
    """

    standard_deviation_rad: float
    source: str
    degrees_of_freedom: float = math.inf
    pieces: int = 1

    def __post_init__(self) -> None:
        if not (math.isfinite(self.standard_deviation_rad) and self.standard_deviation_rad >= 0):
            raise InputError("The spread of the cut is no angle.", "Give it as 0.013deg, or 0deg for none.")
        check_pieces(self.pieces)

    def on(self, quantity: Quantity, cuts: int) -> Quantity:
        """A fence's error, found from the mean of so many cuts of one piece, with the spread's part in it.

        s / sqrt(cuts pieces); source: JCGM 100:2008, 4.2.3. With no cut at all (a square held to the fence) nothing.
        """
        if cuts == 0:
            return quantity
        kind: Literal["A", "B"] = "A" if math.isfinite(self.degrees_of_freedom) else "B"
        influence = Influence(NAME, NAME, kind, self.source, self.degrees_of_freedom)
        return quantity.with_influence(influence, self.standard_deviation_rad / math.sqrt(cuts * self.pieces))


def check_pieces(pieces: int) -> None:
    """Raise InputError for a mean of no piece, or of more than anyone cuts at one setting."""
    if not 1 <= pieces <= MOST_PIECES:
        raise InputError(f"Nobody takes a mean of {pieces} pieces.", f"Give 1 to {MOST_PIECES} pieces.")


def spread_of_pieces(angles_rad: Sequence[float], pieces: int = 1, measured_to_rad: float | None = None) -> CutSpread:
    """The spread from the same angle, or the angle's error, of three or more pieces cut at one setting.

    The experimental standard deviation with n - 1 degrees of freedom. The scatter of measuring is in it, so that it is
    never too small for that, unless measured_to_rad says how well each angle was measured by itself (a 95 % bound of
    what differs from piece to piece): that is then taken off in squares, never below nothing, and the degrees of
    freedom stay. Source: JCGM 100:2008, 4.2.2. pieces: as in `CutSpread`.
    Raises InputError for fewer than three pieces and for angles over 1 deg apart.
    """
    n = len(angles_rad)
    if n < FEWEST_PIECES:
        raise InputError(
            f"{n} pieces show too little of how the cut repeats.",
            f"Cut {FEWEST_PIECES} or more at one setting.",
            at_the_saw=True,
        )
    apart = max(angles_rad) - min(angles_rad)
    if not apart <= APART_RAD:
        raise InputError(
            f"The pieces lie {math.degrees(apart):.2f} deg apart.",
            "Was a digit misread, or was the fence moved between the cuts? Give pieces cut at one setting.",
            at_the_saw=True,
        )
    of_mean = repeated(angles_rad, "rad", NAME, NAME)
    source = f"scatter of {n} pieces cut at one setting"
    variance = of_mean.standard_uncertainty**2 * n
    if measured_to_rad is None:
        source += ", that of measuring them in it"
    else:
        variance = max(0.0, variance - from_expanded(measured_to_rad) ** 2)
        source += f", less that of measuring each to {math.degrees(measured_to_rad):g} deg"
    return CutSpread(math.sqrt(variance), source, n - 1, pieces)
