"""Drawing that stays legible on pale wood, dark wood and paper: light strokes in a dark casing, text on plates."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.resources import files
from itertools import pairwise
from typing import Literal

import numpy as np
from PIL import Image, ImageDraw, ImageFont

Colour = tuple[int, int, int]
Weight = Literal["regular", "bold"]
Box = tuple[float, float, float, float]
Paragraph = tuple[str, Weight, float]

DARK: Colour = (16, 20, 28)
LIGHT: Colour = (255, 255, 255)
CASING_PX = 3.0


def font(size_px: float, weight: Weight = "regular") -> ImageFont.FreeTypeFont:
    """A typeface that comes with reportlab and holds the degree, plus-minus and Latin letters."""
    name = {"regular": "Vera.ttf", "bold": "VeraBd.ttf"}[weight]
    return ImageFont.truetype(str(files("reportlab").joinpath("fonts", name)), round(size_px))


def cased_line(draw: ImageDraw.ImageDraw, points: np.ndarray, width: float, colour: Colour = LIGHT) -> None:
    """A line through (N, 2) points with a thin dark casing."""
    path = [(float(x), float(y)) for x, y in points]
    draw.line(path, fill=DARK, width=round(width + 2 * CASING_PX), joint="curve")
    draw.line(path, fill=colour, width=round(width), joint="curve")


def dashed_line(
    draw: ImageDraw.ImageDraw, start: np.ndarray, end: np.ndarray, width: float, colour: Colour, dash: float
) -> None:
    """A cased line of dashes and gaps of the length `dash` (px)."""
    length = float(np.hypot(*(end - start)))
    cuts = [start + (end - start) * (min(at, length) / length) for at in np.arange(0.0, length + dash, dash)]
    for i, (a, b) in enumerate(pairwise(cuts)):
        if i % 2 == 0:
            cased_line(draw, np.array([a, b]), width, colour)


def arrow(draw: ImageDraw.ImageDraw, start: np.ndarray, end: np.ndarray, width: float, colour: Colour) -> None:
    """A cased arrow with its head at `end`; the head stays as large however short the arrow is."""
    along = (end - start) / max(float(np.hypot(*(end - start))), 1e-9)
    across = np.array([-along[1], along[0]])
    cased_line(draw, np.array([start, end - 3 * width * along]), width, colour)
    head = [
        tuple(p)
        for p in (end, end - 5 * width * along + 3 * width * across, end - 5 * width * along - 3 * width * across)
    ]
    draw.polygon(head, fill=colour, outline=DARK, width=max(1, round(width / 2)))


def ring(draw: ImageDraw.ImageDraw, centre: np.ndarray, radius: float, width: float, colour: Colour) -> None:
    """A small cased circle."""
    x, y = float(centre[0]), float(centre[1])
    for r, fill, thick in ((radius + CASING_PX, DARK, width + 2 * CASING_PX), (radius, colour, width)):
        draw.ellipse([x - r, y - r, x + r, y + r], outline=fill, width=round(thick))


def plate(
    draw: ImageDraw.ImageDraw,
    text: str,
    anchor: np.ndarray,
    outward: np.ndarray,
    typeface: ImageFont.FreeTypeFont,
    taken: Sequence[Box],
    size: tuple[int, int],
) -> Box:
    """Text on a dark plate beside `anchor`, in the direction `outward`; returns the plate's box.

    It lies clear of the boxes that are taken, and inside the picture, where there is room.
    """
    width = typeface.getlength(text) + typeface.size
    height = 1.5 * typeface.size
    unit = outward / max(float(np.hypot(*outward)), 1e-9)
    box = (0.0, 0.0, 0.0, 0.0)
    for step in range(8):
        reach = abs(unit[0]) * width / 2 + abs(unit[1]) * height / 2 + (0.5 + 0.6 * step) * typeface.size
        x = min(max(float(anchor[0] + unit[0] * reach), width / 2), size[0] - width / 2)
        y = min(max(float(anchor[1] + unit[1] * reach), height / 2), size[1] - height / 2)
        box = (x - width / 2, y - height / 2, x + width / 2, y + height / 2)
        if not any(_overlap(box, other) for other in taken):
            break
    draw.rounded_rectangle(box, radius=height / 4, fill=DARK, outline=LIGHT, width=max(1, round(typeface.size / 18)))
    draw.text(((box[0] + box[2]) / 2, (box[1] + box[3]) / 2), text, font=typeface, fill=LIGHT, anchor="mm")
    return box


def wrapped(text: str, typeface: ImageFont.FreeTypeFont, width_px: float) -> list[str]:
    """The text in lines no wider than `width_px`, broken between words."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and typeface.getlength(longer) > width_px:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def panel(paragraphs: Sequence[Paragraph], width_px: int) -> Image.Image:
    """Dark text on white, as wide as the picture: paragraphs of (text, weight, size in px)."""
    margin = width_px / 50
    lines = [
        (line, font(size, weight), size, i > 0)
        for text, weight, size in paragraphs
        for i, line in enumerate(wrapped(text, font(size, weight), width_px - 2 * margin))
    ]
    height = 1.5 * margin + sum(size * (1.3 if carried_on else 1.55) for _, _, size, carried_on in lines)
    image = Image.new("RGB", (width_px, round(height)), LIGHT)
    draw = ImageDraw.Draw(image)
    y = 0.0
    for line, typeface, size, carried_on in lines:
        y += size * (1.3 if carried_on else 1.55)
        draw.text((margin, y), line, font=typeface, fill=DARK, anchor="ls")
    return image


def _overlap(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
