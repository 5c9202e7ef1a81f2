"""What may be said of readings taken by hand: the instrument, the blank, a gap, a difference read off directly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated

from cutvision.errors import InputError, Note
from cutvision.jobs.said import (
    ANGLE,
    ANGLE_OR_NONE,
    LENGTH,
    LENGTH_OR_NONE,
    LENGTHS_OR_NONE,
    NAME,
    Say,
    angle,
    length,
)
from cutvision.units import parse_lengths

if TYPE_CHECKING:
    from cutvision.correction import Correction, ReadingCare


CARE, BLANK = "How well it was read", "The test piece before the cut"
NOMINAL = Say("The miter angle, from a square cut.", ANGLE, "The cut", in_jig="45deg")
TURNS = Say(
    "Quarter turns of the board between the two edges: 4 for the strip sawn off last, 2 for the board's own width "
    "after three cuts.",
    group="The cut",
    in_jig="4",
)


@dataclass(frozen=True, kw_only=True)
class CaliperSaid:
    """How well a caliper's or a rule's readings are known, and how rough a sawn edge is."""

    read_to: Annotated[
        str | None,
        Say(
            "How well one reading repeats, as a half-width (a caliper: 0.03mm).", LENGTH_OR_NONE, CARE, in_jig="0.03mm"
        ),
    ] = None
    accuracy: Annotated[str | None, Say("The instrument's limit of error.", LENGTH_OR_NONE, CARE, in_jig="0.02mm")] = (
        None
    )
    instrument: Annotated[
        str | None,
        Say(
            "What you read with, instead of a 0.01 mm caliper: `cutvision correct instruments` lists them.",
            NAME,
            CARE,
            in_jig="caliper-0.01mm",
        ),
    ] = None
    distance_to: Annotated[
        str | None, Say("How well the longer distances are known.", LENGTH_OR_NONE, CARE, in_jig="1mm")
    ] = None
    edge_form: Annotated[
        str | None, Say("RMS roughness of a sawn edge (0mm: none).", LENGTH_OR_NONE, CARE, in_jig="0.03mm")
    ] = None

    def care(self, tips: str | None = None, corner_to: str | None = None, pieces: int = 1) -> ReadingCare:
        """What was said of them, and of a miter's tips and corner. Raises InputError in the option's name."""
        from cutvision.correction import ReadingCare, instrument

        return ReadingCare(
            read_to_mm=length(self.read_to, "--read-to", zero=True),
            accuracy_mm=length(self.accuracy, "--accuracy", zero=True),
            tips_mm=length(tips, "--tips", zero=True),
            distance_to_mm=length(self.distance_to, "--distance-to", zero=True),
            corner_to_rad=angle(corner_to, "--corner-to", zero=True),
            edge_form_mm=length(self.edge_form, "--edge-form", zero=True),
            instrument=None if self.instrument is None else instrument(self.instrument),
            pieces=pieces,
        )


@dataclass(frozen=True, kw_only=True)
class BlankSaid:
    """A miter's test piece before it is cut: its corner, and what its tips may lose."""

    corner: Annotated[str, Say("The test piece's corner between the legs.", ANGLE, BLANK, in_jig="90deg")] = "90deg"
    corner_to: Annotated[
        str | None,
        Say("How well that corner is known, as a half-width (0.05deg).", ANGLE_OR_NONE, BLANK, in_jig="0.05deg"),
    ] = None
    tips: Annotated[
        str | None, Say("How much of a tip may be missing (0mm if none).", LENGTH_OR_NONE, BLANK, in_jig="0.1mm")
    ] = None


@dataclass(frozen=True, kw_only=True)
class GapSaid:
    """How well a gap, and the length beside it, are known."""

    gap_to: Annotated[str | None, Say("How well the gap is known.", LENGTH_OR_NONE, CARE, in_jig="0.05mm")] = None
    distance_to: Annotated[
        str | None, Say("How well the longer distances are known.", LENGTH_OR_NONE, CARE, in_jig="1mm")
    ] = None

    def care(
        self,
        *,
        edge_form: str | None = None,
        square_to: str | None = None,
        reading_to: str | None = None,
        shut_to: str | None = None,
        pieces: int = 1,
    ) -> ReadingCare:
        """What was said of them, of sawn edges, a square or protractor and shut joints.

        Raises InputError in the option's name.
        """
        from cutvision.correction import ReadingCare

        return ReadingCare(
            gap_to_mm=length(self.gap_to, "--gap-to", zero=True),
            distance_to_mm=length(self.distance_to, "--distance-to", zero=True),
            edge_form_mm=length(edge_form, "--edge-form", zero=True),
            gauge_to_rad=angle(square_to, "--square-to", zero=True),
            reading_to_rad=angle(reading_to, "--reading-to", zero=True),
            shut_to_mm=length(shut_to, "--shut-to", zero=True),
            pieces=pieces,
        )


GAP = Say("The shim or feeler-gauge blades that just fit (0mm if none).", LENGTHS_OR_NONE, main=True)
EDGE_FORM = Say("RMS roughness of a sawn edge (0mm: none).", LENGTH_OR_NONE, CARE, in_jig="0.03mm")
SQUARE_TO = Say("How true the square or protractor is.", ANGLE_OR_NONE, CARE, in_jig="0.03deg")
DIFFERENCE = Say(
    "Instead of the second reading: the difference that a caliper shows when zeroed on the first (zero it again for "
    "each of several).",
    LENGTHS_OR_NONE,
)


@dataclass(frozen=True, slots=True)
class Pair:
    """Two readings, or one with the difference between them: what each is, its option, and the text."""

    one: tuple[str, str, str | None]
    other: tuple[str, str, str | None]

    def first(self) -> tuple[float, ...]:
        """The one in mm; nothing when it was not given. Raises InputError in the option's name."""
        return () if self.one[2] is None else parse_lengths(self.one[2], self.one[1])

    def second(self) -> tuple[float, ...]:
        """The other in mm, in the same way."""
        return () if self.other[2] is None else parse_lengths(self.other[2], self.other[1])

    def difference(self, text: str | None, option: str, larger: str | None) -> tuple[float, ...] | None:
        """The difference in mm when it stands in for one of the two, None when both are there.

        text: of --difference. option, larger: which says the larger or the smaller, and what was given. Raises
        InputError when too little or too much is given.
        """
        typed = {name: value for _, name, value in (self.one, self.other)}
        missing = [name for name, value in typed.items() if value is None]
        both = " and ".join(typed)
        if text is None:
            if larger is not None:
                raise InputError(f"{option} belongs to --difference, which is not given.", f"Leave {option} out.")
            if missing:
                raise InputError(
                    f"{' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} not given.",
                    f"Give {both}, or one of them with --difference and {option}.",
                )
            return None
        if len(missing) != 1:
            raise InputError(
                f"--difference stands in for one of {both}; {'neither is' if missing else 'both are'} given.",
                f"Give one of them with --difference and {option}.",
            )
        values = parse_lengths(text, "--difference", zero=True)
        if larger is None and any(values):
            raise InputError("A difference alone does not say which reading is the larger.", f"Give {option} too.")
        return values

    def readings(self, difference: tuple[float, ...] | None) -> dict[str, tuple[float, ...]]:
        """What was read, by what it is."""
        all_of_it = {self.one[0]: self.first(), self.other[0]: self.second(), "difference": difference or ()}
        return {where: values for where, values in all_of_it.items() if values}

    def all_repeated(self, difference: tuple[float, ...] | None) -> bool:
        """Whether everything was read more than once."""
        return all(len(values) > 1 for values in self.readings(difference).values())


def noted(correction: Correction, notes: Sequence[Note]) -> Correction:
    """The correction with notes on its readings before its own."""
    return replace(correction, notes=(*notes, *correction.notes)) if notes else correction


__all__ = [
    "DIFFERENCE",
    "EDGE_FORM",
    "GAP",
    "LENGTH",
    "NOMINAL",
    "SQUARE_TO",
    "TURNS",
    "BlankSaid",
    "CaliperSaid",
    "GapSaid",
    "Pair",
    "noted",
]
