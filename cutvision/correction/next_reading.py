"""What the next test piece will read: after the right move, and after the same move the wrong way."""

from __future__ import annotations

import math

from cutvision.correction.angle_error import Kept
from cutvision.correction.result import Candidate, Correction, NextReading, PieceRead, ReadingName, Same


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
        same=_same(name, correction),
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
        same="nothing",
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
        left_mm, right_mm = legs_of(piece, correction.kept, correction.nominal_rad, error_rad)
        return left_mm - right_mm
    if name == "widths":
        return piece.size_mm * math.tan(taper)
    if name == "gap":
        return piece.size_mm * math.tan(piece.fold * excess)
    face_mm = piece.size_mm / math.cos(correction.nominal_rad + excess)
    return 2 * face_mm * math.sin(piece.fold * excess / 2)


def _same(name: ReadingName, correction: Correction) -> Same:
    if name == "legs":
        return "cut" if correction.kept is None else "fence leg"
    others: dict[ReadingName, Same] = {
        "widths": "distance between readings",
        "gap": "length beside the gap",
        "last joint": "stock width",
    }
    return others.get(name, "nothing")


def _taper_per_excess(turns: int | None) -> int:
    """A strip tapers by four times what the kept corner exceeds 90 deg, a board by twice that, the other way."""
    return 4 if turns is None or turns == 4 else -2


def legs_of(piece: PieceRead, kept: Kept | None, nominal_rad: float, error_rad: float) -> tuple[float, float]:
    """Left and right leg, in mm, that a fence so far off cuts, by the sine rule: each lies opposite the other's angle.

    Of a piece with as long a fence leg; when nobody said which that is, of one with as long a cut.
    """
    apart = math.pi - piece.corner_rad
    if kept is None:
        left = apart / 2 + error_rad
        scale = piece.size_mm / math.sin(piece.corner_rad)
        return scale * math.sin(apart - left), scale * math.sin(left)
    fence_leg = math.pi / 2 - nominal_rad - (-error_rad if kept == "right" else error_rad)
    end_mm = piece.size_mm * math.sin(fence_leg) / math.sin(apart - fence_leg)
    return (end_mm, piece.size_mm) if kept == "left" else (piece.size_mm, end_mm)
