"""A run of adjustments as a chart: the fence's error by each cut with its bound, the moves, the tolerance."""

from __future__ import annotations

import math

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from cutvision.correction.adjustments import Adjustments, Cut, Move
from cutvision.reports.columns import wrap
from cutvision.reports.figure import ACCENT, GOOD, INK, SOFT, blank_page
from cutvision.reports.says_steps import state_sentence
from cutvision.units import MM_PER_INCH

WIDTH_MM, HEIGHT_MM = 180.0, 120.0
_TEXT, _SMALL = 9.0, 7.5
# Where the plot stands on the page: left, bottom, width, height as parts of it.
_PLOT = (0.11, 0.14, 0.78, 0.6)


def adjustments_chart(run: Adjustments) -> Figure:
    """The chart on a page of 180 x 120 mm: degrees on the left, minutes of arc on the right."""
    figure, page = blank_page(WIDTH_MM, HEIGHT_MM)
    page.text(4, HEIGHT_MM - 5, wrap(state_sentence(run)), fontsize=_TEXT, color=INK, va="top", linespacing=1.25)
    axes = figure.add_axes(_PLOT)
    cuts = [step.error for step in run.steps if isinstance(step, Cut)]
    values = [math.degrees(error.value) for error in cuts]
    bounds = [math.degrees(error.expanded_uncertainty) for error in cuts]
    places = _places(run)
    limit = math.degrees(run.decision.tolerance_rad)
    reach = 1.1 * max(1.2 * limit, *(abs(v) + b for v, b in zip(values, bounds, strict=True)))
    axes.set_xlim(0.4, places[-1] + 1.0)
    axes.set_ylim(-reach, reach)
    axes.axhline(0.0, color=INK, linewidth=0.8)
    if limit:
        axes.axhspan(-limit, limit, color=GOOD, alpha=0.15, linewidth=0)
        axes.text(places[-1] + 0.97, limit, "tolerance", fontsize=_SMALL, color=GOOD, ha="right", va="bottom")
    axes.plot(places, values, color=SOFT, linewidth=0.8, zorder=1)
    axes.errorbar(places, values, yerr=bounds, fmt="o", color=ACCENT, capsize=3, markersize=4.5, linewidth=1.1)
    _mark_moves(axes, run)
    _label(axes, places, reach)
    page.text(
        4,
        4,
        "Dots: the fence's error by each test cut, with its 95 % bound. Dashed: the moves (cw: clockwise).",
        fontsize=_SMALL,
        color=SOFT,
    )
    return figure


def _places(run: Adjustments) -> list[float]:
    """Where each cut stands along the chart: one apart, a move takes no room of its own."""
    return [float(n) for n in range(1, 1 + sum(isinstance(step, Cut) for step in run.steps))]


def _mark_moves(axes: Axes, run: Adjustments) -> None:
    """A dashed line where the fence was moved, with the amount and the way above it while there is room."""
    gap, waiting = 0, list[Move]()
    told: list[tuple[float, list[Move]]] = []
    for step in run.steps:
        if isinstance(step, Move):
            waiting.append(step)
            continue
        if waiting:
            told.append((gap + 0.5, waiting))
        gap, waiting = gap + 1, []
    if waiting:
        told.append((gap + 0.5, waiting))
    crowded = len(told) > 8
    for place, moves in told:
        axes.axvline(place, color=SOFT, linewidth=0.6, linestyle=(0, (3, 3)), zorder=0)
        if not crowded:
            axes.text(
                place,
                1.015,
                _words(moves),
                transform=axes.get_xaxis_transform(),
                fontsize=_SMALL,
                color=INK,
                ha="center",
                va="bottom",
            )


def _words(moves: list[Move]) -> str:
    total = math.fsum(move.intended.value for move in moves)
    way = "↻ cw" if total < 0 else "↺ ccw"
    if len(moves) > 1:
        return f"{len(moves)} moves\n{way}"
    mm = moves[0].distance.value
    return f"{mm:.3g} mm\n{mm / MM_PER_INCH:.3g} in\n{way}"


def _label(axes: Axes, places: list[float], reach: float) -> None:
    every = math.ceil(len(places) / 20)
    shown = places[::every]
    axes.set_xticks(shown, [f"{'cut ' if len(places) <= 10 else ''}{place:.0f}" for place in shown])
    axes.set_ylabel("fence error, degrees, + counter-clockwise", fontsize=_TEXT, color=INK)
    minutes = axes.twinx()
    minutes.set_ylim(-60 * reach, 60 * reach)
    minutes.set_ylabel("minutes of arc", fontsize=_TEXT, color=INK)
    for one in (axes, minutes):
        one.tick_params(labelsize=_SMALL, colors=INK)
        for name in ("top", "left", "right", "bottom"):
            one.spines[name].set_color(SOFT)
