"""Which edge is which on the test piece: a small drawing beside the move."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.patches import FancyArrowPatch, Polygon, Rectangle

from cutvision.correction import Correction
from cutvision.reports.figure import ACCENT, INK, SOFT, WOOD

Box = tuple[float, float, float, float]


def draw_piece(axes: Axes, correction: Correction, box: Box) -> None:
    """Draw it into a box on the page: left, bottom, right, top in mm."""
    left, bottom, right, top = box
    axes.add_patch(Rectangle((left, bottom), right - left, top - bottom, facecolor="none", edgecolor=SOFT, lw=0.6))
    middle = complex((left + right) / 2, (bottom + top) / 2 - 3)
    draw = {
        "miter": _triangle,
        "arms": _triangle,
        "square": _strip,
        "direct": _square,
        "facing": _facing,
        "frame": _frame,
        "assembly": _joint,
    }
    title = draw[correction.method](axes, correction, middle)
    _text(axes, (left + right) / 2, top - 4, title, color=INK)


def _triangle(axes: Axes, correction: Correction, middle: complex) -> str:
    """The cut toward the person, the legs left and right, and which of them lay at the fence."""
    at_fence = math.pi / 2 - correction.nominal_rad
    at_left = at_fence if correction.kept != "left" else math.pi / 2 - at_fence
    leg = 48.0 * math.cos(at_left)
    a, b = middle - 24 - 16j, middle + 24 - 16j
    c = a + cmath.rect(leg, at_left)
    _piece(axes, (a, b, c))
    _text(axes, middle.real, a.imag - 4.5, "the cut, toward you")
    for name, (p, q), ha, shift in (("left", (a, c), "right", -2.0), ("right", (b, c), "left", 2.0)):
        spot = (p + q) / 2
        lay = correction.kept is not None and correction.kept != name
        if lay:
            axes.plot([p.real, q.real], [p.imag, q.imag], color=ACCENT, lw=2.2, gid=f"fence-leg-{name}")
        words = f"{name}\nleg,\nlay at\nthe fence" if lay else f"{name}\nleg"
        _text(axes, spot.real + shift, spot.imag + 2, words, ha=ha, va="bottom", color=ACCENT if lay else INK)
    return "Test piece, face up, as you read it"


def _strip(axes: Axes, correction: Correction, middle: complex) -> str:
    """Fence end to the left, as on the printed sheet; the two widths."""
    board = correction.turns == 2
    tall = 17.0 if board else 7.0
    a, b = middle - 28 - tall * 1j, middle + 28 - tall * 1j
    _piece(axes, (a, b, b + 2j * tall, a + 2j * tall))
    for x, name in ((-22.0, "fence end"), (22.0, "far end")):
        start, stop = middle + x - tall * 1j, middle + x + tall * 1j
        axes.add_patch(
            FancyArrowPatch(
                (start.real, start.imag),
                (stop.real, stop.imag),
                arrowstyle="<->",
                color=ACCENT,
                shrinkA=0,
                shrinkB=0,
                mutation_scale=9,
            )
        )
        _text(axes, start.real, start.imag - 4, name, color=ACCENT)
    _text(axes, middle.real, middle.imag, "the board's own width" if board else "cut last")
    return "The board after three cuts" if board else "The strip sawn off last"


def _square(axes: Axes, correction: Correction, middle: complex) -> str:
    """A square along the fence, its arm beside the blade, and where the gap opens."""
    side = 1.0 if correction.kept == "right" else -1.0
    excess = correction.angle_error.value * (-1.0 if correction.kept == "right" else 1.0)
    tilt = cmath.rect(1.0, -side * 0.1 * (1 if excess > 0 else -1))
    corner = middle - 18j
    fence = [corner - 2j + reach * tilt for reach in (-30, 30)]
    axes.plot([p.real for p in fence], [p.imag for p in fence], color=INK, lw=2.5)
    touch = corner + 1.5 * side + (0 if excess > 0 else 36j)
    arm = [touch + (p - (0 if excess > 0 else 36j)) * tilt for p in (0j, 36j, 36j + 5 * side, 5 * side + 0j)]
    _piece(axes, arm)
    axes.plot([corner.real] * 2, [corner.imag, corner.imag + 42], color=INK, lw=1.6)
    gap = arm[1] if excess > 0 else arm[0]
    _text(axes, gap.real - side * 9, gap.imag, "gap", ha="right" if side > 0 else "left", color=ACCENT)
    _text(axes, corner.real - side * 3, corner.imag + 20, "blade", ha="right" if side > 0 else "left")
    _text(axes, corner.real + side * 20, corner.imag + 12, "square's\narm")
    _text(axes, corner.real, corner.imag - 9, "fence (the square's stock along it)")
    return "Where the gap opens (drawn far too large)"


def _facing(axes: Axes, correction: Correction, middle: complex) -> str:
    """Two pieces on a straight edge, one turned over, and where the gap opens."""
    excess = correction.angle_error.value * (-1.0 if correction.kept == "right" else 1.0)
    low, high = (5.0, 0.0) if excess > 0 else (0.0, 5.0)
    foot = middle - 16j
    for side in (-1.0, 1.0):
        _piece(axes, [foot + side * low, foot + side * 30, foot + side * 30 + 30j, foot + side * high + 30j])
    axes.plot([foot.real - 34, foot.real + 34], [foot.imag - 1] * 2, color=INK, lw=2.5)
    _text(axes, foot.real, foot.imag - 5, "straight edge, at the edges that lay at the fence")
    _text(axes, foot.real, foot.imag + (4 if excess > 0 else 34), "gap", color=ACCENT)
    _text(axes, foot.real - 18, foot.imag + 14, "piece")
    _text(axes, foot.real + 18, foot.imag + 14, "the other,\nturned over")
    return "Two pieces face to face (gap far too large)"


def _joint(axes: Axes, correction: Correction, middle: complex) -> str:
    """A joint's ends by name; of several joints that were put together none is drawn as it gaped."""
    _frame(axes, correction, middle)
    return "A joint of two sides: heel and toe"


def _frame(axes: Axes, correction: Correction, middle: complex) -> str:
    """The frame's last joint: heel at its inner corner, toe at its outer."""
    excess = correction.angle_error.value * (-1.0 if correction.kept == "right" else 1.0)
    gape = 0.09
    toe, heel = middle - 20 + 16j, middle - 2 - 2j
    hinge, turn = (toe, gape) if excess > 0 else (heel, -gape)
    across = [toe, toe + 46, heel + 28, heel]
    down = [toe, heel, heel - 24j, toe - 42j]
    _piece(axes, across)
    _piece(axes, [hinge + (p - hinge) * cmath.rect(1.0, -turn) for p in down])
    _text(axes, toe.real + 2, toe.imag + 4, "toe (outer corner)", color=INK if excess > 0 else ACCENT, ha="left")
    _text(axes, heel.real + 5, heel.imag - 5, "heel (inner corner)", color=ACCENT if excess > 0 else INK, ha="left")
    return f"The last joint gapes at its {'heel' if excess > 0 else 'toe'} (far too large)"


def _piece(axes: Axes, corners: Sequence[complex]) -> None:
    axes.add_patch(Polygon([(c.real, c.imag) for c in corners], facecolor=WOOD, edgecolor=INK, lw=0.9))


def _text(
    axes: Axes, x: float, y: float, words: str, *, ha: str = "center", va: str = "center", color: str = SOFT
) -> None:
    axes.text(x, y, words, fontsize=7.5, color=color, ha=ha, va=va, zorder=10)
