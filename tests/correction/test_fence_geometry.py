"""How a fence is held and moved: what goes together, turns of a screw, a V's point, and what the next piece reads."""

from __future__ import annotations

import math
from typing import Any

import pytest

from cutvision.correction import (
    Correction,
    FenceGeometry,
    Jig,
    NextReading,
    Screw,
    correct_arms_from_angles,
    correct_direct,
    correct_facing,
    correct_frame,
    correct_miter_from_angles,
    correct_miter_from_legs,
    correct_square_from_taper,
    correct_square_from_widths,
)
from cutvision.errors import InputError
from cutvision.uncertainty import Influence, Quantity


def mm(value: float) -> Quantity:
    """An exact length."""
    return Quantity(value, "mm")


def rad(value: float, u: float = 0.0) -> Quantity:
    """An angle with one influence on it."""
    return Quantity(value, "rad", {Influence("one", "one"): u} if u else {})


def readings(correction: Correction) -> tuple[NextReading, ...]:
    """What the next piece reads by the plan."""
    assert correction.plan is not None
    return correction.plan.readings


def miter(geometry: FenceGeometry | None, kept: Any = "left", off_deg: float = 0.1, u_deg: float = 0.0) -> Correction:
    """A fence for 45 deg that stands `off_deg` counterclockwise, seen by the angles of its piece."""
    off = math.radians(off_deg)
    return correct_miter_from_angles(
        rad(math.pi / 4 + off, math.radians(u_deg)),
        rad(math.pi / 4 - off, -math.radians(u_deg)),
        rad(math.pi / 2),
        Jig(mm(380.0), kept, geometry=geometry),
    )


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ({"kind": "single"}, "about which end"),
        ({"kind": "single", "pivot": "left", "point_ahead_mm": 100.0}, "no point"),
        ({"kind": "v-foot", "shim_at": "work"}, "rear stop"),
        ({"kind": "v-point", "shim_at": "operator"}, "rear stop"),
        ({"kind": "v-point", "pivot": "left"}, "held at its point"),
        ({"kind": "single", "pivot": "left", "shim_at": "work", "screw": Screw(1.0)}, "cannot both"),
        ({"kind": "v-foot", "point_ahead_mm": 0.0}, "0 mm ahead"),
        ({"kind": "v-foot", "point_ahead_mm": math.nan}, "nan mm ahead"),
        ({"kind": "v-foot", "point_ahead_mm": math.inf}, "inf mm ahead"),
    ],
)
def test_what_does_not_go_together_is_refused(said: dict[str, Any], told: str) -> None:
    """Each with what to say instead."""
    with pytest.raises(InputError, match=told) as refused:
        FenceGeometry(**said)
    assert refused.value.remedy


@pytest.mark.parametrize("pitch_mm", [0.0, -1.0, 0.09, 10.1, math.nan, math.inf])
def test_a_pitch_that_no_screw_has_is_refused(pitch_mm: float) -> None:
    """Threads to the inch taken for a pitch come out so; the remedy gives the form."""
    with pytest.raises(InputError, match="not an ordinary one") as refused:
        Screw(pitch_mm)
    assert "1/20in" in refused.value.remedy


def test_a_v_makes_no_square_cut_and_a_square_fence_needs_the_kept_side() -> None:
    """Both are refused before any figure is given, by the method itself."""
    with pytest.raises(InputError, match="square cut"):
        correct_square_from_taper(rad(0.001), Jig(mm(500.0), "left", geometry=FenceGeometry("v-foot")))
    with pytest.raises(InputError, match="side that was kept"):
        correct_square_from_taper(rad(0.001), Jig(mm(500.0), geometry=FenceGeometry("single", "left")))


def test_a_true_fence_has_no_plan() -> None:
    """Nothing to turn, nothing to plan."""
    assert miter(FenceGeometry("v-foot"), off_deg=0.0).plan is None
    assert miter(None, off_deg=0.0).plan is None


@pytest.mark.parametrize(
    ("distance", "pitch", "eighths"),
    [(0.5, 1.0, 4), (1 / 3, 1.0, 3), (1.25, 1.0, 10), (25.4 / 20, 25.4 / 20, 8), (0.999, 1.0, 8), (0.1, 1.25, 1)],
)
def test_a_screw_is_turned_by_eighths(distance: float, pitch: float, eighths: int) -> None:
    """A third of a turn is nearest to three eighths; what that leaves adds up to the move (closed form)."""
    screw = Screw(pitch, "away")
    turned_in, turned_out = screw.turned_by(distance, "away"), screw.turned_by(distance, "toward")
    assert (turned_in.way, turned_out.way) == ("in", "out")
    assert turned_in.eighths == turned_out.eighths == eighths
    assert eighths / 8 * pitch + turned_in.short_mm == pytest.approx(distance, abs=1e-12)
    assert abs(turned_in.short_mm) <= pitch / 16 + 1e-12


def test_less_than_half_an_eighth_of_a_turn_is_no_eighth() -> None:
    """Then the exact figure is said, and nothing is left."""
    turned = Screw(1.0, "away").turned_by(0.05, "away")
    assert (turned.eighths, turned.short_mm) == (0, 0.0)


def test_a_points_shift_carries_the_moves_bound() -> None:
    """h sin e + F/2 (1 - cos e) and its derivative by e (closed form); unknown without the point's distance."""
    plan = miter(FenceGeometry("v-foot", point_ahead_mm=190.0), off_deg=0.5, u_deg=0.01).plan
    assert plan is not None
    assert plan.point is not None
    assert plan.point.slide_mm is not None
    e, u = math.radians(0.5), math.radians(0.01)
    # clockwise, so about the right foot
    assert plan.point.slide_mm.value == pytest.approx(190 * math.sin(e) + 190 * (1 - math.cos(e)), rel=1e-12)
    slope = 190 * math.cos(e) + 190 * math.sin(e)
    assert plan.point.slide_mm.standard_uncertainty == pytest.approx(slope * u, rel=1e-9)
    assert plan.point.slide == "left"
    unknown = miter(FenceGeometry("v-foot"), off_deg=-0.5).plan
    assert unknown is not None
    assert unknown.point is not None
    assert (unknown.point.slide, unknown.point.slide_mm, unknown.point.away_mm) == ("right", None, None)


def plan_of(correction: Correction) -> tuple[Any, ...]:
    """The plan's fence, whether that is assumed, its turn and pivot; the end pushed, how, which way, square to what."""
    plan = correction.plan
    assert plan is not None
    (push,) = plan.pushes
    return plan.fence, plan.assumed, plan.turn, plan.pivot, push.end, push.means, push.way, push.square_to


def test_a_fence_that_nobody_described_gets_a_plan_all_the_same() -> None:
    """A V on two feet for 45 deg; else a single fence, its pivot where it need not go forward, or off the kept side."""
    corner = rad(math.pi / 2)
    steep = [
        correct_miter_from_angles(rad(at), -rad(at) - corner + math.pi, corner, Jig(mm(380.0), "right"), nominal_rad=n)
        for n in (math.radians(22.5),)
        for at in (math.radians(67.4), math.radians(67.6))
    ]
    assert plan_of(miter(None)) == ("v-foot", True, "clockwise", "right", "left", "shim in", "away", "rear stop")
    assert plan_of(steep[0]) == ("single", True, "counterclockwise", "left", "right", "push", "away", "fence")
    assert plan_of(steep[1]) == ("single", True, "clockwise", "right", "left", "push", "away", "fence")
    for kept, pivot, turn in (("left", "right", "clockwise"), ("right", "left", "counterclockwise")):
        found = correct_square_from_taper(rad(0.004), Jig(mm(500.0), kept))
        assert plan_of(found) == ("single", True, turn, pivot, kept, "push", "away", "fence")
        other = correct_square_from_taper(rad(-0.004), Jig(mm(500.0), kept))
        assert plan_of(other)[3:] == (pivot, kept, "push", "toward", "fence")
    said = miter(FenceGeometry("single", "left", shim_at="operator"))
    assert plan_of(said) == ("single", False, "clockwise", "left", "right", "shim out", "toward", "fence")


def test_without_the_kept_side_a_square_cut_knows_the_end_and_its_way_but_no_turn() -> None:
    """The end on the side that you keep goes toward the work when the kept corner is over 90 deg; no left, no right."""
    for taper, way in ((0.004, "away"), (-0.004, "toward")):
        found = correct_square_from_taper(rad(taper), Jig(mm(500.0)))
        assert plan_of(found) == ("single", True, None, None, "kept", "push", way, "fence")
        assert found.plan is not None
        assert found.plan.geometry is None
        assert found.plan.pushes[0].distance == found.fence_move
    assert correct_square_from_taper(rad(0.0), Jig(mm(500.0))).plan is None


def test_the_interfaces_own_keys_do_not_change_with_the_geometry() -> None:
    """`fence_move`, `side` and `turn` are the same, however the fence is held."""
    plain = miter(None)
    for geometry in (FenceGeometry("v-point"), FenceGeometry("v-foot", "left"), FenceGeometry("single", "right")):
        held = miter(geometry)
        assert (held.fence_move.value, held.side, held.turn) == (plain.fence_move.value, plain.side, plain.turn)


def test_what_the_next_piece_reads_for_every_method() -> None:
    """Now as read; true after the move; twice the error the other way (closed form); a gap never negative."""
    jig = Jig(mm(400.0), "left")
    legs = correct_miter_from_legs(mm(101.62), mm(101.35), rad(math.pi / 2), jig)
    widths = correct_square_from_widths(mm(24.91), mm(24.78), mm(412.0), jig)
    board = correct_square_from_widths(mm(300.0), mm(300.13), mm(412.0), jig, turns=2)
    direct = correct_direct(mm(0.15), mm(200.0), "fence", rad(0.0), jig)
    facing = correct_facing(mm(0.5), mm(300.0), "far", jig)
    frame = correct_frame(mm(1.2), mm(60.0), 4, "toe", jig)
    now = {"legs": 0.27, "widths": 0.13, "board": -0.13, "direct": 0.15, "facing": 0.5, "frame": 1.2}
    for name, correction in (
        ("legs", legs),
        ("widths", widths),
        ("board", board),
        ("direct", direct),
        ("facing", facing),
        ("frame", frame),
    ):
        reading = readings(correction)[0]
        assert reading.now == pytest.approx(now[name], abs=1e-9)
        assert reading.after == pytest.approx(0.0, abs=1e-9)
        assert reading.wrong_way == pytest.approx(2 * now[name], rel=2e-3)
        assert (reading.bound > 0) == (correction.angle_error.standard_uncertainty > 0)


def test_pieces_of_both_arms_keep_what_the_vs_own_angle_is_off() -> None:
    """Arms off by 0.3 and 0.1 deg: the turn of 0.2 leaves 0.1 and -0.1 of it (closed form)."""
    arms = correct_arms_from_angles(
        rad(math.radians(45 - 0.3)), rad(math.radians(45 + 0.1)), Jig(mm(500.0), geometry=FenceGeometry("v-foot"))
    )
    left, right = readings(arms)
    assert (left.name, right.name) == ("left arm", "right arm")
    assert [math.degrees(v) for v in (left.now, left.after, left.wrong_way)] == pytest.approx([44.7, 44.9, 44.5])
    assert [math.degrees(v) for v in (right.now, right.after, right.wrong_way)] == pytest.approx([45.1, 44.9, 45.3])


def test_what_the_next_piece_reads_carries_the_bound_of_the_error() -> None:
    """The fence leg's angle is as sure as the error; a strip's taper four times less, a board's twice (closed form)."""
    (leg,) = readings(miter(None, u_deg=0.01))
    assert leg.after == pytest.approx(math.pi / 4)
    assert leg.bound == pytest.approx(2 * math.radians(0.01), rel=1e-6)
    for turns in (4, 2):
        (taper,) = readings(correct_square_from_taper(rad(0.001, 0.0001), Jig(mm(500.0), "right"), turns=turns))
        assert taper.now == pytest.approx(0.001, rel=1e-9)
        assert taper.wrong_way == pytest.approx(0.002, rel=1e-9)
        assert taper.bound == pytest.approx(2 * 0.0001, rel=1e-6)


@pytest.mark.parametrize("kept", ["left", "right"])
@pytest.mark.parametrize("off_deg", [-0.3, 0.3])
def test_the_next_triangle_has_as_long_a_fence_leg(kept: Any, off_deg: float) -> None:
    """At 22.5 deg, fence leg 100 mm: now as read; true, the end leg is 100 tan(67.5 deg), 241.42 mm (closed form).

    A piece with as long a cut instead would, true, read 0.6 mm off that, as much as the error itself.
    """
    nominal, true = math.radians(22.5), math.radians(67.5)
    excess = math.radians(off_deg if kept == "right" else -off_deg)
    end_leg = 100 * math.tan(true + excess)
    legs = (end_leg, 100.0) if kept == "left" else (100.0, end_leg)
    jig = Jig(mm(400.0), kept)
    found = correct_miter_from_legs(*map(mm, legs), rad(math.pi / 2), jig, nominal_rad=nominal)
    reading = readings(found)[0]
    sign = 1 if kept == "left" else -1
    assert (reading.name, reading.same) == ("legs", "fence leg")
    assert reading.now == pytest.approx(legs[0] - legs[1], abs=1e-9)
    assert reading.after == pytest.approx(sign * (100 * math.tan(true) - 100), abs=1e-9)
    assert reading.wrong_way == pytest.approx(sign * (100 * math.tan(true + 2 * excess) - 100), abs=1e-9)


def test_legs_are_foretold_when_nobody_said_which_lay_at_the_fence() -> None:
    """True, both legs are alike whatever the corner; wrong, they differ by twice as much, to second order.

    With the cut c and the corner C: 2 c sin(e) cos((180 deg - C) / 2) / sin(C) (closed form).
    """
    for corner_deg in (90.0, 89.7):
        corner = rad(math.radians(corner_deg))
        found = correct_miter_from_legs(mm(101.62), mm(101.35), corner, Jig(mm(400.0)))
        legs, split = readings(found)
        assert (legs.name, split.name) == ("legs", "split")
        assert legs.now == pytest.approx(0.27, abs=1e-12)
        assert legs.after == pytest.approx(0.0, abs=1e-12)
        cut = math.sqrt(101.62**2 + 101.35**2 - 2 * 101.62 * 101.35 * math.cos(corner.value))
        factor = 2 * cut * math.sin(corner.value / 2) / math.sin(corner.value)
        assert legs.wrong_way == pytest.approx(-factor * math.sin(2 * found.angle_error.value), rel=1e-12)


def test_the_whole_move_is_made_at_the_leaf_but_for_a_v_held_at_its_point() -> None:
    """Half the way at half the lever there; everywhere else the move at the lever. No error leaves no end to push."""
    for geometry, part in (
        (None, 1.0),
        (FenceGeometry("single", "left"), 1.0),
        (FenceGeometry("v-foot"), 1.0),
        (FenceGeometry("v-point"), 0.5),
    ):
        move = miter(geometry).move
        assert move.at_shim.value == pytest.approx(part * move.distance.value, rel=1e-12)
        assert move.shim_lever_mm == part * move.lever.value
        assert move.forward_end == {"clockwise": "left", "counterclockwise": "right"}[str(move.turn)]
    still = miter(None, off_deg=0.0).move
    assert (still.turn, still.forward_end) == (None, None)
