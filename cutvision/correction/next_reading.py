"""What the next test piece will read: after the right move, and after the same move the wrong way."""

from __future__ import annotations

import math

from cutvision.correction.result import Candidate, Correction, NextReading, PieceRead, ReadingName


def next_readings(correction: Correction) -> tuple[NextReading, ...]:
    """What can be read on the next piece: as this one was read, and the angle behind it; closed form.

    After both arms of a V were judged: on a piece of each arm, which keeps what the V's own angle is off.
    """
    if correction.method in {"arms", "assembly"}:
        return tuple(_of_arm(candidate, correction) for candidate in correction.candidates)
    names: list[ReadingName] = [] if correction.piece is None else [correction.piece.kind]
    if correction.method == "miter":
        names.append("split" if correction.kept is None else "fence leg")
    elif correction.method == "square":
        names.append("taper")
    return tuple(_next(name, correction) for name in names)


def _next(name: ReadingName, correction: Correction) -> NextReading:
    error = correction.angle_error
    step = 1e-6  # rad; the readings are all but straight lines there
    slope = (_reading(name, correction, step) - _reading(name, correction, -step)) / (2 * step)
    fold = abs if name in {"gap", "last joint"} else float
    return NextReading(
        name=name,
        unit="rad" if name in {"fence leg", "split", "taper"} else "mm",
        now=fold(_reading(name, correction, error.value)),
        after=fold(_reading(name, correction, 0.0)),
        bound=abs(slope) * error.expanded_uncertainty,
        wrong_way=fold(_reading(name, correction, 2 * error.value)),
    )


def _of_arm(arm: Candidate, correction: Correction) -> NextReading:
    """The angle at the leg that lay at the fence, on a piece cut on this arm: the V's turn is taken out of it."""
    at_fence_leg, sign = math.pi / 2 - correction.nominal_rad, -1.0 if arm.kept == "left" else 1.0
    turn = correction.angle_error
    left_over = arm.angle_error - turn
    return NextReading(
        name="left arm" if arm.kept == "left" else "right arm",
        unit="rad",
        now=at_fence_leg + sign * arm.angle_error.value,
        after=at_fence_leg + sign * left_over.value,
        bound=left_over.expanded_uncertainty,
        wrong_way=at_fence_leg + sign * (arm.angle_error.value + turn.value),
    )


def _reading(name: ReadingName, correction: Correction, error_rad: float) -> float:
    """What a piece reads that was cut with the fence so far off, signed as `AngleError` is."""
    excess = -error_rad if correction.kept == "right" else error_rad
    fence_leg = math.pi / 2 - correction.nominal_rad - excess
    taper = _taper_per_excess(correction.turns) * excess
    angles = {"fence leg": fence_leg, "split": -error_rad, "taper": taper}
    piece = correction.piece
    if piece is None or name in angles:
        return angles[name]
    if name == "legs":
        return _legs_difference(piece, correction, fence_leg, error_rad)
    if name == "widths":
        return piece.size_mm * math.tan(taper)
    if name == "gap":
        return piece.size_mm * math.tan(piece.fold * excess)
    return 2 * piece.size_mm * math.sin(piece.fold * excess / 2)


def _taper_per_excess(turns: int | None) -> int:
    """A strip tapers by four times what the kept corner exceeds 90 deg, a board by twice that, the other way."""
    return 4 if turns is None or turns == 4 else -2


def _legs_difference(piece: PieceRead, correction: Correction, fence_leg: float, error_rad: float) -> float:
    """Left less right leg of a triangle with a cut as long: sine rule, each leg opposite the other's angle."""
    apart = math.pi - piece.corner_rad
    if correction.kept is None:
        left = apart / 2 + error_rad
    else:
        left = apart - fence_leg if correction.kept == "left" else fence_leg
    return piece.size_mm * (math.sin(apart - left) - math.sin(left)) / math.sin(piece.corner_rad)
