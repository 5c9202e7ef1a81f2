"""Photos to a fence move: the one place that joins reading, measuring and correcting."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from cutvision.correction import (
    Correction,
    CutSpread,
    FenceGeometry,
    Jig,
    Kept,
    ReadingCare,
    correct_miter_from_angles,
    correct_square_from_taper,
    typed_distance,
)
from cutvision.correction.comparison import PhotoReading
from cutvision.correction.readings import Reading
from cutvision.correction.spread_study import PieceAngle
from cutvision.errors import InputError, PhotoRefused, PhotosRefused
from cutvision.imaging.photo import Photo, read_photo_file
from cutvision.measurement.pipeline import measure
from cutvision.measurement.request import MeasureRequest
from cutvision.measurement.result import Measurement

STRIP_TURNS = 4


@dataclass(frozen=True, slots=True)
class FenceQuestion:
    """What is asked of the fence, beside what the photos show.

    lever_mm: from the pivot to where the leaf goes or the fence is pushed, at right angles to the push; one reading or
    several.
    turns: of the board between a strip's two edges; None for the usual four.
    tolerance_rad: the error that still does no harm; None for none. cut_spread, geometry,
    tolerance_said: as in a `Jig`.
    """

    lever_mm: Reading
    kept: Kept | None = None
    turns: int | None = None
    tolerance_rad: float | None = None
    cut_spread: CutSpread | None = None
    geometry: FenceGeometry | None = None
    tolerance_said: str = ""


def check_question(request: MeasureRequest, question: FenceQuestion) -> None:
    """Raise InputError, before anything is measured, for a piece that does not tell what is asked."""
    if request.shape not in {"miter", "strip"}:
        message = f"A {request.shape} shows how true the board is, but not which cut made which edge, nor so the fence."
        raise InputError(
            message, "Leave --fence-length out, or photograph a miter's offcut or the strip sawn off last."
        )
    if question.turns is not None and request.shape != "strip":
        raise InputError("--turns belongs to a strip from a squaring test.", "Leave --turns out for a miter.")
    if question.geometry is not None:
        question.geometry.check(question.kept, 0.0 if request.shape == "strip" else request.nominal_rad)


def correct(measurement: Measurement, nominal_rad: float, question: FenceQuestion) -> Correction:
    """From what the photos show to the fence. Raises InputError as the methods in `correction` do."""
    lever = typed_distance(question.lever_mm, "lever", ReadingCare())
    jig = Jig(
        lever, question.kept, question.tolerance_rad, question.cut_spread, question.geometry, question.tolerance_said
    )
    quantities, edge_form_rad = measurement.quantities, measurement.edge_form_rad
    if measurement.shape == "strip":
        turns = STRIP_TURNS if question.turns is None else question.turns
        return correct_square_from_taper(quantities["taper"], jig, turns=turns, edge_form_rad=edge_form_rad["taper"])
    tells = {"left": "angle_right", "right": "angle_left", None: "split_error"}[question.kept]
    return correct_miter_from_angles(
        quantities["angle_left"],
        quantities["angle_right"],
        quantities["corner"],
        jig,
        split_error=quantities["split_error"],
        nominal_rad=nominal_rad,
        edge_form_rad=edge_form_rad[tells],
    )


def photo_reading(measurement: Measurement) -> PhotoReading:
    """What the photos gave, as something that caliper readings can be set against."""
    used = measurement.photos
    return PhotoReading(
        quantities=measurement.quantities,
        edge_form_rad=measurement.edge_form_rad,
        photos=len(used),
        lens_height_mm=math.fsum(photo.lens_height_mm for photo in used) / len(used),
        thickness_mm=max(edge.height_mm for photo in used for edge in photo.edges),
    )


# What one photo's own noise, dust and fit leave: other pieces, other photos, other errors.
_OF_EACH_PIECE = ("edge points", "pixel and tone residual", "tilt of the piece", "mapping", "photo to photo")


def angles_of_pieces(
    pieces: Sequence[Sequence[Path]], request: MeasureRequest, kept: Kept | None, progress: Callable[[str], None]
) -> tuple[PieceAngle, ...]:
    """The angle by which pieces of one setting are set beside each other, and what measuring and edges leave in it.

    pieces: the photos of each. A miter's is the fence leg's when the kept side is said, else what its right leg would
    have, were its corner split about 45 deg. Raises PhotosRefused, and InputError for a photo of two pieces.
    """
    seen: dict[str, str] = {}
    found = []
    for paths in pieces:
        _, measurement = measure_photos(paths, request, progress)
        for photo in measurement.photos:
            if photo.sha256 in seen:
                raise InputError(
                    f"{photo.file} is the same photo as {seen[photo.sha256]}, given for two pieces.",
                    "Give each piece its own photos; those of one piece with a comma between: a1.jpg,a2.jpg.",
                )
            seen[photo.sha256] = photo.file
        name = "corner"
        if request.shape == "miter":
            name = {"left": "angle_right", "right": "angle_left", None: "split_error"}[kept]
        quantity = measurement.quantities[name]
        own = [part for one, part in quantity.components.items() if one.name in _OF_EACH_PIECE]
        found.append(
            PieceAngle(
                ", ".join(path.name for path in paths),
                quantity.value + (math.pi / 4 if name == "split_error" else 0.0),
                math.hypot(*own),
                measurement.edge_form_rad.get(name, 0.0),
            )
        )
    return tuple(found)


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

    One run names every bad photo and says which are good.
    """
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
