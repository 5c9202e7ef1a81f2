"""What the `correct` commands share: their options, and from text to quantities and back to text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from cutvision.cli.jig_option import JigText
from cutvision.cli.leaves import LeafOptions
from cutvision.cli.output import answer, answer_json

if TYPE_CHECKING:
    from cutvision.correction import Assumption, Correction, CutSpread, Jig, ReadingCare

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
ToleranceText = Annotated[
    str | None, typer.Option("--tolerance", metavar="ANGLE", help="The fence error that is good enough.")
]
DistanceTo = Annotated[
    str | None, typer.Option("--distance-to", metavar="LENGTH", help="How well the longer distances are known.")
]
EdgeFormText = Annotated[
    str | None, typer.Option("--edge-form", metavar="LENGTH", help="RMS roughness of a sawn edge (0mm: none).")
]


@dataclass(frozen=True, slots=True)
class FenceOptions:
    """The fence beside its lever and the kept side."""

    tolerance: ToleranceText = None
    jig_file: JigText = None

    def jig(self, fence_length: str, kept: Side | None, care: ReadingCare, cut_spread: CutSpread | None = None) -> Jig:
        """The fence as the options tell it. Raises InputError in the option's name."""
        from cutvision.correction import Jig, typed_distance

        lever = typed_distance(given(fence_length, "--fence-length"), "lever", care)
        return Jig(lever, kept, self.tolerance_rad(), cut_spread)

    def tolerance_rad(self) -> float | None:
        """The error that still does no harm, when one was said. Raises InputError in the option's name."""
        from cutvision.units import parse_angle

        return None if self.tolerance is None else parse_angle(self.tolerance, "--tolerance")


@dataclass(frozen=True, slots=True)
class CaliperOptions:
    """How well a caliper, a rule and the sawn edges are known."""

    read_to: Annotated[
        str | None, typer.Option("--read-to", metavar="LENGTH", help="How well a caliper reading repeats.")
    ] = None
    accuracy: Annotated[
        str | None, typer.Option("--accuracy", metavar="LENGTH", help="The caliper's limit of error.")
    ] = None
    distance_to: DistanceTo = None
    edge_form: EdgeFormText = None

    def care(self, tips: str | None = None, corner_to: str | None = None) -> ReadingCare:
        """What was said of them, and of a miter's tips and corner. Raises InputError in the option's name."""
        from cutvision.correction import ReadingCare
        from cutvision.units import parse_angle

        return ReadingCare(
            read_to_mm=length(self.read_to, "--read-to", zero=True),
            accuracy_mm=length(self.accuracy, "--accuracy", zero=True),
            tips_mm=length(tips, "--tips", zero=True),
            distance_to_mm=length(self.distance_to, "--distance-to", zero=True),
            corner_to_rad=None if corner_to is None else parse_angle(corner_to, "--corner-to", zero=True),
            edge_form_mm=length(self.edge_form, "--edge-form", zero=True),
        )


@dataclass(frozen=True, slots=True)
class GapOptions:
    """A gap by its leaf, and how well it and a rule's readings are known."""

    gap: Annotated[
        str,
        typer.Option("--gap", metavar="LENGTH", help="The leaf, or the leaves together, that just fit (0mm if none)."),
    ]
    gap_to: Annotated[str | None, typer.Option("--gap-to", metavar="LENGTH", help="How well the gap is known.")] = None
    distance_to: DistanceTo = None

    def care(self, edge_form: str | None = None, square_to: str | None = None) -> ReadingCare:
        """What was said of them, of sawn edges and of a square. Raises InputError in the option's name."""
        from cutvision.correction import ReadingCare
        from cutvision.units import parse_angle

        return ReadingCare(
            gap_to_mm=length(self.gap_to, "--gap-to", zero=True),
            distance_to_mm=length(self.distance_to, "--distance-to", zero=True),
            edge_form_mm=length(edge_form, "--edge-form", zero=True),
            gauge_to_rad=None if square_to is None else parse_angle(square_to, "--square-to", zero=True),
        )


@dataclass(frozen=True, slots=True)
class AnswerOptions:
    """How the answer is given."""

    budget: Annotated[bool, typer.Option("--budget", help="Print where the doubt comes from.")] = False
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")] = False

    def tell(self, correction: Correction, assumed: Sequence[Assumption], leaves: LeafOptions) -> None:
        """Print the answer, as text or as JSON, with the leaves when they were asked for."""
        from cutvision.correction import find_stack
        from cutvision.reports.correction_json import correction_as_json
        from cutvision.reports.correction_text import correction_text

        choice = leaves.choice()
        stack = None if choice is None else find_stack(correction.fence_move.value, choice)
        if self.as_json:
            answer_json(correction_as_json(correction, stack))
        else:
            answer(correction_text(correction, assumed, with_budget=self.budget, leaves=stack).rstrip())


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
