"""A camera's own file: written whole, read back the same, checked, and used where it fits."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from cutvision.errors import InputError
from cutvision.imaging import camera_file
from cutvision.imaging.camera_file import (
    LENS,
    CameraFile,
    calibrate,
    prior_with_camera,
    read_camera_file,
    verdict,
    write_camera_file,
)
from cutvision.imaging.locate import SheetSighting
from cutvision.imaging.photo import Photo
from cutvision.imaging.pose import prior_from_photo

if TYPE_CHECKING:
    from conftest import SeenSheet

SHOTS = 8
TRUE_LENS = {"k1": 0.03, "k2": -0.02, "p1": 2e-4, "p2": -1e-4, "centre_x_px": 822.0, "centre_y_px": 605.0}


@pytest.fixture(scope="module")
def shots(see_sheet: Callable[..., SeenSheet]) -> list[SeenSheet]:
    """Eight tilted views of one camera."""
    rng = np.random.default_rng(8)
    views = [(tilt, 360 / SHOTS * k) for k, tilt in enumerate((2, 12, 15, 12, 14, 12, 15, 12))]
    return [see_sheet(rng, tilt_deg=t, azimuth_deg=a, focal_ratio=1.02, **TRUE_LENS) for t, a in views]


@pytest.fixture(scope="module")
def made(shots: list[SeenSheet]) -> CameraFile:
    """The file that those views make."""
    photos = [replace(shot.photo, name=f"shot {k}") for k, shot in enumerate(shots)]
    sightings: dict[str, SheetSighting] = {photo.name: shot.sighting for photo, shot in zip(photos, shots, strict=True)}

    def found(photo: Photo) -> SheetSighting:
        return sightings[photo.name]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(camera_file, "locate_sheet", found)
        return calibrate(photos, lambda _: None)


def test_shots_of_the_bare_sheet_tell_the_camera(made: CameraFile, shots: list[SeenSheet]) -> None:
    """From eight tilted shots lens and focal length come back within three stated uncertainties, the focal to 0.5 %."""
    camera = shots[0].camera
    truth = np.array([camera.focal_px, 822.0, 605.0, 0.03, -0.02, 2e-4, -1e-4, 0.0])
    u = np.sqrt(np.diag(made.covariance))
    assert (np.abs(made.mean - truth) < 3 * u).all()
    assert u[0] < 0.005 * truth[0]
    assert verdict(replace(made, reach=0.8)).startswith("Good")


def test_a_written_file_reads_back_the_same(made: CameraFile, tmp_path: Path) -> None:
    """What is written is read back to the last digit, and nothing else is left beside it."""
    path = tmp_path / "camera.json"
    write_camera_file(path, made)
    again = read_camera_file(path)
    assert np.array_equal(again.mean, made.mean)
    assert np.array_equal(again.covariance, made.covariance)
    assert again.shots == made.shots
    assert [p.name for p in tmp_path.iterdir()] == ["camera.json"]


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("schema", "cutvision/camera/9"),
        ("width_px", -3),
        ("mean", [1.0, 2.0]),
        ("covariance", [[-1.0] * LENS] * LENS),
        ("parameters", ["focal"]),
        ("mean", "many"),
    ],
)
def test_a_spoilt_file_is_wrong_input(made: CameraFile, tmp_path: Path, name: str, value: object) -> None:
    """A file with another schema, size, figure count or an impossible covariance is refused by name, with a remedy."""
    path = tmp_path / "camera.json"
    write_camera_file(path, made)
    path.write_text(json.dumps({**json.loads(path.read_text("utf-8")), name: value}), "utf-8")
    with pytest.raises(InputError, match=r"camera\.json") as wrong:
        read_camera_file(path)
    assert "calibrate" in wrong.value.remedy


def test_no_file_and_no_json_are_wrong_input(tmp_path: Path) -> None:
    """A missing file and a file of something else are wrong input, never a traceback."""
    with pytest.raises(InputError, match="cannot be read"):
        read_camera_file(tmp_path / "none.json")
    (tmp_path / "photo.json").write_bytes(b"\xff\xd8\xff\xe0")
    with pytest.raises(InputError):
        read_camera_file(tmp_path / "photo.json")
    (tmp_path / "text.json").write_text("hello", "utf-8")
    with pytest.raises(InputError, match="no camera file"):
        read_camera_file(tmp_path / "text.json")


def test_a_place_that_cannot_be_written_is_wrong_input(made: CameraFile, tmp_path: Path) -> None:
    """A folder that does not exist is told as such."""
    with pytest.raises(InputError, match="cannot be written"):
        write_camera_file(tmp_path / "none" / "camera.json", made)


def test_a_file_narrows_the_prior(made: CameraFile, shots: list[SeenSheet]) -> None:
    """With its camera's file a photo starts from that lens; the focal length keeps 0.3 % for another focus."""
    own = prior_from_photo(shots[0].photo)
    narrowed = prior_with_camera(shots[0].photo, own, made)
    assert np.array_equal(narrowed.mean[:LENS], made.mean)
    assert (np.diag(narrowed.covariance)[1:LENS] < np.diag(own.covariance)[1:LENS]).all()
    expected = math.hypot(math.sqrt(made.covariance[0, 0]), 0.003 * made.mean[0])
    assert math.sqrt(narrowed.covariance[0, 0]) == pytest.approx(expected)
    assert np.array_equal(narrowed.covariance[LENS:, LENS:], own.covariance[LENS:, LENS:])


def test_a_photo_held_upright_keeps_what_does_not_turn(made: CameraFile, shots: list[SeenSheet]) -> None:
    """A photo taken the other way up uses focal length and radial terms; centre and tangential terms are its own."""
    upright = replace(shots[0].photo, stored=np.zeros((1632, 1224, 3), np.uint8))
    own = prior_from_photo(upright)
    narrowed = prior_with_camera(upright, own, made)
    assert narrowed.mean[[0, 3, 4, 7]] == pytest.approx(made.mean[[0, 3, 4, 7]])
    assert narrowed.mean[[1, 2, 5, 6]] == pytest.approx(own.mean[[1, 2, 5, 6]])


def test_another_picture_size_is_wrong_input(made: CameraFile, shots: list[SeenSheet]) -> None:
    """A file for one picture size is not used for another."""
    other = replace(shots[0].photo, stored=np.zeros((600, 800, 3), np.uint8))
    with pytest.raises(InputError, match="1632 x 1224"):
        prior_with_camera(other, prior_from_photo(other), made)


@pytest.mark.parametrize("count", [0, 2])
def test_too_few_shots_are_wrong_input(shots: list[SeenSheet], count: int) -> None:
    """Fewer than three shots cannot part the lens from the sheet."""
    with pytest.raises(InputError, match="at least 3"):
        calibrate([shot.photo for shot in shots[:count]], lambda _: None)


def test_shots_of_two_sizes_are_wrong_input(shots: list[SeenSheet]) -> None:
    """Shots of one camera file have one size."""
    other = replace(shots[0].photo, name="small", stored=np.zeros((600, 800, 3), np.uint8))
    with pytest.raises(InputError, match="small is 800 x 600"):
        calibrate([*(shot.photo for shot in shots[:2]), other], lambda _: None)


def test_the_verdict_says_what_would_be_better(made: CameraFile) -> None:
    """Few shots from one direction that fit badly are called so, each with what to do."""
    poor = replace(made, shots=made.shots[:3], tilt_spread_deg=1.0, reach=0.5, rms_px=0.6)
    told = verdict(poor)
    assert told.startswith("Usable with care")
    for advice in ("tilt the phone", "go closer", "take 6 to 10", "tape it flat"):
        assert advice in told
