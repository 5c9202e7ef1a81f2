"""`cutvision correct steps` from the outside: a run typed or in a file to the next move, as text, JSON and a chart."""

from __future__ import annotations

import json
import shlex
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cutvision.jobs.steps import Steps

COMMAND = ["correct", "steps", "--fence-length", "380mm"]
FIRST, MOVED, SECOND = "cut 0.30deg ccw to 0.02deg", "move 1.5mm cw", "cut 0.08deg ccw to 0.02deg"


def answer_of(text: str) -> str:
    """The answer, which stands last, in one line."""
    return " ".join(text.rstrip().rsplit("\n\n", 1)[-1].split())


def fits_one_screen(text: str) -> bool:
    """24 lines of 80 columns."""
    lines = text.rstrip("\n").splitlines()
    return len(lines) <= 24 and max(map(len, lines)) <= 80


def test_the_action_stands_last_above_it_the_run(run: Callable[..., Any]) -> None:
    """Turn, amount, how the fence stands and moved, the run, the cautions; one screen."""
    done = run(*COMMAND, FIRST, MOVED, SECOND, "--tolerance", "0.05deg")
    assert (done.status, done.err) == (0, "")
    assert answer_of(done.out).startswith("Turn the fence clockwise: what lies left of its pivot goes away from you")
    for word in ("0.97 ± 0.13", "the right way", "cut 2", "unplug"):
        assert word in done.out
    assert fits_one_screen(done.out)
    assert "Tolerance" in run(*COMMAND, FIRST, MOVED, SECOND, "--tolerance", "0.05deg", "--more").out


@pytest.mark.parametrize(
    ("steps", "starts", "holds"),
    [
        (["cut 0.01deg cw to 0.019deg"], "Leave the fence alone", "clockwise of true"),
        (["cut 0deg to 0.019deg"], "Leave the fence alone", "off true"),
        ([FIRST, MOVED], "Cut and measure a test piece now", "should now stand"),
        (["cut 0.03deg ccw to 0.06deg"], "Leave the fence as it is", "not known yet"),
        ([FIRST, "move 2mm cw", "cut 0.60deg ccw to 0.02deg"], "Undo the last move", "2.0 times"),
        ([FIRST, "move 2mm ccw", "cut 0.60deg ccw to 0.02deg"], "Turn the fence clockwise", "made away from true"),
        ([FIRST, "move 0.05mm cw", "cut 0.295deg ccw to 0.02deg"], "Turn", "too close to call"),
        (["cut -0.3deg to 0.02deg", "move 1mm ccw", "cut -0.2deg to 0.02deg"], "Turn the fence counter", "play in the"),
        (["cut 0.3deg cw to 0.02deg", "move 1mm ccw", "cut 0deg to 0.01deg"], "Leave", "slips when clamped"),
        (
            ["cut 0.3deg ccw to 0.02deg", "move 1mm cw at 300mm", "move 1mm cw", "cut 0.2deg cw to 0.02deg"],
            "Turn",
            "other than",
        ),
        (
            ["cut 0.6deg ccw to 0.01deg", MOVED, "cut 0.3deg ccw to 0.01deg", MOVED, "cut 0.2deg ccw to 0.01deg"],
            "Turn",
            "not evenly",
        ),
    ],
)
def test_every_kind_of_answer(run: Callable[..., Any], steps: list[str], starts: str, holds: str) -> None:
    """Each action and each hint in words, cautions always beside them, one screen."""
    done = run(*COMMAND, *steps)
    assert done.status == 0
    assert answer_of(done.out).startswith(starts)
    assert holds in " ".join(done.out.split())
    assert "Caution" in done.out
    assert fits_one_screen(done.out)


def test_one_more_piece_and_an_uncertainty_that_pieces_cannot_lower(run: Callable[..., Any]) -> None:
    """One piece is called one; an uncertainty that all cuts share is not lowered by more of them."""
    one = run(*COMMAND, "cut 0.030deg ccw to 0.055deg", "--tolerance", "0.05deg")
    assert "measure one more piece" in answer_of(one.out)
    none = run(*COMMAND, "cut 0.01deg ccw to 0.1deg", "--common", "0.09deg", "--tolerance", "0.05deg")
    assert "Measure this setting better" in answer_of(none.out)


def test_the_json_object(run: Callable[..., Any]) -> None:
    """Schema, action, gain as the ratio of seen to asked, the steps as they were read."""
    done = run(*COMMAND, FIRST, MOVED, SECOND, "--json", "--distance-to", "0mm")
    told = json.loads(done.out)
    assert (told["schema"], told["action"]) == ("cutvision/adjustments/1", "move")
    (one,) = told["answers"]
    assert told["gain"]["quantity"]["value"] == pytest.approx(one["seen"]["value"] / one["intended"]["value"])
    assert told["next_move"]["turn"] == "clockwise"
    assert [step["kind"] for step in told["steps"]] == ["cut", "move", "cut"]
    assert told["steps"][1]["distance"]["value"] == 1.5
    assert told["steps"][0]["error"]["expanded_uncertainty"] == pytest.approx(0.02)
    first = json.loads(run(*COMMAND, "cut 0deg to 0.02deg", MOVED, "cut 0.2deg cw to 0.02deg", "--json").out)
    assert first["last_move"]["times"] is None
    begun = json.loads(run(*COMMAND, FIRST, "--tolerance", "0.1mm/300mm", "--json").out)
    assert (begun["gain"], begun["last_move"]) == (None, None)
    assert begun["decision"]["tolerance"] == pytest.approx(0.0190986, abs=1e-6)


@pytest.mark.parametrize(
    "text",
    [
        "cut 0.30deg ccw to 0.02deg\nmove 1.5mm cw\ncut 0.08deg ccw to 0.02deg\n",
        "# today\n\nCUT,+0.30deg,0.02deg\nmoved;1.5mm;clockwise # leaf\ncut 4.8min counter-clockwise ± 1.2min\n",
        "\ufeffcut +0.30 deg +/-0.02 deg\r\nmove by 1.5 mm cw at 380mm\r\ncut of 0.08deg anticlockwise +-0.02deg\r\n",
    ],
)
def test_a_run_in_a_file(run: Callable[..., Any], tmp_path: Path, text: str) -> None:
    """Plain lines, CSV, remarks, signs or words, minutes or degrees: the same run gives the same move."""
    file = tmp_path / "run.txt"
    file.write_text(text, "utf-8")
    told = json.loads(run(*COMMAND, "--file", file, "--json").out)
    assert told["next_move"]["distance"]["value"] == pytest.approx(0.5305804, rel=1e-6)


def test_parts_that_follow_each_other_are_one_value(run: Callable[..., Any]) -> None:
    """1 deg 5 min is one angle, not an angle and its bound; 1 1/16 in is one length."""
    told = json.loads(
        run(*COMMAND, "cut 1deg 5min cw to 1min 30s", "move 1 1/16in ccw", "cut 1deg cw 2min", "--json").out
    )
    assert told["steps"][0]["error"]["value"] == pytest.approx(-65 / 60)
    assert told["steps"][0]["error"]["expanded_uncertainty"] == pytest.approx(1.5 / 60)
    assert told["steps"][1]["distance"]["value"] == pytest.approx(25.4 * 17 / 16)
    assert told["steps"][2]["error"]["expanded_uncertainty"] == pytest.approx(2 / 60)


def test_typed_steps_come_after_those_of_the_file(run: Callable[..., Any], tmp_path: Path) -> None:
    """A file kept from before is gone on with on the line; --cut-to stands in for a bound; inches are read."""
    file = tmp_path / "run.csv"
    file.write_text("cut,+0.30deg\n", "utf-8")
    told = json.loads(run(*COMMAND, "--file", file, "--cut-to", "0.02deg", "move 1/16in cw", SECOND, "--json").out)
    assert [step["kind"] for step in told["steps"]] == ["cut", "move", "cut"]
    assert told["steps"][1]["distance"]["value"] == pytest.approx(25.4 / 16)


@pytest.mark.parametrize("ending", ["svg", "png", "pdf"])
def test_the_chart_is_written(run: Callable[..., Any], tmp_path: Path, ending: str) -> None:
    """Each format, told on standard error; the same run gives the same bytes."""
    one, two = tmp_path / f"1.{ending}", tmp_path / f"2.{ending}"
    for file in (one, two):
        steps = [FIRST, MOVED, "move 0.2mm ccw", SECOND, "move 0.4mm cw"]
        done = run(*COMMAND, *steps, "--tolerance", "0.05deg", "--chart", file)
        assert (done.status, "Wrote" in done.err) == (0, True)
    assert one.read_bytes() == two.read_bytes()
    assert len(one.read_bytes()) > 5000


def test_a_long_run_is_charted_too(run: Callable[..., Any], tmp_path: Path) -> None:
    """Thirty cuts crowd neither ticks nor words; the last move waits for its cut."""
    steps = [step for _ in range(30) for step in ("cut 0.1deg ccw to 0.02deg", "move 0.1mm cw")]
    done = run(*COMMAND, *steps, "--chart", tmp_path / "long.svg")
    assert done.status == 0
    assert answer_of(done.out).startswith("Cut and measure")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([], "There is no step"),
        (["turn 1mm cw"], "neither a cut nor a move"),
        ([" "], "neither a cut nor a move"),
        (["move 1mm cw", FIRST], "does not start with a test cut"),
        (["cut ccw to 0.02deg"], "names no error"),
        (["cut 0.3deg to 0.02deg"], "which way the fence stands"),
        (["cut +0.3deg ccw to 0.02deg"], "a sign and a way"),
        (["cut 0.3deg ccw cw to 0.02deg"], "more than one way"),
        (["cut 0.3deg ccw"], "has no uncertainty"),
        (["cut 0.3deg ccw to 0deg"], "more than zero"),
        (["cut 0.3 ccw to 0.02deg"], "0.3 without a unit"),
        (["cut 0.3 to 0.02deg"], "0.3 without a unit"),
        (["cut ccw 0.3"], "0.3 without a unit"),
        (["cut 0,30deg ccw to 0.02deg"], "0 without a unit"),
        (["cut 0.3deg, 0.02deg, 0.01deg ccw"], "more values than it can use"),
        (["cut 0.3deg ccw to 0.02deg to 0.01deg"], "do not belong to one value"),
        (["cut 0.3deg ccw to 0.02deg at 380mm"], "does not belong there"),
        (["cut 3deg ccw to 0.02deg"], "more than 2 deg"),
        (["cut 1e400deg ccw to 0.02deg"], "more than a full turn"),
        (["cut nandeg ccw to 0.02deg"], "which cannot be read"),
        (["cut 3mm ccw to 0.02deg"], "which is a length"),
        ([FIRST, "move 1.5mm"], "which way the fence was to turn"),
        ([FIRST, "move cw"], "does not say how far"),
        ([FIRST, "move 0mm cw"], "more than zero"),
        ([FIRST, "move 500mm cw"], "would turn the fence by"),
        ([FIRST, "move 0.2deg cw"], "which is an angle"),
        ([FIRST, "move 1mm cw at 0mm"], "more than zero"),
        ([FIRST, "--common", "0.03deg"], "part that all cuts share"),
        ([FIRST, "--tolerance", "0deg"], "more than zero"),
        ([FIRST, "--chart", "run.gif"], "is written as"),
        ([FIRST, "--chart", "no-such-folder/run.svg"], "no folder no-such-folder"),
        (["--file", "no-such-file"], "cannot be read"),
        (["--file", "."], "it is a folder"),
    ],
)
def test_each_refusal(run: Callable[..., Any], arguments: list[str], says: str) -> None:
    """What cannot be read or cannot be is refused with exit status 2 and what to type instead."""
    done = run(*COMMAND, *arguments)
    assert (done.status, done.out) == (2, "")
    assert says in " ".join(done.err.split())
    assert "What to do" in done.err


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b"cut\n" * 50_000])
def test_a_file_that_is_no_run_is_refused(run: Callable[..., Any], tmp_path: Path, content: bytes) -> None:
    """Binary or huge files are refused in words."""
    file = tmp_path / "run.bin"
    file.write_bytes(content)
    assert run(*COMMAND, "--file", file).status == 2


def test_a_faulty_line_of_a_file_is_named(run: Callable[..., Any], tmp_path: Path) -> None:
    """The message names file and line."""
    file = tmp_path / "run.txt"
    file.write_text("# begun\ncut 0.30deg ccw to 0.02deg\nmove 1.5mm\n", "utf-8")
    assert "run.txt, line 3, 'move 1.5mm'" in " ".join(run(*COMMAND, "--file", file).err.split())


def test_the_worked_example_of_the_help_runs(run: Callable[..., Any]) -> None:
    """What the help shows as an example gives a result."""
    example = " ".join((Steps.__doc__ or "").split("\n\n")[1].split())
    assert example.startswith("cutvision correct steps")
    assert run(*shlex.split(example)[1:]).status == 0
