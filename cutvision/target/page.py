"""A page as a list of shapes and texts in millimetres, which the PDF, SVG and PNG writers share.

Frame: origin at the paper's top left corner, x right, y down.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any, Literal

from cutvision.units import MM_PER_INCH

Point = tuple[float, float]

MM_PER_PT = MM_PER_INCH / 72


@dataclass(frozen=True, slots=True)
class Area:
    """A filled area. Areas of a page never overlap, so that every writer may paint them in any order.

    loops: closed loops of (x, y) in mm; holes run the other way round than the outside.
    grey: 0 black, 1 white.
    """

    loops: tuple[tuple[Point, ...], ...]
    grey: float = 0.0


@dataclass(frozen=True, slots=True)
class Text:
    """One line of black text that starts at (x, y) on its baseline.

    turn: quarter turns counterclockwise: 0 reads to the right, 1 upward, -1 downward.
    """

    x: float
    y: float
    words: str
    size_pt: float
    bold: bool = False
    turn: Literal[-1, 0, 1] = 0

    @property
    def size_mm(self) -> float:
        return self.size_pt * MM_PER_PT

    @property
    def width_mm(self) -> float:
        return text_width_mm(self.words, self.size_pt, bold=self.bold)


Item = Area | Text


@dataclass(frozen=True, slots=True)
class Page:
    """A whole page: paper size in mm, a title for the file's header, and what is printed."""

    width_mm: float
    height_mm: float
    title: str
    items: tuple[Item, ...]

    @property
    def areas(self) -> tuple[Area, ...]:
        return tuple(item for item in self.items if isinstance(item, Area))

    @property
    def texts(self) -> tuple[Text, ...]:
        return tuple(item for item in self.items if isinstance(item, Text))


def font_file(*, bold: bool) -> str:
    """The typeface (Bitstream Vera, which comes with reportlab): the same on every machine."""
    return str(files("reportlab") / "fonts" / ("VeraBd.ttf" if bold else "Vera.ttf"))


@cache
def _face(*, bold: bool) -> Any:
    from reportlab.pdfbase.ttfonts import TTFont  # noqa: PLC0415 - heavy, and not needed to read a photo

    return TTFont("VeraBd" if bold else "Vera", font_file(bold=bold))


def text_width_mm(words: str, size_pt: float, *, bold: bool = False) -> float:
    """How long a line of text runs, without kerning."""
    return float(_face(bold=bold).stringWidth(words, size_pt)) * MM_PER_PT


def rectangle(left: float, top: float, right: float, bottom: float) -> tuple[Point, ...]:
    """A loop, clockwise as seen."""
    return (left, top), (right, top), (right, bottom), (left, bottom)


def moved(items: Iterable[Item], x: float, y: float, turn: Literal[-1, 0, 1] = 0) -> list[Item]:
    """Items drawn about (0, 0), turned by quarter turns counterclockwise and carried to (x, y)."""

    def carried(point: Point) -> Point:
        u, v = point
        return {0: (x + u, y + v), 1: (x + v, y - u), -1: (x - v, y + u)}[turn]

    result: list[Item] = []
    for item in items:
        if isinstance(item, Area):
            result.append(replace(item, loops=tuple(tuple(carried(p) for p in loop) for loop in item.loops)))
        else:
            at = carried((item.x, item.y))
            result.append(replace(item, x=at[0], y=at[1], turn=turn))
    return result
