"""The photos in sample_images: measured as expected.json says, each holds the truth that stands beside it there."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

FOLDER = Path(__file__).parents[2] / "sample_images"
SAMPLES = json.loads((FOLDER / "expected.json").read_text("utf-8"))["photos"]
PHOTO_BYTES, REFUSED_BYTES, FOLDER_BYTES = 1_200_000, 300_000, 9_000_000
ROUNDING = 5e-6  # deg or mm: half of the last place of the truths
MITER_LEG = {"left": "angle_right", "right": "angle_left"}  # the angle at the fence, by the side kept


@pytest.mark.parametrize("sample", [s for s in SAMPLES if "truth" in s], ids=lambda s: s["photos"][0])
def test_a_sample_holds_its_truth(run: Callable[..., Any], sample: dict[str, Any]) -> None:
    """Every true quantity lies within the stated uncertainty, and so does a miter's fence error, with its sign.

    Kept on the left the fence stands 45 deg less the right leg's angle off, kept on the right the left leg's less
    45 deg, positive counterclockwise (closed form).
    """
    photos = [FOLDER / name for name in sample["photos"]]
    done = run("measure", *photos, "--shape", sample["shape"], *sample["options"], "--json")
    assert done.status == 0
    told = json.loads(done.out)
    assert set(told["quantities"]) == set(sample["truth"])
    for name, truth in sample["truth"].items():
        found = told["quantities"][name]
        assert abs(found["value"] - truth) <= found["expanded_uncertainty"] + ROUNDING, name
    if "--kept" in sample["options"] and sample["shape"] == "miter":
        kept = sample["options"][sample["options"].index("--kept") + 1]
        off = sample["truth"][MITER_LEG[kept]] - 45
        error = told["correction"]["angle_error"]
        assert abs(error["value"] - (off if kept == "right" else -off)) <= error["expanded_uncertainty"]


def test_every_photo_of_the_folder_is_listed_and_small() -> None:
    """expected.json names every photo that lies there but the annotated one, and no other; the folder stays small."""
    listed = {name for sample in SAMPLES for name in sample["photos"]}
    there = {path.relative_to(FOLDER).as_posix() for path in FOLDER.rglob("*.jpg")}
    assert listed == there - {"miter-answer.jpg"}
    for name in listed:
        limit = REFUSED_BYTES if name.startswith("refused/") else PHOTO_BYTES
        assert 0 < (FOLDER / name).stat().st_size <= limit
    assert sum(path.stat().st_size for path in FOLDER.rglob("*") if path.is_file()) <= FOLDER_BYTES
