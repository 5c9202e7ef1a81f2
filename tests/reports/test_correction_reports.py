"""A correction in words, drawn, and for other programs."""

from __future__ import annotations

import json
import math

import pytest

from cutvision.correction import (
    Correction,
    Jig,
    ReadingCare,
    assumptions,
    correct_miter_from_angles,
    correct_miter_from_legs,
    correct_square_from_taper,
    typed_corner,
    typed_distance,
    typed_legs,
)
from cutvision.correction.angle_error import Kept
from cutvision.reports.columns import COLUMNS
from cutvision.reports.correction_json import correction_as_json
from cutvision.reports.correction_text import answer_lines, correction_text
from cutvision.reports.move_drawing import move_drawing
from cutvision.uncertainty import Influence, Quantity

CARE = ReadingCare()
LEVER = typed_distance(380.0, "lever", CARE)
READING = Influence("reading/1", "reading", source="one reading")


def miter(left: float, right: float, kept: Kept | None = None, tolerance_deg: float | None = None) -> Correction:
    """Two typed legs, all defaults."""
    tolerance = None if tolerance_deg is None else math.radians(tolerance_deg)
    legs = typed_legs(left, right, CARE)
    return correct_miter_from_legs(*legs, typed_corner(math.pi / 2, CARE), Jig(LEVER, kept, tolerance))


def single(kept: Kept, error_deg: float) -> Correction:
    """A fence at 30 deg, by its own angle."""
    fence_leg = 60.0 + (error_deg if kept == "right" else -error_deg)
    left, right = (fence_leg, 90.0 - fence_leg) if kept == "right" else (90.0 - fence_leg, fence_leg)
    angles = [Quantity(math.radians(v), "rad", {READING: 1e-5}) for v in (left, right, 90.0)]
    return correct_miter_from_angles(*angles, Jig(LEVER, kept), nominal_rad=math.radians(30.0))


def square(taper_deg: float, kept: Kept | None = None) -> Correction:
    """A strip's taper."""
    return correct_square_from_taper(Quantity(math.radians(taper_deg), "rad", {READING: 1e-5}), Jig(LEVER, kept))


EVERY = [
    miter(101.62, 101.35),
    miter(101.35, 101.62, "left"),
    single("left", 0.1),
    single("left", -0.1),
    single("right", 0.1),
    single("right", -0.1),
    *(square(taper, kept) for taper in (0.1, -0.1) for kept in ("left", "right", None)),
]


@pytest.mark.parametrize(
    ("correction", "words"),
    [
        (miter(101.62, 101.35), ["Put a leaf of 0.51", "right foot", "counter-clockwise", "clockwise of true"]),
        (miter(101.35, 101.62), ["Put a leaf of 0.51", "left foot", "turns clockwise", "counter-clockwise of true"]),
        (single("left", 0.1), ["Turn the fence clockwise", "left of its pivot goes away from you"]),
        (single("right", -0.1), ["Turn the fence counter-clockwise", "right of its pivot goes away from you"]),
        (square(0.1, "left"), ["left end", "toward the work (away from you)", "turns clockwise"]),
        (square(0.1, "right"), ["right end", "toward the work (away from you)", "turns counter-clockwise"]),
        (square(-0.1, "right"), ["right end", "away from the work (toward you)", "turns clockwise"]),
        (square(-0.1), ["the side you keep", "away from the work (toward you)", "under 90 deg"]),
        (miter(101.62, 101.62, tolerance_deg=0.06), ["Leave the fence alone", "off true"]),
        (miter(101.62, 101.62, tolerance_deg=0.01), ["Leave the fence as it is", "too small to see"]),
    ],
)
def test_the_answer_leads_with_what_to_do(correction: Correction, words: list[str]) -> None:
    """Two or three sentences: action with amount, end and way; how the fence stands; why. Signs as in the model."""
    lines = answer_lines(correction)
    assert 2 <= len(lines) <= 3
    assert [word for word in words if word not in " ".join(lines)] == []


@pytest.mark.parametrize("correction", EVERY, ids=range(len(EVERY)))
def test_every_report_is_legible_and_carries_drawing_and_cautions(correction: Correction) -> None:
    """No wider than a terminal; the drawing in ASCII; saw off, fence fastened and guard stand beside it."""
    text = correction_text(correction, assumptions(CARE, "legs", 101.0), with_budget=True)
    assert max(len(line) for line in text.splitlines()) <= COLUMNS
    drawing = move_drawing(correction)
    assert "\n".join(drawing) in text
    assert all(line.isascii() for line in drawing)
    for word in ("unplug", "fasten the fence", "guard", "--read-to", "Budget", "together"):
        assert word in text


def column(drawing: tuple[str, ...], mark: str) -> int:
    """Where a mark stands; the words below the empty line do not count."""
    picture = drawing[2 : drawing.index("", 2)]
    return next(line.index(mark) for line in picture if mark in line and "work" not in line and "pivot" not in line)


@pytest.mark.parametrize(("left", "right", "leaf_is_left"), [(101.62, 101.35, False), (101.35, 101.62, True)])
def test_the_drawn_leaf_lies_behind_the_short_legs_foot(left: float, right: float, *, leaf_is_left: bool) -> None:
    """Leaf and arrow stand under the short leg's arm, the pivot under the other."""
    drawing = move_drawing(miter(left, right))
    blade, leaf, pivot, arrow = (column(drawing, mark) for mark in "|#o^")
    assert (leaf < blade) == leaf_is_left
    assert (pivot < blade) != leaf_is_left
    assert arrow == leaf


@pytest.mark.parametrize("kept", ["left", "right"])
@pytest.mark.parametrize("taper", [0.1, -0.1])
def test_the_drawn_end_is_on_the_kept_side_and_goes_its_way(kept: Kept, taper: float) -> None:
    """The end's mark stands on the kept side; its arrow is above the fence toward the work, below it toward you."""
    drawing = move_drawing(square(taper, kept))
    fence = next(i for i, line in enumerate(drawing) if line.startswith("==="))
    assert (drawing[fence].index("#") < 24) == (kept == "left")
    arrow = next(i for i, line in enumerate(drawing) if line.strip() in ("^", "v"))
    assert (arrow < fence) == (taper > 0)
    assert drawing[arrow].strip() == ("^" if taper > 0 else "v")
    assert drawing[arrow].index(drawing[arrow].strip()) == drawing[fence].index("#")


@pytest.mark.parametrize(("kept", "rising"), [("left", True), ("right", False)])
def test_a_single_fence_slants_as_it_lies(kept: Kept, *, rising: bool) -> None:
    """Work kept on the left lies on a fence that rises to the right, kept on the right on its mirror image."""
    drawing = "\n".join(move_drawing(single(kept, 0.1)))
    assert ("/" in drawing) == rising
    assert ("\\" in drawing) != rising
    assert "left of the pivot ^ goes away from you" in drawing
    assert "left of the pivot v comes toward you" in "\n".join(move_drawing(single(kept, -0.1)))


def test_nothing_to_turn_is_not_drawn() -> None:
    """Equal legs and parallel strips have no drawing, and a fence left alone shows none."""
    assert move_drawing(miter(100.0, 100.0)) == ()
    assert move_drawing(square(0.0)) == ()
    assert "Seen from above" not in correction_text(miter(101.62, 101.61))


def test_candidates_and_notes_are_told() -> None:
    """A photo without the kept side shows both answers and says what would settle it."""
    angles = [Quantity(math.radians(v), "rad", {READING: 1e-5}) for v in (45.3, 44.9, 89.8)]
    text = correction_text(correct_miter_from_angles(*angles, Jig(LEVER)))
    for word in ("if kept on the left", "if kept on the right", "Say --kept left"):
        assert word in text


@pytest.mark.parametrize("correction", EVERY, ids=range(len(EVERY)))
def test_other_programs_get_degrees_and_millimetres(correction: Correction) -> None:
    """The keys of the interface, in deg and mm, the expanded uncertainty k times the standard one; plain JSON."""
    told = json.loads(json.dumps(correction_as_json(correction), allow_nan=False))
    assert told["schema"] == "cutvision/correction/1"
    assert told["method"] == correction.method
    assert told["angle_error"]["unit"] == "deg"
    assert told["angle_error"]["value"] == pytest.approx(math.degrees(correction.angle_error.value), rel=1e-12)
    assert told["fence_move"]["unit"] == "mm"
    assert told["fence_move"]["value"] >= 0
    assert told["fence_move"]["expanded_uncertainty"] == pytest.approx(
        told["fence_move"]["coverage_factor"] * told["fence_move"]["standard_uncertainty"], rel=1e-12
    )
    assert (told["side"], told["turn"]) == (correction.side, correction.turn)
    assert told["decision"]["value"] in ("move", "leave", "cannot-tell")
    assert len(told["candidates"]) == len(correction.candidates)
