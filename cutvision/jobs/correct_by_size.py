"""A fence's error from a caliper: a miter's two legs, a strip's or board's two widths."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from cutvision.jobs.correct import CorrectResult, CorrectSaid
from cutvision.jobs.fence import FENCE_LENGTH, KEPT, RepeatsSaid, Side
from cutvision.jobs.reading import DIFFERENCE, NOMINAL, TURNS, BlankSaid, CaliperSaid, Pair, noted
from cutvision.jobs.said import LENGTH, LENGTHS, Needs, Say, length
from cutvision.units import parse_angle, parse_lengths


@dataclass(frozen=True, kw_only=True)
class Miter(CorrectSaid, RepeatsSaid, CaliperSaid, BlankSaid):
    """Find a miter fence's error from the two legs of a test piece.

    Error = 45 deg - atan(left / right), counter-clockwise positive, for a corner of 90 deg; by the shop's rule (right -
    left) / 2 / width. A short left leg: the fence must turn clockwise; a short right leg: counter-clockwise.

    cutvision correct miter --left-leg 101.62mm --right-leg 101.35mm --fence-length 380mm

    Read each leg three times and the uncertainty rests on your own hands: --left-leg 101.62mm,101.64mm,101.61mm

    With the caliper zeroed on the left leg: --left-leg 101.6mm --difference 0.27mm --shorter right
    """

    needs: ClassVar[Needs] = (("left_leg", "right_leg", "difference"), ("fence_length",))
    left_leg: Annotated[
        str | None, Say("The leg on your left, piece face up with its cut toward you.", LENGTHS, main=True)
    ] = None
    right_leg: Annotated[str | None, Say("The leg on your right.", LENGTHS, main=True)] = None
    fence_length: Annotated[str, FENCE_LENGTH]
    kept: Annotated[Side | None, KEPT] = None
    nominal: Annotated[str, NOMINAL] = "45deg"
    difference: Annotated[str | None, DIFFERENCE] = None
    shorter: Annotated[Side | None, Say("With --difference: the shorter leg.")] = None
    piece_width: Annotated[str | None, Say("The piece's width, for the shop's rule and to check the tip.", LENGTH)] = (
        None
    )


def run_miter(asked: Miter) -> CorrectResult:
    """The fence from a miter's legs. Raises InputError in the option's name."""
    from cutvision.correction import (
        assumptions,
        correct_miter_from_legs,
        outliers,
        typed_corner,
        typed_legs,
        typed_legs_by_difference,
    )
    from cutvision.correction.explanation import Readings, Zeroed

    care = asked.care(asked.tips, asked.corner_to, asked.count())
    read = Pair(("left leg", "--left-leg", asked.left_leg), ("right leg", "--right-leg", asked.right_leg))
    lefts, rights = read.first(), read.second()
    difference = read.difference(asked.difference, "--shorter", asked.shorter)
    known_leg: Side = "left" if lefts else "right"
    shorter = asked.shorter or "left"
    if difference is None:
        left, right = typed_legs(lefts, rights, care)
    else:
        left, right = typed_legs_by_difference(lefts or rights, known_leg, difference, shorter, care)
    nominal_rad = parse_angle(asked.nominal, "--nominal")
    corner_rad, width_mm = parse_angle(asked.corner, "--corner"), length(asked.piece_width, "--piece-width")
    correction = correct_miter_from_legs(
        left,
        right,
        typed_corner(corner_rad, care),
        asked.jig(asked.fence_length, asked.kept, care, asked.repeats(wood_read=True), nominal_rad),
        nominal_rad=nominal_rad,
        piece_width_mm=width_mm,
        edge_form=care.edge_form,
    )
    longest_mm = max(left.value, right.value)
    assumed = assumptions(care, "legs", longest_mm, all_repeated=read.all_repeated(difference))
    legs: dict[str, Readings] = {"left_leg": lefts, "right_leg": rights}
    if difference is not None:
        missing = "right_leg" if known_leg == "left" else "left_leg"
        legs[missing] = Zeroed(f"{known_leg}_leg", difference, known_larger=shorter != known_leg)
    return asked.result(
        noted(correction, outliers(read.readings(difference), care)),
        tuple(assumed),
        legs,
    )


@dataclass(frozen=True, kw_only=True)
class Square(CorrectSaid, RepeatsSaid, CaliperSaid):
    """Find a square fence's error from two widths of a strip, or of the board, after turned cuts.

    Error = atan((at the fence - far end) / spacing) / 4; by the shop's rule difference / 4 / spacing. A strip wider at
    the fence means that the kept corner is over 90 deg; with --turns 2, 2 for 4, a narrower board means that.

    cutvision correct square --at-fence 24.91mm --far-end 24.78mm --between 380mm --fence-length 560mm

    Every length may be a list of repeated readings: --at-fence 24.91mm,24.93mm,24.90mm

    With the caliper zeroed at the fence end: --at-fence 24.9mm --difference 0.13mm --wider fence
    """

    needs: ClassVar[Needs] = (
        ("at_fence", "far_end", "difference"),
        ("between",),
        ("fence_length",),
    )
    at_fence: Annotated[str | None, Say("The width at the end that lay at the fence.", LENGTHS, main=True)] = None
    far_end: Annotated[str | None, Say("The width at the far end.", LENGTHS, main=True)] = None
    between: Annotated[str, Say("The spacing: along the piece from one reading to the other.", LENGTHS, main=True)]
    fence_length: Annotated[str, FENCE_LENGTH]
    kept: Annotated[Side | None, KEPT] = None
    turns: Annotated[int, TURNS] = 4
    difference: Annotated[str | None, DIFFERENCE] = None
    wider: Annotated[Literal["fence", "far"] | None, Say("With --difference: the wider end.")] = None


def run_square(asked: Square) -> CorrectResult:
    """The fence from two widths. Raises InputError in the option's name."""
    from cutvision.correction import (
        assumptions,
        correct_square_from_widths,
        outliers,
        typed_distance,
        typed_widths,
        typed_widths_by_difference,
    )
    from cutvision.correction.explanation import Readings, Zeroed

    care = asked.care(pieces=asked.count())
    read = Pair(
        ("width at the fence", "--at-fence", asked.at_fence), ("width at the far end", "--far-end", asked.far_end)
    )
    ats, fars = read.first(), read.second()
    difference = read.difference(asked.difference, "--wider", asked.wider)
    known_end: Literal["fence", "far"] = "fence" if ats else "far"
    wider = asked.wider or "fence"
    if difference is None:
        at, far = typed_widths(ats, fars, care)
    else:
        at, far = typed_widths_by_difference(ats or fars, known_end, difference, wider, care)
    distances = parse_lengths(asked.between, "--between")
    correction = correct_square_from_widths(
        at,
        far,
        typed_distance(distances, "between", care),
        asked.jig(asked.fence_length, asked.kept, care, asked.repeats(wood_read=True), 0.0),
        turns=asked.turns,
        edge_form=care.edge_form,
    )
    longest_mm = max(at.value, far.value)
    assumed = assumptions(care, "widths", longest_mm, all_repeated=read.all_repeated(difference))
    widths: dict[str, Readings] = {"fence_end": ats, "far_end": fars, "spacing": distances}
    if difference is not None:
        known, missing = ("fence_end", "far_end") if known_end == "fence" else ("far_end", "fence_end")
        widths[missing] = Zeroed(known, difference, known_larger=wider == known_end)
    return asked.result(
        noted(correction, outliers(read.readings(difference), care)),
        tuple(assumed),
        widths,
    )
