"""How the fence is held and moved: a single fence or a V, its pivot, and the leaf or the screw at the push."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

from cutvision.correction.angle_error import Kept
from cutvision.errors import InputError

End = Literal["left", "right"]
Direction = Literal["away", "toward"]
ShimSide = Literal["operator", "work"]
FenceKind = Literal["single", "v-foot", "v-point"]
FENCE_KINDS: tuple[FenceKind, ...] = get_args(FenceKind)
OTHER_END: dict[End, End] = {"left": "right", "right": "left"}
# From a fine watchmaker's thread to the coarsest bench screw; a figure outside is rather threads to the inch.
FINEST_PITCH_MM, COARSEST_PITCH_MM = 0.1, 10.0
EIGHTHS = 8


@dataclass(frozen=True, slots=True)
class Screw:
    """A right-hand screw that moves the fence.

    pitch_mm: how far one turn moves it. pushes: which way the fence goes when the screw is turned in (clockwise, facing
    its head), away from the person behind the saw or toward.
    Raises InputError for a pitch outside 0.1 to 10 mm.
    """

    pitch_mm: float
    pushes: Direction = "away"

    def __post_init__(self) -> None:
        if not FINEST_PITCH_MM <= self.pitch_mm <= COARSEST_PITCH_MM:
            raise InputError(
                f"A screw that moves by {self.pitch_mm:g} mm with one turn is not an ordinary one.",
                f"Give the travel of one turn, {FINEST_PITCH_MM:g} to {COARSEST_PITCH_MM:g} mm: 1mm, or 1/20in for 20 "
                "threads to the inch.",
            )

    def turned_by(self, distance_mm: float, way: Direction) -> ScrewTurn:
        """How the screw is turned so that the fence goes this far (mm, not negative) this way."""
        return ScrewTurn(distance_mm / self.pitch_mm, self.pitch_mm, "in" if way == self.pushes else "out")


@dataclass(frozen=True, slots=True)
class ScrewTurn:
    """exact: turns, never negative. way: "in" is clockwise, facing the screw's head; "out" is counterclockwise."""

    exact: float
    pitch_mm: float
    way: Literal["in", "out"]

    @property
    def eighths(self) -> int:
        """The whole travel to the nearest eighth of a turn, which the eye can judge; 0 below half of one."""
        return round(self.exact * EIGHTHS)

    @property
    def short_mm(self) -> float:
        """What turning by eighths leaves of the move; negative when it goes past it, 0 where there is none to turn."""
        return (self.exact - self.eighths / EIGHTHS) * self.pitch_mm if self.eighths else 0.0


@dataclass(frozen=True, slots=True)
class FenceGeometry:
    """How the fence is held, seen from above by the person behind the saw.

    kind: "single": a straight fence with its pivot at one end. "v-foot": a V whose two feet bear on a rear stop, turned
    about one foot. "v-point": the same V held at its point, so that its feet go half the way each, one away from the
    person, one toward.
    pivot: the end (the foot) about which it turns; None for a V that may turn about either foot, or at its point.
    shim_at: where a single fence's stop is, on the operator's side of the fence or on the work's; None for no stop.
    screw: what moves it instead of a leaf. point_ahead_mm: of a V, from the line through its feet to its point.
    Raises InputError for what does not go together.
    """

    kind: FenceKind
    pivot: End | None = None
    shim_at: ShimSide | None = None
    screw: Screw | None = None
    point_ahead_mm: float | None = None

    def __post_init__(self) -> None:
        if self.kind == "single":
            if self.pivot is None:
                raise InputError(
                    "It must be known about which end a single fence turns.", "Say --pivot left or --pivot right."
                )
            if self.point_ahead_mm is not None:
                raise InputError("A single fence has no point.", "Leave --point-ahead out, or say --fence v-foot.")
        elif self.shim_at is not None:
            raise InputError(
                "The shim of a V goes between a foot and the rear stop, nowhere else.", "Leave --shim-at out."
            )
        if self.kind == "v-point" and self.pivot is not None:
            raise InputError(
                "A V held at its point turns about that, not about a foot.", "Leave --pivot out, or say --fence v-foot."
            )
        if self.shim_at is not None and self.screw is not None:
            raise InputError("A shim and a screw cannot both set the fence.", "Leave --shim-at or --screw-pitch out.")
        ahead = self.point_ahead_mm
        if ahead is not None and not (math.isfinite(ahead) and ahead > 0):
            raise InputError(
                f"The point stands {ahead:g} mm ahead of the line of the feet.",
                "Measure from the line through both feet to the point; it must be more than zero.",
            )

    def check(self, kept: Kept | None, nominal_rad: float) -> None:
        """Raise InputError for a cut that such a fence does not make or, unless more is said, does not tell of.

        nominal_rad: as shops say it, from a square cut (0 for a square cut).
        """
        if nominal_rad != 0:
            return
        if self.kind != "single":
            raise InputError("A V fence makes miters; this is a square cut.", "Say --fence single and its --pivot.")
        if kept is None:
            raise InputError(
                "Which way a fence with its pivot at a known end must go depends on the side that was kept.",
                "Say --kept left or --kept right, the side of the blade on which the work lay.",
            )
