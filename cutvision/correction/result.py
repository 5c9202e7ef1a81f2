"""What a correction hands on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from cutvision.correction.angle_error import AngleError, Kept
from cutvision.correction.decision import Decision
from cutvision.correction.fence_move import FenceMove, Side, Turn
from cutvision.errors import Note
from cutvision.uncertainty import Quantity

Method = Literal["miter", "square", "direct", "facing", "frame", "arms", "assembly"]
Way = Literal[
    "legs",
    "fence leg's angle",
    "split of the angles",
    "widths",
    "taper",
    "gap beside a square",
    "reading of a protractor",
    "two pieces face to face",
    "last joint of a frame",
    "both arms by their legs",
    "both arms by their angles",
    "joints put together",
]


@dataclass(frozen=True, slots=True)
class FirstOrder:
    """The shop's rule for the same thing, a check on the exact figures.

    angle_rad: signed like the exact error. move_mm: never negative. rule: in words.
    """

    angle_rad: float
    move_mm: float
    rule: str


@dataclass(frozen=True, slots=True)
class Candidate:
    """What the result would be had the work been kept on this side."""

    kept: Kept
    angle_error: Quantity
    fence_move: Quantity
    turn: Turn | None


@dataclass(frozen=True, slots=True)
class PieceRead:
    """What was read on the test piece and how large that was, so that the next piece's reading can be foretold.

    kind: the "legs" of a triangle with a cut of size_mm; "widths" size_mm apart; a "gap" at size_mm from where the
    edges touch, opening by fold times the fence's error; the gap at the "last joint", size_mm long, likewise.
    corner_rad: of the triangle.
    """

    kind: Literal["legs", "widths", "gap", "last joint"]
    size_mm: float
    fold: int = 1
    corner_rad: float = math.pi / 2


@dataclass(frozen=True, slots=True)
class VArms:
    """Both arms of a V fence, in rad.

    left, right: how far each arm stands from true, counter-clockwise positive. opening: by how much the angle between
    them exceeds a true V's, which no turning cures: the right arm's error less the left arm's.
    """

    left: Quantity
    right: Quantity
    opening: Quantity


@dataclass(frozen=True, slots=True)
class Correction:
    """From a test piece to the fence: the error, the move that cures it, and what to do.

    nominal_rad: of the cut, as shops say it, from a square cut (0 for a square cut). turns: of the board, for a square
    cut. piece: what was read on the piece; None when a photo gave its angles. arms: of a V, when both were looked at;
    the error is then the V's as a whole, their mean, and each candidate trues one arm.
    """

    method: Method
    way: Way
    error: AngleError
    move: FenceMove
    first_order: FirstOrder
    decision: Decision
    nominal_rad: float
    kept: Kept | None
    turns: int | None = None
    candidates: tuple[Candidate, ...] = ()
    notes: tuple[Note, ...] = ()
    piece: PieceRead | None = None
    arms: VArms | None = None

    @property
    def is_square_cut(self) -> bool:
        return self.nominal_rad == 0

    @property
    def angle_error(self) -> Quantity:
        return self.error.quantity

    @property
    def fence_move(self) -> Quantity:
        return self.move.distance

    @property
    def side(self) -> Side | None:
        return self.move.side

    @property
    def turn(self) -> Turn | None:
        return self.move.turn
