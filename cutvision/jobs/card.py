"""What a card for the wall holds: for one fence and one test piece, from the difference read to the move."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, ClassVar

from cutvision.jobs.fence import FENCE_LENGTH, KEPT, FenceSaid, RepeatsSaid, ShimsSaid, Side
from cutvision.jobs.reading import BLANK, NOMINAL, CaliperSaid
from cutvision.jobs.said import ANGLE_OR_NONE, LENGTH, LENGTH_OR_NONE, Needs, Say, length
from cutvision.units import parse_angle, parse_length

if TYPE_CHECKING:
    from cutvision.correction import LeafChoice
    from cutvision.correction.lookup import Lookup


@dataclass(frozen=True, kw_only=True)
class MiterCard(FenceSaid, RepeatsSaid, ShimsSaid, CaliperSaid):
    """Write a wall card for a miter fence: by how much the legs differ, to the shim and where it goes.

    cutvision print card miter --fence-length 380mm --piece-width 102mm --shim-set metric-13 --out card.pdf
    """

    needs: ClassVar[Needs] = (("fence_length",), ("piece_width",))
    fence_length: Annotated[str, FENCE_LENGTH]
    piece_width: Annotated[str, Say("The test piece's width, for which the card is made.", LENGTH, main=True)]
    nominal: Annotated[str, NOMINAL] = "45deg"
    kept: Annotated[Side | None, KEPT] = None
    corner_to: Annotated[
        str | None, Say("How well the piece's corner is 90 deg, as a half-width.", ANGLE_OR_NONE, BLANK)
    ] = None
    tips: Annotated[str | None, Say("How much of a tip may be missing (0mm if none).", LENGTH_OR_NONE, BLANK)] = None


@dataclass(frozen=True, kw_only=True)
class SquareCard(FenceSaid, RepeatsSaid, ShimsSaid, CaliperSaid):
    """Write a wall card for a square fence: by how much the widths differ, to the shim and where it goes.

    cutvision print card square --fence-length 560mm --between 380mm --kept left --out card.pdf
    """

    needs: ClassVar[Needs] = (("fence_length",), ("between",))
    fence_length: Annotated[str, FENCE_LENGTH]
    between: Annotated[str, Say("The spacing: along the piece from one reading to the other.", LENGTH, main=True)]
    piece_width: Annotated[
        str | None, Say("The strip's width; only the caliper's limit of error rests on it.", LENGTH)
    ] = None
    kept: Annotated[Side | None, KEPT] = None


@dataclass(frozen=True, slots=True)
class CardResult:
    """The card's rows, and whose shims; None for plain amounts.

    rows: for a miter's piece, or a squaring test's strip. board: for the board's own width after three cuts; None for a
    miter.
    """

    rows: Lookup
    board: Lookup | None
    shims: LeafChoice | None


def run_miter_card(asked: MiterCard) -> CardResult:
    """The rows for a miter's test piece. Raises InputError in the option's name."""
    from cutvision.correction.lookup import check_can_be_held, miter_lookup

    care = asked.care(asked.tips, asked.corner_to, asked.count())
    nominal_rad = parse_angle(asked.nominal, "--nominal")
    jig = asked.jig(asked.fence_length, asked.kept, care, asked.repeats(wood_read=True), nominal_rad)
    shims = asked.choice()
    width_mm = parse_length(asked.piece_width, "--piece-width")
    check_can_be_held(width_mm)
    return CardResult(miter_lookup(jig, care, width_mm, nominal_rad, shims), None, shims)


def run_square_card(asked: SquareCard) -> CardResult:
    """The rows for a strip and for a board. Raises InputError in the option's name."""
    from cutvision.correction.lookup import STRIP_WIDTH_MM, square_lookup
    from cutvision.correction.square import BOARD_TURNS, STRIP_TURNS

    care = asked.care(pieces=asked.count())
    jig = asked.jig(asked.fence_length, asked.kept, care, asked.repeats(wood_read=True), 0.0)
    shims = asked.choice()
    width_mm = length(asked.piece_width, "--piece-width") or STRIP_WIDTH_MM
    between_mm = parse_length(asked.between, "--between")
    strip, board = (
        square_lookup(jig, care, between_mm, turns, shims, width_mm) for turns in (STRIP_TURNS, BOARD_TURNS)
    )
    return CardResult(strip, board, shims)
