"""The page as a grey PNG, each pixel as dark as the share of it that is black."""

from __future__ import annotations

import io
import math

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from cutvision.target.page import Area, Page, Point, Text, font_file, text_width_mm
from cutvision.units import MM_PER_INCH


def png_bytes(page: Page, dpi: float) -> bytes:
    """The page at `dpi`, which the file states."""
    out = io.BytesIO()
    Image.fromarray(grey_page(page, dpi)).save(out, "PNG", dpi=(dpi, dpi), optimize=True)
    return out.getvalue()


def grey_page(page: Page, dpi: float) -> np.ndarray:
    """(H, W) uint8, 255 for paper. (x, y) mm lie at dpi / 25.4 (x, y) - 0.5 px, pixel centres at whole numbers.

    The scale is exact: where the paper is no whole number of pixels, the last row or column is cut or stays white.
    """
    scale = dpi / MM_PER_INCH
    picture = np.full((round(page.height_mm * scale), round(page.width_mm * scale)), 255, dtype=np.uint8)
    for area in page.areas:
        left, top, covered = _coverage(area, scale)
        _darken(picture, left, top, (1 - area.grey) * covered)
    for text in page.texts:
        left, top, covered = _lettering(text, scale)
        _darken(picture, left, top, covered)
    return picture


def _darken(picture: np.ndarray, left: int, top: int, share: np.ndarray) -> None:
    """Takes light away in place; `share` (h, w) of black lies with its first pixel at (left, top) and may stick out."""
    x0, y0 = max(0, left), max(0, top)
    box = picture[y0 : top + share.shape[0], x0 : left + share.shape[1]]
    dark = np.rint(255 * share[y0 - top :, x0 - left :][: box.shape[0], : box.shape[1]])
    box[...] = np.clip(box - dark, 0, 255).astype(np.uint8)


def _coverage(area: Area, scale: float) -> tuple[int, int, np.ndarray]:
    """First pixel (left, top) and exact share (h, w) of each pixel that lies inside the area.

    Every edge adds, row by row, the signed area to its right; the sum over the loops is what lies inside.
    """
    loops = [[(scale * x, scale * y) for x, y in loop] for loop in area.loops]
    points = np.array([point for loop in loops for point in loop])
    left, top = (math.floor(v) for v in points.min(axis=0))
    wide, high = (math.ceil(v) for v in points.max(axis=0) - (left, top))
    covered = np.zeros((high, wide))
    for loop in loops:
        for (ax, ay), (bx, by) in zip(loop, loop[1:] + loop[:1], strict=True):
            _add_right_of((ax - left, ay - top), (bx - left, by - top), covered)
    return left, top, np.abs(covered)


def _add_right_of(a: Point, b: Point, covered: np.ndarray) -> None:
    """Adds to each pixel its area to the right of the edge a to b, negative when the edge runs up."""
    (ax, ay), (bx, by) = a, b
    if ay == by:
        return
    sign = 1.0 if by > ay else -1.0
    low, high = min(ay, by), max(ay, by)
    for row in range(math.floor(low), min(math.ceil(high), covered.shape[0])):
        y0, y1 = max(low, row), min(high, row + 1)
        x0, x1 = (ax + (bx - ax) * (y - ay) / (by - ay) for y in (y0, y1))
        covered[row] += sign * (y1 - y0) * _mean_right_of(x0, x1, covered.shape[1])


def _mean_right_of(x0: float, x1: float, width: int) -> np.ndarray:
    """For pixels 0 to width - 1 the share to the right of a point, averaged while it runs evenly from x0 to x1."""
    ends = np.arange(width + 1.0)
    if abs(x1 - x0) < 1e-9:
        left_of = np.maximum(ends - x0, 0.0)
    else:  # the mean of max(end - x, 0) over x is a difference of squares
        left_of = (np.maximum(ends - x0, 0.0) ** 2 - np.maximum(ends - x1, 0.0) ** 2) / (2 * (x1 - x0))
    return np.diff(left_of)


def _lettering(text: Text, scale: float) -> tuple[int, int, np.ndarray]:
    """First pixel (left, top) and share of black (h, w) of a line of text, set letter by letter as the PDF sets it."""
    size = text.size_mm * scale
    face = ImageFont.truetype(font_file(bold=text.bold), size, layout_engine=ImageFont.Layout.BASIC)
    above, pad = math.ceil(size), 2
    wide, high = math.ceil(text.width_mm * scale) + 2 * pad, above + math.ceil(0.4 * size)
    x, y = text.x * scale, text.y * scale
    # where the text starts inside a pixel, along its own direction and across it
    along, across = {0: (x, y), 1: (-y, x), -1: (y, -x)}[text.turn]
    start, base = math.floor(along), math.floor(across)
    picture = Image.new("L", (wide, high), 0)
    pen = ImageDraw.Draw(picture)
    for i, letter in enumerate(text.words):
        before = text_width_mm(text.words[:i], text.size_pt, bold=text.bold) * scale
        pen.text((pad + along - start + before, above + across - base), letter, fill=255, font=face, anchor="ls")
    share = np.rot90(np.asarray(picture) / 255, text.turn)
    u, v = start - pad, base - above
    return {0: (u, v), 1: (v, -(u + wide)), -1: (-(v + high), u)}[text.turn] + (share,)
