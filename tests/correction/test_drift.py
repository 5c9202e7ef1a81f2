"""Drift of a fence from dated errors: fit against outside values, verdict, coverage of the bound, next check."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from cutvision.correction.drift import (
    DAYS_A_YEAR,
    FIRST_WAIT_DAYS,
    LONGEST_WAIT_DAYS,
    MOST_RUNS,
    DatedError,
    find_drift,
    weighted_fit,
)

START = date(2025, 1, 1)
U = 1e-4  # rad
SERIES = 400
# Binomial, three standard deviations below 95.45 % of 400 series: a false alarm once in some 700.
COVERED = 0.9545 - 3 * math.sqrt(0.9545 * 0.0455 / SERIES)


def on(day: int, error: float, stretch: int = 0, u: float = U) -> DatedError:
    """An error on a day after the start."""
    return DatedError(START + timedelta(days=day), error, u, stretch)


def simulated(
    rng: np.random.Generator,
    count: int,
    rate: float,
    span: int,
    *,
    stretches: int = 1,
    season: float = 0,
) -> list[DatedError]:
    """Runs on random days of a fence that drifts, is moved between stretches, and swings."""
    days = np.sort(rng.integers(0, span, count))
    which = np.sort(rng.integers(0, stretches, count))
    levels = rng.normal(0, 20 * U, stretches)
    swing = season * np.cos(2 * math.pi * days / DAYS_A_YEAR)
    errors = rate * days + levels[which] + swing + rng.normal(0, U, count)
    return [on(int(day), float(error), int(stretch)) for day, error, stretch in zip(days, errors, which, strict=True)]


@pytest.mark.parametrize(
    ("y", "u", "a", "b", "covariance", "chi_square"),
    [
        ((3.3, 5.6, 7.1, 9.3, 10.7, 12.1), (0.5,) * 6, (1.866667, 0.4654747), (1.757143, 0.1195229), -0.050, 1.665),
        (
            (3.2, 4.3, 7.6, 8.6, 11.7, 12.8),
            (0.5, 0.5, 0.5, 1.0, 1.0, 1.0),
            (0.8852, 0.5297081),
            (2.0570, 0.1778920),
            -0.08227848,
            4.131,
        ),
    ],
)
def test_the_weighted_line_is_that_of_the_standard(
    y: tuple[float, ...],
    u: tuple[float, ...],
    a: tuple[float, float],
    b: tuple[float, float],
    covariance: float,
    chi_square: float,
) -> None:
    """ISO/TS 28037:2010, clause 6, both examples, to the digits given (read in the test data of the package GTC)."""
    fit = weighted_fit(np.column_stack([np.ones(6), np.arange(1.0, 7.0)]), np.array(y), np.array(u))
    assert fit.values == pytest.approx((a[0], b[0]), abs=5e-5)
    assert np.sqrt(np.diag(fit.covariance)) == pytest.approx((a[1], b[1]), abs=5e-7)
    assert fit.covariance[0, 1] == pytest.approx(covariance, abs=5e-8)
    assert fit.chi_square == pytest.approx(chi_square, abs=5e-4)
    assert fit.degrees_of_freedom == 4


def test_a_fit_needs_weights_and_columns() -> None:
    """No uncertainty, none that is finite, fewer runs than values and a column twice are refused."""
    ones, values = np.ones((3, 1)), np.zeros(3)
    for u in ([0.0, 1, 1], [math.inf, 1, 1], [math.nan, 1, 1]):
        with pytest.raises(ValueError, match="positive"):
            weighted_fit(ones, values, np.array(u))
    for columns in (np.ones((3, 2)), np.zeros((3, 1)), np.eye(3, 4)):
        with pytest.raises(ValueError, match="settle"):
            weighted_fit(columns, values, np.ones(3))


def test_the_birge_ratio_widens_only() -> None:
    """0, 0, 3 with u = 1: chi-square 6 over 2, ratio sqrt 3, past 5.99, so t = 4.3027 (closed form)."""
    fit = weighted_fit(np.ones((3, 1)), np.array([0.0, 0.0, 3.0]), np.ones(3))
    assert fit.chi_square == pytest.approx(6.0)
    assert fit.birge_ratio == pytest.approx(math.sqrt(3))
    assert fit.bounds(np.ones((1, 1)))[0] == pytest.approx(4.302653 * math.sqrt(3) / math.sqrt(3), rel=1e-6)
    calm = weighted_fit(np.ones((3, 1)), np.array([0.0, 0.0, 0.3]), np.ones(3))
    assert (calm.birge_ratio, calm.coverage_factor) == (1.0, 2.0)
    alone = weighted_fit(np.ones((1, 1)), np.array([1.0]), np.ones(1))
    assert (alone.birge_ratio, alone.explained) == (1.0, True)


def test_an_exact_drift_is_found() -> None:
    """Errors on a line give that rate and its level today, whatever was set between stretches (closed form)."""
    runs = [on(day, 1e-5 * day + 7 * U * (day >= 40), int(day >= 40)) for day in (0, 20, 30, 40, 70, 100)]
    found = find_drift(runs)
    assert found.verdict == "drifts"
    assert found.rate_rad == pytest.approx(1e-5, rel=1e-9)
    assert found.now_rad == pytest.approx(1e-3 + 7 * U, rel=1e-9)
    assert found.could_be_season
    assert found.last == START + timedelta(days=100)
    assert found.chance < 0.001


def test_mirror_and_scale() -> None:
    """Mirrored errors mirror the drift; ten times all, ten times it; the order of the runs is irrelevant."""
    runs = simulated(np.random.default_rng(5), 12, 3e-6, 200, stretches=2)
    plain, again = find_drift(runs), find_drift(runs[::-1])
    mirrored = find_drift([replace(run, error_rad=-run.error_rad) for run in runs])
    larger = find_drift([replace(run, error_rad=10 * run.error_rad, standard_uncertainty_rad=10 * U) for run in runs])
    assert again == plain
    assert plain.rate_rad is not None
    assert plain.bound_rad is not None
    assert mirrored.rate_rad == pytest.approx(-plain.rate_rad, rel=1e-9)
    assert mirrored.bound_rad == pytest.approx(plain.bound_rad, rel=1e-9)
    assert larger.rate_rad == pytest.approx(10 * plain.rate_rad, rel=1e-9)
    assert (mirrored.verdict, larger.verdict) == (plain.verdict, plain.verdict)


@pytest.mark.parametrize(
    ("count", "span", "stretches", "season"), [(5, 120, 1, 0.0), (12, 200, 3, 0.0), (16, 600, 2, 3e-4)]
)
def test_the_bound_of_the_drift_holds(count: int, span: int, stretches: int, season: float) -> None:
    """Over 400 series the true rate lies inside its bound as often as stated, with moves between and a yearly swing."""
    rng, rate, held, told = np.random.default_rng(11), 2e-6, 0, 0
    for _ in range(SERIES):
        found = find_drift(simulated(rng, count, rate, span, stretches=stretches, season=season))
        if found.rate_rad is not None and found.bound_rad is not None and (found.season is not None or not season):
            told += 1
            held += abs(found.rate_rad - rate) <= found.bound_rad
    assert told > 0.9 * SERIES
    assert held / told >= COVERED


def test_a_fence_that_stands_still_is_seldom_suspected() -> None:
    """Of 400 such series no more than one in eight is called moving: two tests at one in twenty each."""
    rng = np.random.default_rng(3)
    verdicts = Counter(find_drift(simulated(rng, 8, 0.0, 200)).verdict for _ in range(SERIES))
    assert verdicts["steady"] >= 0.875 * SERIES
    assert verdicts["drifts"] <= 0.07 * SERIES


def test_a_fence_that_jumps_wanders() -> None:
    """Scatter far beyond the bounds without a direction is told as such, and widens the rate's bound."""
    errors = (0.0, 9 * U, -8 * U, 7 * U, -9 * U, 1 * U)
    found = find_drift([on(20 * n, error) for n, error in enumerate(errors)])
    calm = find_drift([on(20 * n, error / 20) for n, error in enumerate(errors)])
    assert (found.verdict, calm.verdict) == ("wanders", "steady")
    assert found.bound_rad is not None
    assert calm.bound_rad is not None
    assert found.bound_rad > 5 * calm.bound_rad
    assert (found.chance < 0.05, calm.chance > 0.05) == (True, True)


def test_a_season_is_seen_after_a_year() -> None:
    """A yearly swing is found with its size and the day of its top, once the runs span most of a year."""
    rng = np.random.default_rng(7)
    runs = simulated(rng, 20, 0.0, 700, season=5e-4)
    season = find_drift(runs).season
    assert season is not None
    assert season.amplitude_rad == pytest.approx(5e-4, abs=2 * season.bound_rad)
    assert min(season.day_of_year - 1, 366 - season.day_of_year) < 20  # the cosine's top lies on the first of January
    assert find_drift([run for run in runs if (run.day - START).days < 250]).season is None
    calm = find_drift(simulated(rng, 20, 0.0, 700))
    assert calm.season is None
    twice = [on(day, float(day % 2) * U) for day in (0, 1, 400, 401, 402, 403, 404, 405)]
    assert find_drift(twice).season is None


def test_a_season_that_the_days_cannot_tell_is_not_looked_for() -> None:
    """Runs on two days a year apart settle no swing."""
    assert find_drift([on(day, 0.0) for day in (0, 0, 0, 0, 365, 365, 365)]).season is None


def test_a_swing_is_not_told_from_five_runs_or_from_many_moves() -> None:
    """However plain a swing is: six runs at least, and more of them than levels, rate and swing have values.

    Level, rate, cosine and sine are four values; with four stretches of the fence seven runs leave none to spare.
    """

    def swinging(days: tuple[int, ...], stretches: int = 1) -> list[DatedError]:
        return [on(d, 50 * U * math.cos(2 * math.pi * d / DAYS_A_YEAR), n % stretches) for n, d in enumerate(days)]

    seven = (0, 60, 120, 180, 240, 300, 366)
    assert find_drift(swinging(seven)).season is not None
    assert find_drift(swinging((0, 90, 180, 270, 366))).season is None
    assert find_drift(swinging(seven, 4)).season is None


def test_few_runs_tell_no_drift() -> None:
    """One run, two runs, and runs that each follow a move: no rate, and a check within a month."""
    for runs in ([on(0, 0.0)], [on(0, 0.0), on(9, U)], [on(n, U * n, n) for n in range(6)], [on(3, 0.0)] * 4):
        found = find_drift(runs)
        assert (found.verdict, found.rate_rad, found.chance <= 1.0) == ("too few", None, True)
        assert (found.check_on - found.last).days == FIRST_WAIT_DAYS
        assert found.now_bound_rad == 2 * U
    with pytest.raises(ValueError, match="no error"):
        find_drift([])


def test_when_to_check_again() -> None:
    """Two per day of 1e-5 rad from 0 today, u nearly nothing: a tolerance of 1e-3 rad is reached after 100 days."""
    tiny = 1e-9
    runs = [on(day, 1e-5 * (day - 100), u=tiny) for day in (0, 50, 100)]
    assert (find_drift(runs, 1e-3 - 1e-7).check_on - find_drift(runs).last).days == 100
    assert find_drift(runs, 1e-3 - 1e-7).why == "tolerance"
    assert find_drift(runs, tiny / 10).why == "outside"
    still = find_drift([on(day, 0.0, u=tiny) for day in (0, 50, 100)], 1e-3)
    assert (still.why, (still.check_on - still.last).days) == ("half a year", LONGEST_WAIT_DAYS)
    assert find_drift([on(0, 5 * U)], 6 * U).why == "outside"
    assert find_drift([on(0, 5 * U)], 6 * U).check_on == START
    within = find_drift([on(0, 5 * U)], 8 * U)
    assert (within.why, (within.check_on - START).days) == ("unknown", FIRST_WAIT_DAYS)


def test_the_error_of_today_is_no_better_than_the_best_run() -> None:
    """A hundred runs share a caliper, so their mean is not told to a tenth of the doubt of one."""
    assert find_drift([on(day, 0.0) for day in range(100)]).now_bound_rad == pytest.approx(2 * U)


def test_old_runs_are_left_aside() -> None:
    """Of more runs than the newest 400 the older say nothing of today's drift."""
    old = [on(day, 1e-3 * day) for day in range(50)]
    new = [on(100 + day, 0.0) for day in range(MOST_RUNS)]
    assert find_drift(old + new) == find_drift(new)
