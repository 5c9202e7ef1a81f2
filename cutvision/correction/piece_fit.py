"""Whether a piece fits the blank window of a printed sheet, lying flat and turned by a quarter turn."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

CLEAR_MM = 5.0
"""Blank paper wanted between the piece and the squares, so that the edge has paper beside it."""
LEAN_PER_HEIGHT = 0.25
"""How far the top of the piece leans outward over the paper, a mm of thickness: seen from 400 mm up, 100 mm off the
middle, the least distance and the window's half length on A4 (closed form)."""


@dataclass(frozen=True, slots=True)
class Window:
    """The blank window of one sheet, in mm, the longer side first."""

    paper: str
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class PaperFit:
    """Whether a piece fits one sheet: `flat` with its longest edge along the window's long side, `turned` across it."""

    paper: str
    flat: bool
    turned: bool


def room_mm(window: Window, thickness_mm: float) -> tuple[float, float]:
    """Width and height of what a piece may cover, in mm."""
    margin = CLEAR_MM + LEAN_PER_HEIGHT * thickness_mm
    return window.width_mm - 2 * margin, window.height_mm - 2 * margin


def triangle_box_mm(leg_mm: float, other_leg_mm: float) -> tuple[float, float]:
    """A right triangle lying with its cut along the first side: length of the cut, and height over it, in mm."""
    cut_mm = math.hypot(leg_mm, other_leg_mm)
    return cut_mm, leg_mm * other_leg_mm / cut_mm


def fits(box_mm: tuple[float, float], window: Window, thickness_mm: float, *, may_leave: bool = False) -> PaperFit:
    """Whether a piece of this length and height fits.

    may_leave: a strip, whose ends may run out over the window's short sides (never over both pairs of sides).
    """
    length, height = box_mm
    wide, high = room_mm(window, thickness_mm)
    flat = height <= high and (may_leave or length <= wide)
    turned = height <= wide and (may_leave or length <= high)
    return PaperFit(window.paper, flat, turned)


def fitting(
    box_mm: tuple[float, float], windows: Sequence[Window], thickness_mm: float, *, may_leave: bool = False
) -> tuple[PaperFit, ...]:
    """`fits` for every sheet, in the order given."""
    return tuple(fits(box_mm, window, thickness_mm, may_leave=may_leave) for window in windows)
