"""Photos to a fence move: the one place that joins reading, measuring and correcting."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from cutvision.errors import InputError, PhotoRefused, PhotosRefused
from cutvision.imaging.photo import Photo, read_photo_file
from cutvision.measurement.pipeline import measure
from cutvision.measurement.request import MeasureRequest
from cutvision.measurement.result import Measurement


def read_photos(paths: Sequence[Path], progress: Callable[[str], None]) -> list[Photo]:
    """Read every photo. Raises PhotosRefused with every one that cannot be read."""
    photos, refusals = _read(paths, progress)
    if refusals:
        raise PhotosRefused(refusals, [photo.name for photo in photos])
    return photos


def measure_photos(
    paths: Sequence[Path], request: MeasureRequest, progress: Callable[[str], None]
) -> tuple[list[Photo], Measurement]:
    """The photos and what they show together. Raises PhotosRefused when any photo is refused.

    Then each photo is tried by itself, so that one run names every bad photo and says which are good.
    """
    photos, refusals = _read(paths, progress)
    together: PhotoRefused | None = None
    if not refusals:
        try:
            return photos, measure(photos, request, progress)
        except PhotoRefused as refusal:
            together = _named(refusal, photos[0])
            if len(photos) == 1:
                raise PhotosRefused([together]) from refusal
    good = []
    for photo in photos:
        progress(f"trying {photo.name} by itself")
        try:
            measure([photo], request, progress)
            good.append(photo.name)
        except PhotoRefused as refusal:
            refusals.append(_named(refusal, photo))
    if not refusals and together is not None:
        raise PhotosRefused([together])
    raise PhotosRefused(refusals, good)


def _read(paths: Sequence[Path], progress: Callable[[str], None]) -> tuple[list[Photo], list[PhotoRefused]]:
    photos, refusals = [], []
    for path in paths:
        progress(f"reading {path}")
        try:
            photos.append(read_photo_file(path))
        except PhotoRefused as refusal:
            refusals.append(refusal)
    _refuse_twins(photos)
    return photos, refusals


def _refuse_twins(photos: Sequence[Photo]) -> None:
    """A photo given twice would count as two looks at the piece. Raises InputError."""
    names: dict[str, str] = {}
    for photo in photos:
        if photo.sha256 in names:
            message = f"{photo.name} and {names[photo.sha256]} are the same photo; given twice, it says nothing more."
            raise InputError(
                message, "Give each photo once; for a second opinion turn the piece and take another photo."
            )
        names[photo.sha256] = photo.name


def _named(refusal: PhotoRefused, photo: Photo) -> PhotoRefused:
    refusal.file = refusal.file or photo.name
    return refusal
