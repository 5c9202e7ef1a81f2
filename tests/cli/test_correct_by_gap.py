"""`cutvision correct direct`, `facing` and `frame` from the outside: a gap in, the move out."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

DIRECT = ["correct", "direct", "--gap", "0.5mm", "--over", "300mm", "--gap-at", "far", "--square-on", "left"]
FACING = ["correct", "facing", "--gap", "0.5mm", "--over", "300mm", "--gap-at", "fence", "--kept", "right"]
FRAME = ["correct", "frame", "--gap", "1.1826968mm", "--stock", "60mm", "--sides", "4", "--gap-at", "toe"]
FRAME += ["--kept", "left"]
LEVER = ["--fence-length", "380mm"]


def test_a_frame_open_at_both_corners_counts_by_how_much_wider_it_is_at_one(run: Callable[..., Any]) -> None:
    """0.5 mm more at either corner changes nothing but the uncertainty, which both readings then share in."""
    one = json.loads(run(*FRAME, *LEVER, "--json").out)["angle_error"]
    wide = [f"{float(word.removesuffix('mm')) + 0.5:.7f}mm" if word.startswith("1.18") else word for word in FRAME]
    both = json.loads(run(*wide, "--other-gap", "0.5mm", *LEVER, "--json").out)["angle_error"]
    assert both["value"] == pytest.approx(one["value"], abs=1e-8)
    assert both["standard_uncertainty"] > one["standard_uncertainty"]


@pytest.mark.parametrize(
    ("arguments", "error_deg", "side", "turn"),
    [
        (DIRECT, 0.09549288, "toward-work", "clockwise"),
        (FACING, -0.04774644, "toward-work", "counterclockwise"),
        (FRAME, -0.1, None, "counterclockwise"),
    ],
)
def test_each_gap_as_json(
    run: Callable[..., Any], arguments: list[str], error_deg: float, side: str | None, turn: str
) -> None:
    """atan(0.5/300), half of it, and four sides cut short by 0.1 deg: 2 60 / cos 44.9 deg sin 0.4 deg (closed form)."""
    done = run(*arguments, *LEVER, "--json")
    told = json.loads(done.out)
    assert (done.status, done.err) == (0, "")
    assert told["schema"] == "cutvision/correction/1"
    assert told["method"] == arguments[1]
    assert told["angle_error"]["value"] == pytest.approx(error_deg, abs=2e-8)
    assert (told["side"], told["turn"]) == (side, turn)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([*DIRECT[:3], "0.5", *DIRECT[4:]], "without a unit"),
        ([*DIRECT[:3], "20mm", *DIRECT[4:]], "more than 2 deg"),
        ([*DIRECT, "--nominal", "95deg"], "is none"),
        ([*FACING[:5], "0mm", *FACING[6:]], "more than zero"),
        ([*FACING[:3], "0.5mm,5mm", *FACING[4:]], "readings of the gap"),
        ([*FRAME[:7], "2", *FRAME[8:]], "2 sides"),
        ([*FRAME[:3], "200mm", *FRAME[4:]], "wider than a joint"),
        (FRAME[:-2], "--kept"),
    ],
)
def test_wrong_values_are_refused_in_words(run: Callable[..., Any], arguments: list[str], said: str) -> None:
    """Exit status 2, what is wrong named, nothing on standard output."""
    done = run(*arguments, *LEVER)
    assert (done.status, done.out) == (2, "")
    assert said in done.err
