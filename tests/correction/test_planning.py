"""The plan promises what the correction will say, and nothing smaller would do."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest

from cutvision.correction import (
    CutSpread,
    Jig,
    ReadingCare,
    correct_miter_from_legs,
    correct_square_from_widths,
    typed_corner,
    typed_distance,
    typed_legs,
    typed_widths,
)
from cutvision.correction.lever_check import leaf_steps
from cutvision.correction.piece_fit import Window
from cutvision.correction.piece_safety import LEAST_LEG_MM, LEAST_SIDE_MM, PlanKind, safe_holding
from cutvision.correction.planning import (
    ALL_TOOLS,
    GOALS,
    ONE_PHOTO_RAD,
    STEP_MM,
    TAPER_PHOTO_RAD,
    TESTS,
    TURNED_PHOTOS_RAD,
    PieceTest,
    PlanQuestion,
    _sizes,
    chain_for,
    frame_sides,
    keeps,
    make_plan,
    try_test,
)
from cutvision.errors import InputError

README = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
BY_NAME = {test.name: test for test in TESTS}
A3, A4 = Window("a3", 320.0, 200.0), Window("a4", 190.0, 120.0)
DEG = math.radians(1.0)


def question(kind: PlanKind = "miter", tolerance_deg: float = 0.1, **more: object) -> PlanQuestion:
    """A plan's question with stock 19 mm thick and every tool, changed by `more`."""
    plain = PlanQuestion(
        kind, tolerance_deg * DEG, 380.0, ALL_TOOLS, safe_holding(kind, 19.0), 19.0, kept="left", windows=(A4, A3)
    )
    return replace(plain, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("test", TESTS, ids=lambda test: test.name)
def test_a_larger_piece_never_tells_less(test: PieceTest) -> None:
    """From 100 to 300 mm, by steps of 50, the bound falls (the roughness and the readings weigh less)."""
    asked = question(test.kind)
    bounds = [try_test(asked, test, size).bound_rad for size in (100.0, 150.0, 200.0, 250.0, 300.0)]
    assert bounds == sorted(bounds, reverse=True)
    assert bounds[0] > bounds[-1]


@pytest.mark.parametrize("test", TESTS, ids=lambda test: test.name)
def test_more_pieces_never_tell_less(test: PieceTest) -> None:
    """The mean of more pieces, cut at one setting, has the smaller bound."""
    asked = question(test.kind)
    bounds = [try_test(asked, test, 250.0, pieces=pieces).bound_rad for pieces in range(1, 6)]
    assert bounds == sorted(bounds, reverse=True)
    assert bounds[0] > bounds[-1]


def test_the_bound_of_legs_is_what_the_correction_says() -> None:
    """One piece of 120 mm and the mean of three are given to the miter's own method, as a person would."""
    asked = question(nominal_rad=math.radians(45.0))
    for pieces in (1, 3):
        care = ReadingCare(pieces=pieces)
        left, right = typed_legs(120.0, 120.0, care)
        spread = CutSpread(math.atan(0.1 / 450), "runner play", pieces=pieces)
        jig = Jig(typed_distance(380.0, "lever", care), "left", 0.1 * DEG, spread)
        said = correct_miter_from_legs(left, right, typed_corner(math.pi / 2, care), jig, edge_form=care.edge_form)
        planned = try_test(asked, BY_NAME["legs"], 120.0, pieces=pieces)
        assert planned.bound_rad == pytest.approx(said.angle_error.expanded_uncertainty, rel=1e-9)


def test_the_bound_of_a_strip_is_what_the_correction_says() -> None:
    """A board of 300 mm: the strip sawn off fifth, read 5 mm in from its ends, given to the method of squaring."""
    care = ReadingCare()
    at, far = typed_widths(20.0, 20.0, care)
    jig = Jig(typed_distance(380.0, "lever", care), "left", None, CutSpread(math.atan(0.1 / 450), "runner play"))
    said = correct_square_from_widths(at, far, typed_distance(290.0, "between", care), jig)
    planned = try_test(question("square"), BY_NAME["strip"], 300.0)
    assert planned.bound_rad == pytest.approx(said.angle_error.expanded_uncertainty, rel=1e-9)


@pytest.mark.parametrize(
    ("kind", "tolerance_deg", "tools"),
    [
        ("miter", 0.1, ("caliper",)),
        ("miter", 0.05, ("photo",)),
        ("miter", 0.02, ("leaves",)),
        ("square", 0.05, ("caliper",)),
        ("square", 0.02, ("photo",)),
        ("square", 0.02, ("leaves",)),
    ],
)
def test_the_advised_piece_keeps_to_its_goal_and_a_smaller_one_does_not(
    kind: PlanKind, tolerance_deg: float, tools: tuple[str, ...]
) -> None:
    """The advised piece has U within its part of the tolerance through the method; one step smaller misses it."""
    asked = question(kind, tolerance_deg, tools=tools)
    plan = make_plan(asked).chosen
    trial = plan.trial
    assert trial is not None
    assert plan.goal in GOALS
    again = try_test(asked, trial.test, trial.size_mm, trial.readings, trial.pieces)
    assert again.bound_rad == trial.bound_rad <= plan.goal * asked.tolerance_rad
    if trial.size_mm > asked.holding.piece_mm:
        smaller = try_test(asked, trial.test, trial.size_mm - STEP_MM, trial.readings, trial.pieces)
        assert not keeps(smaller, asked.tolerance_rad, plan.goal)
    else:
        assert trial.size_mm == asked.holding.piece_mm


def test_a_finer_tolerance_never_takes_a_smaller_effort() -> None:
    """By caliper on a square fence, from 0.1 to 0.01 deg, cuts x size of the strip never fall."""
    efforts = []
    for tolerance_deg in (0.1, 0.05, 0.03, 0.02, 0.015, 0.01):
        tests = make_plan(question("square", tolerance_deg, tools=("caliper",))).tests
        strip = next(one for one in tests if one.test.name == "strip")
        assert strip.trial is not None
        efforts.append((strip.goal, strip.trial.pieces, strip.trial.size_mm))
    assert efforts == sorted(efforts)


def test_what_the_piece_shows_at_the_tolerance() -> None:
    """Closed form: legs 100 mm at 45 deg and 0.1 deg differ by 100 (tan 45.1 deg - 1); a strip tapers by four turns."""
    legs = try_test(question(), BY_NAME["legs"], 100.0)
    assert legs.shows_mm == pytest.approx(100 * (math.tan(math.radians(45.1)) - 1), abs=1e-9)
    strip = try_test(question("square"), BY_NAME["strip"], 300.0)
    assert strip.shows_mm == pytest.approx(290 * math.tan(0.4 * DEG), abs=1e-9)
    board = try_test(question("square"), BY_NAME["board"], 300.0)
    assert board.shows_mm == pytest.approx(290 * math.tan(0.2 * DEG), abs=1e-9)
    frame = try_test(question(), BY_NAME["frame"], 60.0)
    # eight cuts of 0.1 deg over a face of 84.852814 mm open the last joint by 1.1847592 mm (closed form)
    assert frame.shows_mm == pytest.approx(1.1847592, abs=1e-6)


def test_what_the_instrument_tells() -> None:
    """Two readings within 0.03 mm differ with u = 0.03 sqrt(2/3); U = 2 u for a strip, tips on top for legs."""
    reading = 2 * 0.03 * math.sqrt(2 / 3)
    strip = try_test(question("square"), BY_NAME["strip"], 300.0)
    assert strip.tells_mm == pytest.approx(reading, abs=1e-9)
    legs = try_test(question(care=ReadingCare(tips_mm=0.0)), BY_NAME["legs"], 100.0)
    assert legs.tells_mm == pytest.approx(reading, abs=1e-9)
    assert try_test(question(), BY_NAME["legs"], 100.0).tells_mm > legs.tells_mm


def test_a_better_instrument_asks_for_a_smaller_piece() -> None:
    """With a saw that cuts alike each time, readings to 0.2 mm need a longer strip than readings to 0.01 mm."""
    sizes = []
    for read_to in (0.01, 0.2):
        alike, care = CutSpread(0.0, "none"), ReadingCare(read_to_mm=read_to)
        asked = question("square", 0.02, tools=("caliper",), care=care, cut_spread=alike)
        strip = next(one for one in make_plan(asked).tests if one.test.name == "strip")
        assert strip.trial is not None
        sizes.append((strip.trial.pieces, strip.trial.size_mm))
    assert sizes[0] < sizes[1]


def test_readings_repeated_scatter_as_one_is_said_to() -> None:
    """Three readings of 100 mm scatter with s = 0.03 / sqrt 3, so that their mean has u = 0.01 (closed form)."""
    from cutvision.correction.planning import _read

    readings = _read(100.0, 3, ReadingCare())
    assert isinstance(readings, list)
    mean = sum(readings) / 3
    assert mean == pytest.approx(100.0)
    assert math.sqrt(sum((r - mean) ** 2 for r in readings) / 2) == pytest.approx(0.03 / math.sqrt(3))


def test_two_photos_need_a_sheet_on_which_the_piece_can_be_turned() -> None:
    """Every advised size for two photos fits a sheet both ways; a longer one would not."""
    asked = question(tolerance_deg=0.05, tools=("photo",))
    two = next(one for one in make_plan(asked).tests if one.test.name == "two photos")
    assert two.trial is not None
    assert any(fit.flat and fit.turned for fit in two.trial.papers)
    assert two.best.size_mm * math.sqrt(2) <= A3.height_mm - 2 * (5 + 19 / 4)
    only_a4 = make_plan(replace(asked, windows=(A4,)))
    assert all(one.best.size_mm * math.sqrt(2) <= A4.width_mm for one in only_a4.tests)


def test_photo_figures_are_those_of_the_readme() -> None:
    """The bounds taken for photos are the medians of the accuracy table, the larger of all and of phone-like ones."""
    row = re.compile(r"^\| ([^|]+) \| [^|]+ \| [^|]+ \| [^|]+ \| ([0-9.]+) / ([0-9.]+) deg \|", re.MULTILINE)
    rows = {what: max(float(every), float(phone)) for what, every, phone in row.findall(README)}
    turned = rows["tapers of strips, and angles from photos of a turned piece"]
    assert math.degrees(TURNED_PHOTOS_RAD) == pytest.approx(turned)
    assert math.degrees(TAPER_PHOTO_RAD) == pytest.approx(turned)
    assert math.degrees(ONE_PHOTO_RAD) == pytest.approx(rows["angles from one photo, print not read"])


def test_another_miter_has_unequal_legs_and_needs_the_kept_side() -> None:
    """22.5 deg: the end leg is tan 67.5 deg times the fence leg; 60 deg: the fence leg is longer; mirror: the same."""
    for nominal, ratio in ((22.5, math.tan(math.radians(67.5))), (60.0, math.tan(math.radians(60.0)))):
        asked = question(nominal_rad=math.radians(nominal))
        trial = try_test(asked, BY_NAME["legs"], 80.0)
        assert trial.other_mm == pytest.approx(80.0 * ratio)
        mirrored = try_test(replace(asked, kept="right"), BY_NAME["legs"], 80.0)
        assert mirrored.bound_rad == pytest.approx(trial.bound_rad, rel=1e-9)
    with pytest.raises(InputError, match="which leg lay at the fence"):
        make_plan(question(nominal_rad=math.radians(22.5), kept=None))


def test_a_frame_closes_with_a_whole_count_of_sides_only() -> None:
    """180 deg / N for N from 3 to 24 (closed form); a miter between has no frame and is planned without it."""
    assert [frame_sides(math.radians(180 / n)) for n in (3, 4, 8, 24)] == [3, 4, 8, 24]
    assert frame_sides(math.radians(40.0)) is None
    asked = question(nominal_rad=math.radians(40.0))
    assert "frame" not in [one.test.name for one in make_plan(asked).tests]
    with pytest.raises(InputError, match="No closed frame"):
        try_test(asked, BY_NAME["frame"], 60.0)
    with pytest.raises(InputError, match="No kind of test"):
        make_plan(replace(asked, tools=("leaves",)))


@pytest.mark.parametrize("value", [0.0, -0.1, math.nan, math.inf])
def test_a_tolerance_that_is_no_positive_angle_is_refused(value: float) -> None:
    """Zero, negative, NaN and infinite tolerances are refused in words."""
    with pytest.raises(InputError, match="more than zero"):
        make_plan(question(tolerance_deg=value))


@pytest.mark.parametrize(
    ("kind", "tools", "tolerance_deg", "fence", "would"),
    [
        ("miter", ("caliper",), 0.02, None, "If the fence is a V"),
        ("miter", ("caliper",), 0.012, "single", "Use leaves"),
        ("miter", ("leaves",), 0.004, None, "alve the spread"),
        ("square", ("caliper", "photo"), 0.005, None, "Halve the spread of the cut"),
        ("square", ("leaves",), 0.0004, None, "Ask for less"),
    ],
)
def test_a_tolerance_finer_than_anything_at_hand_says_what_would_do(
    kind: PlanKind, tools: tuple[str, ...], tolerance_deg: float, fence: str | None, would: str
) -> None:
    """The refusal names the best at hand, its largest doubt, and the change that was tried and found to do."""
    with pytest.raises(InputError, match="finer than anything at hand") as refused:
        make_plan(question(kind, tolerance_deg, tools=tools, fence=fence))
    assert would in refused.value.remedy
    assert refused.value.at_the_saw


def test_what_is_said_to_do_does() -> None:
    """After 'halve the spread of the cut' the same question has a plan."""
    asked = question("square", 0.005, tools=("caliper",))
    with pytest.raises(InputError, match="finer"):
        make_plan(asked)
    half = replace(asked.spread, standard_deviation_rad=asked.spread.standard_deviation_rad / 2)
    assert make_plan(replace(asked, cut_spread=half)).chosen.trial is not None


def test_a_piece_too_small_to_clamp_is_refused() -> None:
    """Legs of 40 mm, a board of 120 mm, a narrow stock: refused, with the cautions of the saw."""
    for asked, words in (
        (question(longest_mm=40.0), "legs of at most 40 mm"),
        (question(stock_width_mm=45.0), "stock 45 mm wide"),
        (question("square", longest_mm=120.0), "sides of at most 120 mm"),
    ):
        with pytest.raises(InputError, match=words) as refused:
            make_plan(asked)
        assert refused.value.at_the_saw


def test_the_stocks_width_bounds_the_end_leg() -> None:
    """From stock 80 mm wide no triangle has an end leg over 78 mm: the cut must not run past the tip."""
    plan = make_plan(question(tolerance_deg=0.2, stock_width_mm=80.0, tools=("caliper",)))
    assert max(trial.size_mm for trial in plan.tests[0].table) <= 78.0


def test_least_sizes_can_be_raised_and_not_lowered() -> None:
    """Common practice, no source: 50 mm of leg, 250 mm of board; thick stock asks for more; 60 is taken, 40 is not."""
    assert safe_holding("miter", 19.0).piece_mm == LEAST_LEG_MM
    assert safe_holding("miter", 38.0).piece_mm == 80.0
    assert safe_holding("square", 19.0).piece_mm == LEAST_SIDE_MM
    assert safe_holding("square", 30.0).strip_mm == 30.0
    assert (safe_holding("miter", 19.0, 60.0).piece_mm, safe_holding("miter", 19.0, 60.0).raised) == (60.0, True)
    for least in (40.0, math.nan):
        with pytest.raises(InputError, match="below 50 mm"):
            safe_holding("miter", 19.0, least)
    for thickness in (1.0, 80.0, math.nan):
        with pytest.raises(InputError, match="thick makes no test piece"):
            safe_holding("miter", thickness)


def test_no_sheet_has_room() -> None:
    """With photos alone and legs of at least 250 mm there is nothing to plan."""
    asked = question(tools=("photo",), holding=safe_holding("miter", 19.0, 250.0), longest_mm=300.0)
    with pytest.raises(InputError, match="No sheet has room"):
        make_plan(asked)


def test_leaves_at_the_lever() -> None:
    """Closed form: 0.05 mm at 380 mm turns by atan(0.05/380) = 0.0075389 deg, 0.0015 in by 0.0057447 deg."""
    metric, inch = leaf_steps(380.0, 0.007 * DEG)
    assert math.degrees(metric.angle_rad) == pytest.approx(0.0075389, abs=5e-8)
    assert math.degrees(inch.angle_rad) == pytest.approx(0.0057447, abs=5e-8)
    assert (metric.suffices, inch.suffices) == (False, True)
    longer = leaf_steps(metric.lever_needed_mm * 1.0001, 0.007 * DEG)
    assert longer[0].suffices
    assert leaf_steps(380.0, 0.05 * DEG, held_at_point=True)[0].angle_rad == pytest.approx(math.atan(0.1 / 380))
    for lever in (0.0, 20.0, math.nan, math.inf):
        with pytest.raises(InputError, match="too short"):
            leaf_steps(lever, 0.05 * DEG)


def test_a_piece_of_each_arm_tells_a_v_without_the_corner() -> None:
    """For a V the corner cancels in the mean of both arms: the bound is below one arm's; a single fence has none."""
    v_fence = question(fence="v-foot", kept=None)
    names = [one.test.name for one in make_plan(v_fence).tests]
    assert {"arms", "arms photos"} <= set(names)
    for held in ("single", None):
        assert "arms" not in [one.test.name for one in make_plan(question(fence=held)).tests]
    arms, legs = (try_test(v_fence, BY_NAME[name], 150.0) for name in ("arms", "legs"))
    assert arms.bound_rad < legs.bound_rad
    looser = replace(v_fence, care=ReadingCare(corner_to_rad=0.2 * DEG))
    assert try_test(looser, BY_NAME["arms"], 150.0).bound_rad == pytest.approx(arms.bound_rad, rel=1e-6)
    assert try_test(looser, BY_NAME["legs"], 150.0).bound_rad > 2 * legs.bound_rad


def test_a_single_fence_has_no_vs_angle() -> None:
    """The chain of a single miter fence has one kind of joint and no V in it."""
    chain = chain_for(make_plan(question(fence="single")), 100.0, {})
    assert [joint.kind for joint in chain.joints] == ["one arm"]
    assert "V's own angle" not in [share.link.name for share in chain.joints[0].shares]


def test_the_chain_takes_the_plan() -> None:
    """A single fence set by legs carries half of the corner; by a photo with the kept side known it does not."""
    legs = make_plan(question(tools=("caliper",)))
    photo = make_plan(question(tools=("photo",)))
    for plan, counts in ((legs, True), (photo, False)):
        chain = chain_for(plan, 100.0, {})
        one_arm = next(joint for joint in chain.joints if joint.kind == "one arm")
        corner = next(share for share in one_arm.shares if share.link.name == "blank's corner")
        assert (corner.squares_mm > 0) == counts
    assert chain_for(legs, None, {}).joint_width_mm == pytest.approx(60 * math.sqrt(2))


@pytest.mark.parametrize(
    ("name", "kind", "stock", "largest"),
    [
        ("strip", "square", 400.0, 400.0),
        ("strip", "square", 700.0, 500.0),
        ("frame", "miter", 150.0, 150.0),
        ("legs", "miter", 152.0, 150.0),
        ("legs", "miter", 700.0, 200.0),
    ],
)
def test_the_stock_limits_what_may_be_cut(name: str, kind: PlanKind, stock: float, largest: float) -> None:
    """A board or a joint is as wide as the stock; a triangle of 45 deg stays 2 mm below; else the usual limit holds."""
    sizes = _sizes(question(kind, stock_width_mm=stock), BY_NAME[name])
    assert sizes[-1] == largest
    assert sizes[0] == safe_holding(kind, 19.0).piece_mm


def test_a_least_size_that_is_the_usual_one_is_not_called_raised() -> None:
    """Saying what holds anyway changes nothing; only more than that is the person's own."""
    usual = safe_holding("miter", 19.0)
    assert safe_holding("miter", 19.0, usual.piece_mm) == usual
    assert not usual.raised
    assert safe_holding("miter", 19.0, usual.piece_mm + 5).raised
