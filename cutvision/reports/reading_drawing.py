"""Where and against what to hold the caliper, the feeler gauge or the square, drawn: one small picture a method."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import FancyArrowPatch, Polygon

from cutvision.correction.result import Method
from cutvision.reports.figure import ACCENT, INK, SOFT, WOOD, blank_page

WIDTH_MM, HEIGHT_MM = 180.0, 100.0
STEEL = "#cdd3da"
SMALL, TITLE = 7.5, 10.0
_TITLES: dict[Method, str] = {
    "miter": "Two legs of a miter's offcut",
    "arms": "One piece from each arm of a V fence",
    "square": "Two widths of the strip sawn off last",
    "facing": "Two pieces face to face, one turned over like a page",
    "frame": "The last joint of a frame",
    "assembly": "Two sides in a true square",
    "direct": "A square between fence and blade (saw off and unplugged)",
}


def reading_drawing(method: Method) -> Figure:
    """The picture of one method, 180 x 100 mm."""
    figure, axes = blank_page(WIDTH_MM, HEIGHT_MM)
    _text(axes, WIDTH_MM / 2 + 94j, _TITLES[method], size=TITLE, weight="bold")
    draw = {
        "miter": _miter,
        "arms": _arms,
        "square": _square,
        "facing": _facing,
        "frame": _frame,
        "assembly": _assembly,
        "direct": _direct,
    }
    draw[method](axes)
    return figure


def _miter(axes: Axes) -> None:
    """The caliper still on a stop; one leg flat on its fixed jaw, the other's tip at the sliding one; turned over."""
    for at, face, flat, measured in ((8 + 24j, "face up", "R", "L"), (98 + 24j, "turned over", "L", "R")):
        _caliper(axes, at, 46.0)
        corner = at + 8
        _shape(axes, (corner, corner + 46, corner + 46j), WOOD)
        _text(axes, corner + 3.5 + 22j, flat, weight="bold")
        _text(axes, corner + 22 + 3.5j, measured, weight="bold")
        _text(axes, corner + 31 + 25j, "cut", rotation=-45)
        _arrow(axes, corner + 30 + 12j, corner + 14 + 12j)
        _arrow(axes, at + 71 + 14j, at + 63 + 14j)
        _text(axes, at + 33 + 55j, f"{face}: leg {measured}")
        _shape(axes, (at - 4 - 12j, at - 12j, at + 54j, at - 4 + 54j), SOFT)
    _text(
        axes,
        90 + 6j,
        "Caliper still against a stop (grey); slide the piece up to its fixed jaw until the other leg lies",
    )
    _text(
        axes,
        90 + 2j,
        "flat; close the sliding jaw until it just touches the tip. Turn the piece over for the other leg.",
    )


def _arms(axes: Axes) -> None:
    """The V from above with the offcut of each arm, and which leg lay at the fence."""
    point = 90 + 62j
    for side, leg in ((-1, "R"), (1, "L")):
        along = cmath.rect(1.0, math.radians(-90 + side * 45))
        across = along * 1j * side
        _shape(axes, (point, point + 62 * along, point + 62 * along - 4 * across, point - 4 * across), STEEL)
        arm = "left" if side < 0 else "right"
        _text(axes, point + side * 58 - 40j, f"{arm} arm")
        a, b = 90 + side * 48 + 50j, 90 + side * 76 + 50j
        low, high = (a, b) if a.real < b.real else (b, a)
        top = (low + high) / 2 + 14j
        _shape(axes, (low, high, top), WOOD)
        left, right = (low + top) / 2, (high + top) / 2
        _text(axes, left - 3.5 + 2j, "L", weight="bold", color=ACCENT if leg == "L" else INK)
        _text(axes, right + 3.5 + 2j, "R", weight="bold", color=ACCENT if leg == "R" else INK)
        _text(axes, (low + high) / 2 - 4j, "cut, toward you")
        _text(axes, (low + high) / 2 + 21j, f"piece of the {arm} arm:")
        _text(axes, (low + high) / 2 + 17j, f"its leg {leg} lay at the fence", color=ACCENT)
    axes.plot([90, 90], [12, 88], color=INK, lw=1.2)
    _text(axes, 99 + 86j, "blade")
    _text(
        axes,
        90 + 6j,
        "Left arm: the work was kept on the left of the blade; right arm: on the right. Read all four legs alike,",
    )
    _text(
        axes,
        90 + 2j,
        "as for one miter. Both pieces need the same corner: crosscut at one fence with the same edge at it.",
    )


def _square(axes: Axes) -> None:
    """The strip with two calipers across it, as far from its ends."""
    _shape(axes, (20 + 50j, 160 + 52j, 160 + 64j, 20 + 66j), WOOD)
    for x, bottom, top in ((42.0, 50.4, 65.7), (138.0, 51.6, 64.3)):
        for y, way in ((bottom, -1), (top, 1)):
            _shape(
                axes, (x - 3 + 1j * y, x + 3 + 1j * y, x + 3 + 1j * (y + 5 * way), x - 3 + 1j * (y + 5 * way)), STEEL
            )
        axes.plot([x, x], [bottom, top], color=INK, lw=0.7, ls="--")
    for a, b, words, y in (
        (20, 42, "as far", 40),
        (138, 160, "as far", 40),
        (42, 138, "--between: from jaw's middle to jaw's middle", 32),
    ):
        axes.add_patch(FancyArrowPatch((a, y), (b, y), arrowstyle="<->", mutation_scale=7, color=INK, lw=0.7))
        _text(axes, (a + b) / 2 + 1j * (y - 4), words)
    _text(axes, 42 + 75j, "--at-fence", weight="bold")
    _text(axes, 138 + 75j, "--far-end", weight="bold")
    _text(axes, 18 + 58j, "F", weight="bold", ha="right")
    _text(axes, 20 + 80j, "the end that lay at the fence", ha="left")
    _text(
        axes,
        90 + 14j,
        "Jaws square to the sawn edges: rock them a little and take the least width. Clear of chips and ends,",
    )
    _text(axes, 90 + 10j, "the same depth of jaw and the same light touch at both. Drawn with its taper enlarged.")


def _facing(axes: Axes) -> None:
    """Two pieces on one straight edge, their cuts meeting, the leaf where they gape."""
    base = 30j
    _shape(axes, (20 + base, 160 + base, 160 + 25j, 20 + 25j), STEEL)
    tilt = 2.6
    _shape(axes, (30 + base, 90 - 2 * tilt + base, 90 + 75j, 30 + 75j), WOOD)
    _shape(axes, (150 + base, 90 + 2 * tilt + base, 90 + 75j, 150 + 75j), WOOD)
    _shape(axes, (90 - 2 * tilt + base, 90 + 2 * tilt + base, 90 + 1.6 * tilt + 39j, 90 - 1.6 * tilt + 39j), ACCENT)
    _text(axes, 90 + 20j, "gauge", color=ACCENT)
    axes.plot([90, 90], [22, 33], color=ACCENT, lw=0.7)
    _text(axes, 56 + 52j, "piece 1")
    _text(axes, 124 + 52j, "piece 2, turned over")
    _text(axes, 90 + 80j, "they touch here")
    axes.add_patch(FancyArrowPatch((96, 75), (103, 34), arrowstyle="<->", mutation_scale=7, color=INK, lw=0.7))
    _text(axes, 102 + 64j, "--over", ha="left")
    for x, to in ((44, 58), (136, 122)):
        _arrow(axes, x + 40j, to + 40j)
    _text(axes, 38 + 20j, "straight edge, clamped")
    _text(
        axes,
        90 + 10j,
        "The edges that lay at the fence on the straight edge. Here --gap-at fence; a gap at the top is --gap-at far.",
    )
    _text(axes, 90 + 6j, "The last blade that goes straight in without force is the gap. Drawn enlarged.")


def _frame(axes: Axes) -> None:
    """A frame with three joints shut and the last one open, wider at its toe."""
    outer = [40 + 18j, 110 + 18j, 110 + 82j, 40 + 82j]
    inner = [56 + 34j, 94 + 34j, 94 + 66j, 56 + 66j]
    for i in range(3):
        _shape(axes, (outer[i], outer[i + 1], inner[i + 1], inner[i]), WOOD)
    _shape(axes, (outer[3], 40 + 25.5j, 56 + 36.2j, inner[3]), WOOD)
    _shape(axes, (30 + 20.2j, 30 + 23j, 46 + 27.8j, 47 + 26.2j), ACCENT)
    _shape(axes, (66 + 37.6j, 66 + 38.8j, 54 + 34.6j, 54.4 + 33.9j), ACCENT)
    _text(axes, 28 + 21.6j, "gauge", color=ACCENT, ha="right")
    _text(axes, 68 + 39.4j, "gauge", color=ACCENT, ha="left")
    _text(axes, 36 + 12j, "toe: outer corner")
    _text(axes, 75 + 55j, "heel:\ninner corner")
    _arrow(axes, 66 + 50j, 58 + 36.5j)
    _text(axes, 130 + 69j, "All other joints clamped", ha="left")
    _text(axes, 130 + 64j, "shut along their whole faces.", ha="left")
    _text(axes, 130 + 54j, "The last one stands open by", ha="left")
    _text(axes, 130 + 49j, "itself: clamped at neither", ha="left")
    _text(axes, 130 + 44j, "corner. Read both corners:", ha="left")
    _text(axes, 130 + 39j, "the wider less the other.", ha="left")
    _text(axes, 130 + 29j, "Here --gap-at toe.", ha="left", weight="bold")
    _text(
        axes,
        90 + 5j,
        "The frame on a flat surface. The last blade that goes straight in without force is the gap. Drawn enlarged.",
    )


def _assembly(axes: Axes) -> None:
    """Two sides with their outer edges on the blades of a true square, gaping at the heel."""
    corner = 40 + 18j
    _shape(axes, (corner - 6 - 6j, 120 + 12j, 120 + 18j, corner, 40 + 82j, 34 + 82j), STEEL)
    _shape(axes, (corner, 116 + 18j, 116 + 38j, corner + 23 + 20j), WOOD)
    _shape(axes, (corner, corner + 20 + 23j, 60 + 78j, 40 + 78j), WOOD)
    _shape(axes, (68 + 45.5j, 66 + 46.6j, 53.4 + 32.6j, 54.8 + 31.2j), ACCENT)
    _text(axes, 71 + 48j, "gauge", color=ACCENT, ha="left")
    _text(axes, 26 + 12j, "toe")
    _arrow(axes, 29 + 13j, 38.5 + 17j)
    _text(axes, 77 + 42j, "heel", ha="left")
    _text(axes, 128 + 66j, "Two pieces of one arm,", ha="left")
    _text(axes, 128 + 61j, "one turned over:", ha="left")
    _text(axes, 128 + 56j, "that arm's error, doubled.", ha="left")
    _text(axes, 128 + 46j, "One piece of each arm:", ha="left")
    _text(axes, 128 + 41j, "the V's own angle.", ha="left")
    _text(axes, 128 + 31j, "Here a gap at the heel.", ha="left", weight="bold")
    _text(
        axes,
        90 + 4j,
        "Outer edges on a true square, the faces slid together until they touch at one end. Drawn enlarged.",
    )


def _direct(axes: Axes) -> None:
    """The square's stock along a fence that stands off, its arm on the plate near the fence, the leaf far from it."""
    turn = cmath.rect(1.0, math.radians(4))
    touch = 88 + 37j

    def place(along: float, beyond: float) -> complex:
        return touch + turn * complex(along, beyond)

    _shape(axes, [place(*p) for p in ((-78, -15), (62, -15), (62, -9), (-78, -9))], STEEL)
    _text(axes, place(65, -12), "fence", ha="left")
    _shape(axes, (88 + 36j, 91 + 36j, 91 + 82j, 88 + 82j), "#aab2bc")
    for x, y in ((89.0, 33.0), (86.8, 82.0)):  # neighbouring teeth are set to opposite sides
        _shape(axes, (x + 1j * y, x + 3.2 + 1j * y, x + 3.2 + 1j * (y + 3), x + 1j * (y + 3)), INK)
    _text(axes, 89.5 + 88j, "blade: plate, and a tooth at each end")
    _shape(axes, [place(*p) for p in ((0, -9), (0, 44), (-9, 44), (-9, 0), (-46, 0), (-46, -9))], WOOD)
    leaf = place(0, 36)
    _shape(axes, (leaf, 88 + 1j * leaf.imag, 88 + 1j * (leaf.imag + 5), place(0, 41)), ACCENT)
    _text(axes, 101 + 66j, "gauge", color=ACCENT, ha="left")
    axes.plot([87, 100], [75, 66.5], color=ACCENT, lw=0.7)
    _text(axes, 101 + 44j, "touches the plate here, clear of the tooth", ha="left")
    axes.plot([88.3, 100], [37.5, 44], color=INK, lw=0.7)
    low, high = place(-14, 0.5), place(-14, 38.5)
    axes.add_patch(
        FancyArrowPatch(
            (low.real, low.imag), (high.real, high.imag), arrowstyle="<->", mutation_scale=7, color=INK, lw=0.7
        )
    )
    _text(axes, 68 + 58j, "--over", ha="right")
    _text(
        axes,
        90 + 10j,
        "Stock along the fence; slide until the arm touches the plate, never a tooth. Here --gap-at far, --square-on",
    )
    _text(
        axes,
        90 + 6j,
        "left: the fence stands counterclockwise. The last blade that goes straight in is the gap. Drawn enlarged.",
    )


def _caliper(axes: Axes, at: complex, opening: float) -> None:
    """A caliper with its beam below: fixed jaw at `at`, 8 mm wide, sliding jaw after the opening."""
    _shape(axes, (at - 12j, at + opening + 28 - 12j, at + opening + 28 - 4j, at - 4j), STEEL)
    _shape(axes, (at - 4j, at + 8 - 4j, at + 8 + 50j, at + 3 + 50j, at + 26j), STEEL)
    slide = at + 8 + opening
    _shape(axes, (slide - 14j, slide + 12 - 14j, slide + 12 - 2j, slide + 8 + 26j, slide + 5 + 30j, slide + 30j), STEEL)


def _shape(axes: Axes, corners: Sequence[complex], colour: str) -> None:
    axes.add_patch(Polygon([(c.real, c.imag) for c in corners], closed=True, facecolor=colour, edgecolor=INK, lw=0.7))


def _arrow(axes: Axes, start: complex, end: complex) -> None:
    axes.add_patch(
        FancyArrowPatch(
            (start.real, start.imag), (end.real, end.imag), arrowstyle="-|>", mutation_scale=9, color=ACCENT, lw=1.2
        )
    )


def _text(
    axes: Axes,
    at: complex,
    words: str,
    *,
    size: float = SMALL,
    weight: str = "normal",
    color: str = INK,
    ha: str = "center",
    rotation: float = 0.0,
) -> None:
    axes.text(
        at.real,
        at.imag,
        words,
        fontsize=size,
        weight=weight,
        color=color,
        ha=ha,
        va="center",
        rotation=rotation,
    )
