"""A difference off a zeroed caliper, a protractor's reading, outliers, pieces, instruments."""

from __future__ import annotations

import cmath
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutvision.correction import (
    INSTRUMENTS,
    EdgeForm,
    Jig,
    ReadingCare,
    assumptions,
    correct_by_protractor,
    correct_frame,
    correct_miter_from_legs,
    correct_square_from_widths,
    gap_assumptions,
    instrument,
    outliers,
    typed_angle,
    typed_gap,
    typed_gauge,
    typed_legs,
    typed_legs_by_difference,
    typed_protractor,
    typed_widths,
    typed_widths_by_difference,
)
from cutvision.correction.angle_error import Kept
from cutvision.correction.gap import Scale
from cutvision.errors import InputError
from cutvision.uncertainty import Quantity, budget

LEVER = Quantity(380.0, "mm")
TRUE = Quantity(0.0, "rad")
CORNER = Quantity(math.pi / 2, "rad")
SMOOTH = EdgeForm(rms_mm=0.0)
many = settings(max_examples=200, deadline=None, derandomize=True)
errors_deg = st.floats(-1.0, 1.0).filter(lambda e: abs(e) > 1e-6)


def test_a_caliper_zeroed_on_the_shorter_leg_may_show_more_than_that_leg() -> None:
    """At 22.5 deg the end leg is 2.4 times the fence leg: 100 mm and 141.4 mm more; at 45 deg or less still refused.

    So far apart on its scale the caliper errs in the difference too: each leg has its own limit of error.
    """
    care = ReadingCare()
    left, right = typed_legs_by_difference(100.0, "right", 141.4, "right", care)
    assert (left.value, right.value) == pytest.approx((241.4, 100.0))
    jig = Jig(LEVER, "left")
    found = correct_miter_from_legs(left, right, CORNER, jig, nominal_rad=math.radians(22.5))
    typed = correct_miter_from_legs(*typed_legs(241.4, 100.0, care), CORNER, jig, nominal_rad=math.radians(22.5))
    assert found.angle_error.value == pytest.approx(typed.angle_error.value)
    rows, beside = ({row.name: row.contribution for row in budget(one.angle_error)} for one in (found, typed))
    assert rows["caliper"] == pytest.approx(beside["caliper"], rel=1e-9)
    with pytest.raises(InputError, match="cannot be that of a leg"):
        typed_legs_by_difference(100.0, "right", 141.4, "left", care)


@pytest.mark.parametrize(
    ("leg", "known", "shorter", "left", "right"),
    [
        (101.62, "left", "right", 101.62, 101.35),
        (101.35, "right", "right", 101.62, 101.35),
        (101.35, "left", "left", 101.35, 101.62),
        (101.62, "right", "left", 101.35, 101.62),
    ],
)
def test_one_leg_and_the_difference_are_two_legs(
    leg: float, known: Kept, shorter: Kept, left: float, right: float
) -> None:
    """101.62 and 101.35 mm, whichever was read and whichever is the shorter by 0.27 mm (closed form)."""
    found = typed_legs_by_difference(leg, known, 0.27, shorter, ReadingCare())
    assert [leg.value for leg in found] == pytest.approx([left, right], abs=1e-12)


def test_one_width_and_the_difference_are_two_widths() -> None:
    """24.9 at the fence and 0.13 the wider there; the far end read instead; wider at the far end (closed form)."""
    care = ReadingCare()
    told = [
        typed_widths_by_difference(24.9, "fence", 0.13, "fence", care),
        typed_widths_by_difference(24.77, "far", 0.13, "fence", care),
        typed_widths_by_difference(24.77, "fence", 0.13, "far", care),
        typed_widths_by_difference(24.9, "far", 0.13, "far", care),
    ]
    expected = [(24.9, 24.77), (24.9, 24.77), (24.77, 24.9), (24.77, 24.9)]
    for found, (at, far) in zip(told, expected, strict=True):
        assert (found[0].value, found[1].value) == pytest.approx((at, far), abs=1e-12)
        assert "broken tips" not in {i.name for i in found[0].components}


def test_the_calipers_error_cancels_in_a_difference_and_the_leg_only_scales() -> None:
    """u of the angle: zeroing and reading, each +-0.03 mm, over twice the leg; even a rule will do for the leg.

    (0.03 / sqrt 3) sqrt 2 / (2 x 101.5 mm) rad (closed form, first order).
    """
    care = ReadingCare(tips_mm=0.0)
    left, right = typed_legs_by_difference(101.62, "left", 0.27, "right", care)
    error = correct_miter_from_legs(left, right, CORNER, Jig(LEVER), edge_form=SMOOTH).angle_error
    assert error.standard_uncertainty == pytest.approx(0.03 / math.sqrt(3) * math.sqrt(2) / 203.0, rel=0.005)
    rough = ReadingCare(tips_mm=0.0, accuracy_mm=0.5)
    left, right = typed_legs_by_difference(101.6, "left", 0.27, "right", rough)
    by_rule = correct_miter_from_legs(left, right, CORNER, Jig(LEVER), edge_form=SMOOTH).angle_error
    assert by_rule.standard_uncertainty == pytest.approx(error.standard_uncertainty, rel=0.01)
    assert by_rule.value == pytest.approx(error.value, rel=0.001)


def test_a_repeated_difference_shows_its_own_scatter() -> None:
    """0.26, 0.27, 0.28: s/sqrt 3 = 0.0057735 with 2 freedoms, zeroing in it, the display's step beside it."""
    _, other = typed_legs_by_difference(
        101.62, "left", (0.26, 0.27, 0.28), "right", ReadingCare(tips_mm=0.0, read_to_mm=0.0, accuracy_mm=0.0)
    )
    assert other.standard_uncertainty == pytest.approx(math.hypot(0.0057735, 0.0028868), abs=1e-7)
    assert {i.degrees_of_freedom for i in other.components if i.kind == "A"} == {2}


@pytest.mark.parametrize("bad", [101.62, 200.0, -0.1, math.nan])
def test_a_difference_that_is_none_is_refused(bad: float) -> None:
    """As long as the leg, negative, no number."""
    with pytest.raises(InputError, match="cannot be that of"):
        typed_legs_by_difference(101.62, "left", bad, "right", ReadingCare())


@many
@given(
    errors_deg,
    st.sampled_from(["left", "right"]),
    st.one_of(st.just(0.0), st.floats(10.0, 80.0)),
    st.sampled_from(["square", "beyond", "before"]),
)
def test_what_a_protractor_shows_turns_the_fence_true(error: float, side: Kept, nominal: float, lies: str) -> None:
    """Fence off by any error, protractor on either side, before or beyond the fence, either scale: nothing is left."""
    lean = math.radians(nominal) if side == "left" else -math.radians(nominal)
    fence = cmath.rect(1.0, lean + math.radians(error))
    along = -fence if side == "left" else fence
    # Between the fence, toward its side, and the blade: away from you beyond the fence, toward you before it.
    beyond = abs(cmath.phase(1j / along))
    shown = {"square": beyond - math.pi / 2, "beyond": beyond, "before": math.pi - beyond}[lies]
    scale: Scale = "square" if lies == "square" else "blade"
    if lies == "before" and nominal == 0:
        return  # at a square cut both corners look alike: the protractor lies beyond the fence, at the work
    if shown < 0 or (lies == "square" and nominal == 0):
        return  # no reading without its sign
    found = correct_by_protractor(Quantity(shown, "rad"), TRUE, Jig(LEVER, side), math.radians(nominal), scale)
    assert math.degrees(found.angle_error.value) == pytest.approx(error, abs=1e-9)
    turn = math.atan2(found.fence_move.value, found.move.lever.value)
    turned = fence * cmath.rect(1.0, -turn if found.turn == "clockwise" else turn)
    assert cmath.phase(turned) == pytest.approx(lean, abs=1e-11)
    assert found.way == "reading of a protractor"


def test_the_scale_is_told_by_the_reading_unless_both_are_possible() -> None:
    """22.4, 67.4 and 112.4 deg at 22.5 each fit one scale; 44.8 at 45 fits two; 0.2 from square has no sign."""
    jig = Jig(LEVER, "left")

    def off(shown: float, nominal: float, scale: Scale | None = None) -> float:
        reading = Quantity(math.radians(shown), "rad")
        return math.degrees(correct_by_protractor(reading, TRUE, jig, math.radians(nominal), scale).angle_error.value)

    assert off(22.4, 22.5) == pytest.approx(-0.1)
    assert off(67.4, 22.5) == pytest.approx(0.1)
    assert off(112.4, 22.5) == pytest.approx(-0.1)
    assert off(89.9, 0.0) == pytest.approx(-0.1)
    assert off(44.8, 45.0, "square") == pytest.approx(-0.2)
    assert off(44.8, 45.0, "blade") == pytest.approx(0.2)
    assert off(135.2, 45.0) == pytest.approx(0.2)
    for shown, nominal, scale, said in (
        (44.8, 45.0, None, "opposite ways"),
        (0.2, 0.0, None, "to which side"),
        (30.0, 22.5, None, "from any true setting"),
        (67.4, 22.5, "square", "from any true setting"),
        (25.0, 22.5, None, "2 deg"),
        (22.4, 95.0, None, "is none"),
    ):
        with pytest.raises(InputError, match=said):
            off(shown, nominal, scale)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="square lies"):
        correct_by_protractor(Quantity(math.pi / 2, "rad"), TRUE, Jig(LEVER))


def test_a_protractors_budget() -> None:
    """One reading +-0.05 deg and the protractor +-0.03 deg, both rectangular; three readings show their own scatter."""
    care = ReadingCare()
    one = correct_by_protractor(typed_protractor(math.radians(90.1), care), typed_gauge(care), Jig(LEVER, "left"))
    assert math.degrees(one.angle_error.standard_uncertainty) == pytest.approx(
        math.hypot(0.05, 0.03) / math.sqrt(3), rel=1e-9
    )
    three = typed_protractor([math.radians(a) for a in (90.0, 90.1, 90.2)], care)
    assert math.degrees(three.standard_uncertainty) == pytest.approx(0.1 / math.sqrt(3), rel=1e-9)
    assert three.degrees_of_freedom == pytest.approx(2)
    with pytest.raises(InputError, match="one angle"):
        typed_protractor([math.radians(a) for a in (90.0, 91.5)], care)
    assert [one.name for one in gap_assumptions(care, "protractor")] == ["protractor", "gauge", "distance"]


def test_an_angle_within_a_stated_bound() -> None:
    """A 95 % bound of 0.02 deg is a standard uncertainty of 0.01 (JCGM 100:2008, 4.3.3)."""
    angle = typed_angle(math.radians(45.0), math.radians(0.02), "left arm")
    assert math.degrees(angle.standard_uncertainty) == pytest.approx(0.01, rel=1e-12)


def test_a_reading_far_off_its_repeats_is_noted_and_an_ordinary_scatter_is_not() -> None:
    """101.62, 101.63, 101.62, 102.12: the last lies 0.5 mm off (Grubbs at 1 %); else none."""
    care = ReadingCare()
    (note,) = outliers({"left leg": (101.62, 101.63, 101.62, 102.12), "right leg": 101.35}, care)
    assert note.name == "outlier"
    assert "102.12" in note.message
    assert "left leg" in note.message
    assert outliers({"left leg": (101.62, 101.64, 101.61)}, care) == ()
    assert outliers({"left leg": (101.62, 102.12)}, care) == ()
    assert outliers({"left leg": (101.62, 101.62, 101.62, 101.65)}, care) == ()
    assert outliers({"left leg": (101.2, 101.4, 101.6, 101.9)}, care) == ()


def test_pieces_divide_tips_and_edges_and_not_the_caliper() -> None:
    """The mean of four pieces halves edge form and tips; the caliper's error stays (JCGM 100:2008, 4.2.3)."""
    rows = []
    for pieces in (1, 4):
        care = ReadingCare(pieces=pieces)
        left, right = typed_legs(101.62, 61.35, care)
        jig = Jig(LEVER, "left")
        found = correct_miter_from_legs(
            left, right, CORNER, jig, nominal_rad=math.atan(61 / 101), edge_form=care.edge_form
        )
        rows.append({row.name: row.contribution for row in budget(found.angle_error)})
    for name, factor in (("edge form", 2), ("broken tips", 2), ("caliper", 1), ("reading", 1)):
        assert rows[0][name] == pytest.approx(factor * rows[1][name], rel=1e-9)
    with pytest.raises(InputError, match="mean of 0"):
        ReadingCare(pieces=0)
    assert EdgeForm(pieces=4).spot_mm() == pytest.approx(EdgeForm().spot_mm() / 2)
    assert "mean of 4 pieces" in EdgeForm(pieces=4).words


def test_how_shut_a_joint_is_may_be_said() -> None:
    """The other joints of a frame, shut to 0.02 mm instead of 0.05: their part is 0.4 of what it was."""
    gap, stock = Quantity(1.0, "mm"), Quantity(60.0, "mm")
    usual = correct_frame(gap, stock, 4, "toe", Jig(LEVER, "left"))
    better = correct_frame(gap, stock, 4, "toe", Jig(LEVER, "left"), shut_to_mm=0.02)
    parts = [{r.name: r.contribution for r in budget(one.angle_error)}["closed joints"] for one in (usual, better)]
    assert parts[1] == pytest.approx(0.4 * parts[0], rel=1e-12)
    assert "shut" not in [one.name for one in gap_assumptions(ReadingCare(shut_to_mm=0.02), "frame")]


@pytest.mark.parametrize(
    ("name", "length", "limit"),
    [
        ("caliper-0.01mm", 100.0, 0.02),
        ("vernier-0.02mm", 300.0, 0.03),
        ("vernier-0.05mm", 300.0, 0.05),
        ("vernier-0.05mm", 400.0, 0.06),
        ("vernier-0.05mm", 1000.0, 0.12),
        ("vernier-0.05mm", 600.0, 0.08),
    ],
)
def test_the_records_hold_the_limits_of_the_standard(name: str, length: float, limit: float) -> None:
    """DIN 862, limits by length (where the class changes: from memory)."""
    assert instrument(name).limit_mm(length) == limit


def test_an_instrument_stands_in_for_what_is_not_said() -> None:
    """A steel rule's half-width of 0.25 mm (common practice, no source) replaces the caliper's 0.03; said, it loses."""
    rule = ReadingCare(tips_mm=0.0, instrument=instrument("rule-mm"))
    left, right = typed_legs(101.5, 101.0, rule)
    assert (left - right).standard_uncertainty == pytest.approx(0.25 * math.sqrt(2 / 3), rel=1e-9)
    told = {one.name: one for one in assumptions(rule, "legs", 101.5)}
    assert told["reading"].value == 0.25
    assert "rule-mm" in told["reading"].reason
    said = ReadingCare(tips_mm=0.0, read_to_mm=0.1, instrument=instrument("rule-mm"))
    left, right = typed_legs(101.5, 101.0, said)
    assert (left - right).standard_uncertainty == pytest.approx(0.1 * math.sqrt(2 / 3), rel=1e-9)
    step, _ = typed_widths(
        (25.0, 25.05, 25.0), 24.9, ReadingCare(accuracy_mm=0.0, instrument=instrument("vernier-0.05mm"))
    )
    # s/sqrt 3 = 0.0166667; 0.05/sqrt 12 = 0.0144338 (JCGM 100:2008, F.2.2.1).
    assert step.standard_uncertainty == pytest.approx(math.hypot(0.0166667, 0.0144338), abs=1e-6)


def test_instruments_that_are_none_are_refused() -> None:
    """A name that is not listed; leaves for a length."""
    with pytest.raises(InputError, match="no instrument"):
        instrument("micrometer")
    with pytest.raises(InputError, match="read no length"):
        ReadingCare(instrument=instrument("feelers"))
    for name, one in INSTRUMENTS.items():
        assert one.name == name
        assert one.source
        assert one.limits[-1][0] == math.inf
        assert one.step_mm > 0


def test_a_misread_width_is_named() -> None:
    """Strip widths of 64.91 and 24.78, 380 apart, stand 1.5 deg off and pass; 24.91 and 94.78 are asked about."""

    def widths(at: float, far: float) -> None:
        a, b, c = (Quantity(value, "mm") for value in (at, far, 380.0))
        correct_square_from_widths(a, b, c, Jig(LEVER))

    widths(64.91, 24.78)
    with pytest.raises(InputError, match="2 deg") as caught:
        widths(24.91, 94.78)
    assert "24.78 mm as 94.78 mm (width at the far end)" in caught.value.remedy


def test_a_protractor_on_a_fence_that_leans_the_other_way_is_told_by_the_other_side() -> None:
    """Fence rising to the left by 22.5 deg, 0.1 too much: 67.4 on the left is the opposite angle, so --square-on right.

    Opposite angles at a crossing are equal (closed form); the note says so beside every slanted fence.
    """
    fence = cmath.rect(1.0, math.radians(-22.5 - 0.1))
    on_the_left = math.pi - abs(cmath.phase(1j / fence))
    found = correct_by_protractor(Quantity(on_the_left, "rad"), TRUE, Jig(LEVER, "right"), math.radians(22.5), "blade")
    assert math.degrees(found.angle_error.value) == pytest.approx(-0.1, abs=1e-9)
    assert [note.name for note in found.notes] == ["fence-leans"]
    assert "--square-on left" in found.notes[0].remedy


def test_what_is_said_of_a_gap_and_a_protractor_replaces_the_default() -> None:
    """Half-widths of 0.02 mm and 0.01 deg, over the root of three (JCGM 100:2008, 4.3.7)."""
    care = ReadingCare(gap_to_mm=0.02, reading_to_rad=math.radians(0.01))
    assert typed_gap(0.4, care).standard_uncertainty == pytest.approx(0.02 / math.sqrt(3), rel=1e-12)
    shown = typed_protractor(math.radians(90.1), care)
    assert math.degrees(shown.standard_uncertainty) == pytest.approx(0.01 / math.sqrt(3), rel=1e-12)
    assert [one.name for one in gap_assumptions(care, "protractor")] == ["gauge", "distance"]
