"""Caliper readings against photos of the same piece: do they agree, why not, and what do both say together."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

from cutvision.errors import InputError
from cutvision.jobs.fence import FENCE_LENGTH, KEPT, FenceSaid, RepeatsSaid, ShimsSaid, Side
from cutvision.jobs.photos import SHEET, PhotosSaid, Progress, measure_photos
from cutvision.jobs.reading import NOMINAL, TURNS, BlankSaid, CaliperSaid
from cutvision.jobs.said import FILE, LENGTH, LENGTHS, Needs, Say
from cutvision.units import MM_PER_INCH, parse_angle, parse_lengths

if TYPE_CHECKING:
    from cutvision.correction import Correction, ReadingCare, StackAdvice
    from cutvision.correction.comparison import Caliper, Comparison, PhotoReading
    from cutvision.measurement.result import Measurement

TRUE_CORNER = "90deg"


@dataclass(frozen=True, kw_only=True)
class Compare(PhotosSaid, CaliperSaid, BlankSaid, FenceSaid, RepeatsSaid, ShimsSaid):
    """Set caliper readings against photos of the same piece: do they agree, why not, and what do both say together.

    cutvision compare sample_images/miter-1.jpg --shape miter --thickness 19mm --left-leg 70.48mm --right-leg 69.50mm
    --corner 89.84deg

    They agree when E_n = difference / root of the sum of both uncertainties squared is at most 1 (ISO/IEC 17043).
    """

    needs: ClassVar[Needs] = (("shape",),)
    photos: Annotated[tuple[Path, ...], Say("Photos of the piece, as for `measure`.", FILE, option="PHOTO")] = ()
    shape: Annotated[
        Literal["miter", "strip"], Say("What the piece is: a miter's triangle or a squaring test's strip.", main=True)
    ]
    left_leg: Annotated[
        str | None, Say("Miter: the leg on your left, face up, its cut toward you.", LENGTHS, main=True)
    ] = None
    right_leg: Annotated[str | None, Say("Miter: the leg on your right.", LENGTHS, main=True)] = None
    at_fence: Annotated[str | None, Say("Strip: the width at the end that lay at the fence.", LENGTHS, main=True)] = (
        None
    )
    far_end: Annotated[str | None, Say("Strip: the width at the far end.", LENGTHS, main=True)] = None
    between: Annotated[
        str | None, Say("Strip: the spacing, along it from one reading to the other.", LENGTHS, main=True)
    ] = None
    photo_json: Annotated[
        Path | None, Say("Instead of photos: the file into which `measure --json` was written.", FILE)
    ] = None
    print_read_to: Annotated[str | None, Say("The largest error of a length read on the print.", LENGTH, SHEET)] = None
    fence_length: Annotated[str | None, FENCE_LENGTH] = None
    kept: Annotated[Side | None, KEPT] = None
    nominal: Annotated[str, NOMINAL] = "45deg"
    turns: Annotated[int | None, TURNS] = None


@dataclass(frozen=True, slots=True)
class CompareResult:
    """What both say; correction: of the fence from both, when its lever was given and they fit. shims: for its move."""

    comparison: Comparison
    correction: Correction | None = None
    shims: StackAdvice | None = None


def run_compare(asked: Compare, progress: Progress = lambda _step: None) -> CompareResult:
    """Measure, or read what was measured, and compare. Raises InputError in the option's name, and PhotosRefused."""
    from cutvision.correction.comparison import compare, correct_combined

    care = asked.care(asked.tips, asked.corner_to)
    caliper = _caliper(asked, care)
    nominal_rad = parse_angle(asked.nominal, "--nominal")
    _check_question(asked)
    comparison = compare(caliper, _photo(asked, nominal_rad, progress))
    if asked.fence_length is None or not comparison.combined:
        return CompareResult(comparison)
    cut_rad = 0.0 if asked.shape == "strip" else nominal_rad
    jig = asked.jig(asked.fence_length, asked.kept, care, asked.repeats(), cut_rad)
    turns = {} if asked.turns is None else {"turns": asked.turns}
    correction = correct_combined(comparison, jig, nominal_rad=nominal_rad, **turns)
    return CompareResult(comparison, correction, asked.stack(correction))


def photo_reading(measurement: Measurement) -> PhotoReading:
    """What the photos gave, as something that caliper readings can be set against."""
    from cutvision.correction.comparison import PhotoReading

    used = measurement.photos
    return PhotoReading(
        quantities=measurement.quantities,
        edge_form_rad=measurement.edge_form_rad,
        photos=len(used),
        lens_height_mm=math.fsum(photo.lens_height_mm for photo in used) / len(used),
        thickness_mm=max(edge.height_mm for photo in used for edge in photo.edges),
    )


def _check_question(asked: Compare) -> None:
    """Raise InputError, before anything is measured, for what goes with no fence or another shape."""
    if asked.turns is not None and asked.shape != "strip":
        raise InputError("--turns belongs to a strip from a squaring test.", "Leave --turns out for a miter.")
    choice, repeats = asked.choice(), asked.repeats()
    about_the_fence = (asked.tolerance, asked.turns, repeats, choice)
    if asked.fence_length is None and any(one is not None for one in about_the_fence):
        raise InputError(
            "A tolerance, turns, how the cut repeats and shims are about the fence, but --fence-length is not given.",
            "Give --fence-length, the distance from the fence's pivot to the shim, too.",
        )


def _photo(asked: Compare, nominal_rad: float, progress: Progress) -> PhotoReading:
    if bool(asked.photos) == (asked.photo_json is not None):
        raise InputError(
            "Photos and --photo-json are both given." if asked.photos else "There is no photo to compare with.",
            "Give one or more photos of the piece, or --photo-json with what `cutvision measure --json` printed.",
        )
    if asked.photo_json is None:
        request = asked.photo_request(asked.shape, nominal_rad, asked.print_read_to, "--print-read-to")
        return photo_reading(measure_photos(asked.photos, request, progress)[1])
    strange = [*asked.of_photos(), *(() if asked.print_read_to is None else ("--print-read-to",))]
    if strange:
        raise InputError(
            f"{strange[0]} belongs to photos; {asked.photo_json.name} was measured already.", f"Leave {strange[0]} out."
        )
    from cutvision.jobs.measured_file import read_measured_file

    return read_measured_file(asked.photo_json, asked.shape)


def _caliper(asked: Compare, care: ReadingCare) -> Caliper:
    """The readings as quantities. Raises InputError for one that is missing or belongs to the other shape."""
    from cutvision.correction import typed_corner, typed_distance, typed_legs, typed_widths
    from cutvision.correction.comparison import CaliperLegs, CaliperWidths
    from cutvision.correction.readings import TIPS_MM

    legs = {"--left-leg": asked.left_leg, "--right-leg": asked.right_leg}
    widths = {"--at-fence": asked.at_fence, "--far-end": asked.far_end, "--between": asked.between}
    blank = {
        "--corner": None if asked.corner == TRUE_CORNER else asked.corner,
        "--corner-to": asked.corner_to,
        "--tips": asked.tips,
    }
    if asked.shape == "miter":
        left, right = _only("miter", legs, widths)
        return CaliperLegs(
            *typed_legs(parse_lengths(left, "--left-leg"), parse_lengths(right, "--right-leg"), care),
            corner=typed_corner(parse_angle(asked.corner, "--corner"), care),
            tips_mm=TIPS_MM if care.tips_mm is None else care.tips_mm,
            digits_mm=_digits(left, right),
        )
    at, far, between = _only("strip", widths, {**legs, **blank})
    return CaliperWidths(
        *typed_widths(parse_lengths(at, "--at-fence"), parse_lengths(far, "--far-end"), care),
        between=typed_distance(parse_lengths(between, "--between"), "between", care),
        edge_form=care.edge_form,
        digits_mm=_digits(at, far),
    )


def _only(shape: str, wanted: Mapping[str, str | None], strange: Mapping[str, str | None]) -> tuple[str, ...]:
    """What is wanted, all of it."""
    found = [text for text in wanted.values() if text is not None]
    if len(found) < len(wanted):
        missing = [option for option, text in wanted.items() if text is None]
        raise InputError(
            f"For a {shape} the caliper's {' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} missing.",
            f"Give {', '.join(wanted)}.",
        )
    if too_many := [option for option, text in strange.items() if text is not None]:
        raise InputError(f"{too_many[0]} does not belong to a {shape}.", f"Leave {too_many[0]} out, or change --shape.")
    return tuple(found)


def _digits(*texts: str) -> float | None:
    """Mm per unit of the digits as typed; None for a list, a fraction, or units that are neither mm nor inches."""
    units = {unit for text in texts for unit in ("mm", "in") if text.strip().lower().endswith((unit, f"{unit}."))}
    if len(units) != 1 or any("," in text or "/" in text for text in texts):
        return None
    return 1.0 if units == {"mm"} else MM_PER_INCH
