"""The printed sheet as a share of ink at any place, averaged over a pixel's footprint without moving an edge."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from cutvision.target.drawing import marker_bits
from cutvision.target.sheet import SQUARE_MM, Sheet

# Every edge of the ring lies on this lattice: squares of 10 mm, markers 1.5 mm inside them, bits of 1 mm.
CELL_MM = 0.5
_PAD = 2
SURFACE_MM = 0.25


@lru_cache(maxsize=8)
def ring_cells(sheet: Sheet) -> np.ndarray:
    """(rows, columns) uint8, 1 where the drawing has ink, a value a lattice cell, `_PAD` white cells all round."""
    per = round(SQUARE_MM / CELL_MM)
    cells = np.zeros((sheet.rows * per, sheet.columns * per), np.uint8)
    for column, row in sheet.black_squares:
        cells[row * per : (row + 1) * per, column * per : (column + 1) * per] = 1
    for marker_id in sheet.marker_squares:
        left, top = (round(v / CELL_MM) for v in sheet.marker_corners_mm(marker_id)[0])
        ink = np.kron(marker_bits(marker_id).astype(np.uint8), np.ones((2, 2), np.uint8))
        cells[top : top + len(ink), left : left + len(ink)] = ink
    return np.pad(cells, _PAD)


def ink_share(sheet: Sheet, x: np.ndarray, y: np.ndarray, half_x_mm: float, half_y_mm: float) -> np.ndarray:
    """Share of ink at nominal places, float32 arrays of one shape; each lattice edge is a ramp `2 half` wide about it.

    The ramps are symmetric, so every edge and saddle point stays where it is; they must be narrower than a cell.
    """
    cells = ring_cells(sheet)
    rows, columns = cells.shape
    left, wx = _ramp(x, half_x_mm, columns)
    top, wy = _ramp(y, half_y_mm, rows)
    flat = cells.ravel().astype(np.float32)
    index = top * np.int32(columns) + left
    upper = flat[index]
    upper += (flat[index + 1] - upper) * wx
    index += np.int32(columns)
    lower = flat[index]
    lower += (flat[index + 1] - lower) * wx
    upper += (lower - upper) * wy
    return np.asarray(upper)


def _ramp(place: np.ndarray, half_mm: float, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Cell before the nearest lattice line, and how far past that line (0 to 1) the footprint reaches."""
    cell = place * np.float32(1 / CELL_MM) + np.float32(_PAD)
    line = np.clip(np.rint(cell), 1, count - 1)
    half = min(half_mm / CELL_MM, 0.49)
    share = np.clip((cell - line) * np.float32(0.5 / half) + np.float32(0.5), 0, 1)
    return line.astype(np.int32) - np.int32(1), share


@lru_cache(maxsize=8)
def margin_picture(sheet: Sheet) -> np.ndarray:
    """(H, W) float32 share of paper left white by the margin's print, `SURFACE_MM` a pixel over the paper."""
    size = (round(sheet.paper_width_mm / SURFACE_MM), round(sheet.paper_height_mm / SURFACE_MM))
    image = Image.new("L", size, 255)
    draw = ImageDraw.Draw(image)
    (mx, my), right = sheet.margin_mm, size[0]
    font = ImageFont.load_default(size=3.2 / SURFACE_MM)
    draw.text((mx / SURFACE_MM, (my - 5.5) / SURFACE_MM), f"offcut sheet {sheet.paper}", fill=40, font=font)
    draw.text((right * 0.55, (my - 5.5) / SURFACE_MM), "print at 100 %, tape down flat", fill=40, font=font)
    y = size[1] - (my - 4) / SURFACE_MM
    draw.line([(mx / SURFACE_MM, y), ((mx + 100) / SURFACE_MM, y)], fill=40, width=2)
    return np.asarray(image, np.float32) / np.float32(255)


def surface_picture(sheet: Sheet, dust: float, seed: int, *, plain: bool) -> np.ndarray:
    """(H, W) float32 factor on the paper's albedo: margin print, faint mottle, specks of dust (`dust` per cm2)."""
    white = margin_picture(sheet)
    if plain:
        return np.ones_like(white)
    rng = np.random.default_rng([seed, 4])
    small = rng.standard_normal((white.shape[0] // 8, white.shape[1] // 8), dtype=np.float32)
    surface = white * (1 + 0.006 * cv2.resize(small, white.shape[::-1], interpolation=cv2.INTER_LINEAR))
    count = int(dust * sheet.paper_width_mm * sheet.paper_height_mm / 100)
    specks = np.zeros_like(white)
    specks[rng.integers(0, white.shape[0], count), rng.integers(0, white.shape[1], count)] = rng.uniform(0.3, 2, count)
    return np.asarray(surface * np.clip(1 - cv2.GaussianBlur(specks, (0, 0), 0.9), 0.35, 1))
