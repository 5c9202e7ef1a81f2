"""One printed page to check a V fence by: the V from above with its places numbered, boxes to tick, cautions below."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Polygon, Rectangle

from cutvision.reports.cautions import cautions
from cutvision.reports.figure import ACCENT, INK, SOFT, WOOD, blank_page

# No wider than A4, no higher than Letter: the page prints on either at full size.
PAGE_MM = (210.0, 279.4)
LEFT_MM, RIGHT_MM, TOP_MM = 15.0, 195.0, 270.0
LINE_MM = 3.9
ENTRY_MM = 1.45
COLUMNS = 112
SMALL_COLUMNS = 138


@dataclass(frozen=True, slots=True)
class Check:
    """One place of the V fence: its title, what must be so and how to see it, and a blank for what was read."""

    title: str
    how: str
    blank: str = ""


CHECKS: tuple[Check, ...] = (
    Check(
        "Square at the point",
        "The inside of a square you trust, put over the point, touches both faces that the work lies on; try a leaf of "
        "0.05 mm (0.0015 in) at each end. No turning of the fence cures the V's own angle.",
        "leaf, and how far from the point",
    ),
    Check(
        "Arms straight and upright",
        "A straightedge along the face of each arm shows no light and takes no leaf; a square on the sled's base "
        "touches each face from top to bottom.",
        "leaf that enters",
    ),
    Check(
        "Equal arms",
        "From the point to the outer end of each arm it is the same within 1 mm (1/32 in), so that both feet lie on a "
        "line square to the blade.",
        "left / right arm",
    ),
    Check(
        "Both feet bear",
        "With the point at the kerf and no leaf in place, the leaf of 0.05 mm (0.0015 in) enters behind neither foot. "
        "One that enters behind one foot only tells that the V rocks: true the stop or the foot.",
        "leaf behind left / right foot",
    ),
    Check(
        "Lever from foot to foot",
        "Measure between the two places that touch the rear stop: that is --fence-length. Mark on both feet "
        "where the leaf goes.",
        "foot to foot",
    ),
    Check(
        "Rear stop square to the runners",
        "It is straight, within 1 mm (1/32 in) square to a runner (the leaf does the rest), fastened at both ends, and "
        "does not give when a foot is pushed against it by hand.",
    ),
    Check(
        "Point at the kerf",
        "The tip of the V stands on the middle of the kerf, and is brought back there after every turn of the fence.",
        "off by",
    ),
    Check(
        "Dust relief",
        "A groove under the faces of both arms, in the point, and where the feet meet the stop: no chip can hold the "
        "work or a foot away. Brush before each cut.",
    ),
    Check(
        "Runners",
        "Push the sled from side to side at the front, the middle and the rear of its travel. 0.1 mm of play over 450 "
        "mm turns it by 0.013 deg; it must not bind anywhere either.",
        "play, over a length of",
    ),
    Check(
        "Base flat",
        "The sled lies on the table without rocking, and the table's and the base's slots are clean.",
    ),
    Check(
        "Fastened",
        "Screws and clamps are tight, the fence does not move when pushed by hand, and a leaf stays where it is. "
        "Clamps and leaf stand clear of the blade.",
    ),
    Check(
        "Guards and stop",
        "The cover over the kerf, the block where the blade comes out and the stop that halts the sled are in place, "
        "and the work is clamped to the arm that it lies on.",
    ),
)


def v_check_list() -> Figure:
    """The page, as a figure in mm; the same every time."""
    figure, axes = blank_page(*PAGE_MM)
    axes.text(LEFT_MM, TOP_MM, "Check list for a V fence", size=15, weight="bold", color=INK, va="top")
    axes.text(
        LEFT_MM,
        TOP_MM - 8.5,
        "Before any test cut. Saw off and unplugged. Numbers are those of the drawing.",
        size=8,
        color=SOFT,
        va="top",
    )
    for x, word in ((112.0, "fence"), (150.0, "date"), (174.0, "by")):
        axes.text(x, TOP_MM - 3.4, word, size=7.5, color=SOFT, va="bottom", ha="left")
    for start, end in ((121.0, 147.0), (157.0, 172.0), (178.0, RIGHT_MM)):
        axes.plot([start, end], [TOP_MM - 3.6, TOP_MM - 3.6], color=SOFT, linewidth=0.5)
    _draw_fence(axes, TOP_MM - 75.5)
    y = _draw_checks(axes, TOP_MM - 84.5)
    _draw_cautions(axes, y - 1.5)
    return figure


def _draw_fence(axes: Axes, base_mm: float) -> None:
    """The sled from above, the operator at the bottom: the V's point away, its feet against the rear stop."""
    middle = 105.0
    sled = Rectangle((middle - 62, base_mm - 2), 124, 58, facecolor="#f6f7f8", edgecolor=SOFT, linewidth=0.8)
    axes.add_patch(sled)
    for x in (middle - 42, middle + 37):
        axes.add_patch(
            Rectangle((x, base_mm - 2), 5, 58, facecolor="none", edgecolor=SOFT, linewidth=0.5, ls=(0, (3, 2)))
        )
    axes.add_patch(Rectangle((middle - 55, base_mm + 1.5), 110, 4.5, facecolor="#d9dce0", edgecolor=INK, linewidth=0.8))
    point, foot, width = base_mm + 45.0, base_mm + 6.0, 7.0
    reach = point - foot
    for side in (-1, 1):
        corners = [
            (middle, point),
            (middle + side * reach, foot),
            (middle + side * (reach - 1.4 * width), foot),
            (middle, point - 1.4 * width),
        ]
        axes.add_patch(Polygon(corners, closed=True, facecolor=WOOD, edgecolor=INK, linewidth=0.9))
        # the groove for dust, under the face that the work touches
        shift = 0.9
        axes.plot(
            [middle + side * 1.0, middle + side * (reach - 1.5)],
            [point + shift - 1.0, foot + shift + 1.5],
            color=ACCENT,
            linewidth=1.0,
            ls=(0, (1.2, 1.2)),
        )
    axes.plot([middle, middle], [base_mm - 4, base_mm + 60], color=INK, linewidth=1.6)
    axes.text(middle + 2, base_mm + 58.6, "blade's path", size=7, color=SOFT, va="center")
    axes.text(middle, base_mm - 6.2, "you stand here", size=7, color=SOFT, va="center", ha="center")
    axes.text(middle - 60, base_mm + 53.0, "sled", size=7, color=SOFT, va="center")
    axes.text(middle - 20, base_mm + 3.7, "rear stop", size=6.5, color=INK, va="center", ha="center")
    lever = base_mm + 9.5
    inner = reach - 4.0
    axes.annotate(
        "",
        xy=(middle - inner + 4, lever),
        xytext=(middle + inner - 4, lever),
        arrowprops={"arrowstyle": "<->", "color": ACCENT, "linewidth": 0.8, "shrinkA": 0, "shrinkB": 0},
    )
    arm = reach / 2
    for number, x, y in (
        (1, middle - 7, point + 3.5),
        (2, middle - arm - 6, foot + arm + 5),
        (3, middle + arm + 6, foot + arm + 5),
        (4, middle - reach - 6, foot - 2.3),
        (4, middle + reach + 6, foot - 2.3),
        (5, middle + 12, lever + 3.6),
        (6, middle + 16, base_mm + 3.7),
        (7, middle + 7, point + 3.5),
        (8, middle + 12, point - 5.6),
        (9, middle - 39.5, base_mm + 50),
        (9, middle + 39.5, base_mm + 50),
        (10, middle + 56, base_mm + 50),
        (11, middle - 11, base_mm + 18),
        (12, middle + 7.5, base_mm - 2),
    ):
        _number(axes, number, x, y)


def _number(axes: Axes, number: int, x_mm: float, y_mm: float) -> None:
    axes.add_patch(Circle((x_mm, y_mm), 2.4, facecolor="white", edgecolor=ACCENT, linewidth=0.8, zorder=5))
    axes.text(x_mm, y_mm - 0.1, str(number), size=6.5, color=ACCENT, weight="bold", ha="center", va="center", zorder=6)


def _draw_checks(axes: Axes, y_mm: float) -> float:
    """The numbered places with a box each; gives where the next block begins."""
    y = y_mm
    for number, check in enumerate(CHECKS, 1):
        axes.add_patch(Rectangle((LEFT_MM, y - 3.1), 3.4, 3.4, facecolor="white", edgecolor=INK, linewidth=0.8))
        axes.text(LEFT_MM + 6, y, f"{number}  {check.title}", size=8.2, weight="bold", color=INK, va="top")
        if check.blank:
            axes.text(155.0, y, f"{check.blank}:", size=7, color=SOFT, va="top", ha="right")
            axes.plot([157.0, RIGHT_MM], [y - 3.2, y - 3.2], color=SOFT, linewidth=0.5)
        y -= LINE_MM
        y = _lines(axes, textwrap.wrap(check.how, COLUMNS), LEFT_MM + 6, y, 7.4) - ENTRY_MM
    return y


def _draw_cautions(axes: Axes, y_mm: float) -> None:
    axes.plot([LEFT_MM, RIGHT_MM], [y_mm, y_mm], color=ACCENT, linewidth=0.8)
    axes.text(LEFT_MM, y_mm - 1.6, "Cautions", size=8, weight="bold", color=ACCENT, va="top")
    y = y_mm - 5.6
    _lines(axes, textwrap.wrap(" ".join(cautions("measure", "adjust", "cut")), SMALL_COLUMNS), LEFT_MM, y, 6.6, 3.2)


def _lines(axes: Axes, lines: Sequence[str], x_mm: float, y_mm: float, size: float, step_mm: float = 3.4) -> float:
    for line in lines:
        axes.text(x_mm, y_mm, line, size=size, color=INK, va="top")
        y_mm -= step_mm
    return y_mm
