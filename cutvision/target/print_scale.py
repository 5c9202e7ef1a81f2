"""How far a print is stretched and sheared: what an ordinary printer does, and what a person read off the paper.

A print is centre + (I + E) (drawn - centre) with E = [[ex, g], [0, ey]]: `ex` and `ey` stretch the sheet along its long
and its short side, `g` leans its short sides (positive: the bottom goes to the right).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cutvision.errors import InputError
from cutvision.target.sheet import Sheet

READ_TO_MM = 0.25  # half-width of a steel rule read by eye (common practice, no source)
# What is known of a print that nobody read. 0.15 % a side and 0.07 to 0.15 % of shear are ordinary for office printers,
# and damp paper grows by another 0.1 % (common practice, no source): root sum of squares 0.18 %, rounded up.
ORDINARY_STRETCH = 0.002
ORDINARY_SHEAR = 0.0015
# "Fit to page" scales both ways alike, so once a rule tells the scale the prior leaves the mean stretch open.
LARGEST_STRETCH = 0.03
# Seven times what is ordinary of a lean and of a difference of the two stretches: no working printer (no source).
LARGEST_LEAN, LARGEST_DIFFERENCE = 0.01, 0.02
OPEN_MEAN_STRETCH = LARGEST_STRETCH / math.sqrt(3)


@dataclass(frozen=True, slots=True)
class PrintReadings:
    """Lengths read on the paper from outer corner to outer corner of the frame, in mm; None where nothing was read.

    read_to_mm: rectangular half-width of each reading.
    diagonal_down_mm: from top left to bottom right. diagonal_up_mm: from bottom left to top right.
    """

    long_side_mm: float | None = None
    short_side_mm: float | None = None
    read_to_mm: float = READ_TO_MM
    diagonal_down_mm: float | None = None
    diagonal_up_mm: float | None = None


@dataclass(frozen=True, slots=True)
class PrintScale:
    """Estimate (3,) of (ex, ey, g), dimension one, and its covariance (3, 3)."""

    estimate: np.ndarray
    covariance: np.ndarray
    read: bool

    @property
    def matrix(self) -> np.ndarray:
        """E (2, 2), so that a drawn point p measured from the frame's centre is printed at p + E p."""
        ex, ey, g = self.estimate.tolist()
        return np.array([[ex, g], [0.0, ey]])


def print_scale(sheet: Sheet, readings: PrintReadings | None = None) -> PrintScale:
    """The print's distortion from what is ordinary and from the readings, if there are any, by least squares.

    Source: linear least squares with a prior, as in JCGM 102:2011, 6; a rectangular half-width a is u = a / sqrt 3
    (JCGM 100:2008, 4.3.7). Raises InputError for readings that no sheet of this paper can give.
    """
    rows = _rows(sheet, readings) if readings else []
    if readings is None or not rows:
        prior = np.diag([ORDINARY_STRETCH**2, ORDINARY_STRETCH**2, ORDINARY_SHEAR**2])
        return PrintScale(np.zeros(3), prior, read=False)
    _refuse_the_impossible(sheet, rows, readings)
    # ex and ey are mean + and - half the difference; of the two only the difference stays what is ordinary
    difference_var, mean_var = ORDINARY_STRETCH**2 / 2, OPEN_MEAN_STRETCH**2
    prior = np.zeros((3, 3))
    prior[:2, :2] = mean_var + difference_var * np.array([[1.0, -1.0], [-1.0, 1.0]])
    prior[2, 2] = ORDINARY_SHEAR**2
    weight = 3.0 / readings.read_to_mm**2
    estimate = np.zeros(3)
    for _ in range(4):  # a length is all but linear in (ex, ey, g): the second round is already exact to 1e-6
        vectors = [_printed(row, estimate) for row in rows]
        lengths = np.array([math.hypot(*v) for v in vectors])
        slopes = np.array(
            [
                [vx * row.across_mm, vy * row.down_mm, vx * row.down_mm]
                for row, (vx, vy) in zip(rows, vectors, strict=True)
            ]
        )
        slopes /= lengths[:, None]
        left = np.array([row.read_mm for row in rows]) - lengths + slopes @ estimate
        covariance = np.linalg.inv(np.linalg.inv(prior) + weight * slopes.T @ slopes)
        estimate = covariance @ (weight * slopes.T @ left)
    _refuse_a_crooked_print(estimate)
    return PrintScale(estimate, covariance, read=True)


@dataclass(frozen=True, slots=True)
class _Row:
    """One reading and the drawn vector whose printed length it is."""

    name: str
    across_mm: float
    down_mm: float
    read_mm: float

    @property
    def drawn_mm(self) -> float:
        return math.hypot(self.across_mm, self.down_mm)


def _rows(sheet: Sheet, readings: PrintReadings) -> list[_Row]:
    wide, high = sheet.width_mm, sheet.height_mm
    read = (
        ("long side", wide, 0.0, readings.long_side_mm),
        ("short side", 0.0, high, readings.short_side_mm),
        ("diagonal down", wide, high, readings.diagonal_down_mm),
        ("diagonal up", wide, -high, readings.diagonal_up_mm),
    )
    return [_Row(name, across, down, mm) for name, across, down, mm in read if mm is not None]


def _printed(row: _Row, estimate: np.ndarray) -> tuple[float, float]:
    ex, ey, g = estimate.tolist()
    return (1 + ex) * row.across_mm + g * row.down_mm, (1 + ey) * row.down_mm


def _refuse_the_impossible(sheet: Sheet, rows: list[_Row], readings: PrintReadings) -> None:
    if not 0 < readings.read_to_mm <= LARGEST_STRETCH * sheet.height_mm:
        raise InputError(
            f"The print's lengths are said to be read to {readings.read_to_mm:g} mm.",
            "Give --read-to as the largest error a reading may have: 0.25mm for a steel rule read by eye.",
        )
    for row in rows:
        off = abs(row.read_mm / row.drawn_mm - 1)
        if not off <= LARGEST_STRETCH:
            raise InputError(
                f"The {row.name} of the printed frame was read as {row.read_mm:g} mm; on the {sheet.paper} sheet it is "
                f"drawn {row.drawn_mm:.1f} mm, and no printer is off by {100 * off:.1f} %.{_likely_cause(sheet, row)}",
                "Read again from outer corner to outer corner of the squares. If the reading stands, print again at "
                "100 % (actual size, not fit to page) on the right paper.",
            )
    _refuse_a_misfit(rows, readings.read_to_mm)


def _likely_cause(sheet: Sheet, row: _Row) -> str:
    drawn = {r.name: r.drawn_mm for r in _rows(sheet, PrintReadings(1.0, 1.0, READ_TO_MM, 1.0, 1.0))}
    others = [name for name, mm in drawn.items() if abs(row.read_mm / mm - 1) <= LARGEST_STRETCH]
    if abs(row.read_mm / (row.drawn_mm / 25.4) - 1) <= LARGEST_STRETCH:
        return " The reading looks like inches."
    if others:
        return f" It looks like the {others[0]}."
    if 0.85 < row.read_mm / row.drawn_mm < 1.15:
        return " It looks like a print fitted to the page."
    return " It looks like another paper's sheet or another distance."


def _refuse_a_crooked_print(estimate: np.ndarray) -> None:
    """Readings each within reason can together still tell of a print that no printer makes."""
    ex, ey, g = estimate.tolist()
    if abs(g) > LARGEST_LEAN or abs(ex - ey) > LARGEST_DIFFERENCE:
        raise InputError(
            f"By the lengths read on it the print would lean by {100 * abs(g):.1f} % and be stretched by "
            f"{100 * abs(ex - ey):.1f} % more one way than the other, which no working printer does.",
            "Read all sides and both diagonals again, from outer corner to outer corner of the squares.",
        )


def _refuse_a_misfit(rows: list[_Row], read_to_mm: float) -> None:
    """A leaning rectangle's diagonals and sides obey down^2 + up^2 = 2 (long^2 + short^2): a misread figure shows."""
    if len(rows) < 4:
        return
    long, short, down, up = (row.read_mm for row in rows)
    diagonal = math.hypot(long, short)
    off_mm = math.sqrt((down**2 + up**2) / 2) - diagonal
    # every reading wrong by its half-width, all in the worst direction
    if abs(off_mm) > read_to_mm * (1 + (long + short) / diagonal):
        raise InputError(
            f"The four lengths read on the print do not fit one another: by the sides the diagonals should average "
            f"{diagonal:.1f} mm, but they were read as {down:g} and {up:g} mm.",
            "Read all four again, or give --read-to as well as they could really be read.",
        )
