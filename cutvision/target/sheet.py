"""The printed reference sheet: where every square, saddle point and marker lies, in millimetres.

Frame: origin at the outer top-left corner of the ring of squares, x right along the long side, y down.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

SQUARE_MM = 10.0
MARKER_MM = 7.0
RING_SQUARES = 3
DICTIONARY_BITS = 5


@dataclass(frozen=True)
class Sheet:
    """One paper's sheet. Sizes in mm, counts in squares."""

    paper: str
    paper_width_mm: float
    paper_height_mm: float
    columns: int
    rows: int
    first_id: int

    @property
    def width_mm(self) -> float:
        """Outer width of the ring of squares."""
        return self.columns * SQUARE_MM

    @property
    def height_mm(self) -> float:
        return self.rows * SQUARE_MM

    @property
    def window_mm(self) -> tuple[float, float, float, float]:
        """The blank window: left, top, right, bottom."""
        ring = RING_SQUARES * SQUARE_MM
        return ring, ring, self.width_mm - ring, self.height_mm - ring

    @property
    def margin_mm(self) -> tuple[float, float]:
        """Paper's edge to the ring's outer edge: left (and right), top (and bottom)."""
        return (self.paper_width_mm - self.width_mm) / 2, (self.paper_height_mm - self.height_mm) / 2

    def in_ring(self, column: int, row: int) -> bool:
        """Whether square (column, row) belongs to the ring."""
        inside = 0 <= column < self.columns and 0 <= row < self.rows
        window = RING_SQUARES <= column < self.columns - RING_SQUARES and RING_SQUARES <= row < self.rows - RING_SQUARES
        return inside and not window

    @cached_property
    def black_squares(self) -> tuple[tuple[int, int], ...]:
        return tuple(
            (c, r) for r in range(self.rows) for c in range(self.columns) if self.in_ring(c, r) and (c + r) % 2 == 0
        )

    @cached_property
    def marker_squares(self) -> dict[int, tuple[int, int]]:
        """Marker id -> the white square (column, row) that holds it."""
        white = [
            (c, r) for r in range(self.rows) for c in range(self.columns) if self.in_ring(c, r) and (c + r) % 2 == 1
        ]
        return {self.first_id + i: square for i, square in enumerate(white)}

    def marker_corners_mm(self, marker_id: int) -> np.ndarray:
        """(4, 2) corners clockwise from the top left, as OpenCV orders them. KeyError for an id not of this sheet."""
        column, row = self.marker_squares[marker_id]
        gap = (SQUARE_MM - MARKER_MM) / 2
        left, top = column * SQUARE_MM + gap, row * SQUARE_MM + gap
        right, bottom = left + MARKER_MM, top + MARKER_MM
        return np.array([[left, top], [right, top], [right, bottom], [left, bottom]])

    @cached_property
    def saddles_mm(self) -> np.ndarray:
        """(N, 2) inner corners at which two black squares meet corner to corner."""
        points = [
            (i * SQUARE_MM, j * SQUARE_MM)
            for j in range(1, self.rows)
            for i in range(1, self.columns)
            if all(self.in_ring(i + di, j + dj) for di in (-1, 0) for dj in (-1, 0))
        ]
        return np.array(points, dtype=float)


SHEETS: dict[str, Sheet] = {
    sheet.paper: sheet
    for sheet in (
        Sheet("a4", 297.0, 210.0, 25, 18, 0),
        Sheet("letter", 279.4, 215.9, 24, 18, 150),
        Sheet("a3", 420.0, 297.0, 38, 26, 300),
        Sheet("tabloid", 431.8, 279.4, 40, 24, 500),
    )
}
