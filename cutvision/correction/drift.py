"""Whether a fence moves by itself: dated errors with their bounds to a drift, a season, a verdict and the next check.

Every run is taken as independent. What runs share (one caliper, one square) does not scatter, so that the bounds here
are rather too wide than too narrow; only the error of today is not averaged below the best single run.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

import numpy as np

from cutvision.uncertainty.distributions import chi_square_above, f_above, student_quantile

CHANCE = 0.05
DAYS_A_YEAR = 365.25
# A swing that comes back every year is told from a drift once a year was seen nearly whole.
SEASON_SPAN_DAYS = 300
FEWEST_FOR_SEASON = 6
# Wood follows the air within a season: no check is left out for longer than half a year (common practice, no source).
LONGEST_WAIT_DAYS = 182
# Until a drift is known (common practice, no source).
FIRST_WAIT_DAYS = 30
# Older runs tell of an older fence; so many are reckoned in an instant.
MOST_RUNS = 400
RANK_TOLERANCE = 1e-9  # of a column's own length: what is left of it beside the others

Verdict = Literal["too few", "steady", "drifts", "wanders"]


@dataclass(frozen=True, slots=True)
class DatedError:
    """The fence's error on a day. stretch: the number of moves set before it; errors of one stretch are comparable."""

    day: date
    error_rad: float
    standard_uncertainty_rad: float
    stretch: int = 0


@dataclass(frozen=True, slots=True)
class WeightedFit:
    """values: (P,) with covariance (P, P). chi_square: weighted sum of squared residuals. degrees_of_freedom: N - P."""

    values: tuple[float, ...]
    covariance: np.ndarray
    chi_square: float
    degrees_of_freedom: int

    @property
    def explained(self) -> bool:
        """Whether the residuals are no larger than the uncertainties explain, at 95 %."""
        if self.degrees_of_freedom == 0:
            return True
        return chi_square_above(self.degrees_of_freedom, self.chi_square) >= CHANCE

    @property
    def birge_ratio(self) -> float:
        """sqrt(chi-square / degrees of freedom), never below 1: by so much the stated uncertainties are too small.

        Source: R. T. Birge, Phys. Rev. 40 (1932) 207, widening only.
        """
        return max(1.0, math.sqrt(self.chi_square / self.degrees_of_freedom)) if self.degrees_of_freedom else 1.0

    @property
    def coverage_factor(self) -> float:
        """For 95 %: 2 while the stated uncertainties explain the scatter, else Student's t."""
        if self.explained:
            return 2.0
        return student_quantile(self.degrees_of_freedom, 1 - CHANCE / 2)

    def bounds(self, rows: np.ndarray) -> np.ndarray:
        """(N,) expanded uncertainties of the combinations `rows` (N, P) of the values."""
        variances = np.einsum("np,pq,nq->n", rows, self.covariance, rows)
        bounds: np.ndarray = self.coverage_factor * self.birge_ratio * np.sqrt(np.maximum(variances, 0.0))
        return bounds


def weighted_fit(columns: np.ndarray, values: np.ndarray, uncertainties: np.ndarray) -> WeightedFit:
    """Least squares with weights 1/u^2. columns: (N, P); values and standard uncertainties: (N,).

    Source: ISO/TS 28037:2010, clause 6 (weighted least squares), for any linear model.
    Raises ValueError for an uncertainty that is not positive and for columns that do not settle every value.
    """
    if not (np.isfinite(uncertainties).all() and (uncertainties > 0).all()):
        raise ValueError("a weight needs a positive, finite uncertainty")
    scaled = columns / uncertainties[:, None]
    # columns of days and of ones differ a hundredfold: brought to one size the normal matrix stays well conditioned
    size = np.linalg.norm(scaled, axis=0)
    if not (size > 0).all() or len(values) < columns.shape[1]:
        raise ValueError("the columns do not settle every value")
    q, r = np.linalg.qr(scaled / size)
    if np.abs(np.diag(r)).min() < RANK_TOLERANCE:
        raise ValueError("the columns do not settle every value")
    root = np.linalg.inv(r) / size[:, None]
    fitted = root @ (q.T @ (values / uncertainties))
    residuals = (values - columns @ fitted) / uncertainties
    free = len(values) - columns.shape[1]
    return WeightedFit(tuple(float(v) for v in fitted), root @ root.T, float(residuals @ residuals), free)


@dataclass(frozen=True, slots=True)
class Season:
    """A yearly swing: half of its whole range, its bound, and the day of the year of its counterclockwise end."""

    amplitude_rad: float
    bound_rad: float
    day_of_year: int


@dataclass(frozen=True, slots=True)
class Drift:
    """What a series of dated errors tells.

    rate_rad, bound_rad: drift a day, counterclockwise positive, and its expanded uncertainty; None for too few runs.
    chi_square, degrees_of_freedom: of "it does not move between the moves that were set". season: None unless a yearly
    swing is seen. could_be_season: a drift is seen, over too short a time to tell it from one.
    now_rad, now_bound_rad: the error on the last day. check_on: the day on which to measure again, and why.
    """

    verdict: Verdict
    last: date
    now_rad: float
    now_bound_rad: float
    check_on: date
    why: Literal["outside", "tolerance", "half a year", "unknown"]
    rate_rad: float | None = None
    bound_rad: float | None = None
    chi_square: float = 0.0
    degrees_of_freedom: int = 0
    season: Season | None = None
    could_be_season: bool = False

    @property
    def chance(self) -> float:
        """Of seeing at least so much scatter in a fence that stands still."""
        return chi_square_above(self.degrees_of_freedom, self.chi_square) if self.degrees_of_freedom else 1.0


def find_drift(errors: Sequence[DatedError], tolerance_rad: float | None = None) -> Drift:
    """The drift of a fence from its newest 400 runs, in any order; each stretch between two moves may stand anywhere.

    The verdict is "drifts" when the rate differs from nothing by more than its bound, else "wanders" when the runs
    scatter more than their bounds explain (chi-square, 95 %), else "steady"; "too few" when no stretch has two days, or
    when all but two runs stand alone. tolerance_rad: without it the next check follows from the time alone.
    Raises ValueError for no errors at all.
    """
    if not errors:
        raise ValueError("no error, no drift")
    runs = sorted(errors, key=lambda one: (one.stretch, one.day))[-MOST_RUNS:]
    last = max(one.day for one in runs)
    days = np.array([(one.day - last).days for one in runs], dtype=float)
    values = np.array([one.error_rad for one in runs])
    u = np.array([one.standard_uncertainty_rad for one in runs])
    stretches = sorted({one.stretch for one in runs})
    levels = np.array([[one.stretch == stretch for stretch in stretches] for one in runs], dtype=float)
    still = weighted_fit(levels, values, u)
    newest = runs[-1]
    moved = any(len({one.day for one in runs if one.stretch == stretch}) > 1 for stretch in stretches)
    if still.degrees_of_freedom < 2 or not moved:
        now = newest.error_rad, 2 * newest.standard_uncertainty_rad
        return Drift("too few", last, *now, *_first_check(last, *now, tolerance_rad))

    line = weighted_fit(np.column_stack([days, levels]), values, u)
    model, swing = _season(days, levels, values, u, line)
    rate, rate_bound = model.values[0], float(model.bounds(np.eye(1, len(model.values)))[0])
    best_single = min(one.standard_uncertainty_rad for one in runs if one.stretch == newest.stretch)
    forecast = _Forecast(model, len(stretches), best_single)
    now_rad, now_bound = (float(value[0]) for value in forecast.ahead(np.zeros(1)))
    if abs(rate) > rate_bound:
        verdict: Verdict = "drifts"
    else:
        verdict = "steady" if still.explained else "wanders"
    check_on, why = _next_check(forecast, last, tolerance_rad)
    return Drift(
        verdict,
        last,
        now_rad,
        now_bound,
        check_on,
        why,
        rate,
        rate_bound,
        still.chi_square,
        still.degrees_of_freedom,
        None if swing is None else _swing(swing, last),
        could_be_season=verdict == "drifts" and swing is None and float(np.ptp(days)) < SEASON_SPAN_DAYS,
    )


@dataclass(frozen=True, slots=True)
class _Forecast:
    """What the fit says of days ahead. Its values: the rate, a level each stretch, perhaps a swing."""

    model: WeightedFit
    stretches: int
    best_single_rad: float

    def ahead(self, days: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The errors so many days (N,) after the last run, and their bounds, never below the best single run's."""
        rows = np.zeros((len(days), len(self.model.values)))
        rows[:, 0], rows[:, self.stretches] = days, 1.0
        if rows.shape[1] > self.stretches + 1:
            phase = 2 * np.pi * days / DAYS_A_YEAR
            rows[:, -2], rows[:, -1] = np.cos(phase), np.sin(phase)
        bounds = self.model.bounds(rows)
        return rows @ np.array(self.model.values), np.maximum(bounds, 2 * self.best_single_rad)


def _season(
    days: np.ndarray, levels: np.ndarray, values: np.ndarray, u: np.ndarray, line: WeightedFit
) -> tuple[WeightedFit, WeightedFit | None]:
    """The fit with a yearly swing (its last two values, cosine and sine from the last day) where one is seen.

    Seen when it takes more from chi-square than chance would (F test of two more values, 95 %; never against residuals
    smaller than the bounds say).
    """
    if float(np.ptp(days)) < SEASON_SPAN_DAYS or line.degrees_of_freedom - 2 < 1 or len(days) < FEWEST_FOR_SEASON:
        return line, None
    phase = 2 * np.pi * days / DAYS_A_YEAR
    try:
        swung = weighted_fit(np.column_stack([days, levels, np.cos(phase), np.sin(phase)]), values, u)
    except ValueError:
        return line, None
    gain = (line.chi_square - swung.chi_square) / 2 / swung.birge_ratio**2
    chance = chi_square_above(2, 2 * gain) if swung.explained else f_above(2, swung.degrees_of_freedom, gain)
    return (swung, swung) if chance < CHANCE else (line, None)


def _swing(model: WeightedFit, last: date) -> Season:
    cosine, sine = model.values[-2:]
    amplitude = math.hypot(cosine, sine)
    row = np.zeros((1, len(model.values)))
    row[0, -2:] = cosine / amplitude, sine / amplitude
    ahead = math.atan2(sine, cosine) / (2 * math.pi) * DAYS_A_YEAR
    return Season(amplitude, float(model.bounds(row)[0]), (last + timedelta(days=round(ahead))).timetuple().tm_yday)


def _first_check(
    last: date, now_rad: float, now_bound_rad: float, tolerance_rad: float | None
) -> tuple[date, Literal["outside", "unknown"]]:
    if tolerance_rad is not None and abs(now_rad) + now_bound_rad > tolerance_rad:
        return last, "outside"
    return last + timedelta(days=FIRST_WAIT_DAYS), "unknown"


def _next_check(
    forecast: _Forecast, last: date, tolerance_rad: float | None
) -> tuple[date, Literal["outside", "tolerance", "half a year"]]:
    """The first day on which the predicted error may lie past the tolerance, its bound included."""
    longest = last + timedelta(days=LONGEST_WAIT_DAYS)
    if tolerance_rad is None:
        return longest, "half a year"
    errors, bounds = forecast.ahead(np.arange(LONGEST_WAIT_DAYS + 1.0))
    past = np.flatnonzero(np.abs(errors) + bounds > tolerance_rad)
    if not past.size:
        return longest, "half a year"
    return last + timedelta(days=int(past[0])), "tolerance" if past[0] else "outside"
