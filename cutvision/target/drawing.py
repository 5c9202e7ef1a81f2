"""What is printed on the reference sheet: the ring of squares, and in the margins how to print, check and use it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cutvision.target.margins import draw_margins, sheet_id
from cutvision.target.page import Area, Item, Page, rectangle
from cutvision.target.sheet import DICTIONARY_BITS, MARKER_MM, SQUARE_MM, Sheet


def draw_sheet(sheet: Sheet) -> Page:
    """The whole page of one paper."""
    title = f"cutvision reference sheet {sheet_id(sheet)}"
    return Page(sheet.paper_width_mm, sheet.paper_height_mm, title, (*_ring(sheet), *draw_margins(sheet)))


def marker_bits(marker_id: int) -> np.ndarray:
    """(7, 7) bool, True for black, border included, of a marker of DICT_5X5_1000."""
    import cv2  # noqa: PLC0415 - the sheet's geometry is wanted without it

    side = DICTIONARY_BITS + 2
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
    image = np.asarray(cv2.aruco.generateImageMarker(dictionary, marker_id, side, borderBits=1))
    return image.reshape(side, side) < 128


def outline(black: np.ndarray) -> tuple[tuple[tuple[int, int], ...], ...]:
    """Loops round the black cells of a (rows, columns) bool: corners in cells, clockwise, holes the other way round.

    Cells become whole areas, so that no viewer shows a seam where two black cells meet.
    """
    edges: set[tuple[tuple[int, int], tuple[int, int]]] = set()
    for row, column in np.argwhere(black).tolist():
        corners = [(column, row), (column + 1, row), (column + 1, row + 1), (column, row + 1)]
        for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
            if (b, a) in edges:
                edges.remove((b, a))
            else:
                edges.add((a, b))
    onward: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for a, b in sorted(edges):
        onward.setdefault(a, []).append(b)
    loops = []
    while onward:
        loop = [min(onward)]
        while loop[-1] in onward:
            here = loop[-1]
            loop.append(onward[here].pop())
            if not onward[here]:
                del onward[here]
            if loop[-1] == loop[0]:
                break
        loops.append(_without_straight_corners(loop[:-1]))
    return tuple(loops)


def _without_straight_corners(loop: Sequence[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    kept = []
    for i, (x, y) in enumerate(loop):
        (ax, ay), (bx, by) = loop[i - 1], loop[(i + 1) % len(loop)]
        if (x - ax) * (by - y) != (y - ay) * (bx - x):
            kept.append((x, y))
    return tuple(kept)


def _ring(sheet: Sheet) -> list[Item]:
    """The checkered ring with its markers."""
    x0, y0 = sheet.margin_mm
    items: list[Item] = []
    for column, row in sheet.black_squares:
        x, y = x0 + column * SQUARE_MM, y0 + row * SQUARE_MM
        items.append(Area((rectangle(x, y, x + SQUARE_MM, y + SQUARE_MM),)))
    cell = MARKER_MM / (DICTIONARY_BITS + 2)
    for marker_id in sheet.marker_squares:
        left, top = sheet.marker_corners_mm(marker_id)[0].tolist()
        loops = outline(marker_bits(marker_id))
        items.append(Area(tuple(tuple((x0 + left + cell * c, y0 + top + cell * r) for c, r in loop) for loop in loops)))
    return items
