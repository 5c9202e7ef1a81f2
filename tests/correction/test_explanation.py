"""The calculation line by line: every line is right by itself, and the end is the exact core's."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import Literal

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from cutvision.correction import (
    Correction,
    FenceGeometry,
    Jig,
    ReadingCare,
    correct_by_protractor,
    correct_direct,
    correct_facing,
    correct_frame,
    correct_miter_from_legs,
    correct_square_from_widths,
    typed_corner,
    typed_distance,
    typed_gap,
    typed_gauge,
    typed_legs,
    typed_legs_by_difference,
    typed_protractor,
    typed_widths,
    typed_widths_by_difference,
)
from cutvision.correction.angle_error import Kept
from cutvision.correction.explained_ways import (
    Zeroed,
    explain_arms,
    explain_direct,
    explain_facing,
    explain_frame,
    explain_legs,
    explain_protractor,
    explain_widths,
)
from cutvision.correction.explanation import Departure, Explanation, Step
from cutvision.correction.gap import Scale
from cutvision.correction.v_arms import LegPair, correct_arms_from_legs
from cutvision.errors import InputError
from cutvision.uncertainty import Influence, Quantity
from cutvision.units import decimals, format_number

CARE = ReadingCare()
CORNER_RAD = math.pi / 2
EXACT = 1e-12  # float noise of one line
NAMES = {
    "sqrt": math.sqrt,
    "sin": lambda deg: math.sin(math.radians(deg)),
    "cos": lambda deg: math.cos(math.radians(deg)),
    "tan": lambda deg: math.tan(math.radians(deg)),
    "asin": lambda value: math.degrees(math.asin(value)),
    "atan": lambda value: math.degrees(math.atan(value)),
}
ERRORS_DEG = (0.1, 0.5, 1.0, 2.0)
many = settings(max_examples=150, deadline=None, derandomize=True)


def reckoned(step: Step) -> float:
    """A line's numbers put into a calculator that knows degrees; Python's own arithmetic, nothing of the program's."""
    words = set(re.findall(r"[a-z]+", step.numbers)) - {"x"}
    assert words <= set(NAMES)
    text = step.numbers.replace(" x ", " * ").replace("^", "**")
    return float(eval(text, {"__builtins__": {}}, NAMES))  # noqa: S307  the text is this program's own


def bound_of(explanation: Explanation) -> str:
    """The bound of the error, which the decision takes from its own section."""
    return next(step for step in explanation.section("bound").steps if step.words == "Bound of the error").result.text


def agree(step: Step, value: float, bound: float) -> None:
    """The line's result is the core's, to the last place shown or, beside a tie, to a hundredth of it."""
    same = format_number(step.result.value, bound) == format_number(value, bound)
    assert same or abs(step.result.value - value) <= 0.01 * 10.0 ** -decimals(bound), (step, value)


def check(explanation: Explanation) -> None:
    """Every line is right to half of its last place, starts from numbers written before it, and ends at the core's."""
    written = {given.number.text for given in explanation.givens}
    constants = {"1", "2", "3", "4", "60", "180", "25.4", bound_of(explanation)}
    for section in explanation.sections:
        for step in section.steps:
            half = 0.5 * 10.0 ** -len(step.result.text.partition(".")[2])
            assert abs(reckoned(step) - step.result.value) <= half * (1 + 1e-6) + EXACT, step
            if section.name in {"readings", "error", "move", "decision"}:
                assert set(re.findall(r"[0-9.]+", step.numbers)) <= written | constants, step
            written.add(step.result.text.removeprefix("-"))
    correction = explanation.correction
    error, move = correction.angle_error, correction.fence_move
    u_deg, u_mm = math.degrees(error.expanded_uncertainty), move.expanded_uncertainty
    agree(explanation.section("error").steps[-1], math.degrees(error.value), u_deg)
    agree(explanation.section("move").steps[0], move.value, u_mm)
    bound = next(step for step in explanation.section("bound").steps if step.words == "Bound of the error")
    agree(bound, u_deg, u_deg)
    agree(explanation.section("bound").steps[-1], u_mm, u_mm)
    rule = explanation.section("shop rule").steps
    assert rule[0].result.value == pytest.approx(correction.first_order.angle_rad, abs=10.0 ** -decimals(u_deg) / 50)
    assert rule[2].result.value == pytest.approx(correction.first_order.move_mm, abs=10.0 ** -decimals(u_mm) / 2)


def jig(kept: Kept | None = None, tolerance_rad: float | None = None, lever_mm: float = 380.0) -> Jig:
    """A fence with a lever read by a rule."""
    return Jig(typed_distance(lever_mm, "lever", CARE), kept, tolerance_rad)


def of_legs(
    lefts: tuple[float, ...],
    rights: tuple[float, ...],
    kept: Kept | None = None,
    *,
    nominal_rad: float = math.pi / 4,
    corner_rad: float = CORNER_RAD,
    width: float | None = None,
    tolerance_rad: float | None = None,
) -> Explanation:
    """The calculation for two legs."""
    left, right = typed_legs(lefts, rights, CARE)
    correction = correct_miter_from_legs(
        left,
        right,
        typed_corner(corner_rad, CARE),
        jig(kept, tolerance_rad),
        nominal_rad=nominal_rad,
        piece_width_mm=width,
    )
    return explain_legs(correction, lefts, rights, corner_rad, width)


def of_widths(at: float, far: float, kept: Kept | None, turns: int, between: float = 412.0) -> Explanation:
    """The calculation for two widths."""
    at_fence, far_end = typed_widths(at, far, CARE)
    distance = typed_distance(between, "between", CARE)
    correction = correct_square_from_widths(at_fence, far_end, distance, jig(kept, lever_mm=560.0), turns=turns)
    return explain_widths(correction, (at,), (far,), (between,))


def test_the_worked_miter_is_what_a_calculator_gives() -> None:
    """101.62 over 101.35 is 1.002664, its atan 45.0762 deg, the error -0.0762 deg, the move 0.505 mm (closed form)."""
    told = of_legs((101.62,), (101.35,), "left", width=102.0)
    check(told)
    ratio, angle, error = told.section("error").steps
    assert ratio.numbers == "101.62 / 101.35"
    assert ratio.result.value == pytest.approx(101.62 / 101.35, abs=1e-6)
    assert angle.result.value == pytest.approx(45.07621742791, abs=1e-4)
    assert error.result.value == pytest.approx(-0.07621742791, abs=1e-4)
    assert told.section("move").steps[0].result.value == pytest.approx(0.5054934, abs=1e-3)


@given(
    error_deg=st.floats(-1.9, 1.9),
    size=st.floats(30.0, 300.0),
    kept=st.sampled_from(["left", "right"]),
    nominal_deg=st.sampled_from([22.5, 30.0, 36.0, 45.0, 60.0]),
    corner_deg=st.sampled_from([90.0, 89.9, 90.4]),
    tolerance_deg=st.sampled_from([None, 0.05, 0.3]),
)
@many
def test_every_line_of_any_miter_is_right(
    error_deg: float, size: float, kept: Kept, nominal_deg: float, corner_deg: float, tolerance_deg: float | None
) -> None:
    """Both kept sides, other angles and corners: each line recomputed by itself, the end the exact core's."""
    at_fence = 90 - nominal_deg + (-error_deg if kept == "left" else error_deg)
    at_end = 180 - corner_deg - at_fence
    # The fence leg lies opposite the end leg's angle: law of sines (closed form).
    fence_leg = round(size * math.sin(math.radians(at_end)), 2)
    end_leg = round(size * math.sin(math.radians(at_fence)), 2)
    lefts, rights = (end_leg, fence_leg) if kept == "left" else (fence_leg, end_leg)
    tolerance_rad = None if tolerance_deg is None else math.radians(tolerance_deg)
    try:
        told = of_legs(
            (lefts,),
            (rights,),
            kept,
            nominal_rad=math.radians(nominal_deg),
            corner_rad=math.radians(corner_deg),
            tolerance_rad=tolerance_rad,
        )
    except InputError:
        assume(False)  # noqa: FBT003  rounding of the legs took it past 2 deg
    check(told)


@pytest.mark.parametrize("corner_deg", [90.0, 89.8])
@pytest.mark.parametrize("kept", ["left", "right", None])
def test_mirrored_legs_mirror_the_calculation(kept: Kept | None, corner_deg: float) -> None:
    """Swapping the legs and the kept side flips the error's sign and nothing else."""
    corner_rad = math.radians(corner_deg)
    mirrored: dict[Kept | None, Kept | None] = {"left": "right", "right": "left", None: None}
    one = of_legs((101.62,), (101.35,), kept, corner_rad=corner_rad)
    other = of_legs((101.35,), (101.62,), mirrored[kept], corner_rad=corner_rad)
    check(one)
    check(other)
    first, second = (told.section("error").steps[-1].result for told in (one, other))
    assert first.value == pytest.approx(-second.value, abs=1e-5)
    assert one.section("move").steps[0].result.value == pytest.approx(
        other.section("move").steps[0].result.value, abs=1e-4
    )


def test_repeated_readings_show_their_mean() -> None:
    """Three readings of a leg are added and divided by three."""
    told = of_legs((101.62, 101.64, 101.61), (101.35, 101.36, 101.35), "left")
    check(told)
    left, right = told.section("readings").steps
    assert left.numbers == "(101.62 + 101.64 + 101.61) / 3"
    assert (left.result.value, right.result.value) == pytest.approx((101.6233333, 101.3533333), abs=1e-4)


def test_a_v_held_at_its_point_goes_half_the_way_at_each_foot() -> None:
    """The move at the leaf is half of that from foot to foot, and a line says so."""
    left, right = typed_legs(101.62, 101.35, CARE)
    held = Jig(typed_distance(380.0, "lever", CARE), "left", geometry=FenceGeometry("v-point"))
    correction = correct_miter_from_legs(left, right, typed_corner(CORNER_RAD, CARE), held)
    told = explain_legs(correction, (101.62,), (101.35,), CORNER_RAD)
    check(told)
    half = next(step for step in told.section("move").steps if step.formula == "M / 2")
    assert half.result.value == pytest.approx(correction.move.at_shim.value, abs=1e-4)


def test_an_angle_past_90_deg_is_told() -> None:
    """A miter of 1 deg from square whose fence leg stands at 90.5 deg: its tangent is negative."""
    fence_leg, at_fence, corner = 20.0, math.radians(90.5), math.radians(88.5)
    end_leg = fence_leg * math.sin(at_fence) / math.sin(math.pi - at_fence - corner)
    told = of_legs((round(end_leg, 6),), (fence_leg,), "left", nominal_rad=math.radians(1), corner_rad=corner)
    check(told)
    assert any(step.formula == "a = 180 + atan(q)" for step in told.section("error").steps)


@pytest.mark.parametrize("kept", ["left", "right", None])
@pytest.mark.parametrize("turns", [4, 2])
@pytest.mark.parametrize(("at", "far"), [(24.91, 24.78), (24.78, 24.91), (24.9, 24.9), (30.0, 10.0)])
def test_every_line_of_a_square_cut_is_right(at: float, far: float, turns: int, kept: Kept | None) -> None:
    """Strip and board, wider and narrower at the fence, every kept side; none of a difference too."""
    check(of_widths(at, far, kept, turns))


@pytest.mark.parametrize("kept", ["left", "right"])
@pytest.mark.parametrize("gap", [0.0, 0.15, 1.2])
def test_every_line_of_a_gap_is_right(gap: float, kept: Kept) -> None:
    """Beside a square, between two pieces, at a frame's last joint: both ends, both sides, no gap too."""
    opening, over, stock = (
        typed_gap(gap, CARE),
        typed_distance(200.0, "over", CARE),
        typed_distance(60.0, "stock", CARE),
    )
    for end in ("fence", "far"):
        direct = correct_direct(opening, over, end, typed_gauge(CARE), jig(kept))
        check(explain_direct(direct, (gap,), (200.0,), end))
        for known in (kept, None):
            facing = correct_facing(opening, over, end, jig(known))
            check(explain_facing(facing, (gap,), (200.0,), end))
    for corner in ("heel", "toe"):
        for sides in (3, 4, 8):
            frame = correct_frame(opening, stock, sides, corner, jig(kept))
            check(explain_frame(frame, (gap,), (60.0,), sides, corner))


@pytest.mark.parametrize("kept", ["left", "right"])
@pytest.mark.parametrize(
    ("shown_deg", "nominal_deg", "scale"),
    [((22.4, 22.45), 22.5, None), ((90.2,), 0.0, None), ((112.4,), 22.5, "blade"), ((67.6,), 22.5, "blade")],
)
def test_every_line_of_a_protractor_is_right(
    shown_deg: tuple[float, ...], nominal_deg: float, scale: Scale | None, kept: Kept
) -> None:
    """Each scale and both sides: reading less true, or true less reading; two readings whose end lies on a tie too."""
    readings = tuple(map(math.radians, shown_deg))
    shown = typed_protractor(readings, CARE)
    correction = correct_by_protractor(shown, typed_gauge(CARE), jig(kept), math.radians(nominal_deg), scale)
    told = explain_protractor(correction, readings)
    check(told)
    assert max(len(step.result.text) for step in told.section("error").steps) < 11
    assert all(abs(departure.angle_share) < 1e-12 for departure in told.departures)


@pytest.mark.parametrize("known", ["left", "right"])
@pytest.mark.parametrize("larger", [True, False])
def test_a_zeroed_caliper_is_told_as_it_was_read(known: Kept, larger: bool) -> None:  # noqa: FBT001  drawn
    """The leg that was not read is the other one plus or minus the difference."""
    other: Kept = "right" if known == "left" else "left"
    legs = typed_legs_by_difference(101.6, known, 0.27, other if larger else known, CARE)
    correction = correct_miter_from_legs(*legs, typed_corner(CORNER_RAD, CARE), jig("left"), piece_width_mm=110.0)
    read = {known: (101.6,), other: ()}
    told = explain_legs(correction, read["left"], read["right"], CORNER_RAD, 110.0, Zeroed((0.27,), larger))
    check(told)
    assert told.section("readings").steps[0].result.value == pytest.approx(101.6 - 0.27 if larger else 101.6 + 0.27)
    mean = 101.6 - 0.135 if larger else 101.6 + 0.135
    assert told.departures[0].move_share == pytest.approx(mean / 110 - 1)


@pytest.mark.parametrize(("known", "larger"), [("fence", True), ("far", False)])
def test_a_zeroed_caliper_on_a_strip(known: Literal["fence", "far"], larger: bool) -> None:  # noqa: FBT001  drawn
    """Likewise for two widths."""
    ends = typed_widths_by_difference(24.9, known, 0.13, "fence", CARE)
    correction = correct_square_from_widths(*ends, typed_distance(412.0, "between", CARE), jig("left"))
    at, far = ((24.9,), ()) if known == "fence" else ((), (24.9,))
    told = explain_widths(correction, at, far, (412.0,), Zeroed((0.13,), larger))
    check(told)
    assert told.correction.angle_error.value > 0


def test_nothing_in_doubt_leaves_no_bound() -> None:
    """With every doubt taken away there is no sum of squares to form, and the answer says so."""
    exact = Jig(Quantity(380.0, "mm"), "left")
    gap, over, gauge = Quantity(0.15, "mm"), Quantity(200.0, "mm"), Quantity(0.0, "rad")
    told = explain_direct(correct_direct(gap, over, "far", gauge, exact), (0.15,), (200.0,), "far")
    assert told.section("bound").steps == ()
    assert "no bound" in told.section("bound").conclusion
    assert "U = 0 deg is not more than T" in told.section("decision").conclusion
    with pytest.raises(KeyError):
        told.section("readings")


def test_the_decision_compares_what_decides() -> None:
    """U with T, then the error with the larger of the two."""
    wide = of_legs((101.62,), (101.35,), "left", tolerance_rad=math.radians(0.02)).section("decision").conclusion
    assert "is more than T = 0.02 deg; |E| = " in wide
    assert " U = " in wide.split("|E|")[1]
    narrow = of_legs((101.62,), (101.35,), "left", tolerance_rad=math.radians(0.2)).section("decision").conclusion
    assert narrow.endswith("is not more than T = 0.2 deg: leave it.")


def departures(told: Explanation, core: Callable[[float], Correction]) -> None:
    """Each departure is the core's own first-order figure for a piece that such a fence cuts."""
    assert [departure.error_rad for departure in told.departures] == pytest.approx([*map(math.radians, ERRORS_DEG)])
    for departure in told.departures:
        found = core(departure.error_rad * (1 - 1e-12))
        assert abs(found.angle_error.value) == pytest.approx(departure.error_rad, rel=1e-9)
        assert abs(found.first_order.angle_rad) == pytest.approx(departure.rule_rad, rel=1e-9)
        assert found.first_order.move_mm == pytest.approx(found.fence_move.value * (1 + departure.move_share), rel=1e-9)


def mm(value: float) -> Quantity:
    """An exact length."""
    return Quantity(value, "mm")


@pytest.mark.parametrize("kept", ["left", "right", None])
def test_how_the_rule_of_45_departs(kept: Kept | None) -> None:
    """With the mean leg for the width the move is exact; with the piece's width it is off by mean leg / width."""
    fence, corner = Jig(mm(380.0), kept), Quantity(CORNER_RAD, "rad")
    mean = (101.62 + 101.35) / 2

    def core(width: float | None) -> Callable[[float], Correction]:
        def at(error: float) -> Correction:
            # tan(e) = (R - L) / (R + L) for a right corner (closed form); the error has the sign of the reader's.
            half = -mean * math.tan(error)
            return correct_miter_from_legs(mm(mean - half), mm(mean + half), corner, fence, piece_width_mm=width)

        return at

    bare = of_legs((101.62,), (101.35,), kept)
    departures(bare, core(None))
    assert all(abs(departure.move_share) < 1e-12 for departure in bare.departures)
    wide = of_legs((101.62,), (101.35,), kept, width=120.0)
    departures(wide, core(120.0))
    assert wide.departures[0].move_share == pytest.approx(mean / 120 - 1)


def test_how_the_other_rules_depart() -> None:
    """A strip's rule departs by about 5 e^2 of the move, facing and frame likewise, a square's not at all."""
    between, kept_left = mm(412.0), Jig(mm(560.0), "left")

    def strip(error: float) -> Correction:
        return correct_square_from_widths(mm(200 + 412 * math.tan(4 * error)), mm(200.0), between, kept_left)

    told = of_widths(24.91, 24.78, "left", 4)
    departures(told, strip)
    assert told.departures[-1].move_share == pytest.approx(
        math.tan(8 * math.pi / 180) / 4 / math.tan(math.radians(2)) - 1
    )

    over, gauge, one = mm(200.0), Quantity(0.0, "rad"), jig("left")
    direct = correct_direct(typed_gap(0.15, CARE), over, "far", typed_gauge(CARE), one)
    told = explain_direct(direct, (0.15,), (200.0,), "far")
    departures(told, lambda e: correct_direct(mm(200 * math.tan(e)), over, "far", gauge, kept_left))
    assert all(abs(departure.move_share) < 1e-12 for departure in told.departures)

    told = explain_facing(correct_facing(typed_gap(0.5, CARE), over, "fence", one), (0.5,), (200.0,), "fence")
    departures(told, lambda e: correct_facing(mm(200 * math.tan(2 * e)), over, "fence", kept_left))

    frame = correct_frame(typed_gap(1.2, CARE), typed_distance(60.0, "stock", CARE), 8, "toe", one)
    told = explain_frame(frame, (1.2,), (60.0,), 8, "toe")
    face = 60 / math.cos(math.pi / 8)
    departures(told, lambda e: correct_frame(mm(2 * face * math.sin(8 * e)), mm(60.0), 8, "toe", kept_left))


@pytest.mark.parametrize(("kept", "sign"), [("left", -1), ("right", 1)])
def test_how_the_rule_of_another_miter_departs(kept: Kept, sign: int) -> None:
    """A 22.5 deg miter: the rule's curvature shows, some per cent at 2 deg."""
    nominal, true, corner = math.radians(22.5), math.radians(67.5), Quantity(CORNER_RAD, "rad")

    def core(error: float) -> Correction:
        end_leg = 100 * math.tan(true + error)  # the fence leg's angle too large on either side
        left, right = (end_leg, 100.0) if kept == "left" else (100.0, end_leg)
        return correct_miter_from_legs(mm(left), mm(right), corner, Jig(mm(380.0), kept), nominal_rad=nominal)

    lefts, rights = (
        ((100 * math.tan(true) + 0.3,), (100.0,)) if kept == "left" else ((100.0,), (100 * math.tan(true) + 0.3,))
    )
    told = of_legs(lefts, rights, kept, nominal_rad=nominal)
    check(told)
    assert math.copysign(1, told.correction.angle_error.value) == sign
    departures(told, core)
    assert 0.05 < told.departures[-1].move_share < 0.2


def test_a_piece_that_no_such_fence_cuts_is_left_out() -> None:
    """A miter 1 deg from the fence's own direction has no piece for a fence 2 deg off."""
    told = of_legs((100.0,), (1.74,), "right", nominal_rad=math.radians(89))
    check(told)
    assert [departure.error_rad for departure in told.departures] == pytest.approx([*map(math.radians, ERRORS_DEG[:2])])


def test_shares_are_of_the_exact_value() -> None:
    """A rule that gives 0.011 rad for 0.01 rad is 10 % over."""
    departure = Departure(0.01, 0.011, 380.0)
    assert departure.angle_share == pytest.approx(0.1)
    assert departure.move_share == pytest.approx(0.011 / math.tan(0.01) - 1)


def test_a_correction_of_another_way_is_not_explained() -> None:
    """Each explanation belongs to the way its correction was found in."""
    told = of_legs((101.62,), (101.35,), "left")
    with pytest.raises(ValueError, match="legs"):
        explain_widths(told.correction, (1.0,), (1.0,), (1.0,))


@pytest.mark.parametrize(
    ("left", "right", "kept", "lever_mm"),
    [(260.011, 258.35, "left", 1287.3), (42.43, 41.24, "right", 417.3), (134.2, 130.8, "left", 1275.5)],
)
def test_more_places_are_carried_when_rounding_would_show(
    left: float, right: float, kept: Kept, lever_mm: float
) -> None:
    """Legs whose move, with two places to spare, rounds to another last figure than the answer's: three are carried.

    The readings were found by trying some thousands; the usual two leave the error as many places as its bound has
    beyond its second figure.
    """
    legs = typed_legs(left, right, CARE)
    correction = correct_miter_from_legs(*legs, typed_corner(CORNER_RAD, CARE), jig(kept, lever_mm=lever_mm))
    told = explain_legs(correction, (left,), (right,), CORNER_RAD)
    check(told)
    places = len(told.section("error").steps[-1].result.text.partition(".")[2])
    assert places > decimals(math.degrees(correction.angle_error.expanded_uncertainty)) + 2


def test_what_is_given_stands_with_six_places_however_exact_it_is() -> None:
    """1/128 in is 0.1984375 mm, which six places cut to 0.198438: nothing in doubt, and still each line is right.

    The move at 1500 mm then departs by 5e-7 / 200 x 1500 mm at most (closed form).
    """
    gap = 25.4 / 128
    exact = Jig(Quantity(1500.0, "mm"), "left")
    found = correct_direct(Quantity(gap, "mm"), Quantity(200.0, "mm"), "far", Quantity(0.0, "rad"), exact)
    told = explain_direct(found, (gap,), (200.0,), "far")
    for section in told.sections:
        for step in section.steps:
            assert abs(reckoned(step) - step.result.value) <= 0.5 * 10.0 ** -len(step.result.text.partition(".")[2])
    assert told.section("move").steps[0].result.value == pytest.approx(found.fence_move.value, abs=3.8e-6)


def test_a_doubt_without_a_source_is_told_by_its_name() -> None:
    """The line bears the row's name alone, without empty brackets."""
    gap = Quantity(0.15, "mm", {Influence("gap", "gap"): 0.03})
    found = correct_direct(gap, Quantity(200.0, "mm"), "far", Quantity(0.0, "rad"), jig("left"))
    told = explain_direct(found, (0.15,), (200.0,), "far")
    assert told.section("bound").steps[0].words == "gap"


legs_mm = st.floats(-0.9, 0.9).map(lambda shift: round(100.0 + shift, 2))


def arms_of(
    left: tuple[float, float],
    right: tuple[float, float],
    corner_rad: float = CORNER_RAD,
    nominal_rad: float = math.pi / 4,
) -> Explanation:
    """The calculation for a piece from each arm."""
    pairs = [LegPair(*typed_legs(*legs, CARE)) for legs in (left, right)]
    corner = typed_corner(corner_rad, CARE)
    correction = correct_arms_from_legs(*pairs, corner, jig(), nominal_rad=nominal_rad)
    return explain_arms(correction, ((left[0],), (left[1],)), ((right[0],), (right[1],)), corner_rad)


@given(a=legs_mm, b=legs_mm, c=legs_mm, d=legs_mm, corner_deg=st.sampled_from([90.0, 89.9, 90.05]))
@many
def test_both_arms_of_a_v(a: float, b: float, c: float, d: float, corner_deg: float) -> None:
    """Every line right, the end the core's; the V's own angle is the core's opening to the places that are carried."""
    told = arms_of((a, b), (c, d), math.radians(corner_deg))
    check(told)
    own = told.section("error").steps[-2]
    assert told.correction.arms is not None
    places = len(own.result.text.partition(".")[2])
    opening_deg = math.degrees(told.correction.arms.opening.value)
    assert own.result.value == pytest.approx(opening_deg, abs=2.1 * 10.0**-places)


def test_other_arms_are_not_written_out() -> None:
    """A V of another angle, and a correction of one piece, are mistakes of the caller."""
    with pytest.raises(ValueError, match="45 deg"):
        arms_of((241.4, 100.0), (100.0, 241.4), nominal_rad=math.radians(22.5))
    with pytest.raises(ValueError, match="not explained"):
        explain_arms(of_legs((101.6,), (101.4,)).correction, ((101.6,), (101.4,)), ((101.6,), (101.4,)), CORNER_RAD)
