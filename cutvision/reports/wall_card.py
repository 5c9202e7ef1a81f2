"""A card for the wall: for one fence and one piece, from the difference read to the shim and the way; one side."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from cutvision.correction import Correction, Leaf, LeafChoice
from cutvision.correction.cut_spread import NAME as SPREAD_NAME
from cutvision.correction.lookup import Lookup, LookupRow
from cutvision.correction.square import BOARD_TURNS, STRIP_TURNS
from cutvision.reports.cautions import cautions
from cutvision.reports.figure import ACCENT, GOOD, INK
from cutvision.reports.move_words import way_words
from cutvision.reports.printed_sheet import (
    BODY,
    FAINT,
    HEADING,
    TITLE,
    Look,
    Paper,
    PrintedSheet,
    draw_miter_piece,
    draw_saw,
    draw_strip,
)
from cutvision.reports.saw_scene import scene_of_plan
from cutvision.reports.wording import small_angle_words, turns_label
from cutvision.uncertainty import budget
from cutvision.units import MM_PER_INCH, decimals, format_angle, format_length

NUMBER = Look(11.0)
READ = Look(11.0, bold=True)
_HEAD = Look(8.6, bold=True)
_TOLD = {"leave": Look(10.0, GOOD, bold=True), "cannot-tell": Look(10.0, ACCENT, bold=True)}
_WORDS = {"leave": "stop here: leave it", "cannot-tell": "too small to see: leave it"}
_MOVED = {"shim in": "shim", "shim out": "shim", "screw": "move", "push": "move"}
ROUNDING_MM = 1e-6
_TALL_MM = 290.0
_BETWEEN_ROWS = "between two rows take what lies between; an error over 2 deg is rather a misread digit;"
_BANDS = {"leave": "#dfe9e4", "cannot-tell": "#f7e6d9", "move": "#f3f5f7"}


@dataclass(frozen=True, slots=True)
class CardFacts:
    """What stands on the card beside its rows.

    made_on: a date as text. leaves: whose leaves; None for plain amounts.
    """

    made_on: str
    leaves: LeafChoice | None = None


@dataclass(frozen=True, slots=True)
class _Column:
    """One table on the card: its title, and blocks of rows by the unit in which the difference is read."""

    title: str
    blocks: tuple[tuple[Literal["mm", "thou"], tuple[LookupRow, ...]], ...]
    half_leaf_mm: float


def miter_card(paper: Paper, lookup: Lookup, facts: CardFacts) -> PrintedSheet:
    """The card for a miter's two legs. lookup: of `miter_lookup`."""
    sheet = PrintedSheet(paper)
    more = lookup.more
    nominal_deg = math.degrees(more.nominal_rad)
    top = _head(sheet, f"Miter fence, {nominal_deg:g} deg", f"piece {_both(lookup.size_mm)} wide", more, facts)
    columns = (
        _Column("read in mm", (("mm", lookup.metric),), lookup.half_leaf_mm),
        _Column("read in thousandths of an inch", (("thou", lookup.inch),), lookup.half_leaf_mm),
    )
    top = _tables(sheet, top, columns, _miter_reading(more))
    right = sheet.right_mm
    at_left = nominal_deg if more.kept == "left" else 90 - nominal_deg
    signs = _miter_signs(more)
    draw_miter_piece(sheet, right - 116, top - 43, 48, at_left)
    _draw_move(sheet, right - 58, top - 50, 50, more, f"{signs[0].partition(',')[0]}:")
    room = right - 122 - sheet.left_mm
    below = _which_way(sheet, top, room, lookup, signs)
    _foot(sheet, min(below, top - 52), _miter_conditions(lookup), (more,), facts)
    return sheet


def square_card(paper: Paper, strip: Lookup, board: Lookup, facts: CardFacts) -> PrintedSheet:
    """The card for widths of a strip (4 turns) and of a board (2 turns). strip, board: of `square_lookup`."""
    sheet = PrintedSheet(paper)
    top = _head(sheet, "Square fence", f"spacing {_both(strip.size_mm)}", strip.more, facts)
    columns = tuple(
        _Column(title, (("mm", lookup.metric), ("thou", lookup.inch)), lookup.half_leaf_mm)
        for title, lookup in (
            ("the strip, 4 quarter turns", strip),
            ("the board after 3 cuts, 2 quarter turns", board),
        )
    )
    top = _tables(sheet, top, columns, "widths differ by")
    right = sheet.right_mm
    signs = ("Strip wider at the fence end", "Strip narrower at the fence end")
    draw_strip(sheet, right - 116, top - 40, 50, f"spacing {strip.size_mm:.4g} mm")
    _draw_move(sheet, right - 58, top - 42, 42, strip.more, f"{signs[0]}:")
    room = right - 122 - sheet.left_mm
    below = _which_way(sheet, top, room, strip, signs)
    below = sheet.paragraph(sheet.left_mm, below, room, "The board: the other way round.", BODY)
    _foot(sheet, min(below, top - 44), _square_conditions(strip, board), (strip.more, board.more), facts)
    return sheet


def _head(sheet: PrintedSheet, title: str, piece: str, found: Correction, facts: CardFacts) -> float:
    top = sheet.top_mm
    sheet.text(sheet.left_mm, top - 3, title, TITLE)
    sheet.text(sheet.right_mm, top - 3, f"cutvision print card, made {facts.made_on}", FAINT, "right")
    kept = "" if found.kept is None else f", work kept on the {found.kept}"
    words = f"{_both(found.move.lever.value)} from {'the pivot' if _single(found) else 'foot to foot'}, {piece}{kept}"
    sheet.text(sheet.left_mm, top - 10.2, words, HEADING)
    return top - 14.5


def _tables(sheet: PrintedSheet, top: float, columns: Sequence[_Column], reading: str) -> float:
    """Two tables beside each other; the height at which the longer one ends."""
    gap = 6.0
    room = (sheet.right_mm - sheet.left_mm - gap) / 2
    return min(
        _table(sheet, sheet.left_mm + number * (room + gap), top, room, column, reading)
        for number, column in enumerate(columns)
    )


def _table(sheet: PrintedSheet, x: float, top: float, room: float, column: _Column, reading: str) -> float:
    sheet.text(x, top - 2.5, column.title, HEADING)
    top -= 6.0
    row_mm = 5.0 if sheet.height_mm > _TALL_MM else 4.45
    ends = (x + 21.0, x + 38.0, x + 58.0)
    stacks = [row.stack for _, rows in column.blocks for row in rows if row.stack is not None]
    inches = marked_in_inches([leaf for stack in stacks for leaf in stack.leaves])
    places = max(2, decimals(column.blocks[0][1][0].correction.move.at_shim.expanded_uncertainty))
    for unit, rows in column.blocks:
        sheet.fitted(ends[0], top - 2.0, 20.5, reading, _HEAD, "right")
        sheet.text(ends[0], top - 5.8, "mm" if unit == "mm" else "0.001 in", _HEAD, "right")
        means = _means(rows)
        sheet.text((ends[1] + ends[2]) / 2 - 2, top - 2.0, _MOVED[means], _HEAD, "right")
        sheet.text(ends[1], top - 5.8, "mm", _HEAD, "right")
        sheet.text(ends[2], top - 5.8, "in", _HEAD, "right")
        if means == "screw":
            sheet.text(x + room, top - 2.0, "screw", _HEAD, "right")
            sheet.text(x + room, top - 5.8, "turns", _HEAD, "right")
        elif stacks:
            sheet.text(x + room, top - 2.0, "shims", _HEAD, "right")
            sheet.text(x + room, top - 5.8, "0.001 in" if inches else "mm", _HEAD, "right")
        top -= 8.4
        sheet.line(complex(x, top + 0.2), complex(x + room, top + 0.2), width=0.8)
        for number, row in enumerate(rows):
            middle = top - row_mm / 2
            decided = row.correction.decision.action
            if decided != "move" or number % 2:
                sheet.box(x, top - row_mm, room, row_mm, _BANDS[decided])
            read = f"{row.difference_mm:.2f}" if unit == "mm" else f"{row.difference_mm / MM_PER_INCH * 1000:.0f}"
            sheet.text(ends[0], middle, read, READ, "right")
            if decided == "move":
                leaf_mm = row.correction.move.at_shim.value
                sheet.text(ends[1], middle, f"{leaf_mm:.{places}f}", NUMBER, "right")
                sheet.text(ends[2], middle, f"{leaf_mm / MM_PER_INCH:.4f}", NUMBER, "right")
                words = _by_what(row, column.half_leaf_mm, inches=inches)
                if words:
                    sheet.fitted(x + room, middle, room - 60.5, words, NUMBER, "right")
            else:
                sheet.fitted(ends[0] + 4, middle, room - 26, _WORDS[decided], _TOLD[decided])
            top -= row_mm
        top -= 1.0
    return top - 1.5


def stack_words(row: LookupRow, half_leaf_mm: float, *, inches: bool) -> str:
    """The leaves of a row, thickest first, in mm or thousandths; "none near" when the best stack is half a shim off."""
    stack = row.stack
    if stack is None or not stack.leaves or abs(stack.short_mm) > half_leaf_mm + ROUNDING_MM:
        return "none near"
    unit_mm = MM_PER_INCH / 1000 if inches else 1.0
    return " + ".join(f"{leaf.thickness_mm / unit_mm:.4g}" for leaf in stack.leaves)


def marked_in_inches(leaves: Sequence[Leaf]) -> bool:
    """Whether every leaf bears a mark in inches or thousandths."""
    return all(leaf.mark.lower().rstrip().endswith(("in", "in.", "thou", "mil", '"')) for leaf in leaves)


def _which_way(sheet: PrintedSheet, top: float, room: float, lookup: Lookup, signs: tuple[str, str]) -> float:
    top = sheet.heading(sheet.left_mm, top, "Which way")
    for sign, found in zip(signs, (lookup.more, lookup.less), strict=True):
        top = sheet.paragraph(sheet.left_mm, top, room, f"{sign}:", Look(9.5, INK, bold=True))
        top = sheet.paragraph(sheet.left_mm, top, room, f"{_way(found)}.", BODY) - 1.2
    return top


def _way(found: Correction) -> str:
    """Which end goes which way, as the core planned it."""
    return "nothing to move" if found.plan is None else way_words(found.plan)


def _draw_move(sheet: PrintedSheet, x: float, bottom: float, height: float, found: Correction, when: str) -> None:
    scene = scene_of_plan(found)
    if scene is not None:
        draw_saw(sheet, x, bottom, 56, height, scene, when)


def _means(rows: Sequence[LookupRow]) -> str:
    """What moves the fence, the same in every row."""
    plan = rows[0].correction.plan
    return "push" if plan is None else plan.pushes[0].means


def _by_what(row: LookupRow, half_leaf_mm: float, *, inches: bool) -> str:
    """The turns of the screw, or the shims; empty when nobody gave any."""
    plan = row.correction.plan
    screw = None if plan is None else plan.pushes[0].screw
    if screw is not None:
        return turns_label(screw)
    return "" if row.stack is None else stack_words(row, half_leaf_mm, inches=inches)


def _miter_reading(found: Correction) -> str:
    return "legs differ by" if found.side is not None else "too long by"


def _miter_signs(found: Correction) -> tuple[str, str]:
    if found.side is not None:
        return "Left leg the longer", "Right leg the longer"
    end = "left" if found.kept == "left" else "right"
    wanted = f"{1 / math.tan(found.nominal_rad):.5f} x the other, which lay at the fence"
    return f"The {end} leg too long, that is over {wanted}", f"The {end} leg too short"


def _miter_conditions(lookup: Lookup) -> tuple[str, ...]:
    found = lookup.more
    size = "a mean leg" if found.side is not None else "an end leg"
    span = _span(lookup.smallest_mm, lookup.largest_mm)
    between = f"{size} of {span}: no row is then off by more than half a shim ({lookup.half_leaf_mm:.3g} mm)"
    other = f"for another piece take the shim times {lookup.size_mm:.4g} over its {size.split(' ', 1)[1]} in mm"
    return (
        f"{between}; {other};",
        "a piece with two whole tips and a corner of 90 deg, read face up, cut toward you;",
        _BETWEEN_ROWS,
    )


def _square_conditions(strip: Lookup, board: Lookup) -> tuple[str, ...]:
    least, most = max(strip.smallest_mm, board.smallest_mm), min(strip.largest_mm, board.largest_mm)
    return (
        f"readings {_span(least, most)} apart: no row is then off by more than half a shim "
        f"({strip.half_leaf_mm:.3g} mm); for another distance take the shim times {strip.size_mm:.4g} over it in mm;",
        "quarter turns always the same way, the edge just cut against the fence;",
        _BETWEEN_ROWS,
    )


def _foot(
    sheet: PrintedSheet, top: float, holds: Sequence[str], tables: Sequence[Correction], facts: CardFacts
) -> None:
    """tables: what a small difference says in each table whose bound is its own."""
    found = tables[0]
    lever = "from pivot to push" if _single(found) else "from foot to foot"
    limit = "; ".join(_limit(table) for table in tables)
    tolerance = found.decision.tolerance_rad
    told = f"Stop where the card says to leave it. The uncertainty of one piece: {limit}."
    told += f" Tolerance: {small_angle_words(tolerance)}."
    top = sheet.paragraph(sheet.left_mm, top, sheet.right_mm - sheet.left_mm, told, Look(9.0, bold=True)) - 1
    items = [
        f"{_both(found.move.lever.value)} {lever}, {_square_to(found)};",
        *holds,
        _rests_on(found),
    ]
    if facts.leaves is not None:
        chosen = facts.leaves
        items.append(f"shims: {chosen.leaf_set.name}, at most {chosen.most_leaves} together; {chosen.leaf_set.source}.")
    sheet.foot(top, "It holds for", items, cautions("measure", "adjust", "cut"))


def _square_to(found: Correction) -> str:
    """At right angles to what the push and its distance from the pivot are meant."""
    return f"the push at right angles to the {'fence itself' if _single(found) else 'rear stop'}"


def _single(found: Correction) -> bool:
    return found.plan is None or found.plan.fence == "single"


def _limit(found: Correction) -> str:
    bound_rad, bound_mm = found.angle_error.expanded_uncertainty, found.move.at_shim.expanded_uncertainty
    piece = {STRIP_TURNS: "strip: ", BOARD_TURNS: "board: "}.get(found.turns or 0, "")
    return f"{piece}{format_length(bound_mm, bound_mm)} there, {format_angle(bound_rad, bound_rad)} of the fence"


def _rests_on(found: Correction) -> str:
    """What the bound holds, in the budget's own words, largest first."""
    rows = budget(found.angle_error)
    words = "; ".join(
        f"{row.name} {source}" if source.startswith(("known", "as you said")) else source
        for row in rows
        for source in row.sources
    )
    spread = "" if any(row.name == SPREAD_NAME for row in rows) else "; the repeatability of the cut is not counted"
    return f"this uncertainty: {words}{spread}."


def _span(least_mm: float, most_mm: float) -> str:
    """Rounded inward, so that the span told is never wider than the one that holds."""
    low, high = math.ceil(least_mm * 10) / 10, math.floor(most_mm * 10) / 10
    return f"{low:g} to {high:g} mm ({low / MM_PER_INCH:.3f} to {high / MM_PER_INCH:.3f} in)"


def _both(value_mm: float) -> str:
    return f"{value_mm:.5g} mm ({value_mm / MM_PER_INCH:.4g} in)"
