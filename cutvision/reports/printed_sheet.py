"""One side of paper for the shop: text that is measured before it is set, boxes, and small drawings of piece and saw.

Millimetres; x to the right, y up, as `reports.figure` draws. A point of a drawing is a complex number x + iy.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from matplotlib import rc_context
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.font_manager import FontProperties
from matplotlib.patches import Polygon, Rectangle
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from cutvision.reports.figure import (
    ACCENT,
    INK,
    PNG_DPI,
    SOFT,
    STYLE,
    WOOD,
    Format,
    blank_page,
    figure_bytes,
)
from cutvision.units import MM_PER_INCH

Paper = Literal["a4", "letter"]
# Upright. Sources: ISO 216; ASME Y14.1.
PAPERS_MM: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
# Printers leave up to 6 mm of a sheet blank.
MARGIN_MM = 9.0
MM_PER_POINT = MM_PER_INCH / 72
LINE = 1.28
DASH = "–  "
SHADE = "#e9ecef"
Align = Literal["left", "center", "right"]


@dataclass(frozen=True, slots=True)
class Look:
    """How a text looks: points, colour, weight."""

    points: float
    color: str = INK
    bold: bool = False

    @property
    def line_mm(self) -> float:
        return self.points * MM_PER_POINT * LINE

    def font(self) -> FontProperties:
        return FontProperties(family="DejaVu Sans", size=self.points, weight="bold" if self.bold else "normal")


TITLE = Look(15.0, bold=True)
HEADING = Look(10.5, bold=True)
BODY = Look(9.0)
SMALL = Look(8.2)
FAINT = Look(8.0, SOFT)


class PrintedSheet:
    """A blank page on which text is set by lines and boxes are drawn."""

    def __init__(self, paper: Paper) -> None:
        self.width_mm, self.height_mm = PAPERS_MM[paper]
        with rc_context(STYLE):
            self.figure, self.axes = blank_page(self.width_mm, self.height_mm)
        self.figure.dpi = PNG_DPI
        self._renderer = FigureCanvasAgg(self.figure).get_renderer()  # type: ignore[no-untyped-call]
        self.texts: list[Text] = []
        self._widths: dict[tuple[str, Look], float] = {}

    @property
    def left_mm(self) -> float:
        return MARGIN_MM

    @property
    def right_mm(self) -> float:
        return self.width_mm - MARGIN_MM

    @property
    def top_mm(self) -> float:
        return self.height_mm - MARGIN_MM

    def width_of(self, words: str, look: Look) -> float:
        """How wide one line would be, in mm."""
        if (words, look) not in self._widths:
            self._widths[words, look] = self._measured(words, look)
        return self._widths[words, look]

    def _measured(self, words: str, look: Look) -> float:
        wide, _, _ = self._renderer.get_text_width_height_descent(words, look.font(), ismath=False)
        return float(wide) / PNG_DPI * MM_PER_INCH

    def text(self, x: float, middle: float, words: str, look: Look, align: Align = "left") -> None:
        """One line, its middle at this height."""
        with rc_context(STYLE):
            text = self.axes.text(
                x,
                middle,
                words,
                fontproperties=look.font(),
                color=look.color,
                ha=align,
                va="center_baseline",
            )
        self.texts.append(text)

    def fitted(self, x: float, middle: float, room: float, words: str, look: Look, align: Align = "left") -> None:
        """One line, made smaller when it is wider than its room."""
        wide = self.width_of(words, look)
        smaller = look if wide <= room else Look(look.points * room / wide, look.color, look.bold)
        self.text(x, middle, words, smaller, align)

    def paragraph(self, x: float, top: float, room: float, words: str, look: Look, first: str = "") -> float:
        """Text in lines no wider than the room, `first` hanging before it; the height at which it ends."""
        indent = self.width_of(first, look) if first else 0.0
        lines = self._lines(words, room - indent, look)
        if first:
            self.text(x, top - look.line_mm / 2, first, look)
        for number, line in enumerate(lines):
            self.text(x + indent, top - (number + 0.5) * look.line_mm, line, look)
        return top - len(lines) * look.line_mm

    def bullets(self, x: float, top: float, room: float, items: Sequence[str], look: Look) -> float:
        """Paragraphs, each behind a dash; the height at which they end."""
        for item in items:
            top = self.paragraph(x, top, room, item, look, first=DASH)
        return top

    def in_two_columns(self, top: float, items: Sequence[str], look: Look) -> float:
        """A list over both halves of the page, the halves as even as they get; the height at which it ends."""
        room, split, _ = self._halves(items, look)
        return min(
            self.bullets(x, top, room, part, look)
            for x, part in ((self.left_mm, items[:split]), (self.right_mm - room, items[split:]))
        )

    def foot(self, top: float, title: str, items: Sequence[str], warnings: Sequence[str]) -> None:
        """A titled list and the cautions at the page's end, as small as the room asks, never below 6 points."""
        room = self.right_mm - self.left_mm
        fixed = 2 * (HEADING.line_mm + 0.8) + 1.5
        looks = [Look(points / 10) for points in range(82, 59, -2)]
        look = next(
            (
                look
                for look in looks
                if top - fixed - self._height(items, room, look) - self._halves(warnings, look)[2] > MARGIN_MM - 2
            ),
            looks[-1],
        )
        top = self.bullets(self.left_mm, self.heading(self.left_mm, top, title), room, items, look) - 1.5
        self.in_two_columns(self.heading(self.left_mm, top, "Cautions"), warnings, look)

    def heading(self, x: float, top: float, words: str) -> float:
        """A heading; the height at which it ends."""
        self.text(x, top - HEADING.line_mm / 2, words, HEADING)
        return top - HEADING.line_mm - 0.8

    def box(self, x: float, bottom: float, width: float, height: float, fill: str = "none") -> None:
        """A rectangle with a thin line around it."""
        edge = INK if fill == "none" else "none"
        self.axes.add_patch(Rectangle((x, bottom), width, height, facecolor=fill, edgecolor=edge, linewidth=0.7))

    def line(self, start: complex, stop: complex, color: str = INK, width: float = 0.8) -> None:
        """A straight line."""
        self.axes.plot(
            [start.real, stop.real], [start.imag, stop.imag], color=color, linewidth=width, solid_capstyle="butt"
        )

    def area(self, corners: Sequence[complex], fill: str = WOOD) -> None:
        """A filled outline."""
        points = [(corner.real, corner.imag) for corner in corners]
        self.axes.add_patch(Polygon(points, closed=True, facecolor=fill, edgecolor=INK, linewidth=0.8))

    def arrow(self, start: complex, stop: complex, color: str = ACCENT) -> None:
        """An arrow."""
        self.axes.annotate(
            "",
            (stop.real, stop.imag),
            (start.real, start.imag),
            arrowprops={"arrowstyle": "-|>", "color": color, "linewidth": 1.6, "shrinkA": 0, "shrinkB": 0},
        )

    def extents_mm(self) -> list[tuple[str, Bbox]]:
        """Every text and the rectangle it takes, in mm from the page's lower left corner."""
        scale = MM_PER_INCH / PNG_DPI
        found = []
        for text in self.texts:
            box = text.get_window_extent(self._renderer)
            found.append((text.get_text(), Bbox.from_extents(*(value * scale for value in box.extents))))
        return found

    def bytes(self, as_format: Format) -> bytes:
        """The page as a file's content."""
        return figure_bytes(self.figure, as_format)

    def _height(self, items: Sequence[str], room: float, look: Look) -> float:
        indent = self.width_of(DASH, look)
        return sum(len(self._lines(item, room - indent, look)) for item in items) * look.line_mm

    def _halves(self, items: Sequence[str], look: Look) -> tuple[float, int, float]:
        """The room of a half, how many items go into the first, and the height of the higher one."""
        room = (self.right_mm - self.left_mm - 5.0) / 2

        def higher(split: int) -> float:
            return max(self._height(items[:split], room, look), self._height(items[split:], room, look))

        split = min(range(len(items) + 1), key=higher)
        return room, split, higher(split)

    def _lines(self, words: str, room: float, look: Look) -> list[str]:
        lines: list[str] = []
        for word in words.split():
            if lines and self.width_of(f"{lines[-1]} {word}", look) <= room:
                lines[-1] += f" {word}"
            else:
                lines.append(word)
        return lines


def draw_miter_piece(sheet: PrintedSheet, x: float, bottom: float, size: float, at_left_deg: float = 45.0) -> None:
    """The test piece as it lies before you: cut toward you, corner away, the legs named."""
    at_left = math.radians(at_left_deg)
    left, right = complex(x, bottom + 8), complex(x + size, bottom + 8)
    corner = left + cmath.rect(size * math.cos(at_left), at_left)
    sheet.area((left, right, corner))
    sheet.line(left, right, ACCENT, 2.0)
    to_left, to_right = (2.5 * (end - corner) / abs(end - corner) for end in (left, right))
    sheet.line(corner + to_left, corner + to_left + to_right, width=0.6)
    sheet.line(corner + to_right, corner + to_left + to_right, width=0.6)
    legs: tuple[tuple[str, complex, Align, float], ...] = (("L", left, "right", -2.5), ("R", right, "left", 2.5))
    for name, end, align, away in legs:
        middle = (end + corner) / 2 + away + 2.5j
        sheet.text(middle.real, middle.imag, name, TITLE, align)
    sheet.text(x + size / 2, corner.imag + 2.8, "corner, away from you", SMALL, "center")
    sheet.text(x + size / 2, bottom + 4.5, "the cut, toward you", SMALL, "center")
    inside = (left + right + corner) / 3
    sheet.text(inside.real, inside.imag - 2, "face up", FAINT, "center")


def draw_strip(sheet: PrintedSheet, x: float, bottom: float, size: float, size_name: str) -> None:
    """The strip (or the board) with its two readings and the distance between them."""
    near, far = 5.0, 8.0
    middle = bottom + 15
    outline = (
        complex(x, middle - far / 2),
        complex(x + size, middle - near / 2),
        complex(x + size, middle + near / 2),
        complex(x, middle + far / 2),
    )
    sheet.area(outline)
    a, b = x + size * 0.1, x + size * 0.9
    for place, name in ((a, "A"), (b, "B")):
        sheet.arrow(complex(place, middle + 9), complex(place, middle + 3.9))
        sheet.arrow(complex(place, middle - 9), complex(place, middle - 3.9))
        sheet.text(place, middle + 11.5, name, TITLE, "center")
    sheet.line(complex(a, middle - 10), complex(b, middle - 10), width=0.6)
    sheet.text((a + b) / 2, middle - 12.5, size_name, SMALL, "center")
    sheet.text((a + b) / 2, middle + 7.5, "fence end  A,  far end  B", SMALL, "center")


def draw_v_fence(sheet: PrintedSheet, x: float, bottom: float, size: float) -> None:
    """A V on two feet against a rear stop, from above: the leaf goes behind one foot, the other is the pivot."""
    stop_y = bottom + 13
    left, right, point = (
        complex(x + 5, stop_y + 4),
        complex(x + size - 5, stop_y + 4),
        complex(x + size / 2, stop_y + size * 0.42),
    )
    thick = 3.0
    for foot in (left, right):
        inward = 1.0 if foot is left else -1.0
        sheet.area((foot, foot + thick * 1.4 * inward, point - 1.4j * thick, point), WOOD)
        sheet.area(
            (
                foot - 2 * (1 - inward) / 2 * 2,
                foot + 2 * (1 + inward),
                foot + 2 * (1 + inward) - 4j,
                foot - 2 * (1 - inward) - 4j,
            ),
            SHADE,
        )
    sheet.area(
        (complex(x, stop_y - 3), complex(x + size, stop_y - 3), complex(x + size, stop_y), complex(x, stop_y)), SHADE
    )
    sheet.line(point - 0.42j * size + 4j, point + 8j, ACCENT, 1.6)
    sheet.text(point.real + 2, point.imag + 6, "blade", SMALL)
    sheet.text(x, point.imag + 2, "work", SMALL)
    sheet.text(left.real + 2, stop_y - 6, "left foot", SMALL, "center")
    sheet.text(right.real - 2, stop_y - 6, "right foot", SMALL, "center")
    sheet.line(complex(left.real + 2, stop_y - 8.6), complex(right.real - 2, stop_y - 8.6), width=0.6)
    sheet.text(x + size / 2, stop_y - 6, "rear stop", SMALL, "center")
    sheet.text(x + size / 2, stop_y - 11, "lever F, foot to foot", SMALL, "center")


def draw_square_fence(sheet: PrintedSheet, x: float, bottom: float, size: float, *, end_right: bool = False) -> None:
    """A fence across the table, from above: pivot at one end, the push at the other.

    end_right: whether it is pushed at its right end; else at its left.
    """
    y = bottom + 17
    sheet.area((complex(x, y), complex(x + size, y), complex(x + size, y + 4), complex(x, y + 4)), WOOD)
    centre = complex(x + size * 0.55, y)
    sheet.line(centre, centre + 16j, ACCENT, 1.6)
    sheet.text(centre.real + 2, y + 14, "blade", SMALL)
    sheet.text(x, y + 8, "work, beyond", SMALL)
    end, pivot = (x + size - 5, x + 5) if end_right else (x + 5, x + size - 5)
    sheet.arrow(complex(end, y - 0.5), complex(end, y - 7))
    sheet.arrow(complex(end, y - 7), complex(end, y - 0.5))
    sheet.axes.plot([pivot], [y + 2], marker="o", markersize=6, color=INK)
    sheet.text(end + (-2 if end_right else 2), y - 4, "end on the kept side", SMALL, "right" if end_right else "left")
    sheet.text(pivot, y - 4, "pivot", SMALL, "center")
    sheet.line(complex(end, y - 8.5), complex(pivot, y - 8.5), width=0.6)
    sheet.text((end + pivot) / 2, y - 11, "lever F, pivot to push", SMALL, "center")


def draw_slanted_fence(sheet: PrintedSheet, x: float, bottom: float, size: float, *, rising: bool) -> None:
    """One slanted fence and its pivot, from above; rising: it runs away from you toward the right."""
    slope = 0.55 if rising else -0.55
    middle = complex(x + size / 2, bottom + 20)
    ends = [middle + step * complex(1, slope) * size * 0.42 for step in (-1, 1)]
    across = 3j
    sheet.area((ends[0], ends[1], ends[1] - across, ends[0] - across), WOOD)
    sheet.line(middle - 10j, middle + 16j, ACCENT, 1.6)
    sheet.text(middle.real + 2, middle.imag + 15, "blade", SMALL)
    sheet.axes.plot([middle.real], [middle.imag - 1.5], marker="o", markersize=6, color=INK)
    sheet.text(
        middle.real + 3 if rising else middle.real - 3, middle.imag - 5, "pivot", SMALL, "left" if rising else "right"
    )
    sheet.text(x if rising else x + size, middle.imag + 8, "work", SMALL, "left" if rising else "right")
