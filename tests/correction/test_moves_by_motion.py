"""Every method, kind of fence, pivot, leaf and screw, by the motion: the model's fence is moved as told and cuts true.

The saw, the fence and the piece are those of `test_signs_by_motion`: polygons that are turned and cut, no formula of
the program. Each expected value is the model's own. Together both files make 9840 random moves that must leave
nothing (`test_the_count_of_random_moves` counts them), beside 1620 cases that hold a sign without a move.
"""

from __future__ import annotations

import cmath
import importlib.util
import math
import sys
from pathlib import Path
from types import ModuleType
from typing import Any, Literal

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from cutvision.correction import (
    Correction,
    EdgeForm,
    FenceGeometry,
    Jig,
    JointGap,
    Joints,
    Kept,
    LegPair,
    MovePlan,
    Push,
    Screw,
    correct_arms_from_angles,
    correct_arms_from_legs,
    correct_assembly,
    correct_by_protractor,
    correct_direct,
    correct_facing,
    correct_frame,
    correct_miter_from_legs,
    correct_square_from_widths,
)
from cutvision.correction.gap import FrameGap, GapEnd


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
    "leaf on your side": {"shim_at": "operator"},
    "leaf on the work's side": {"shim_at": "work"},
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
        thicker = 1.0 if push.means == "shim in" else -1.0
        stop_pushes = 1.0 if push.shim_on == "operator" else -1.0
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
    plan = correction.plan
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
    """The difference of the legs, foretold for a piece whose fence leg is as long, is the model's, scaled to that."""
    seen = model.seen_with_cut_toward_you(piece)
    assert correction.piece is not None
    scale = correction.piece.size_mm / seen["leg_right" if correction.kept == "left" else "leg_left"]
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
    plan = correction.plan
    assert plan is not None
    wrong = model.triangle(model.fence_at(true + 2 * math.radians(error)), kept, corner_rad)
    readings = {reading.name: reading for reading in plan.readings}
    assert readings["fence leg"].wrong_way == pytest.approx(model.fence_leg_angle(wrong, kept), abs=NOTHING_RAD)
    seen = model.seen_with_cut_toward_you(wrong)
    assert correction.piece is not None
    scale = correction.piece.size_mm / seen["leg_right" if kept == "left" else "leg_left"]
    foretold_mm = scale * (seen["leg_left"] - seen["leg_right"])
    assert readings["legs"].wrong_way == pytest.approx(foretold_mm, abs=NOTHING_MM)
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
    plan = correction.plan
    assert plan is not None
    (push,) = plan.pushes
    if setter == "nothing said":
        assert push.means == ("shim in" if push.way == "away" else "shim out")
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
    plan = correction.plan
    assert plan is not None
    assert {push.end for push in plan.pushes} == {"left", "right"}
    assert plan.pivot == "point"
    assert plan.point is None
    assert correction.move.at_shim.value == pytest.approx(correction.fence_move.value / 2)
    assert correction.move.shim_lever_mm == feet / 2
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
    plan = correction.plan
    assert plan is not None
    near, far = widths(moved_single(fence, plan, lever, 30.0))
    assert near - far == pytest.approx(0.0, abs=NOTHING_MM * 10)
    readings = {reading.name: reading for reading in plan.readings}
    assert readings["widths"].after == pytest.approx(0.0, abs=1e-12)
    near, far = widths(model.fence_at(2 * math.radians(error)))
    assert readings["widths"].wrong_way == pytest.approx(near - far, abs=NOTHING_MM * 10)
    assert readings["taper"].wrong_way == pytest.approx(math.atan((near - far) / 300.0), abs=NOTHING_RAD)


SMOOTH = EdgeForm(rms_mm=0.0)
small_errors_deg = st.floats(-1.0, 1.0).filter(lambda e: abs(e) > 1e-6)
held_single = st.builds(
    lambda pivot, setter: FenceGeometry("single", pivot, **SETTERS[setter]),  # type: ignore[arg-type]
    st.sampled_from(["left", "right"]),
    st.sampled_from(list(SETTERS)),
)
single_moves = settings(max_examples=400, deadline=None, derandomize=True)


def foretold(plan: MovePlan, name: str, after: float, wrong_way: float) -> None:
    """The plan says what is read on the next piece, after the move and after as large a one the wrong way."""
    (reading,) = (one for one in plan.readings if one.name == name)
    assert reading.after == pytest.approx(after, abs=NOTHING_MM)
    assert reading.wrong_way == pytest.approx(wrong_way, abs=NOTHING_MM)


def between(fence: Any, side: Kept) -> float:
    """The angle between fence and blade on one side of the blade, beyond the fence."""
    return abs(cmath.phase(1j / (-fence.along if side == "left" else fence.along)))


def beside_a_square(fence: Any, side: Kept, set_to_rad: float, arm_mm: float) -> tuple[float, GapEnd]:
    """A bevel lies along the fence and is slid up to the blade: the leaf that fits at an end of its arm, and which."""
    inward = -1 if side == "left" else 1
    along = inward * fence.along
    arm = along * cmath.rect(arm_mm, inward * set_to_rad)
    # How far each end of the arm is from the plate once the other, or it, touches; a leaf stands square to the arm.
    far = max(0.0, inward * arm.real) / (arm.imag / arm_mm)
    near = max(0.0, -inward * arm.real) / (arm.imag / arm_mm)
    return (far, "far") if far > near else (near, "fence")


@given(
    error=small_errors_deg,
    side=model.sides,
    nominal_deg=st.one_of(st.just(0.0), st.floats(5.0, 60.0)),
    acute=st.booleans(),
    arm=st.floats(50.0, 300.0),
    lever=st.floats(100.0, 900.0),
    geometry=held_single,
)
@single_moves
def test_a_fence_moved_by_the_gap_beside_a_square_leaves_no_gap(
    error: float, side: Kept, nominal_deg: float, arm: float, lever: float, geometry: FenceGeometry, *, acute: bool
) -> None:
    """The bevel set over 90 deg or under, on either side: after the move its arm lies against the plate."""
    setting = math.radians(-nominal_deg if acute else nominal_deg)
    true = model.true_angle(side, setting)

    def gap_of(fence: Any) -> tuple[float, GapEnd]:
        return beside_a_square(fence, side, math.pi / 2 + setting, arm)

    fence = model.fence_at(true + math.radians(error))
    gap, end = gap_of(fence)
    correction = correct_direct(
        model.mm(gap),
        model.mm(arm),
        end,
        model.rad(0.0),
        Jig(model.mm(lever), side, geometry=geometry),
        math.radians(nominal_deg),
    )
    plan = correction.plan
    assert plan is not None
    after, _ = gap_of(moved_single(fence, plan, lever, 30.0))
    assert after == pytest.approx(0.0, abs=NOTHING_MM)
    foretold(plan, "gap", 0.0, gap_of(model.fence_at(true + 2 * math.radians(error)))[0])


@given(
    error=small_errors_deg,
    side=model.sides,
    nominal_deg=st.floats(10.0, 80.0),
    lies=st.sampled_from(["from square", "beyond the fence", "before the fence"]),
    lever=st.floats(100.0, 900.0),
    geometry=held_single,
)
@single_moves
def test_a_fence_moved_by_a_protractor_shows_the_nominal_angle(
    error: float, side: Kept, nominal_deg: float, lies: str, lever: float, geometry: FenceGeometry
) -> None:
    """Counted from square, or the angle beyond or before the fence: after the move the protractor shows what it should.

    At 45 deg both scales are possible, so it is said which one is read.
    """
    nominal = math.radians(nominal_deg)
    fence = model.fence_at(model.true_angle(side, nominal) + math.radians(error))

    def shown(saw_fence: Any) -> float:
        beyond = between(saw_fence, side)
        return {
            "from square": beyond - math.pi / 2,
            "beyond the fence": beyond,
            "before the fence": math.pi - beyond,
        }[lies]

    true = {
        "from square": nominal,
        "beyond the fence": math.pi / 2 + nominal,
        "before the fence": math.pi / 2 - nominal,
    }
    correction = correct_by_protractor(
        model.rad(shown(fence)),
        model.rad(0.0),
        Jig(model.mm(lever), side, geometry=geometry),
        nominal,
        "square" if lies == "from square" else "blade",
    )
    plan = correction.plan
    assert plan is not None
    moved = moved_single(fence, plan, lever, -70.0)
    assert shown(moved) == pytest.approx(true[lies], abs=NOTHING_RAD)


def face_to_face(fence: Any, kept: Kept, over: float) -> tuple[float, GapEnd]:
    """Two pieces sawn off square, one turned over, on one straight edge, cuts together: the leaf that fits, and where.

    over: from where they touch to the leaf, along a cut.
    """
    piece, _ = model.squaring(fence, kept, 1, model.fresh_board((0.0, 0.0, 0.0)))
    a, b = piece.edge("cut 0")
    on_edge = [(c - (b if kept == "left" else a)) / ((b - a) / abs(b - a)) for c in piece.corners]
    top = on_edge[(piece.names.index("cut 1") + (1 if kept == "left" else 0)) % len(on_edge)]
    # The piece that lies on the left of the joint; the other is its mirror image.
    left = top if kept == "left" else -top.conjugate()
    right = -left.conjugate()
    at_top = left.real > 0
    along, other = (-left / abs(left), -right / abs(right)) if at_top else (left / abs(left), right / abs(right))
    # over along + g (square to along) lies on the other cut's line.
    gap = abs(over * (along * other.conjugate()).imag / (along * 1j * other.conjugate()).imag)
    return gap, "fence" if at_top else "far"


@given(
    error=small_errors_deg,
    kept=model.sides,
    over=st.floats(60.0, 400.0),
    lever=st.floats(100.0, 900.0),
    geometry=held_single,
)
@single_moves
def test_a_fence_moved_by_two_pieces_face_to_face_closes_them(
    error: float, kept: Kept, over: float, lever: float, geometry: FenceGeometry
) -> None:
    """Two more pieces cut at the moved fence touch along their whole cuts."""
    fence = model.fence_at(math.radians(error))
    gap, end = face_to_face(fence, kept, over)
    jig = Jig(model.mm(lever), kept, geometry=geometry)
    correction = correct_facing(model.mm(gap), model.mm(over), end, jig, edge_form=SMOOTH)
    plan = correction.plan
    assert plan is not None
    after, _ = face_to_face(moved_single(fence, plan, lever, 30.0), kept, over)
    assert after == pytest.approx(0.0, abs=NOTHING_MM)
    foretold(plan, "gap", 0.0, face_to_face(model.fence_at(2 * math.radians(error)), kept, over)[0])


def turned_over(piece: Any) -> Any:
    """End for end and upside down: the mirror image, its edges named as before."""
    n = len(piece.corners)
    order = range(n - 1, -1, -1)
    return model.Piece(tuple(-piece.corners[i].conjugate() for i in order), tuple(piece.names[i - 1] for i in order))


def sawn_side(fence: Any, kept: Kept, stock: float) -> Any:
    """A side of a frame: one end sawn, turned over, the other sawn, the same edge at the fence."""
    board = model.Piece((0j, 3000 + 0j, 3000 + stock * 1j, stock * 1j), ("at the fence", "right", "outer edge", "left"))
    once = board.laid_on(fence, "at the fence", 300.0, kept).half(kept, "first cut")
    return turned_over(once).laid_on(fence, "at the fence", 300.0, kept).half(kept, "second cut")


def faces(side: Any) -> tuple[complex, complex]:
    """The sawn ends from outer to inner edge, with the outer edge lying to the right: at its start, at its end."""
    a, b = side.edge("outer edge")
    along = (b - a) / abs(b - a)
    order = side.names.index("outer edge")
    end, start = (side.edge(side.names[(order + step) % len(side.names)]) for step in (1, -1))
    return (start[0] - start[1]) / along, (end[1] - end[0]) / along


def last_joint(fence: Any, kept: Kept, sides: int, stock: float) -> tuple[float, FrameGap, float]:
    """Sides put end to end, all joints shut but the last: its gap, where it gapes, and its opening in rad."""
    start, end = faces(sawn_side(fence, kept, stock))
    turn = end / start / abs(end / start)
    last = end * turn ** (sides - 1)
    opening = cmath.phase(start / last)
    return abs(start - last), "heel" if opening < 0 else "toe", abs(opening)


@given(
    error=st.floats(-0.2, 0.2).filter(lambda e: abs(e) > 1e-3),
    kept=model.sides,
    sides=st.integers(3, 12),
    stock=st.floats(30.0, 120.0),
    lever=st.floats(100.0, 900.0),
    geometry=held_single,
)
@single_moves
def test_a_fence_moved_by_a_frames_last_joint_shuts_the_next_frame(
    error: float, kept: Kept, sides: int, stock: float, lever: float, geometry: FenceGeometry
) -> None:
    """With the cuts as they are, one move leaves nothing, and the gap foretold for now is the gap that was read."""
    fence = model.fence_at(model.true_angle(kept, math.pi / sides) + math.radians(error))
    gap, end, _ = last_joint(fence, kept, sides, stock)
    jig = Jig(model.mm(lever), kept, geometry=geometry)
    plan = correct_frame(model.mm(gap), model.mm(stock), sides, end, jig, edge_form=SMOOTH).plan
    assert plan is not None
    (reading,) = plan.readings
    assert (reading.now, reading.after) == pytest.approx((gap, 0.0), abs=NOTHING_MM)
    fence = moved_single(fence, plan, lever, -70.0)
    left_over = abs(cmath.phase(fence.along) - model.true_angle(kept, math.pi / sides))
    assert left_over <= NOTHING_RAD
    assert last_joint(fence, kept, sides, stock)[2] == pytest.approx(0.0, abs=2 * sides * NOTHING_RAD)


def put_together(first: complex, second: complex, over: float) -> JointGap:
    """Two sawn ends in a true square, outer corners touching: the gap so far from there, and where the joint gapes.

    first: the end of the side that lies to the right; second: the start of the side that goes away from you.
    """
    ahead = over * (first / abs(first)), over * 1j * (second / abs(second))
    return JointGap(model.mm(abs(ahead[1] - ahead[0])), "heel" if cmath.phase(ahead[1] / ahead[0]) < 0 else "toe")


def v_correction(way: str, arms: tuple[Any, Any], nominal: float, corner: float, jig: Jig) -> Correction:
    """Both arms from a piece cut on each, or from pieces of each put together."""
    kept: tuple[Literal["left"], Literal["right"]] = ("left", "right")
    if way == "joints":
        ends = [faces(sawn_side(arm, side, 60.0)) for arm, side in zip(arms, kept, strict=True)]
        (left_start, left_end), (right_start, right_end) = ends
        joints = Joints(
            put_together(left_end, left_start, 85.0),
            put_together(right_end, right_start, 85.0),
            put_together(left_end, right_start, 85.0),
        )
        return correct_assembly(joints, model.mm(85.0), model.rad(0.0), jig, edge_form=SMOOTH)
    seen = [
        model.seen_with_cut_toward_you(model.triangle(arm, side, corner)) for arm, side in zip(arms, kept, strict=True)
    ]
    if way == "angles":
        at_fence = (model.rad(seen[0]["angle_right"]), model.rad(seen[1]["angle_left"]))
        return correct_arms_from_angles(*at_fence, jig, nominal_rad=nominal, edge_form=SMOOTH)
    legs = [LegPair(model.mm(one["leg_left"]), model.mm(one["leg_right"])) for one in seen]
    return correct_arms_from_legs(*legs, model.rad(corner), jig, nominal_rad=nominal, edge_form=SMOOTH)


def moved_v(arm: Any, plan: MovePlan, feet: float) -> Any:
    """One arm of a V after its feet were moved as told: about the named foot, or about its point."""
    place = {"left": complex(-feet / 2, -200), "right": complex(feet / 2, -200)}
    gone = {push.end: 1j * travel(push) for push in plan.pushes}
    if plan.pivot == "point":
        line = place["right"] + gone["right"] - place["left"] - gone["left"]
        return model.Fence(arm.point, arm.along * line / abs(line))
    (push,) = plan.pushes
    assert {push.end, plan.pivot} == {"left", "right"}
    return arm.turned(place[plan.pivot], place[push.end], place[push.end] + gone[push.end])


@pytest.mark.parametrize("way", ["legs", "angles", "joints"])
@pytest.mark.parametrize("held", ["either foot", "left foot", "right foot", "its point"])
@given(
    left=small_errors_deg,
    right=small_errors_deg,
    nominal_deg=st.floats(20.0, 70.0),
    corner_deg=st.floats(89.0, 91.0),
    feet=st.floats(200.0, 900.0),
    setter=st.sampled_from(["nothing said", "screw that pushes away", "screw that pushes toward"]),
)
@settings(max_examples=100, deadline=None, derandomize=True)
def test_a_v_moved_by_both_arms_shares_its_own_angle_and_nothing_else(
    held: str, way: str, left: float, right: float, nominal_deg: float, corner_deg: float, feet: float, setter: str
) -> None:
    """Turned as told, the arms stand off by half of the V's own angle each, opposite ways; the pieces read as foretold.

    Joints in a square are those of a V for 45 deg.
    """
    assume(abs(left + right) > 1e-6)
    nominal = math.radians(45.0 if way == "joints" else nominal_deg)
    pivot: Any = held.split(maxsplit=1)[0] if held in {"left foot", "right foot"} else None
    geometry = FenceGeometry("v-point" if held == "its point" else "v-foot", pivot, **SETTERS[setter])  # type: ignore[arg-type]
    arms = tuple(
        model.fence_at(model.true_angle(kept, nominal) + math.radians(off))
        for kept, off in (("left", left), ("right", right))
    )
    jig = Jig(model.mm(feet), geometry=geometry)
    plan = v_correction(way, arms, nominal, math.radians(corner_deg), jig).plan
    assert plan is not None
    half = math.radians(right - left) / 2
    for arm, kept, share, reading in zip(arms, ("left", "right"), (-half, half), plan.readings, strict=True):
        moved = moved_v(arm, plan, feet)
        assert cmath.phase(moved.along) - model.true_angle(kept, nominal) == pytest.approx(share, abs=NOTHING_RAD)
        shown = model.fence_leg_angle(model.triangle(moved, kept, math.radians(corner_deg)), kept)
        assert reading.name == f"{kept} arm"
        assert reading.after == pytest.approx(shown, abs=NOTHING_RAD)


MOVES = (
    model.test_a_leaf_behind_the_foot_that_is_named_trues_either_arm_of_a_v,
    model.test_turning_a_single_fence_as_told_trues_any_miter,
    model.test_strips_of_the_fifth_to_eighth_cut_true_a_square_fence,
    model.test_the_boards_own_width_after_three_cuts_trues_a_square_fence,
    model.test_a_v_turned_as_told_shares_its_angle_and_one_arm_can_be_trued,
    test_a_single_miter_fence_moved_as_told_is_true,
    test_a_v_turned_about_a_foot_is_true_and_its_point_slides_back,
    test_a_v_held_at_its_point_is_true_after_both_feet_went_half_the_way,
    test_a_single_square_fence_moved_as_told_is_true,
    test_a_fence_moved_by_the_gap_beside_a_square_leaves_no_gap,
    test_a_fence_moved_by_a_protractor_shows_the_nominal_angle,
    test_a_fence_moved_by_two_pieces_face_to_face_closes_them,
    test_a_fence_moved_by_a_frames_last_joint_shuts_the_next_frame,
    test_a_v_moved_by_both_arms_shares_its_own_angle_and_nothing_else,
)


def test_the_count_of_random_moves() -> None:
    """Over every parametrization, at least 5000 random fences are moved as told and must be left true."""
    cases = 0
    for test in MOVES:
        marks = [mark for mark in getattr(test, "pytestmark", []) if mark.name == "parametrize"]
        examples = test._hypothesis_internal_use_settings.max_examples
        cases += examples * math.prod(len(mark.args[1]) for mark in marks)
    assert cases >= 5000
    assert f"make {cases} random moves" in str(__doc__)
