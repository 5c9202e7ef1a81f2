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
from cutvision.reports.saw_figure import Pen, draw_scene, highest
from cutvision.reports.saw_scene import SawScene
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
# How wide a saw scene is, with what stands beside its fence.
SCENE_MM = 165.0


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
    """The test piece as it lies before you: cut toward you, corner away, the legs named as in pencil on the wood."""
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
    """The strip with its two widths and their spacing, and which piece of the board it is: sawn off last."""
    near, far = 5.0, 8.0
    middle = bottom + 12
    outline = (
        complex(x, middle - far / 2),
        complex(x + size, middle - near / 2),
        complex(x + size, middle + near / 2),
        complex(x, middle + far / 2),
    )
    sheet.area(outline)
    first, last = x + size * 0.1, x + size * 0.9
    for place, name, align in ((first, "fence end", "left"), (last, "far end", "right")):
        sheet.arrow(complex(place, middle + 8.4), complex(place, middle + 3.9))
        sheet.arrow(complex(place, middle - 8.4), complex(place, middle - 3.9))
        sheet.text(place + (1.5 if align == "left" else -1.5), middle + 7.2, name, SMALL, align)  # type: ignore[arg-type]
    sheet.line(complex(first, middle - 9.4), complex(last, middle - 9.4), width=0.6)
    sheet.fitted((first + last) / 2, middle - 11.6, size, size_name, SMALL, "center")
    _draw_which_strip(sheet, x + size / 2 - 22, middle + 11)


def _draw_which_strip(sheet: PrintedSheet, x: float, bottom: float) -> None:
    """The board, its edges numbered as they were cut; the fifth cut takes the strip off the first edge."""
    wide, tall, strip = 26.0, 15.0, 3.4
    sheet.area([complex(x + a, bottom + b) for a, b in ((0, 0), (wide, 0), (wide, tall), (0, tall))])
    sheet.area(
        [complex(x + wide + 1.4 + a, bottom + b) for a, b in ((0, 0), (strip, 0), (strip, tall), (0, tall))], ACCENT
    )
    places = (("1", wide - 2, tall / 2), ("2", wide / 2, tall - 2), ("3", 2.0, tall / 2), ("4", wide / 2, 2.0))
    for name, right, up in places:
        sheet.text(x + right, bottom + up, name, SMALL, "center")
    sheet.text(x + wide + strip + 2.6, bottom + tall / 2, "5th cut: this strip", SMALL)


def draw_saw(
    sheet: PrintedSheet, x: float, bottom: float, size: float, height: float, scene: SawScene, when: str
) -> None:
    """The saw scene, within size by height, with what is done under it. when: for which reading it is drawn."""
    low = min(point.imag for point in scene.face)
    lines = [when, *scene.ways]
    words = SMALL.line_mm * len(lines)
    scale = min(size / SCENE_MM, (height - words) / (30.0 - low + highest(scene)))
    foot = bottom + words
    draw_scene(Pen(sheet.axes, complex(x + size / 2, foot + scale * (30.0 - low)), scale, words=False), scene)
    for number, line in enumerate(lines):
        sheet.fitted(x + size / 2, foot - SMALL.line_mm * (number + 0.5), size + 4, line, SMALL, "center")
