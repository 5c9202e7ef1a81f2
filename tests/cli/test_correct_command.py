"""`cutvision correct` from the outside: typed readings in, the move out."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import Any

import pytest

from cutvision.reports.cautions import ADVISED, cautions

MITER = ["correct", "miter", "--left-leg", "101.62mm", "--right-leg", "101.35mm", "--fence-length", "380mm"]
SQUARE = ["correct", "square", "--at-fence", "24.91mm", "--far-end", "24.78mm", "--between", "412mm"]
SQUARE += ["--fence-length", "560mm"]


def test_a_miter_as_json(run: Callable[..., Any]) -> None:
    """The worked miter: -0.07621742791 deg, 0.5054934 mm, right, counterclockwise (closed form); nothing else."""
    done = run(*MITER, "--json")
    told = json.loads(done.out)
    assert (done.status, done.err) == (0, "")
    assert told["angle_error"]["value"] == pytest.approx(-0.07621742791, abs=0.5e-11)
    assert told["fence_move"]["value"] == pytest.approx(0.5054934, abs=0.5e-7)
    assert (told["method"], told["side"], told["turn"]) == ("miter", "right", "counterclockwise")


def test_a_square_cut_as_json(run: Callable[..., Any]) -> None:
    """The worked strip: 0.0045196912 deg, 0.04417476 mm, toward the work; kept on the left, clockwise (closed form)."""
    told = json.loads(run(*SQUARE, "--kept", "left", "--json").out)
    assert told["angle_error"]["value"] == pytest.approx(0.0045196912, abs=0.5e-10)
    assert told["fence_move"]["value"] == pytest.approx(0.04417476, abs=0.5e-8)
    assert (told["method"], told["side"], told["turn"]) == ("square", "toward-work", "clockwise")
    assert json.loads(run(*SQUARE, "--json").out)["turn"] is None


def test_inches_and_mixed_units_mean_the_same(run: Callable[..., Any]) -> None:
    """4 in and 101.6 mm, 16 in and 406.4 mm are the same (1 in is 25.4 mm)."""
    inches = run("correct", "miter", "--left-leg", "4in", "--right-leg", '3 63/64"', "--fence-length", "16in", "--json")
    metric = run(
        "correct",
        "miter",
        "--left-leg",
        "101.6mm",
        "--right-leg",
        "101.203125mm",
        "--fence-length",
        "40.64cm",
        "--json",
    )
    assert json.loads(inches.out)["fence_move"]["value"] == pytest.approx(
        json.loads(metric.out)["fence_move"]["value"], rel=1e-12
    )


def test_repeated_readings_give_their_mean_and_their_scatter(run: Callable[..., Any]) -> None:
    """Means 101.62333 and 101.35 mm (3.990157 in read back): the closed form on them; scatter with few freedoms."""
    lists = [*MITER[:3], "101.62mm,101.64mm,101.61mm", "--right-leg", "101.35mm,101.35mm,3.9901574803in"]
    told = json.loads(run(*lists, *MITER[6:], "--json").out)
    exact = math.degrees(math.atan(101.35 / (101.62 + 0.01 / 3))) - 45
    assert told["angle_error"]["value"] == pytest.approx(exact, abs=1e-9)
    types = {row["influence"]: row["type"] for row in told["budget"]}
    assert (types["reading"], types["resolution"]) == ("A", "B")
    text = run(*lists, *MITER[6:], "--more").out
    assert "--read-to" not in text
    assert "--accuracy" in text


def test_every_said_figure_narrows_the_bound(run: Callable[..., Any]) -> None:
    """With reading, caliper, tips, form and distances exact and the corner known, only nothing is left."""
    exact = ["--read-to", "0mm", "--accuracy", "0mm", "--tips", "0mm", "--edge-form", "0mm", "--distance-to", "0mm"]
    told = json.loads(run(*MITER, *exact, "--corner-to", "0deg", "--json").out)
    assert told["angle_error"]["standard_uncertainty"] == pytest.approx(0.0, abs=1e-12)
    usual = json.loads(run(*MITER, "--json").out)
    assert usual["angle_error"]["standard_uncertainty"] > 0.01


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([*MITER[:3], "101.62", *MITER[4:]], "--left-leg is '101.62' without a unit"),
        ([*MITER[:3], "101.62mm,101,64mm", *MITER[4:]], "a comma may mean"),
        ([*MITER[:3], "101.62mm,110.62mm", *MITER[4:]], "9 mm apart"),
        ([*MITER[:3], "nan", *MITER[4:]], "--left-leg is 'nan'"),
        ([*MITER[:3], "1e400mm", *MITER[4:]], "more than 100 m"),
        ([*MITER[:3], "0mm", *MITER[4:]], "more than zero"),
        ([*MITER[:3], "110.62mm", *MITER[4:]], "more than 2 deg"),
        ([*MITER, "--piece-width", "101mm"], "ran past the tip"),
        ([*MITER[:-1], "12thou"], "A lever of 0.3048 mm is too short"),
        ([*MITER[:3], "1e-300mm", *MITER[4:]], "less than a millionth of a millimeter"),
        ([*MITER, "--tolerance", "3deg"], "no saw needs so much"),
        ([*MITER, "--pieces", "9" * 400], "Nobody takes a mean of"),
        ([*MITER, "--shims", "10m"], "A shim of '10m' is thicker than 25.4 mm (1 in)"),
        ([*MITER, "--left-leg", "101.64mm"], "--left-leg stands twice in the line, as '101.62mm' and as '101.64mm'"),
        ([*MITER, "--kept=left", "--kept", "right"], "--kept stands twice"),
        ([*MITER, "--nominal", "22.5deg"], "which leg lay at the fence"),
        ([*MITER, "--nominal", "95deg", "--kept", "left"], "no triangle"),
        ([*MITER, "--corner", "9deg"], "corner is 9.00 deg"),
        ([*MITER, "--tolerance", "0deg"], "--tolerance is '0deg'"),
        ([*MITER, "--kept", "middle"], "--kept"),
        ([*SQUARE, "--turns", "3"], "3 quarter turns"),
        ([*SQUARE[:3], "-24.91mm", *SQUARE[4:]], "--at-fence is '-24.91mm'"),
        (["correct", "miter"], "--fence-length"),
        (["correct", "miter", "--fence-length", "380mm"], "--left-leg"),
    ],
)
def test_wrong_values_are_refused_in_words(run: Callable[..., Any], arguments: list[str], said: str) -> None:
    """Exit status 2, the option named, no traceback, nothing on standard output."""
    done = run(*arguments)
    assert done.status == 2
    assert done.out == ""
    assert said in " ".join(done.err.split())
    assert "Traceback" not in done.err


def test_a_piece_too_small_to_be_cut_safely_is_told(run: Callable[..., Any]) -> None:
    """Below the least leg that a plan advises, 50 mm, the answer says so before it asks for one more piece."""
    legs = ["--left-leg", "20mm", "--right-leg", "20.3mm", "--fence-length", "380mm"]
    told = " ".join(run("correct", "miter", *legs, "--more").out.split())
    assert "a leg of 20 mm (0.787 in) is too small to be cut safely" in told
    assert "legs of 50 mm (1.97 in) or more" in told
    assert told.index("too small to be cut") < told.index("cut and measure one more piece")
    assert "too small to be cut safely" not in run(*MITER).out


def test_leaves_are_named_when_asked_for(run: Callable[..., Any]) -> None:
    """0.5055 mm from the 13-leaf set is the leaf of 0.50, 0.0055 short (closed form); cautions stand beside it."""
    done = run(*MITER, "--shim-set", "metric-13")
    assert "Shims: 0.50 mm: 0.005 mm" in done.out
    assert "unplug" in done.out
    stack = json.loads(run(*MITER, "--shim-set", "metric-13", "--json").out)["shims"]
    assert stack["best"]["shims"] == ["0.50 mm"]
    assert stack["best"]["short"] == pytest.approx(0.0054934, abs=1e-7)
    own = json.loads(run(*MITER, "--shims", "0.2mm, 1/64in,.10mm", "--most-shims", "2", "--json").out)["shims"]
    assert own["best"]["shims"] == ["1/64in", ".10mm"]
    assert "shims" not in json.loads(run(*MITER, "--json").out)


def test_no_leaves_are_named_when_nothing_is_to_be_moved(run: Callable[..., Any]) -> None:
    """Leave the fence alone means no stack in the text."""
    same = [*MITER[:3], "101.35mm", *MITER[4:]]
    assert "Shims:" not in run(*same, "--shim-set", "metric-13").out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--shims", ""], "--shims is empty"),
        (["--shims", "0.05mm,"], "reading 2 is empty"),
        (["--shims", "0mm"], "more than zero"),
        (["--shims", "0.1"], "without a unit"),
        (["--most-shims", "2"], "but not which you have"),
        (["--shim-to", "0.005mm"], "--shim-to is about your shims"),
        (["--shim-set", "metric-13", "--shim-to", "1mm"], "the thinnest is marked 0.05 mm"),
        (["--shim-set", "metric-13", "--shims", "0.1mm"], "both say"),
        (["--shim-set", "metric-13", "--most-shims", "0"], "at most 0"),
        (["--shim-set", "metric-14"], "--shim-set"),
    ],
)
def test_leaves_that_are_none_are_refused(run: Callable[..., Any], arguments: list[str], said: str) -> None:
    """An empty set, a leaf of nothing, a set not known, options at odds: exit status 2, in words."""
    done = run(*MITER, *arguments)
    assert (done.status, done.out) == (2, "")
    assert said in done.err


def test_a_refusal_that_sends_to_the_saw_carries_the_cautions(run: Callable[..., Any]) -> None:
    """A remedy to set the fence and cut anew stands with the cautions for both, within 80 columns; others are short."""
    far_off = run(*MITER[:3], "110.62mm", *MITER[4:])
    for text in cautions(*ADVISED):
        assert text in " ".join(far_off.err.split())
    assert max(map(len, far_off.err.splitlines())) <= 80
    assert "Cautions" not in run(*MITER[:3], "nan", *MITER[4:]).err
