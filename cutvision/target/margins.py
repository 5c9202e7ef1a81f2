"""What the sheet's margins say: how to print it, check it with a rule, and lay a piece on it.

A margin is a row of blocks, each drawn about its own top left corner; at the sides the row is turned by a quarter turn.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from cutvision.target.page import Area, Item, Point, Text, moved, rectangle
from cutvision.target.sheet import Sheet
from cutvision.units import MM_PER_INCH

SHEET_VERSION = 1  # counts up when anything on the page changes
UNPRINTED_EDGE_MM = 6.2  # no printer in common use needs more (common practice, no source)
PIECE_GAP_MM = 3.0  # white paper wanted between a piece and the squares
FRAME_GAP_MM = 1.6  # margin text stays clear of the squares by this
CAP, DESCENT, PITCH = 0.76, 0.24, 1.36  # of the type size: a tall letter's height, what hangs below it, line to line
HAIRLINE_MM = 0.2
TICK_MM = 2.4  # length of the strokes that show a rule where the frame ends
GREY = 0.6


def sheet_id(sheet: Sheet) -> str:
    """The name printed on the sheet: which paper, which version of the page."""
    return f"cutvision-{sheet.paper}-{SHEET_VERSION}"


def largest_leg_two_photos_mm(sheet: Sheet) -> float:
    """Legs of the largest 45 deg miter that can lie along the window's sides and be turned by a quarter turn."""
    left, top, right, bottom = sheet.window_mm
    return math.floor(min(right - left, bottom - top) - 2 * PIECE_GAP_MM)


def largest_leg_one_photo_mm(sheet: Sheet) -> float:
    """Legs of the largest 45 deg miter that can lie with its cut along the window's long side."""
    left, top, right, bottom = sheet.window_mm
    by_length = (right - left - 2 * PIECE_GAP_MM) / math.sqrt(2)
    by_height = (bottom - top - 2 * PIECE_GAP_MM) * math.sqrt(2)
    return math.floor(min(by_length, by_height))


def printing_advice(sheet: Sheet) -> str:
    """How to print the sheet and check the print, in a few lines for a terminal."""
    diagonal_mm = math.hypot(sheet.width_mm, sheet.height_mm)
    return (
        f"Print it on {sheet.paper} from a computer at 100 % (actual size, never fit to page),\n"
        "on heavy matt paper. Tape it flat on a board. Read with a steel rule from outer\n"
        "corner to outer corner of the squares, and note:\n"
        f"  long side, drawn {_both_units(sheet.width_mm)}\n"
        f"  short side, drawn {_both_units(sheet.height_mm)}\n"
        f"  both diagonals, drawn {_both_units(diagonal_mm)}\n"
        "Before you lift an offcut: saw off, unplugged and blade stopped. Photograph it\n"
        "away from the saw."
    )


def _both_units(length_mm: float) -> str:
    return f"{length_mm:.1f} mm ({length_mm / MM_PER_INCH:.3f} in)"


def draw_margins(sheet: Sheet) -> list[Item]:
    """Everything printed outside the ring."""
    side, flat = sheet.margin_mm
    band_side, band_flat = (margin - UNPRINTED_EDGE_MM - FRAME_GAP_MM for margin in (side, flat))
    inset = 2 * HAIRLINE_MM + 1.5  # past the ticks at the frame's corners
    left, top = side + inset, flat + inset
    along, across = sheet.width_mm - 2 * inset, sheet.height_mm - 2 * inset
    size_pt = 7.2 if sheet.width_mm < 300 else 8.8
    right_edge, bottom = sheet.paper_width_mm - UNPRINTED_EDGE_MM, sheet.paper_height_mm - flat
    return [
        *moved(_row(_how_to_print_and_lay(sheet, band_flat, size_pt), along), left, UNPRINTED_EDGE_MM),
        *moved(_row(_check(sheet, band_flat, size_pt), along), left, bottom + FRAME_GAP_MM),
        *moved(_row(_fence_end(band_side, size_pt), across), UNPRINTED_EDGE_MM, bottom - inset, 1),
        *moved(_row(_photograph(band_side, size_pt), across), right_edge, top, -1),
        *_corner_marks(side, flat, sheet.paper_width_mm - side, bottom),
    ]


@dataclass(frozen=True, slots=True)
class _Block:
    """A part of a margin with its top left corner at (0, 0)."""

    width: float
    items: tuple[Item, ...]


def _beside(*blocks: _Block, gap: float) -> _Block:
    items: list[Item] = []
    x = 0.0
    for block in blocks:
        items += moved(block.items, x, 0.0)
        x += block.width + gap
    return _Block(x - gap, tuple(items))


def _row(blocks: Sequence[_Block], length: float) -> list[Item]:
    """Blocks spread over `length`, the first and the last flush with its ends."""
    room = (length - math.fsum(block.width for block in blocks)) / max(1, len(blocks) - 1)
    if room < 0:
        raise ValueError(f"a margin's blocks are {-room * max(1, len(blocks) - 1):.1f} mm too long for it")
    return list(_beside(*blocks, gap=room).items)


def _lines(height: float, *lines: tuple[str, float, bool]) -> _Block:
    """Lines of (words, size in pt, bold), one below the other, centred in a band of `height`."""
    texts = [Text(0.0, 0.0, words, size, bold) for words, size, bold in lines]
    drops = [0.0] + [PITCH * text.size_mm for text in texts[1:]]
    tall = CAP * texts[0].size_mm + math.fsum(drops) + DESCENT * texts[-1].size_mm
    if tall > height:
        raise ValueError(f"lines {tall:.1f} mm tall do not fit into a margin of {height:.1f} mm")
    y = (height - tall) / 2 + CAP * texts[0].size_mm
    items: list[Item] = []
    for text, drop in zip(texts, drops, strict=True):
        y += drop
        items += moved([text], 0.0, y)
    return _Block(max(text.width_mm for text in texts), tuple(items))


def _bar(a: Point, b: Point, width: float) -> Area:
    """A straight stroke from a to b."""
    (ax, ay), (bx, by) = a, b
    long = math.hypot(bx - ax, by - ay)
    nx, ny = -(by - ay) / long * width / 2, (bx - ax) / long * width / 2
    return Area((((ax - nx, ay - ny), (bx - nx, by - ny), (bx + nx, by + ny), (ax + nx, ay + ny)),))


def _hollow(left: float, top: float, right: float, bottom: float, line: float) -> Area:
    """A rectangle's outline, its line inside."""
    inner = rectangle(left + line, top + line, right - line, bottom - line)
    return Area((rectangle(left, top, right, bottom), inner[::-1]))


def _window_picture(sheet: Sheet, height: float, lies: str) -> _Block:
    """The window with the largest miter piece in it. lies: where the square corner points."""
    left, top, right, bottom = sheet.window_mm
    wide, high, gap = (right - left) * height / (bottom - top), height, 0.7
    leg, half = high - 2 * gap, min(wide / 2, high) - gap
    triangle = {
        "top left": ((gap, gap), (gap + leg, gap), (gap, gap + leg)),
        "top right": ((wide - gap, gap), (wide - gap, gap + leg), (wide - gap - leg, gap)),
        "up": ((wide / 2 - half, high - gap), (wide / 2, high - gap - half), (wide / 2 + half, high - gap)),
    }[lies]
    return _Block(wide, (_hollow(0, 0, wide, high, HAIRLINE_MM), Area((triangle,), GREY)))


def _arrow(height: float) -> _Block:
    """A small arrowhead to the right."""
    y = height / 2
    return _Block(1.4, (Area((((0, y - 1.1), (1.4, y), (0, y + 1.1)),)),))


def _how_to_print_and_lay(sheet: Sheet, height: float, size_pt: float) -> list[_Block]:
    pair_mm, single_mm = largest_leg_two_photos_mm(sheet), largest_leg_one_photo_mm(sheet)
    high = min(height - 0.4, 9.5)
    drop = (height - high) / 2

    def window(lies: str) -> _Block:
        block = _window_picture(sheet, high, lies)
        return _Block(block.width, tuple(moved(block.items, 0.0, drop)))

    return [
        _lines(
            height, ("cutvision reference sheet", size_pt * 1.2, True), (f"sheet {sheet_id(sheet)}", size_pt, False)
        ),
        _lines(
            height, ("Print at 100 % (actual size),", size_pt, True), ("never \u201cfit to page\u201d.", size_pt, False)
        ),
        _beside(
            window("top left"),
            _arrow(height),
            window("top right"),
            _lines(
                height,
                ("Miter, best: two photos, a quarter", size_pt, False),
                (f"turn apart. Legs to {pair_mm:.0f} mm.", size_pt, False),
            ),
            gap=1.4,
        ),
        _beside(
            window("up"),
            _lines(
                height,
                ("or one photo, cut along the", size_pt, False),
                (f"long side. Legs to {single_mm:.0f} mm.", size_pt, False),
            ),
            gap=1.4,
        ),
    ]


def _field(height: float, size_pt: float, name: str, drawn: str) -> _Block:
    """What to read, how long it is drawn, and a line to write the reading on."""
    label = _lines(height, (name, size_pt, False), (drawn, size_pt, False))
    below = max(item.y for item in label.items if isinstance(item, Text)) + 0.4
    width = size_pt * 2.5
    return _beside(label, _Block(width, (_bar((0.0, below), (width, below), HAIRLINE_MM),)), gap=1.2)


def _check(sheet: Sheet, height: float, size_pt: float) -> list[_Block]:
    diagonal_mm = math.hypot(sheet.width_mm, sheet.height_mm)
    return [
        _lines(height, ("Check with a rule", size_pt, True), ("corner to corner, in mm", size_pt, False)),
        _field(height, size_pt, "long side", f"A\u2013B ({sheet.width_mm:.0f})"),
        _field(height, size_pt, "short side", f"A\u2013D ({sheet.height_mm:.0f})"),
        _field(height, size_pt, "diagonal down", f"A\u2013C ({diagonal_mm:.1f})"),
        _field(height, size_pt, "diagonal up", f"D\u2013B ({diagonal_mm:.1f})"),
        _field(height, size_pt, "read on", "(date)"),
    ]


def _strip_picture(height: float) -> _Block:
    """A strip as it lies on the sheet, for a band that reads upward: dark fence end to the left, far end torn."""
    wide, dark = 0.4 * height, 0.3 * height
    torn = ((0.0, height), (0.3 * wide, height - 0.5), (0.65 * wide, height - 0.1), (wide, height - 0.7))
    pale = Area((((0.0, dark), *torn, (wide, dark)),), 0.8)
    return _Block(wide, (Area((rectangle(0.0, 0.0, wide, dark),)), pale))


def _fence_end(height: float, size_pt: float) -> list[_Block]:
    return [
        _beside(
            _strip_picture(height),
            _lines(
                height,
                ("FENCE END of a strip goes to this side", size_pt * 1.2, True),
                ("Pencil F on that end before you lift the strip.", size_pt, False),
            ),
            gap=2.0,
        ),
        _lines(
            height,
            ("Miter: pencil L and R on the left and right leg", size_pt, False),
            ("as the piece lay, cut toward you.", size_pt, False),
        ),
    ]


def _photograph(height: float, size_pt: float) -> list[_Block]:
    return [
        _lines(
            height,
            ("Before you lift a piece: saw off, unplugged,", size_pt, True),
            ("blade stopped. Photograph away from the saw.", size_pt, True),
        ),
        _lines(
            height,
            ("Tape the sheet flat on a board. One piece, face up, in the", size_pt, False),
            ("window. From above, every square in view, no flash.", size_pt, False),
        ),
    ]


def _corner_marks(left: float, top: float, right: float, bottom: float) -> list[Item]:
    """Strokes in the prolongation of the frame's sides, and a letter at each outer corner, for the rule."""
    items: list[Item] = []
    size_pt = 10.0
    for name, x, y, sx, sy in (
        ("A", left, top, -1, -1),
        ("B", right, top, 1, -1),
        ("C", right, bottom, 1, 1),
        ("D", left, bottom, -1, 1),
    ):
        near, far = FRAME_GAP_MM, FRAME_GAP_MM + TICK_MM
        items.append(_bar((x + sx * near, y), (x + sx * far, y), HAIRLINE_MM))
        items.append(_bar((x, y + sy * near), (x, y + sy * far), HAIRLINE_MM))
        letter = Text(0.0, 0.0, name, size_pt, bold=True)
        middle = FRAME_GAP_MM + TICK_MM
        items += moved([letter], x + sx * middle - letter.width_mm / 2, y + sy * middle + CAP * letter.size_mm / 2)
    return items
