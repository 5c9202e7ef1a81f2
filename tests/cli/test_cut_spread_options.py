"""How a person says how much the cut spreads, from the outside."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import Any

import pytest

from cutvision.errors import InputError
from cutvision.jobs.fence import RepeatsSaid

MITER = ["correct", "miter", "--left-leg", "101.62mm", "--right-leg", "101.35mm", "--fence-length", "380mm"]


def spread_row(told: dict[str, Any]) -> list[float]:
    """The spread's standard uncertainty in the budget, in deg, when it stands there."""
    return [row["standard_uncertainty"] for row in told["budget"] if row["influence"] == "spread of the cut"]


def test_the_spread_is_off_unless_it_is_given(run: Callable[..., Any]) -> None:
    """Not given: no row; 0.013 deg: a row of that, over the root of the pieces; the value stays (closed form)."""
    plain = json.loads(run(*MITER, "--json").out)
    said = json.loads(run(*MITER, "--cut-spread", "0.013deg", "--json").out)
    mean = json.loads(run(*MITER, "--cut-spread", "0.013deg", "--pieces", "4", "--json").out)
    assert spread_row(plain) == []
    assert spread_row(said) == [pytest.approx(0.013, rel=1e-12)]
    assert spread_row(mean) == [pytest.approx(0.0065, rel=1e-12)]
    assert said["angle_error"]["value"] == plain["angle_error"]["value"]
    u, s = (told["angle_error"]["standard_uncertainty"] for told in (plain, said))
    assert s == pytest.approx(math.hypot(u, 0.013), rel=1e-12)


def test_pieces_cut_at_one_setting_tell_it(run: Callable[..., Any]) -> None:
    """44.99, 45.00 and 45.01 deg scatter by 0.01 deg (closed form)."""
    told = json.loads(run(*MITER, "--cut-angles", "44.99deg,45deg,45.01deg", "--json").out)
    assert spread_row(told) == [pytest.approx(0.01, rel=1e-9)]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--cut-spread", "0.013"], "without a unit"),
        (["--cut-angles", "45deg,45.01deg"], "2 pieces show too little"),
        (["--cut-angles", "45deg,44.9deg,42deg"], "3.00 deg apart"),
        (["--cut-angles", "45,45deg,45deg"], "a comma may mean"),
        (["--cut-spread", "0.01deg", "--cut-angles", "45deg,45deg,45deg"], "both say"),
        (["--cut-angles-to", "0.01deg"], "--cut-angles-to says how well"),
        (["--pieces", "0"], "mean of 0"),
        (["--cut-spread", "0.01deg", "--pieces", "0"], "mean of 0"),
    ],
)
def test_spreads_that_are_none_are_refused(run: Callable[..., Any], arguments: list[str], said: str) -> None:
    """Exit status 2, in words, nothing on standard output."""
    done = run(*MITER, *arguments)
    assert (done.status, done.out) == (2, "")
    assert said in done.err


def test_pieces_without_a_spread_are_refused_where_no_reading_is_divided() -> None:
    """A photo's edges are not typed as means, so that --pieces alone would say nothing there."""
    with pytest.raises(InputError, match="nothing is said of that"):
        RepeatsSaid(pieces=3).repeats()
    assert RepeatsSaid(pieces=3).repeats(wood_read=True) is None
