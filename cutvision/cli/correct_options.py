"""What the `correct` commands share: their options, and from text to quantities and back to text."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from cutvision.cli.how import check_drawing, draw
from cutvision.cli.jig_option import JigText
from cutvision.cli.joint_options import JointSides, JointStock, joints_of
from cutvision.cli.leaves import LeafOptions
from cutvision.cli.output import answer, answer_json, tell
from cutvision.cli.record_options import RecordOptions, drawn_move
from cutvision.errors import InputError
from cutvision.reports.columns import wrap

if TYPE_CHECKING:
    from cutvision.correction import Assumption, Correction, CutSpread, FenceGeometry, Jig, ReadingCare, Tolerance
    from cutvision.correction.explanation import Explanation
    from cutvision.errors import Note

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
    str | None,
    typer.Option(
        "--tolerance",
        metavar="TOLERANCE",
        help="The error of a cut that is good enough: 0.05deg, 3min; over a length 0.1mm/300mm, 3thou/18in; or a gap "
        "of at most 0.1mm in a joint of 60mm stock, gap:0.1mm/60mm.",
    ),
]
DistanceTo = Annotated[
    str | None, typer.Option("--distance-to", metavar="LENGTH", help="How well the longer distances are known.")
]
EdgeFormText = Annotated[
    str | None, typer.Option("--edge-form", metavar="LENGTH", help="RMS roughness of a sawn edge (0mm: none).")
]
Gap = Annotated[
    str,
    typer.Option("--gap", metavar="LENGTH", help="The leaf, or the leaves together, that just fit (0mm if none)."),
]


@dataclass(frozen=True, slots=True)
class FenceOptions:
    """The fence beside its lever and the kept side: the tolerance, and how it is held and moved."""

    tolerance: ToleranceText = None
    fence_kind: Annotated[
        Literal["single", "v-foot", "v-point"] | None,
        typer.Option(
            "--fence",
            help="How the fence is held: one straight fence with a pivot at an end; a V on two feet against a rear "
            "stop, turned about a foot; or such a V held at its point, so that each foot goes half the way.",
        ),
    ] = None
    pivot: Annotated[
        Side | None,
        typer.Option("--pivot", help="The end, or the V's foot, about which it turns, as you stand behind the saw."),
    ] = None
    leaf_at: Annotated[
        Literal["operator", "work"] | None,
        typer.Option(
            "--leaf-at",
            help="Where a single fence's stop is, and so its leaf: on your (the operator's) side, where a leaf pushes "
            "it away from you, or on the work's side, where it pushes it toward you.",
        ),
    ] = None
    screw_pitch: Annotated[
        str | None,
        typer.Option(
            "--screw-pitch",
            metavar="LENGTH",
            help="A screw moves it instead of a leaf: how far with one turn, 1mm, or 1/20in for 20 threads an inch.",
        ),
    ] = None
    screw_pushes: Annotated[
        Literal["away", "toward"] | None,
        typer.Option(
            "--screw-pushes",
            help="Which way the fence goes when the screw is turned in: away from you (a V unless said) or toward you.",
        ),
    ] = None
    point_ahead: Annotated[
        str | None,
        typer.Option(
            "--point-ahead",
            metavar="LENGTH",
            help="Of a V: from the line through its feet to its point. Tells how far to slide it back to the kerf.",
        ),
    ] = None
    jig_file: JigText = None

    def jig(
        self,
        fence_length: str,
        kept: Side | None,
        care: ReadingCare,
        cut_spread: CutSpread | None = None,
        nominal_rad: float | None = None,
    ) -> Jig:
        """The fence as the options tell it. nominal_rad: of the cut, which a tolerance said as a joint's gap needs.

        Raises InputError in the option's name.
        """
        from cutvision.correction import Jig, typed_distance

        lever = typed_distance(given(fence_length, "--fence-length"), "lever", care)
        tolerance = self.asked_tolerance(nominal_rad)
        limit_rad, said = (None, "") if tolerance is None else (tolerance.angle_rad, tolerance.said)
        return Jig(lever, kept, limit_rad, cut_spread, self.geometry(), said)

    def geometry(self) -> FenceGeometry | None:
        """How the fence is held and moved; None when nothing was said of it. Raises InputError for options at odds."""
        if self.screw_pushes is not None and self.screw_pitch is None:
            raise InputError("--screw-pushes is about a screw, but no screw is given.", "Give --screw-pitch 1mm too.")
        said = (self.fence_kind, self.pivot, self.leaf_at, self.screw_pitch, self.point_ahead)
        if all(one is None for one in said):
            return None
        kind = self.fence_kind
        if kind is None:
            if self.point_ahead is not None or self.pivot is None:
                raise InputError(
                    "--leaf-at, --screw-pitch and --point-ahead say how the fence is moved, but not how it is held.",
                    "Give --fence single, v-foot or v-point too.",
                )
            kind = "single"
        from cutvision.correction import FenceGeometry, Screw

        screw = None
        if self.screw_pitch is not None:
            if kind == "single" and self.screw_pushes is None:
                raise InputError(
                    "--screw-pitch says how far the screw moves the fence, but not which way.",
                    "Give --screw-pushes away or toward: where the fence goes when the screw is turned in.",
                )
            pitch_mm = length(self.screw_pitch, "--screw-pitch")
            screw = None if pitch_mm is None else Screw(pitch_mm, self.screw_pushes or "away")
        return FenceGeometry(kind, self.pivot, self.leaf_at, screw, length(self.point_ahead, "--point-ahead"))

    def asked_tolerance(self, nominal_rad: float | None = None) -> Tolerance | None:
        """The error that still does no harm, when one was said; nominal_rad as for `jig`.

        Raises InputError in the option's name.
        """
        from cutvision.correction import parse_tolerance

        return None if self.tolerance is None else parse_tolerance(self.tolerance, "--tolerance", nominal_rad)


@dataclass(frozen=True, slots=True)
class CaliperOptions:
    """How well a caliper, a rule and the sawn edges are known."""

    read_to: Annotated[
        str | None, typer.Option("--read-to", metavar="LENGTH", help="How well a caliper reading repeats.")
    ] = None
    accuracy: Annotated[
        str | None, typer.Option("--accuracy", metavar="LENGTH", help="The caliper's limit of error.")
    ] = None
    instrument: Annotated[
        str | None,
        typer.Option(
            "--instrument",
            metavar="NAME",
            help="What you read with, instead of a 0.01 mm caliper: cutvision instruments.",
        ),
    ] = None
    distance_to: DistanceTo = None
    edge_form: EdgeFormText = None

    def care(self, tips: str | None = None, corner_to: str | None = None, pieces: int = 1) -> ReadingCare:
        """What was said of them, and of a miter's tips and corner. Raises InputError in the option's name."""
        from cutvision.correction import ReadingCare, instrument
        from cutvision.units import parse_angle

        return ReadingCare(
            read_to_mm=length(self.read_to, "--read-to", zero=True),
            accuracy_mm=length(self.accuracy, "--accuracy", zero=True),
            tips_mm=length(tips, "--tips", zero=True),
            distance_to_mm=length(self.distance_to, "--distance-to", zero=True),
            corner_to_rad=None if corner_to is None else parse_angle(corner_to, "--corner-to", zero=True),
            edge_form_mm=length(self.edge_form, "--edge-form", zero=True),
            instrument=None if self.instrument is None else instrument(self.instrument),
            pieces=pieces,
        )


@dataclass(frozen=True, slots=True)
class DifferenceOption:
    """A difference read straight off a caliper that was zeroed on the other reading."""

    difference: Annotated[
        str | None,
        typer.Option(
            "--difference",
            metavar="LENGTH",
            help="Instead of the second reading: the difference that a caliper shows when zeroed on the first (zero it "
            "anew for each of several).",
        ),
    ] = None

    def of(self, read: Pair, option: str, said: str | None) -> tuple[float, ...] | None:
        """The difference in mm when it stands in for one of two readings, None when both are there.

        option, said: which says the larger or the smaller, and what was typed. Raises InputError when too little or too
        much is given.
        """
        missing = [name for name, text in read.typed.items() if text is None]
        both = " and ".join(read.typed)
        if self.difference is None:
            if said is not None:
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
        values = given(self.difference, "--difference", zero=True)
        if said is None and any(values):
            raise InputError("A difference alone does not say which reading is the larger.", f"Say {option} too.")
        return values


@dataclass(frozen=True, slots=True)
class Pair:
    """Two readings that a person typed, or one: what each is, its option, and the text."""

    one: tuple[str, str, str | None]
    other: tuple[str, str, str | None]

    @property
    def typed(self) -> dict[str, str | None]:
        return {option: text for _, option, text in (self.one, self.other)}

    def first(self) -> tuple[float, ...]:
        """The one in mm; nothing when it was not typed. Raises InputError in the option's name."""
        return () if self.one[2] is None else given(self.one[2], self.one[1])

    def second(self) -> tuple[float, ...]:
        """The other in mm, likewise."""
        return () if self.other[2] is None else given(self.other[2], self.other[1])

    def readings(self, difference: tuple[float, ...] | None) -> dict[str, tuple[float, ...]]:
        """What was read, by what it is."""
        all_of_it = {self.one[0]: self.first(), self.other[0]: self.second(), "difference": difference or ()}
        return {where: values for where, values in all_of_it.items() if values}

    def all_repeated(self, difference: tuple[float, ...] | None) -> bool:
        """Whether everything was read more than once."""
        return all(len(values) > 1 for values in self.readings(difference).values())


@dataclass(frozen=True, slots=True)
class GapOptions:
    """How well a gap by its leaf and a rule's readings are known."""

    gap_to: Annotated[str | None, typer.Option("--gap-to", metavar="LENGTH", help="How well the gap is known.")] = None
    distance_to: DistanceTo = None

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


@dataclass(frozen=True, slots=True)
class BlankOptions:
    """A miter's test piece before it is cut: its corner, and what its tips may lose."""

    corner: Annotated[
        str, typer.Option("--corner", metavar="ANGLE", help="The test piece's corner between the legs.")
    ] = "90deg"
    corner_to: Annotated[
        str | None, typer.Option("--corner-to", metavar="ANGLE", help="How well the corner is known, as a half-width.")
    ] = None
    tips: Annotated[
        str | None, typer.Option("--tips", metavar="LENGTH", help="How much of a tip may be missing (0mm if none).")
    ] = None


@dataclass(frozen=True, slots=True)
class AnswerOptions(RecordOptions):
    """How the answer is given, and whether and with what it is kept in the logbook."""

    budget: Annotated[bool, typer.Option("--budget", help="Print where the doubt comes from.")] = False
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")] = False
    joint_sides: JointSides = None
    joint_stock: JointStock = None
    how: Annotated[
        bool, typer.Option("--how", help="Tell too where, and against what, to hold the caliper or the leaf.")
    ] = False
    how_drawing: Annotated[
        Path | None,
        typer.Option("--how-drawing", metavar="FILE", help="Draw that, as .svg, .png or .pdf (see `cutvision how`)."),
    ] = None

    def tell(self, correction: Correction, assumed: Sequence[Assumption], leaves: LeafOptions) -> None:
        """Print the answer, as text or as JSON, with the leaves when they were asked for."""
        from cutvision.correction import find_stack
        from cutvision.reports.correction_json import correction_as_json
        from cutvision.reports.correction_text import correction_text
        from cutvision.reports.reading_help import how_to_read

        check_drawing(self.how_drawing, "--how-drawing")
        choice = leaves.choice()
        stack = None if choice is None else find_stack(correction.move.at_shim.value, choice)
        joints = joints_of(correction, self.joint_sides, self.joint_stock)
        told = correction_as_json(correction, stack, joints)
        recorder = self.recorder()
        draw(self.how_drawing, correction.method)
        kept = None if recorder is None else recorder.keep(told, drawn_move(correction))
        if self.as_json:
            answer_json(told)
        else:
            how = how_to_read(correction.method, correction.way) if self.how else ()
            text = correction_text(correction, assumed, with_budget=self.budget, leaves=stack, joints=joints, how=how)
            answer(text.rstrip())
        if kept is not None:
            kept.say(beside_cautions=not self.as_json)


@dataclass(frozen=True, slots=True)
class ExplainedAnswer(AnswerOptions):
    """How the answer is given, by a command that can also show its calculation."""

    explain: Annotated[
        bool, typer.Option("--explain", help="Show the calculation line by line, to follow with a pencil.")
    ] = False

    def tell_explained(
        self,
        correction: Correction,
        assumed: Sequence[Assumption],
        leaves: LeafOptions,
        explained: Callable[[Correction], Explanation],
    ) -> None:
        """Print the answer, or the calculation when that was asked for."""
        if not self.explain:
            self.tell(correction, assumed, leaves)
            return
        from cutvision.reports.explanation_text import explanation_as_json, explanation_text

        explanation = explained(correction)
        if self.as_json:
            answer_json(explanation_as_json(explanation))
        else:
            answer(explanation_text(explanation).rstrip())
        passed_over = self._beside_an_answer(leaves)
        if passed_over:
            tell(wrap(f"Not shown: {', '.join(passed_over)}. A calculation stands alone; `correct` shows that."))
        if self.recorder() is not None:
            tell("Not recorded: a calculation is only shown. `correct` without --explain keeps the run.")

    def _beside_an_answer(self, leaves: LeafOptions) -> list[str]:
        """The options that were said, or that a jig says, and that only an answer can meet."""
        said = {
            "--budget": self.budget,
            "--joint-sides": self.joint_sides,
            "--how": self.how,
            "--how-drawing": self.how_drawing,
            "--leaf-set": leaves.leaf_set,
            "--leaves": leaves.leaves,
        }
        return [option for option, value in said.items() if value]


def given(text: str, option: str, *, zero: bool = False) -> tuple[float, ...]:
    """What was read, in mm: one value or several. Raises InputError in the option's name."""
    from cutvision.units import parse_lengths

    return parse_lengths(text, option, zero=zero)


def noted(correction: Correction, notes: Sequence[Note]) -> Correction:
    """The correction with notes on its readings before its own."""
    return replace(correction, notes=(*notes, *correction.notes)) if notes else correction


def length(text: str | None, option: str, *, zero: bool = False) -> float | None:
    """A length in mm when the option was given. Raises InputError in the option's name."""
    from cutvision.units import parse_length

    return None if text is None else parse_length(text, option, zero=zero)


def angle(text: str | None, option: str, *, zero: bool = False) -> float | None:
    """An angle in rad when the option was given. Raises InputError in the option's name."""
    from cutvision.units import parse_angle

    return None if text is None else parse_angle(text, option, zero=zero)


def angles(text: str, option: str) -> tuple[float, ...]:
    """One angle or several, in rad. Raises InputError in the option's name."""
    from cutvision.units import parse_angles

    return parse_angles(text, option)
