"""Tables that a shop has on the wall, through the functions that a fence's move goes through. All closed form."""

from __future__ import annotations

import math

import pytest

from cutvision.correction import Jig, ReadingCare, correct_frame, typed_distance, typed_gap
from cutvision.correction.fence_move import distance_at_lever
from cutvision.uncertainty import Influence, Quantity, propagate
from cutvision.units import parse_angle, parse_length

LEVER = typed_distance(380.0, "lever", ReadingCare())


def move_mm(angle_deg: float, lever_mm: float) -> float:
    """The move for an exact error at an exact lever."""
    return distance_at_lever(Quantity(math.radians(angle_deg), "rad"), Quantity(lever_mm, "mm")).value


@pytest.mark.parametrize(
    ("angle_deg", "tangent"),
    [
        (0.01, 1.74532927e-4),
        (0.1, 1.745331024e-3),
        (0.5, 8.726867791e-3),
        (1.0, 0.01745506493),
        (22.5, 0.4142135624),
        (30.0, 0.5773502692),
        (36.0, 0.726542528),
    ],
)
def test_the_move_is_the_lever_times_the_tangent(angle_deg: float, tangent: float) -> None:
    """Tangents to ten figures; the sign of the error does not matter to the distance."""
    assert move_mm(angle_deg, 1.0) == pytest.approx(tangent, rel=1e-9)
    assert move_mm(-angle_deg, 1.0) == pytest.approx(tangent, rel=1e-9)


@pytest.mark.parametrize(
    ("angle", "per_metre_mm"), [("1deg", 17.455065), ("1min", 0.2908882), ("1sec", 4.848137e-3), ("3600sec", 17.455065)]
)
def test_what_an_angle_is_over_a_metre(angle: str, per_metre_mm: float) -> None:
    """One degree, minute and second of arc over 1 m, to seven figures."""
    assert move_mm(math.degrees(parse_angle(angle, "angle")), 1000.0) == pytest.approx(per_metre_mm, rel=1e-6)


@pytest.mark.parametrize(
    ("rise", "run", "angle_deg"),
    [("1thou", "1in", 0.05729576), ("1thou", "12in", 0.00477465), ("3thou", "18in", 0.00954930)],
)
def test_thousandths_over_a_length_are_an_angle(rise: str, run: str, angle_deg: float) -> None:
    """0.001 in over 1 in and 12 in, 0.003 in over 18 in, to seven figures: the move at that lever gives it back."""
    assert move_mm(angle_deg, parse_length(run, "run")) == pytest.approx(parse_length(rise, "rise"), rel=1e-6)


@pytest.mark.parametrize(
    ("sides", "cut_deg"),
    [
        (3, 60.0),
        (4, 45.0),
        (5, 36.0),
        (6, 30.0),
        (7, 25.714286),
        (8, 22.5),
        (9, 20.0),
        (10, 18.0),
        (12, 15.0),
        (16, 11.25),
        (20, 9.0),
    ],
)
def test_the_cut_of_a_polygon_from_square(sides: int, cut_deg: float) -> None:
    """180 deg over the count of sides, as shops say the miter."""
    gap, stock = typed_gap(0.0, ReadingCare()), typed_distance(60.0, "stock", ReadingCare())
    frame = correct_frame(gap, stock, sides, "heel", Jig(LEVER, "left"))
    assert math.degrees(frame.nominal_rad) == pytest.approx(cut_deg, abs=5e-7)


@pytest.mark.parametrize(("fourth", "together"), [(1.0, 2.00), (10.0, 10.149)])
def test_the_sum_of_four_inputs(fourth: float, together: float) -> None:
    """JCGM 101:2008, 9.2.2 to 9.2.4: u 2.00, and 10.149 when one of the four has u = 10 (read in a public test)."""
    inputs = [Quantity(0.0, "1", {Influence(f"X{i}", "X"): part}) for i, part in enumerate((1.0, 1.0, 1.0, fourth))]
    total = propagate(0.0, "1", [(one, 1.0) for one in inputs])
    assert total.standard_uncertainty == pytest.approx(together, abs=5e-4)
