"""What the `correct` commands share: their options, and from text to quantities and back to text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from cutvision.cli.output import answer, answer_json

if TYPE_CHECKING:
    from cutvision.correction import Assumption, Correction, CutSpread, Jig, LeafChoice, ReadingCare

Side = Literal["left", "right"]
Lever = Annotated[
    str,
    typer.Option(
        "--fence-length",
        metavar="LENGTH",
        help="From the fence's pivot to where the leaf goes or the fence is pushed, at right angles to the push; for "
        "a V fence on two feet, from foot to foot.",
    ),
]
Kept = Annotated[Side | None, typer.Option("--kept", help="The side of the blade on which the work lay and was kept.")]
ReadTo = Annotated[str | None, typer.Option("--read-to", metavar="LENGTH", help="How well a caliper reading repeats.")]
Accuracy = Annotated[str | None, typer.Option("--accuracy", metavar="LENGTH", help="The caliper's limit of error.")]
DistanceTo = Annotated[
    str | None, typer.Option("--distance-to", metavar="LENGTH", help="How well the longer distances are known.")
]
Form = Annotated[
    str | None,
    typer.Option("--edge-form", metavar="LENGTH", help="RMS roughness of a sawn edge (0mm: none)."),
]
Tolerance = Annotated[
    str | None, typer.Option("--tolerance", metavar="ANGLE", help="The fence error that is good enough.")
]
Budget = Annotated[bool, typer.Option("--budget", help="Print where the doubt comes from.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")]


def given(text: str, option: str, *, zero: bool = False) -> tuple[float, ...]:
    """What was read, in mm: one value or several. Raises InputError in the option's name."""
    from cutvision.units import parse_lengths

    return parse_lengths(text, option, zero=zero)


def all_repeated(*readings: tuple[float, ...]) -> bool:
    """Whether every one of these was read more than once."""
    return all(len(values) > 1 for values in readings)


def length(text: str | None, option: str, *, zero: bool = False) -> float | None:
    """A length in mm when the option was given. Raises InputError in the option's name."""
    from cutvision.units import parse_length

    return None if text is None else parse_length(text, option, zero=zero)


def jig(
    fence_length: str,
    kept: Side | None,
    tolerance: str | None,
    care: ReadingCare,
    cut_spread: CutSpread | None = None,
) -> Jig:
    """The fence as the options tell it. Raises InputError in the option's name."""
    from cutvision.correction import Jig, typed_distance
    from cutvision.units import parse_angle

    lever = typed_distance(given(fence_length, "--fence-length"), "lever", care)
    return Jig(lever, kept, None if tolerance is None else parse_angle(tolerance, "--tolerance"), cut_spread)


def tell(
    correction: Correction, assumed: Sequence[Assumption], choice: LeafChoice | None, *, budget: bool, as_json: bool
) -> None:
    """Print the answer, as text or as JSON, with the leaves when they were asked for."""
    from cutvision.correction import find_stack
    from cutvision.reports.correction_json import correction_as_json
    from cutvision.reports.correction_text import correction_text

    stack = None if choice is None else find_stack(correction.fence_move.value, choice)
    if as_json:
        answer_json(correction_as_json(correction, stack))
    else:
        answer(correction_text(correction, assumed, with_budget=budget, leaves=stack).rstrip())
