"""`cutvision correct arms` and `assembly`, a difference, a protractor, instruments, how to read: from the outside."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from cutvision.jobs.registry import CORRECT

LEGS = ["--left-arm-left-leg", "101.62mm", "--left-arm-right-leg", "101.35mm"]
LEGS += ["--right-arm-left-leg", "101.58mm", "--right-arm-right-leg", "101.41mm"]
ARMS = ["correct", "arms", *LEGS, "--fence-length", "500mm"]
ANGLES = ["correct", "arms", "--left-arm-angle", "45.05deg", "--right-arm-angle", "45.01deg", "--angle-to", "0.01deg"]
ANGLES += ["--fence-length", "500mm"]
ASSEMBLY = ["correct", "assembly", "--left-pair-gap", "0.3mm", "--left-pair-gap-at", "heel", "--mixed-gap", "0.1mm"]
ASSEMBLY += ["--mixed-gap-at", "toe", "--face", "85mm", "--fence-length", "500mm"]
MITER = ["correct", "miter", "--fence-length", "380mm"]
SQUARE = ["correct", "square", "--between", "380mm", "--fence-length", "560mm"]
DIRECT = ["correct", "direct", "--square-on", "left", "--fence-length", "560mm"]


def test_arms_by_their_legs(run: Callable[..., Any]) -> None:
    """45 deg - atan(left/right) for each arm, their mean and their difference (closed form)."""
    told = json.loads(run(*ARMS, "--json").out)
    left, right = (45 - math.degrees(math.atan(a / b)) for a, b in ((101.62, 101.35), (101.58, 101.41)))
    assert told["method"] == "arms"
    assert told["arms"]["left"]["value"] == pytest.approx(left, abs=1e-9)
    assert told["arms"]["right"]["value"] == pytest.approx(right, abs=1e-9)
    assert told["arms"]["opening"]["value"] == pytest.approx(right - left, abs=1e-9)
    assert told["angle_error"]["value"] == pytest.approx((left + right) / 2, abs=1e-9)
    assert (told["side"], told["turn"], told["kept"]) == ("right", "counterclockwise", None)
    assert [one["kept"] for one in told["candidates"]] == ["left", "right"]


def test_arms_by_their_angles(run: Callable[..., Any]) -> None:
    """Left 45 - 45.05, right 45.01 - 45: mean -0.02 deg, the V's own angle 0.06 deg over (closed form)."""
    told = json.loads(run(*ANGLES, "--json").out)
    assert told["angle_error"]["value"] == pytest.approx(-0.02, abs=1e-9)
    assert told["arms"]["opening"]["value"] == pytest.approx(0.06, abs=1e-9)
    assert told["uncured"] is not None
    assert "--leg-length" in run(*ANGLES, "--more").out


def test_joints_put_together(run: Callable[..., Any]) -> None:
    """0.3 mm at the heel over 85 mm, halved; 0.1 mm at the toe for both arms together (closed form)."""
    told = json.loads(run(*ASSEMBLY, "--json").out)
    left = math.degrees(math.asin(0.3 / 170))
    mixed = -math.degrees(2 * math.asin(0.1 / 170))
    assert told["arms"]["left"]["value"] == pytest.approx(left, abs=1e-9)
    assert told["arms"]["right"]["value"] == pytest.approx(left - mixed, abs=1e-9)


def test_a_gap_is_a_tolerance_of_an_assembly(run: Callable[..., Any]) -> None:
    """Joints in a true square are of two 45 deg cuts: asin(0.1 cos 45 deg / 120) = 0.0337619 deg (closed form)."""
    told = json.loads(run(*ASSEMBLY, "--tolerance", "gap:0.1mm/60mm", "--json").out)
    assert told["decision"]["tolerance"] == pytest.approx(0.0337619, abs=5e-8)


@pytest.mark.parametrize("name", CORRECT)
def test_the_worked_examples_run(run: Callable[..., Any], name: str) -> None:
    """What the help shows as an example is a command that gives a result."""
    shown = CORRECT[name].kind.__doc__ or ""
    examples = re.findall(r"^\s*(cutvision correct [^\n]+(?:\n(?!\n)[^\n]+)*)", shown, re.MULTILINE)
    assert len(examples) == 1
    assert run(*examples[0].split()[1:]).status == 0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([*ARMS[:-4], *ARMS[-2:]], "--right-arm-right-leg is not given"),
        ([*ARMS, "--left-arm-angle", "45deg"], "two ways to say"),
        ([*ARMS, "--angle-to", "0.01deg"], "belong to angles"),
        ([*ANGLES[:4], *ANGLES[6:]], "that of each arm"),
        ([*ANGLES, "--fence", "single", "--pivot", "left"], "no second arm"),
        ([*ARMS, "--nominal", "90deg"], "has no arms"),
        ([*ASSEMBLY[:6], *ASSEMBLY[10:]], "One joint"),
        ([*ASSEMBLY[:4], *ASSEMBLY[6:]], "does not say where"),
        ([*ASSEMBLY, "--right-pair-gap-at", "toe"], "--right-pair-gap is not given"),
        ([*ASSEMBLY, "--least-gap", "0mm"], "more than zero"),
        ([*ASSEMBLY[:3], "0.3", *ASSEMBLY[4:]], "without a unit"),
    ],
)
def test_wrong_arms_are_refused(run: Callable[..., Any], arguments: list[str], said: str) -> None:
    """Exit status 2, what is wrong named, nothing on standard output."""
    done = run(*arguments)
    assert (done.status, done.out) == (2, "")
    assert said in " ".join(done.err.split())


def test_a_joint_without_any_gap_needs_no_end(run: Callable[..., Any]) -> None:
    """No leaf goes in at all: heel or toe makes no difference."""
    base = ["correct", "assembly", "--face", "85mm", "--fence-length", "500mm"]
    done = run(*base, "--left-pair-gap", "0mm", "--right-pair-gap", "0mm", "--json")
    assert json.loads(done.out)["angle_error"]["value"] == 0


def test_a_difference_gives_what_two_readings_give(run: Callable[..., Any]) -> None:
    """One leg, or one width, and the difference: the value of both readings, with a smaller part of the hand."""
    both = json.loads(run(*MITER, "--left-leg", "101.62mm", "--right-leg", "101.35mm", "--json").out)
    one = json.loads(
        run(*MITER, "--left-leg", "101.62mm", "--difference", "0.27mm", "--shorter", "right", "--json").out
    )
    other = json.loads(
        run(*MITER, "--right-leg", "101.35mm", "--difference", "0.27mm", "--shorter", "right", "--json").out
    )
    for told in (one, other):
        assert told["angle_error"]["value"] == pytest.approx(both["angle_error"]["value"], rel=1e-9)
        assert told["side"] == "right"
    both = json.loads(run(*SQUARE, "--at-fence", "24.9mm", "--far-end", "24.77mm", "--json").out)
    one = json.loads(run(*SQUARE, "--at-fence", "24.9mm", "--difference", "0.13mm", "--wider", "fence", "--json").out)
    assert one["angle_error"]["value"] == pytest.approx(both["angle_error"]["value"], rel=1e-9)
    assert "taper" in run(*SQUARE, "--at-fence", "24.9mm", "--difference", "0.13mm", "--wider", "far", "--explain").out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (MITER, "--left-leg and --right-leg are not given"),
        ([*MITER, "--left-leg", "101mm"], "--right-leg is not given"),
        ([*MITER, "--left-leg", "101mm", "--right-leg", "101mm", "--shorter", "left"], "belongs to --difference"),
        ([*MITER, "--left-leg", "101mm", "--right-leg", "101mm", "--difference", "0.1mm"], "both are given"),
        ([*MITER, "--difference", "0.1mm", "--shorter", "left"], "neither is given"),
        ([*MITER, "--left-leg", "101mm", "--difference", "0.1mm"], "--shorter"),
        ([*SQUARE, "--at-fence", "25mm", "--difference", "0.1mm"], "--wider"),
        ([*SQUARE, "--at-fence", "25mm", "--difference", "30mm", "--wider", "fence"], "cannot be that of"),
    ],
)
def test_half_a_difference_is_refused(run: Callable[..., Any], arguments: list[str], said: str) -> None:
    """Two readings, or one with the difference and which is the larger: anything else is refused in words."""
    done = run(*arguments)
    assert (done.status, done.out) == (2, "")
    assert said in " ".join(done.err.split())


def test_a_protractor_in_place_of_a_gap(run: Callable[..., Any]) -> None:
    """22.4 deg at a 22.5 deg miter, 89.9 deg at a square cut: 0.1 deg too little (closed form)."""
    for shown in (["--reading", "22.4deg", "--nominal", "22.5deg"], ["--reading", "89.9deg"]):
        told = json.loads(run(*DIRECT, *shown, "--json").out)
        assert told["angle_error"]["value"] == pytest.approx(-0.1, abs=1e-9)
        assert told["turn"] == "counterclockwise"
    assert "--reading-to" in run(*DIRECT, "--reading", "89.9deg", "--more").out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "A gap takes"),
        (["--gap", "0.1mm", "--over", "200mm"], "A gap takes"),
        (["--reading", "89.9deg", "--gap", "0.1mm"], "stands in for"),
        (["--reading-to", "0.1deg", "--gap", "0.1mm", "--over", "200mm", "--gap-at", "far"], "not given"),
        (["--reading", "44.8deg", "--nominal", "45deg"], "opposite ways"),
        (["--reading", "89.9"], "without a unit"),
    ],
)
def test_half_a_protractor_is_refused(run: Callable[..., Any], arguments: list[str], said: str) -> None:
    """A gap whole, or a reading by itself, and its scale where both are possible."""
    done = run(*DIRECT, *arguments)
    assert (done.status, done.out) == (2, "")
    assert said in " ".join(done.err.split())


def test_each_limit_of_an_instrument_is_in_both_units(run: Callable[..., Any]) -> None:
    """Every figure in mm has its inches behind it, within 80 columns."""
    done = run("correct", "instruments")
    assert all(len(line) <= 80 for line in done.out.splitlines())
    told = [" ".join(block.split()).split(" errs by ")[1] for block in done.out.split("\n\n")[1:]]
    figures = [figure for text in told for figure in re.findall(r"[0-9.]+ mm(?: \([0-9.]+ in\))?", text)]
    assert (len(told), [one for one in figures if "in)" not in one]) == (8, [])


def test_instruments_are_listed_and_used(run: Callable[..., Any]) -> None:
    """Each record is told as text and as JSON; --instrument names it beside the answer, --read-to wins."""
    listed = json.loads(run("correct", "instruments", "--json").out)
    assert listed["schema"] == "cutvision/instruments/1"
    text = run("correct", "instruments").out
    assert max(map(len, text.splitlines())) <= 80
    for one in listed["instruments"]:
        assert f"{one['name']}:" in text
        assert one["limits"][-1]["up_to"] is None
    legs = [*MITER, "--left-leg", "101.6mm", "--right-leg", "101.4mm", "--instrument", "vernier-0.05mm"]
    assert "record vernier-0.05mm" in " ".join(run(*legs, "--more").out.split())
    assert "--read-to" not in run(*legs, "--read-to", "0.02mm", "--more").out
    wrong = run(*legs[:-1], "yardstick")
    assert (wrong.status, wrong.out) == (2, "")
    assert "vernier-0.02mm" in wrong.err


@pytest.mark.parametrize("method", ["miter", "square", "arms", "assembly", "direct", "facing", "frame"])
def test_how_to_read_is_told_and_drawn(run: Callable[..., Any], method: str, tmp_path: Path) -> None:
    """Lines and a picture for every method, with cautions beside them, before anything was read."""
    picture = tmp_path / "how.png"
    done = run("correct", method, "--how", "--how-drawing", picture)
    assert done.status == 0
    assert "unplug" in done.out
    assert max(map(len, done.out.splitlines())) <= 80
    with Image.open(picture) as image:
        assert image.size[0] > image.size[1] > 500


def test_a_drawing_that_cannot_be_written_leaves_no_answer(run: Callable[..., Any], tmp_path: Path) -> None:
    """Nothing is printed, or kept, by a command that ends in a refusal."""
    folder = tmp_path / "taken.svg"
    folder.mkdir()
    done = run(*MITER, "--left-leg", "101.62mm", "--right-leg", "101.35mm", "--how-drawing", folder, "--json")
    assert (done.status, done.out) == (2, "")


def test_a_misread_leg_is_asked_about_and_an_outlier_noted(run: Callable[..., Any]) -> None:
    """Over 2 deg the reading is named; a repeated reading far off its like is noted beside the answer."""
    asked = run(*MITER, "--left-leg", "110.62mm", "--right-leg", "101.35mm")
    assert asked.status == 2
    assert "101.62 mm as 110.62 mm (left leg)" in " ".join(asked.err.split())
    lefts = "101.62mm,101.63mm,101.62mm,102.12mm"
    noted = json.loads(run(*MITER, "--left-leg", lefts, "--right-leg", "101.35mm", "--json").out)
    assert [note["name"] for note in noted["notes"]] == ["outlier"]


def test_pieces_may_stand_alone_and_the_measuring_may_be_taken_off_the_spread(run: Callable[..., Any]) -> None:
    """--pieces divides edges and tips without a spread; --cut-angles-to takes u off in squares, never below nothing."""
    legs = [*MITER, "--left-leg", "101.62mm", "--right-leg", "101.35mm", "--json"]

    def row(name: str, *more: str) -> float:
        budget = json.loads(run(*legs, *more).out)["budget"]
        return float({r["influence"]: r["standard_uncertainty"] for r in budget}[name])

    for name in ("edge form", "broken tips"):
        assert row(name, "--pieces", "4") == pytest.approx(row(name) / 2, rel=1e-9)
    assert row("reading", "--pieces", "4") == pytest.approx(row("reading"), rel=1e-9)
    cuts = ("--cut-angles", "44.99deg,45deg,45.01deg")
    spread = "spread of the cut"
    assert row(spread, *cuts) == pytest.approx(0.01, rel=1e-9)
    # 0.012 as a 95 % bound is 0.006: sqrt(0.01^2 - 0.006^2) = 0.008 (closed form).
    assert row(spread, *cuts, "--cut-angles-to", "0.012deg") == pytest.approx(0.008, rel=1e-9)
    assert row(spread, *cuts, "--cut-angles-to", "0.1deg") == 0.0
    alone = run(*legs, "--cut-angles-to", "0.1deg")
    assert (alone.status, alone.out) == (2, "")
