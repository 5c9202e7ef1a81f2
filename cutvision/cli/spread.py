"""The options by which a person says how much the cut spreads from piece to piece."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from cutvision.errors import InputError

if TYPE_CHECKING:
    from cutvision.correction import CutSpread

CutSpreadOption = Annotated[
    str | None,
    typer.Option(
        "--cut-spread",
        metavar="ANGLE",
        help="Standard deviation from one cut to the next at one setting. Runner play of 0.1mm over 450mm: 0.013deg.",
    ),
]
CutAnglesOption = Annotated[
    str | None,
    typer.Option(
        "--cut-angles",
        metavar="ANGLES",
        help="Or one angle of three or more pieces cut at one setting: 44.98deg,45.01deg,44.97deg.",
    ),
]
PiecesOption = Annotated[
    int | None,
    typer.Option("--pieces", help="The readings are means over so many pieces cut at one setting (1 unless said)."),
]


def spread_asked(cut_spread: str | None, cut_angles: str | None, pieces: int | None = None) -> CutSpread | None:
    """The spread of the cut; None when nothing was said of it. Raises InputError for options at odds."""
    from cutvision.correction import CutSpread, spread_of_pieces
    from cutvision.units import parse_angle, parse_angles

    count = 1 if pieces is None else pieces
    if cut_spread is not None and cut_angles is not None:
        raise InputError("--cut-spread and --cut-angles both say how the cut spreads.", "Give one of them.")
    if cut_angles is not None:
        return spread_of_pieces(parse_angles(cut_angles, "--cut-angles"), count)
    if cut_spread is not None:
        return CutSpread(parse_angle(cut_spread, "--cut-spread", zero=True), "as you said", pieces=count)
    if pieces is not None:
        raise InputError(
            "--pieces divides the spread of the cut, but no spread is given.",
            "Give --cut-spread 0.013deg, or --cut-angles with an angle of three or more pieces.",
        )
    return None
