"""The move, drawn: left is left, away is up, and the leaf stands where the model has it; in text and as a figure."""

from __future__ import annotations

import math
import re
from typing import Any

import pytest

from cutvision.correction import (
    Correction,
    FenceGeometry,
    Jig,
    Screw,
    correct_direct,
    correct_facing,
    correct_frame,
    correct_miter_from_angles,
    correct_square_from_taper,
)
from cutvision.reports.cautions import cautions
from cutvision.reports.correction_json import correction_as_json
from cutvision.reports.correction_text import correction_text
from cutvision.reports.figure import FORMATS, figure_bytes
from cutvision.reports.move_drawing import move_drawing
from cutvision.reports.saw_drawing import BLADE_X, saw_drawing
from cutvision.uncertainty import Influence, Quantity


def mm(value: float) -> Quantity:
    """An exact length."""
    return Quantity(value, "mm")


def rad(value: float) -> Quantity:
    """An angle known well enough that the fence is moved."""
    return Quantity(value, "rad", {Influence("one", "one"): math.radians(0.01)})


def miter(off_deg: float, geometry: FenceGeometry | None, kept: Any, nominal_deg: float = 45.0) -> Correction:
    """A miter fence that stands so far counter-clockwise."""
    off, leg = math.radians(off_deg), math.pi / 2 - math.radians(nominal_deg)
    left = leg + off if kept == "right" else math.pi / 2 - leg + off
    return correct_miter_from_angles(
        rad(left),
        Quantity(math.pi / 2 - left, "rad", {Influence("one", "one"): math.radians(0.01)}),
        Quantity(math.pi / 2, "rad"),
        Jig(mm(380.0), kept, geometry=geometry),
        nominal_rad=math.radians(nominal_deg),
        split_error=rad(-off),
    )


def square(off_deg: float, geometry: FenceGeometry | None, kept: Any) -> Correction:
    """A square fence that stands so far counter-clockwise."""
    excess = math.radians(-off_deg if kept == "right" else off_deg)
    return correct_square_from_taper(rad(4 * excess), Jig(mm(560.0), kept, geometry=geometry))


SINGLE = [FenceGeometry("single", pivot, shim_at=at) for pivot in ("left", "right") for at in ("operator", "work")]  # type: ignore[arg-type]
V = [
    FenceGeometry("v-foot"),
    FenceGeometry("v-foot", "left"),
    FenceGeometry("v-foot", "right"),
    FenceGeometry("v-point"),
]
SCREWS = [
    FenceGeometry("single", "left", screw=Screw(1.0, "away")),
    FenceGeometry("single", "right", screw=Screw(1.0, "toward")),
    FenceGeometry("v-point", screw=Screw(1.27, "away")),
]


def corrections(geometry: FenceGeometry, off_deg: float, kept: str) -> list[Correction]:
    """Every kind of cut that such a fence makes."""
    made = [miter(off_deg, geometry, kept), miter(off_deg, geometry, kept, 22.5), miter(off_deg, geometry, kept, 67.5)]
    return [*made, square(off_deg, geometry, kept)] if geometry.kind == "single" else made


@pytest.mark.parametrize("kept", ["left", "right"])
@pytest.mark.parametrize("off_deg", [-0.2, 0.2])
@pytest.mark.parametrize("geometry", [*SINGLE, *V, *SCREWS])
def test_the_picture_has_every_end_on_its_own_side(geometry: FenceGeometry, off_deg: float, kept: str) -> None:
    """Leaf or screw left of the blade for the left end, arrow away for away; nothing off the page."""
    for correction in corrections(geometry, off_deg, kept):
        figure = saw_drawing(correction)
        plan = correction.plan
        assert figure is not None
        assert plan is not None
        drawn = {patch.get_gid(): patch for patch in figure.axes[0].patches if patch.get_gid()}
        for push in plan.pushes:
            setter = drawn[f"{'screw' if push.screw else 'leaf'}-{push.end}"]
            middle = setter.get_xy()[:4].mean(axis=0)
            # beside a steep fence the screw itself reaches over the blade's line
            line_x = BLADE_X if plan.pivot == "point" else drawn["pivot"].center[0]
            assert (middle[0] < line_x) == (push.end == "left")
            (x0, y0), (x1, y1) = drawn[f"arrow-{push.end}"]._posA_posB
            assert (y1 > y0) == (push.way == "away")
            assert (max(x0, x1) < BLADE_X) == (push.end == "left")
        pivot = drawn["pivot"].center
        if plan.pivot == "point":
            assert pivot[0] == pytest.approx(BLADE_X)
        else:
            assert (pivot[0] < BLADE_X) == (plan.pivot == "left")
        (x0, y0), (x1, y1) = drawn["turn"]._posA_posB
        assert y0 > pivot[1]
        assert (x1 > x0) == (plan.turn == "clockwise")
        if plan.point is not None:
            (x0, _), (x1, _) = drawn["slide"]._posA_posB
            assert (x1 > x0) == (plan.point.slide == "right")


def test_a_leaf_lies_on_the_side_of_the_fence_that_it_pushes_from() -> None:
    """With the stop on your side the leaf lies nearer to you than the fence's face when true, else beyond it."""
    for at, off_deg, nearer in (("operator", 0.2, True), ("work", -0.2, False)):
        correction = square(off_deg, FenceGeometry("single", "right", shim_at=at), "left")  # type: ignore[arg-type]
        figure = saw_drawing(correction)
        plan = correction.plan
        assert figure is not None
        assert plan is not None
        assert plan.pushes[0].means == "shim in"
        drawn = {patch.get_gid(): patch for patch in figure.axes[0].patches if patch.get_gid()}
        middle = drawn["leaf-left"].get_xy()[:4].mean(axis=0)[1]
        assert (middle < drawn["pivot"].center[1]) == nearer


def test_without_a_geometry_the_picture_says_what_it_took() -> None:
    """A V for 45 deg, the pivot at the other end for a square cut, left for an unknown side; text in the figure."""
    for correction, said in (
        (miter(0.2, None, None), "Drawn as a V on two feet"),
        (miter(0.2, None, "left", 30.0), "Wherever your pivot sits"),
        (square(0.2, None, "right"), "Drawn with the pivot at the left end"),
        (square(0.2, None, None), "kept on the right, mirror it"),
    ):
        figure = saw_drawing(correction)
        assert figure is not None
        words = " ".join(" ".join(text.get_text().split()) for text in figure.axes[0].texts)
        assert said in words
        for caution in cautions("measure", "adjust", "cut"):
            assert caution in words
        assert "you stand here" in words
        assert "mm (" in words


def test_every_word_stays_on_the_page() -> None:
    """No text runs over the page's edge, for the steepest and the flattest fence and the longest caption."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    for correction in (
        miter(0.2, FenceGeometry("v-foot", point_ahead_mm=190.0), "right"),
        miter(-0.2, FenceGeometry("v-point", screw=Screw(1.27)), "left", 22.5),
        miter(-0.2, FenceGeometry("single", "left", shim_at="operator"), "left", 67.5),
        square(-0.2, FenceGeometry("single", "right", shim_at="work"), "left"),
    ):
        figure = saw_drawing(correction)
        assert figure is not None
        canvas = FigureCanvasAgg(figure)
        page = figure.bbox
        for text in figure.axes[0].texts:
            box = text.get_window_extent(canvas.get_renderer())
            assert box.x0 >= page.x0, text.get_text()
            assert box.x1 <= page.x1, text.get_text()
            assert box.y0 >= page.y0, text.get_text()
            assert box.y1 <= page.y1, text.get_text()


def test_each_method_has_its_inset_and_each_format_is_written() -> None:
    """Square beside the blade, pieces face to face, last joint: drawn for either sign, in every format."""
    jig = Jig(mm(500.0), "left")
    right = Jig(mm(500.0), "right")
    for correction, said in (
        (correct_direct(mm(0.9), mm(200.0), "far", Quantity(0.0, "rad"), jig), "Where the gap opens"),
        (correct_direct(mm(0.9), mm(200.0), "fence", Quantity(0.0, "rad"), right), "Where the gap opens"),
        (correct_facing(mm(0.9), mm(200.0), "far", right), "Two pieces face to face"),
        (correct_facing(mm(0.9), mm(200.0), "fence", jig), "Two pieces face to face"),
        (correct_frame(mm(1.2), mm(60.0), 4, "toe", jig), "at its toe"),
        (correct_frame(mm(1.2), mm(60.0), 4, "heel", right), "at its heel"),
    ):
        figure = saw_drawing(correction)
        assert figure is not None
        assert any(said in text.get_text() for text in figure.axes[0].texts)
    for kind, start in zip(FORMATS, (b"<?xml", b"\x89PNG", b"%PDF"), strict=True):
        assert figure_bytes(figure, kind).startswith(start)


def test_nothing_is_drawn_when_nothing_is_to_be_moved() -> None:
    """A true fence and one that is left alone have no drawing."""
    assert saw_drawing(miter(0.0, None, "left")) is None
    assert saw_drawing(square(0.0, None, None)) is None
    unsure = correct_square_from_taper(Quantity(1e-5, "rad", {Influence("one", "one"): 1e-4}), Jig(mm(500.0), "left"))
    assert unsure.decision.action != "move"
    assert saw_drawing(unsure) is None


@pytest.mark.parametrize("kept", ["left", "right"])
@pytest.mark.parametrize("off_deg", [-0.2, 0.2])
@pytest.mark.parametrize("geometry", [*SINGLE, *V, *SCREWS])
def test_the_text_drawing_has_every_end_on_its_own_side(geometry: FenceGeometry, off_deg: float, kept: str) -> None:
    """Marks left of the blade's column for the left end; within 80 columns; arrow, pivot and caption agree."""
    for correction in corrections(geometry, off_deg, kept):
        plan = correction.plan
        assert plan is not None
        lines = move_drawing(correction)
        assert max(map(len, lines)) <= 80
        blank = lines.index("", 2)
        picture, told = lines[2:blank], " ".join(lines[blank:])
        blade = next(line for line in picture if "blade" in line).index("|")
        arrows = [mark for line in picture for mark in lone(line, r"\^v")]
        assert {("left" if column < blade else "right", sign) for column, sign in arrows} >= {
            (push.end, "^" if push.way == "away" else "v") for push in plan.pushes
        }
        pivots = [column for line in picture for column, _ in lone(line, "o")]
        wanted = {"left": -1, "point": 0, "right": 1}[plan.pivot]
        assert any((column > blade) - (column < blade) == wanted for column in pivots)
        for push in plan.pushes:
            assert f"{push.end.capitalize()} {'end' if geometry.kind == 'single' else 'foot'}: " in told
            assert ("away from you" if push.way == "away" else "toward you") in told


def lone(line: str, signs: str) -> list[tuple[int, str]]:
    """Where such signs stand by themselves, not within a word."""
    return [(found.start(), found[0]) for found in re.finditer(rf"(?<![a-z])[{signs}](?![a-z])", line)]


@pytest.mark.parametrize("geometry", [*SINGLE, *V, *SCREWS, FenceGeometry("v-foot", point_ahead_mm=190.0)])
def test_the_report_and_the_json_tell_the_plan(geometry: FenceGeometry) -> None:
    """Action first, what the next piece reads, both units, cautions; the same under "move" in JSON."""
    correction = miter(0.2, geometry, "left")
    text = " ".join(correction_text(correction).split())
    told = correction_as_json(correction)["move"]
    plan = correction.plan
    assert plan is not None
    assert "What the next piece, as large and cut likewise, should read" in text
    assert "unplug" in text
    assert (told["fence"], told["turn"], told["pivot"]) == (geometry.kind, "clockwise", plan.pivot)
    assert [push["distance"]["value"] for push in told["pushes"]] == [p.distance.value for p in plan.pushes]
    assert told["next_readings"][0]["after"] == pytest.approx(45.0)
    assert told["next_readings"][0]["wrong_way"] == pytest.approx(45.0 - 0.4, abs=1e-9)
    for push in plan.pushes:
        words = {"shim in": "Put a leaf of", "shim out": "Take leaves of", "screw": "Turn the screw at"}[push.means]
        assert f"{words}" in text
        assert f"the fence's {push.end}" in text
    if geometry.screw is not None:
        assert told["pushes"][0]["screw"] is not None
        assert "o'clock" in text
    if geometry.kind == "v-foot":
        assert told["point"] is not None
        assert (told["point"]["distance"] is None) == (geometry.point_ahead_mm is None)
        assert "to the left along its stop" in text


def test_a_fence_without_a_stop_is_told_where_a_leaf_would_go() -> None:
    """A leaf can only push: on your side to push away, on the work's side to push toward you."""
    away = correction_text(square(0.2, FenceGeometry("single", "right"), "left"))
    toward = correction_text(square(0.2, FenceGeometry("single", "left"), "left"))
    assert "on your side of the fence" in " ".join(away.split())
    assert "on the work's side of the fence" in " ".join(toward.split())
    assert "left end" in away
    assert "right end" in toward


def test_without_a_geometry_nothing_is_added() -> None:
    """The answer, the drawing and the JSON stay as they were."""
    correction = miter(0.2, None, "left")
    assert "move" not in correction_as_json(correction)
    assert "next piece, as large" not in correction_text(correction)
    assert correction_text(correction).startswith("Put a leaf of")
