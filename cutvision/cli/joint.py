"""`cutvision joint`: what an error of the cut means in the joints of a frame."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from cutvision.cli.drawing_option import DrawingOptions
from cutvision.cli.output import answer, answer_json, tell
from cutvision.errors import InputError
from cutvision.files import write_output


def joint(
    error: Annotated[
        str, typer.Option("--error", metavar="ANGLE", help="How far each cut is off, as 0.1deg, 6min or 0.1mm/60mm.")
    ],
    sides: Annotated[int, typer.Option("--sides", help="How many sides the frame has (3 to 24).")],
    stock: Annotated[str, typer.Option("--stock", metavar="LENGTH", help="The width of the frame's sides.")],
    cuts: Annotated[
        Literal["short", "over"],
        typer.Option(
            "--cuts",
            help="Whether the cuts fall short of 180 deg / N from square, so that joints gape at the toe (the outer "
            "corner), or go over it, so that they gape at the heel (the inner corner).",
        ),
    ] = "short",
    error_to: Annotated[
        str | None,
        typer.Option("--error-to", metavar="ANGLE", help="The error's bound (95 %), as this program gives it."),
    ] = None,
    long_side: Annotated[
        str | None,
        typer.Option(
            "--long",
            metavar="LENGTHS",
            help="A side's outer length; for 4 sides the two long ones, 400mm, or 400.5mm,400mm when they differ.",
        ),
    ] = None,
    short_side: Annotated[
        str | None,
        typer.Option(
            "--short", metavar="LENGTHS", help="For 4 sides the outer length of the two short ones, likewise."
        ),
    ] = None,
    drawing: Annotated[
        Path | None,
        typer.Option("--drawing", metavar="FILE", help="Draw the frame with its gaps enlarged, as .svg, .png or .pdf."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")] = False,
) -> None:
    """Show what an error of the cut means in wood: the gap at each joint of a frame, and what adds up at the last.

    Every end is cut at one fence and off by the same error: each joint opens by 2 errors over its face, stock / cos(180
    deg / N), or the last by 2 N of them.

    cutvision joint --error 0.1deg --sides 4 --stock 60mm --long 400mm --short 300mm
    """
    from cutvision.correction.joint import preview_joints
    from cutvision.reports.joint_text import joint_as_json, joint_text
    from cutvision.uncertainty import Influence, Quantity, from_expanded
    from cutvision.units import parse_angle, parse_length

    DrawingOptions(drawing).check()
    size_rad = _error(error)
    parts = {}
    if error_to is not None:
        bound = Influence("error", "error of the cut", source="as you said")
        parts = {bound: from_expanded(parse_angle(error_to, "--error-to", zero=True))}
    preview = preview_joints(
        Quantity(size_rad if cuts == "short" else -size_rad, "rad", parts),
        sides,
        parse_length(stock, "--stock"),
        lengths_round(sides, long_side, short_side),
    )
    if drawing is not None:
        from cutvision.reports.figure import figure_bytes, format_of
        from cutvision.reports.joint_drawing import joint_drawing

        write_output(drawing, figure_bytes(joint_drawing(preview), format_of(drawing)), "drawing")
        tell(f"Wrote {drawing}.")
    if as_json:
        answer_json(joint_as_json(preview))
    else:
        answer(joint_text(preview).rstrip())


def lengths_round(sides: int, long_side: str | None, short_side: str | None) -> tuple[float, ...]:
    """The sides' outer lengths in mm, in order round the frame; none when none was given.

    Raises InputError for lengths that do not go with the count of sides.
    """
    from cutvision.units import parse_lengths

    if long_side is None:
        if short_side is not None:
            raise InputError("--short is given without --long.", "Give --long too, or for equal sides --long alone.")
        return ()
    longs = parse_lengths(long_side, "--long")
    if sides != 4:
        if short_side is not None or len(longs) > 1:
            raise InputError(
                f"A frame of {sides} sides is taken with sides of one length.", "Give --long once, without --short."
            )
        return longs * max(sides, 0)
    shorts = longs if short_side is None else parse_lengths(short_side, "--short")
    if len(longs) > 2 or len(shorts) > 2:
        raise InputError("A frame of 4 sides has two long and two short ones.", "Give one length, or two with a comma.")
    return (longs[0], shorts[0], longs[-1], shorts[-1])


def _error(text: str) -> float:
    """The error of one cut, in rad; nothing at all is one too."""
    from cutvision.correction import parse_tolerance
    from cutvision.units import parse_angle

    return parse_tolerance(text, "--error").angle_rad if "/" in text else parse_angle(text, "--error", zero=True)
