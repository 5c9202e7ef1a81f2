"""Every rendering of a move names the same end, the same way and the same amount; each is held against the plan."""

from __future__ import annotations

import json
import math
import re
from typing import Any

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from cutvision.correction import (
    Correction,
    FenceGeometry,
    Jig,
    MovePlan,
    Push,
    Screw,
    correct_direct,
    correct_facing,
    correct_frame,
    correct_miter_from_angles,
    correct_square_from_taper,
)
from cutvision.reports.cautions import cautions
from cutvision.reports.encode import recorded_correction
from cutvision.reports.evidence import run_sheet
from cutvision.reports.figure import FORMATS, figure_bytes
from cutvision.reports.model import Report
from cutvision.reports.objects import correction_object
from cutvision.reports.saw_ascii import ascii_scene
from cutvision.reports.saw_drawing import BLADE_X, saw_drawing
from cutvision.reports.saw_scene import saw_scene
from cutvision.reports.says_correction import correction_report
from cutvision.reports.terminal import DETAILS, LINES, to_terminal
from cutvision.reports.wording import length_words, short_length_words
from cutvision.uncertainty import Influence, Quantity

SCREEN = 80
SINGLE = [
    FenceGeometry("single", pivot, shim_at=at)  # type: ignore[arg-type]
    for pivot in ("left", "right")
    for at in ("operator", "work", None)
]
V = [
    FenceGeometry("v-foot"),
    FenceGeometry("v-foot", "left", point_ahead_mm=190.0),
    FenceGeometry("v-foot", "right"),
    FenceGeometry("v-point"),
]
SCREWS = [
    FenceGeometry("single", "left", screw=Screw(1.0, "away")),
    FenceGeometry("single", "right", screw=Screw(1.0, "toward")),
    FenceGeometry("v-point", screw=Screw(1.27, "away")),
    FenceGeometry("v-foot", screw=Screw(2.0, "toward")),
]


def mm(value: float) -> Quantity:
    """An exact length."""
    return Quantity(value, "mm")


def rad(value: float) -> Quantity:
    """An angle known well enough that the fence is moved."""
    return Quantity(value, "rad", {Influence("one", "one"): math.radians(0.01)})


def miter(off_deg: float, geometry: FenceGeometry | None, kept: Any, nominal_deg: float = 45.0) -> Correction:
    """A miter fence that stands so far counterclockwise."""
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
    """A square fence that stands so far counterclockwise (its kept corner so much over 90 deg, without a side)."""
    excess = math.radians(-off_deg if kept == "right" else off_deg)
    return correct_square_from_taper(rad(4 * excess), Jig(mm(560.0), kept, geometry=geometry))


def by_gap(off_deg: float, kept: Any) -> list[Correction]:
    """A square beside the blade, two pieces face to face, and a frame's last joint, of such a fence."""
    jig = Jig(mm(500.0), kept)
    gap_at: Any = "far" if (off_deg > 0) == (kept != "right") else "fence"
    end: Any = "heel" if (off_deg > 0) == (kept != "right") else "toe"
    exact = Quantity(0.0, "rad")
    facing = correct_facing(mm(0.9), mm(200.0), gap_at, jig)
    if kept is None:
        return [facing]
    direct = correct_direct(mm(0.9), mm(200.0), gap_at, exact, jig)
    return [facing, direct, correct_frame(mm(1.2), mm(60.0), 4, end, jig)]


def corrections(geometry: FenceGeometry | None, off_deg: float, kept: Any) -> list[Correction]:
    """Every kind of cut that such a fence makes, found in every way."""
    if geometry is None:
        sides = [] if kept is None else [miter(off_deg, None, kept), miter(off_deg, None, kept, 22.5)]
        return [*sides, square(off_deg, None, kept), *by_gap(off_deg, kept)]
    made = [miter(off_deg, geometry, kept), miter(off_deg, geometry, kept, 22.5), miter(off_deg, geometry, kept, 67.5)]
    return [*made, square(off_deg, geometry, kept)] if geometry.kind == "single" else made


CASES = [
    (correction, f"{geometry and geometry.kind} {off_deg} {kept} {correction.way}")
    for geometry in (None, *SINGLE, *V, *SCREWS)
    for off_deg in (-0.2, 0.2)
    for kept in ("left", "right", *((None,) if geometry is None else ()))
    for correction in corrections(geometry, off_deg, kept)
]
MOVED = pytest.mark.parametrize(
    "correction", [pytest.param(one, id=f"{n} {name}") for n, (one, name) in enumerate(CASES)]
)


def plan_of(correction: Correction) -> MovePlan:
    """The plan, which every move has."""
    assert correction.plan is not None
    return correction.plan


def flat(text: str) -> str:
    """On one line."""
    return " ".join(text.split())


def place(push: Push, plan: MovePlan) -> str:
    """The end that is moved, as every rendering calls it."""
    return (
        "end on the side you keep"
        if push.end == "kept"
        else f"{push.end} {'end' if plan.fence == 'single' else 'foot'}"
    )


def other(push: Push, plan: MovePlan) -> str:
    """The end across from it."""
    part = "end" if plan.fence == "single" else "foot"
    return f"{'left' if push.end == 'right' else 'right'} {part}"


@MOVED
def test_the_answer_names_the_end_that_moves_its_way_and_its_amount(correction: Correction) -> None:
    """Place, amount, way and turn as in the plan; the end that stays is not named."""
    plan = plan_of(correction)
    said = flat(" ".join(correction_report(correction).headline))
    for push in plan.pushes:
        assert place(push, plan) in said
        assert length_words(push.distance) in said
        assert {"away": "away from you", "toward": "toward you"}[push.way] in said
    if len(plan.pushes) == 1:
        assert other(plan.pushes[0], plan) not in said
        wrong = "toward you" if plan.pushes[0].way == "away" else "away from you"
        assert wrong not in said
        means = {"shim in": "Put a shim of", "shim out": "Take shims of", "screw": "Turn the screw", "push": "Move the"}
        assert said.startswith(means[plan.pushes[0].means])
    assert re.findall(r"fence turns (\w+)", said) == ([] if plan.turn is None else [plan.turn])
    stop = {"fence": "fence's face", "rear stop": "rear stop"}[plan.pushes[0].square_to]
    assert f"at right angles to the {stop}" in said


@MOVED
def test_the_default_answer_is_one_screen_that_ends_with_what_to_do(correction: Correction) -> None:
    """At most 24 lines of 80 columns: the error both ways, the drawing, two lines of cautions, the answer last."""
    report = correction_report(correction)
    text = to_terminal(report)
    lines = text.splitlines()
    assert len(lines) <= LINES
    assert max(map(len, lines)) <= SCREEN
    assert flat(text).endswith(flat(" ".join(report.headline)))
    assert "mm over 300 mm" in flat(text)
    assert "thou over a foot" in flat(text)
    assert "Saw off and unplugged" in flat(text)
    assert report.drawing is not None
    assert "\n".join(ascii_scene(report.drawing)) in text


@MOVED
def test_quiet_is_the_answer_with_its_cautions_and_more_is_everything(correction: Correction) -> None:
    """Quiet holds the answer and the brief cautions; more holds every caution, note, table and section."""
    report = correction_report(correction)
    quiet, _, more = (flat(to_terminal(report, detail)) for detail in DETAILS)
    assert quiet == flat(f"Caution: {report.brief_cautions} {' '.join(report.headline)}")
    for line in (*report.cautions, *report.notes, *report.sure, *report.headline):
        assert flat(line) in more.replace(" - ", " ")
    for section in report.sections:
        assert section.title in more
    for table in report.tables:
        assert all(row[0].strip() in more for row in table.rows)


@MOVED
def test_the_terminal_drawing_has_every_end_on_its_own_side(correction: Correction) -> None:
    """Arrow, shim or screw left of the blade for the left end, away upward; pivot on its side; the amount beside it."""
    plan = plan_of(correction)
    scene = saw_scene(correction)
    assert scene is not None
    lines = ascii_scene(scene)
    assert max(map(len, lines)) <= SCREEN
    picture = lines[1:]
    blade = next(line for line in picture if "blade" in line).index("|")
    arrows = {("left" if at < blade else "right", sign) for line in picture for at, sign in lone(line, r"\^v")}
    ends = {(end, "^" if push.way == "away" else "v") for push in plan.pushes for end in _ends(push)}
    assert arrows == ends
    for push in plan.pushes:
        assert any(short_length_words(push.distance) in line for line in picture)
        assert push.means not in ("shim in", "shim out") or any(push.means in line for line in picture)
    pivots = {(at > blade) - (at < blade) for line in picture for at, _ in lone(line, "o")}
    if plan.pivot is None:
        assert pivots == set()
    else:
        assert {"left": -1, "point": 0, "right": 1}[plan.pivot] in pivots


def _ends(push: Push) -> tuple[str, ...]:
    """Where a push may be drawn: an unknown kept side at both ends."""
    return ("left", "right") if push.end == "kept" else (push.end,)


def lone(line: str, signs: str) -> list[tuple[int, str]]:
    """Where such signs stand by themselves, not within a word."""
    return [(found.start(), found[0]) for found in re.finditer(rf"(?<![a-z]){'[' + signs + ']'}(?![a-z])", line)]


@MOVED
def test_the_picture_has_every_end_on_its_own_side(correction: Correction) -> None:
    """Setter and arrow at the plan's end and way, no turn and no pivot where none is known, the amount in words."""
    plan = plan_of(correction)
    figure = saw_drawing(correction)
    assert figure is not None
    axes = figure.axes[0]
    drawn: dict[str, Any] = {str(patch.get_gid()): patch for patch in axes.patches if patch.get_gid()}
    words = flat(" ".join(text.get_text() for text in axes.texts))
    for push in plan.pushes:
        assert f"{place(push, plan)}:" in words.lower()
        assert short_length_words(push.distance) in words
        for end in _ends(push):
            (x0, y0), (x1, y1) = drawn[f"arrow-{end}"]._posA_posB
            assert (y1 > y0) == (push.way == "away")
            assert (max(x0, x1) < BLADE_X) == (end == "left")
            setter = {"screw": "screw", "push": "push"}.get(push.means, "shim")
            assert f"{setter}-{end}" in drawn
    arrows = {name for name in drawn if name.startswith("arrow-")}
    assert arrows == {f"arrow-{end}" for push in plan.pushes for end in _ends(push)}
    assert ("turn" in drawn, "pivot" in drawn) == (plan.turn is not None, plan.pivot is not None)
    if plan.pivot is not None:
        pivot = drawn["pivot"].center
        on = {"left": -1, "point": 0, "right": 1}[plan.pivot]
        assert (pivot[0] > BLADE_X + 1e-6) - (pivot[0] < BLADE_X - 1e-6) == on
        (x0, y0), (x1, _) = drawn["turn"]._posA_posB
        assert y0 > pivot[1]
        assert (x1 > x0) == (plan.turn == "clockwise")
    if plan.point is not None:
        (x0, _), (x1, _) = drawn["slide"]._posA_posB
        assert (x1 > x0) == (plan.point.slide == "right")


@MOVED
def test_the_json_holds_the_plan_and_gives_the_same_report_back(correction: Correction) -> None:
    """Ends, ways, amounts and turn as in the plan; decoded, the answer and the drawing are the same to the letter."""
    plan = plan_of(correction)
    told = json.loads(json.dumps(correction_object(correction), allow_nan=False))
    assert [(p["end"], p["way"], p["means"], p["distance"]["value"]) for p in told["plan"]["pushes"]] == [
        (push.end, push.way, push.means, push.distance.value) for push in plan.pushes
    ]
    assert (told["turn"], told["plan"]["turn"], told["plan"]["pivot"]) == (correction.turn, plan.turn, plan.pivot)
    assert told["cautions"] == list(cautions("measure", "adjust", "cut"))
    again = correction_report(recorded_correction(told))
    assert answer_of(again) == answer_of(correction_report(correction))


@MOVED
def test_the_evidence_sheet_says_the_stored_answer(correction: Correction, make_run: Any) -> None:
    """The sheet's first lines are the answer's, to the letter, from the JSON that the logbook keeps."""
    run = make_run(result=correction_object(correction))
    report = correction_report(correction)
    sheet = run_sheet(run, {})
    assert sheet.answer == (*report.headline, *report.sure)
    assert sheet.cautions == report.cautions


def answer_of(report: Report) -> tuple[Any, ...]:
    """What a recorded run must give back."""
    drawn = () if report.drawing is None else (ascii_scene(report.drawing), report.drawing.captions)
    return report.headline, report.sure, drawn, report.notes, report.sections


def test_a_shim_lies_on_the_side_of_the_fence_that_it_pushes_from() -> None:
    """With the stop on your side the shim lies nearer to you than the fence's face when true, else beyond it."""
    for at, off_deg, nearer in (("operator", 0.2, True), ("work", -0.2, False)):
        correction = square(off_deg, FenceGeometry("single", "right", shim_at=at), "left")  # type: ignore[arg-type]
        figure = saw_drawing(correction)
        assert figure is not None
        assert plan_of(correction).pushes[0].means == "shim in"
        drawn: dict[str, Any] = {str(patch.get_gid()): patch for patch in figure.axes[0].patches if patch.get_gid()}
        middle = drawn["shim-left"].get_xy()[:4].mean(axis=0)[1]
        assert (middle < drawn["pivot"].center[1]) == nearer


def test_every_word_stays_on_the_page() -> None:
    """No text runs over the page's edge, for the steepest and the flattest fence and the longest caption."""
    for correction in (
        miter(0.2, FenceGeometry("v-foot", point_ahead_mm=190.0), "right"),
        miter(-0.2, FenceGeometry("v-point", screw=Screw(1.27)), "left", 22.5),
        miter(-0.2, FenceGeometry("single", "left", shim_at="operator"), "left", 67.5),
        square(-0.2, FenceGeometry("single", "right", shim_at="work"), "left"),
        square(-0.2, None, None),
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


def test_each_format_of_the_picture_is_written_with_every_caution() -> None:
    """SVG, PNG and PDF by their first bytes; the cautions stand on the page."""
    figure = saw_drawing(square(0.2, None, "left"))
    assert figure is not None
    words = flat(" ".join(text.get_text() for text in figure.axes[0].texts))
    for caution in cautions("measure", "adjust", "cut"):
        assert caution in words
    for kind, start in zip(FORMATS, (b"<?xml", b"\x89PNG", b"%PDF"), strict=True):
        assert figure_bytes(figure, kind).startswith(start)


def test_nothing_is_drawn_when_nothing_is_to_be_moved() -> None:
    """A true fence, one that is left alone, and one whose kept side nobody gave have no drawing anywhere."""
    unsure = correct_square_from_taper(Quantity(1e-5, "rad", {Influence("one", "one"): 1e-3}), Jig(mm(500.0), "left"))
    for correction, action in (
        (miter(0.0, None, "left"), "cannot-tell"),
        (square(0.0, None, None), "leave"),
        (unsure, "cannot-tell"),
        (miter(0.2, None, None), "needs-kept"),
    ):
        assert correction.decision.action == action
        assert saw_drawing(correction) is None
        report = correction_report(correction)
        assert report.drawing is None
        said = flat(" ".join(report.headline))
        assert ("Leave the fence" in said) == (action != "needs-kept")
        assert "Put a shim" not in said


def test_a_photo_without_the_kept_side_shows_both_candidates_and_asks() -> None:
    """Both sides' errors and moves stand in the answer, and the question comes first."""
    correction = miter(0.2, None, None)
    said = correction_report(correction).headline
    assert said[0].startswith("Do not move the fence yet. On which side of the blade")
    for one, line in zip(correction.candidates, said[1:], strict=True):
        assert line.startswith(f"Kept on the {one.kept}:")
        assert length_words(one.fence_move) in line


def test_a_run_recorded_without_a_plan_says_so() -> None:
    """What the first version wrote is read; a move whose place was not kept is not invented."""
    told = correction_object(miter(0.2, None, "left"))
    old = {key: value for key, value in told.items() if key not in {"plan", "uncured"}}
    old["decision"] = {"value": "move", "reason": "", "tolerance": None, "remedy": "", "probability_within": None}
    said = correction_report(recorded_correction(old)).headline
    assert "Turn the fence clockwise" in said[0]
    assert "was not recorded with this run" in said[0]
    assert "shim" not in said[0]
