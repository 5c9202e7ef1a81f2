"""A first study of bounds over rendered photos with known truth, small enough for every run of `.ci/run`.

Each photo gives several quantities that hang together, so that one of them stands for the photo: its leading angle.
The larger study is `tests/benchmarks/accuracy.py`, which this one runs.
"""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

pytestmark = pytest.mark.study
ROOT = Path(__file__).parents[2]
PHOTOS, MEGAPIXELS, FIRST_SEED = 24, 2.0, 0
FALSE_ALARM = 0.01
LEADING = {"miter": "split_error", "strip": "taper", "corner": "corner", "board": "corner_1"}


@dataclass(frozen=True)
class Study:
    """Of each measured photo the leading angle's error and bound in deg, of all lengths in mm, and the refused ones."""

    angles: np.ndarray
    lengths: np.ndarray
    refused: tuple[str, ...]


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Study:
    """24 photos of two megapixels, the fewest that a phone gives, drawn at random and measured one by one."""
    result = tmp_path_factory.mktemp("study") / "outcomes.json"
    command = [sys.executable, str(ROOT / "tests" / "benchmarks" / "accuracy.py"), str(PHOTOS)]
    options = ["--megapixels", str(MEGAPIXELS), "--first-seed", str(FIRST_SEED), "--json", str(result)]
    path = os.pathsep.join(filter(None, [str(ROOT), os.environ.get("PYTHONPATH")]))
    subprocess.run([*command, *options], check=True, env={**os.environ, "PYTHONPATH": path}, stdout=subprocess.DEVNULL)
    photos = json.loads(result.read_text("utf-8"))
    rows = [row for photo in photos for row in photo["rows"]]
    return Study(
        np.array([[r["error"], r["bound"]] for r in rows if r["quantity"] == LEADING[r["shape"]]]),
        np.array([[r["error"], r["bound"]] for r in rows if r["unit"] == "mm"]),
        tuple(photo["refused"] for photo in photos if photo["refused"]),
    )


def test_good_photos_are_measured(study: Study) -> None:
    """Of 24 photos as shops take them at least 20 are measured; the scenes are meant to be measurable."""
    assert len(study.angles) >= 20
    assert len(study.angles) + len(study.refused) == PHOTOS


def test_bounds_hold_the_truth(study: Study) -> None:
    """The leading angles' 95 % bounds hold the truth: misses stay below the binomial's limit of 1 % false alarm."""
    misses = int((np.abs(study.angles[:, 0]) > study.angles[:, 1]).sum())
    assert misses <= stats.binom.isf(FALSE_ALARM, len(study.angles), 0.05)


def test_bounds_are_not_padded(study: Study) -> None:
    """Errors over bounds are no smaller than 95 % bounds allow: their rms is above a quarter, where a half is due.

    For 20 photos whose errors are normal with half the bound as standard deviation, an rms under a quarter has a chance
    below one in ten thousand (chi-square).
    """
    ratio = math.sqrt(((study.angles[:, 0] / study.angles[:, 1]) ** 2).mean())
    assert ratio > 0.25


def test_angles_are_not_biased(study: Study) -> None:
    """The mean of the leading angles' errors is nothing, to 3.5 standard errors (false alarm under 0.3 %)."""
    error = study.angles[:, 0]
    assert abs(error.mean()) < 3.5 * error.std(ddof=1) / math.sqrt(len(error))


def test_two_megapixels_tell_an_angle_to_a_few_hundredths(study: Study) -> None:
    """Half of the leading angles are within 0.03 deg, and half of their bounds under 0.1 deg.

    What a photo of 4 px a mm on an unread print may be held to: the print alone makes 0.03 deg (method: its stretch).
    """
    assert np.median(np.abs(study.angles[:, 0])) < 0.03
    assert np.median(study.angles[:, 1]) < 0.1


def test_lengths_lie_in_their_bounds(study: Study) -> None:
    """Nine in ten of all lengths lie in their bounds; those of one photo hang together, hence no sharper limit."""
    assert (np.abs(study.lengths[:, 0]) <= study.lengths[:, 1]).mean() > 0.9
