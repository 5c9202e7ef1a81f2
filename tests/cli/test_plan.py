"""`cutvision plan` from the outside: advice first, the tables after, refusals in words, the check list as a file."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cutvision.correction.chain import link_names
from cutvision.jobs.plan import PlanSaid
from cutvision.reports.cautions import cautions

Run = Callable[..., Any]
MITER = ["plan", "--kind", "miter", "--tolerance", "0.1deg", "--fence-length", "380mm", "--kept", "left"]
SQUARE = ["plan", "--kind", "square", "--tolerance", "0.02deg", "--fence-length", "560mm"]


@pytest.mark.parametrize("arguments", [MITER, SQUARE])
@pytest.mark.parametrize("tool", ["caliper", "photo", "both", "shims"])
def test_the_advice_stands_last_and_more_holds_the_rest(run: Run, arguments: list[str], tool: str) -> None:
    """One screen ends with what to cut; --more has sizes, holding, distance, chain, cautions, both units."""
    done = run(*arguments, "--with", tool)
    assert (done.status, done.err) == (0, "")
    lines = done.out.rstrip().splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    assert done.out.rstrip().rsplit("\n\n", 1)[-1].startswith("Cut ")
    more = run(*arguments, "--with", tool, "--more").out
    for words in (
        "It shows the fence to",
        "as advised",
        "Holding it",
        "Distance from pivot",
        "The chain to a tight joint",
    ):
        assert words in more
    assert " in)" in more
    assert max(map(len, more.splitlines())) <= 80
    flat = " ".join(more.split())
    assert all(caution in flat for caution in cautions("photo", "measure", "adjust", "cut"))


def test_the_plan_as_json(run: Run) -> None:
    """One object with a schema: the chosen test is among the tests and tells, the sentences are the text's."""
    done = run(*MITER, "--json")
    told = json.loads(done.out)
    assert (done.status, done.err) == (0, "")
    assert told["schema"] == "cutvision/plan/1"
    assert (told["kind"], told["fence_length"], told["nominal"], told["kept"]) == ("miter", 380.0, 45.0, "left")
    assert told["tolerance"] == pytest.approx(0.1)
    chosen = next(one for one in told["tests"] if one["test"] == told["chosen"])
    assert chosen["advised"]["bound"] <= told["tolerance"]
    assert chosen["advised"] in chosen["table"]
    assert [link["name"] for link in told["chain"]["joints"][0]["links"]] == list(link_names("miter"))
    assert told["chain"]["true_next"] in link_names("miter")
    assert " ".join(told["advice"]).split() == " ".join(run(*MITER, "--quiet").out.split("\n\n")[-1].split()).split()


def test_the_worked_example_of_the_help_runs(run: Run) -> None:
    """The help's example is a command that gives a result."""
    (example,) = (line for line in (PlanSaid.__doc__ or "").splitlines() if line.strip().startswith("cutvision plan"))
    assert run(*example.split()[1:]).status == 0


def test_what_a_person_knows_of_a_link_counts(run: Run) -> None:
    """A link that was said replaces its default and is marked; runner play becomes the spread of the cut too."""
    told = json.loads(run(*MITER, "--link", "Runner  Play=0.05deg", "--link", "v's own angle=0deg", "--json").out)
    links = {link["name"]: link for link in told["chain"]["joints"][0]["links"]}
    assert links["runner play"]["off_by"] == pytest.approx(0.05)
    assert links["V's own angle"]["off_by"] == 0
    assert told["cut_spread"] == pytest.approx(0.05)
    assert json.loads(run(*MITER, "--cut-spread", "0.02deg", "--json").out)["cut_spread"] == pytest.approx(0.02)
    assert "(yours)" in run(*MITER, "--link", "runner play=0.05deg", "--more").out


def test_a_gap_or_a_deviation_is_a_tolerance_too(run: Run) -> None:
    """0.1 mm over 300 mm is atan(1/3000) = 0.0190986 deg (closed form)."""
    told = json.loads(
        run("plan", "--kind", "square", "--fence-length", "560mm", "--tolerance", "0.1mm/300mm", "--json").out
    )
    assert told["tolerance"] == pytest.approx(0.0190986, abs=5e-8)


def test_a_lever_too_short_for_the_leaf_is_told(run: Run) -> None:
    """At 150 mm no leaf is fine enough for 0.012 deg: the advice says how long the lever must be."""
    done = run("plan", "--kind", "square", "--tolerance", "0.012deg", "--fence-length", "150mm")
    assert done.status == 0
    needed = re.search(r"make it (\d+) mm", " ".join(done.out.split()))
    assert needed is not None
    assert int(needed[1]) == 182  # 0.0381 mm / tan 0.012 deg = 181.9 mm (closed form)


@pytest.mark.parametrize(
    ("fence", "words"),
    [("single", "screw or pin"), ("v-foot", "turns about one foot"), ("v-point", "held at its point")],
)
def test_the_levers_ends_are_those_of_the_fence(run: Run, fence: str, words: str) -> None:
    """Where the pivot and the leaf are is told for the fence that was said, and for no other."""
    told = " ".join(run(*MITER, "--fence", fence, "--more").out.split())
    assert words in told
    assert [other for other in ("screw or pin", "turns about one foot", "held at its point") if other in told] == [
        words
    ]


def test_a_jigs_file_fills_the_plan_and_must_be_of_its_kind(run: Run, tmp_path: Path) -> None:
    """A miter jig's kind, lever, fence and tolerance are taken from its file; for a square fence it is refused."""
    file = tmp_path / "sled.toml"
    about = ["--kind", "miter", "--fence-length", "380mm", "--fence", "v-foot", "--tolerance", "0.05deg"]
    assert run("jig", "new", "--out", file, *about).status == 0
    told = json.loads(run("plan", "--jig", file, "--json").out)
    assert (told["kind"], told["fence_length"], told["fence"]) == ("miter", 380.0, "v-foot")
    refused = run("plan", "--kind", "square", "--jig", file)
    assert (refused.status, refused.out) == (2, "")
    assert "its lever would give a wrong move" in " ".join(refused.err.split())


def test_one_paper_alone(run: Run) -> None:
    """With A4 alone no piece is advised that two photos could not show on it."""
    told = json.loads(run(*MITER, "--with", "photo", "--paper", "a4", "--json").out)
    for test in told["tests"]:
        for trial in test["table"]:
            assert [paper["paper"] for paper in trial["papers"]] == ["a4"]
            assert trial["papers"][0]["turned"] or test["test"] == "one photo"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([*SQUARE, "--fence", "v-foot"], "--fence v-foot belongs to a miter fence"),
        ([*SQUARE, "--nominal", "45deg"], "--nominal belongs to a miter fence"),
        (["plan", "--kind", "miter", "--tolerance", "0.05deg"], "--fence-length is not given"),
        ([*MITER[:4], "0deg", *MITER[5:]], "must be more than zero"),
        ([*MITER[:4], "nan", *MITER[5:]], "cannot be read"),
        ([*MITER[:4], "0.05", *MITER[5:]], "without a unit"),
        ([*MITER[:6], "20mm"], "too short"),
        ([*MITER[:6], "1e400mm"], "more than 100 m"),
        ([*MITER, "--longest-piece", "30mm"], "too small to be cut safely"),
        ([*MITER, "--least-piece", "30mm"], "can be raised, not lowered"),
        ([*MITER, "--thickness", "90mm"], "makes no test piece"),
        ([*MITER, "--link", "runner play"], "without a value"),
        ([*MITER, "--link", "belt=0.1deg"], "no link 'belt'"),
        ([*MITER, "--link", "runner play=0.1deg", "--link", "runner play=0.2deg"], "twice"),
        ([*MITER, "--joint-width", "0mm"], "more than zero"),
        ([*MITER[:4], "0.001deg", *MITER[5:]], "finer than anything at hand"),
    ],
)
def test_what_cannot_be_is_refused_in_words(run: Run, arguments: list[str], words: str) -> None:
    """Exit status 2, nothing on standard output, what was wrong and what to do on standard error."""
    done = run(*arguments)
    assert (done.status, done.out) == (2, "")
    told = " ".join(done.err.split())
    assert words in told
    assert "What to do:" in told


def test_a_refusal_that_sends_to_the_saw_carries_the_cautions(run: Run) -> None:
    """A piece too small to cut safely: the cautions stand below the refusal."""
    assert "unplug" in run(*MITER, "--longest-piece", "30mm").err
