"""`cutvision joint`, and the joints of a frame at a correction's end."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cutvision.reports.columns import COLUMNS
from cutvision.reports.joint_drawing import enlargement

Run = Callable[..., Any]
FRAME = ("joint", "--error", "0.1deg", "--sides", "4", "--stock", "60mm")
SIDES = ("--long", "400mm", "--short", "300mm")
MITER = ("correct", "miter", "--left-leg", "101.62mm", "--right-leg", "101.35mm", "--fence-length", "380mm")


def test_the_worked_example_of_the_help(run: Run) -> None:
    """What to do stands last, both units and the end that gapes above it; --more adds what adds up and the cautions."""
    done = run(*FRAME, *SIDES)
    assert done.status == 0
    assert max(len(line) for line in done.out.splitlines()) <= COLUMNS
    assert done.out.index("0.3 mm (0.0117 in)") < done.out.index("True the fence before you cut the frame")
    assert "toe (outer corner)" in done.out
    more = run(*FRAME, *SIDES, "--more").out
    for words in ("1.18 mm", "What adds up", "What closes", "unplug", "guard"):
        assert words in more


def test_the_example_as_json(run: Run) -> None:
    """Degrees and millimetres whatever was typed; the closed-frame figures (closed form)."""
    told = json.loads(run(*FRAME, *SIDES, "--json").out)
    assert told["schema"] == "cutvision/joint/1"
    assert told["gap_each"]["value"] == pytest.approx(0.2961920, abs=5.1e-8)
    assert told["gap_last"]["value"] == pytest.approx(1.1847592, abs=5.1e-8)
    assert (told["gapes_at"], told["nominal"]) == ("toe", pytest.approx(45.0))
    assert told["open_frame"]["sides"] == [400.0, 300.0, 400.0, 300.0]
    inches = json.loads(run("joint", "--error", "6min", "--sides", "4", "--stock", "2.3622047244in", "--json").out)
    assert inches["gap_each"]["value"] == pytest.approx(0.2961920, abs=1e-6)
    assert inches["open_frame"] is None


def test_a_gap_that_does_not_show_lets_the_frame_be_cut(run: Run) -> None:
    """Cut it, with cautions for the cut; what a last joint would show is said; heel for cuts that go over."""
    done = run(
        "joint",
        "--error",
        "0.03deg",
        "--error-to",
        "0.02deg",
        "--cuts",
        "over",
        "--sides",
        "6",
        "--stock",
        "50mm",
        "--more",
    )
    for words in ("\nCut the frame", "Close all joints together", "heel (inner corner)", "guard"):
        assert words in done.out
    true = run("joint", "--error", "0deg", "--sides", "12", "--stock", "30mm")
    assert "\nCut the frame" in true.out
    assert "Close all joints" not in true.out


def test_sides_that_do_not_go_in(run: Run) -> None:
    """Cuts that go over overlap at the last joint; unequal opposite sides are told."""
    over = run(*FRAME, *SIDES, "--cuts", "over", "--more")
    assert "overlapping by" in over.out
    assert "does not go in" in " ".join(over.out.split())
    unequal = run("joint", "--error", "0deg", "--sides", "4", "--stock", "60mm", "--long", "400mm,400.5mm", *SIDES[2:])
    text = " ".join(unequal.out.split())
    assert "Cut opposite sides to one length first" in text
    assert "would be 0.35 mm (0.0139 in) off" in text
    assert "walk" not in text


def test_an_error_over_a_length(run: Run) -> None:
    """The error may be said over a length too: atan(0.1 / 60) is 0.0955 deg."""
    told = json.loads(run("joint", "--error", "0.1mm/60mm", "--sides", "4", "--stock", "60mm", "--json").out)
    assert told["error"]["value"] == pytest.approx(0.0954929, abs=1e-6)


@pytest.mark.parametrize("ending", ["svg", "png", "pdf"])
def test_the_drawing_is_written(run: Run, tmp_path: Path, ending: str) -> None:
    """One file in the format of its ending, the same each time."""
    files = [tmp_path / f"{name}.{ending}" for name in ("one", "two")]
    for file in files:
        done = run(*FRAME, *SIDES, "--drawing", str(file))
        assert done.status == 0
        assert f"Wrote {file}" in done.err.replace("\n", "")
    assert files[0].read_bytes() == files[1].read_bytes()
    assert files[0].stat().st_size > 5000


@pytest.mark.parametrize(("gap", "times"), [(0.0, 1), (0.001, 10_000), (0.3, 50), (1.2, 10), (30.0, 1)])
def test_gaps_are_enlarged_by_a_round_number(gap: float, times: int) -> None:
    """As wide as can be seen, never over a fifth or so of the joint; nothing is enlarged when it is wide already."""
    assert enlargement(gap, 84.85) == times


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((*FRAME[:2], "0.1", *FRAME[3:]), "without a unit"),
        ((*FRAME[:2], "45deg", *FRAME[3:]), "make no frame"),
        ((*FRAME[:2], "1e400deg", *FRAME[3:]), "more than a full turn"),
        ((*FRAME[:4], "2", *FRAME[5:]), "2 sides"),
        ((*FRAME[:6], "60"), "without a unit"),
        ((*FRAME[:6], "-60mm"), "cannot be negative"),
        ((*FRAME, "--short", "300mm"), "--short is given without"),
        ((*FRAME, "--long", "400mm,400mm,400mm"), "two long and two short"),
        ((*FRAME, "--long", "100mm"), "no room"),
        ((*FRAME[:4], "6", *FRAME[5:], *SIDES), "sides of one length"),
        ((*FRAME, "--drawing", "frame.txt"), "a drawing is written as"),
        ((*FRAME, "--drawing", "no-such-folder/frame.png"), "no folder"),
    ],
)
def test_wrong_values_are_refused_in_words(run: Run, arguments: tuple[str, ...], said: str) -> None:
    """Exit status 2, what is wrong named, nothing on standard output."""
    done = run(*arguments)
    assert (done.status, done.out) == (2, "")
    assert said in " ".join(done.err.split())


def test_a_correction_ends_with_the_joints_of_a_frame(run: Run) -> None:
    """The fence's error as it stands on 4 sides of 60 mm: each joint, in the text with --more and as JSON."""
    framed = (*MITER, "--kept", "left", "--joint-sides", "4", "--joint-stock", "60mm")
    told = json.loads(run(*framed, "--json").out)
    assert (told["schema"], told["joint"]["sides"]) == ("cutvision/correction/1", 4)
    assert f"{told['joint']['gap_each']['value']:.2f} ±" in " ".join(run(*framed, "--more").out.split())
    assert "joint" not in json.loads(run(*MITER, "--json").out)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--joint-sides", "4"), "--joint-sides alone"),
        (("--joint-stock", "60mm"), "--joint-stock alone"),
        (("--joint-sides", "6", "--joint-stock", "60mm"), "cut at 30 deg"),
        (("--joint-sides", "4", "--joint-stock", "60"), "without a unit"),
    ],
)
def test_a_frame_half_said_is_refused(run: Run, options: tuple[str, ...], said: str) -> None:
    """Both options or none, and a frame that goes with the fence."""
    done = run(*MITER, *options)
    assert (done.status, done.out) == (2, "")
    assert said in " ".join(done.err.split())


@pytest.mark.parametrize(
    ("tolerance", "action", "said"),
    [
        ("3thou/18in", "move", "3thou over 18in"),
        ("0.13deg", "leave", "0.13deg"),
        ("gap:0.3mm/60mm", "leave", "a gap of at most 0.3mm in a joint of two 45 deg cuts 60mm wide"),
    ],
)
def test_a_correction_takes_a_tolerance_as_people_say_it(run: Run, tolerance: str, action: str, said: str) -> None:
    """Its words, what to do and how probable it is that the error lies within it."""
    decision = json.loads(run(*MITER, "--tolerance", tolerance, "--json").out)["decision"]
    assert (decision["action"], decision["tolerance_said"]) == (action, said)
    assert 0 <= decision["probability_within"] <= 1
    assert all(set(one) == {"name", "sentence", "bound_after", "settles"} for one in decision["remedies"])
