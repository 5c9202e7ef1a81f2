"""A camera's own file: lens and focal length from several shots of the bare sheet, kept with their covariance."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from cutvision.errors import InputError
from cutvision.files import LIMITS, read_bounded, write_output
from cutvision.imaging.locate import SheetSighting, locate_sheet
from cutvision.imaging.photo import Photo
from cutvision.imaging.pose import (
    INTRINSICS,
    KNOWN_BEFORE,
    READOUT_SD,
    CameraPrior,
    SheetPose,
    fit_pose,
    prior_from_photo,
)

LENS = 8
"""Focal length, centre and distortion: what a file keeps. Aspect and skew belong to the hand, not to the camera."""
FOCUS_SHARE = 0.003
"""Standard uncertainty of the focal length from one focus to the next at arm's length (common practice, no source)."""
SCHEMA = "cutvision/camera/1"
FEWEST_SHOTS = 3


@dataclass(frozen=True, slots=True)
class CameraFile:
    """What is known of one camera at one picture size.

    mean (8,) and covariance (8, 8): focal length and centre in px, and k1 k2 p1 p2 k3.
    shots: (name, sha256) of the photos; reach: the share of the picture's half diagonal that the squares reached.
    """

    width_px: int
    height_px: int
    camera: str
    mean: np.ndarray
    covariance: np.ndarray
    shots: tuple[tuple[str, str], ...]
    rms_px: float
    reach: float
    tilt_spread_deg: float


def camera_name(photo: Photo) -> str:
    """Maker, model and lens as the photo's file states them."""
    exif = photo.exif
    return " ".join(str(part) for part in (exif.make, exif.model, exif.lens) if part) or "unknown camera"


def calibrate(photos: Sequence[Photo], progress: Callable[[str], None]) -> CameraFile:
    """The camera from shots of the bare sheet, taken one after another as knowledge of lens and print that they share.

    Raises PhotoRefused for a shot without a sheet, InputError for too few shots or shots of different sizes.
    """
    if len(photos) < FEWEST_SHOTS:
        raise InputError(
            f"{len(photos)} shots cannot tell the lens from the sheet; at least {FEWEST_SHOTS} are needed, and 6 to 10 "
            "are good.",
            "Photograph the bare sheet from straight above and tilted to each side, the squares out to the picture's "
            "edges.",
        )
    first = photos[0]
    for photo in photos[1:]:
        if (photo.width_px, photo.height_px) != (first.width_px, first.height_px):
            raise InputError(
                f"{photo.name} is {photo.width_px} x {photo.height_px} px, {first.name} is {first.width_px} x "
                f"{first.height_px}.",
                "Use shots of one camera at one picture size, all held the same way up.",
            )
    sightings: list[SheetSighting] = []
    for photo in photos:
        progress(f"{photo.name}: looking for the sheet")
        sightings.append(locate_sheet(photo))
    progress("working out the lens")
    prior = prior_from_photo(first)
    fits: list[SheetPose] = []
    for sighting in sightings:
        fit = fit_pose(sighting, prior)
        known = np.ix_(KNOWN_BEFORE, KNOWN_BEFORE)
        prior = CameraPrior(*_without_hand(fit.values[list(KNOWN_BEFORE)], fit.covariance[known]), "the shots before")
        fits.append(fit)
    half = np.hypot(first.width_px, first.height_px) / 2
    centre = np.array([first.width_px - 1, first.height_px - 1]) / 2
    reach = max(float(np.hypot(*(s.saddles_px - centre).T).max() / half) for s in sightings)
    looks = np.array([fit.pose.rotation[2] for fit in fits])
    spread = float(np.degrees(np.sqrt(((looks - looks.mean(axis=0)) ** 2).sum(axis=1).mean())))
    return CameraFile(
        first.width_px,
        first.height_px,
        camera_name(first),
        prior.mean[:LENS],
        prior.covariance[:LENS, :LENS],
        tuple((photo.name, photo.sha256) for photo in photos),
        float(np.sqrt(np.mean([fit.residual_rms_px**2 for fit in fits]))),
        reach,
        spread,
    )


def _without_hand(mean: np.ndarray, covariance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The posterior of one shot as the prior of the next: aspect and skew, which are the hand's, forgotten."""
    mean, covariance = mean.copy(), covariance.copy()
    hand = [INTRINSICS.index("aspect"), INTRINSICS.index("skew")]
    mean[hand] = 0.0
    covariance[hand, :] = covariance[:, hand] = 0.0
    covariance[hand, hand] = READOUT_SD**2
    return mean, covariance


def prior_with_camera(photo: Photo, prior: CameraPrior, camera: CameraFile) -> CameraPrior:
    """The photo's prior narrowed by a camera file. Raises InputError when the photo is of another size."""
    upright = (photo.width_px, photo.height_px) == (camera.width_px, camera.height_px)
    lying = (photo.height_px, photo.width_px) == (camera.width_px, camera.height_px)
    if not (upright or lying):
        raise InputError(
            f"The camera file is for {camera.width_px} x {camera.height_px} px; {photo.name} is "
            f"{photo.width_px} x {photo.height_px} px.",
            "Use the file of the camera and picture size that took this photo, or leave --camera out.",
        )
    mean, covariance = prior.mean.copy(), prior.covariance.copy()
    # held the other way round, centre and tangential terms turn with the sensor, which way is not known
    kept = list(range(LENS)) if upright else [0, 3, 4, 7]
    mean[kept] = camera.mean[kept]
    covariance[kept, :] = covariance[:, kept] = 0.0
    covariance[np.ix_(kept, kept)] = camera.covariance[np.ix_(kept, kept)]
    covariance[0, 0] += (FOCUS_SHARE * mean[0]) ** 2
    return CameraPrior(mean, covariance, "camera file")


def verdict(camera: CameraFile) -> str:
    """In words, whether the file is good, from its covariance, the tilts and how far out the squares reached."""
    sd = np.sqrt(np.diag(camera.covariance))
    focal_share, centre_px = float(sd[0] / camera.mean[0]), float(max(sd[1], sd[2]))
    faults = []
    if camera.tilt_spread_deg < 5:
        faults.append(
            "the shots were all taken from nearly the same direction: tilt the phone 10 to 15 deg to each side"
        )
    if camera.reach < 0.7:
        faults.append("the squares never came near the picture's corners: go closer or move the sheet about")
    if len(camera.shots) < 6:
        faults.append(f"{len(camera.shots)} shots are few: take 6 to 10")
    if camera.rms_px > 0.3:
        faults.append("the squares' corners do not fit a flat sheet well: tape it flat and hold still")
    told = (
        f"focal length known to {200 * focal_share:.2f} %, the lens's middle to {2 * centre_px:.1f} px "
        f"(95 %), from {len(camera.shots)} shots, {camera.rms_px:.2f} px rms"
    )
    if focal_share > 0.01:
        faults.append("the focal length is still loose: more tilted shots")
    if not faults:
        return f"Good: {told}."
    return f"Usable with care: {told}. To make it better: {'; '.join(faults)}."


def write_camera_file(path: Path, camera: CameraFile, *, force: bool = False) -> None:
    """Write the file whole or not at all. Raises InputError as `files.write_output`."""
    stored = {
        "schema": SCHEMA,
        "width_px": camera.width_px,
        "height_px": camera.height_px,
        "camera": camera.camera,
        "parameters": list(INTRINSICS[:LENS]),
        "mean": camera.mean.tolist(),
        "covariance": camera.covariance.tolist(),
        "shots": [list(shot) for shot in camera.shots],
        "rms_px": camera.rms_px,
        "reach": camera.reach,
        "tilt_spread_deg": camera.tilt_spread_deg,
    }
    write_output(path, json.dumps(stored, indent=1).encode(), "camera", force=force)


def read_camera_file(path: Path) -> CameraFile:
    """Read and check a camera file. Raises InputError, naming what is wrong."""
    try:
        text = read_bounded(path, "camera").decode()
    except UnicodeDecodeError as error:
        raise InputError(f"The camera file {path} cannot be read: it is no text.", LIMITS["camera"].remedy) from error
    from cutvision.imaging.camera_json import parsed  # noqa: PLC0415  few runs need it, and it is slow to load

    try:
        stored = parsed(text)
    except ValueError as error:
        raise InputError(
            f"{path} is no camera file: {error}.", "Make it anew with `cutvision camera calibrate`."
        ) from error
    mean, covariance = np.array(stored.mean), np.array(stored.covariance)
    sound = (
        stored.schema_ == SCHEMA
        and stored.parameters == list(INTRINSICS[:LENS])
        and mean.shape == (LENS,)
        and covariance.shape == (LENS, LENS)
        and bool(np.isfinite(mean).all() and np.isfinite(covariance).all())
        and bool(np.linalg.eigvalsh((covariance + covariance.T) / 2).min() > 0)
    )
    if not sound:
        raise InputError(
            f"{path} is not a camera file this version can use.", "Make it anew with `cutvision camera calibrate`."
        )
    return CameraFile(
        stored.width_px,
        stored.height_px,
        stored.camera,
        mean,
        covariance,
        tuple((name, digest) for name, digest in stored.shots),
        stored.rms_px,
        stored.reach,
        stored.tilt_spread_deg,
    )
