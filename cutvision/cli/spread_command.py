"""`cutvision spread`: three or more pieces cut at one setting to how much the cut itself spreads."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from cutvision.cli.correct_options import Kept
from cutvision.cli.output import answer, answer_json, refusals_told
from cutvision.cli.photo_options import PhotoOptions
from cutvision.errors import InputError

if TYPE_CHECKING:
    from cutvision.correction.spread_study import PieceAngle


def spread(
    photos: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[PIECE...]",
            help="A photo of each piece; several of one with a comma between: a1.jpg,a2.jpg b1.jpg,b2.jpg c1.jpg.",
        ),
    ] = None,
    shape: Annotated[
        Literal["miter", "corner"],
        typer.Option("--shape", help="What the photographed pieces are: miters, or sawn corners of boards."),
    ] = "miter",
    kept: Kept = None,
    angles: Annotated[
        str | None,
        typer.Option(
            "--angles",
            metavar="ANGLES",
            help="Instead of photos: the same angle, or angle's error, of each piece, 44.98deg,45.01deg,44.97deg.",
        ),
    ] = None,
    angles_to: Annotated[
        str | None,
        typer.Option(
            "--angles-to", metavar="ANGLE", help="The 95 % bound of each, as far as it differs from piece to piece."
        ),
    ] = None,
    read_to: Annotated[
        str | None, typer.Option("--read-to", metavar="LENGTH", help="The largest error of a length read on the print.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")] = False,
    *,
    shots: PhotoOptions,
) -> None:
    """Find how much the cut itself spreads from piece to piece, apart from measuring and the edges' form.

    Cut three or more pieces at one setting, each clamped and pushed in the same way, and photograph or measure each.

    cutvision spread --angles 44.981deg,45.012deg,44.968deg,44.995deg --angles-to 0.012deg
    """
    from cutvision.correction.spread_study import study_spread
    from cutvision.reports.spread_text import spread_as_json, spread_text

    if bool(photos) == (angles is not None):
        raise InputError(
            "Photos and --angles are both given." if photos else "There are no pieces to look at.",
            "Give a photo of each of three or more pieces, or --angles with an angle of each.",
        )
    pieces: Sequence[PieceAngle]
    if angles is not None:
        pieces = _typed(angles, angles_to)
    else:
        with refusals_told(as_json=as_json):
            pieces = _photographed(photos or [], shape, kept, read_to, shots)
    study = study_spread(pieces)
    if as_json:
        answer_json(spread_as_json(study))
    else:
        answer(spread_text(study).rstrip())


def _typed(angles: str, angles_to: str | None) -> list[PieceAngle]:
    from cutvision.correction.spread_study import PieceAngle
    from cutvision.uncertainty import from_expanded
    from cutvision.units import parse_angle, parse_angles

    measured_rad = 0.0 if angles_to is None else from_expanded(parse_angle(angles_to, "--angles-to", zero=True))
    return [
        PieceAngle(f"piece {number}", value, measured_rad)
        for number, value in enumerate(parse_angles(angles, "--angles"), 1)
    ]


def _photographed(
    pieces: list[str],
    shape: Literal["miter", "corner"],
    kept: Literal["left", "right"] | None,
    read_to: str | None,
    shots: PhotoOptions,
) -> Sequence[PieceAngle]:
    import math

    from cutvision import workflow

    request = shots.request(shape, math.pi / 4, read_to)
    return workflow.angles_of_pieces([photos_of(piece) for piece in pieces], request, kept, shots.speaker())


def photos_of(piece: str) -> list[Path]:
    """The files of one piece: what is a file's name as a whole is one photo, commas and all."""
    return [Path(piece)] if Path(piece).exists() else [Path(part) for part in piece.split(",")]
