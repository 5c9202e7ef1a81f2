"""The options by which a person says how much the cut spreads from piece to piece."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import typer

from cutvision.errors import InputError

if TYPE_CHECKING:
    from cutvision.correction import CutSpread


@dataclass(frozen=True, slots=True)
class SpreadOptions:
    """How the cut spreads, as a figure or by pieces, and over how many pieces the readings are means."""

    cut_spread: Annotated[
        str | None,
        typer.Option(
            "--cut-spread",
            metavar="ANGLE",
            help="Standard deviation from one cut to the next at one setting. Runner play of 0.1mm over 450mm: "
            "0.013deg.",
        ),
    ] = None
    cut_angles: Annotated[
        str | None,
        typer.Option(
            "--cut-angles",
            metavar="ANGLES",
            help="Or one angle of three or more pieces cut at one setting: 44.98deg,45.01deg,44.97deg.",
        ),
    ] = None
    pieces: Annotated[
        int | None,
        typer.Option("--pieces", help="The readings are means over so many pieces cut at one setting (1 unless said)."),
    ] = None

    def asked(self) -> CutSpread | None:
        """The spread of the cut; None when nothing was said of it. Raises InputError for options at odds."""
        from cutvision.correction import CutSpread, spread_of_pieces
        from cutvision.units import parse_angle, parse_angles

        count = 1 if self.pieces is None else self.pieces
        if self.cut_spread is not None and self.cut_angles is not None:
            raise InputError("--cut-spread and --cut-angles both say how the cut spreads.", "Give one of them.")
        if self.cut_angles is not None:
            return spread_of_pieces(parse_angles(self.cut_angles, "--cut-angles"), count)
        if self.cut_spread is not None:
            return CutSpread(parse_angle(self.cut_spread, "--cut-spread", zero=True), "as you said", pieces=count)
        if self.pieces is not None:
            raise InputError(
                "--pieces divides the spread of the cut, but no spread is given.",
                "Give --cut-spread 0.013deg, or --cut-angles with an angle of three or more pieces.",
            )
        return None
