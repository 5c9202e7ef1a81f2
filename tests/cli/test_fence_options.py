"""--fence and what goes with it, and --drawing, from the outside."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

MITER = ["correct", "miter", "--left-leg", "101.62mm", "--right-leg", "101.05mm", "--fence-length", "380mm"]
SQUARE = ["correct", "square", "--at-fence", "24.91mm", "--far-end", "24.38mm", "--between", "412mm"]
SQUARE += ["--fence-length", "560mm"]


@pytest.mark.parametrize(
    ("said", "told"),
    [
        (["--fence", "single"], "about which end"),
        (["--shim-at", "work"], "not how it is held"),
        (["--point-ahead", "190mm"], "not how it is held"),
        (["--screw-pitch", "1mm"], "not how it is held"),
        (["--pivot", "left", "--screw-pitch", "1mm"], "not which way"),
        (["--pivot", "left", "--screw-pushes", "away"], "no screw is given"),
        (["--fence", "v-foot", "--screw-pitch", "20in"], "not an ordinary one"),
        (["--fence", "v-foot", "--screw-pitch", "20"], "without a unit"),
        (["--fence", "v-foot", "--point-ahead", "0mm"], "more than zero"),
        (["--fence", "v-foot", "--point-ahead", "1e400mm"], "more than 100 m"),
        (["--fence", "v-point", "--pivot", "left"], "held at its point"),
        (["--drawing", "move.jpg"], ".svg, .png, .pdf"),
        (["--drawing", "no/such/folder/move.svg"], "there is no folder"),
    ],
)
def test_what_does_not_go_together_is_refused_in_words(run: Callable[..., Any], said: list[str], told: str) -> None:
    """Exit status 2 with the remedy, and no answer."""
    done = run(*MITER, *said)
    assert (done.status, done.out) == (2, "")
    assert told in " ".join(done.err.split())
    assert "What to do" in done.err


def test_a_v_makes_no_square_cut(run: Callable[..., Any]) -> None:
    """Said with the remedy; a single fence needs the kept side."""
    assert "this is a square cut" in run(*SQUARE, "--fence", "v-foot").err
    assert "--kept" in run(*SQUARE, "--pivot", "left").err


def test_the_answer_leads_with_the_move_of_this_fence(run: Callable[..., Any]) -> None:
    """A pivot at the kept end sends the other end toward the person; the interface's keys stay."""
    done = run(*SQUARE, "--kept", "left", "--pivot", "left", "--shim-at", "work", "--tolerance", "0.01deg")
    assert "between the fence's right end, as you stand behind the saw, and its stop on the work's side" in " ".join(
        done.out.split()
    )
    told = json.loads(run(*SQUARE, "--kept", "left", "--pivot", "left", "--json").out)
    assert (told["side"], told["turn"]) == ("toward-work", "clockwise")
    assert (told["plan"]["pushes"][0]["end"], told["plan"]["pushes"][0]["way"]) == ("right", "toward")


def test_leaves_for_a_v_held_at_its_point_are_for_half_the_move(run: Callable[..., Any]) -> None:
    """Each foot goes half the way (closed form)."""
    told = json.loads(run(*MITER, "--fence", "v-point", "--shim-set", "metric-13", "--json").out)
    best = told["shims"]["best"]
    assert best["total"] + best["short"] == pytest.approx(told["fence_move"]["value"] / 2, abs=1e-9)


def test_the_drawing_is_written_and_told(run: Callable[..., Any], tmp_path: Path) -> None:
    """On standard error, so that JSON stays alone on standard output."""
    file = tmp_path / "move.svg"
    done = run(*MITER, "--fence", "v-foot", "--drawing", str(file), "--json")
    json.loads(done.out)
    assert "Wrote" in done.err
    assert file.read_bytes().startswith(b"<?xml")


def test_nothing_to_move_is_said(run: Callable[..., Any], tmp_path: Path) -> None:
    """Equal legs: no file, and a line that says why."""
    file = tmp_path / "move.svg"
    done = run(*MITER[:5], "101.62mm", *MITER[6:], "--drawing", str(file))
    assert done.status == 0
    assert "Nothing drawn" in done.err
    assert not file.exists()


def test_a_file_that_cannot_be_written_is_told(run: Callable[..., Any], tmp_path: Path) -> None:
    """A folder of that name: in words, exit status 2."""
    (tmp_path / "move.png").mkdir()
    done = run(*MITER, "--drawing", str(tmp_path / "move.png"))
    assert done.status == 2
    assert "cannot be written" in " ".join(done.err.split())


def test_measure_takes_the_fence_only_with_its_lever(run: Callable[..., Any]) -> None:
    """--pivot and --drawing without --fence-length are refused before a photo is read."""
    for said in (["--pivot", "left"], ["--drawing", "move.svg"]):
        done = run("measure", "no-photo.jpg", "--shape", "miter", *said)
        assert done.status == 2
        assert "--fence-length is not given" in " ".join(done.err.split())
    done = run("measure", "no-photo.jpg", "--shape", "strip", "--fence-length", "500mm", "--fence", "v-foot")
    assert "this is a square cut" in " ".join(done.err.split())


def test_leaves_that_must_come_out_are_named_so(run: Callable[..., Any]) -> None:
    """A stop on the work's side, and a fence that must go away from you there: the stack is to be taken out."""
    legs = ("correct", "miter", "--left-leg", "101.62mm", "--right-leg", "101.05mm", "--fence-length", "380mm")
    single = ("--fence", "single", "--pivot", "left", "--kept", "left", "--shim-set", "metric-20")
    assert "Shims to take out: " in run(*legs, *single, "--shim-at", "work").out
    assert "\nShims: " in run(*legs, *single, "--shim-at", "operator").out
    assert "out from behind the left foot" in run(*legs, "--fence", "v-point", "--shim-set", "metric-20").out.replace(
        "\n", " "
    )
