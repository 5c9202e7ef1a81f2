"""How much the cut itself spreads, from three or more pieces cut at one setting: apart from measuring and edge form."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from cutvision.correction.cut_spread import CutSpread, spread_of_pieces
from cutvision.uncertainty import COVERAGE_PROBABILITY
from cutvision.uncertainty.distributions import chi_square_above, chi_square_exceeded


@dataclass(frozen=True, slots=True)
class PieceAngle:
    """One piece's angle, rad. name: as a person knows it.

    measured_rad: standard uncertainty of measuring it, as far as that differs from piece to piece; what all pieces
    share (a print, a caliper) moves them together and is no spread. form_rad: what its rough edges add to it.
    """

    name: str
    value_rad: float
    measured_rad: float = 0.0
    form_rad: float = 0.0


@dataclass(frozen=True, slots=True)
class SpreadStudy:
    """What the pieces say. All standard deviations of one angle, rad.

    seen_rad: of the angles as they are. measuring_rad, form_rad: how much of that measuring and the edges' form make,
    root mean square. spread: what is left for the cut. least_rad, most_rad: 95 % limits of that. by_chance: the
    probability that measuring and form alone scatter as much; 0 when neither was said.
    """

    pieces: tuple[PieceAngle, ...]
    mean_rad: float
    seen_rad: float
    measuring_rad: float
    form_rad: float
    spread: CutSpread
    least_rad: float
    most_rad: float
    by_chance: float


def study_spread(pieces: Sequence[PieceAngle]) -> SpreadStudy:
    """The spread of the cut with its degrees of freedom and limits.

    What is seen has variance cut^2 + measuring^2 + form^2; the limits are those of a normal sample's variance, less
    what measuring and form make. Source: JCGM 100:2008, 4.2.2; chi-square limits, closed form.
    Raises InputError for fewer than three pieces and for angles over 1 deg apart.
    """
    values = [piece.value_rad for piece in pieces]
    seen = spread_of_pieces(values)
    seen_rad, freedom = seen.standard_deviation_rad, len(values) - 1
    measuring_rad = math.sqrt(math.fsum(piece.measured_rad**2 for piece in pieces) / len(values))
    form_rad = math.sqrt(math.fsum(piece.form_rad**2 for piece in pieces) / len(values))
    known = math.hypot(measuring_rad, form_rad)
    tail = (1 - COVERAGE_PROBABILITY) / 2
    least, most = (freedom * seen_rad**2 / chi_square_exceeded(freedom, p) for p in (tail, 1 - tail))
    left_rad = math.sqrt(max(0.0, seen_rad**2 - known**2))
    source = f"scatter of {len(values)} pieces cut at one setting, less measuring and edge form"
    return SpreadStudy(
        pieces=tuple(pieces),
        mean_rad=math.fsum(values) / len(values),
        seen_rad=seen_rad,
        measuring_rad=measuring_rad,
        form_rad=form_rad,
        spread=CutSpread(left_rad, source if known else seen.source, freedom),
        least_rad=math.sqrt(max(0.0, least - known**2)),
        most_rad=math.sqrt(max(0.0, most - known**2)),
        by_chance=chi_square_above(freedom, freedom * seen_rad**2 / known**2) if known else 0.0,
    )
