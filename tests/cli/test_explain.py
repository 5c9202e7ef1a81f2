"""`cutvision explain` from the outside."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import Any

import pytest

from cutvision.reports.cautions import cautions
from cutvision.reports.columns import COLUMNS

LEVER = ["--fence-length", "380mm"]
COMMANDS = {
    "miter": ["--left-leg", "101.62mm,101.64mm,101.61mm", "--right-leg", "101.35mm", "--kept", "left"],
    "square": ["--at-fence", "24.91mm", "--far-end", "24.78mm", "--between", "412mm", "--turns", "2"],
    "direct": ["--gap", "0.15mm", "--over", "200mm", "--gap-at", "far", "--square-on", "right"],
    "direct --reading": ["--reading", "22.4deg,22.45deg", "--nominal", "22.5deg", "--square-on", "left"],
    "miter --difference": ["--left-leg", "101.6mm", "--difference", "0.27mm", "--shorter", "right"],
    "facing": ["--gap", "0.5mm", "--over", "11 3/4in", "--gap-at", "fence", "--kept", "left"],
    "arms": [
        *("--left-arm-left-leg", "101.62mm,101.60mm", "--left-arm-right-leg", "101.35mm"),
        *("--right-arm-left-leg", "101.58mm", "--right-arm-right-leg", "101.41mm", "--corner", "90.02deg"),
    ],
    "frame": ["--gap", "1.2mm", "--stock", "60mm", "--sides", "4", "--gap-at", "toe", "--kept", "left"],
}


@pytest.mark.parametrize("name", COMMANDS)
def test_each_way_is_explained_as_text(run: Callable[..., Any], name: str) -> None:
    """Exit status 0; the answer first, every line numbered, the departure of the rule, cautions; 80 columns at most."""
    done = run("explain", name.split(maxsplit=1)[0], *COMMANDS[name], *LEVER)
    assert (done.status, done.err) == (0, "")
    lines = done.out.splitlines()
    assert max(map(len, lines)) <= COLUMNS
    answer = run("correct", name.split(maxsplit=1)[0], *COMMANDS[name], *LEVER).out
    assert lines[0] == answer.splitlines()[0]
    for words in (" 1. ", "M = F x tan|E|", "s = p1^2", "What to do", "The shop's rule", "2 deg "):
        assert words in done.out
    said = " ".join(done.out.split())
    for caution in cautions("measure", "adjust", "cut"):
        assert caution in said


@pytest.mark.parametrize("name", COMMANDS)
def test_explain_and_the_option_explain_are_one(run: Callable[..., Any], name: str) -> None:
    """`correct ... --explain` prints what `explain ...` prints, as text and as JSON."""
    for form in ([], ["--json"]):
        explained = run("explain", name.split(maxsplit=1)[0], *COMMANDS[name], *LEVER, *form)
        assert (
            explained.out == run("correct", name.split(maxsplit=1)[0], *COMMANDS[name], *LEVER, *form, "--explain").out
        )


def test_what_a_calculation_leaves_out_is_said(run: Callable[..., Any]) -> None:
    """Options that only an answer can meet are named, on standard error; without them nothing is said."""
    asked = ["--leaf-set", "inch-26", "--how", "--budget", "--joint-sides", "4", "--joint-stock", "60mm"]
    said = run("explain", "miter", *COMMANDS["miter"], *LEVER, *asked).err
    assert "Not shown: --budget, --joint-sides, --how, --leaf-set." in " ".join(said.split())
    assert run("explain", "miter", *COMMANDS["miter"], *LEVER).err == ""


def test_the_calculation_as_json(run: Callable[..., Any]) -> None:
    """The schema, the reader's numbers, steps, and beside them what `correct --json` gives; the end is one with it."""
    told = json.loads(run("explain", "miter", *COMMANDS["miter"], *LEVER, "--json").out)
    assert told["schema"] == "cutvision/explanation/1"
    assert told["correction"] == json.loads(run("correct", "miter", *COMMANDS["miter"], *LEVER, "--json").out)
    assert [given["value"] for given in told["given"][:4]] == [101.62, 101.64, 101.61, 101.35]
    names = [section["name"] for section in told["sections"]]
    assert names == ["readings", "error", "move", "bound", "decision", "shop rule"]
    error = told["sections"][1]["steps"][-1]
    # 45 deg less atan of the mean left leg over the right one (closed form)
    assert error["result"] == pytest.approx(45 - math.degrees(math.atan(304.87 / 3 / 101.35)), abs=1e-4)
    assert error["unit"] == "deg"
    assert [row["error"] for row in told["shop_rule_departs"]] == pytest.approx([0.1, 0.5, 1, 2])


def test_a_reading_that_cannot_tell_says_what_would(run: Callable[..., Any]) -> None:
    """When the bound straddles the tolerance the photo's cautions stand there too."""
    done = run("explain", "miter", "--left-leg", "101.42mm", "--right-leg", "101.35mm", *LEVER)
    assert "too small to see" in done.out
    said = " ".join(done.out.split())
    assert all(caution in said for caution in cautions("photo"))


def test_wrong_values_are_refused_as_by_correct(run: Callable[..., Any]) -> None:
    """A bare number exits with status 2 and nothing on standard output."""
    done = run("explain", "miter", "--left-leg", "101.62", "--right-leg", "101.35mm", *LEVER)
    assert (done.status, done.out) == (2, "")
    assert "without a unit" in done.err


def test_the_help_speaks_of_explain(run: Callable[..., Any]) -> None:
    """The worked example in the help is one of `explain`, and the option that is taken as given is not offered."""
    done = run("explain", "square", "--help")
    assert "cutvision explain square" in done.out
    assert "--explain" not in done.out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--left-arm-angle", "45.1deg", "--right-arm-angle", "45deg", "--angle-to", "0.02deg"], "From angles"),
        (
            [
                *("--left-arm-left-leg", "241.42mm", "--left-arm-right-leg", "100mm", "--right-arm-left-leg", "100mm"),
                *("--right-arm-right-leg", "241.42mm", "--nominal", "22.5deg"),
            ],
            "for miters of 45 deg",
        ),
    ],
)
def test_arms_that_are_not_written_out_are_refused(run: Callable[..., Any], arguments: list[str], said: str) -> None:
    """Angles, and miters other than 45 deg, are refused with what to do; without --explain they are answered."""
    refused = run("explain", "arms", *arguments, *LEVER)
    assert (refused.status, refused.out) == (2, "")
    assert said in refused.err
    assert run("correct", "arms", *arguments, *LEVER).status == 0
