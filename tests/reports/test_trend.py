"""A jig's trend: which runs stand in it, what it says, and the chart."""

from __future__ import annotations

import io
import json
import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from PIL import Image

from cutvision.errors import InputError
from cutvision.logbook.records import Headline, JigRecord, Run, Struck
from cutvision.reports.figure import figure_bytes
from cutvision.reports.glyphs import drawable
from cutvision.reports.trend import trend_as_json, trend_of, trend_text
from cutvision.reports.trend_chart import trend_figure

Make = Callable[..., Any]
STRUCK = Struck(datetime(2026, 1, 1, tzinfo=UTC), "wrong piece")


def story(make_run: Make, make_move: Make) -> list[Run]:
    """A move the wrong way, the right one, a fastening, and a slow drift over a winter."""
    return [
        make_run(1, 0, 0.12, moves=(make_move(0.8, "counterclockwise"),)),
        make_run(2, 5, 0.24, moves=(make_move(1.6),)),
        make_run(3, 9, 0.005, moves=(make_move(0.0, None, "fastened"),)),
        *(make_run(4 + n, 20 + 25 * n, 0.01 + 0.009 * n, fence="fastened") for n in range(6)),
    ]


def test_a_stretch_begins_after_every_move(make_run: Make, make_move: Make) -> None:
    """Moves and a fastening part the runs; their words stand as they were set."""
    trend = trend_of(story(make_run, make_move))
    assert [point.stretch for point in trend.points] == [0, 1, 2, *[3] * 6]
    assert [step.words for step in trend.steps] == ["0.8 mm counterclockwise", "1.6 mm clockwise", "fastened"]
    assert trend.tolerance_deg == 0.05
    assert trend.drift.verdict == "drifts"
    assert trend_as_json(trend)["drift"] == pytest.approx(0.009 / 25 * 365.25 / 12)


def test_a_fastening_between_runs_parts_them_too(make_run: Make, make_move: Make) -> None:
    """A fence that was clamped in one run and fastened in the next may stand anew; one that stays fastened does not."""
    held = ("clamped", "fastened", "fastened", None)
    trend = trend_of([make_run(n, n, 0.0, fence=fence) for n, fence in enumerate(held)])
    assert [point.stretch for point in trend.points] == [0, 1, 1, 1]
    note = make_run(1, 0, 0.0, moves=(make_move(0.0, None, None, "looked at it"),))
    assert trend_of([note]).steps == ()


def test_a_step_stands_between_its_runs(make_run: Make, make_move: Make) -> None:
    """A move has its own day, held between its run and the next; a fastening seen later lies halfway."""
    day = make_run().conditions.day

    def steps(move: Any, *after: Run) -> list[int]:
        return [(step.day - day).days for step in trend_of([make_run(1, 0, 0.0, moves=(move,)), *after]).steps]

    move, later = make_move(0.5), make_run(2, 10, 0.0)
    assert steps(move, later) == [0]  # recorded on the first day
    assert steps(replace(move, day=day + timedelta(days=4)), later) == [4]
    assert steps(replace(move, day=day + timedelta(days=40)), later) == [10]
    assert steps(replace(move, day=day - timedelta(days=40)), later) == [0]
    assert steps(replace(move, day=day + timedelta(days=40))) == [40]
    assert steps(make_move(0.0, None, "clamped"), make_run(2, 10, 0.0, fence="fastened")) == [5]


def test_what_cannot_be_compared_is_left_out(make_run: Make) -> None:
    """Runs struck out, refused, without an error, or with another sign convention do not count, and are told."""
    other = {"schema": "cutvision/correction/1", "positive_means": "kept corner over 90 deg"}
    runs = [
        make_run(1, 0, 0.30, result=other),
        make_run(2, 1, 0.0),
        make_run(3, 2, 0.9, struck=STRUCK),
        make_run(4, 3, headline=Headline(refused="blurred")),
        make_run(5, 4, 0.01),
    ]
    trend = trend_of(runs[::-1])
    assert [point.run.number for point in trend.points] == [2, 5]
    assert (trend.left_out, [run.number for run in trend.struck]) == (2, [3])
    said = trend_text(trend, "sled")
    assert "2 runs without a comparable error left out" in said
    assert "1 struck out" in said
    with pytest.raises(InputError, match="no trend"):
        trend_of(runs[2:4])


@pytest.mark.parametrize(
    ("errors", "said"),
    [
        ([0.0, 0.02, 0.04, 0.06, 0.08], "drifts by"),
        ([0.06, 0.045, 0.03, 0.015, 0.0], "a month, clockwise: more than the uncertainties explain"),
        ([0.001, -0.002, 0.001, -0.001, 0.0], "stands still as far as can be seen"),
        ([0.0, 0.09, -0.09, 0.09, -0.03], "not steadily one way"),
        ([0.0, 0.001], "Too few runs"),
    ],
)
def test_the_verdict_is_told(make_run: Make, errors: list[float], said: str) -> None:
    """Each verdict in words, the advice first, within 80 columns, with the cautions that a check cut needs."""
    text = trend_text(trend_of([make_run(n, 20 * n, error) for n, error in enumerate(errors, 1)]), "sled")
    assert said in " ".join(text.split())
    assert text.startswith("'sled': Check it")
    assert "unplug" in text
    assert max(map(len, text.splitlines())) <= 80


def test_when_to_check_again_is_told(make_run: Make, make_move: Make) -> None:
    """Now, by a day, in a month, in half a year, and at once after a move that no cut has followed."""

    def said(*runs: Run) -> str:
        return " ".join(trend_text(trend_of(runs), "sled").split())

    free = Headline(0.0, 0.02)
    assert "Check it now" in said(make_run(1, 0, 0.045))
    assert "in a month, as its drift is not known yet" in said(make_run(1, 0, 0.0))
    assert "in half a year" in said(*(make_run(n, 30 * n, headline=free) for n in range(6)))
    assert re.search(
        r"again by 20\d\d-\d\d-\d\d: from then on", said(*(make_run(n, 9 * n, 0.002 * n) for n in range(6)))
    )
    moved = said(make_run(1, 0, 0.1, moves=(make_move(0.5),)))
    assert "moved or fastened after the newest run" in moved
    assert "last error" in moved


def test_a_season_is_told(make_run: Make) -> None:
    """A fence that swings with the year is told so, with the month, and no creeping screw is blamed."""
    rng = np.random.default_rng(4)
    days = np.arange(0, 730, 35)
    errors = 0.05 * np.cos(2 * np.pi * (days - 100) / 365.25) + rng.normal(0, 0.008, len(days))
    trend = trend_of([make_run(n, int(day), float(e)) for n, (day, e) in enumerate(zip(days, errors, strict=True), 1)])
    said = " ".join(trend_text(trend, "sled").split())
    assert re.search(r"swings with the year by .* furthest counterclockwise about (early|mid|late) January", said)
    assert "screw" not in said
    assert trend_as_json(trend)["season_amplitude"] == pytest.approx(0.05, abs=0.01)


def test_the_json_is_plain(make_run: Make, make_move: Make) -> None:
    """The object goes through json as it is, and holds no NaN."""
    told = trend_as_json(trend_of(story(make_run, make_move)))
    assert json.loads(json.dumps(told, allow_nan=False)) == told
    assert (told["schema"], told["runs"]) == ("cutvision/trend/1", list(range(1, 10)))


def test_the_chart_is_drawn(make_run: Make, make_move: Make, jig: JigRecord) -> None:
    """SVG, PNG and PDF, equal bytes for equal runs, the page as large as it says, without its words 20 mm lower."""
    trend = trend_of([*story(make_run, make_move), make_run(20, 60, 0.4, struck=STRUCK)])
    svg = figure_bytes(trend_figure(trend, jig.name), "svg")
    assert svg == figure_bytes(trend_figure(trend, jig.name), "svg")
    root = ET.fromstring(svg)  # noqa: S314  our own
    assert float(root.attrib["width"].removesuffix("pt")) / 72 * 25.4 == pytest.approx(200, abs=0.01)
    assert figure_bytes(trend_figure(trend, jig.name), "pdf").startswith(b"%PDF")
    with Image.open(io.BytesIO(figure_bytes(trend_figure(trend, jig.name), "png"))) as whole:
        ratio = whole.height / whole.width
    with Image.open(io.BytesIO(figure_bytes(trend_figure(trend, jig.name, worded=False), "png"))) as lower:
        assert lower.height / lower.width == pytest.approx(ratio - 0.1, abs=0.002)


@pytest.mark.parametrize("name", ["<script>$x_{2}$", "木工", "a\nb", "x" * 80])
def test_any_name_can_be_drawn(make_run: Make, name: str) -> None:
    """A name with signs of markup, letters that the typeface lacks or a line break is drawn without a warning."""
    for count in (1, 12):
        trend = trend_of([make_run(n, n, 0.01, moves=()) for n in range(count)])
        assert figure_bytes(trend_figure(trend, name), "svg").startswith(b"<?xml")


def test_many_moves_are_drawn_without_words(make_run: Make, make_move: Make) -> None:
    """With more moves than there is room for words the chart keeps the lines."""
    runs = [make_run(n, n, 0.01, moves=(make_move(0.1),)) for n in range(30)]
    few = figure_bytes(trend_figure(trend_of(runs[:5]), "x"), "svg")
    assert len(trend_of(runs).steps) == 30
    assert figure_bytes(trend_figure(trend_of(runs), "x"), "svg") != few


def test_a_letter_that_is_lacking_becomes_a_box() -> None:
    """What the typeface has stays; what it lacks is shown as a box, what has no shape as a space."""
    assert drawable("Säge ± 木\n") == "Säge ± \u25a1 "


def test_a_corner_has_its_own_words(make_run: Make) -> None:
    """Without the kept side a square fence's positive error is a kept corner over 90 deg, and is told so."""
    told = json.loads(make_run().result_text) | {"positive_means": "kept corner over 90 deg"}
    trend = trend_of([make_run(n, 30 * n, 0.03 * n, result=told) for n in range(5)])
    assert "toward a larger kept corner" in " ".join(trend_text(trend, "sled").split())
    assert figure_bytes(trend_figure(trend, "sled"), "svg")


def test_what_stood_far_off_does_not_press_the_tolerance_flat(make_run: Make, make_move: Make) -> None:
    """An error of 30 tolerances before the fence was trued is told in figures at the edge, and named in the legend."""
    runs = [make_run(1, 0, 1.5, moves=(make_move(9.0),)), *(make_run(2 + n, 9 + 20 * n, 0.01) for n in range(4))]
    figure = trend_figure(trend_of(runs), "sled")
    low, high = figure.axes[1].get_ylim()
    assert high - low < 12 * 0.05
    words = [text.get_text() for axes in figure.axes for text in axes.texts]
    assert "+1.5°" in words
    assert any("beyond" in word for word in words)


def test_a_move_long_after_the_newest_run_stays_in_the_plot(make_run: Make, make_move: Make) -> None:
    """Told in words with its day at the edge, without a line, and no word reaches past the plot."""
    late = replace(make_move(0.3), day=date(2027, 6, 1))
    figure = trend_figure(trend_of([make_run(1, 0, 0.01), make_run(2, 60, 0.02, moves=(late,))]), "sled")
    axes = figure.axes[1]
    words = next(text for text in axes.texts if "2027-06-01" in text.get_text())
    figure.draw_without_rendering()
    assert words.get_window_extent().x1 <= axes.get_window_extent().x1 + 1
    assert all(max(line.get_xdata()) <= axes.get_xlim()[1] for line in axes.lines)
