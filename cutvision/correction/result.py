"""What a correction hands on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from cutvision.correction.angle_error import AngleError, Kept
from cutvision.correction.decision import Decision
from cutvision.correction.fence_geometry import Direction, End, FenceGeometry, FenceKind, ScrewTurn
from cutvision.correction.fence_move import FenceMove, Side, Turn
from cutvision.correction.trace import Trace
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

    kind: the "legs" of a triangle whose leg at the fence is size_mm long, or whose cut is when nobody said which leg
    lay there; "widths" size_mm apart; a "gap" at size_mm from where the edges touch, opening by fold times the fence's
    error; the gap at a frame's "last joint", of sides size_mm wide, opening by fold times it. corner_rad: of the
    triangle. width_mm: of the piece, when the shop's rule takes that for the mean leg.
    """

    kind: Literal["legs", "widths", "gap", "last joint"]
    size_mm: float
    fold: int = 1
    corner_rad: float = math.pi / 2
    width_mm: float | None = None


@dataclass(frozen=True, slots=True)
class VArms:
    """Both arms of a V fence, in rad.

    left, right: how far each arm stands from true, counterclockwise positive. opening: by how much the angle between
    them exceeds a true V's, which no turning cures: the right arm's error less the left arm's.
    """

    left: Quantity
    right: Quantity
    opening: Quantity


@dataclass(frozen=True, slots=True)
class VAngle:
    """What no turning of a V cures: its own angle, beside a true V's.

    opening: rad, by how much the angle between the arms is too large, however the V is turned. each_arm: half of it,
    what each arm is off when the V is turned best. state: whether each_arm lies within the tolerance of one cut, by the
    rule of `decide`; "cannot-tell" when it is not known well enough.
    sides: of the frame that this miter makes, 180 deg / nominal; None when that is no whole number. last_joint: rad, by
    how much that frame's last joint opens when each joint has one piece from each arm: sides x opening (closed form).
    """

    opening: Quantity
    each_arm: Quantity
    state: Literal["within", "out", "cannot-tell"]
    sides: int | None
    last_joint: Quantity | None


Means = Literal["shim in", "shim out", "screw", "push"]
ReadingName = Literal["legs", "widths", "gap", "last joint", "fence leg", "split", "taper", "left arm", "right arm"]
Same = Literal["fence leg", "cut", "distance between readings", "length beside the gap", "stock width", "nothing"]


@dataclass(frozen=True, slots=True)
class Push:
    """What is done at one end (or foot) of the fence.

    end: "kept" is the end on the side of the blade that you keep, when nobody said which that is. distance: mm, never
    negative. way: where that end goes, away from the person behind the saw or toward.
    means: "shim in" between stop and fence; "shim out" of there, or the stop set back; a "screw", turned as said; or
    "push", by whatever holds the fence.
    shim_on: the side of the fence on which a shim goes, or would have to go to push it; None with a screw.
    square_to: the distance is meant at right angles to a single fence's own face, whatever its slant; of a V, to the
    line through its feet, which is its rear stop's.
    """

    end: End | Literal["kept"]
    distance: Quantity
    way: Direction
    means: Means
    shim_on: Literal["operator", "work"] | None
    square_to: Literal["fence", "rear stop"]
    screw: ScrewTurn | None = None


@dataclass(frozen=True, slots=True)
class PointShift:
    """Where a V's point goes as the V turns about a foot, and how to bring it back to the kerf.

    slide: which way the whole V then slides along its rear stop. slide_mm: how far; None when it is not known how far
    the point stands ahead of the feet. away_mm: how far the point then lies further from the person, which does no
    harm, as the kerf runs that way; negative for nearer.
    """

    slide: End
    slide_mm: Quantity | None
    away_mm: float | None


@dataclass(frozen=True, slots=True)
class NextReading:
    """One reading of the next piece, cut the same way, in `unit`; a gap is never negative.

    same: what the next piece must have as this one had it, for the figure to hold. now: what the fence as it stands
    gives. after: when it was moved as advised. bound: of `after`, from the uncertainty
    of the move (95 %); reading the next piece adds its own. wrong_way: when it was moved as far the other way.
    """

    name: ReadingName
    unit: Literal["mm", "rad"]
    now: float
    after: float
    bound: float
    wrong_way: float
    same: Same = "nothing"


@dataclass(frozen=True, slots=True)
class MovePlan:
    """The move as it is done.

    fence: the kind that it is for. geometry: how the fence is held; None for a square cut of which nobody said which
    side was kept, since its turn, and so its left and right, are then not known. assumed: whether that is our guess, as
    nobody said how the fence is held.
    turn: None when it is not known. pivot: the end or foot about which the fence turns, or a V's point; None when it is
    the other end than the kept one.
    """

    fence: FenceKind
    geometry: FenceGeometry | None
    assumed: bool
    turn: Turn | None
    pivot: Literal["left", "right", "point"] | None
    pushes: tuple[Push, ...]
    point: PointShift | None
    readings: tuple[NextReading, ...]


@dataclass(frozen=True, slots=True)
class Correction:
    """From a test piece to the fence: the error, the move that cures it, and what to do.

    nominal_rad: of the cut, as shops say it, from a square cut (0 for a square cut). turns: of the board, for a square
    cut. piece: what was read on the piece; None when a photo gave its angles. arms: of a V, when both were looked at;
    the error is then the V's as a whole, their mean, and each candidate trues one arm; uncured: what that leaves.
    trace: how the error was computed, step by step.
    plan: the move as it is done, whatever the decision; None when nothing is to be turned, or when it hangs on a kept
    side that nobody said (a photo of a miter).
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
    uncured: VAngle | None = None
    trace: Trace | None = None
    plan: MovePlan | None = None

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
