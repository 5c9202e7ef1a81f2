"""What an error of the cut means in the joints of a frame."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

from cutvision.errors import InputError
from cutvision.jobs.said import ANGLE_OR_NONE, LENGTH, LENGTHS, Kind, Needs, Say
from cutvision.units import parse_angle, parse_length, parse_lengths

if TYPE_CHECKING:
    from cutvision.correction.joint import JointPreview

FRAME_OF = 4
SIDES = "The sides' lengths"


def _error(text: str, what: str) -> float:
    """The error of one cut, in rad; nothing at all is one too."""
    from cutvision.correction import parse_tolerance

    return parse_tolerance(text, what).angle_rad if "/" in text else parse_angle(text, what, zero=True)


ERROR = Kind("ANGLE", "0.1deg", _error)


@dataclass(frozen=True, kw_only=True)
class JointAsked:
    """Show what an error of the cut means in wood: the gap at each joint of a frame, and what adds up at the last.

    Every end is cut at one fence and off by the same error: each joint opens by 2 errors over its face, stock / cos(180
    deg / N), or the last by 2 N of them.

    cutvision joint --error 0.1deg --sides 4 --stock 60mm --long 400mm --short 300mm
    """

    needs: ClassVar[Needs] = (("error",), ("sides",), ("stock",))
    error: Annotated[str, Say("How far each cut is off, as 0.1deg, 6min or 0.1mm/60mm.", ERROR, main=True)]
    sides: Annotated[int, Say("How many sides the frame has (3 to 24).", main=True)]
    stock: Annotated[str, Say("The width of the frame's sides.", LENGTH, main=True)]
    cuts: Annotated[
        Literal["short", "over"],
        Say(
            "Whether the cuts fall short of 180 deg / N from square, so that joints gape at the toe (the outer "
            "corner), or go over it, so that they gape at the heel (the inner corner).",
            main=True,
        ),
    ] = "short"
    error_to: Annotated[
        str | None, Say("The error's 95 % uncertainty (±), as this program gives it.", ANGLE_OR_NONE)
    ] = None
    long_side: Annotated[
        str | None,
        Say(
            "A side's outer length; for 4 sides the two long ones, 400mm, or 400.5mm,400mm when they differ.",
            LENGTHS,
            SIDES,
            main=True,
            option="long",
        ),
    ] = None
    short_side: Annotated[
        str | None,
        Say(
            "For 4 sides the outer length of the two short ones, in the same way.",
            LENGTHS,
            SIDES,
            main=True,
            option="short",
        ),
    ] = None


def run_joint(asked: JointAsked) -> JointPreview:
    """The frame's joints. Raises InputError in the option's name."""
    from cutvision.correction.joint import preview_joints
    from cutvision.uncertainty import Influence, Quantity, from_expanded

    size_rad = _error(asked.error, "--error")
    parts = {}
    if asked.error_to is not None:
        bound = Influence("error", "error of the cut", source="as you said")
        parts = {bound: from_expanded(parse_angle(asked.error_to, "--error-to", zero=True))}
    return preview_joints(
        Quantity(size_rad if asked.cuts == "short" else -size_rad, "rad", parts),
        asked.sides,
        parse_length(asked.stock, "--stock"),
        _lengths_round(asked.sides, asked.long_side, asked.short_side),
    )


def _lengths_round(sides: int, long_side: str | None, short_side: str | None) -> tuple[float, ...]:
    """The sides' outer lengths in mm, in order round the frame; none when none was given.

    Raises InputError for lengths that do not go with the count of sides.
    """
    if long_side is None:
        if short_side is not None:
            raise InputError("--short is given without --long.", "Give --long too, or for equal sides --long alone.")
        return ()
    longs = parse_lengths(long_side, "--long")
    if sides != FRAME_OF:
        if short_side is not None or len(longs) > 1:
            raise InputError(
                f"A frame of {sides} sides is taken with sides of one length.", "Give --long once, without --short."
            )
        return longs * max(sides, 0)
    shorts = longs if short_side is None else parse_lengths(short_side, "--short")
    if len(longs) > 2 or len(shorts) > 2:
        raise InputError("A frame of 4 sides has two long and two short ones.", "Give one length, or two with a comma.")
    return (longs[0], shorts[0], longs[-1], shorts[-1])
