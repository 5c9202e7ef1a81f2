"""What a jig's runs tell of its fence over time: the runs that can be compared, the drift, and both in words."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal, TypedDict

from cutvision.correction.drift import DAYS_A_YEAR, DatedError, Drift, find_drift
from cutvision.errors import InputError
from cutvision.logbook.records import FenceState, MoveSet, Run
from cutvision.reports.cautions import cautions
from cutvision.reports.columns import bullets, wrap
from cutvision.reports.wording import chance_words
from cutvision.units import format_angle_with_bound

SCHEMA: Literal["cutvision/trend/1"] = "cutvision/trend/1"
DAYS_A_MONTH = DAYS_A_YEAR / 12
_POSITIVE = re.compile(r'"positive_means"\s*:\s*"([^"]*)"')
_FASTENED = "fastened"


@dataclass(frozen=True, slots=True)
class Point:
    """A run that stands in the trend; errors in degrees. stretch: the moves and fastenings before it, counted."""

    run: Run
    day: date
    error_deg: float
    bound_deg: float
    stretch: int

    @property
    def fastened(self) -> bool:
        return self.run.conditions.fence == _FASTENED


@dataclass(frozen=True, slots=True)
class Step:
    """What was done to the fence after a run: its words, such as "0.51 mm clockwise", and whether it was fastened."""

    day: date
    words: str
    fastened: bool


@dataclass(frozen=True, slots=True)
class Trend:
    """points: oldest first, at least one. steps: moves and fastenings. struck: runs struck out, with an error.

    left_out: runs that told no error, or one of another sign convention. tolerance_deg: of the newest run that had one.
    """

    points: tuple[Point, ...]
    steps: tuple[Step, ...]
    struck: tuple[Run, ...]
    left_out: int
    tolerance_deg: float | None
    drift: Drift
    counterclockwise: bool

    @property
    def moved_since(self) -> bool:
        """Whether the fence was moved or fastened after the newest run, so that its error is not known."""
        return self.points[-1].stretch < len(self.steps)


class TrendJson(TypedDict):
    """The object that `log trend --json` prints; angles in degrees, rates in degrees a month of 30.4 days."""

    schema: Literal["cutvision/trend/1"]
    verdict: str
    drift: float | None
    drift_expanded_uncertainty: float | None
    chi_square: float
    degrees_of_freedom: int
    chance: float
    error_now: float
    error_now_expanded_uncertainty: float
    tolerance: float | None
    check_on: str
    check_why: str
    season_amplitude: float | None
    season_expanded_uncertainty: float | None
    runs: list[int]
    left_out: int


def trend_of(runs: Sequence[Run]) -> Trend:
    """The trend of one jig's runs, in any order. Raises InputError when none of them tells the fence's error.

    A new stretch begins after every move or fastening, as the fence then stands anew.
    """
    ordered = sorted(runs, key=lambda run: (run.conditions.day, run.number))
    standing = [run for run in ordered if run.struck is None]
    telling = [run for run in standing if _tells(run)]
    if not telling:
        raise InputError(
            "None of these runs shows the fence's error, so there is no trend.",
            "Record runs that end in a correction: `correct`, or `measure` with --fence-length, with --jig NAME.",
        )
    meant = _positive(telling[-1])
    points: list[Point] = []
    steps: list[Step] = []
    before: FenceState | None = None
    for run, following in zip(standing, [*standing[1:], None], strict=True):
        day = run.conditions.day
        if before is not None and run.conditions.fence == _FASTENED != before:
            earlier = max((one.conditions.day for one in standing if one.conditions.day < day), default=day)
            steps.append(Step(earlier + (day - earlier) / 2, _FASTENED, fastened=True))
        if _tells(run) and _positive(run) == meant:
            error, bound = run.headline.error_deg, run.headline.bound_deg
            assert error is not None  # noqa: S101  `_tells` saw them
            assert bound is not None  # noqa: S101
            points.append(Point(run, day, error, bound, len(steps)))
        latest = None if following is None else following.conditions.day
        steps += [step for move in run.moves if (step := _step(move, day, latest)) is not None]
        held: list[FenceState | None] = [move.fence for move in run.moves if move.fence is not None]
        before = (held or [run.conditions.fence or before])[-1]
    tolerance = next((p.run.headline.tolerance_deg for p in reversed(points) if p.run.headline.tolerance_deg), None)
    drift = find_drift(
        [DatedError(p.day, math.radians(p.error_deg), math.radians(p.bound_deg) / 2, p.stretch) for p in points],
        None if tolerance is None else math.radians(tolerance),
    )
    return Trend(
        tuple(points),
        tuple(steps),
        tuple(run for run in ordered if run.struck is not None and _tells(run)),
        len(standing) - len(points),
        tolerance,
        drift,
        meant == "counterclockwise",
    )


def trend_words(trend: Trend) -> tuple[str, ...]:
    """The verdict, when to check again, and what stands beside them, in sentences, the advice first."""
    drift = trend.drift
    lines = [_check(trend), _verdict(trend)]
    if drift.season is not None:
        season = drift.season
        top = date(2001, 1, 1) + timedelta(days=season.day_of_year - 1)
        lines.append(
            f"It swings with the year by {_angle(season.amplitude_rad, season.bound_rad)} to each side, furthest "
            f"{_way(1, trend)} about {_month(top)}."
        )
    if drift.could_be_season:
        lines.append(
            "The runs do not span a year yet: a drift that a dry or a damp season takes back looks the same so far."
        )
    return tuple(lines)


def trend_text(trend: Trend, jig_name: str) -> str:
    """The trend in words, then what it rests on."""
    drift = trend.drift
    spans = f"{trend.points[0].day.isoformat()} to {trend.points[-1].day.isoformat()}"
    stretches = len({point.stretch for point in trend.points})
    rows = [
        ("runs", f"{len(trend.points)}, {spans}, in {stretches} {_plural(stretches, 'stretch', 'stretches')}"),
        ("last error" if trend.moved_since else "error now", _angle(drift.now_rad, drift.now_bound_rad)),
    ]
    if trend.tolerance_deg is not None:
        rows.append(("tolerance", f"±{trend.tolerance_deg:.3g} deg ({60 * trend.tolerance_deg:.3g}')"))
    if drift.rate_rad is not None and drift.bound_rad is not None:
        rows.append(("drift a month", _angle(drift.rate_rad * DAYS_A_MONTH, drift.bound_rad * DAYS_A_MONTH)))
        rows.append(
            (
                "chance",
                f"{chance_words(drift.chance)} that a fence that stands still scatters so much (chi-square "
                f"{drift.chi_square:.3g}, {drift.degrees_of_freedom} degrees of freedom)",
            )
        )
    notes = [
        "Errors are compared within a stretch, from one move or fastening to the next.",
        "Each run's uncertainty is taken as its own. What runs share, one caliper or one square, does not scatter, "
        "so that the drift's uncertainty is on the large side.",
    ]
    if trend.left_out:
        notes.append(f"{trend.left_out} {_plural(trend.left_out, 'run', 'runs')} without a comparable error left out.")
    if trend.struck:
        notes.append(f"{len(trend.struck)} struck out, not counted.")
    title = wrap(f"'{jig_name}': {trend_words(trend)[0]}")
    return "\n\n".join(
        [
            "\n".join([title, *(wrap(line) for line in trend_words(trend)[1:])]),
            "\n".join(wrap(text, f"{name:15}") for name, text in rows),
            bullets("Notes", notes),
            bullets("Cautions", cautions("photo", "measure", "cut")),
        ]
    )


def trend_as_json(trend: Trend) -> TrendJson:
    """The trend as a plain object."""
    drift, season = trend.drift, trend.drift.season
    return {
        "schema": SCHEMA,
        "verdict": drift.verdict,
        "drift": _monthly(drift.rate_rad),
        "drift_expanded_uncertainty": _monthly(drift.bound_rad),
        "chi_square": drift.chi_square,
        "degrees_of_freedom": drift.degrees_of_freedom,
        "chance": drift.chance,
        "error_now": math.degrees(drift.now_rad),
        "error_now_expanded_uncertainty": math.degrees(drift.now_bound_rad),
        "tolerance": trend.tolerance_deg,
        "check_on": drift.check_on.isoformat(),
        "check_why": drift.why,
        "season_amplitude": None if season is None else math.degrees(season.amplitude_rad),
        "season_expanded_uncertainty": None if season is None else math.degrees(season.bound_rad),
        "runs": [point.run.number for point in trend.points],
        "left_out": trend.left_out,
    }


def _tells(run: Run) -> bool:
    error, bound = run.headline.error_deg, run.headline.bound_deg
    return error is not None and bound is not None and bound > 0


def _positive(run: Run) -> str:
    """Which way a positive error lies; looked up in the text, since a long history is not worth parsing whole."""
    found = _POSITIVE.search(run.result_text)
    return found[1] if found else ""


def _step(move: MoveSet, earliest: date, latest: date | None) -> Step | None:
    """A move after a run, on its own day but not before that run nor after the next: runs may be entered late."""
    fastened = move.fence == _FASTENED
    if not move.distance_mm and not fastened:
        return None
    turn = {"clockwise": " clockwise", "counterclockwise": " counterclockwise"}.get(move.turn or "", "")
    words = f"{move.distance_mm:.3g} mm{turn}" if move.distance_mm else ""
    day = max(earliest, move.day or move.recorded_at.date())
    day = day if latest is None else min(day, latest)
    return Step(day, ", ".join(filter(None, (words, _FASTENED * fastened))), fastened)


def _check(trend: Trend) -> str:
    drift = trend.drift
    if trend.moved_since:
        return "The fence was moved or fastened after the newest run: cut and measure a piece now."
    day = f"{drift.check_on.isoformat()}"
    if drift.why == "outside":
        return "Check it now: with its uncertainty the error may lie outside the tolerance today."
    if drift.why == "tolerance":
        return f"Check it again by {day}: from then on the error, with its uncertainty, may be outside the tolerance."
    if drift.why == "half a year":
        return f"Check it again by {day}, in half a year, when the season has turned."
    return f"Check it again by {day}, in a month, as its drift is not known yet."


def _verdict(trend: Trend) -> str:
    drift = trend.drift
    if drift.rate_rad is None or drift.bound_rad is None:
        return "Too few runs to tell a drift: it takes three or more, on different days, between one move and the next."
    monthly = _angle(abs(drift.rate_rad) * DAYS_A_MONTH, drift.bound_rad * DAYS_A_MONTH)
    if drift.verdict == "drifts":
        return f"It drifts by {monthly} a month, {_way(drift.rate_rad, trend)}: more than the uncertainties explain."
    if drift.season is not None:
        return f"It moves, but not steadily one way: beside the year's swing no more than {monthly} a month."
    if drift.verdict == "wanders":
        return (
            "It moves more than the uncertainties explain, but not steadily one way: look for a move that was not "
            "recorded, a screw that creeps, or a runner with play."
        )
    return f"It stands still as far as can be seen: a drift of {monthly} a month is no more than its uncertainty."


def _way(sign: float, trend: Trend) -> str:
    if trend.counterclockwise:
        return "counterclockwise" if sign > 0 else "clockwise"
    return "toward a larger kept corner" if sign > 0 else "toward a smaller kept corner"


def _month(day: date) -> str:
    names = "January February March April May June July August September October November December"
    third = ("early", "mid", "late")[min(2, (day.day - 1) // 10)]
    return f"{third} {names.split()[day.month - 1]}"


def _angle(value_rad: float, bound_rad: float) -> str:
    return format_angle_with_bound(value_rad, bound_rad)


def _monthly(rate_rad: float | None) -> float | None:
    return None if rate_rad is None else math.degrees(rate_rad) * DAYS_A_MONTH


def _plural(count: int, one: str, many: str) -> str:
    return one if count == 1 else many
