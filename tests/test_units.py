"""Lengths and angles as people write them, and numbers no finer than their bound."""

from __future__ import annotations

import contextlib
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutvision import units
from cutvision.errors import InputError
from cutvision.units import parse_angle, parse_length

EXACT_MM = 1e-12  # float noise of one conversion


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("19mm", 19.0),
        ("19 mm", 19.0),
        ("1.9cm", 19.0),
        (".019 m", 19.0),
        ("0.75in", 19.05),
        ("3/4in", 19.05),
        ("3-1/2 in", 88.9),
        ("3 1/2 in", 88.9),
        ("3 - 1/2 in", 88.9),
        ("3\u20131/2 in", 88.9),
        ('6 1/2"', 165.1),
        ("6\u00bd\u2033", 165.1),
        ("6 \u00bd in", 165.1),
        ("\u00be in.", 19.05),
        ("3\u20444in", 19.05),
        ("12thou", 0.3048),
        ("5 MIL", 0.127),
        ("50um", 0.05),
        ("50 \u00b5m", 0.05),
        ("1ft", 304.8),
        ("3 ft 4 1/2 in", 1028.7),
        ("3' 4-1/2\"", 1028.7),
        ("+19mm", 19.0),
        ("1e2mm", 100.0),
        ("5.mm", 5.0),
    ],
)
def test_a_length_is_read_as_it_was_meant(text: str, mm: float) -> None:
    """1 in = 25.4 mm (ISO 80000-3, from memory); a half beside a whole number is added to it, never taken alone."""
    assert parse_length(text, "--thickness") == pytest.approx(mm, abs=EXACT_MM)


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("45deg", 45.0),
        ("45\u00b0", 45.0),
        ("22.5 deg", 22.5),
        ("22\u00bd\u00b0", 22.5),
        ("30'", 0.5),
        ("30min", 0.5),
        ("30 arcmin", 0.5),
        ("1deg 30min", 1.5),
        ("1\u00b030\u203215\u2033", 1.5 + 15 / 3600),
        ("36 sec", 0.01),
        ("0.5rad", math.degrees(0.5)),
        ("2 mrad", math.degrees(0.002)),
    ],
)
def test_an_angle_is_read_as_it_was_meant(text: str, degrees: float) -> None:
    """60 minutes of arc make a degree, 60 seconds a minute (closed form)."""
    assert math.degrees(parse_angle(text, "--nominal")) == pytest.approx(degrees, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("19", "without a unit"),
        ("3 1/2", "without a unit"),
        ("19,5mm", "a comma may mean"),
        ("1,900mm", "a comma may mean"),
        ("nan", "cannot be read"),
        ("nanmm", "cannot be read"),
        ("inf", "cannot be read"),
        ("infmm", "cannot be read"),
        ("1e400mm", "more than 100 m"),
        ("1e999999999mm", "cannot be read"),
        ("9" * 5000 + "mm", "characters long"),
        ("", "is empty"),
        ("   ", "is empty"),
        ("mm", "cannot be read"),
        ("-", "cannot be read"),
        ("-3mm", "cannot be negative"),
        ("\u22123mm", "cannot be negative"),
        ("0mm", "more than zero"),
        ("1e-400mm", "more than zero"),
        ("1e-300mm", "less than a millionth of a millimetre"),
        ("1/0in", "is no part of a whole"),
        ("3 5/4in", "is no part of a whole"),
        ("3/4/5in", "cannot be read"),
        ("3in 4mm", "do not belong to one value"),
        ("3in 1ft", "do not belong to one value"),
        ("6 1/2 1/2in", "cannot be read"),
        ("45deg", "is an angle"),
        ("19 cubits", "the unit 'cubits' is not known"),
        ("\u0663mm", "cannot be read"),
    ],
)
def test_what_is_no_length_is_refused_with_what_to_type(text: str, said: str) -> None:
    """Every refusal names the option, says why, and shows how to type it."""
    with pytest.raises(InputError) as caught:
        parse_length(text, "--thickness")
    assert caught.value.message.startswith("--thickness is ")
    assert said in caught.value.message
    assert caught.value.remedy


def test_a_bare_number_is_told_both_units_it_could_mean() -> None:
    """The remedy repeats the number with each unit, ready to be typed."""
    with pytest.raises(InputError) as caught:
        parse_length("19", "--thickness")
    assert "19mm or 19in" in caught.value.remedy
    with pytest.raises(InputError) as caught:
        parse_angle("45", "--nominal")
    assert "45deg or 45min" in caught.value.remedy


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("5mm", "is a length"),
        ("361deg", "a full turn"),
        ("-1deg", "negative"),
        ("1e-300deg", "a millionth of a degree"),
    ],
)
def test_what_is_no_angle_is_refused(text: str, said: str) -> None:
    """A length, more than a turn, a negative angle and one that nothing could show are no angle here."""
    with pytest.raises(InputError, match=said):
        parse_angle(text, "--nominal")


def test_nothing_is_a_length_only_where_nothing_makes_sense() -> None:
    """0mm passes as a tolerance of a reading when asked for, and not as a leg."""
    assert parse_length("0mm", "--tips", zero=True) == 0.0


@given(st.integers(0, 40), st.integers(0, 6), st.data())
@settings(max_examples=200, deadline=None, derandomize=True)
def test_every_mixed_fraction_is_whole_plus_part(whole: int, power: int, data: st.DataObject) -> None:
    """w n/d in, written with a space or a hyphen, is (w + n/d) x 25.4 mm (closed form)."""
    under = 2 ** (power + 1)
    over = data.draw(st.integers(1, under - 1))
    for joint in (" ", "-", " - "):
        got = parse_length(f"{whole}{joint}{over}/{under} in", "it")
        assert got == pytest.approx((whole + over / under) * 25.4, rel=1e-15)


@given(st.text(max_size=30))
@settings(max_examples=500, deadline=None, derandomize=True)
def test_no_text_ends_in_anything_but_a_value_or_a_refusal(text: str) -> None:
    """Any text is a length from 1 nm to 100 m, or refused in words."""
    value = 1.0
    with contextlib.suppress(InputError):
        value = parse_length(text, "it")
    assert units.SHORTEST_MM <= value <= units.LONGEST_MM


@pytest.mark.parametrize(
    ("value", "bound", "text"),
    [
        (0.50549, 0.31, "0.51 mm (0.020 in)"),
        (0.50549, 0.061, "0.505 mm (0.0199 in)"),
        (88.9, 0.3, "88.90 mm (3.500 in, about 3 1/2 in)"),
        (12.4, 2.0, "12.4 mm (0.488 in, about 1/2 in)"),
        (12345.0, 1500.0, "12300 mm (486 in)"),
        (-0.0001, 0.31, "0.00 mm (0.000 in)"),
        (1.0, 0.0, "1.000000 mm (0.039370 in)"),
    ],
)
def test_a_length_is_shown_no_finer_than_its_bound(value: float, bound: float, text: str) -> None:
    """The second figure of the bound is the last place shown, in either unit; fractions only where they say enough."""
    assert units.format_length(value, bound) == text


@pytest.mark.parametrize(("bound", "places"), [(0.31, 2), (0.0996, 2), (0.0994, 3), (9.96, 0), (15.0, 0), (150.0, -1)])
def test_places_follow_the_rounded_bound(bound: float, places: int) -> None:
    """A bound that rounds up to the next ten shows one place less (JCGM 100:2008, 7.2.6: two figures suffice)."""
    assert units.decimals(bound) == places


def test_angles_are_shown_in_degrees_and_minutes_with_their_bound() -> None:
    """0.0762 deg are 4.57 minutes of arc (closed form)."""
    value, bound = math.radians(0.07621742791), math.radians(0.045)
    assert units.format_angle(value, bound) == "0.076 deg (4.6')"
    assert units.format_angle_with_bound(value, bound) == "0.076 ± 0.045 deg (4.6 ± 2.7')"
    assert units.format_length_with_bound(0.50549, 0.29) == "0.51 ± 0.29 mm (0.020 ± 0.011 in)"


@pytest.mark.parametrize(
    ("value", "bound", "text"),
    [
        (88.9, 0.19, None),
        (88.9, 0.2, "3 1/2 in"),
        (19.3, 0.2, "49/64 in"),
        (19.3, 1.7, "3/4 in"),
        (25.3, 1.7, "1 in"),
        (1.5, 0.3, None),
        (88.9, 3.3, None),
        # 1/16 in is 1.59 mm, a fifth short
        (1.97, 0.8, None),
        (1.6, 0.8, "1/16 in"),
    ],
)
def test_a_rule_shows_the_division_that_the_bound_supports(value: float, bound: float, text: str | None) -> None:
    """1/64 in is 0.397 mm: it is named from a bound of half of that on, and coarser divisions for coarser bounds."""
    assert units.nearest_on_a_rule(value, bound) == text
