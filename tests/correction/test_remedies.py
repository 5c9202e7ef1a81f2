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
    """0.030 deg from one reading, tolerance 0.04, error 0: left once U <= 0.04, with n readings and t at n - 1.

    n = 4: t95(3) 3.182 x 0.03 / 2 = 0.0477; n = 5: 2.776 x 0.03 / sqrt 5 = 0.0372, the first below 0.04 (closed form).
    """
    decision = decide(made_of(0.0, reading=0.03), math.radians(0.04))
    assert decision.action == "cannot-tell"
    remedy = by_name(decision)["readings"]
    assert remedy.settles
    assert math.degrees(remedy.bound_after_rad) == pytest.approx(2.776 * 0.03 / math.sqrt(5), abs=5e-5)
    assert decision.remedy == remedy
    assert remedy.sentence == (
        "Read each place 5 times and use the mean: the uncertainty falls from ±0.060 to ±0.037 deg."
    )


def test_a_remedy_tells_also_when_the_error_then_exceeds_its_uncertainty() -> None:
    """U 0.08 over T 0.02, error 0.07: two pieces bring U to 0.0566, below the error (closed form)."""
    decision = decide(made_of(0.07, spread_of_the_cut=0.04), math.radians(0.02))
    assert decision.action == "cannot-tell"
    assert decision.remedy is not None
    assert decision.remedy.settles
    assert "use the mean of both" in decision.remedy.what
    assert math.degrees(decision.remedy.bound_after_rad) == pytest.approx(0.08 / math.sqrt(2))


def test_readings_taken_already_count() -> None:
    """Three readings with 0.02 deg, two degrees of freedom; two more make 5: 0.02 sqrt(3/5), t95(4) 2.776."""
    scatter = Influence("reading/left", "reading", "A", degrees_of_freedom=2)
    decision = decide(Quantity(0.0, "rad", {scatter: math.radians(0.02)}), math.radians(0.045))
    assert decision.remedy is not None
    assert decision.remedy.what.startswith("Read each place 5 times")
    expected = 2.776 * 0.02 * math.sqrt(3 / 5)
    assert math.degrees(decision.remedies[0].bound_after_rad) == pytest.approx(expected, abs=5e-5)


def test_the_step_of_a_display_stays_however_often_it_is_read() -> None:
    """What a display rounds away is not lessened by reading it again."""
    step = Influence("step/left leg", "resolution")
    error = Quantity(0.0, "rad", {step: 0.01, Influence("reading/left leg", "reading"): 0.01})
    readings = next(one for one in advise(error, never) if one.name == "readings")
    assert readings.bound_after_rad > 2 * 0.01


@pytest.mark.parametrize(
    ("total", "words"), [(2, "one more piece at this setting and use the mean of both"), (4, "mean of all 4")]
)
def test_so_many_more_pieces(total: int, words: str) -> None:
    """U = 0.04 deg of edge roughness and cut spread falls by sqrt(k): the first k with U <= tolerance is named."""
    error = made_of(0.0, edge_form=0.012, spread_of_the_cut=0.016)
    after = 0.04 / math.sqrt(total)
    remedy = by_name(decide(error, math.radians(after + 1e-6)))["pieces"]
    assert words in remedy.what
    assert math.degrees(remedy.bound_after_rad) == pytest.approx(after)


def test_pieces_measured_already_count() -> None:
    """After a mean of 4 pieces one more brings U down by sqrt(4/5)."""
    error = made_of(0.0, spread_of_the_cut=0.02)
    decision = decide(error, math.radians(0.04 * math.sqrt(4 / 5) + 1e-6), pieces=4)
    assert decision.remedy is not None
    assert decision.remedy.what == "Cut one more piece at this setting and use the mean of all 5"


def test_an_unknown_spread_is_told_with_more_pieces() -> None:
    """Pieces help only as far as the cut repeats; when that is not in the budget, the advice says so."""
    limit = math.radians(0.03)
    decision = decide(made_of(0.01, edge_form=0.02), limit)
    assert "how well it does is not known" in by_name(decision)["pieces"].sentence
    counted = decide(made_of(0.01, edge_form=0.02, spread_of_the_cut=0.001), limit)
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
        remedy = next(one for one in advise(error(1.0), never) if one.name == "longer edge")
        assert remedy.bound_after_rad == pytest.approx(error(3.0).expanded_uncertainty, rel=1e-6)


def test_a_turned_photo_takes_the_prints_stretch_away() -> None:
    """One photo: the stretch goes, what is the photo's own is divided by sqrt 2; the roughness of the edges stays."""
    parts = {
        Influence("print 1", "print stretch"): math.radians(0.03),
        Influence("edge points cut 0/photo 0", "edge points", "A", photo=0): math.radians(0.004),
        Influence("edge form", "edge form"): math.radians(0.006),
    }
    remedy = by_name(decide(Quantity(0.0, "rad", parts), LIMIT))["turned photo"]
    assert remedy.settles
    assert math.degrees(remedy.bound_after_rad) == pytest.approx(2 * math.hypot(0.004 / math.sqrt(2), 0.006))
    assert "turned a quarter turn on the same sheet" in remedy.sentence


def test_more_photos_than_one_are_asked_for_when_needed() -> None:
    """What scatters from photo to photo falls by sqrt(2/4) with two more: said so, and the piece moved between them."""
    parts = {
        Influence(f"edge points cut 0/photo {k}", "edge points", "A", photo=k): math.radians(0.02) for k in range(2)
    }
    limit = math.radians(2 * math.hypot(0.02, 0.02) * math.sqrt(1 / 2) + 1e-6)
    decision = decide(Quantity(0.0, "rad", parts), limit)
    assert decision.remedy is not None
    assert decision.remedy.what.startswith("Take 2 more photos, the piece turned and moved")


def test_photos_need_neither_tips_nor_jaws_nor_corner() -> None:
    """Of typed legs the roughness of the edges stays and the photos' own doubt comes in place of the rest."""
    error = made_of(0.0, broken_tips=0.03, reading=0.03, caliper=0.01, corner=0.02, edge_form=0.01)
    remedy = next(one for one in advise(error, never) if one.name == "photos")
    expected = 2 * math.hypot(0.01, math.degrees(TURNED_PHOTOS_RAD))
    assert math.degrees(remedy.bound_after_rad) == pytest.approx(expected)


def test_a_photo_without_the_kept_side_asks_for_it_and_advises_no_move() -> None:
    """An error far past the tolerance, and the corner out: both candidates stand there, no move, no plan."""
    angle = Quantity(math.radians(44.5), "rad", {Influence("print 0/photo 0", "print stretch"): 1e-5})
    corner = Quantity(math.radians(89.8), "rad")
    lever = typed_distance(380.0, "lever", ReadingCare())
    found = correct_miter_from_angles(angle, -angle - corner + math.pi, corner, Jig(lever, None, LIMIT))
    assert (found.decision.action, found.decision.moves, found.plan) == ("needs-kept", False, None)
    assert {one.kept for one in found.candidates} == {"left", "right"}
    assert found.decision.remedy is not None
    assert found.decision.remedy.name == "say the kept side"
    assert found.decision.remedy.bound_after_rad < found.decision.bound_rad / 100
    for kept in ("left", "right"):
        told = correct_miter_from_angles(angle, -angle - corner + math.pi, corner, Jig(lever, kept, LIMIT))  # type: ignore[arg-type]
        assert told.decision.action == "move"
        (candidate,) = (one for one in found.candidates if one.kept == kept)
        assert candidate.angle_error.value == told.angle_error.value


@pytest.mark.parametrize("row", ["corner", "closed joints", "distance between readings", "caliper", "gap", "mapping"])
def test_nobody_is_sent_to_measure_better_than_a_shop_can(row: str) -> None:
    """A corner, a caliper, a distance cannot be had so many times as good: no remedy is made of that."""
    decision = decide(Quantity(0.0, "rad", {Influence(row, row): math.radians(0.04)}), LIMIT)
    assert (decision.action, decision.remedies, decision.remedy) == ("cannot-tell", (), None)


def test_a_square_turned_over_shows_its_own_error() -> None:
    """Two pencil lines part by 0.1 mm over 300 mm at twice the error: half-width atan(0.1/300)/2, 0.0055 deg as u."""
    remedy = by_name(decide(made_of(0.0, **{"square's own angle": 0.04}), LIMIT))["square"]
    assert math.degrees(remedy.bound_after_rad) == pytest.approx(2 * 0.019099 / 2 / math.sqrt(3), abs=1e-5)
    assert "turn it over" in remedy.what
    assert "square" not in by_name(decide(made_of(0.0, gap=0.04, **{"square's own angle": 0.005}), LIMIT))


def test_the_cheapest_that_settles_it_is_named_not_the_strongest() -> None:
    """Reading again comes before another piece, though three more pieces would bring more."""
    decision = decide(made_of(0.0, reading=0.02, spread_of_the_cut=0.021), LIMIT)
    assert decision.remedy is not None
    assert decision.remedy.name == "readings"
    assert by_name(decision)["pieces"].settles


def test_when_nothing_settles_it_the_farthest_is_named() -> None:
    """Two rows of 0.1 deg: readings or pieces alone leave one of them; the one that narrows U more is named."""
    decision = decide(made_of(0.0, reading=0.1, spread_of_the_cut=0.12), LIMIT)
    assert not any(one.settles for one in decision.remedies)
    assert decision.remedy == min(decision.remedies, key=lambda one: one.bound_after_rad)


def test_a_square_held_longer_helps_where_no_piece_was_cut() -> None:
    """A gap beside a square: no piece, so no more of them; farther from where the edges touch it turns less."""
    care = ReadingCare()
    lever = typed_distance(560.0, "lever", care)
    found = correct_direct(
        typed_gap(0.02, care),
        typed_distance(200.0, "over", care),
        "far",
        typed_gauge(ReadingCare(gauge_to_rad=0.0)),
        Jig(lever, "left", math.radians(0.005)),
    )
    names = set(by_name(found.decision))
    assert "pieces" not in names
    assert "longer edge" in names


@pytest.mark.parametrize("value", [0.0, 0.03, 0.049, 0.051, 0.07])
def test_no_remedy_widens_the_uncertainty(value: float) -> None:
    """Each one lessens it, and those that settle it do so by the decision's own rule."""
    error = made_of(value, reading=0.02, broken_tips=0.02, corner=0.015, edge_form=0.01, caliper=0.03)
    decision = decide(error, LIMIT)
    assert decision.action == "cannot-tell"
    for one in decision.remedies:
        assert one.bound_after_rad < error.expanded_uncertainty
        assert one.settles == (one.bound_after_rad <= LIMIT or abs(error.value) > one.bound_after_rad)
