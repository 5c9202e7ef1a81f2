"""A jig's trend as a chart: error with its bound by day, tolerance, moves and fastening, drift, seasons."""

from __future__ import annotations

import itertools
import math
from datetime import date

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter
from matplotlib.figure import Figure

from cutvision.reports.figure import ACCENT, GOOD, INK, SOFT, STYLE, blank_page
from cutvision.reports.glyphs import drawable
from cutvision.reports.trend import Trend, trend_words

WIDTH_MM, HEIGHT_MM = 200.0, 130.0
# The title and the verdict take this much of the page; a sheet that says them itself leaves it out.
WORDS_MM = 20.0
TITLE, TEXT, SMALL = 11.0, 9.0, 7.5
# The plot on the page: left, bottom, width, height.
PLOT_MM = (19.0, 22.0, 162.0, 78.0)
# With more steps than this their words would cover each other.
MOST_WORDS = 8
MOST_TOLERANCES = 4.0
WINTER = "#e7eef6"
OTHER = "#fdf6e6"


def trend_figure(trend: Trend, jig_name: str, *, worded: bool = True) -> Figure:
    """The chart: degrees on the left, minutes of arc on the right.

    worded: on a page of 200 x 130 mm with title and verdict; else 20 mm lower, without them.
    """
    page_mm = HEIGHT_MM if worded else HEIGHT_MM - WORDS_MM
    with rc_context(STYLE):
        figure, page = blank_page(WIDTH_MM, page_mm)
        if worded:
            _words(page, trend, jig_name)
        left, bottom, width, height = PLOT_MM
        axes = figure.add_axes((left / WIDTH_MM, bottom / page_mm, width / WIDTH_MM, height / page_mm))
        first, last = trend.points[0].day, trend.points[-1].day
        margin = max(2.0, 0.04 * (last - first).days)
        shown = [_place(last), *(_place(step.day) for step in trend.steps)]
        axes.set_xlim(_place(first) - margin, min(max(shown), _place(last) + 4 * margin) + margin)
        low, high = _range(trend)
        axes.set_ylim(low, high)
        _seasons(axes, first, last)
        _tolerance(axes, trend)
        _points(axes, trend)
        _drift(axes, trend)
        _steps(axes, trend)
        _scales(axes)
        _ways(page, trend)
        page.text(6, 3.5, _legend(trend), fontsize=SMALL, color=SOFT)
    return figure


def _words(page: Axes, trend: Trend, jig_name: str) -> None:
    title = drawable(f"{jig_name}: the fence's error")
    page.text(6, HEIGHT_MM - 5, title, fontsize=TITLE, weight="bold", color=INK, va="top")
    verdict = _folded(" ".join(trend_words(trend)[:2]), 106)
    page.text(6, HEIGHT_MM - 12, verdict, fontsize=TEXT, color=INK, va="top", linespacing=1.3)


def _place(day: date) -> float:
    """Where a day stands on the axis: days since 1970, as matplotlib counts them."""
    return float((day - date(1970, 1, 1)).days)


def _folded(text: str, columns: int) -> str:
    lines = [""]
    for word in text.split(" "):
        if lines[-1] and len(lines[-1]) + len(word) >= columns:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip(" ")
    return "\n".join(lines)


def _range(trend: Trend) -> tuple[float, float]:
    """From the lowest to the highest figure, zero and tolerance among them, with room for the words above."""
    limit, most = trend.tolerance_deg or 0.0, _farthest_shown(trend)
    ends = [end for p in trend.points for end in (p.error_deg - p.bound_deg, p.error_deg + p.bound_deg)]
    ends += [run.headline.error_deg or 0.0 for run in trend.struck]
    ends = [min(max(end, -most), most) for end in ends]
    low, high = min(-limit, *ends), max(limit, *ends)
    return low - 0.12 * (high - low), high + (0.35 if trend.steps else 0.12) * (high - low)


def _farthest_shown(trend: Trend) -> float:
    """How far from true the plot reaches, in deg: some tolerances, and all of the newest stretch.

    What stood farther off before it was put right would press the tolerance flat; it is marked at the edge.
    """
    newest = [abs(p.error_deg) + p.bound_deg for p in trend.points if p.stretch == trend.points[-1].stretch]
    return max(MOST_TOLERANCES * trend.tolerance_deg, *newest) if trend.tolerance_deg else math.inf


def _seasons(axes: Axes, first: date, last: date) -> None:
    """Quarters of the weather's year behind the plot, so that what comes back with them is seen."""
    if (last - first).days < 45:
        return
    low, high = axes.get_xlim()
    starts = [date(year, month, 1) for year in range(first.year - 1, last.year + 2) for month in (3, 6, 9, 12)]
    named = {3: "Mar-May", 6: "Jun-Aug", 9: "Sep-Nov", 12: "Dec-Feb"}
    for start, stop in itertools.pairwise(starts):
        left, right = max(low, _place(start)), min(high, _place(stop))
        if left >= right:
            continue
        shade = {12: WINTER, 6: OTHER}.get(start.month)
        if shade:
            axes.axvspan(left, right, color=shade, linewidth=0, zorder=0)
        if right - left > 0.09 * (high - low):
            middle, across = (left + right) / 2, axes.get_xaxis_transform()
            axes.text(middle, 0.015, named[start.month], transform=across, fontsize=SMALL, color=SOFT, ha="center")


def _tolerance(axes: Axes, trend: Trend) -> None:
    axes.axhline(0.0, color=INK, linewidth=0.8, zorder=1)
    limit = trend.tolerance_deg
    if limit:
        axes.axhspan(-limit, limit, color=GOOD, alpha=0.13, linewidth=0, zorder=0.5)
        for edge in (-limit, limit):
            axes.axhline(edge, color=GOOD, linewidth=0.7, zorder=1)
        axes.text(
            0.008, limit, "tolerance", transform=axes.get_yaxis_transform(), fontsize=SMALL, color=GOOD, va="bottom"
        )


def _points(axes: Axes, trend: Trend) -> None:
    most = _farthest_shown(trend)
    for point in trend.points:
        if abs(point.error_deg) > most:
            _off_the_plot(axes, _place(point.day), point.error_deg)
    for fastened, mark in ((False, "o"), (True, "s")):
        chosen = [point for point in trend.points if point.fastened is fastened and abs(point.error_deg) <= most]
        if chosen:
            days = [_place(point.day) for point in chosen]
            axes.errorbar(
                days,
                [point.error_deg for point in chosen],
                yerr=[point.bound_deg for point in chosen],
                fmt=mark,
                color=ACCENT,
                ecolor=ACCENT,
                elinewidth=0.9,
                capsize=2.5,
                markersize=4.5,
                zorder=4,
            )
    shown = [run for run in trend.struck if axes.get_xlim()[0] <= _place(run.conditions.day) <= axes.get_xlim()[1]]
    if shown:
        days = [_place(run.conditions.day) for run in shown]
        axes.plot(days, [run.headline.error_deg or 0.0 for run in shown], "x", color=SOFT, markersize=6, zorder=3)


def _off_the_plot(axes: Axes, day: float, error_deg: float) -> None:
    """A mark at the edge that points to where the error lies, with its figure."""
    low, high = axes.get_ylim()
    up, reach = error_deg > 0, high - low
    edge = high - 0.2 * reach if up else low + 0.13 * reach
    axes.plot([day], [edge], "^" if up else "v", color=ACCENT, markersize=6, zorder=4)
    axes.annotate(
        f"{error_deg:+.2g}°",
        (day, edge),
        xytext=(0, 7 if up else -7),
        textcoords="offset points",
        fontsize=SMALL,
        color=ACCENT,
        ha="center",
        va="bottom" if up else "top",
        zorder=5,
    )


def _drift(axes: Axes, trend: Trend) -> None:
    """The fitted line over the newest stretch."""
    drift = trend.drift
    newest = [point.day for point in trend.points if point.stretch == trend.points[-1].stretch]
    if drift.rate_rad is None or len(set(newest)) < 2 or drift.season is not None:
        return
    days = np.array([(newest[0] - drift.last).days, 0.0])
    line = np.degrees(drift.now_rad + drift.rate_rad * days)
    axes.plot(_place(drift.last) + days, line, color=INK, linewidth=1.1,
              linestyle=(0, (5, 2)), zorder=3)  # fmt: skip


def _steps(axes: Axes, trend: Trend) -> None:
    """Each move and fastening as a line across the plot, its words along it; one long after the newest run by words."""
    spoken, across = len(trend.steps) <= MOST_WORDS, axes.get_xaxis_transform()
    edge = axes.get_xlim()[1]
    for number, step in enumerate(trend.steps):
        day, told = _place(step.day) + 0.12, step.words
        if day > edge:
            day, told = edge, f"{step.day.isoformat()}: {step.words} \N{RIGHTWARDS ARROW}"
        else:
            axes.axvline(day, color=INK, linewidth=1.2 if step.fastened else 0.8, zorder=2,
                         linestyle="-" if step.fastened else (0, (2, 2)))  # fmt: skip
        if spoken:
            high = 0.985 - 0.045 * (number % 3)
            right = day > sum(axes.get_xlim()) / 2
            axes.text(
                day,
                high,
                f"{told} " if right else f" {told}",
                transform=across,
                fontsize=SMALL,
                color=INK,
                va="top",
                ha="right" if right else "left",
                zorder=5,
                bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.75, "pad": 0.6},
            )


def _scales(axes: Axes) -> None:
    locator = AutoDateLocator(minticks=3, maxticks=8)  # type: ignore[no-untyped-call]
    axes.xaxis.set_major_locator(locator)
    offsets = ["", "%Y", "%Y-%m", *["%Y-%m-%d"] * 3]
    formatter = ConciseDateFormatter(locator, offset_formats=offsets)  # type: ignore[no-untyped-call]
    axes.xaxis.set_major_formatter(formatter)
    axes.set_ylabel("degrees", fontsize=TEXT, color=INK)
    minutes = axes.twinx()
    minutes.set_ylim(*(60 * end for end in axes.get_ylim()))
    minutes.set_ylabel("minutes of arc", fontsize=TEXT, color=INK)
    for one in (axes, minutes):
        one.tick_params(labelsize=SMALL, colors=INK)
        for spine in one.spines.values():
            spine.set_color(SOFT)
    axes.xaxis.get_offset_text().set_fontsize(SMALL)


def _ways(page: Axes, trend: Trend) -> None:
    """Which way a positive and a negative error lie, above and below the plot's left end."""
    plus, minus = (
        ("counterclockwise", "clockwise") if trend.counterclockwise else ("corner over 90°", "corner under 90°")
    )
    left, bottom, _, height = PLOT_MM
    page.text(left, bottom + height + 1.2, f"↑ {plus}", fontsize=SMALL, color=SOFT, va="bottom")
    page.text(left, bottom - 6.5, f"↓ {minus}", fontsize=SMALL, color=SOFT, va="top")


def _legend(trend: Trend) -> str:
    words = ["● run with its 95 % bound"]
    if any(abs(point.error_deg) > _farthest_shown(trend) for point in trend.points):
        words.append("▲ ▼ beyond the plot")
    if any(point.fastened for point in trend.points):
        words.append("■ fence fastened")
    if trend.struck:
        words.append("× struck out")
    if trend.steps:
        words.append("lines across: moves (dotted), fastening (solid)")
    if trend.drift.rate_rad is not None and trend.drift.season is None:
        words.append("dashed: drift")
    if math.isfinite(trend.drift.now_rad) and (trend.points[-1].day - trend.points[0].day).days >= 45:
        words.append("shaded: Dec-Feb, Jun-Aug")
    return _folded("\u00a0\u00a0\u00a0 ".join(word.replace(" ", "\u00a0") for word in words), 130)
