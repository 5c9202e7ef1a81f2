"""What would tell, when a piece cannot: each remedy's bound, worked out, and the cheapest that settles it."""

from __future__ import annotations

import math

import pytest

from cutvision.correction import (
    Decision,
    Jig,
    ReadingCare,
    Remedy,
    correct_direct,
    correct_miter_from_angles,
    correct_miter_from_legs,
    correct_square_from_widths,
    decide,
    typed_corner,
    typed_distance,
    typed_gap,
    typed_gauge,
    typed_legs,
    typed_widths,
)
from cutvision.correction.remedies import TURNED_PHOTOS_RAD, advise
from cutvision.uncertainty import Influence, Quantity

LIMIT = math.radians(0.05)


def made_of(value_deg: float, **parts_deg: float) -> Quantity:
    """An error with one influence for each row named; an underscore stands for a blank."""
    parts = {Influence(name.replace("_", " "), name.replace("_", " ")): u for name, u in parts_deg.items()}
    return Quantity(math.radians(value_deg), "rad", {i: math.radians(u) for i, u in parts.items()})


def by_name(decision: Decision) -> dict[str, Remedy]:
    """The remedies by their names."""
    return {one.name: one for one in decision.remedies}


def never(_error: Quantity) -> bool:
    """Nothing settles it."""
    return False


def test_the_fewest_readings_that_settle_it_are_named() -> None:
    """0.030 deg from one reading, tolerance 0.10, error 0.06: in once U <= 0.04, with n readings and t at n - 1.

    n = 4: t95(3) 3.182 x 0.03 / 2 = 0.0477; n = 5: 2.776 x 0.03 / sqrt 5 = 0.0372, the first below 0.04 (closed form).
    """
    decision = decide(made_of(0.06, reading=0.03), math.radians(0.10))
    assert decision.value == "cannot-tell"
    remedy = by_name(decision)["readings"]
    assert remedy.settles
    assert math.degrees(remedy.bound_after_rad) == pytest.approx(2.776 * 0.03 / math.sqrt(5), abs=5e-5)
    assert decision.remedy == remedy.sentence
    assert decision.remedy == (
        "Read each place 5 times and go by the means: the bound falls from 0.060 to 0.037 deg (3.6 to 2.2')."
    )


def test_readings_taken_already_count() -> None:
    """Three readings with 0.02 deg, two degrees of freedom; four more make 7: 0.02 sqrt(3/7), t95(6) 2.447."""
    scatter = Influence("reading/left", "reading", "A", degrees_of_freedom=2)
    decision = decide(Quantity(math.radians(0.05), "rad", {scatter: math.radians(0.02)}), math.radians(0.085))
    assert decision.remedy.startswith("Read each place 7 times")
    expected = 2.447 * 0.02 * math.sqrt(3 / 7)
    assert math.degrees(decision.remedies[0].bound_after_rad) == pytest.approx(expected, abs=5e-5)


def test_the_step_of_a_display_stays_however_often_it_is_read() -> None:
    """What a display rounds away is not lessened by reading it again."""
    step = Influence("step/left leg", "reading")
    error = Quantity(0.0, "rad", {step: 0.01, Influence("reading/left leg", "reading"): 0.01})
    readings = next(one for one in advise(error, never).remedies if one.name == "readings")
    assert readings.bound_after_rad > 2 * 0.01


@pytest.mark.parametrize(
    ("total", "words"), [(2, "one more piece at this setting and go by the mean of both"), (4, "mean of all 4")]
)
def test_so_many_more_pieces(total: int, words: str) -> None:
    """U = 0.04 deg of edge form and spread falls by sqrt(k): the first k with size + U <= tolerance is asked for."""
    error = made_of(0.03, edge_form=0.012, spread_of_the_cut=0.016)
    after = 0.04 / math.sqrt(total)
    decision = decide(error, math.radians(0.03 + after + 1e-6))
    assert words in decision.remedy
    assert math.degrees(by_name(decision)["pieces"].bound_after_rad) == pytest.approx(after)


def test_pieces_measured_already_count() -> None:
    """A mean of 4 pieces needs 12 more to halve its bound, which is beyond 10; 5 bring it down by sqrt(4/9)."""
    error = made_of(0.03, spread_of_the_cut=0.02)
    decision = decide(error, math.radians(0.03 + 0.04 * 2 / 3 + 1e-6), pieces=4)
    assert "cut 5 more pieces at this setting and go by the mean of all 9" in decision.remedy.lower()


def test_an_unknown_spread_is_told_with_more_pieces() -> None:
    """Pieces help only as far as the cut repeats; when its spread is not in the budget, the advice says so."""
    decision = decide(made_of(0.03, edge_form=0.02), LIMIT)
    assert "how it spreads is not known" in by_name(decision)["pieces"].sentence
    counted = decide(made_of(0.03, edge_form=0.02, spread_of_the_cut=0.001), LIMIT)
    assert "not known" not in by_name(counted)["pieces"].sentence


def test_a_longer_edge_is_what_a_longer_piece_would_have_given() -> None:
    """Legs and widths 3 times as long: the remedy's bound is what the method itself finds for such a piece."""
    care = ReadingCare(accuracy_mm=0.02)
    corner, lever = typed_corner(math.pi / 2, care), typed_distance(380.0, "lever", care)

    def legs(scale: float) -> Quantity:
        left, right = typed_legs(50.0 * scale, 50.0 * scale, care)
        return correct_miter_from_legs(left, right, corner, Jig(lever, "left")).angle_error

    def widths(scale: float) -> Quantity:
        at_fence, far_end = typed_widths(25.0, 25.0, care)
        between = typed_distance(100.0 * scale, "between", care)
        return correct_square_from_widths(at_fence, far_end, between, Jig(lever, "left")).angle_error

    for error in (legs, widths):
        remedy = next(one for one in advise(error(1.0), never).remedies if one.name == "longer edge")
        assert remedy.bound_after_rad == pytest.approx(error(3.0).expanded_uncertainty, rel=1e-6)


def test_a_turned_photo_takes_the_prints_stretch_away() -> None:
    """One photo: the stretch goes, what is the photo's own is divided by sqrt 2; the roughness of the edges stays."""
    parts = {
        Influence("print 1", "print stretch"): math.radians(0.03),
        Influence("edge points cut 0/photo 0", "edge points", "A"): math.radians(0.004),
        Influence("edge form", "edge form"): math.radians(0.006),
    }
    remedy = by_name(decide(Quantity(0.0, "rad", parts), LIMIT))["turned photo"]
    assert remedy.settles
    assert math.degrees(remedy.bound_after_rad) == pytest.approx(2 * math.hypot(0.004 / math.sqrt(2), 0.006))
    assert "turned by a quarter turn on the same sheet" in remedy.sentence


def test_more_photos_than_one_are_asked_for_when_needed() -> None:
    """What scatters from photo to photo falls by sqrt(2/4) with two more: said so, and the piece moved between them."""
    parts = {Influence(f"edge points cut 0/photo {k}", "edge points", "A"): math.radians(0.02) for k in range(2)}
    limit = math.radians(2 * math.hypot(0.02, 0.02) * math.sqrt(1 / 2) + 1e-6)
    decision = decide(Quantity(0.0, "rad", parts), limit)
    assert decision.remedy.startswith("Take 2 more photos, the piece turned and moved")


def test_photos_need_neither_tips_nor_jaws_nor_corner() -> None:
    """Of typed legs the roughness of the edges stays and the photos' own doubt comes in place of the rest."""
    error = made_of(0.0, broken_tips=0.03, reading=0.03, caliper=0.01, corner=0.02, edge_form=0.01)
    remedy = next(one for one in advise(error, never).remedies if one.name == "photos")
    expected = 2 * math.hypot(0.01, math.degrees(TURNED_PHOTOS_RAD))
    assert math.degrees(remedy.bound_after_rad) == pytest.approx(expected)


def test_the_kept_side_costs_nothing_and_comes_first() -> None:
    """Photos without it: half of what the corner is off goes; as the error found changes too, nothing is claimed."""
    angle = Quantity(math.radians(44.95), "rad", {Influence("print 0/photo 0", "print stretch"): 1e-5})
    corner = Quantity(math.radians(89.8), "rad")
    lever = typed_distance(380.0, "lever", ReadingCare())
    found = correct_miter_from_angles(angle, -angle - corner + math.pi, corner, Jig(lever, None, LIMIT))
    assert found.decision.value == "cannot-tell"
    assert found.decision.remedy.startswith("Say --kept left or --kept right")
    assert "The error found changes with it" in found.decision.remedy
    assert not found.decision.moves


@pytest.mark.parametrize(
    ("row", "name", "words"),
    [
        ("broken tips", "tips", "say --tips"),
        ("angle of the piece", "angle", "measure the piece's angle"),
        ("corner", "corner", "say --corner"),
        ("closed joints", "joints", "clamp the other joints"),
        ("gap", "gap", "finer leaves"),
        ("distance between readings", "distance", "measure the distance"),
        ("square's own angle", "square", "turn it over"),
        ("caliper", "caliper", "use a caliper"),
    ],
)
def test_what_stands_in_one_row_known_better(row: str, name: str, words: str) -> None:
    """Known twice as well, a row of its own halves the bound; no more is asked for when that settles it."""
    error = Quantity(0.0, "rad", {Influence(row, row): math.radians(0.04)})
    remedy = by_name(decide(error, LIMIT))[name]
    assert remedy.settles
    assert math.degrees(remedy.bound_after_rad) == pytest.approx(0.04)
    assert words in remedy.sentence[0].lower() + remedy.sentence[1:]
    assert "twice as" in remedy.sentence


def test_the_cheapest_that_settles_it_is_named_not_the_strongest() -> None:
    """Reading again comes before a better caliper, though that would lessen the bound more."""
    decision = decide(made_of(0.0, reading=0.02, caliper=0.02), LIMIT)
    assert decision.remedy.startswith("Read each place")
    assert by_name(decision)["caliper"].settles


def test_two_together_when_none_settles_it_alone() -> None:
    """Two rows of 0.025 deg, U 0.0707: both known twice as well give 0.0354; one alone, at best, 0.051."""
    decision = decide(made_of(0.0, gap=0.025, caliper=0.025), LIMIT)
    together = decision.remedies[-1]
    assert together.name == "together"
    assert together.settles
    assert decision.remedy == together.sentence
    assert not any(one.settles for one in decision.remedies[:-1])
    assert together.bound_after_rad <= LIMIT


def test_when_nothing_settles_it_the_farthest_is_told_and_what_then() -> None:
    """An error near the limit: how far the best gets, the bound it would take, and to move, as that betters it."""
    error = made_of(0.055, gap=0.02)
    decision = decide(error, LIMIT)
    assert decision.moves
    assert decision.remedy.startswith("Move the fence although nothing that can be had here settles it")
    assert "What gets farthest: read the gap 5 times as well" in decision.remedy
    assert "It would take a bound of 0.0050 deg" in decision.remedy
    on_it = decide(made_of(0.05, gap=0.02), LIMIT)
    assert on_it.remedy.endswith("The error lies on the limit itself, so that no bound is narrow enough.")


def test_with_an_error_below_its_bound_and_nothing_to_better_the_fence_stays() -> None:
    """A row that no remedy knows: leave it, measure in another way; no move is sure to better it."""
    decision = decide(made_of(0.0, mapping=0.04), LIMIT)
    assert not decision.moves
    assert decision.remedies == ()
    assert decision.remedy.startswith("Leave the fence as it is")
    assert decision.remedy.endswith("measure in another way and compare.")


def test_without_a_tolerance_a_remedy_settles_it_once_nothing_that_shows_can_hide() -> None:
    """U 0.08 deg, error 0.01: leave once U <= 0.05 deg, twice as well known does it; told well, no remedy."""
    decision = decide(made_of(0.01, gap=0.04))
    assert decision.value == "cannot-tell"
    assert "read the gap twice as well" in decision.remedy.lower()
    assert decision.remedies[0].settles
    assert decide(made_of(0.01, gap=0.01)).remedies == ()
    assert "It would take a bound of 0.050 deg" in decide(made_of(0.01, gap=0.4)).remedy


def test_a_square_held_longer_helps_where_no_piece_was_cut() -> None:
    """A gap beside a square: no piece, so no more of them; farther from where the edges touch it turns less."""
    care = ReadingCare()
    lever = typed_distance(560.0, "lever", care)
    found = correct_direct(
        typed_gap(0.1, care),
        typed_distance(200.0, "over", care),
        "far",
        typed_gauge(ReadingCare(gauge_to_rad=0.0)),
        Jig(lever, "left", math.radians(0.03)),
    )
    names = set(by_name(found.decision))
    assert "pieces" not in names
    assert "longer edge" in names


@pytest.mark.parametrize("value", [0.0, 0.03, 0.049, 0.051, 0.07, 0.3])
def test_no_remedy_widens_the_bound(value: float) -> None:
    """Each one told lessens it, and those that settle it do so by the decision's own rule."""
    error = made_of(value, reading=0.02, broken_tips=0.02, corner=0.015, edge_form=0.01, caliper=0.01)
    for one in advise(error, lambda after: decide(after, LIMIT).value != "cannot-tell").remedies:
        assert one.bound_after_rad < error.expanded_uncertainty
        size = abs(error.value)
        inside, outside = size + one.bound_after_rad <= LIMIT, size - one.bound_after_rad > LIMIT
        assert one.settles == (inside or outside)


def test_the_kept_side_comes_first_even_when_it_settles_nothing() -> None:
    """Half of the corner goes for nothing: that is said before anything is measured again, and the fence is left."""
    parts = {
        Influence("corner/either leg", "corner"): math.radians(0.02),
        Influence("edge points/photo 0", "edge points"): math.radians(0.04),
        Influence("print 0/photo 0", "print stretch"): math.radians(0.04),
    }
    advice = advise(Quantity(math.radians(0.05), "rad", parts), never)
    assert advice.first is not None
    assert (advice.first.name, advice.first.settles) == ("say the kept side", False)
    assert "together" not in {one.name for one in advice.remedies}
    error = Quantity(math.radians(0.12), "rad", parts)
    assert not decide(error, math.radians(0.02)).moves
