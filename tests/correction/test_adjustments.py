"""A run of cuts and moves: the gain against a fence built to answer so, the way of the last move, and when to stop."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import special, stats

from cutvision.correction import (
    Correction,
    CutSpread,
    Jig,
    ReadingCare,
    correct_miter_from_legs,
    correct_square_from_taper,
    typed_corner,
    typed_distance,
    typed_legs,
)
from cutvision.correction.adjustments import (
    Adjustments,
    Cut,
    Move,
    MoveSet,
    Step,
    as_answered,
    check_cut,
    judge_run,
    judge_runs,
    more_pieces,
    move_made,
    shown_by_cut,
    shown_by_run,
)
from cutvision.correction.fence_move import Turn
from cutvision.errors import InputError
from cutvision.uncertainty import Influence, Quantity, covariance, propagate

DEG = math.radians(1.0)
LEVER_MM = 380.0
FLOAT = 1e-9
LEVER = typed_distance(LEVER_MM, "lever", ReadingCare(distance_to_mm=0.0))


def cut(value_deg: float, bound_deg: float = 0.02, number: int = 1, common_deg: float = 0.0) -> Cut:
    """A test cut in degrees."""
    return shown_by_cut(value_deg * DEG, bound_deg * DEG, number, common_rad=common_deg * DEG)


def move(distance_mm: float, turn: Turn = "clockwise", number: int = 1, to_mm: float = 0.0) -> Move:
    """A move at the lever."""
    return move_made(distance_mm, turn, LEVER, number, to_mm=to_mm)


def asked_mm(angle_deg: float) -> float:
    """How far a move goes that asks for this angle (closed form)."""
    return LEVER_MM * math.tan(angle_deg * DEG)


def run_of(*steps: Step, tolerance_deg: float | None = None) -> Adjustments:
    """The run judged, with its next move at the same lever."""
    return judge_run(steps, LEVER, None if tolerance_deg is None else tolerance_deg * DEG)


def test_one_move_tells_the_gain_only_as_well_as_its_two_cuts() -> None:
    """Gain 0.24/0.25 with u = sqrt(2) u(cut) / 0.25 (closed form)."""
    run = run_of(cut(0.3), move(asked_mm(0.25)), cut(0.06, number=2))
    assert run.gain is not None
    assert run.gain.quantity.value == pytest.approx(0.24 / 0.25, rel=FLOAT)
    assert run.gain.quantity.standard_uncertainty == pytest.approx(math.sqrt(2) * 0.01 / 0.25, rel=FLOAT)
    assert (run.gain.behaviour, run.gain.probability) == ("as asked", None)
    assert run.gain_used.value == 1.0


def test_the_gain_of_two_moves_is_the_least_squares_slope() -> None:
    """Three cuts on a straight line of error against turn asked: slope, and its u, of an ordinary line (closed form).

    With equal independent cuts the line with a free start is what the changes' covariance comes to.
    """
    errors, moves = (0.30, 0.17, 0.08), (0.15, 0.10)
    run = run_of(
        cut(errors[0]),
        move(asked_mm(moves[0])),
        cut(errors[1], number=2),
        move(asked_mm(moves[1]), number=2),
        cut(errors[2], number=3),
    )
    line = stats.linregress([0.0, -0.15, -0.25], errors)
    assert run.gain is not None
    told = run.gain.quantity
    spread = math.sqrt(sum((x + 0.4 / 3) ** 2 for x in (0.0, -0.15, -0.25)))
    assert told.value == pytest.approx(line.slope, rel=1e-6)
    parts = sum(c * c for i, c in told.components.items() if i.name == "measuring the cuts")
    assert math.sqrt(parts) == pytest.approx(0.01 / spread, rel=1e-6)


def test_what_all_cuts_share_cancels_in_the_gain() -> None:
    """A piece's corner that is wrong in every cut alike takes no part in the changes (closed form)."""
    alone = run_of(cut(0.3), move(asked_mm(0.25)), cut(0.08, number=2))
    both = math.hypot(0.02, 0.05)
    shared = run_of(cut(0.3, both, 1, 0.05), move(asked_mm(0.25)), cut(0.08, both, 2, 0.05))
    assert alone.gain is not None
    assert shared.gain is not None
    assert shared.gain.quantity.standard_uncertainty == pytest.approx(
        alone.gain.quantity.standard_uncertainty, rel=FLOAT
    )


def test_a_fence_that_answers_four_fifths_is_moved_by_so_much_more() -> None:
    """Model fence of gain 0.8: the advised move, applied to it, leaves nothing (closed form)."""
    errors = [0.5]
    for asked in (0.2, 0.2):
        errors.append(errors[-1] - 0.8 * asked)
    run = run_of(
        cut(errors[0]),
        move(asked_mm(0.2)),
        cut(errors[1], number=2),
        move(asked_mm(0.2), number=2),
        cut(errors[2], number=3),
    )
    assert run.gain is not None
    assert (run.gain.behaviour, run.action) == ("less", "move")
    assert run.next_move is not None
    turned_deg = 0.8 * math.degrees(math.atan(run.next_move.distance.value / LEVER_MM))
    assert errors[-1] - turned_deg == pytest.approx(0.0, abs=1e-9)
    assert run.next_move.turn == "clockwise"
    assert run.next_move.distance.standard_uncertainty > LEVER_MM * 0.01 * DEG / 0.8


def test_a_gain_above_one_is_told_as_more() -> None:
    """A fence that goes half as far again, beyond the bound."""
    run = run_of(cut(0.5), move(asked_mm(0.2)), cut(0.2, number=2))
    assert run.gain is not None
    assert run.gain.behaviour == "more"
    assert run.gain_used.value == pytest.approx(1.5, rel=FLOAT)


@pytest.mark.parametrize("gain", [0.8, 1.0, 1.3])
def test_the_gains_bound_holds_the_truth_in_95_of_100_runs(gain: float) -> None:
    """400 seeded runs of four cuts and three moves: the share held lies in the 99.9 % band of a binomial of 0.95."""
    random = np.random.default_rng(20 + round(10 * gain))
    held = 0
    runs = 400
    for _ in range(runs):
        error = random.uniform(0.3, 0.6)
        steps: list[Step] = []
        for number in range(1, 5):
            steps.append(cut(error + random.normal(0.0, 0.01), number=number))
            if number < 4:
                angle = random.uniform(0.08, 0.2)
                steps.append(move(asked_mm(angle), number=number, to_mm=0.02))
                slip_mm = random.uniform(-0.02, 0.02)
                error -= gain * math.degrees(math.atan((asked_mm(angle) + slip_mm) / LEVER_MM))
        told = run_of(*steps).gain
        assert told is not None
        held += abs(told.quantity.value - gain) <= told.quantity.expanded_uncertainty
    # a scatter beyond the bounds widens the bound (Birge), so that more than 95 % may be held
    assert stats.binom.ppf(0.0005, runs, 0.95) <= held <= runs


def test_a_move_made_away_from_true_is_found() -> None:
    """Twice as bad after a move the fence followed: the wrong way, and the next move takes all of it back."""
    run = run_of(cut(0.3), move(asked_mm(0.3), "counterclockwise"), cut(0.6, number=2))
    assert run.last_move is not None
    assert (run.last_move.verdict, round(run.last_move.times, 6)) == ("wrong way", 2.0)
    assert run.last_move.opposite < 1e-6
    assert run.next_move is not None
    assert (run.next_move.turn, run.next_move.undo) == ("clockwise", ())
    assert run.next_move.distance.value == pytest.approx(asked_mm(0.6), rel=FLOAT)


def test_a_move_set_the_wrong_way_is_taken_back_before_the_right_one() -> None:
    """Asked clockwise and twice as bad: undo that, then as much as was right at first, clockwise seen from above.

    Whatever the person calls clockwise, undoing and going on the other way ends true: 0.3 - 0.3 of 0.6 (closed form).
    """
    last = move(asked_mm(0.3))
    run = run_of(cut(0.3), last, cut(0.6, number=2))
    assert run.last_move is not None
    assert run.last_move.verdict == "wrong way"
    assert run.last_move.opposite > 0.999
    assert run.next_move is not None
    assert (run.next_move.turn, run.next_move.undo) == ("clockwise", (last,))
    assert run.next_move.distance.value == pytest.approx(asked_mm(0.3), rel=1e-6)
    assert run.gain is not None
    assert run.gain.quantity.value == pytest.approx(1.0, rel=FLOAT)


def test_all_that_was_set_since_the_cut_before_is_taken_back() -> None:
    """Two moves between two cuts, both the wrong way: both are undone, in the order in which they were set."""
    moves = (move(asked_mm(0.1)), move(asked_mm(0.2), number=2))
    run = run_of(cut(0.3), *moves, cut(0.6, number=2))
    assert run.next_move is not None
    assert run.next_move.undo == moves


def test_a_wrong_move_that_crossed_true_is_not_taken_back() -> None:
    """0.1 deg clockwise, asked clockwise by mistake, turned counterclockwise past true: only the rest is moved."""
    run = run_of(cut(-0.1), move(asked_mm(0.3)), cut(0.2, number=2))
    assert run.next_move is not None
    assert (run.next_move.turn, run.next_move.undo) == ("clockwise", ())
    assert run.next_move.distance.value == pytest.approx(asked_mm(0.2), rel=1e-6)


def test_a_slip_after_a_right_move_is_taken_back() -> None:
    """A move that went against its words after one that did not: undo it, then the move that was meant."""
    run = run_of(
        cut(0.5),
        move(asked_mm(0.2)),
        cut(0.3, number=2),
        move(asked_mm(0.3), number=2),
        cut(0.6, number=3),
    )
    assert run.next_move is not None
    assert (run.next_move.turn, len(run.next_move.undo)) == ("clockwise", 1)
    assert run.next_move.distance.value == pytest.approx(asked_mm(0.3), rel=1e-6)


def shown(left_mm: float, right_mm: float = 101.35) -> Correction:
    """What two legs show of a fence for 45 deg with the work kept on the left."""
    care = ReadingCare()
    left, right = typed_legs(left_mm, right_mm, care)
    return correct_miter_from_legs(left, right, typed_corner(math.pi / 2, care), Jig(LEVER, "left", 0.02 * DEG))


def test_a_check_cut_knows_of_the_move_that_it_checks() -> None:
    """Half of what was set came through: the next move allows for it, and is twice what the second cut alone says."""
    before, after = shown(103.35), shown(102.35)
    set_mm = before.fence_move.value
    run = check_cut(before, [MoveSet(set_mm, "counterclockwise")], after)
    assert run.gain is not None
    gain = run.gain.quantity
    asked_rad = math.atan(set_mm / LEVER_MM)
    assert gain.value == pytest.approx((after.angle_error.value - before.angle_error.value) / asked_rad, rel=1e-9)
    assert run.gain.behaviour == "less"
    assert run.next_move is not None
    assert run.next_move.distance.value == pytest.approx(after.fence_move.value / gain.value, rel=1e-3)
    moved_too_far = shown(99.35)
    run = check_cut(before, [MoveSet(set_mm, "counterclockwise")], moved_too_far)
    assert run.gain is not None
    assert run.gain.behaviour == "more"
    assert run.next_move is not None
    assert run.next_move.distance.value < moved_too_far.fence_move.value
    answered = as_answered(moved_too_far, run)
    assert answered.fence_move == run.next_move.distance
    assert answered.plan is not None
    assert answered.plan.pushes[0].distance.value == run.next_move.distance.value
    assert answered.turn == moved_too_far.turn == run.next_move.turn


def test_a_record_of_two_runs_and_its_check_cut_give_one_advice() -> None:
    """The same function serves both: the same error, gain, action and next move."""
    before, after, moves = shown(103.35), shown(102.0), [MoveSet(3.0, "counterclockwise")]
    checked = check_cut(before, moves, after)
    recorded = judge_runs([shown_by_run(before, moves), shown_by_run(after)], 0.02 * DEG, "0.02 deg")
    assert (checked.error, checked.gain, checked.action, checked.next_move) == (
        recorded.error,
        recorded.gain,
        recorded.action,
        recorded.next_move,
    )


def test_only_runs_beside_moves_count() -> None:
    """Between a run long before a move and the one just before it the wood may have moved."""
    runs = [shown_by_run(shown(left)) for left in (104.0, 103.0)]
    runs += [shown_by_run(shown(103.35), [MoveSet(3.0, "counterclockwise")]), shown_by_run(shown(102.0))]
    assert len(judge_runs(runs).steps) == 3
    with pytest.raises(InputError, match="does not start with a test cut"):
        judge_runs([])


def test_a_check_cut_needs_the_kept_side() -> None:
    """Of a square cut without it, it is not known which way the fence turned."""
    square = correct_square_from_taper(Quantity(0.004, "rad"), Jig(LEVER))
    with pytest.raises(InputError, match="side of the blade"):
        check_cut(square, [MoveSet(1.0, "clockwise")], square)


def test_whether_a_small_move_went_the_right_way_cannot_be_told() -> None:
    """A change of half its bound: neither way is sure; the chance is that of both having one sign (closed form)."""
    run = run_of(cut(0.3), move(asked_mm(0.01)), cut(0.29, number=2))
    assert run.last_move is not None
    assert run.last_move.verdict == "cannot-tell"
    # the error before is surely positive, so that only the change's sign is in doubt
    assert run.last_move.probability_wrong == pytest.approx(stats.norm.sf(0.01 / (math.sqrt(2) * 0.01)), abs=1e-4)


@pytest.mark.parametrize(
    ("steps", "tolerance_deg"),
    [
        ((cut(0.3), move(1.5), cut(0.08, number=2)), None),
        ((cut(0.3), move(1.5), cut(0.35, number=2)), 0.05),
        ((cut(0.02), cut(0.03, number=2)), 0.05),
        ((cut(0.3), move(1.5)), None),
    ],
)
def test_mirroring_the_run_mirrors_the_answer(steps: tuple[Step, ...], tolerance_deg: float | None) -> None:
    """Errors and turns reversed: the same action, gain and distance; the turn and the error change their sign."""
    other: dict[Turn, Turn] = {"clockwise": "counterclockwise", "counterclockwise": "clockwise"}
    mirrored = [
        Cut(-step.error) if isinstance(step, Cut) else Move(step.distance, step.lever, other[step.turn])
        for step in steps
    ]
    one, two = run_of(*steps, tolerance_deg=tolerance_deg), run_of(*mirrored, tolerance_deg=tolerance_deg)
    assert (one.action, one.pieces) == (two.action, two.pieces)
    assert one.error.value == pytest.approx(-two.error.value, rel=FLOAT)
    if one.gain is not None and two.gain is not None:
        assert one.gain.quantity.value == pytest.approx(two.gain.quantity.value, rel=FLOAT)
    if one.last_move is not None and two.last_move is not None:
        assert one.last_move.verdict == two.last_move.verdict
        assert one.last_move.probability_wrong == pytest.approx(two.last_move.probability_wrong, abs=1e-6)
    assert (one.next_move is None) == (two.next_move is None)
    if one.next_move is not None and two.next_move is not None:
        assert one.next_move.turn == other[two.next_move.turn]
        assert one.next_move.distance.value == pytest.approx(two.next_move.distance.value, rel=FLOAT)


def test_two_cuts_at_one_setting_are_one_setting() -> None:
    """The mean of both, with u / sqrt(2) (JCGM 100:2008, 4.2.3)."""
    run = run_of(cut(0.30), cut(0.32, number=2))
    assert run.cuts == 2
    assert math.degrees(run.error.value) == pytest.approx(0.31, rel=FLOAT)
    assert math.degrees(run.error.standard_uncertainty) == pytest.approx(0.01 / math.sqrt(2), rel=FLOAT)


@pytest.mark.parametrize(
    ("steps", "tolerance_deg", "action", "pieces"),
    [
        ((cut(0.01, 0.019),), None, "stop", None),
        ((cut(0.03, 0.019),), 0.05, "stop", None),
        ((cut(0.3),), 0.05, "move", None),
        ((cut(0.05, 0.02),), 0.05, "stop", None),
        # U 0.1 must come to 0.05: four pieces, three more
        ((cut(0.03, 0.10),), 0.05, "cut-more", 3),
        # or below the error of 0.06: three pieces
        ((cut(0.06, 0.10),), 0.05, "cut-more", 2),
        # without a tolerance the default of 0.0191 deg: 0.038 takes four pieces
        ((cut(0.0, 0.038),), None, "cut-more", 3),
        ((cut(0.04, 0.038),), None, "move", None),
        ((cut(0.01, 0.10, 1, 0.09),), 0.05, "cut-more", None),
        ((cut(0.3), move(1.5)), None, "cut-first", None),
    ],
)
def test_what_to_do_next(steps: tuple[Step, ...], tolerance_deg: float | None, action: str, pieces: int | None) -> None:
    """The rule of `decide`; the pieces by the root of their number."""
    run = run_of(*steps, tolerance_deg=tolerance_deg)
    assert (run.action, run.pieces) == (action, pieces)
    assert (run.next_move is not None) == (action == "move")


def test_so_many_more_pieces_do_tell() -> None:
    """Cuts added as advised, at the same error, are in tolerance after that, and not one piece sooner."""
    first = run_of(cut(0.03, 0.12), tolerance_deg=0.05)
    assert first.pieces is not None
    for count, action in ((first.pieces, "stop"), (first.pieces - 1, "cut-more")):
        cuts = [cut(0.03, 0.12, number) for number in range(1, count + 2)]
        assert run_of(*cuts, tolerance_deg=0.05).action == action


def test_more_pieces_than_twenty_are_not_advised() -> None:
    """Where only dozens of pieces would tell, none are asked for."""
    assert more_pieces(cut(0.01, 0.25).error, 1, 0.05 * DEG) is None


def test_a_fence_known_to_go_too_far_is_moved_by_less() -> None:
    """Two moves in turn that throw the error from side to side, by a gain of 1.95: the next allows for it."""
    run = run_of(
        cut(0.060),
        move(asked_mm(0.06)),
        cut(-0.055, number=2),
        move(asked_mm(0.055), "counterclockwise", 2),
        cut(0.058, number=3),
        tolerance_deg=0.02,
    )
    assert run.gain is not None
    assert (run.gain.behaviour, run.action) == ("more", "move")
    assert run.next_move is not None
    assert run.next_move.distance.value == pytest.approx(asked_mm(0.058 / run.gain.quantity.value), rel=1e-4)


def test_a_stall_ends_in_more_cuts() -> None:
    """Two small moves that change nothing beyond the bounds, the error still outside the tolerance."""
    run = run_of(
        cut(0.060),
        move(asked_mm(0.02)),
        cut(0.062, number=2),
        move(asked_mm(0.02), number=2),
        cut(0.061, number=3),
        tolerance_deg=0.02,
    )
    assert (run.action, run.pieces) == ("cut-more", 2)


def test_moves_that_scatter_beyond_their_bounds_are_called_uneven() -> None:
    """Answers of 1.5 and 0.5 to like moves: the chance of that is small (chi-square), and the bound grows by Birge."""
    steps = (
        cut(0.60, 0.01),
        move(asked_mm(0.2)),
        cut(0.30, 0.01, 2),
        move(asked_mm(0.2), number=2),
        cut(0.20, 0.01, 3),
    )
    run = run_of(*steps)
    assert run.gain is not None
    assert run.gain.behaviour == "uneven"
    assert run.gain.probability is not None
    assert run.gain.probability < 0.05
    assert any(influence.name == "move to move" for influence in run.gain.quantity.components)


def test_the_expected_cut_after_a_move() -> None:
    """Without a cut after it, the last move's own turn is taken off, its doubt added (closed form)."""
    run = run_of(cut(0.3), move(asked_mm(0.25)))
    assert run.gain is None
    assert run.last_move is None
    assert math.degrees(run.error.value) == pytest.approx(0.05, rel=1e-6)


def test_a_move_expected_from_a_fence_that_goes_against_the_words() -> None:
    """After one move that turned it the other way, the next is expected to do so too."""
    run = run_of(cut(0.3), move(asked_mm(0.3)), cut(0.6, number=2), move(asked_mm(0.6), "counterclockwise", 2))
    assert math.degrees(run.error.value) == pytest.approx(0.0, abs=1e-6)


def test_to_and_fro_between_two_cuts_tells_no_gain() -> None:
    """Moves that cancel ask for nothing, so that nothing is told of the answer."""
    run = run_of(cut(0.3), move(1.0), move(1.0, "counterclockwise", 2), cut(0.3, number=2))
    assert run.gain is None
    assert run.last_move is not None
    assert run.last_move.opposite == 0.5


def test_an_exactly_true_fence_needs_no_move() -> None:
    """An error of nothing is left alone."""
    run = run_of(cut(0.0, 0.019))
    assert (run.action, run.next_move) == ("stop", None)


def test_the_spread_of_the_cut_is_each_cuts_own() -> None:
    """s = 0.03 deg beside u = 0.01 deg in one cut; over four cuts at one setting both fall by half (closed form)."""
    spread = CutSpread(0.03 * DEG, "as you said")
    cuts = [shown_by_cut(0.1 * DEG, 0.02 * DEG, number, spread=spread) for number in range(1, 5)]
    assert math.degrees(run_of(*cuts).error.standard_uncertainty) == pytest.approx(
        math.hypot(0.03, 0.01) / 2, rel=FLOAT
    )
    few = CutSpread(0.03 * DEG, "three pieces", 2)
    (influence,) = (
        i for i in shown_by_cut(0.0, 0.02 * DEG, 1, spread=few).error.components if i.name != "measuring the cuts"
    )
    assert (influence.kind, influence.degrees_of_freedom) == ("A", 2)


def test_exact_cuts_are_judged_too() -> None:
    """Without any doubt the chances are nought, one half or one, and nothing is divided by zero."""
    for after, wrong in ((0.1, 0.0), (0.5, 1.0), (0.3, 0.5)):
        shared = Influence("shared by all cuts", "shared by all cuts")
        exact = [Cut(Quantity(value * DEG, "rad", {shared: 1e-4 * DEG})) for value in (0.3, after)]
        run = run_of(exact[0], move(asked_mm(0.2)), exact[1])
        assert (run.action, run.gain) == ("move", None)
        assert run.last_move is not None
        assert run.last_move.probability_wrong == pytest.approx(wrong)


def test_a_long_run_is_judged_as_a_short_one() -> None:
    """The gain over 150 moves is generalized least squares with the whole covariance (Aitken, 1936), by its formula."""
    lever = typed_distance(LEVER_MM, "lever", ReadingCare())
    steps: list[Step] = []
    for number in range(151):
        error = 0.3 * (-1) ** number + 0.01 * math.sin(number)
        turn: Turn = "clockwise" if error > 0 else "counterclockwise"
        steps += [
            cut(error, 0.02, number, 0.015),
            move_made(asked_mm(2 * abs(error)), turn, lever, number),
        ]
    run = judge_run(steps[:-1], LEVER)
    assert run.gain is not None
    gain = run.gain.quantity.value
    left = [propagate(0.0, "rad", ((one.seen, 1.0), (one.intended, -gain))) for one in run.answers]
    inverse = np.linalg.inv(covariance(left))
    asked, seen = (np.array([getattr(one, name).value for one in run.answers]) for name in ("intended", "seen"))
    assert gain == pytest.approx(asked @ inverse @ seen / (asked @ inverse @ asked), rel=1e-9)
    square = (seen - gain * asked) @ inverse @ (seen - gain * asked)
    assert run.gain.probability == pytest.approx(special.chdtrc(149, square), rel=1e-6)


def test_many_cuts_at_one_setting_are_combined_in_blocks() -> None:
    """250 cuts that share a part: their mean, with the shared part whole and the rest over the root of 250."""
    run = run_of(*(cut(0.1 + 0.001 * (number % 5 - 2), 0.05, number, 0.03) for number in range(250)))
    assert run.cuts == 250
    assert run.error.value == pytest.approx(0.1 * DEG, rel=1e-9)
    own, shared = math.sqrt(0.05**2 - 0.03**2) / 2, 0.03 / 2
    assert run.error.standard_uncertainty == pytest.approx(math.hypot(own / math.sqrt(250), shared) * DEG, rel=1e-9)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (run_of, "does not start with a test cut"),
        (lambda: run_of(move(1.0), cut(0.1)), "does not start with a test cut"),
        (lambda: cut(2.5), "2.50 deg off"),
        (lambda: cut(math.nan), "shows no error"),
        (lambda: cut(0.1, 0.0), "no bound"),
        (lambda: cut(0.1, math.inf), "no bound"),
        (lambda: cut(0.1, 0.02, 1, 0.03), "part that all cuts share"),
        (lambda: move(0.0), "distance of 0 mm"),
        (lambda: move(math.nan), "distance of nan mm"),
        (lambda: move(40.0), "6.0 deg"),
        (lambda: move_made(1.0, "clockwise", Quantity(-3.0, "mm"), 1), "lever of -3 mm"),
        (lambda: run_of(cut(0.1), tolerance_deg=0.0), "more than zero"),
    ],
)
def test_each_refusal(make: object, says: str) -> None:
    """What cannot be is refused in words, with what to do."""
    with pytest.raises(InputError, match=says) as refused:
        make()  # type: ignore[operator]
    assert refused.value.remedy


def test_a_move_made_the_wrong_way_is_no_stall() -> None:
    """The first move did nothing that could be told, the second surely turned away: the next move, not more cuts."""
    steps = [
        cut(0.12),
        move(asked_mm(0.02)),
        cut(0.10, number=2),
        move(asked_mm(0.2), "counterclockwise", number=2),
        cut(0.30, number=3),
    ]
    run = run_of(*steps, tolerance_deg=0.05)
    assert run.last_move is not None
    assert (run.last_move.verdict, run.action) == ("wrong way", "move")
    assert run.next_move is not None
    assert run.next_move.turn == "clockwise"
    idle = [*steps[:3], move(asked_mm(0.02), number=2), cut(0.11, number=3)]
    assert run_of(*idle, tolerance_deg=0.05).action == "cut-more"


def test_a_true_fence_that_was_moved_is_any_number_of_times_worse() -> None:
    """From no error at all there is no ratio; whether it was the wrong way cannot be told, as it had none."""
    run = run_of(cut(0.0), move(asked_mm(0.2)), cut(-0.2, number=2))
    assert run.last_move is not None
    assert run.last_move.times == math.inf
    assert run.last_move.probability_wrong == pytest.approx(0.5, abs=1e-3)


def test_an_error_without_doubt_is_judged_by_the_change_alone() -> None:
    """Exactly 0.3 deg before; after it 0.3 less or more 0.02 z: wrong by the normal share above it (closed form)."""
    exact = Cut(Quantity(0.3 * DEG, "rad"))
    for after, wrong in ((0.29, stats.norm.cdf(-1.0)), (0.31, stats.norm.cdf(1.0)), (0.1, 0.0)):
        run = run_of(exact, move(asked_mm(0.2)), cut(after, number=2))
        assert run.last_move is not None
        assert run.last_move.probability_wrong == pytest.approx(wrong, abs=1e-9)
