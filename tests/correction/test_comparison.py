"""Caliper against photo: E_n by angles, the cause found when one slip was made, and both taken together."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from cutvision.correction import Jig, ReadingCare, typed_corner, typed_distance, typed_legs, typed_widths
from cutvision.correction.comparison import (
    CaliperLegs,
    CaliperWidths,
    PhotoReading,
    compare,
    correct_combined,
)
from cutvision.errors import InputError
from cutvision.uncertainty import Influence, Quantity, covariance

DEG = math.radians(1.0)
FLOAT = 1e-12
CARE = ReadingCare(tips_mm=0.06)
LEFT_MM, RIGHT_MM = 101.62, 101.35


def photo(
    left_mm: float = LEFT_MM,
    right_mm: float = RIGHT_MM,
    corner_deg: float = 90.0,
    *,
    print_deg: float = 0.0,
    length_factor: float = 1.0,
    thickness_mm: float = 0.0,
) -> PhotoReading:
    """What photos of this exact triangle would give: angles to 0.004 deg, lengths to 0.05 mm (standard)."""
    c = corner_deg * DEG
    at_left = math.atan2(right_mm * math.sin(c), left_mm - right_mm * math.cos(c))
    at_right = math.pi - c - at_left
    edges = Influence("edge points", "edge points")
    stretch = Influence("print 1", "print stretch", source="an ordinary printer")

    def angle(value: float, key: str, stretched: float) -> Quantity:
        parts = {replace(edges, key=f"edge points/{key}"): 0.004 * DEG, stretch: stretched * print_deg * DEG}
        return Quantity(value, "rad", {i: part for i, part in parts.items() if part})

    def length(value: float, key: str) -> Quantity:
        return Quantity(value * length_factor, "mm", {replace(edges, key=f"edge points/{key}"): 0.05})

    return PhotoReading(
        quantities={
            "angle_left": angle(at_left, "left", -1.0),
            "angle_right": angle(at_right, "right", 1.0),
            "corner": angle(c, "corner", 0.0),
            "split_error": angle((at_right - at_left) / 2, "split", 1.0),
            "leg_left": length(left_mm, "leg left"),
            "leg_right": length(right_mm, "leg right"),
        },
        edge_form_rad=dict.fromkeys(("angle_left", "angle_right", "split_error"), 0.005 * DEG),
        photos=1,
        lens_height_mm=400.0,
        thickness_mm=thickness_mm,
    )


def legs(left_mm: float = LEFT_MM, right_mm: float = RIGHT_MM, care: ReadingCare = CARE) -> CaliperLegs:
    """A careful person's caliper readings; the tips are as long as they were taken for."""
    left, right = typed_legs(left_mm - 0.03, right_mm - 0.03, care)
    return CaliperLegs(left, right, typed_corner(90 * DEG, care), tips_mm=0.06)


def strip_photo(taper_rad: float) -> PhotoReading:
    """A strip's photo: its taper to 0.003 deg."""
    taper = Quantity(taper_rad, "rad", {Influence("edge points", "edge points"): 0.003 * DEG})
    widths = {
        name: Quantity(value, "mm", {Influence(name, "edge points"): 0.05})
        for name, value in (("width_fence", 24.91), ("width_far", 24.91 - 380 * math.tan(taper_rad)))
    }
    return PhotoReading({"taper": taper, **widths}, {"taper": 0.002 * DEG}, 1, 400.0, 18.0)


def widths(at_mm: float, far_mm: float, between_mm: float = 380.0) -> CaliperWidths:
    """Two widths and their distance."""
    return CaliperWidths(
        *typed_widths(at_mm, far_mm, ReadingCare()), between=typed_distance(between_mm, "between", ReadingCare())
    )


def test_the_same_piece_agrees_in_every_angle_and_length() -> None:
    """Readings of one exact triangle agree; the combination lies between and is no wider than the better one."""
    result = compare(legs(), photo())
    assert result.verdict == "agree"
    assert result.lengths_agree
    assert not result.causes
    for name, both in result.combined.items():
        one = result.angles[name]
        assert both.standard_uncertainty <= min(one.first.standard_uncertainty, one.second.standard_uncertainty) + FLOAT


def test_what_caliper_and_photo_share_is_not_averaged_down() -> None:
    """An influence of 0.02 deg in both stays whole in the combination (closed form: weights sum to 1)."""
    both = Influence("shared", "shared")
    seen = photo()
    shared = {name: q.with_influence(both, 0.02 * DEG) if q.unit == "rad" else q for name, q in seen.quantities.items()}
    readings = legs()
    result = compare(
        replace(readings, corner=readings.corner.with_influence(both, -0.02 * DEG)), replace(seen, quantities=shared)
    )
    right = result.angles["angle_right"]
    assert covariance((right.first, right.second))[0, 1] == pytest.approx((0.01 * DEG) * (0.02 * DEG), rel=0.02)
    own = Quantity(0.0, "rad", {both: result.combined["angle_right"].components[both]})
    assert 0.01 * DEG <= own.standard_uncertainty <= 0.02 * DEG


def test_mirroring_the_piece_mirrors_the_comparison() -> None:
    """With left and right exchanged everywhere the E_n stay, and the split changes its sign."""
    one = compare(legs(101.62, 101.50), photo())
    other = compare(legs(101.50, 101.62), photo(RIGHT_MM, LEFT_MM))
    assert other.number == pytest.approx(one.number, rel=1e-9)
    assert other.angles["split_error"].first.value == pytest.approx(-one.angles["split_error"].first.value, rel=1e-9)


@pytest.mark.parametrize(
    ("readings", "seen", "cause", "words"),
    [
        (legs(RIGHT_MM - 0.3, LEFT_MM + 0.3), photo(LEFT_MM + 0.3, RIGHT_MM - 0.3), "swapped", "turned over"),
        (legs(), photo(corner_deg=90.3), "corner", "90.30"),
        (legs(102.62, RIGHT_MM), photo(), "digit", "101.59 rather"),
        (legs(110.62, RIGHT_MM), photo(), "digit", "101.59 rather"),
        (legs((LEFT_MM - 0.03) / 25.4 + 0.03, RIGHT_MM), photo(), "units", "typed in mm"),
        (legs(math.hypot(LEFT_MM, RIGHT_MM), RIGHT_MM), photo(), "cut-for-leg", "along the cut"),
        (legs(LEFT_MM, RIGHT_MM - 0.47), photo(), "tip", "right leg"),
        (legs(), photo(101.55, 101.42, print_deg=0.015), "print", "stretched"),
        (widths(24.5, 25.3), strip_photo(math.atan(0.8 / 380)), "swapped", "ends"),
        (widths(24.91, 24.18), strip_photo(math.atan(0.13 / 380)), "digit", "24.78"),
        (widths(24.91 * 25.4, 24.78), strip_photo(math.atan(0.13 / 380)), "units", "24.91"),
        (widths(25.91, 24.91, 190.0), strip_photo(math.atan(1 / 380)), "between", "380 mm"),
    ],
)
def test_each_slip_is_found(readings: CaliperLegs | CaliperWidths, seen: PhotoReading, cause: str, words: str) -> None:
    """One slip made on an otherwise perfect pair is named among the causes, and would make them agree."""
    result = compare(readings, seen)
    assert result.verdict != "agree"
    found = {one.name: one for one in reversed(result.causes)}
    assert cause in found
    assert words in found[cause].message
    assert found[cause].number <= 1.0


def test_a_cause_that_makes_no_piece_is_passed_over() -> None:
    """A corner 6 deg off is no miter's: it is not offered as a cause, and the comparison ends in words."""
    result = compare(legs(), photo(corner_deg=96.0))
    assert result.verdict == "disagree"
    assert "corner" not in {one.name for one in result.causes}


def test_swapped_legs_are_the_first_guess() -> None:
    """A slip that sets no figure at will comes before one that does."""
    result = compare(legs(RIGHT_MM - 0.3, LEFT_MM + 0.3), photo(LEFT_MM + 0.3, RIGHT_MM - 0.3))
    assert result.causes[0].name == "swapped"


def test_nothing_is_combined_and_no_move_told_when_they_disagree() -> None:
    """A mean of a right and a wrong value is half wrong."""
    result = compare(legs(LEFT_MM, LEFT_MM + 1.7), photo())
    assert result.verdict == "disagree"
    assert not result.combined
    with pytest.raises(InputError, match="disagree"):
        correct_combined(result, Jig(typed_distance(380.0, "lever", ReadingCare())))


def test_a_doubtful_pair_is_combined_with_a_wider_bound() -> None:
    """Between E_n 1 and 1.5 the combination's uncertainty grows by the worst E_n (closed form)."""
    plain = compare(legs(), photo())
    for shift in (0.10, 0.12, 0.14, 0.16, 0.18, 0.20):
        result = compare(legs(LEFT_MM + shift, RIGHT_MM), photo())
        if result.verdict == "doubtful":
            break
    else:
        pytest.fail("no shift made them doubtful")
    for name in result.combined:
        wider = result.combined[name].standard_uncertainty / plain.combined[name].standard_uncertainty
        assert wider == pytest.approx(result.number, rel=1e-3)


@pytest.mark.parametrize(("thickness_mm", "taken_mm"), [(19.0, 0.0), (0.0, 19.0), (25.0, 19.0)])
def test_lengths_off_by_one_factor_tell_the_thickness(thickness_mm: float, taken_mm: float) -> None:
    """A length reads (Z - taken)/(Z - t) of itself under a lens at Z (closed form: similar triangles)."""
    factor = (400 - taken_mm) / (400 - thickness_mm)
    result = compare(legs(), photo(length_factor=factor, thickness_mm=taken_mm))
    assert result.verdict == "agree"
    assert not result.lengths_agree
    (cause,) = result.causes
    assert cause.name == "thickness"
    assert f"about {thickness_mm:.0f} mm thick, where the photo took {taken_mm:.0f} mm" in cause.message


@pytest.mark.parametrize(
    ("factor", "name", "words"),
    [
        (25.4, "units", "taken in inches and typed in mm"),
        (1 / 25.4, "units", "taken in mm and typed in inches"),
        (2.5, "lengths", "shorter than"),
    ],
)
def test_other_factors_tell_a_unit_or_a_scale(factor: float, name: str, words: str) -> None:
    """A factor of 25.4 is a unit; one that no stock explains is the print's scale or another piece."""
    (cause,) = compare(legs(), photo(length_factor=factor)).causes
    assert cause.name == name
    assert words in cause.message


def test_lengths_off_by_different_factors_point_to_the_tips() -> None:
    """Two widths that differ from the photo's by different amounts, at one taper, are no matter of scale."""
    seen = strip_photo(math.atan(0.13 / 380))
    wrong = dict(seen.quantities, width_far=seen.quantities["width_far"] + 1.0)
    (cause,) = compare(widths(24.91, 24.78), replace(seen, quantities=wrong)).causes
    assert (cause.name, "not by one factor" in cause.message) == ("lengths", True)


@pytest.mark.parametrize("kept", ["left", "right", None])
def test_the_combined_value_goes_to_the_fence(kept: str | None) -> None:
    """The fence's error is the combined angle's (signs as agreed: N - R, L - N, (L - R)/2), with the edges' part."""
    result = compare(legs(), photo())
    jig = Jig(typed_distance(380.0, "lever", ReadingCare()), kept)  # type: ignore[arg-type]
    correction = correct_combined(result, jig)
    both = result.combined
    expected = {
        "left": math.pi / 4 - both["angle_right"].value,
        "right": both["angle_left"].value - math.pi / 4,
        None: -both["split_error"].value,
    }[kept]
    assert correction.angle_error.value == pytest.approx(expected, abs=FLOAT)
    assert any(influence.name == "edge form" for influence in correction.angle_error.components)


def test_a_strip_goes_to_the_fence_by_its_turns() -> None:
    """A quarter of the combined taper after four turns (closed form)."""
    result = compare(widths(24.91, 24.78), strip_photo(math.atan(0.13 / 380)))
    correction = correct_combined(result, Jig(typed_distance(560.0, "lever", ReadingCare()), "left"), turns=4)
    assert correction.angle_error.value == pytest.approx(result.combined["taper"].value / 4, abs=FLOAT)


@pytest.mark.parametrize(
    "readings", [widths(0.0, 24.0), widths(24.0, 24.0, math.nan), replace(legs(), left=Quantity(-1.0, "mm"))]
)
def test_readings_that_are_no_piece_are_refused(readings: CaliperLegs | CaliperWidths) -> None:
    """Zero, NaN and negative lengths are refused in words."""
    seen = photo() if isinstance(readings, CaliperLegs) else strip_photo(1e-4)
    with pytest.raises(InputError):
        compare(readings, seen)


def test_the_last_digit_is_not_called_misread() -> None:
    """A few hundredths are the reading's own doubt; a parallel strip gives no distance between the readings."""
    result = compare(widths(24.91, 24.41), strip_photo(0.0))
    assert "between" not in {one.name for one in result.causes}
    assert result.verdict == "disagree"


@pytest.mark.parametrize("reading", [legs(101.62 + 1.0), widths(24.91, 27.78)])
def test_no_digit_is_called_misread_when_none_is_known(reading: CaliperLegs | CaliperWidths) -> None:
    """A reading that is a sum or a mean has no digits of its own: with them a digit may be the cause, without never."""
    seen = photo() if isinstance(reading, CaliperLegs) else strip_photo(math.atan(0.13 / 380))
    names = {one.name for one in compare(reading, seen).causes}
    assert "digit" in names
    without = {one.name for one in compare(replace(reading, digits_mm=None), seen).causes}
    assert without == names - {"digit"}


def test_a_digit_misread_in_inches_is_told_in_inches() -> None:
    """4.001 in read for 4.021: three decimals as a caliper shows them, in its own unit."""
    left, right = 4.021 * 25.4, 3.990 * 25.4
    seen = photo(left, right)
    read = replace(legs(4.001 * 25.4 + 0.03, right), digits_mm=25.4)
    told = next(one for one in compare(read, seen).causes if one.name == "digit")
    assert "4.021 rather than 4.001 in" in told.message


def test_no_digit_makes_a_width_of_nothing() -> None:
    """A photo whose taper would leave nothing of the strip's one end asks for no digit there."""
    result = compare(widths(24.91, 24.78), strip_photo(math.atan(30.0 / 380)))
    assert "width at the far end" not in " ".join(one.message for one in result.causes if one.name == "digit")


def test_lengths_too_far_apart_are_not_of_one_piece() -> None:
    """A triangle 14 times as small has the same angles (closed form): nothing is combined all the same."""
    result = compare(legs(LEFT_MM / 14, RIGHT_MM / 14), photo())
    assert not result.one_size
    assert result.verdict == "disagree"
    assert not result.combined
    assert result.causes[0].name in {"lengths", "units"}


def test_swapped_legs_are_found_beside_another_corner() -> None:
    """Legs exchanged, and a corner 0.2 deg from the one they were taken with: both are told, with what to type."""
    result = compare(legs(RIGHT_MM - 0.6, LEFT_MM + 0.6), photo(LEFT_MM + 0.6, RIGHT_MM - 0.6, 89.8))
    assert result.causes[0].name == "swapped"
    assert "--corner 89.80deg" in result.causes[0].remedy
