"""What can be held and cut: least sizes of a test piece, common practice without a source, on the careful side.

A person may ask for more than these, never for less.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from cutvision.errors import InputError, Note
from cutvision.units import MM_PER_INCH

PlanKind = Literal["miter", "square"]

LEAST_LEG_MM = 50.0
"""Of a triangle sawn off a board's end: a smaller one is caught between blade and insert, or thrown."""
LEAST_LEG_BY_THICKNESS = 2.0
"""Legs are at least so many times the stock's thickness, so that the triangle lies flat and does not topple."""
LEAST_SIDE_MM = 250.0
"""Of a board that is turned against a square fence: two clamps must hold it after the last strip is off."""
LEAST_STRIP_MM = 20.0
"""Width of a strip sawn off; at least the stock's thickness too."""
LONG_BOARD_MM = 400.0
"""Length of the board that stays at the fence while a triangle is sawn off its end."""
CLAMP_FROM_BLADE_MM = 100.0
"""From the blade's path to the nearest clamp, and to a hand farther still."""
THINNEST_MM, THICKEST_MM = 3.0, 50.0


@dataclass(frozen=True, slots=True)
class Holding:
    """Least sizes, in mm, for a piece to be cut safely.

    piece_mm: the triangle's shorter leg, or the board's shorter side. strip_mm: width of a strip, 0 for a miter.
    board_mm: what must stay on the fence's side and be clamped there.
    raised: whether a person asked for more than the usual least size.
    """

    kind: PlanKind
    piece_mm: float
    strip_mm: float
    board_mm: float
    raised: bool


def safe_holding(kind: PlanKind, thickness_mm: float, least_piece_mm: float | None = None) -> Holding:
    """The least sizes for stock of this thickness. least_piece_mm: a person's own, larger, least size of the piece.

    Raises InputError for a thickness that no test piece has and for an own least size below the usual one.
    """
    if not THINNEST_MM <= thickness_mm <= THICKEST_MM:
        raise InputError(
            f"Stock {thickness_mm:g} mm thick makes no test piece that can be held and measured.",
            f"Take stock of {THINNEST_MM:g} to {THICKEST_MM:g} mm.",
        )
    if kind == "miter":
        usual = max(LEAST_LEG_MM, 5.0 * math.ceil(LEAST_LEG_BY_THICKNESS * thickness_mm / 5.0))
    else:
        usual = LEAST_SIDE_MM
    if least_piece_mm is not None and not least_piece_mm >= usual:
        raise InputError(
            f"A least size of {least_piece_mm:g} mm is below {usual:g} mm, the smallest that is advised here for stock "
            f"{thickness_mm:g} mm thick.",
            f"Give {usual:g} mm or more: the least size can be raised, not lowered.",
        )
    return Holding(
        kind=kind,
        piece_mm=usual if least_piece_mm is None else least_piece_mm,
        strip_mm=0.0 if kind == "miter" else max(LEAST_STRIP_MM, thickness_mm),
        board_mm=LONG_BOARD_MM if kind == "miter" else LEAST_SIDE_MM,
        raised=least_piece_mm is not None and least_piece_mm > usual,
    )


def small_triangle(leg_mm: float) -> tuple[Note, ...]:
    """What a person who cut a triangle with so short a leg must know before the next; nothing for a larger one."""
    if leg_mm >= LEAST_LEG_MM:
        return ()
    return (
        Note(
            "small-piece",
            f"A triangle with a leg of {_both(leg_mm)} is too small to be cut safely: it is caught between blade and "
            "insert, or thrown.",
            f"Saw the next one off the end of a long board, with legs of {_both(LEAST_LEG_MM)} or more.",
        ),
    )


def _both(length_mm: float) -> str:
    return f"{length_mm:.3g} mm ({length_mm / MM_PER_INCH:.3g} in)"


def check_holdable(holding: Holding, spared_mm: float, why: str) -> None:
    """Raise InputError when the largest piece that can be spared is too small to be cut safely.

    why: what limits it, in words that continue "because ...".
    """
    if spared_mm >= holding.piece_mm:
        return
    what = "A triangle with legs" if holding.kind == "miter" else "A board with sides"
    remedy = (
        f"Saw the triangle off the end of a board at least {holding.board_mm:g} mm long, clamped to the fence, with "
        f"legs of {holding.piece_mm:g} mm or more; never work with short stock."
        if holding.kind == "miter"
        else f"Take a board of at least {holding.piece_mm:g} by {holding.piece_mm:g} mm that stays clamped."
    )
    raise InputError(
        f"{what} of at most {spared_mm:.4g} mm ({why}) is too small to be cut safely: {holding.piece_mm:g} mm is the "
        "least.",
        remedy,
        at_the_saw=True,
    )
