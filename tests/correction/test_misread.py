"""Which reading may be misread, and for what: only when the fence they tell of is hardly possible."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pytest

from cutvision.correction import Jig, correct_miter_from_legs
from cutvision.correction.misread import likely_misreads, suspicion
from cutvision.errors import InputError
from cutvision.uncertainty import Quantity


def split(read: Mapping[str, float]) -> float:
    """The error of a miter of 45 deg from two legs, in rad (closed form)."""
    return math.pi / 4 - math.atan(read["left"] / read["right"])


@pytest.mark.parametrize(
    ("left", "right", "perhaps"),
    [
        (110.62, 101.35, ["101.62 mm as 110.62 mm (left)"]),  # two digits swapped
        (4.0, 101.6, ["4 in as 4 mm (left)"]),  # inches typed as mm
        (101.62 * 25.4, 101.35, ["101.62 mm"]),  # mm typed as inches
        (111.62, 101.35, ["101.62 mm as 111.62 mm (left)"]),  # 10 mm on the scale
        (181.62, 101.35, ["101.62 mm as 181.62 mm (left)"]),  # one digit
    ],
)
def test_the_likeliest_slip_is_named(left: float, right: float, perhaps: list[str]) -> None:
    """Swapped digits before mixed units before a slip on the scale before a wrong digit; the reading is named."""
    asked = suspicion({"left": left, "right": right}, split)
    for words in perhaps:
        assert words in asked


def test_inches_are_told_in_inches() -> None:
    """4.400 and 4.002 in: 4.040 with two digits swapped, or one a tenth too long; asked about as typed."""
    asked = suspicion({"left": 4.4 * 25.4, "right": 4.002 * 25.4}, split)
    assert "in as 4.4 in (left)" in asked


def test_plausible_readings_are_not_asked_about() -> None:
    """Under 2 deg nothing is said, though a digit may be wrong; nothing fits: nothing is suspected."""
    assert suspicion({"left": 102.62, "right": 101.35}, split) == ""
    assert suspicion({"left": 37.3, "right": 888.8}, split) == ""
    assert likely_misreads({"left": 37.3, "right": 888.8}, split) == ()


def test_at_most_two_are_named_the_likelier_first() -> None:
    """110.62 and 101.35: the left leg, or the right one, what leaves the smaller error first; never a list."""
    found = likely_misreads({"left": 110.62, "right": 101.35}, split)
    assert {one.where for one in found} == {"left", "right"}
    assert abs(found[0].left_rad) <= abs(found[1].left_rad)


def test_a_formula_that_fails_on_a_guess_is_no_suspicion() -> None:
    """A guess that cannot be reckoned with is passed over."""

    def touchy(read: Mapping[str, float]) -> float:
        if read["left"] < 110:
            raise ValueError
        return math.radians(5.0)

    assert suspicion({"left": 110.62, "right": 101.35}, touchy) == ""


@pytest.mark.parametrize("kept", ["left", "right", None])
def test_a_miter_asks_whatever_was_kept(kept: str | None) -> None:
    """Legs of 110.62 and 101.35 mm on either arm: 101.62 may have been misread."""
    left, right, corner = Quantity(110.62, "mm"), Quantity(101.35, "mm"), Quantity(math.pi / 2, "rad")
    with pytest.raises(InputError, match="2 deg") as caught:
        correct_miter_from_legs(left, right, corner, Jig(Quantity(380.0, "mm"), kept))  # type: ignore[arg-type]
    assert "101.62 mm as 110.62 mm (left leg)" in caught.value.remedy
    assert caught.value.at_the_saw
