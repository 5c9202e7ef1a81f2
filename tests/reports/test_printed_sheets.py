"""Worksheets and wall cards as printed pages: complete, inside the paper, nothing over anything else."""

from __future__ import annotations

import functools
import io
import math
import re
from collections.abc import Callable
from itertools import combinations, groupby
from typing import Any

import pytest
from PIL import Image

from cutvision.correction import (
    LEAF_SETS,
    CutSpread,
    FenceGeometry,
    Jig,
    LeafChoice,
    ReadingCare,
    Screw,
    correct_miter_from_legs,
    correct_square_from_widths,
    find_stack,
    own_leaves,
    typed_corner,
    typed_distance,
    typed_legs,
    typed_widths,
)
from cutvision.correction.angle_error import Kept
from cutvision.correction.lookup import Lookup, miter_lookup, square_lookup
from cutvision.reports.cautions import cautions
from cutvision.reports.figure import FORMATS, PNG_DPI
from cutvision.reports.move_words import way_label, way_words
from cutvision.reports.printed_sheet import PAPERS_MM, Look, Paper, PrintedSheet
from cutvision.reports.wall_card import NUMBER, READ, CardFacts, marked_in_inches, miter_card, square_card, stack_words
from cutvision.reports.wording import turns_label
from cutvision.reports.worksheet import least_miter_ratio, least_square_ratio, miter_worksheet, square_worksheet
from cutvision.units import MM_PER_INCH, format_length

CARE = ReadingCare()
PRINTER_MM = 5.0  # what a common printer leaves blank at a sheet's edge
TOUCH_MM = 0.05  # two boxes that share an edge, within the renderer's rounding
METRIC = LeafChoice(LEAF_SETS["metric-13"])
INCH = LeafChoice(LEAF_SETS["inch-26"])
OWN = LeafChoice(own_leaves([(0.05, "0.05mm"), (0.0508, "2thou"), (0.1, "0.1mm"), (0.3, "0.3mm")]), 4)


def jig(lever_mm: float, kept: Kept | None = None, **more: object) -> Jig:
    """A fence with a lever read by a rule."""
    return Jig(typed_distance(lever_mm, "lever", CARE), kept, **more)  # type: ignore[arg-type]


def miter(paper: Paper, fence: Jig, leaves: LeafChoice | None = None, nominal_deg: float = 45.0) -> PrintedSheet:
    """A card for a piece 102 mm wide."""
    lookup = miter_lookup(fence, CARE, 102.0, math.radians(nominal_deg), leaves)
    return miter_card(paper, lookup, CardFacts("2026-01-31", leaves))


def square(paper: Paper, fence: Jig, leaves: LeafChoice | None = None) -> PrintedSheet:
    """A card for readings 380 mm apart."""
    strip, board = (square_lookup(fence, CARE, 380.0, turns, leaves) for turns in (4, 2))
    return square_card(paper, strip, board, CardFacts("2026-01-31", leaves))


SPREAD = CutSpread(math.radians(0.013), "as you said")
SHEETS: dict[str, Callable[[Paper], PrintedSheet]] = {
    "worksheet miter": miter_worksheet,
    "worksheet square": square_worksheet,
    "card miter": lambda paper: miter(paper, jig(380.0), METRIC),
    "card miter, no leaves": lambda paper: miter(paper, jig(380.0, "left")),
    "card miter, tolerance, own leaves": lambda paper: miter(
        paper, jig(1234.5, "right", tolerance_rad=math.radians(0.05), cut_spread=SPREAD), OWN
    ),
    "card miter 22.5, left": lambda paper: miter(paper, jig(380.0, "left"), INCH, 22.5),
    "card miter 60, right": lambda paper: miter(paper, jig(380.0, "right"), METRIC, 60.0),
    "card miter, at its point": lambda paper: miter(paper, jig(380.0, geometry=FenceGeometry("v-point")), METRIC),
    "card miter, single": lambda paper: miter(
        paper, jig(380.0, "left", geometry=FenceGeometry("single", "right", "operator")), METRIC
    ),
    "card square": lambda paper: square(paper, jig(560.0)),
    "card square, left, inch": lambda paper: square(paper, jig(560.0, "left"), INCH),
    "card square, right, metric, spread": lambda paper: square(
        paper, jig(560.0, "right", cut_spread=SPREAD, tolerance_rad=math.radians(0.02)), METRIC
    ),
    "card square, single": lambda paper: square(
        paper, jig(560.0, "left", geometry=FenceGeometry("single", "left", "operator")), INCH
    ),
}


@functools.cache
def made(name: str, paper: Paper) -> PrintedSheet:
    """Each sheet once, as none is changed."""
    return SHEETS[name](paper)


both_papers = pytest.mark.parametrize("paper", list(PAPERS_MM))
every_sheet = pytest.mark.parametrize("name", SHEETS)


@both_papers
@every_sheet
def test_all_text_lies_on_the_page_and_none_over_another(name: str, paper: Paper) -> None:
    """Every text's box, as the renderer draws it, keeps off the printer's margin and off every other text's."""
    sheet = made(name, paper)
    boxes = sheet.extents_mm()
    assert len(boxes) > 40
    for words, box in boxes:
        assert box.x0 >= PRINTER_MM, words
        assert box.y0 >= PRINTER_MM, words
        assert box.x1 <= sheet.width_mm - PRINTER_MM, words
        assert box.y1 <= sheet.height_mm - PRINTER_MM, words
    over = [
        (a, b)
        for (a, one), (b, other) in combinations(boxes, 2)
        if min(one.x1, other.x1) - max(one.x0, other.x0) > TOUCH_MM
        and min(one.y1, other.y1) - max(one.y0, other.y0) > TOUCH_MM
    ]
    assert over == []


@both_papers
@every_sheet
def test_every_sheet_bears_the_cautions_in_their_own_words(name: str, paper: Paper) -> None:
    """All of them, to be read whole, and no wording of its own."""
    said = " ".join(words for words, _ in made(name, paper).extents_mm())
    plain = " ".join(said.replace("–", " ").split())
    missing = [text for text in cautions("measure", "adjust", "cut") if text not in plain]
    assert missing == []


@pytest.mark.parametrize("as_format", FORMATS)
def test_a_sheet_is_one_page_of_its_paper_and_the_same_every_time(as_format: str) -> None:
    """Equal sheets give equal bytes; a PNG has the paper's size (ISO 216: 210 x 297 mm), a PDF one page."""
    first, again = (miter_worksheet("a4").bytes(as_format) for _ in range(2))  # type: ignore[arg-type]
    assert first == again
    if as_format == "png":
        size = Image.open(io.BytesIO(first)).size
        assert size == pytest.approx((210 / MM_PER_INCH * PNG_DPI, 297 / MM_PER_INCH * PNG_DPI), abs=1)
    if as_format == "pdf":
        assert len(re.findall(rb"/Type /Page\b", first)) == 1


def numbers_on(sheet: PrintedSheet) -> list[tuple[str, Look]]:
    """Every text with the look it was set in."""
    return [
        (text.get_text(), Look(float(text.get_fontsize()), bold=text.get_fontweight() == "bold"))
        for text in sheet.texts
    ]


@both_papers
def test_numbers_on_a_card_are_read_at_arms_length(paper: Paper) -> None:
    """Differences and leaves are set in 11 points or more."""
    assert min(NUMBER.points, READ.points) >= 11
    told = [
        look.points for words, look in numbers_on(miter(paper, jig(380.0), METRIC)) if re.fullmatch(r"[\d.]+", words)
    ]
    assert len(told) > 80
    assert min(told) >= 11


def expected(lookup: Lookup, correct: Callable[[float], float], places: int) -> set[str]:
    """Every leaf that a card of this lookup shows, recomputed."""
    shown = set()
    for row in (*lookup.metric, *lookup.inch):
        if row.correction.decision.action == "move":
            leaf_mm = correct(row.difference_mm)
            shown |= {f"{leaf_mm:.{places}f}", f"{leaf_mm / MM_PER_INCH:.4f}"}
    return shown


def test_each_number_on_a_miter_card_comes_from_the_correction_core() -> None:
    """Row by row through typed legs and the core, leaves and stacks too; the rows to stop in show no leaf."""

    def leaf(difference_mm: float) -> float:
        left, right = typed_legs(102 + difference_mm / 2, 102 - difference_mm / 2, CARE)
        return correct_miter_from_legs(left, right, typed_corner(math.pi / 2, CARE), jig(380.0)).fence_move.value

    lookup = miter_lookup(jig(380.0), CARE, 102.0, leaves=METRIC)
    words = {words for words, _ in numbers_on(made("card miter", "a4"))}
    assert expected(lookup, leaf, 2) <= words
    differences = {f"{row.difference_mm:.2f}" for row in lookup.metric} | {str(thou) for thou in range(2, 41, 2)}
    leaves = {
        f"{row.stack.leaves[0].thickness_mm:.4g}" for row in lookup.metric if row.stack and len(row.stack.leaves) == 1
    }
    figures = {word for word in words if re.fullmatch(r"[\d.]+", word)}
    assert figures <= expected(lookup, leaf, 2) | differences | leaves | {"0.4"}
    for row in lookup.metric:
        if row.correction.decision.action == "move":
            stack = find_stack(leaf(row.difference_mm), METRIC).best
            assert " + ".join(f"{one.thickness_mm:.4g}" for one in stack.leaves) in words
    stops = sum(row.correction.decision.action == "leave" for row in (*lookup.metric, *lookup.inch))
    assert sum(text == "stop here: leave it" for text, _ in numbers_on(made("card miter", "a4"))) == stops


def test_each_number_on_a_square_card_comes_from_the_correction_core() -> None:
    """Strip and board, row by row through typed widths and the core, three places since the bound is finer."""
    fence = jig(560.0, "left")
    words = {words for words, _ in numbers_on(square("letter", fence))}
    for turns, places in ((4, 3), (2, 3)):

        def leaf(difference_mm: float, turns: int = turns) -> float:
            at, far = typed_widths(25 + difference_mm, 25.0, CARE)
            between = typed_distance(380.0, "between", CARE)
            return correct_square_from_widths(at, far, between, fence, turns=turns).fence_move.value

        assert expected(square_lookup(fence, CARE, 380.0, turns), leaf, places) <= words


def test_a_stack_that_does_not_come_near_is_not_named() -> None:
    """Three leaves of the inch set reach 72 thousandths: beyond that, and below half the thinnest, none is near."""
    lookup = square_lookup(jig(560.0, "left"), CARE, 380.0, 2, INCH)
    told = {row.difference_mm: stack_words(row, lookup.half_leaf_mm, inches=True) for row in lookup.metric}
    assert told[2.0] == "25 + 24 + 9"
    assert told[3.0] == "none near"
    assert stack_words(miter_lookup(jig(380.0), CARE, 102.0).metric[0], 0.025, inches=False) == "none near"


def test_leaves_are_told_in_the_unit_of_their_marks() -> None:
    """Thousandths only when every leaf is marked so."""
    assert marked_in_inches(INCH.leaf_set.leaves)
    assert not marked_in_inches(METRIC.leaf_set.leaves)
    assert not marked_in_inches(OWN.leaf_set.leaves)


FENCES: list[tuple[FenceGeometry | None, Kept | None]] = [
    (None, None),
    (None, "left"),
    *((FenceGeometry("v-foot", pivot), None) for pivot in ("left", "right", None)),  # type: ignore[arg-type]
    (FenceGeometry("v-point"), "right"),
    (FenceGeometry("v-point", screw=Screw(1.27, "away")), None),
    *(
        (FenceGeometry("single", pivot, shim_at=at), kept)  # type: ignore[arg-type]
        for pivot in ("left", "right")
        for at in ("operator", "work", None)
        for kept in ("left", "right")
    ),
    (FenceGeometry("single", "left", screw=Screw(1.0, "toward")), "left"),
]


def said_on(sheet: PrintedSheet) -> str:
    """Every word of a page, in the order in which it was set."""
    return " ".join(" ".join(words.split()) for words, _ in sheet.extents_mm())


@pytest.mark.parametrize(("geometry", "kept"), FENCES)
@pytest.mark.parametrize("cut", ["miter", "square"])
def test_a_card_says_and_draws_the_way_of_the_plan(geometry: FenceGeometry | None, kept: Kept | None, cut: str) -> None:
    """Both signs' ends, ways, means and turns as the core planned them; the drawing has the first sign's ends."""
    if cut == "square" and geometry is not None and (geometry.kind != "single" or kept is None):
        pytest.skip("such a fence does not cut square")
    fence = jig(380.0, kept, geometry=geometry)
    lookup = miter_lookup(fence, CARE, 102.0) if cut == "miter" else square_lookup(fence, CARE, 380.0, 4)
    sheet = miter(paper="a4", fence=fence) if cut == "miter" else square("a4", fence)
    said = said_on(sheet)
    for found in (lookup.more, lookup.less):
        assert found.plan is not None
        assert way_words(found.plan) in said
    plan = lookup.more.plan
    assert plan is not None
    drawn: dict[str, Any] = {str(patch.get_gid()): patch for patch in sheet.axes.patches if patch.get_gid()}
    for push in plan.pushes:
        assert way_label(push, plan) in said
        for end in ("left", "right") if push.end == "kept" else (push.end,):
            (_, y0), (_, y1) = drawn[f"arrow-{end}"]._posA_posB
            assert (y1 > y0) == (push.way == "away")
    assert sum(name.startswith("arrow-") for name in drawn) == (2 if plan.turn is None else len(plan.pushes))
    assert ("turn" in drawn) == (plan.turn is not None)


def test_a_card_for_a_screw_gives_turns() -> None:
    """To the nearest eighth of a turn, from the plan of each row; no shims are named."""
    fence = jig(380.0, "left", geometry=FenceGeometry("single", "right", screw=Screw(1.0, "away")))
    said = {words for words, _ in numbers_on(miter("a4", fence, METRIC))}
    lookup = miter_lookup(fence, CARE, 102.0, leaves=METRIC)
    assert "turns" in said
    assert "shims" not in said
    for row in lookup.metric:
        if row.correction.decision.action == "move":
            assert row.correction.plan is not None
            screw = row.correction.plan.pushes[0].screw
            assert screw is not None
            assert turns_label(screw) in said


def test_a_cards_rows_are_what_the_core_decides() -> None:
    """For a tolerance as for none: rows to leave, rows too small to see, and rows to move, in that one order."""
    for tolerance_deg in (None, 0.02, 0.05, 0.2):
        fence = jig(380.0, "left", tolerance_rad=None if tolerance_deg is None else math.radians(tolerance_deg))
        actions = [row.correction.decision.action for row in miter_lookup(fence, CARE, 102.0).metric]
        assert [action for action, _ in groupby(actions)] in (["leave", "move"], ["cannot-tell", "move"], ["move"])
        said = [words for words, _ in numbers_on(miter("a4", fence))]
        both = [*actions, *(row.correction.decision.action for row in miter_lookup(fence, CARE, 102.0).inch)]
        assert said.count("stop here: leave it") == both.count("leave")
        assert said.count("too small to see: leave it") == both.count("cannot-tell")


def test_the_worksheets_draw_the_examples_move() -> None:
    """Their examples' plan: a shim behind the right foot of a V; the end on the kept side of a square fence, away."""
    for name, said, arrows in (
        ("worksheet miter", "right foot: shim in, away from you", {"arrow-right"}),
        ("worksheet square", "end on the side you keep: away from you", {"arrow-left", "arrow-right"}),
    ):
        sheet = made(name, "a4")
        assert said in said_on(sheet)
        drawn = {str(patch.get_gid()) for patch in sheet.axes.patches if patch.get_gid()}
        assert {one for one in drawn if one.startswith("arrow-")} == arrows


@pytest.mark.parametrize("leg_mm", [50.0, 100.0, 200.0])
def test_the_worksheets_least_ratio_is_where_the_advice_changes(leg_mm: float) -> None:
    """Below it the core leaves the fence as it is, above it moves it."""
    ratio = least_miter_ratio(leg_mm)
    for factor, decided in ((0.98, "leave"), (1.02, "move")):
        left, right = typed_legs(leg_mm * (1 + ratio * factor), leg_mm * (1 - ratio * factor), CARE)
        found = correct_miter_from_legs(left, right, typed_corner(math.pi / 2, CARE), jig(380.0))
        assert (found.decision.action == "move") is (decided == "move")
    assert f"{ratio:.5f}" in {words for words, _ in numbers_on(made("worksheet miter", "a4"))}


@pytest.mark.parametrize("turns", [2, 4])
@pytest.mark.parametrize("between_mm", [30.0, 400.0])
def test_the_worksheets_least_ratio_of_widths_is_where_the_advice_changes(between_mm: float, turns: int) -> None:
    """The same for a strip and a board; close together the uncertainty rules, far apart the tolerance."""
    ratio = least_square_ratio(between_mm, turns)
    for factor, moved in ((0.98, False), (1.02, True)):
        apart_mm = between_mm * math.tan(turns * math.atan(ratio * factor))
        at_fence, far_end = typed_widths(25.0 + apart_mm / 2, 25.0 - apart_mm / 2, CARE)
        between = typed_distance(between_mm, "between", CARE)
        found = correct_square_from_widths(at_fence, far_end, between, jig(560.0), turns=turns)
        assert (found.decision.action == "move") is moved
    if (turns, between_mm) == (4, 400.0):
        assert f"{ratio:.6f}" in {words for words, _ in numbers_on(made("worksheet square", "a4"))}


def test_the_worked_lines_are_right() -> None:
    """Difference, sum, ratio, move and error of both examples by their own formulas (closed form)."""
    difference, both = 101.62 - 101.35, 101.62 + 101.35
    ratio = difference / both
    assert (
        f"difference {difference:.2f}, sum {both:.2f}, ratio {ratio:.5f}, move {380 * ratio:.3f} mm "
        f"({380 * ratio / 25.4:.4f} in), error {ratio * 57.3:.3f} deg; the right leg is short"
    ) in said_on(made("worksheet miter", "a4"))
    ratio = (24.91 - 24.78) / 380 / 4
    assert (
        f"ratio {ratio:.6f}, move {560 * ratio:.3f} mm ({560 * ratio / 25.4:.4f} in), error {ratio * 57.3:.4f} deg; "
        "the end on the side you keep goes away from you"
    ) in said_on(made("worksheet square", "a4"))


@pytest.mark.parametrize("name", ["worksheet miter", "worksheet square", "card square", "card miter 22.5, left"])
def test_no_single_letter_stands_for_a_length(name: str) -> None:
    """Only L and R as they are pencilled on the wood."""
    letters = re.findall(r"(?<![\w'-])(?!A [a-z])[A-Z](?![\w'-])", said_on(made(name, "a4")))
    assert set(letters) <= {"L", "R"}


def test_a_square_card_tells_the_bound_of_strip_and_board_each() -> None:
    """With a spread of the cut a board's bound is not twice a strip's: it is the mean of two cuts, not of four."""
    said = " ".join(words for words, _ in made("card square, right, metric, spread", "a4").extents_mm())
    for turns, piece in ((4, "strip"), (2, "board")):
        fence = jig(560.0, "right", cut_spread=SPREAD, tolerance_rad=math.radians(0.02))
        found = square_lookup(fence, CARE, 380.0, turns).more
        assert f"{piece}: {format_length(*[found.move.at_shim.expanded_uncertainty] * 2)} there" in said
    assert "spread of the cut as you said" in said
