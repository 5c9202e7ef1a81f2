"""Readings taken several times: the mean, what their scatter says, and what repeating cannot tell."""

from __future__ import annotations

import math

import pytest

from cutvision.correction import ReadingCare, assumptions, typed_distance, typed_legs, typed_widths
from cutvision.errors import InputError
from cutvision.uncertainty import budget
from cutvision.units import parse_angles, parse_lengths

BARE = ReadingCare(accuracy_mm=0.0, tips_mm=0.0, distance_to_mm=0.0)


def test_a_mean_with_its_scatter_and_degrees_of_freedom() -> None:
    """101.62, 101.64, 101.61: mean 101.6233, s 0.0152753, s/sqrt 3 0.00881917, 2 degrees of freedom (closed form)."""
    left, _ = typed_legs((101.62, 101.64, 101.61), 101.35, BARE)
    assert left.value == pytest.approx(101.62333333, abs=1e-8)
    (scatter,) = (i for i in left.components if i.kind == "A")
    assert left.components[scatter] == pytest.approx(0.00881917, abs=1e-8)
    assert scatter.degrees_of_freedom == 2
    # Source of 0.01/sqrt 12: JCGM 100:2008, F.2.2.1.
    assert left.standard_uncertainty == pytest.approx(math.hypot(0.00881917, 0.01 / math.sqrt(12)), abs=1e-8)


def test_the_instruments_accuracy_stays_beside_the_scatter() -> None:
    """Repeating does not lessen the caliper's own error: both rows stand in the budget."""
    width, _ = typed_widths((24.92, 24.94, 24.91), (24.75, 24.76), ReadingCare())
    assert {row.name: row.kind for row in budget(width)} == {"caliper": "B", "reading": "A", "resolution": "B"}
    lever = typed_distance((380.0, 381.0, 382.0), "lever", ReadingCare(distance_to_mm=1.0))
    assert lever.value == 381.0
    assert lever.standard_uncertainty == pytest.approx(math.sqrt(1 / 3 + 1 / 3), rel=1e-12)


def test_equal_readings_are_no_finer_than_the_display() -> None:
    """Three equal readings show no scatter, but the display's step of 0.01 mm still hides 0.0029 mm."""
    at, _ = typed_widths((24.91, 24.91, 24.91), 24.78, BARE)
    assert at.standard_uncertainty == pytest.approx(0.0028868, abs=1e-7)


def test_one_reading_is_what_it_was() -> None:
    """A list of one is one reading: its scatter is assumed, not known."""
    care = ReadingCare()
    assert typed_legs((101.62,), (101.35,), care) == typed_legs(101.62, 101.35, care)
    assert typed_distance((380.0,), "lever", care) == typed_distance(380.0, "lever", care)


def test_nothing_is_assumed_of_a_scatter_that_was_seen() -> None:
    """With every reading repeated, how well one repeats is no assumption any more."""
    assert "reading" in [one.name for one in assumptions(ReadingCare(), "legs", 101.6)]
    assert "reading" not in [one.name for one in assumptions(ReadingCare(), "legs", 101.6, all_repeated=True)]


def test_readings_far_apart_are_asked_about() -> None:
    """101.62 and 106.12 mm are a misread digit, not a scatter; so are levers 10 mm apart."""
    with pytest.raises(InputError, match=r"left leg lie 4\.5 mm apart"):
        typed_legs((101.62, 106.12), 101.35, ReadingCare())
    with pytest.raises(InputError, match="lever lie 11 mm apart"):
        typed_distance((380.0, 391.0), "lever", ReadingCare())


def test_units_may_be_mixed_in_a_list() -> None:
    """4 in and 101.6 mm are the same length (1 in is 25.4 mm); degrees and minutes likewise."""
    assert parse_lengths('4in, 101.6mm,4"', "--left-leg") == (101.6, 101.6, 101.6)
    assert parse_angles("0.5deg,30min", "--angles") == (math.radians(0.5), math.radians(0.5))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("101,62mm", "a comma may mean"),
        ("101.62,101.64mm", "a comma may mean"),
        ("101.62mm,", "reading 2 is empty"),
        (",101.62mm", "reading 1 is empty"),
        ("101.62mm,,101.64mm", "reading 2 is empty"),
        ("101.62mm,nanmm", "reading 2, is 'nanmm'"),
        ("101.62mm,-101.64mm", "cannot be negative"),
        ("101.62mm,3deg", "is an angle"),
        ("101.62mm;101.64mm", "cannot be read"),
    ],
)
def test_a_malformed_list_is_refused_in_words(text: str, said: str) -> None:
    """Each names the option and what to type instead."""
    with pytest.raises(InputError) as caught:
        parse_lengths(text, "--left-leg")
    assert said in caught.value.message
    assert "--left-leg" in caught.value.message
    assert caught.value.remedy
