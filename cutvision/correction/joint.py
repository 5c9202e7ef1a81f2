"""What an error of the cut means in wood: the joints of a frame or polygon of N sides, cut at 180 deg / N.

A cut is short when it falls short of 180 deg / N from square: its tip is blunter, so that two such pieces, held at the
polygon's corner, meet at the heel (the inner corner) and gape at the toe (the outer corner); a cut that goes over it
gapes at the heel. Lengths in mm, angles in rad. Every formula is plain geometry (closed form).
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from cutvision.correction.angle_error import PLAUSIBLE_RAD
from cutvision.correction.gap import FEWEST_SIDES, MOST_SIDES, FrameGap
from cutvision.correction.result import Correction
from cutvision.correction.tolerance import joint_error
from cutvision.errors import InputError
from cutvision.uncertainty import Quantity, propagate

# A gap seen in a finished joint: hardly below the first figure, surely above the second (common practice, no source).
VISIBLE_MM = (0.10, 0.15)
Sight = Literal["does not show", "may just show", "shows"]


@dataclass(frozen=True, slots=True)
class OpenFrame:
    """The last joint when all the others are shut flush, toe on toe, one after the other.

    sides_mm: the sides' outer lengths in order. toe_mm, heel_mm: how far the last joint stands open there, at right
    angles to the first side's face; negative where the last side overlaps it, so that it does not go in. step_mm: how
    far its toe stands outward of the first side's toe along that face (negative: inward).
    """

    sides_mm: tuple[float, ...]
    toe_mm: float
    heel_mm: float
    step_mm: float


@dataclass(frozen=True, slots=True)
class JointPreview:
    """A frame of equal cuts, each off by the same error.

    error: rad, positive when the cuts are short of 180 deg / N. gapes_at: None when nothing gapes, or when it is not
    known whether the cuts are short or over. face_mm: a joint's length, stock / cos(180 deg / N).
    opening_each_rad, gap_each: of every joint when they share it evenly. opening_last_rad, gap_last: when all of it is
    left to the last joint, the others shut and this one touching at one end.
    shut_corner_rad: the corner that a single joint makes when it is pulled shut.
    step_opposite_mm: by how much the faces differ in length where a piece of this error meets one of the opposite error
    (one from each arm of a V that cuts a true corner): such a joint closes.
    least_error_rad: the error of each cut that keeps a shared gap below the least that shows.
    open_frame: from the sides' lengths; None when these were not given.
    """

    sides: int
    stock_mm: float
    error: Quantity
    gapes_at: FrameGap | None
    face_mm: float
    opening_each_rad: float
    gap_each: Quantity
    opening_last_rad: float
    gap_last: Quantity
    shut_corner_rad: float
    step_opposite_mm: float
    least_error_rad: float
    open_frame: OpenFrame | None = None

    @property
    def nominal_rad(self) -> float:
        return math.pi / self.sides


def frame_miter(sides: int) -> float:
    """The miter of a frame of N equal angles, in rad from a square cut: 180 deg / N. Raises InputError for other N."""
    if not FEWEST_SIDES <= sides <= MOST_SIDES:
        raise InputError(
            f"A frame of {sides} sides cannot be judged here.", f"Give {FEWEST_SIDES} to {MOST_SIDES} sides."
        )
    return math.pi / sides


def check_miter(sides: int, nominal_rad: float) -> None:
    """Raise InputError for a frame that takes another miter than this one (rad from a square cut)."""
    wanted = frame_miter(sides)
    if not math.isclose(nominal_rad, wanted, abs_tol=1e-9):
        tested = f"{math.degrees(nominal_rad):.4g} deg" if nominal_rad else "a square cut"
        raise InputError(
            f"A frame of {sides} sides is cut at {math.degrees(wanted):.4g} deg, but the fence was tested at {tested}.",
            "Give the count of sides that goes with this fence, or test the fence at the frame's own angle.",
        )


def preview_joints(
    error: Quantity, sides: int, stock_mm: float, sides_mm: Sequence[float] = (), *, way_known: bool = True
) -> JointPreview:
    """The joints of a frame of N sides of this stock, every cut off by the same error.

    Each joint opens by 2 e; shared evenly, its gap at heel or toe is the chord 2 face sin(e). All of it at the last
    joint is 2 N e, the gap 2 face sin(N e).
    error: rad, positive for cuts short of 180 deg / N. sides_mm: the outer lengths in order round the frame (N of them)
    to tell the open frame too; way_known: whether the sign of the error is.
    Raises InputError for other counts of sides than 3 to 24, a width or length that is not positive, an error over 2
    deg, other counts of lengths than N, and sides too short for the two miters at their ends.
    """
    nominal_rad = frame_miter(sides)
    if not (math.isfinite(stock_mm) and stock_mm > 0):
        raise InputError(f"The stock is {stock_mm:g} mm wide.", "Give the width of the frame's sides, such as 60mm.")
    size = abs(error.value)
    if not size <= PLAUSIBLE_RAD:
        raise InputError(
            f"Cuts {math.degrees(size):.3g} deg off make no frame.",
            f"Give the error of one cut, at most {math.degrees(PLAUSIBLE_RAD):g} deg, not the angle of the cut.",
        )
    face_mm = stock_mm / math.cos(nominal_rad)
    known = way_known and size > 0
    off = abs(1 / math.cos(nominal_rad - size) - 1 / math.cos(nominal_rad + size))
    return JointPreview(
        sides=sides,
        stock_mm=stock_mm,
        error=error,
        gapes_at=("toe" if error.value > 0 else "heel") if known else None,
        face_mm=face_mm,
        opening_each_rad=2 * size,
        gap_each=_gap(error, face_mm, 1),
        opening_last_rad=2 * sides * size,
        gap_last=_gap(error, face_mm, sides),
        shut_corner_rad=math.pi - 2 * (nominal_rad - error.value),
        step_opposite_mm=stock_mm * off,
        least_error_rad=joint_error(VISIBLE_MM[0], stock_mm, nominal_rad),
        open_frame=open_frame(sides_mm, sides, stock_mm, error.value) if sides_mm else None,
    )


def preview_from(correction: Correction, sides: int, stock_mm: float) -> JointPreview:
    """What the fence's error means for a frame whose every end is cut at it as it stands.

    A fence that stands clockwise cuts short with the work kept on the left, and over with it kept on the right, the
    fence leaning so that a triangle falls off; without a kept side it is not known whether the cuts are short or over.
    Raises InputError as `preview_joints`, and for a frame that takes another miter than the fence was tested at.
    """
    check_miter(sides, correction.nominal_rad)
    error = correction.angle_error.scaled(1.0 if correction.kept == "right" else -1.0)
    return preview_joints(error, sides, stock_mm, way_known=correction.kept is not None)


def open_frame(sides_mm: Sequence[float], sides: int, stock_mm: float, error_rad: float) -> OpenFrame:
    """The last joint of a frame whose other joints are shut flush, toe on toe, by walking round it.

    Each shut joint turns the next side by twice the cut's angle, 180 deg / N less the error, so that the walk of the
    outer edges ends 2 N e short of a full turn and away from where it began; sides of unequal lengths add to that.
    Raises InputError as `preview_joints`, where it applies.
    """
    if len(sides_mm) != sides:
        raise InputError(f"{len(sides_mm)} lengths do not make a frame of {sides} sides.", "Give one for each side.")
    cut_rad = frame_miter(sides) - error_rad
    back_mm = stock_mm * math.tan(cut_rad)
    for length_mm in sides_mm:
        if not (math.isfinite(length_mm) and length_mm > 2 * back_mm):
            raise InputError(
                f"A side {length_mm:g} mm long has no room for a miter at each end of {stock_mm:g} mm stock.",
                f"Give the outer length, more than {2 * back_mm:.4g} mm.",
            )
    at, along = 0j, 1 + 0j
    for length_mm in sides_mm[:-1]:
        at += length_mm * along
        along *= cmath.rect(1.0, 2 * cut_rad)
    toe = at + sides_mm[-1] * along
    heel = toe + along * complex(-back_mm, stock_mm)
    inward = cmath.rect(1.0, math.pi / 2 - cut_rad)
    away = 1j * inward
    first_heel = complex(back_mm, stock_mm)
    return OpenFrame(tuple(sides_mm), _along(toe, away), _along(heel - first_heel, away), -_along(toe, inward))


def sight(gap_mm: float) -> Sight:
    """Whether a gap shows in a finished joint (common practice, no source)."""
    least, surely = VISIBLE_MM
    return "does not show" if gap_mm < least else "may just show" if gap_mm <= surely else "shows"


def _gap(error: Quantity, face_mm: float, times: int) -> Quantity:
    """The chord 2 face sin(times |e|) in mm, with the error's influences."""
    angle = times * abs(error.value)
    slope = math.copysign(2 * face_mm * times * math.cos(angle), error.value)
    return propagate(2 * face_mm * math.sin(angle), "mm", ((error, slope),))


def _along(vector: complex, direction: complex) -> float:
    return (vector * direction.conjugate()).real
