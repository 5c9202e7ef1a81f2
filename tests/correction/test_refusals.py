"""What the correction refuses, and what it notes instead."""

from __future__ import annotations

import math

import pytest

from cutvision.correction import (
    Correction,
    Jig,
    ReadingCare,
    correct_miter_from_angles,
    correct_miter_from_legs,
    correct_square_from_taper,
    correct_square_from_widths,
)
from cutvision.correction.angle_error import Kept
from cutvision.correction.readings import assumptions, caliper_limit_mm, typed_legs
from cutvision.errors import InputError
from cutvision.uncertainty import Quantity

RIGHT_ANGLE = Quantity(math.pi / 2, "rad")
JIG = Jig(Quantity(380.0, "mm"))


def legs(
    left: float, right: float, *, kept: Kept | None = None, width: float | None = None, miter_deg: float = 45.0
) -> Correction:
    """A miter from exact legs and a corner of 90 deg."""
    return correct_miter_from_legs(
        Quantity(left, "mm"),
        Quantity(right, "mm"),
        RIGHT_ANGLE,
        Jig(JIG.lever, kept),
        nominal_rad=math.radians(miter_deg),
        piece_width_mm=width,
    )


def widths(at_fence: float, far_end: float, between: float, turns: int = 4) -> Correction:
    """A square cut from exact widths."""
    a, b, c = (Quantity(v, "mm") for v in (at_fence, far_end, between))
    return correct_square_from_widths(a, b, c, JIG, turns=turns)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_lengths_that_are_none_are_refused(bad: float) -> None:
    """A leg, a width, a distance and a lever are positive and finite."""
    with pytest.raises(InputError, match="no triangle"):
        legs(bad, 100.0)
    with pytest.raises(InputError, match="no triangle"):
        legs(100.0, bad)
    for values in ((bad, 25.0, 400.0), (25.0, bad, 400.0), (25.0, 25.0, bad)):
        with pytest.raises(InputError, match=r"width|distance"):
            widths(*values)


@pytest.mark.parametrize("bad", [0.0, -380.0, math.nan])
def test_a_lever_is_positive(bad: float) -> None:
    """Without a lever there is no move."""
    with pytest.raises(InputError, match="from the pivot"):
        correct_square_from_taper(Quantity(0.001, "rad"), Jig(Quantity(bad, "mm")))


@pytest.mark.parametrize(
    ("left", "right", "kept", "past"),
    [
        (102.0, 101.0, "left", True),
        (102.0, 101.0, "right", False),
        (101.0, 102.0, "right", True),
        (101.0, 102.0, "left", False),
        (102.0, 101.0, None, False),
        (102.1, 102.0, None, True),
    ],
)
def test_a_cut_past_the_tip_is_refused(left: float, right: float, kept: Kept | None, *, past: bool) -> None:
    """The end leg (kept left: the left one), or both when it is not known which, as long as the piece is wide."""
    if past:
        with pytest.raises(InputError, match="ran past the tip"):
            legs(left, right, kept=kept, width=102.0)
    else:
        assert legs(left, right, kept=kept, width=102.0).method == "miter"


def test_a_tip_close_to_the_edge_is_noted_and_a_width_is_positive() -> None:
    """Within half a millimetre of the piece's width a person is told to look at the tip."""
    assert [note.name for note in legs(101.8, 101.7, width=102.0).notes] == ["tip-at-edge"]
    assert legs(101.3, 101.2, width=102.0).notes == ()
    with pytest.raises(InputError, match="width"):
        legs(101.8, 101.7, width=0.0)


def test_an_error_over_two_degrees_is_asked_about() -> None:
    """Legs of 107.8 and 100 mm stand 2.15 deg off: a misread digit is likelier; 107 and 100 stand 1.94 deg off."""
    with pytest.raises(InputError) as caught:
        legs(107.8, 100.0)
    assert "misread" in caught.value.remedy
    assert math.degrees(legs(107.0, 100.0).angle_error.value) == pytest.approx(-1.94, abs=0.005)
    with pytest.raises(InputError, match="2 deg"):
        widths(60.0, 20.0, 200.0)
    with pytest.raises(InputError, match="2 deg"):
        correct_miter_from_angles(*(Quantity(math.radians(v), "rad") for v in (47.5, 42.5, 90.0)), JIG)


@pytest.mark.parametrize("miter_deg", [0.0, 90.0, -5.0, 120.0])
def test_a_miter_lies_between_square_and_along(miter_deg: float) -> None:
    """0 and 90 deg leave no triangle."""
    with pytest.raises(InputError, match="no triangle"):
        legs(100.0, 100.0, kept="left", miter_deg=miter_deg)


def test_other_miters_need_the_kept_side() -> None:
    """At 22.5 deg it must be known which leg lay at the fence; then no side is named."""
    end, at_fence = 100.0 * math.tan(math.radians(67.5)), 100.0
    with pytest.raises(InputError, match="which leg lay at the fence"):
        legs(end, at_fence, miter_deg=22.5)
    correction = legs(end, at_fence, kept="left", miter_deg=22.5)
    assert correction.angle_error.value == pytest.approx(0.0, abs=1e-14)
    assert correction.side is None


@pytest.mark.parametrize("corner_deg", [84.9, 95.1, 45.0, 180.0, 0.0, math.nan])
def test_a_corner_far_from_square_is_asked_about(corner_deg: float) -> None:
    """The test piece's corner lies within 5 deg of 90 deg."""
    corner = Quantity(math.radians(corner_deg), "rad")
    with pytest.raises(InputError, match="corner"):
        correct_miter_from_legs(Quantity(100.0, "mm"), Quantity(100.0, "mm"), corner, JIG)
    with pytest.raises(InputError, match="corner"):
        correct_miter_from_angles(RIGHT_ANGLE, RIGHT_ANGLE, corner, JIG)


@pytest.mark.parametrize("turns", [0, 1, 3, 5, -4])
def test_only_two_or_four_turns_are_known(turns: int) -> None:
    """Other numbers of quarter turns do not tell the fence."""
    with pytest.raises(InputError, match="quarter turns"):
        widths(25.0, 25.1, 400.0, turns)


def test_equal_legs_and_equal_widths_name_no_side() -> None:
    """Without any error there is nothing to turn and nothing to move."""
    for correction in (legs(100.0, 100.0), widths(25.0, 25.0, 400.0)):
        assert correction.turn is None
        assert correction.fence_move.value == pytest.approx(0.0, abs=1e-12)
        assert not correction.decision.moves
        assert correction.plan is None
    assert widths(25.0, 25.0, 400.0).side is None


def test_a_corner_that_hides_the_short_leg_is_noted() -> None:
    """Kept right at 45.02 deg with a corner of 89.9: the right leg is shorter, and yet the left foot goes forward."""
    angles = [Quantity(math.radians(v), "rad") for v in (45.02, 45.08, 89.9)]
    correction = correct_miter_from_angles(*angles, Jig(JIG.lever, "right"))
    assert (correction.side, correction.turn) == ("left", "clockwise")
    assert [note.name for note in correction.notes] == ["corner-hides-it"]


def test_a_measured_split_is_used_as_it_is() -> None:
    """split_error, half of the right less the left angle, is the error with its sign turned (closed form)."""
    angles = [Quantity(math.radians(v), "rad") for v in (44.9, 45.1, 90.0)]
    correction = correct_miter_from_angles(*angles, JIG, split_error=Quantity(math.radians(0.11), "rad"))
    assert math.degrees(correction.angle_error.value) == pytest.approx(-0.11, abs=1e-12)


@pytest.mark.parametrize(
    ("length", "limit"), [(99.9, 0.02), (100.0, 0.02), (101.0, 0.03), (600.0, 0.03), (700.0, 0.04)]
)
def test_a_calipers_limit_of_error(length: float, limit: float) -> None:
    """0.01 mm digital: 20 um to 100 mm, 30 to 600, 40 above (DIN 862; where the class changes from memory)."""
    assert caliper_limit_mm(length) == limit


def test_close_readings_share_the_calipers_error_and_far_ones_do_not() -> None:
    """At nearly one opening a caliper errs alike, so that the difference forgets it; 60 mm apart it does not."""
    near = typed_legs(101.6, 101.3, ReadingCare(read_to_mm=0.0, tips_mm=0.0))
    far = typed_legs(101.6, 42.0, ReadingCare(read_to_mm=0.0, tips_mm=0.0))
    assert (near[0] - near[1]).standard_uncertainty == pytest.approx(0.0, abs=1e-15)
    assert (far[0] - far[1]).standard_uncertainty == pytest.approx(0.03 * math.sqrt(2 / 3), rel=1e-12)


def test_only_what_was_not_said_is_an_assumption() -> None:
    """Each default stands in the list until it is said; a square cut has no tips and no corner."""
    names = [one.name for one in assumptions(ReadingCare(), "legs", 101.6)]
    assert names == ["reading", "caliper", "distance", "edge form", "broken tips", "corner"]
    said = ReadingCare(read_to_mm=0.01, tips_mm=0.0, corner_to_rad=0.001)
    assert [one.name for one in assumptions(said, "legs", 101.6)] == ["caliper", "distance", "edge form"]
    assert [one.name for one in assumptions(ReadingCare(), "widths", 25.0)] == names[:4]
