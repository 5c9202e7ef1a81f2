"""A frame with its gaps enlarged, and its last joint close up, with heel and toe named."""

from __future__ import annotations

import cmath
import math
import textwrap
from collections.abc import Callable
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon

from cutvision.correction.gap import FrameGap
from cutvision.correction.joint import JointPreview, sight
from cutvision.reports.figure import ACCENT, INK, SOFT, WOOD, blank_page
from cutvision.reports.says_joint import END_WORDS, stands
from cutvision.uncertainty import Quantity
from cutvision.units import MM_PER_INCH, format_length_with_bound

PAGE_MM = (240.0, 164.0)
# A side whose length is not known is drawn so many stocks long.
DRAWN_STOCKS = 6.0
# How wide a gap is drawn: a part of the joint's own length.
DRAWN_PART = 0.22
MOST_OPEN_RAD = math.radians(40.0)
_FRAME_BOX = (10.0, 42.0, 128.0, 146.0)
_CLOSE_UP = (142.0, 56.0, 232.0, 130.0)
_ROUND = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000)


@dataclass(frozen=True, slots=True)
class _Side:
    """Corners of one side in mm, as complex numbers: outer start, outer end, inner end, inner start."""

    corners: tuple[complex, complex, complex, complex]


def joint_drawing(preview: JointPreview) -> Figure:
    """A page with the whole frame, its joints sharing the error, and the last joint with all of it."""
    figure, axes = blank_page(*PAGE_MM)
    _heading(axes, preview)
    _frame(axes, preview)
    _close_up(axes, preview)
    return figure


def enlargement(gap_mm: float, face_mm: float) -> int:
    """How many times too wide a gap is drawn: a round number that makes it plain to see; 1 for no gap at all."""
    if gap_mm <= 0:
        return 1
    return max((times for times in _ROUND if times * gap_mm <= DRAWN_PART * face_mm), default=1)


def _heading(axes: Axes, preview: JointPreview) -> None:
    words = "short of" if preview.gapes_at == "toe" else "over" if preview.gapes_at == "heel" else "off"
    size = math.degrees(abs(preview.error.value))
    axes.text(
        10,
        155,
        f"{preview.sides} sides of {_length(preview.stock_mm)} stock, each end cut {size:.3g} deg ({60 * size:.3g}') "
        f"{words} {math.degrees(preview.nominal_rad):.5g} deg",
        fontsize=11,
        weight="bold",
        color=INK,
        va="center",
    )


def _frame(axes: Axes, preview: JointPreview) -> None:
    times = enlargement(preview.gap_each.value, preview.face_mm)
    shapes = _sides(preview, times)
    everything = [corner for side in shapes for corner in side.corners]
    left, bottom, right, top = _FRAME_BOX
    width, height = _extent([c.real for c in everything]), _extent([c.imag for c in everything])
    scale = min((right - left) / width, (top - bottom) / height)
    middle = complex((left + right) / 2, (bottom + top) / 2)
    centre = complex(_middle([c.real for c in everything]), _middle([c.imag for c in everything]))

    def place(point: complex) -> complex:
        return middle + scale * (point - centre)

    for side in shapes:
        _wood(axes, [place(corner) for corner in side.corners])
    if preview.open_frame is not None and preview.sides == 4:
        _name_sides(axes, shapes, preview.open_frame.sides_mm, place)
    lines = [
        f"Shared by all joints: each opens {math.degrees(preview.opening_each_rad):.3g} deg, {_gap(preview.gap_each)}"
        f"{_at(preview)}, which {sight(preview.gap_each.value)}.",
        _enlarged(times, "These gaps are drawn", preview.gap_each.value),
    ]
    if preview.open_frame is None:
        lines.append(f"The sides' length was not given: drawn as {DRAWN_STOCKS:g} times the stock.")
    _below(axes, left, bottom - 4, lines, 72)


def _close_up(axes: Axes, preview: JointPreview) -> None:
    """The last joint, the others shut: its faces touch at one end and gape at the other."""
    times = enlargement(preview.gap_last.value, preview.face_mm)
    opening = _drawn_opening(preview.gap_last.value * times, preview.face_mm)
    nominal, stock = preview.nominal_rad, preview.stock_mm
    left, bottom, right, top = _CLOSE_UP
    tilt = math.pi / 2 - nominal
    arm = 2.4 * stock
    heel = cmath.rect(preview.face_mm, math.pi / 2)
    # the joint stands upright, its toe at the origin; the sides run away to the right and to the left of it
    pieces = []
    for hand in (1, -1):
        touches, way = (0j, -hand) if preview.gapes_at == "heel" else (heel, hand)
        along = cmath.rect(1.0, math.pi / 2 - hand * tilt)
        corners = [0j, arm * along, arm * along + (heel - _foot(heel, along)), heel]
        turn = cmath.rect(1.0, way * opening / 2)
        pieces.append([touches + (corner - touches) * turn for corner in corners])
    everything = [corner for piece in pieces for corner in piece]
    scale = min(
        (right - left) / _extent([c.real for c in everything]), (top - bottom) / _extent([c.imag for c in everything])
    )
    centre = complex(_middle([c.real for c in everything]), _middle([c.imag for c in everything]))
    middle = complex((left + right) / 2, (bottom + top) / 2)
    for piece in pieces:
        _wood(axes, [middle + scale * (corner - centre) for corner in piece])
    toe_at, heel_at = middle + scale * (0j - centre), middle + scale * (heel - centre)
    _name_end(axes, preview, "toe", toe_at, complex(toe_at.real, toe_at.imag - 9))
    highest = max((middle + scale * (corner - centre)).imag for corner in everything)
    _name_end(axes, preview, "heel", heel_at, complex(heel_at.real, highest + 8))
    lines = [
        f"Or all at the last joint: it opens {math.degrees(preview.opening_last_rad):.3g} deg, {_gap(preview.gap_last)}"
        f"{_at(preview)}, which {sight(preview.gap_last.value)}.",
        _enlarged(times, "This gap is drawn", preview.gap_last.value),
    ]
    if preview.open_frame is not None:
        lines.append(
            f"With the others shut flush, toe on toe: {stands(preview.open_frame.heel_mm)} at the heel, "
            f"{stands(preview.open_frame.toe_mm)} at the toe."
        )
    _below(axes, left, _FRAME_BOX[1] - 4, lines, 54)


def _name_end(axes: Axes, preview: JointPreview, end: FrameGap, at: complex, label: complex) -> None:
    axes.annotate(
        END_WORDS[end],
        (at.real, at.imag),
        (label.real, label.imag),
        fontsize=9,
        color=ACCENT if end == preview.gapes_at else INK,
        ha="center",
        va="center",
        arrowprops={"arrowstyle": "-", "color": SOFT, "linewidth": 0.7},
    )


def _name_sides(
    axes: Axes, shapes: list[_Side], lengths_mm: tuple[float, ...], place: Callable[[complex], complex]
) -> None:
    """The outer length of each side on its wood."""
    for side, length in zip(shapes, lengths_mm, strict=True):
        middle = place(sum(side.corners) / 4)
        along = place(side.corners[1]) - place(side.corners[0])
        turned = math.degrees(cmath.phase(along))
        upright = turned if -90 < turned <= 90 else turned - math.copysign(180, turned)
        axes.text(
            middle.real,
            middle.imag,
            _length(length),
            fontsize=8.5,
            color=INK,
            ha="center",
            va="center",
            rotation=upright,
        )


def _sides(preview: JointPreview, times: int) -> list[_Side]:
    """Each side where it lies in a true frame, with the cuts off by so much more that the gaps come out enlarged."""
    n, stock, nominal = preview.sides, preview.stock_mm, preview.nominal_rad
    lengths = preview.open_frame.sides_mm if preview.open_frame else (DRAWN_STOCKS * stock,) * n
    if n == 4:
        a, b = (lengths[0] + lengths[2]) / 2, (lengths[1] + lengths[3]) / 2
        lengths = (a, b, a, b)
    off = _drawn_opening(preview.gap_each.value * times, preview.face_mm) / 2
    off = -off if preview.gapes_at == "heel" else off
    cut = stock * math.tan(nominal - off)
    true = stock * math.tan(nominal)
    at, along, sides = 0j, 1 + 0j, []
    for length in lengths:
        start, inner = max(0.0, true - cut), max(true, cut)
        local = (
            complex(start, 0),
            complex(length - start, 0),
            complex(length - inner, stock),
            complex(inner, stock),
        )
        o_start, o_end, i_end, i_start = (at + along * corner for corner in local)
        sides.append(_Side((o_start, o_end, i_end, i_start)))
        at += along * length
        along *= cmath.rect(1.0, 2 * nominal)
    return sides


def _drawn_opening(gap_mm: float, face_mm: float) -> float:
    """The angle that shows a gap this wide over a joint."""
    return min(MOST_OPEN_RAD, 2 * math.asin(min(1.0, gap_mm / (2 * face_mm))))


def _foot(point: complex, along: complex) -> complex:
    return along * (point * along.conjugate()).real


def _wood(axes: Axes, corners: list[complex]) -> None:
    axes.add_patch(Polygon([(c.real, c.imag) for c in corners], facecolor=WOOD, edgecolor=INK, linewidth=0.8))


def _below(axes: Axes, x: float, y: float, lines: list[str], wide: int) -> None:
    wrapped = [part for line in lines for part in textwrap.wrap(line, wide)]
    axes.text(x, y, "\n".join(wrapped), fontsize=8.5, color=INK, va="top", linespacing=1.35)


def _enlarged(times: int, start: str, gap_mm: float) -> str:
    if not gap_mm:
        return "There is no gap to draw."
    return f"{start} {times} times too wide." if times > 1 else f"{start} to the scale of the wood."


def _at(preview: JointPreview) -> str:
    if not preview.gap_each.value:
        return ""
    return f" at its {END_WORDS[preview.gapes_at]}" if preview.gapes_at else " at its heel or toe"


def _gap(gap: Quantity) -> str:
    if gap.standard_uncertainty:
        return format_length_with_bound(gap.value, gap.expanded_uncertainty)
    return f"{gap.value:.2f} mm ({gap.value / MM_PER_INCH:.4f} in)"


def _length(value_mm: float) -> str:
    return f"{value_mm:.4g} mm ({value_mm / MM_PER_INCH:.3g} in)"


def _extent(values: list[float]) -> float:
    return max(values) - min(values)


def _middle(values: list[float]) -> float:
    return (max(values) + min(values)) / 2
