"""Three or more pieces cut at one setting to how well the cut repeats."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cutvision.errors import InputError
from cutvision.jobs.fence import KEPT, Side
from cutvision.jobs.measure import FENCE_ANGLE
from cutvision.jobs.photos import SHEET, PhotosSaid, Progress, measure_photos
from cutvision.jobs.said import ANGLE_OR_NONE, ANGLES, LENGTH, TEXT, Say
from cutvision.units import parse_angle, parse_angles

if TYPE_CHECKING:
    from cutvision.correction.spread_study import PieceAngle, SpreadStudy


@dataclass(frozen=True, kw_only=True)
class Repeatability(PhotosSaid):
    """Find how well the cut repeats from piece to piece, apart from measuring and the edges' roughness.

    Cut three or more pieces at one setting, each clamped and pushed in the same way, and photograph or measure each.

    cutvision repeatability --angles 44.981deg,45.012deg,44.968deg,44.995deg --angles-to 0.012deg
    """

    pieces: Annotated[
        tuple[str, ...],
        Say(
            "A photo of each piece; several of one with a comma between: a1.jpg,a2.jpg b1.jpg,b2.jpg c1.jpg.",
            TEXT,
            option="PIECE",
        ),
    ] = ()
    shape: Annotated[
        Literal["miter", "corner"],
        Say("What the photographed pieces are: miters, or sawn corners of boards.", main=True),
    ] = "miter"
    kept: Annotated[Side | None, KEPT] = None
    angles: Annotated[
        str | None,
        Say(
            "Instead of photos: the same angle, or angle's error, of each piece, 44.98deg,45.01deg,44.97deg.",
            ANGLES,
            main=True,
        ),
    ] = None
    angles_to: Annotated[
        str | None,
        Say(
            "The 95 % uncertainty (±) of each, as far as it differs from piece to piece.",
            ANGLE_OR_NONE,
            main=True,
        ),
    ] = None
    read_to: Annotated[str | None, Say("The largest error of a length read on the print.", LENGTH, SHEET)] = None


def run_repeatability(asked: Repeatability, progress: Progress = lambda _step: None) -> SpreadStudy:
    """How well the cut repeats. Raises InputError in the option's name, and PhotosRefused."""
    from cutvision.correction.spread_study import study_spread

    if bool(asked.pieces) == (asked.angles is not None):
        raise InputError(
            "Photos and --angles are both given." if asked.pieces else "There are no pieces to look at.",
            "Give a photo of each of three or more pieces, or --angles with an angle of each.",
        )
    if asked.angles is not None:
        return study_spread(_typed(asked.angles, asked.angles_to))
    return study_spread(_photographed(asked, progress))


def photos_of(piece: str) -> list[Path]:
    """The files of one piece: what is a file's name as a whole is one photo, commas and all."""
    return [Path(piece)] if Path(piece).exists() else [Path(part) for part in piece.split(",")]


def _typed(angles: str, angles_to: str | None) -> list[PieceAngle]:
    from cutvision.correction.spread_study import PieceAngle
    from cutvision.uncertainty import from_expanded

    measured_rad = 0.0 if angles_to is None else from_expanded(parse_angle(angles_to, "--angles-to", zero=True))
    return [
        PieceAngle(f"piece {number}", value, measured_rad)
        for number, value in enumerate(parse_angles(angles, "--angles"), 1)
    ]


def _photographed(asked: Repeatability, progress: Progress) -> Sequence[PieceAngle]:
    """The angle by which pieces of one setting are set beside each other, and what measuring and edges leave in it.

    A miter's is the fence leg's when the kept side is said, else what its right leg would have, were its corner split
    about 45 deg. Raises PhotosRefused, and InputError for a photo of two pieces.
    """
    from cutvision.correction.spread_study import PieceAngle

    request = asked.photo_request(asked.shape, math.pi / 4, asked.read_to)
    name = FENCE_ANGLE[asked.kept] if asked.shape == "miter" else "corner"
    seen: dict[str, str] = {}
    found = []
    for paths in map(photos_of, asked.pieces):
        _, measurement = measure_photos(paths, request, progress)
        for photo in measurement.photos:
            if photo.sha256 in seen:
                raise InputError(
                    f"{photo.file} is the same photo as {seen[photo.sha256]}, given for two pieces.",
                    "Give each piece its own photos; those of one piece with a comma between: a1.jpg,a2.jpg.",
                )
            seen[photo.sha256] = photo.file
        quantity = measurement.quantities[name]
        own = [part for one, part in quantity.components.items() if one.row.shared_by == "photo"]
        found.append(
            PieceAngle(
                ", ".join(path.name for path in paths),
                quantity.value + (math.pi / 4 if name == "split_error" else 0.0),
                math.hypot(*own),
                measurement.edge_form_rad.get(name, 0.0),
            )
        )
    return found
