"""`cutvision compare`: caliper readings against photos of the same piece."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from cutvision.cli.correct_options import CaliperOptions, FenceOptions, Kept, given
from cutvision.cli.leaves import LeafOptions
from cutvision.cli.output import answer, answer_json, refusals_told
from cutvision.cli.photo_options import PhotoOptions
from cutvision.cli.spread import SpreadOptions
from cutvision.errors import InputError
from cutvision.files import LIMITS, read_bounded

if TYPE_CHECKING:
    from cutvision.correction.comparison import Caliper, PhotoReading
    from cutvision.correction.readings import ReadingCare


@dataclass(frozen=True, slots=True)
class PieceOptions:
    """What the caliper read on the piece: two legs of a miter, or two widths of a strip."""

    left_leg: Annotated[
        str | None,
        typer.Option("--left-leg", metavar="LENGTH", help="Miter: the leg on your left, face up, cut toward you."),
    ] = None
    right_leg: Annotated[
        str | None, typer.Option("--right-leg", metavar="LENGTH", help="Miter: the leg on your right.")
    ] = None
    corner: Annotated[
        str | None,
        typer.Option("--corner", metavar="ANGLE", help="Miter: the piece's corner between the legs (90deg)."),
    ] = None
    corner_to: Annotated[
        str | None, typer.Option("--corner-to", metavar="ANGLE", help="How well the corner is known, as a half-width.")
    ] = None
    tips: Annotated[
        str | None, typer.Option("--tips", metavar="LENGTH", help="How much of a tip may be missing (0mm if none).")
    ] = None
    at_fence: Annotated[
        str | None,
        typer.Option("--at-fence", metavar="LENGTH", help="Strip: the width at the end that lay at the fence."),
    ] = None
    far_end: Annotated[
        str | None, typer.Option("--far-end", metavar="LENGTH", help="Strip: the width at the far end.")
    ] = None
    between: Annotated[
        str | None, typer.Option("--between", metavar="LENGTH", help="Strip: along it from one reading to the other.")
    ] = None

    def caliper(self, shape: Literal["miter", "strip"], care: ReadingCare) -> Caliper:
        """The readings as quantities. Raises InputError for one that is missing or belongs to the other shape."""
        legs = {"--left-leg": self.left_leg, "--right-leg": self.right_leg}
        widths = {"--at-fence": self.at_fence, "--far-end": self.far_end, "--between": self.between}
        only_miter = {**legs, "--corner": self.corner, "--corner-to": self.corner_to, "--tips": self.tips}
        _only(shape, wanted=legs if shape == "miter" else widths, strange=widths if shape == "miter" else only_miter)
        return self._legs(care) if shape == "miter" else self._widths(care)

    def _legs(self, care: ReadingCare) -> Caliper:
        from cutvision.correction.comparison import CaliperLegs
        from cutvision.correction.readings import TIPS_MM, typed_corner, typed_legs
        from cutvision.units import parse_angle

        left, right = self.left_leg or "", self.right_leg or ""
        return CaliperLegs(
            *typed_legs(given(left, "--left-leg"), given(right, "--right-leg"), care),
            corner=typed_corner(parse_angle(self.corner or "90deg", "--corner"), care),
            tips_mm=TIPS_MM if care.tips_mm is None else care.tips_mm,
            digits_mm=_digits(left, right),
        )

    def _widths(self, care: ReadingCare) -> Caliper:
        from cutvision.correction.comparison import CaliperWidths
        from cutvision.correction.readings import typed_distance, typed_widths

        at, far = self.at_fence or "", self.far_end or ""
        return CaliperWidths(
            *typed_widths(given(at, "--at-fence"), given(far, "--far-end"), care),
            between=typed_distance(given(self.between or "", "--between"), "between", care),
            edge_form=care.edge_form,
            digits_mm=_digits(at, far),
        )


@dataclass(frozen=True, slots=True)
class ShotOptions:
    """Where the photos' part comes from, and how well their print was read."""

    photo_json: Annotated[
        Path | None,
        typer.Option("--photo-json", metavar="FILE", help="Instead of photos: what `measure --json` printed."),
    ] = None
    print_read_to: Annotated[
        str | None, typer.Option("--print-read-to", metavar="LENGTH", help="The largest error of such a reading.")
    ] = None

    def look(
        self, photos: list[Path], known: PhotoOptions, shape: Literal["miter", "strip"], nominal_rad: float
    ) -> PhotoReading:
        """Measure the photos, or read what was measured. Raises InputError, PhotoRefused and PhotosRefused."""
        if bool(photos) == (self.photo_json is not None):
            raise InputError(
                "Photos and --photo-json are both given." if photos else "There is no photo to compare with.",
                "Give one or more photos of the piece, or --photo-json with what `cutvision measure --json` printed.",
            )
        if self.photo_json is not None:
            return self._from_file(self.photo_json, known, shape)
        from cutvision import workflow

        request = known.request(shape, nominal_rad, self.print_read_to, "--print-read-to")
        _, measurement = workflow.measure_photos(photos, request, known.speaker())
        return workflow.photo_reading(measurement)

    def _from_file(self, file: Path, known: PhotoOptions, shape: Literal["miter", "strip"]) -> PhotoReading:
        from cutvision.reports.photo_json import photo_reading_from_json

        strange = [*known.given(), *(() if self.print_read_to is None else ("--print-read-to",))]
        if strange:
            raise InputError(
                f"{strange[0]} belongs to photos; {file.name} was measured already.", f"Leave {strange[0]} out."
            )
        return photo_reading_from_json(_text_of(file), shape, file.name)


def compare(
    shape: Annotated[
        Literal["miter", "strip"],
        typer.Option("--shape", help="What the piece is: a miter's triangle or a squaring test's strip."),
    ],
    photos: Annotated[
        list[Path] | None, typer.Argument(metavar="[PHOTO...]", help="Photos of the piece, as for `measure`.")
    ] = None,
    fence_length: Annotated[
        str | None,
        typer.Option("--fence-length", metavar="LENGTH", help="As for `correct`; gives the fence move from both."),
    ] = None,
    kept: Kept = None,
    nominal: Annotated[
        str, typer.Option("--nominal", metavar="ANGLE", help="The miter as shops say it, from a square cut.")
    ] = "45deg",
    turns: Annotated[
        int | None, typer.Option("--turns", help="Strip: quarter turns of the board between its edges (4, or 2).")
    ] = None,
    budget: Annotated[bool, typer.Option("--budget", help="Print where the fence error's doubt comes from.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")] = False,
    *,
    piece: PieceOptions,
    caliper: CaliperOptions,
    shots: ShotOptions,
    known: PhotoOptions,
    fence: FenceOptions,
    spread: SpreadOptions,
    leaves: LeafOptions,
) -> None:
    """Set caliper readings against photos of the same piece: do they agree, why not, and what do both say together.

    cutvision compare sample_images/strip.jpg --shape strip --thickness 20mm --at-fence 27.18mm --far-end 26.82mm
    --between 160mm

    They agree when E_n = difference / root of the sum of both bounds squared is at most 1 (ISO/IEC 17043).
    """
    from cutvision.correction.comparison import compare as set_against
    from cutvision.units import parse_angle

    care = caliper.care(piece.tips, piece.corner_to)
    readings = piece.caliper(shape, care)
    nominal_rad = parse_angle(nominal, "--nominal")
    question = _Question(fence_length, kept, nominal_rad, turns)
    question.check(shape, fence.tolerance is not None, spread.asked() is not None, leaves.choice() is not None)
    with refusals_told(as_json=as_json):
        photo = shots.look(photos or [], known, shape, nominal_rad)
    comparison = set_against(readings, photo)
    from cutvision.correction import find_stack
    from cutvision.reports.comparison_json import comparison_as_json
    from cutvision.reports.comparison_text import comparison_text

    correction = None
    if fence_length is not None and comparison.combined:
        from cutvision.correction.comparison import correct_combined

        jig = fence.jig(fence_length, kept, care, spread.asked(), 0.0 if shape == "strip" else nominal_rad)
        correction = correct_combined(
            comparison, jig, nominal_rad=nominal_rad, **({} if turns is None else {"turns": turns})
        )
    choice = leaves.choice()
    stack = None if choice is None or correction is None else find_stack(correction.move.at_shim.value, choice)
    if as_json:
        answer_json(comparison_as_json(comparison, correction, stack))
    else:
        answer(comparison_text(comparison, correction, with_budget=budget, leaves=stack).rstrip())


@dataclass(frozen=True, slots=True)
class _Question:
    fence_length: str | None
    kept: Literal["left", "right"] | None
    nominal_rad: float
    turns: int | None

    def check(self, shape: str, *about_the_fence: bool) -> None:
        if self.turns is not None and shape != "strip":
            raise InputError("--turns belongs to a strip from a squaring test.", "Leave --turns out for a miter.")
        if self.fence_length is None and (any(about_the_fence) or self.turns is not None):
            raise InputError(
                "A tolerance, turns, the spread of the cut and leaves are about the fence, but --fence-length is not "
                "given.",
                "Give --fence-length, the distance from the fence's pivot to the leaf, too.",
            )


def _only(shape: str, wanted: dict[str, str | None], strange: dict[str, str | None]) -> None:
    if missing := [option for option, text in wanted.items() if text is None]:
        raise InputError(
            f"For a {shape} the caliper's {' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} missing.",
            f"Give {', '.join(wanted)}.",
        )
    if too_many := [option for option, text in strange.items() if text is not None]:
        raise InputError(f"{too_many[0]} does not belong to a {shape}.", f"Leave {too_many[0]} out, or change --shape.")


def _digits(*texts: str) -> float | None:
    """Mm per unit of the digits as typed; None for a list, a fraction, or units that are neither mm nor inches."""
    units = {unit for text in texts for unit in ("mm", "in") if text.strip().lower().endswith((unit, f"{unit}."))}
    if len(units) != 1 or any("," in text or "/" in text for text in texts):
        return None
    from cutvision.units import MM_PER_INCH

    return 1.0 if units == {"mm"} else MM_PER_INCH


def _text_of(file: Path) -> str:
    try:
        return read_bounded(file, "measurement").decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"{file} cannot be read: it is no text.", LIMITS["measurement"].remedy) from error
