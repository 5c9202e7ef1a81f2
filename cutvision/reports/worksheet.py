"""A worksheet to print: blanks for the readings, the arithmetic in order, and which way to move; one side."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from cutvision.correction import (
    Correction,
    Jig,
    ReadingCare,
    correct_miter_from_legs,
    correct_square_from_widths,
    typed_corner,
    typed_distance,
    typed_legs,
    typed_widths,
)
from cutvision.correction.miter import CORNER_RAD
from cutvision.correction.square import STRIP_TURNS
from cutvision.reports.cautions import cautions
from cutvision.reports.printed_sheet import (
    BODY,
    FAINT,
    HEADING,
    SMALL,
    TITLE,
    Look,
    Paper,
    PrintedSheet,
    draw_miter_piece,
    draw_saw,
    draw_strip,
)
from cutvision.reports.saw_scene import scene_of_plan
from cutvision.units import MM_PER_INCH

_ROW_MM = 8.4
_BOX_MM = 7.0
_LETTER = Look(10.5, bold=True)
_FORMULA = Look(9.0, bold=True)
_LEVER_MM = 380.0
_LEGS_MM = (50.0, 75.0, 100.0, 150.0, 200.0)
_DISTANCES_MM = (150.0, 250.0, 400.0, 600.0, 900.0)
_EXAMPLE_LEGS_MM = (101.62, 101.35)
_EXAMPLE_WIDTHS_MM = (24.91, 24.78)
_EXAMPLE_BETWEEN_MM = 380.0
_EXAMPLE_LEVER_MM = 560.0
_IN_INCHES = "All may be read in inches instead: the move then comes out in inches."
_SIDE = {"toward-work": "the end on the side you keep goes away from you", "away-from-work": "it goes toward you"}
_HOLD = (
    "Hold the caliper still, slide the piece up until it stops, jaws at the same depth; do not squeeze soft wood; "
    "no burr, no dust."
)


@dataclass(frozen=True, slots=True)
class _Line:
    """One line of the arithmetic: what is done, the formula, the unit of its box (empty for a plain number)."""

    words: str
    formula: str
    unit: str


def miter_worksheet(paper: Paper) -> PrintedSheet:
    """The sheet for a 45 deg miter from two legs.

    tan(error) = (right - left) / (right + left) for a right corner, so that the move, that times the distance from foot
    to foot, takes no table (closed form).
    """
    sheet = PrintedSheet(paper)
    top = _head(sheet, "Miter fence, 45 deg: two legs of a test piece")
    split = sheet.left_mm + 112
    middle = _readings(
        sheet, top, "1  Read each leg three times (mm)", ("left leg (L)", "right leg (R)"), "from foot to foot"
    )
    draw_miter_piece(sheet, split + 12, top - 42, 50)
    lines = (
        _Line("difference", "longer leg - shorter leg  =", "mm"),
        _Line("sum", "left leg + right leg  =", "mm"),
        _Line("ratio, five places", "difference / sum  =", ""),
        _Line("move", "ratio x foot to foot  =", "mm"),
        _Line("the same", "move / 25.4  =", "in"),
        _Line("fence's error", "ratio x 57.3  =", "deg"),
    )
    found, example = _miter_example()
    below = _arithmetic(sheet, middle, lines, f"Example: {example}")
    _draw_example(sheet, split + 8, below + 9, found)
    without = (
        "No calculator at hand: when it is as far from foot to foot as both legs together are long, the shim is the "
        f"difference itself; twice as far, twice the shim. {_IN_INCHES}"
    )
    below = sheet.paragraph(sheet.left_mm, below, sheet.right_mm - sheet.left_mm, without, BODY) - 2
    columns = [(f"{leg:g} mm", f"{least_miter_ratio(leg):.5f}") for leg in _LEGS_MM]
    below = _worth(sheet, below, "mean leg, half the sum", columns)
    way = (
        ("Left leg short:", "shim behind the fence's left foot; it goes away from you, the fence turns clockwise."),
        ("Right leg short:", "shim behind its right foot; it goes away from you, the fence turns counterclockwise."),
        ("Both legs alike:", "leave the fence alone."),
    )
    also = (
        "A single fence turns the same way, by the move at that distance from its pivot, at right angles to its own "
        "face. Then bring a V's point back to the kerf."
    )
    below = _ways(sheet, below, way, also)
    below = _after(sheet, below, ("left leg", "right leg", "difference", "ratio"))
    holds = (
        "a miter of 45 deg, the piece a triangle with two whole tips and a corner of 90 deg to 0.05 deg;",
        "legs read face up, cut toward you, with one caliper; the distance from foot to foot, not along an arm;",
        "errors up to 1 deg (the move is exact, the error good to 0.001 deg); this arm alone: the other needs its "
        "own piece.",
    )
    _foot(sheet, below, holds)
    return sheet


def square_worksheet(paper: Paper) -> PrintedSheet:
    """The sheet for a square fence from the strip sawn off last, or the board's own width.

    error = difference / spacing / turns to first order, the move that times the distance from the pivot; 0.04 % less
    than exact at 0.5 deg (closed form, tan(4 e) / (4 tan e)).
    """
    sheet = PrintedSheet(paper)
    top = _head(sheet, "Square fence: a strip after turned cuts")
    split = sheet.left_mm + 112
    middle = _readings(
        sheet,
        top,
        "1  Read each width three times (mm)",
        ("fence end", "far end"),
        "pivot to push",
        "spacing",
    )
    draw_strip(sheet, split + 8, top - 42, 62, "spacing, along the strip")
    lines = (
        _Line("difference", "wider end - narrower end  =", "mm"),
        _Line("4 for a strip, 2 for a board", "quarter turns  =", ""),
        _Line("ratio, six places", "difference / spacing / turns  =", ""),
        _Line("move", "ratio x pivot to push  =", "mm"),
        _Line("the same", "move / 25.4  =", "in"),
        _Line("fence's error", "ratio x 57.3  =", "deg"),
    )
    found, example = _square_example()
    below = _arithmetic(sheet, middle, lines, f"Example: {example}")
    _draw_example(sheet, split + 8, below + 9, found)
    without = (
        "No calculator at hand: when it is four times as far from pivot to push as the spacing, a strip's difference "
        f"is the move itself; half as far, half the move. {_IN_INCHES}"
    )
    below = sheet.paragraph(sheet.left_mm, below, sheet.right_mm - sheet.left_mm, without, BODY) - 2
    columns = [(f"{distance:g} mm", f"{least_square_ratio(distance, STRIP_TURNS):.6f}") for distance in _DISTANCES_MM]
    below = _worth(sheet, below, "spacing (strip)", columns)
    way = (
        ("Strip wider at the fence end:", "the fence's end on the side you keep goes away from you, toward the work."),
        ("Narrower at the fence end:", "that end goes toward you, away from the work."),
        ("The board:", "the other way round; a board wider at the fence end: toward you."),
    )
    below = _ways(
        sheet,
        below,
        way,
        "A left end that goes away from you turns the fence clockwise, a right end counterclockwise.",
    )
    below = _after(sheet, below, ("fence end", "far end", "difference", "ratio"))
    holds = (
        "a board turned a quarter turn after each cut, always the same way, the edge just cut against the fence;",
        "4 turns from the fifth cut on, however many follow; the fence end lay at the fence in the last cut;",
        "errors up to 0.5 deg (the move is then within 0.05 % of exact); spacing and pivot to push known to 1 mm.",
    )
    _foot(sheet, below, holds)
    return sheet


def least_miter_ratio(leg_mm: float) -> float:
    """The least ratio that is worth a move, for a piece with legs so long; see `_least_ratio`."""
    return _least_ratio(_miter((leg_mm, leg_mm), ReadingCare()))


def least_square_ratio(between_mm: float, turns: int) -> float:
    """The least ratio that is worth a move, for widths read so far apart; see `_least_ratio`."""
    return _least_ratio(_square((25.0, 25.0), between_mm, turns, _EXAMPLE_LEVER_MM))


def _least_ratio(found: Correction) -> float:
    """The tangent of the larger of uncertainty and tolerance: up to there the fence is left as it is."""
    return math.tan(max(found.decision.bound_rad, found.decision.tolerance_rad))


def _draw_example(sheet: PrintedSheet, x: float, bottom: float, found: Correction) -> None:
    scene = scene_of_plan(found)
    if scene is not None:
        draw_saw(sheet, x, bottom, 62, 80, scene, "The example's move:")


def _miter(legs_mm: tuple[float, float], care: ReadingCare) -> Correction:
    left, right = typed_legs(*legs_mm, care)
    return correct_miter_from_legs(
        left, right, typed_corner(CORNER_RAD, care), Jig(typed_distance(_LEVER_MM, "lever", care))
    )


def _square(widths_mm: tuple[float, float], between_mm: float, turns: int, lever_mm: float) -> Correction:
    care = ReadingCare()
    at_fence, far_end = typed_widths(*widths_mm, care)
    between, lever = typed_distance(between_mm, "between", care), typed_distance(lever_mm, "lever", care)
    return correct_square_from_widths(at_fence, far_end, between, Jig(lever), turns=turns)


def _miter_example() -> tuple[Correction, str]:
    left, right = _EXAMPLE_LEGS_MM
    found = _miter(_EXAMPLE_LEGS_MM, ReadingCare())
    move = found.fence_move.value
    return found, (
        f"legs {left} and {right}, {_LEVER_MM:g} mm from foot to foot: difference {abs(left - right):.2f}, sum "
        f"{left + right:.2f}, ratio {math.tan(abs(found.angle_error.value)):.5f}, move {move:.3f} mm "
        f"({move / MM_PER_INCH:.4f} in), error {abs(math.degrees(found.angle_error.value)):.3f} deg; the "
        f"{found.side} leg is short."
    )


def _square_example() -> tuple[Correction, str]:
    at_fence, far_end = _EXAMPLE_WIDTHS_MM
    found = _square(_EXAMPLE_WIDTHS_MM, _EXAMPLE_BETWEEN_MM, STRIP_TURNS, _EXAMPLE_LEVER_MM)
    move = found.fence_move.value
    return found, (
        f"strip {at_fence} at the fence end, {far_end} at the far end, spacing {_EXAMPLE_BETWEEN_MM:g}, "
        f"{_EXAMPLE_LEVER_MM:g} mm from pivot to push: difference {at_fence - far_end:.2f}, ratio "
        f"{math.tan(abs(found.angle_error.value)):.6f}, move {move:.3f} mm ({move / MM_PER_INCH:.4f} in), error "
        f"{abs(math.degrees(found.angle_error.value)):.4f} deg; {_SIDE[found.side or '']}."
    )


def _head(sheet: PrintedSheet, title: str) -> float:
    top = sheet.top_mm
    sheet.text(sheet.left_mm, top - 3, title, TITLE)
    sheet.text(sheet.right_mm, top - 3, "cutvision print worksheet", FAINT, "right")
    y = top - 12
    for x, words, stop in ((0.0, "Date", 45.0), (49.0, "Saw, jig", 118.0), (122.0, "Piece", None)):
        start = sheet.left_mm + x
        sheet.text(start, y, words, BODY)
        end = sheet.right_mm if stop is None else sheet.left_mm + stop
        sheet.line(complex(start + sheet.width_of(words, BODY) + 1.5, y - 1.8), complex(end, y - 1.8), width=0.5)
    return y - 5.5


def _readings(sheet: PrintedSheet, top: float, title: str, rows: Sequence[str], *lengths: str) -> float:
    """A row of boxes for each thing read: three readings, their sum, the mean; then one box for each length."""
    x0, top = sheet.left_mm, sheet.heading(sheet.left_mm, top, title)
    boxes, wide = [x0 + 36 + 15.2 * number for number in range(5)], 13.6
    for x, name in zip(boxes, ("1st", "2nd", "3rd", "sum", "sum / 3"), strict=True):
        sheet.text(x + wide / 2, top - 1.7, name, SMALL, "center")
    top -= 3.6
    for words in rows:
        middle = top - _ROW_MM / 2
        sheet.text(x0, middle, words, BODY)
        for x in boxes:
            sheet.box(x, middle - _BOX_MM / 2, wide, _BOX_MM)
        top -= _ROW_MM
    top = sheet.paragraph(x0, top - 0.3, 109, _HOLD, SMALL) - 0.5
    x = x0
    for words in lengths:
        middle = top - _ROW_MM / 2
        sheet.fitted(x, middle, 38, words, BODY)
        sheet.box(x + 40, middle - _BOX_MM / 2, 15.0, _BOX_MM)
        x += 56.5
    return top - _ROW_MM - 2


def _arithmetic(sheet: PrintedSheet, top: float, lines: Sequence[_Line], example: str) -> float:
    top = sheet.heading(sheet.left_mm, top, "2  Work it out")
    for line in lines:
        middle = top - _ROW_MM / 2
        sheet.fitted(sheet.left_mm, middle, 40, line.words, BODY)
        sheet.fitted(sheet.left_mm + 82, middle, 41, line.formula, _FORMULA, "right")
        sheet.box(sheet.left_mm + 83.5, middle - _BOX_MM / 2, 20.0, _BOX_MM)
        sheet.text(sheet.left_mm + 104.5, middle, line.unit, BODY)
        top -= _ROW_MM
    return sheet.paragraph(sheet.left_mm, top - 0.5, sheet.right_mm - sheet.left_mm, example, FAINT) - 1


def _worth(sheet: PrintedSheet, top: float, size: str, columns: Sequence[tuple[str, str]]) -> float:
    """Up to which ratio the fence is left as it is, by the size of the piece."""
    top = sheet.heading(sheet.left_mm, top, "3  Is it worth moving?")
    words = (
        "If the ratio is less than this, leave the fence as it is: it is within 0.1 mm over 300 mm (common practice, "
        "no source), or too small to see with one piece."
    )
    top = sheet.paragraph(sheet.left_mm, top, sheet.right_mm - sheet.left_mm, words, BODY) - 0.5
    for row, name in enumerate((size, "least ratio worth a move")):
        middle = top - 3.0 - 5.2 * row
        sheet.fitted(sheet.left_mm, middle, 72, name, BODY)
        for number, column in enumerate(columns):
            sheet.text(sheet.left_mm + 88 + 22 * number, middle, column[row], BODY if row == 0 else _LETTER, "center")
    return top - 12.6


def _ways(sheet: PrintedSheet, top: float, ways: Sequence[tuple[str, str]], also: str) -> float:
    top = sheet.heading(sheet.left_mm, top, "4  Which way (seen from above, standing behind the saw)")
    indent = max(sheet.width_of(when, HEADING) for when, _ in ways) + 3
    for when, then in ways:
        sheet.text(sheet.left_mm, top - BODY.line_mm / 2, when, Look(9.0, bold=True))
        top = sheet.paragraph(sheet.left_mm + indent, top, sheet.right_mm - sheet.left_mm - indent, then, BODY) - 0.4
    return sheet.paragraph(sheet.left_mm, top, sheet.right_mm - sheet.left_mm, also, BODY) - 2


def _after(sheet: PrintedSheet, top: float, names: Sequence[str]) -> float:
    top = sheet.heading(sheet.left_mm, top, "5  After the move: the test cut measures")
    middle = top - _ROW_MM / 2
    for number, name in enumerate(names):
        x = sheet.left_mm + 48 * number
        sheet.fitted(x, middle, 19, name, BODY)
        sheet.box(x + 20, middle - _BOX_MM / 2, 22.0, _BOX_MM)
    words = (
        "The ratio should be less than the figure in 3. If it is about twice as large as before, the fence went the "
        "wrong way."
    )
    return sheet.paragraph(sheet.left_mm, top - _ROW_MM - 0.5, sheet.right_mm - sheet.left_mm, words, BODY) - 2


def _foot(sheet: PrintedSheet, top: float, holds: Sequence[str]) -> None:
    care = "a caliper that repeats to 0.03 mm, a sharp blade, one cut: the repeatability of the cut is not counted."
    sheet.foot(top, "It holds for", [*holds, care], cautions("measure", "adjust", "cut"))
