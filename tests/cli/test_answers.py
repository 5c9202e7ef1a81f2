"""Every answer of `correct` and `measure`: one screen, what to do, how sure, cautions; the same in text and in JSON."""

from __future__ import annotations

import itertools
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cutvision.reports.cautions import cautions

ROOT = Path(__file__).parents[2]
LEVER = ("--fence-length", "380mm")
WAYS = {
    "miter": ("miter", "--left-leg", "101.62mm", "--right-leg", "101.05mm", "--kept", "left"),
    "miter, kept side not given": ("miter", "--left-leg", "101.62mm", "--right-leg", "101.05mm"),
    "miter 22.5": (
        *("miter", "--left-leg", "241.42mm", "--right-leg", "100.9mm"),
        *("--nominal", "22.5deg", "--kept", "left"),
    ),
    "square": ("square", "--at-fence", "24.91mm", "--far-end", "24.18mm", "--between", "412mm", "--kept", "right"),
    "square, kept side not given": ("square", "--at-fence", "24.91mm", "--far-end", "24.18mm", "--between", "412mm"),
    "direct": ("direct", "--gap", "0.5mm", "--over", "200mm", "--gap-at", "far", "--square-on", "left"),
    "protractor": ("direct", "--reading", "22.1deg", "--nominal", "22.5deg", "--square-on", "left"),
    "facing": ("facing", "--gap", "0.9mm", "--over", "300mm", "--gap-at", "fence", "--kept", "left"),
    "frame": ("frame", "--gap", "1.2mm", "--stock", "60mm", "--sides", "4", "--gap-at", "toe", "--kept", "left"),
    "arms": (
        *("arms", "--left-arm-left-leg", "101.62mm", "--left-arm-right-leg", "101.05mm"),
        *("--right-arm-left-leg", "101.58mm", "--right-arm-right-leg", "101.11mm"),
    ),
    "assembly": (
        *("assembly", "--left-pair-gap", "0.6mm", "--left-pair-gap-at", "heel", "--mixed-gap", "0.1mm"),
        *("--mixed-gap-at", "toe", "--face", "85mm"),
    ),
}


def fits_one_screen(text: str) -> bool:
    """24 lines of 80 columns."""
    lines = text.rstrip("\n").splitlines()
    return len(lines) <= 24 and all(len(line) <= 80 for line in lines)


@pytest.mark.parametrize("way", WAYS)
def test_an_answer_fits_one_screen_and_carries_cautions(run: Callable[..., Any], way: str) -> None:
    """The default and the quiet text fit 24 lines of 80 columns with the saw off in them; --more has every caution."""
    for words in ((), ("--quiet",), ("--shim-set", "metric-13")):
        done = run("correct", *WAYS[way], *LEVER, *words)
        assert (done.status, done.err) == (0, "")
        assert fits_one_screen(done.out), done.out
        assert "unplugged" in done.out
    more = " ".join(run("correct", *WAYS[way], *LEVER, "--more").out.split())
    assert all(text in more for text in cautions("measure", "cut"))


@pytest.mark.parametrize("way", WAYS)
def test_an_answer_says_its_amount_last_and_its_json_the_same(run: Callable[..., Any], way: str) -> None:
    """The move stands in the last lines, in mm and inches, as large as in the JSON, which holds the cautions too."""
    told = json.loads(run("correct", *WAYS[way], *LEVER, "--json").out)
    assert told["decision"]["action"] == "move"
    assert told["cautions"]
    text = " ".join(run("correct", *WAYS[way], *LEVER, "--quiet").out.split())
    amounts = [float(value) for value in re.findall(r"([0-9.]+) ± [0-9.]+ mm \([0-9.]+ ± [0-9.]+ in\)", text)]
    pushes = [push["distance"]["value"] for push in told["plan"]["pushes"]]
    for wanted, shown in zip(pushes, amounts, strict=False):
        assert shown == pytest.approx(wanted, rel=0.02)
    assert amounts
    if told["turn"] is not None:
        assert told["turn"] in text.replace("-", "")


def test_the_advice_changes_once_as_the_error_grows(run: Callable[..., Any]) -> None:
    """With the tolerance above the uncertainty: leave, then move; below it: cannot tell, then move; never back."""
    for tolerance, before in (("0.05deg", "leave"), ("0.01deg", "cannot-tell")):
        seen = []
        for hundredths in range(20):
            right = f"{101.62 - 0.02 * hundredths:.2f}mm"
            line = ("correct", "miter", "--left-leg", "101.62mm", "--right-leg", right, "--kept", "left", *LEVER)
            told = json.loads(run(*line, "--tolerance", tolerance, "--json").out)["decision"]
            assert told["tolerance"] == pytest.approx(float(tolerance.removesuffix("deg")))
            seen.append(told["action"])
        changes = [one for one, other in itertools.pairwise(seen) if one != other]
        assert (changes, seen[-1]) == ([before], "move")


def test_too_small_to_see_names_one_thing_that_would_tell_and_no_move(run: Callable[..., Any]) -> None:
    """Where not even the way is known the fence stays, one remedy is named, and no turn is advised."""
    line = ("correct", "miter", "--left-leg", "101.62mm", "--right-leg", "101.58mm", "--kept", "left", *LEVER)
    told = json.loads(run(*line, "--json").out)
    assert told["decision"]["action"] == "cannot-tell"
    assert told["decision"]["remedy"] is not None
    text = run(*line).out
    assert "too small to see" in " ".join(text.split())
    assert "shim of" not in text


def test_what_no_turning_cures_stands_in_the_first_lines(run: Callable[..., Any]) -> None:
    """A V that stands true but is 0.2 deg too wide opens a frame's last joint by 0.8 deg (closed form)."""
    line = ("correct", "arms", "--left-arm-angle", "45.10deg", "--right-arm-angle", "45.10deg", "--angle-to", "0.02deg")
    text = " ".join(run(*line, "--fence-length", "500mm", "--quiet").out.split())
    assert "0.200" in text
    assert "0.8" in text


def test_without_a_tolerance_the_stated_default_is_used(run: Callable[..., Any]) -> None:
    """0.1 mm over 300 mm (common practice, no source), and the answer says so."""
    told = json.loads(run("correct", *WAYS["miter"], *LEVER, "--json").out)["decision"]
    assert told["tolerance"] == pytest.approx(0.0190985931, abs=1e-9)
    assert told["tolerance_is_default"] is True
    assert "default" in run("correct", *WAYS["miter"], *LEVER).out


def test_a_photo_without_the_kept_side_shows_both_and_moves_nothing(run: Callable[..., Any]) -> None:
    """Both arms' moves stand side by side, and no shim is advised."""
    photo = ROOT / "sample_images" / "miter-1.jpg"
    line = ("measure", photo, "--shape", "miter", *LEVER)
    done = run(*line)
    assert fits_one_screen(done.out), done.out
    assert "--kept" in done.out
    correction = json.loads(run(*line, "--json").out)["correction"]
    assert correction["decision"]["action"] == "needs-kept"
    assert {one["kept"] for one in correction["candidates"]} == {"left", "right"}
    for side in ("left", "right"):
        known = json.loads(run(*line, "--kept", side, "--json").out)["correction"]
        (shown,) = (one for one in correction["candidates"] if one["kept"] == side)
        assert shown["fence_move"]["value"] == pytest.approx(known["fence_move"]["value"], rel=1e-12)
        assert shown["turn"] == known["turn"]


def test_a_refused_photo_fits_one_screen_too(run: Callable[..., Any]) -> None:
    """What was wrong and what to do about it, in at most 24 lines of 80 columns."""
    refused = min((ROOT / "sample_images" / "refused").glob("*.jpg"))
    done = run("measure", refused, "--shape", "miter")
    assert done.status == 3
    assert len(done.err.splitlines()) <= 24
