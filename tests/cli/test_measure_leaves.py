"""`measure --fence-length` names leaves when asked, and refuses wrong ones before any photo is read."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

FOLDER = Path(__file__).parents[2] / "sample_images"
MEASURE = ["measure", FOLDER / "miter-1.jpg", FOLDER / "miter-2-turned.jpg", "--shape", "miter", "--thickness", "19mm"]


def test_the_leaves_stand_beside_the_move(run: Callable[..., Any]) -> None:
    """A stack of leaves of the set stands right below the action, and the cautions at the end."""
    done = run(*MEASURE, "--fence-length", "380mm", "--kept", "left", "--shim-set", "inch-26", "--most-shims", "5")
    assert done.status == 0
    assert "\nShims: 0.025 in + " in done.out
    assert "unplugged" in done.out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--shim-set", "metric-13"], "--fence-length is not given"),
        (["--fence-length", "380mm", "--shims", "0mm"], "more than zero"),
    ],
)
def test_wrong_leaves_are_refused_first(run: Callable[..., Any], arguments: list[str], said: str) -> None:
    """Exit status 2 although the photo is not even there."""
    done = run("measure", "nowhere.jpg", "--shape", "miter", *arguments)
    assert (done.status, done.out) == (2, "")
    assert said in done.err


def test_the_lever_may_be_read_several_times(run: Callable[..., Any]) -> None:
    """559, 560 and 561 mm: the mean, 1/sqrt 3 of scatter beside 1/sqrt 3 of how well a rule is held (closed form)."""
    strip = ["measure", FOLDER / "strip.jpg", "--shape", "strip", "--thickness", "20mm"]
    told = json.loads(run(*strip, "--fence-length", "559mm,560mm,561mm", "--json").out)
    lever = told["correction"]["fence_length"]
    assert lever["value"] == 560.0
    assert lever["standard_uncertainty"] == pytest.approx((2 / 3) ** 0.5, rel=1e-9)
