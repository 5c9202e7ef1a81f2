"""What is known beside the photos of a piece, and the photos read: shared by every job that looks at photos."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cutvision.errors import InputError, PhotoRefused, PhotosRefused
from cutvision.jobs.said import FILE, LENGTH, Say, length

if TYPE_CHECKING:
    from cutvision.imaging.photo import Photo
    from cutvision.measurement.request import MeasureRequest
    from cutvision.measurement.result import Measurement, Shape
    from cutvision.target.print_scale import PrintReadings

THICKEST_MM = 150.0  # the deepest table saws cut some 130 mm (common practice, no source)
SHEET = "What a rule read on the printed sheet"
Progress = Callable[[str], None]


@dataclass(frozen=True, kw_only=True)
class PhotosSaid:
    """The stock, the print and the camera. How well the print was read is each job's own."""

    thickness: Annotated[
        str | None, Say("The stock's thickness, as 19mm or 3/4in.", LENGTH, main=True, in_jig="19mm")
    ] = None
    long_side: Annotated[
        str | None,
        Say("The printed frame's long side, as read on the paper.", LENGTH, SHEET, in_jig="250.4mm"),
    ] = None
    short_side: Annotated[str | None, Say("Its short side, as read on the paper.", LENGTH, SHEET, in_jig="179.8mm")] = (
        None
    )
    diagonal_down: Annotated[
        str | None, Say("Its diagonal from top left to bottom right.", LENGTH, SHEET, in_jig="308.3mm")
    ] = None
    diagonal_up: Annotated[
        str | None, Say("Its diagonal from bottom left to top right.", LENGTH, SHEET, in_jig="307.9mm")
    ] = None
    camera: Annotated[
        Path | None, Say("What `cutvision camera calibrate` wrote.", FILE, "The camera", in_jig="phone.camera.json")
    ] = None

    def photo_request(
        self, shape: Shape, nominal_rad: float, read_to: str | None, read_to_option: str = "--read-to"
    ) -> MeasureRequest:
        """What is asked of the photos; read_to: how well the print was read.

        Raises InputError for a wrong value and for a file that holds no camera.
        """
        from cutvision.imaging.camera_file import read_camera_file
        from cutvision.measurement.request import MeasureRequest

        return MeasureRequest(
            shape=shape,
            thickness_mm=self._thickness_mm(),
            nominal_rad=nominal_rad,
            readings=self._print_readings(read_to, read_to_option),
            camera=None if self.camera is None else read_camera_file(self.camera),
        )

    def of_photos(self) -> tuple[str, ...]:
        """Those of the options that were said and only make sense beside photos."""
        said = {
            "--thickness": self.thickness,
            "--long-side": self.long_side,
            "--short-side": self.short_side,
            "--diagonal-down": self.diagonal_down,
            "--diagonal-up": self.diagonal_up,
            "--camera": self.camera,
        }
        return tuple(option for option, value in said.items() if value is not None)

    def _thickness_mm(self) -> float | None:
        """The stock's thickness. Raises InputError also for more than any table saw cuts through."""
        thickness_mm = length(self.thickness, "--thickness")
        if thickness_mm is not None and thickness_mm > THICKEST_MM:
            message = f"--thickness is '{self.thickness}': no table saw cuts through more than {THICKEST_MM:g} mm."
            raise InputError(message, "Give the height of the piece as it lies on the sheet, such as 19mm or 3/4in.")
        return thickness_mm

    def _print_readings(self, read_to: str | None, read_to_option: str) -> PrintReadings | None:
        """What was read on the print. Raises InputError when no more than how well it was read is given."""
        from cutvision.target.print_scale import READ_TO_MM, PrintReadings

        to_mm = length(read_to, read_to_option)
        readings = PrintReadings(
            long_side_mm=length(self.long_side, "--long-side"),
            short_side_mm=length(self.short_side, "--short-side"),
            read_to_mm=READ_TO_MM if to_mm is None else to_mm,
            diagonal_down_mm=length(self.diagonal_down, "--diagonal-down"),
            diagonal_up_mm=length(self.diagonal_up, "--diagonal-up"),
        )
        if self.long_side or self.short_side or self.diagonal_down or self.diagonal_up:
            return readings
        if read_to:
            message = f"{read_to_option} says how well lengths were read on the print, but none is given."
            raise InputError(message, f"Give --long-side and --short-side too, or leave {read_to_option} out.")
        return None


def measure_photos(
    paths: Sequence[Path], request: MeasureRequest, progress: Progress
) -> tuple[list[Photo], Measurement]:
    """The photos and what they show together. Raises PhotosRefused when any photo is refused.

    One run names every bad photo and says which are good.
    """
    from cutvision.measurement.pipeline import measure

    photos, refusals = _read(paths, progress)
    if not refusals:
        try:
            return photos, measure(photos, request, progress)
        except PhotoRefused as refusal:
            raise PhotosRefused([refusal]) from refusal
    good = []
    for photo in photos:
        progress(f"trying {photo.name} by itself")
        try:
            measure([photo], request, progress)
            good.append(photo.name)
        except PhotoRefused as refusal:
            refusals.append(refusal)
    raise PhotosRefused(refusals, good)


def read_photos(paths: Sequence[Path], progress: Progress) -> list[Photo]:
    """Read every photo. Raises PhotosRefused with every one that cannot be read."""
    photos, refusals = _read(paths, progress)
    if refusals:
        raise PhotosRefused(refusals, [photo.name for photo in photos])
    return photos


def _read(paths: Sequence[Path], progress: Progress) -> tuple[list[Photo], list[PhotoRefused]]:
    from cutvision.imaging.photo import read_photo_file

    photos: list[Photo] = []
    refusals = []
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
