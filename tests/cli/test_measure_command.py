"""The main job from the outside: sample photos in, figures, fence move and pictures out.

The truth beside the samples is tested in `test_samples.py`. Signs: the fence under a piece that was kept on the left,
whose right leg's angle is its own (closed form: error = 45 deg less that angle, negative is clockwise).
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from cutvision.cli.measure import pictures_of

FOLDER = Path(__file__).parents[2] / "sample_images"
PHOTOS = [FOLDER / "miter-1.jpg", FOLDER / "miter-2-turned.jpg"]
LEVER_MM = 380.0
QUANTITIES = {"angle_left", "angle_right", "corner", "leg_left", "leg_right", "leg_difference", "split_error"}
MEASURE = ["measure", *PHOTOS, "--shape", "miter", "--thickness", "19mm"]
FENCE = ["--fence-length", f"{LEVER_MM:g}mm", "--kept", "left"]


@pytest.fixture
def answer(run: Callable[..., Any]) -> dict[str, Any]:
    """What `measure --json` says of the sample piece."""
    done = run(*MEASURE, *FENCE, "--json")
    assert done.status == 0
    said: dict[str, Any] = json.loads(done.out)
    return said


def test_json_holds_what_the_interface_promises(answer: dict[str, Any]) -> None:
    """Schema, shape, photos with their checksums, and every quantity of a miter with its unit and its uncertainty."""
    assert answer["schema"] == "cutvision/measurement/1"
    assert answer["shape"] == "miter"
    for photo, path in zip(answer["photos"], PHOTOS, strict=True):
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        assert {**photo, "file": str(path), "sha256": digest, "paper": "letter", "used": True} == photo
    assert set(answer["quantities"]) == QUANTITIES
    for name, said in answer["quantities"].items():
        assert said["unit"] == ("mm" if name.startswith("leg") else "deg")
        assert said["expanded_uncertainty"] == pytest.approx(said["coverage_factor"] * said["standard_uncertainty"])


def test_the_fence_move_follows_from_the_fence_leg(answer: dict[str, Any]) -> None:
    """Kept on the left, the right leg's angle is the fence's: its excess turns the fence back counterclockwise."""
    correction = answer["correction"]
    error, move = correction["angle_error"], correction["fence_move"]
    assert (correction["schema"], correction["method"]) == ("cutvision/correction/1", "miter")
    assert error["value"] == pytest.approx(45 - answer["quantities"]["angle_right"]["value"])
    assert move["value"] == pytest.approx(LEVER_MM * math.tan(math.radians(abs(error["value"]))))
    assert (correction["turn"], correction["side"]) == ("counterclockwise", "right")
    assert error["standard_uncertainty"] > answer["quantities"]["angle_right"]["standard_uncertainty"]


def test_pictures_are_written_beside_untouched_photos(run: Callable[..., Any], tmp_path: Path) -> None:
    """Each photo gets a picture of its own, without the camera's data; the photos themselves stay as they were."""
    before = [path.read_bytes() for path in PHOTOS]
    done = run(*MEASURE, *FENCE, "--picture", tmp_path / "my answer.jpg")
    assert done.status == 0
    for number in (1, 2):
        with Image.open(tmp_path / f"my answer-{number}.jpg") as picture:
            assert max(picture.size) >= 1000
            assert not picture.getexif()
    assert len(list(tmp_path.iterdir())) == len(PHOTOS)
    assert [path.read_bytes() for path in PHOTOS] == before


def test_one_photo_has_one_picture() -> None:
    """A single photo's picture has the name that was asked for, several get numbers."""
    assert pictures_of(Path("a.png"), 1) == [Path("a.png")]
    assert pictures_of(Path("d/a.png"), 2) == [Path("d/a-1.png"), Path("d/a-2.png")]


def test_the_demo_explains_and_measures(run: Callable[..., Any]) -> None:
    """`cutvision demo` numbers its steps, shows the command, gives the result and the cautions."""
    done = run("demo")
    assert done.status == 0
    assert done.out.startswith("1. ")
    assert "cutvision measure miter-1.jpg miter-2-turned.jpg" in done.out
    assert "unplug" in done.out
    assert all(len(line) <= 80 or line.startswith("/") for line in done.out.splitlines())


def test_the_demo_brings_its_own_photos() -> None:
    """The photos inside the package are those of sample_images, byte for byte, and small."""
    shipped = [Path(__file__).parents[2] / "cutvision" / "samples" / path.name for path in PHOTOS]
    assert [path.read_bytes() for path in shipped] == [path.read_bytes() for path in PHOTOS]
    assert sum(path.stat().st_size for path in shipped) < 1.8e6


def test_stock_thicker_than_any_saw_cuts_is_refused(run: Callable[..., Any]) -> None:
    """A piece taller than the lens would have no solution (limit: common practice, no source)."""
    done = run("measure", PHOTOS[0], "--shape", "miter", "--thickness", "250mm")
    assert done.status == 2
    assert "no table saw" in done.err


def test_a_fence_far_off_is_asked_about_and_the_measurement_told_all_the_same(run: Callable[..., Any]) -> None:
    """Taken for a 40 deg miter the sample stands 4.5 deg off: no correction, status 2, but every quantity is there."""
    done = run("measure", PHOTOS[0], "--shape", "miter", *FENCE, "--nominal", "40deg", "--json")
    said = json.loads(done.out)
    assert done.status == 2
    assert set(said["quantities"]) == QUANTITIES
    assert "correction" not in said
    assert "4.5" in done.err
    assert "unplug" in done.err
