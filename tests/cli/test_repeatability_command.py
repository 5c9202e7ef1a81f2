"""`cutvision repeatability` from the outside."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

SAMPLES = Path(__file__).parents[2] / "sample_images"
TYPED = ["repeatability", "--angles", "44.97deg,45deg,45.03deg"]


def test_typed_angles_as_json(run: Callable[..., Any]) -> None:
    """44.97, 45 and 45.03 deg: 0.03 deg on 2 degrees of freedom (closed form); less 0.024 measuring, 0.018."""
    told = json.loads(run(*TYPED, "--json").out)
    assert told["schema"] == "cutvision/repeatability/1"
    assert (told["standard_deviation"], told["degrees_of_freedom"]) == (pytest.approx(0.03, abs=1e-9), 2)
    told = json.loads(run(*TYPED, "--angles-to", "0.048deg", "--json").out)
    assert told["standard_deviation"] == pytest.approx(0.018, abs=1e-9)
    assert told["by_chance"] > 0.05


def test_the_text_gives_the_options_for_the_next_correction(run: Callable[..., Any]) -> None:
    """What it tells to give to the next correction is taken by `correct` as it stands; cautions are there."""
    done = run(*TYPED, "--angles-to", "0.01deg")
    assert done.status == 0
    assert all(len(line) <= 80 for line in done.out.splitlines())
    assert "unplug" in run(*TYPED, "--more").out
    words = " ".join(done.out.split())
    options = words[words.index("--cut-angles ") :].split()
    miter = ["correct", "miter", "--left-leg", "101.62mm", "--right-leg", "101.35mm", "--fence-length", "380mm"]
    told = json.loads(run(*miter, *options, "--json").out)
    assert any(row["influence"] == "spread of the cut" for row in told["budget"])


def test_photographed_pieces(run: Callable[..., Any]) -> None:
    """Three photos as three pieces: a spread with what measuring and edges make of it; the piece of two is one."""
    pair = f"{SAMPLES / 'miter-1.jpg'},{SAMPLES / 'miter-2-turned.jpg'}"
    others = [SAMPLES / "cherry-miter-1.jpg", SAMPLES / "cherry-miter-2-turned.jpg"]
    told = json.loads(run("repeatability", pair, *others, "--json").out)
    assert [piece["name"] for piece in told["pieces"]] == [
        "miter-1.jpg, miter-2-turned.jpg",
        "cherry-miter-1.jpg",
        "cherry-miter-2-turned.jpg",
    ]
    assert told["measuring"] > 0
    assert told["edge_form"] > 0
    assert told["seen"] > told["standard_deviation"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "no pieces to look at"),
        ([SAMPLES / "miter-1.jpg", *TYPED[1:]], "both given"),
        (["--angles", "45deg,45.1deg"], "too little"),
        (["--angles", "45deg,nan,45deg"], "--angles"),
    ],
)
def test_wrong_values_are_refused_in_words(run: Callable[..., Any], arguments: list[Any], said: str) -> None:
    """Nothing, both ways at once, two pieces, and what is no angle."""
    done = run("repeatability", *arguments)
    assert done.status == 2
    assert said in " ".join(done.err.split())


def test_a_photo_shows_one_piece(run: Callable[..., Any]) -> None:
    """A photo given for two pieces would hide how they differ."""
    photo = SAMPLES / "miter-1.jpg"
    done = run("repeatability", photo, photo, photo)
    assert done.status == 2
    assert "given for two pieces" in " ".join(done.err.split())
