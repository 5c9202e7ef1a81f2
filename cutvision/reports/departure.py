"""Where a true cut would run beside the edge as it is, for the picture."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from cutvision.measurement.result import EdgeEvidence, Measurement, PhotoEvidence
from cutvision.uncertainty import Quantity

ENLARGEMENTS = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
SAME_ANGLE_RAD = math.radians(1e-6)
WIDEST_RAD = math.radians(7.0)


@dataclass(frozen=True, slots=True)
class Departure:
    """An edge, the end about which it is turned to become true, and by how much.

    pivot_px, tip_px: (2,) the edge's ends in the photo; the true edge starts at the pivot.
    turn: rad, from the edge as it is to the true one, positive clockwise as seen in the photo.
    edge: the edge in words. true: the true edge in words.
    """

    pivot_px: np.ndarray
    tip_px: np.ndarray
    turn: Quantity
    edge: str
    true: str

    @property
    def is_told(self) -> bool:
        """Whether the edge departs by more than its bound, so that its side is known."""
        return abs(self.turn.value) > self.turn.expanded_uncertainty

    @property
    def enlargement(self) -> int:
        """The largest round factor with which departure and bound still stay within 7 deg of the edge."""
        reach = abs(self.turn.value) + self.turn.expanded_uncertainty
        return max((n for n in ENLARGEMENTS if n * reach <= WIDEST_RAD), default=1)

    def true_tip_px(self, turn_rad: float) -> np.ndarray:
        """(2,) where the tip goes when the edge turns by the enlarged angle."""
        c, s = math.cos(self.enlargement * turn_rad), math.sin(self.enlargement * turn_rad)
        x, y = self.tip_px - self.pivot_px
        tip: np.ndarray = self.pivot_px + np.array([c * x - s * y, s * x + c * y])
        return tip

    def is_outside(self, middle_px: np.ndarray, at_px: np.ndarray) -> bool:
        """Whether `at_px` lies on this edge and the true one runs outside it, seen from the middle of the piece."""
        if float(np.hypot(*(at_px - (self.pivot_px + self.tip_px) / 2))) > 1.0:
            return False
        gaps = [np.hypot(*(tip - middle_px)) for tip in (self.true_tip_px(self.turn.value), self.tip_px)]
        return bool(gaps[0] > gaps[1])


def departure(
    measurement: Measurement,
    evidence: PhotoEvidence,
    nominal_rad: float = math.pi / 4,
    kept: Literal["left", "right"] | None = None,
) -> Departure | None:
    """How the judged edge of a piece departs from true; None when nothing says what true is or the edge is not there.

    A miter is judged at its fence leg when it is known which one that is (the side on which the work was kept says so),
    else, at 45 deg, by how evenly it splits the corner. A strip by its second long edge against the first; a corner and
    a board's worst corner by one edge against the other.
    """
    if measurement.shape == "miter":
        return _miter(measurement, evidence, nominal_rad, kept)
    if measurement.shape == "strip":
        return _strip(measurement, evidence)
    return _corner(measurement, evidence)


def _miter(
    measurement: Measurement, evidence: PhotoEvidence, nominal_rad: float, kept: Literal["left", "right"] | None
) -> Departure | None:
    edges = {edge.name: edge for edge in evidence.edges}
    if kept is None and not is_even_miter(nominal_rad):
        return None
    side = "right" if kept == "left" else "left"
    leg, cut = edges.get(f"{side} leg"), edges.get("cut")
    if leg is None or cut is None:
        return None
    if kept is None:
        opening, true = measurement.quantities["split_error"], "a cut that splits the corner evenly"
    else:
        fence_leg_rad = math.pi / 2 - nominal_rad
        opening = -measurement.quantities[f"angle_{side}"] + fence_leg_rad
        true = f"a cut at {math.degrees(fence_leg_rad):g}° to the {side} leg, which lay at the fence"
    pivot, tip = _ends_from(cut, leg)
    _, far = _ends_from(leg, cut)
    return Departure(pivot, tip, _turn(pivot, tip, far, opening), "the cut", true)


def _strip(measurement: Measurement, evidence: PhotoEvidence) -> Departure | None:
    if len(evidence.edges) < 2:
        return None
    first, second = long_edges(evidence)
    pivot, tip = fence_to_far(evidence, second)
    opening = measurement.quantities["taper"]
    turn = _turn(pivot, tip, first.line_px.mean(axis=0), opening)
    return Departure(pivot, tip, turn, "the second long edge", "an edge parallel to the first long edge")


def _corner(measurement: Measurement, evidence: PhotoEvidence) -> Departure | None:
    names = [name for name in measurement.quantities if name in evidence.corners_px]
    if not names or len(evidence.edges) < 2:
        return None
    name = max(names, key=lambda n: abs(measurement.quantities[n].value - math.pi / 2))
    at = np.asarray(evidence.corners_px[name])
    nearest = sorted(evidence.edges, key=lambda edge: float(np.min(np.hypot(*(_ends(edge) - at).T))))[:2]
    first, second = (edge for edge in evidence.edges if any(edge is one for one in nearest))
    pivot, tip = _ends_from(second, first)
    _, far = _ends_from(first, second)
    opening = -measurement.quantities[name] + math.pi / 2
    where = "the first edge" if name == "corner" else f"its neighbour at {name.replace('_', ' ')}"
    edge = "the second edge" if name == "corner" else "the edge"
    return Departure(pivot, tip, _turn(pivot, tip, far, opening), edge, f"an edge square to {where}")


def is_even_miter(nominal_rad: float) -> bool:
    """Whether a true cut meets both legs at the same angle (of a square corner)."""
    return abs(nominal_rad - math.pi / 4) < SAME_ANGLE_RAD


def long_edges(evidence: PhotoEvidence) -> list[EdgeEvidence]:
    """A strip's two long edges in the order in which they were measured."""
    longest = sorted(evidence.edges, key=_length)[-2:]
    return [edge for edge in evidence.edges if any(edge is one for one in longest)]


def fence_to_far(evidence: PhotoEvidence, edge: EdgeEvidence) -> tuple[np.ndarray, np.ndarray]:
    """The ends of a strip's edge: the fence end is the one toward the sheet's left."""
    top_left, top_right, bottom_right, bottom_left = evidence.frame_px
    sheet_x = top_right + bottom_right - top_left - bottom_left
    start, end = _ends(edge)
    return (start, end) if float((end - start) @ sheet_x) > 0 else (end, start)


def _turn(pivot: np.ndarray, tip: np.ndarray, other: np.ndarray, opening: Quantity) -> Quantity:
    """The clockwise turn of pivot-tip that opens its angle to pivot-other by `opening`."""
    (ax, ay), (bx, by) = tip - pivot, other - pivot
    return opening.scaled(-1.0 if ax * by - ay * bx > 0 else 1.0)


def _ends(edge: EdgeEvidence) -> np.ndarray:
    return edge.line_px[[0, -1]]


def _ends_from(edge: EdgeEvidence, neighbour: EdgeEvidence) -> tuple[np.ndarray, np.ndarray]:
    """The edge's ends, the one nearer the neighbour first."""
    gaps = [float(np.min(np.hypot(*(_ends(neighbour) - end).T))) for end in _ends(edge)]
    start, end = _ends(edge)
    return (start, end) if gaps[0] <= gaps[1] else (end, start)


def _length(edge: EdgeEvidence) -> float:
    start, end = _ends(edge)
    return float(np.hypot(*(end - start)))
