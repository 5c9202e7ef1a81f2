"""Every kind of fence, pivot, leaf and screw, settled by the motion: the model's fence is moved as told and cuts true.

The saw, the fence and the piece are those of `test_signs_by_motion`: polygons that are turned and cut, no formula of
the program. Each expected value is the model's own.
"""

from __future__ import annotations

import importlib.util
import math
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutvision.correction import (
    Correction,
    EdgeForm,
    FenceGeometry,
    Jig,
    MovePlan,
    Push,
    Screw,
    correct_miter_from_legs,
    correct_square_from_widths,
    plan_move,
)


def load_model() -> ModuleType:
    """The exact model beside this file; test folders are no package."""
    spec = importlib.util.spec_from_file_location("motion_model", Path(__file__).with_name("test_signs_by_motion.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


model: Any = load_model()
NOTHING_RAD = 1e-9
NOTHING_MM = 1e-8  # float noise of pieces some 900 mm long
many = settings(max_examples=120, deadline=None, derandomize=True)
errors_deg = st.floats(-1.9, 1.9).filter(lambda e: abs(e) > 1e-6)
SETTERS = {
    "nothing said": {},
    "leaf on your side": {"leaf_at": "operator"},
    "leaf on the work's side": {"leaf_at": "work"},
    "screw that pushes away": {"screw": Screw(1.25, "away")},
    "screw that pushes toward": {"screw": Screw(25.4 / 20, "toward")},
}


def travel(push: Push) -> float:
    """How far the end goes away from you, by what is done there: leaves between stop and fence, turns of a screw."""
    size = push.distance.value
    if push.screw is not None:
        assert push.screw.exact * push.screw.pitch_mm == pytest.approx(size, rel=1e-12)
        assert push.means == "screw"
    if push.means.startswith("leaf"):
        thicker = 1.0 if push.means == "leaf in" else -1.0
        stop_pushes = 1.0 if push.leaf_on == "operator" else -1.0
        assert stop_pushes * thicker == (1.0 if push.way == "away" else -1.0)
    return size if push.way == "away" else -size


def screw_travel(push: Push, screw: Screw) -> float:
    """The same from the screw alone: turned in it goes the way it pushes, turned out the other way."""
    assert push.screw is not None
    into = 1.0 if push.screw.way == "in" else -1.0
    return into * (1.0 if screw.pushes == "away" else -1.0) * push.screw.exact * screw.pitch_mm


def moved_single(fence: Any, plan: MovePlan, lever: float, pivot_x: float) -> Any:
    """A single fence turned about the named end until its other end went as told, square to the fence."""
    (push,) = plan.pushes
    pivot = fence.point + fence.along * (pivot_x - fence.point.real) / fence.along.real
    assert plan.pivot != push.end
    spot = pivot + lever * (fence.along if push.end == "right" else -fence.along)
    return fence.turned(pivot, spot, spot + travel(push) * 1j * fence.along)


def legs_correction(fence: Any, kept: str, corner: float, miter: float, jig: Jig) -> Correction:
    """The fence's correction from the legs of the triangle that it cuts."""
    seen = model.seen_with_cut_toward_you(model.triangle(fence, kept, corner))
    return correct_miter_from_legs(
        model.mm(seen["leg_left"]),
        model.mm(seen["leg_right"]),
        model.rad(corner),
        jig,
        nominal_rad=miter,
        edge_form=EdgeForm(rms_mm=0.0),
    )


@pytest.mark.parametrize("pivot", ["left", "right"])
@pytest.mark.parametrize("setter", SETTERS)
@given(
    error=errors_deg,
    miter=st.floats(15.0, 75.0),
    corner=st.floats(89.0, 91.0),
    kept=model.sides,
    lever=st.floats(100.0, 900.0),
    pivot_x=st.floats(-500.0, 500.0),
)
@many
def test_a_single_miter_fence_moved_as_told_is_true(
    pivot: Any, setter: str, error: float, miter: float, corner: float, kept: Any, lever: float, pivot_x: float
) -> None:
    """Either pivot, any setter, either kept side: nothing is left; the readings foretold come out (the model's own)."""
    geometry = FenceGeometry("single", pivot, **SETTERS[setter])  # type: ignore[arg-type]
    fence = model.fence_at(model.true_angle(kept, math.radians(miter)) + math.radians(error))
    corner_rad, miter_rad = math.radians(corner), math.radians(miter)
    correction = legs_correction(fence, kept, corner_rad, miter_rad, Jig(model.mm(lever), kept, geometry=geometry))
    plan = plan_move(correction)
    assert plan is not None
    if geometry.screw is not None:
        assert screw_travel(plan.pushes[0], geometry.screw) == pytest.approx(travel(plan.pushes[0]), rel=1e-12)
    moved = moved_single(fence, plan, lever, pivot_x)
    piece = model.triangle(moved, kept, corner_rad)
    after = model.fence_leg_angle(piece, kept)
    assert after == pytest.approx(math.pi / 2 - miter_rad, abs=NOTHING_RAD)
    readings = {reading.name: reading for reading in plan.readings}
    assert readings["fence leg"].after == pytest.approx(after, abs=NOTHING_RAD)
    check_legs(readings["legs"], correction, piece)


def check_legs(reading: Any, correction: Correction, piece: Any) -> None:
    """The difference of the legs, foretold for a piece whose cut is as long, is the model's, scaled to that length."""
    seen = model.seen_with_cut_toward_you(piece)
    a, b = piece.edge("cut")
    assert correction.piece is not None
    scale = correction.piece.size_mm / abs(b - a)
    assert reading.after == pytest.approx(scale * (seen["leg_left"] - seen["leg_right"]), abs=NOTHING_MM)


@given(error=errors_deg, corner=st.floats(89.0, 91.0), kept=model.sides, miter=st.floats(20.0, 70.0))
@many
def test_a_move_the_wrong_way_reads_as_foretold(error: float, corner: float, kept: Any, miter: float) -> None:
    """Turned as far the other way, the fence stands off twice; the next piece reads as foretold."""
    corner_rad, miter_rad = math.radians(corner), math.radians(miter)
    true = model.true_angle(kept, miter_rad)
    fence = model.fence_at(true + math.radians(error))
    jig = Jig(model.mm(400.0), kept, geometry=FenceGeometry("single", "left"))
    correction = legs_correction(fence, kept, corner_rad, miter_rad, jig)
    plan = plan_move(correction)
    assert plan is not None
    wrong = model.triangle(model.fence_at(true + 2 * math.radians(error)), kept, corner_rad)
    readings = {reading.name: reading for reading in plan.readings}
    assert readings["fence leg"].wrong_way == pytest.approx(model.fence_leg_angle(wrong, kept), abs=NOTHING_RAD)
    seen = model.seen_with_cut_toward_you(wrong)
    a, b = wrong.edge("cut")
    assert correction.piece is not None
    scaled = correction.piece.size_mm / abs(b - a) * (seen["leg_left"] - seen["leg_right"])
    assert readings["legs"].wrong_way == pytest.approx(scaled, abs=NOTHING_MM)
    seen_now = model.seen_with_cut_toward_you(model.triangle(fence, kept, corner_rad))
    assert readings["legs"].now == pytest.approx(seen_now["leg_left"] - seen_now["leg_right"], abs=NOTHING_MM)


@pytest.mark.parametrize("pivot", [None, "left", "right"])
@pytest.mark.parametrize("setter", ["nothing said", "screw that pushes away", "screw that pushes toward"])
@given(
    error=errors_deg,
    corner=st.floats(89.0, 91.0),
    kept=model.sides,
    feet=st.floats(200.0, 900.0),
    ahead=st.floats(20.0, 600.0),
)
@many
def test_a_v_turned_about_a_foot_is_true_and_its_point_slides_back(
    pivot: Any, setter: str, error: float, corner: float, kept: Any, feet: float, ahead: float
) -> None:
    """About the foot that is named or must be: nothing is left, and the slide puts the point back on the kerf."""
    geometry = FenceGeometry("v-foot", pivot, point_ahead_mm=ahead, **SETTERS[setter])  # type: ignore[arg-type]
    fence = model.fence_at(model.true_angle(kept, math.pi / 4) + math.radians(error))
    jig = Jig(model.mm(feet), kept, geometry=geometry)
    correction = legs_correction(fence, kept, math.radians(corner), math.pi / 4, jig)
    plan = plan_move(correction)
    assert plan is not None
    (push,) = plan.pushes
    if setter == "nothing said":
        assert push.means == ("leaf in" if push.way == "away" else "leaf out")
    if pivot is None:
        assert push.way == "away"
    place = {"left": complex(-feet / 2, -200), "right": complex(feet / 2, -200), "point": complex(0, ahead - 200)}
    body, to = place[push.end], place[push.end] + 1j * travel(push)
    moved = fence.turned(place[plan.pivot], body, to)
    after = model.fence_leg_angle(model.triangle(moved, kept, math.radians(corner)), kept)
    assert after == pytest.approx(math.pi / 4, abs=NOTHING_RAD)
    turn = (to - place[plan.pivot]) / (body - place[plan.pivot])
    point = place[plan.pivot] + (place["point"] - place[plan.pivot]) * turn / abs(turn)
    assert plan.point is not None
    assert plan.point.slide_mm is not None
    slide = plan.point.slide_mm.value * (1 if plan.point.slide == "right" else -1)
    assert point.real + slide == pytest.approx(0.0, abs=NOTHING_MM)
    assert plan.point.away_mm == pytest.approx((point - place["point"]).imag, abs=NOTHING_MM)


@pytest.mark.parametrize("setter", ["nothing said", "screw that pushes away", "screw that pushes toward"])
@given(error=errors_deg, corner=st.floats(89.0, 91.0), kept=model.sides, feet=st.floats(200.0, 900.0))
@many
def test_a_v_held_at_its_point_is_true_after_both_feet_went_half_the_way(
    setter: str, error: float, corner: float, kept: Any, feet: float
) -> None:
    """One foot away from you, the other toward, by the same amount: the line of the feet turns, and nothing is left."""
    geometry = FenceGeometry("v-point", **SETTERS[setter])  # type: ignore[arg-type]
    fence = model.fence_at(model.true_angle(kept, math.pi / 4) + math.radians(error))
    jig = Jig(model.mm(feet), kept, geometry=geometry)
    correction = legs_correction(fence, kept, math.radians(corner), math.pi / 4, jig)
    plan = plan_move(correction)
    assert plan is not None
    assert {push.end for push in plan.pushes} == {"left", "right"}
    assert plan.pivot == "point"
    assert plan.point is None
    assert correction.move.at_leaf.value == pytest.approx(correction.fence_move.value / 2)
    assert correction.move.leaf_lever_mm == feet / 2
    gone = {push.end: travel(push) for push in plan.pushes}
    if geometry.screw is not None:
        assert {p.end: screw_travel(p, geometry.screw) for p in plan.pushes} == pytest.approx(gone, rel=1e-12)
    line = complex(feet, gone["right"] - gone["left"])
    moved = model.Fence(fence.point, fence.along * line / abs(line))
    after = model.fence_leg_angle(model.triangle(moved, kept, math.radians(corner)), kept)
    assert after == pytest.approx(math.pi / 4, abs=NOTHING_RAD)


@pytest.mark.parametrize("turns", [2, 4])
@pytest.mark.parametrize("pivot", ["left", "right"])
@pytest.mark.parametrize("setter", SETTERS)
@given(
    error=st.floats(-0.5, 0.5).filter(lambda e: abs(e) > 1e-6),  # twice as much must not taper a strip to a point
    kept=model.sides,
    lever=st.floats(200.0, 1200.0),
    leans=st.tuples(*(st.floats(-15.0, 15.0),) * 3),
)
@settings(max_examples=40, deadline=None, derandomize=True)
def test_a_single_square_fence_moved_as_told_is_true(
    turns: int, pivot: Any, setter: str, error: float, kept: Any, lever: float, leans: tuple[float, float, float]
) -> None:
    """The pivot may be at the kept end or at the other: the moved fence cuts widths without a taper, as foretold."""
    geometry = FenceGeometry("single", pivot, **SETTERS[setter])  # type: ignore[arg-type]
    fence = model.fence_at(math.radians(error))

    def widths(saw_fence: Any) -> tuple[float, float]:
        board, strip = model.squaring(saw_fence, kept, 5 if turns == 4 else 3, model.fresh_board(leans))
        piece, last, before = (strip, "cut 5", "cut 1") if turns == 4 else (board, "cut 3", "cut 1")
        near, far = (model.width_across(piece, last, before, saw_fence, at) for at in (20.0, 320.0))
        return near, far

    near, far = widths(fence)
    correction = correct_square_from_widths(
        model.mm(near),
        model.mm(far),
        model.mm(300.0),
        Jig(model.mm(lever), kept, geometry=geometry),
        turns=turns,
        edge_form=EdgeForm(rms_mm=0.0),
    )
    plan = plan_move(correction)
    assert plan is not None
    near, far = widths(moved_single(fence, plan, lever, 30.0))
    assert near - far == pytest.approx(0.0, abs=NOTHING_MM * 10)
    readings = {reading.name: reading for reading in plan.readings}
    assert readings["widths"].after == pytest.approx(0.0, abs=1e-12)
    near, far = widths(model.fence_at(2 * math.radians(error)))
    assert readings["widths"].wrong_way == pytest.approx(near - far, abs=NOTHING_MM * 10)
    assert readings["taper"].wrong_way == pytest.approx(math.atan((near - far) / 300.0), abs=NOTHING_RAD)
