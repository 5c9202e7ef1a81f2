"""Figures of the correction that follow from geometry alone (closed form), and facts of the trade.

Closed-form figures were computed outside this program, to the places printed. The trade's facts are marked: common
practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from uncertainties import UFloat, ufloat, umath

from cutvision.correction import (
    Correction,
    EdgeForm,
    Jig,
    ReadingCare,
    correct_miter_from_angles,
    correct_miter_from_legs,
    correct_square_from_taper,
    correct_square_from_widths,
    leg_angles,
    typed_corner,
    typed_distance,
    typed_legs,
    typed_widths,
)
from cutvision.uncertainty import Influence, Quantity, budget, rectangular
from cutvision.units import MM_PER_INCH, parse_length

SMOOTH = EdgeForm(rms_mm=0.0)
READ_MM = rectangular(0.02)
RIGHT_ANGLE = Quantity(math.pi / 2, "rad")


def mm(value: float, u: float = 0.0, key: str = "") -> Quantity:
    """A length with one influence of its own."""
    return Quantity(value, "mm", {Influence(key, key): u} if key else {})


def from_legs(
    left: Quantity, right: Quantity, width: float | None = None, corner: Quantity = RIGHT_ANGLE
) -> Correction:
    """The worked miter: a lever of 380 mm, exact edges."""
    return correct_miter_from_legs(left, right, corner, Jig(mm(380.0)), piece_width_mm=width, edge_form=SMOOTH)


def test_two_legs_of_a_miter() -> None:
    """101.62 and 101.35 mm, lever 380 mm: -0.07621742791 deg, 0.5054934 mm, right, counterclockwise (closed form)."""
    correction = from_legs(mm(101.62), mm(101.35), width=102.0)
    assert math.degrees(correction.angle_error.value) == pytest.approx(-0.07621742791, abs=0.5e-11)
    assert correction.angle_error.value == pytest.approx(-1.330245064e-3, abs=0.5e-12)
    assert correction.fence_move.value == pytest.approx(0.5054934, abs=0.5e-7)
    assert (correction.side, correction.turn) == ("right", "counterclockwise")


def test_the_shops_rule_for_two_legs() -> None:
    """With the width 102 mm 0.5029412 mm (0.07583265 deg), with the mean leg 0.5054934 mm (closed form)."""
    by_width = from_legs(mm(101.62), mm(101.35), width=102.0).first_order
    assert by_width.move_mm == pytest.approx(0.5029412, abs=0.5e-7)
    assert math.degrees(by_width.angle_rad) == pytest.approx(-0.07583265, abs=0.5e-8)
    assert from_legs(mm(101.62), mm(101.35)).first_order.move_mm == pytest.approx(0.5054934, abs=0.5e-7)


@pytest.mark.parametrize(
    ("corner", "left", "right"),
    [(90.0, 44.92378257, 45.07621743), (89.9, 44.97364943, 45.12635057), (90.1, 44.87391548, 45.02608452)],
)
def test_angles_of_the_same_legs_with_other_corners(corner: float, left: float, right: float) -> None:
    """Half of the corner's error goes to each angle, nearly (closed form, to 8 places)."""
    angle_left, angle_right = leg_angles(mm(101.62), mm(101.35), Quantity(math.radians(corner), "rad"))
    assert math.degrees(angle_left.value) == pytest.approx(left, abs=0.5e-8)
    assert math.degrees(angle_right.value) == pytest.approx(right, abs=0.5e-8)


@pytest.mark.parametrize(("r", "u_deg"), [(0.0, 0.00460972), (0.5, 0.00325957), (1.0, 8.7e-6)])
def test_what_both_readings_share_cancels(r: float, u_deg: float) -> None:
    """Legs each +-0.02 mm rectangular, correlated by r: u of the angle from the readings alone (closed form)."""
    shared = Influence("shared", "reading")
    left = Quantity(
        101.62, "mm", {shared: READ_MM * math.sqrt(r), Influence("l", "reading"): READ_MM * math.sqrt(1 - r)}
    )
    right = Quantity(
        101.35, "mm", {shared: READ_MM * math.sqrt(r), Influence("r", "reading"): READ_MM * math.sqrt(1 - r)}
    )
    correction = from_legs(left, right)
    assert math.degrees(correction.angle_error.standard_uncertainty) == pytest.approx(u_deg, rel=0.005, abs=0.5e-8)
    if r == 0.0:
        assert correction.fence_move.standard_uncertainty == pytest.approx(0.03057, abs=0.5e-5)


def test_a_shop_rule_by_itself() -> None:
    """Legs that differ by 0.40 mm, width 110 mm, lever 450 mm: 0.8181818 mm (common practice, no source)."""
    jig = Jig(mm(450.0))
    correction = correct_miter_from_legs(mm(109.8), mm(109.4), RIGHT_ANGLE, jig, piece_width_mm=110.0, edge_form=SMOOTH)
    assert correction.first_order.move_mm == pytest.approx(0.8181818, abs=0.5e-7)


def test_eleven_thousandths_on_four_inches_call_for_a_leaf_of_twenty_two() -> None:
    """0.011 in on a piece 4 in wide, lever 16 in: a 0.022 in leaf by the short leg (common practice, no source)."""
    long_leg, short_leg = parse_length("4in", "leg") - 0.2, parse_length("4in", "leg") - 0.2 - 0.011 * MM_PER_INCH
    jig = Jig(mm(parse_length("16in", "lever")))
    correction = correct_miter_from_legs(
        mm(long_leg), mm(short_leg), RIGHT_ANGLE, jig, piece_width_mm=parse_length("4in", "width"), edge_form=SMOOTH
    )
    assert correction.first_order.move_mm / MM_PER_INCH == pytest.approx(0.022, abs=1e-9)
    assert correction.fence_move.value / MM_PER_INCH == pytest.approx(0.022, abs=0.0005)
    assert correction.side == "right"


@pytest.mark.parametrize(("thousandths", "outcome"), [(1.5, "leave"), (2.99, "leave"), (3.01, "move"), (4.5, "move")])
def test_three_thousandths_a_cut_are_good_enough_for_a_sled(thousandths: float, outcome: str) -> None:
    """0.003 in over an 18 in crosscut is good enough (common practice, no source): 0.0015 stays, 0.0045 goes."""
    run = 18 * MM_PER_INCH
    error, good_enough = (amount * 0.001 * MM_PER_INCH / run for amount in (thousandths, 3.0))
    at_fence, far_end = typed_widths(25.0 + run * math.tan(4 * error), 25.0, ReadingCare())
    between = typed_distance(run, "between", ReadingCare())
    jig = Jig(typed_distance(600.0, "lever", ReadingCare()), tolerance_rad=good_enough)
    correction = correct_square_from_widths(at_fence, far_end, between, jig)
    assert correction.angle_error.value == pytest.approx(error, rel=1e-9)
    assert correction.decision.action == outcome


def test_a_strip_after_five_cuts_or_more() -> None:
    """24.91 and 24.78 mm, 412 mm apart, lever 560 mm: 0.0045196912 deg, 0.04417476 mm (closed form)."""
    correction = correct_square_from_widths(mm(24.91), mm(24.78), mm(412.0), Jig(mm(560.0)), edge_form=SMOOTH)
    assert math.degrees(correction.angle_error.value) == pytest.approx(0.0045196912, abs=0.5e-10)
    assert correction.fence_move.value == pytest.approx(0.04417476, abs=0.5e-8)
    assert math.degrees(correction.first_order.angle_rad) == pytest.approx(0.0045196913, abs=0.5e-10)
    assert correction.first_order.move_mm == pytest.approx(0.04417476, abs=0.5e-8)
    assert (correction.side, correction.turn) == ("toward-work", None)
    taper = Quantity(math.atan(0.13 / 412), "rad")
    by_taper = correct_square_from_taper(taper, Jig(mm(560.0)))
    assert by_taper.angle_error.value == pytest.approx(correction.angle_error.value, rel=1e-12)


def test_the_boards_own_width_after_three_cuts() -> None:
    """300.00 at the fence, 300.13 at the far end, 412 apart: corner over 90 deg by 0.0090393824 deg (closed form)."""
    correction = correct_square_from_widths(mm(300.0), mm(300.13), mm(412.0), Jig(mm(560.0)), turns=2, edge_form=SMOOTH)
    assert math.degrees(correction.angle_error.value) == pytest.approx(0.0090393824, abs=0.5e-10)
    assert math.degrees(correction.first_order.angle_rad) == pytest.approx(0.0090393827, abs=0.5e-10)
    assert correction.side == "toward-work"


def test_the_strips_uncertainty_from_readings() -> None:
    """Widths +-0.01 mm and distance +-1 mm rectangular: 0.00028394 deg, move 0.0027752 mm (closed form)."""
    correction = correct_square_from_widths(
        mm(24.91, rectangular(0.01), "a"),
        mm(24.78, rectangular(0.01), "b"),
        mm(412.0, rectangular(1.0), "l"),
        Jig(mm(560.0)),
        edge_form=SMOOTH,
    )
    assert math.degrees(correction.angle_error.standard_uncertainty) == pytest.approx(0.00028394, abs=0.5e-8)
    assert correction.fence_move.standard_uncertainty == pytest.approx(0.0027752, abs=0.5e-7)


def test_a_rough_edge_hides_its_direction() -> None:
    """0.03 mm RMS over 1 mm along 95 mm: 0.00909419 deg, not the 0.0014 of 1900 independent points (closed form)."""
    assert math.degrees(EdgeForm(0.03, 1.0).direction_rad(95.0)) == pytest.approx(0.00909419, abs=0.5e-8)


def test_a_simulated_rough_edge_scatters_as_stated() -> None:
    """4000 seeded edges with exponential autocovariance: direction within 6 % and place within 5 % of the formulas.

    The formulas hold for lengths well above the correlation length; at 95 and 20 mm the exact values are some 1 and
    2.5 % off.
    """
    rng = np.random.default_rng(7)
    step, count = 0.25, 381
    form = EdgeForm(0.03, 1.0)
    keep = math.exp(-step / form.correlation_mm)
    noise = rng.standard_normal((4000, count)) * form.rms_mm
    rough = np.empty_like(noise)
    rough[:, 0] = noise[:, 0]
    for i in range(1, count):
        rough[:, i] = keep * rough[:, i - 1] + math.sqrt(1 - keep**2) * noise[:, i]
    x = (np.arange(count) - (count - 1) / 2) * step
    slopes = rough @ x / float(x @ x)
    assert float(np.std(slopes)) == pytest.approx(form.direction_rad(95.0), rel=0.06)
    assert float(np.std(rough[:, :81].mean(axis=1))) == pytest.approx(form.spot_mm(20.0), rel=0.05)
    assert form.spot_mm(0.5) == form.rms_mm


LEFT, RIGHT, LEVER, CORNER = 101.62, 101.35, 380.0, math.pi / 2
SQUARE_INPUTS = (24.91, 24.78, 412.0, 560.0)


def legs_by_hand(left: float, right: float, corner: float, atan2: Callable[..., float], kept: str) -> float:
    """The fence's error from the triangle, written once more from the drawing."""
    at_left = atan2(right * umath.sin(corner), left - right * umath.cos(corner))
    return at_left - math.pi / 4 if kept == "right" else math.pi / 4 - (math.pi - corner - at_left)


@pytest.mark.parametrize("kept", ["left", "right"])
def test_every_bound_of_a_miter_agrees_with_an_independent_package(kept: str) -> None:
    """Legs, corner and lever through `uncertainties`: same value and u of error and move (1e-9)."""
    left, right = mm(LEFT, 0.03, "l"), mm(RIGHT, 0.02, "r")
    corner = Quantity(CORNER, "rad", {Influence("c", "corner"): 4e-4})
    jig = Jig(mm(LEVER, 0.6, "f"), kept)  # type: ignore[arg-type]
    ours = correct_miter_from_legs(left, right, corner, jig, edge_form=SMOOTH)
    theirs: UFloat = legs_by_hand(
        ufloat(LEFT, 0.03),
        ufloat(RIGHT, 0.02),
        ufloat(CORNER, 4e-4),
        umath.atan2,
        kept,  # type: ignore[arg-type]
    )  # type: ignore[assignment]
    move = ufloat(LEVER, 0.6) * umath.tan(-theirs)
    assert ours.angle_error.value == pytest.approx(theirs.nominal_value, abs=1e-14)
    assert ours.angle_error.standard_uncertainty == pytest.approx(theirs.std_dev, rel=1e-9)
    assert ours.fence_move.value == pytest.approx(move.nominal_value, rel=1e-9)
    assert ours.fence_move.standard_uncertainty == pytest.approx(move.std_dev, rel=1e-9)


def test_every_bound_of_a_square_cut_agrees_with_an_independent_package() -> None:
    """Widths, distance and lever through `uncertainties`: same value and u of error and move (1e-9)."""
    us = (0.02, 0.03, 0.6, 0.7)
    a, b, between, lever = (mm(v, u, str(i)) for i, (v, u) in enumerate(zip(SQUARE_INPUTS, us, strict=True)))
    ours = correct_square_from_widths(a, b, between, Jig(lever, "right"), edge_form=SMOOTH)
    ua, ub, ul, uf = (ufloat(v, u) for v, u in zip(SQUARE_INPUTS, us, strict=True))
    theirs = -umath.atan((ua - ub) / ul) / 4
    move = uf * umath.tan(-theirs)
    assert ours.angle_error.value == pytest.approx(theirs.nominal_value, rel=1e-12)
    assert ours.angle_error.standard_uncertainty == pytest.approx(theirs.std_dev, rel=1e-9)
    assert ours.fence_move.standard_uncertainty == pytest.approx(move.std_dev, rel=1e-9)


def test_a_typed_miters_bound_holds_in_monte_carlo() -> None:
    """100 000 seeded draws of readings, tips and corner: u within 1.5 %, and the 95 % bound holds 94 to 97 % of them.

    The three standard errors of a standard deviation here are 0.7 %; the rest is left for rectangles and curvature.
    Several rectangles together are less wide-tailed than a normal distribution, so the bound holds a little more often.
    """
    care = ReadingCare(edge_form_mm=0.0)
    left, right = typed_legs(LEFT, RIGHT, care)
    jig = Jig(typed_distance(LEVER, "lever", care), "left")
    ours = correct_miter_from_legs(left, right, typed_corner(CORNER, care), jig, edge_form=care.edge_form)
    rng, n = np.random.default_rng(11), 100_000

    def box(half_width: float) -> np.ndarray:
        return rng.uniform(-half_width, half_width, n)

    caliper = box(0.03)
    legs = [value + box(0.03) + caliper + rng.uniform(0, 0.1, n) for value in (LEFT, RIGHT)]
    corner = CORNER + box(math.radians(0.05))
    at_left = np.arctan2(legs[1] * np.sin(corner), legs[0] - legs[1] * np.cos(corner))
    errors = math.pi / 4 - (math.pi - corner - at_left)
    assert float(np.std(errors)) == pytest.approx(ours.angle_error.standard_uncertainty, rel=0.015)
    held = np.abs(errors - ours.angle_error.value) <= ours.angle_error.expanded_uncertainty
    assert 0.94 < float(np.mean(held)) < 0.97


def test_a_caliper_and_a_photo_of_one_piece_go_through_the_same_core() -> None:
    """The same triangle by legs and by angles gives the same error and move, kept side said or not (1e-12)."""
    corner = Quantity(math.radians(90.2), "rad")
    angle_left, angle_right = leg_angles(mm(LEFT), mm(RIGHT), corner)
    for kept in ("left", "right", None):
        jig = Jig(mm(LEVER), kept)  # type: ignore[arg-type]
        legs = correct_miter_from_legs(mm(LEFT), mm(RIGHT), corner, jig, edge_form=SMOOTH)
        angles = correct_miter_from_angles(angle_left, angle_right, corner, jig)
        assert legs.angle_error.value == pytest.approx(angles.angle_error.value, abs=1e-12)
        assert legs.fence_move.value == pytest.approx(angles.fence_move.value, abs=1e-9)
        rows = {row.name for row in budget(legs.angle_error)}
        assert ("corner" in rows) == (kept is None)
