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
    cut_angles_to: Annotated[
        str | None,
        typer.Option(
            "--cut-angles-to",
            metavar="ANGLE",
            help="The 95 % bound of each of --cut-angles, as far as it differs from piece to piece; it is taken off "
            "their scatter, which otherwise holds that of measuring too.",
        ),
    ] = None
    pieces: Annotated[
        int | None,
        typer.Option(
            "--pieces",
            help="The readings are means over so many pieces cut at one setting (1 unless said): spread of the cut, "
            "edges and tips average, the instrument's error does not.",
        ),
    ] = None

    def count(self) -> int:
        """Over how many pieces the readings are means."""
        return 1 if self.pieces is None else self.pieces

    def asked(self, *, wood_read: bool = False) -> CutSpread | None:
        """The spread of the cut; None when nothing was said of it.

        wood_read: whether `count` is used for edges and tips too, so that it may stand alone. Raises InputError for
        options at odds.
        """
        from cutvision.correction import CutSpread, spread_of_pieces
        from cutvision.units import parse_angle, parse_angles

        count = self.count()
        if self.cut_angles_to is not None and self.cut_angles is None:
            raise InputError(
                "--cut-angles-to says how well --cut-angles were measured, but they are not given.",
                "Give --cut-angles with an angle of three or more pieces too.",
            )
        if self.cut_spread is not None and self.cut_angles is not None:
            raise InputError("--cut-spread and --cut-angles both say how the cut spreads.", "Give one of them.")
        if self.cut_angles is not None:
            to = self.cut_angles_to
            measured_to_rad = None if to is None else parse_angle(to, "--cut-angles-to", zero=True)
            return spread_of_pieces(parse_angles(self.cut_angles, "--cut-angles"), count, measured_to_rad)
        if self.cut_spread is not None:
            return CutSpread(parse_angle(self.cut_spread, "--cut-spread", zero=True), "as you said", pieces=count)
        if self.pieces is not None and not wood_read:
            raise InputError(
                "--pieces divides the spread of the cut, but no spread is given.",
                "Give --cut-spread 0.013deg, or --cut-angles with an angle of three or more pieces.",
            )
        return None
