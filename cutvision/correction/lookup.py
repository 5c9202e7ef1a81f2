"""From a difference read with a caliper to the move of a known fence, row by row: what a wall card holds."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from cutvision.correction.feeler_stack import FeelerStack, LeafChoice, find_stack
from cutvision.correction.jig import Jig
from cutvision.correction.miter import CORNER_RAD, NOMINAL_RAD, correct_miter_from_legs
from cutvision.correction.piece_safety import LEAST_LEG_MM
from cutvision.correction.readings import ReadingCare, typed_corner, typed_distance, typed_legs, typed_widths
from cutvision.correction.result import Correction
from cutvision.correction.square import correct_square_from_widths
from cutvision.errors import InputError
from cutvision.units import MM_PER_INCH

# What the rows are for, in mm and in thousandths of an inch; an error grows with its difference, so that rows add up.
MITER_MM = tuple(round(0.05 * row, 2) for row in range(1, 21))
MITER_THOU = tuple(range(2, 41, 2))
SQUARE_MM = (0.05, 0.10, 0.15, 0.20, 0.25, 0.30, 0.50, 1.00, 1.50, 2.00, 2.50, 3.00)
SQUARE_THOU = (2, 4, 6, 8, 10, 12, 20, 40, 60, 80, 100, 120)
# Without a set of leaves: half of the step of common metric ones.
HALF_LEAF_MM = 0.025
STRIP_WIDTH_MM = 25.0
# How far a piece may be from the one a card is made for, at most, whatever the leaves.
WIDEST_SPAN = 2.0


@dataclass(frozen=True, slots=True)
class LookupRow:
    """A difference (mm), what it says of the fence, and the leaves for it; None when no set was named."""

    difference_mm: float
    correction: Correction
    stack: FeelerStack | None


@dataclass(frozen=True, slots=True)
class Lookup:
    """The rows for one piece and one fence.

    size_mm: the piece's width (miter) or the distance between the readings (square) that it is made for. metric, inch:
    rows by whole steps of a mm or of thousandths. more, less: what a small difference says when it is positive or
    negative (positive: left leg longer, the end leg longer than it should be, or wider at the fence).
    smallest_mm, largest_mm: the sizes between which no row departs by more than half a leaf, half_leaf_mm.
    """

    size_mm: float
    metric: tuple[LookupRow, ...]
    inch: tuple[LookupRow, ...]
    more: Correction
    less: Correction
    smallest_mm: float
    largest_mm: float
    half_leaf_mm: float


def check_can_be_held(piece_width_mm: float) -> None:
    """Raise InputError for a miter's test piece so narrow that the triangle sawn off it is not safe to cut."""
    if piece_width_mm < LEAST_LEG_MM:
        raise InputError(
            f"A test piece {piece_width_mm:g} mm wide is too small to hold: its triangle is caught between blade and "
            "insert, or thrown.",
            f"Cut the test piece from a board at least {LEAST_LEG_MM:g} mm wide.",
            at_the_saw=True,
        )


def miter_lookup(
    jig: Jig,
    care: ReadingCare,
    piece_width_mm: float,
    nominal_rad: float = NOMINAL_RAD,
    leaves: LeafChoice | None = None,
) -> Lookup:
    """The rows for a miter's test piece with a right corner.

    At 45 deg the difference is left leg less right leg and the mean leg is the piece's width; at any other angle it is
    end leg less fence leg x tan(N), N being 90 deg less the miter, and the end leg is about the width.
    Raises InputError for a width that is not positive and as `correct_miter_from_legs`.
    """
    at_45 = math.isclose(nominal_rad, NOMINAL_RAD, abs_tol=1e-9)

    def find(difference_mm: float, width_mm: float) -> Correction:
        if at_45:
            legs = (width_mm + difference_mm / 2, width_mm - difference_mm / 2)
        else:
            fence_leg = width_mm * math.tan(nominal_rad)
            legs = (width_mm + difference_mm, fence_leg)
            legs = legs if jig.kept == "left" else legs[::-1]
        left, right = typed_legs(*legs, care)
        corner = typed_corner(CORNER_RAD, care)
        return correct_miter_from_legs(left, right, corner, jig, nominal_rad=nominal_rad, edge_form=care.edge_form)

    return _lookup(find, piece_width_mm, leaves, MITER_MM, MITER_THOU)


def square_lookup(
    jig: Jig,
    care: ReadingCare,
    between_mm: float,
    turns: int,
    leaves: LeafChoice | None = None,
    width_mm: float = STRIP_WIDTH_MM,
) -> Lookup:
    """The rows for a strip (4 turns) or a board (2 turns): difference of widths over a distance between the readings.

    width_mm: of the piece; the caliper's limit of error grows with it. Raises InputError for a distance that is not
    positive and as `correct_square_from_widths`.
    """

    def find(difference_mm: float, distance_mm: float) -> Correction:
        narrow_mm = width_mm + abs(difference_mm) / 2  # never nothing, however narrow the strip
        at_fence, far_end = typed_widths(narrow_mm + difference_mm / 2, narrow_mm - difference_mm / 2, care)
        between = typed_distance(distance_mm, "between", care)
        return correct_square_from_widths(at_fence, far_end, between, jig, turns=turns, edge_form=care.edge_form)

    return _lookup(find, between_mm, leaves, SQUARE_MM, SQUARE_THOU)


_Find = Callable[[float, float], Correction]


def _lookup(
    find: _Find, size_mm: float, leaves: LeafChoice | None, steps_mm: Sequence[float], steps_thou: Sequence[int]
) -> Lookup:
    if not (math.isfinite(size_mm) and size_mm > 0):
        raise InputError(f"A piece of {size_mm:g} mm is none.", "Give its size with its unit, such as 102mm.")
    thinnest_mm = None if leaves is None else min(leaf.thickness_mm for leaf in leaves.leaf_set.leaves)
    half_mm = HALF_LEAF_MM if thinnest_mm is None else thinnest_mm / 2
    # refusals of the fence itself come from here, before any row
    more, less = find(steps_mm[0], size_mm), find(-steps_mm[0], size_mm)
    metric = _rows(find, size_mm, leaves, steps_mm, half_mm)
    inch = _rows(find, size_mm, leaves, [step * MM_PER_INCH / 1000 for step in steps_thou], half_mm)
    if not (metric and inch):
        raise InputError(
            f"A piece of {size_mm:g} mm is too small for a card: the smallest difference is already too much.",
            "Make the card for a larger test piece.",
        )
    largest_row = max((metric[-1], inch[-1]), key=lambda row: row.difference_mm)
    smallest, largest = (_limit(find, largest_row, size_mm, half_mm, way) for way in (1 / WIDEST_SPAN, WIDEST_SPAN))
    return Lookup(size_mm, metric, inch, more, less, smallest, largest, half_mm)


def _rows(
    find: _Find, size_mm: float, leaves: LeafChoice | None, steps_mm: Sequence[float], half_mm: float
) -> tuple[LookupRow, ...]:
    """Rows up to where the fence would stand off too far, or where the other sign's move differs by half a leaf."""
    rows = []
    for step_mm in steps_mm:
        try:
            found, other = find(step_mm, size_mm), find(-step_mm, size_mm)
        except InputError:
            break
        if abs(found.move.at_shim.value - other.move.at_shim.value) > half_mm:
            break
        stack = None if leaves is None else find_stack(found.move.at_shim.value, leaves).best
        rows.append(LookupRow(step_mm, found, stack))
    return tuple(rows)


def _limit(find: _Find, row: LookupRow, size_mm: float, half_mm: float, way: float) -> float:
    """The size up to which the row's move holds within half a leaf, for either sign; at most `way` times the size."""

    def holds(factor: float) -> bool:
        try:
            moves = [find(sign * row.difference_mm, size_mm * factor).move.at_shim.value for sign in (1, -1)]
        except InputError:
            return False
        return all(abs(move - row.correction.move.at_shim.value) <= half_mm for move in moves)

    if holds(way):
        return size_mm * way
    inside, outside = 1.0, way
    for _ in range(30):
        middle = (inside + outside) / 2
        inside, outside = (middle, outside) if holds(middle) else (inside, middle)
    return size_mm * inside
