"""Photos of one piece to its angles and lengths and, with the fence's lever, to the fence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

from cutvision.errors import InputError
from cutvision.jobs.fence import FENCE_LENGTH, KEPT, FenceSaid, JointSaid, RepeatsSaid, ShimsSaid, Side
from cutvision.jobs.photos import SHEET, PhotosSaid, Progress, measure_photos
from cutvision.jobs.reading import NOMINAL, TURNS
from cutvision.jobs.said import FILE, LENGTH, Needs, Say
from cutvision.units import parse_angle, parse_lengths

if TYPE_CHECKING:
    from cutvision.correction import Correction, Jig
    from cutvision.correction.feeler_stack import StackAdvice
    from cutvision.correction.joint import JointPreview
    from cutvision.imaging.photo import Photo
    from cutvision.measurement.result import Measurement

ShapeName = Literal["miter", "strip", "corner", "board"]
STRIP_TURNS = 4
# Which of a miter's angles is the fence's own, by the side on which the work was kept.
FENCE_ANGLE = {"left": "angle_right", "right": "angle_left", None: "split_error"}


@dataclass(frozen=True, kw_only=True)
class Measure(PhotosSaid, FenceSaid, RepeatsSaid, ShimsSaid, JointSaid):
    """Measure an offcut on the printed sheet from one photo or several.

    Before you lift it, pencil L and R on a miter's left and right leg (cut toward you), F on the end of a strip that
    lay at the fence; lay that end to the sheet's left. A miter wants two photos, turned by a quarter turn between.

    cutvision measure first.jpg turned.jpg --shape miter --thickness 19mm --fence-length 380mm --kept left
    """

    needs: ClassVar[Needs] = (("shape",),)
    photos: Annotated[
        tuple[Path, ...], Say("Photos of one piece on one sheet, turned or moved between shots.", FILE, option="PHOTO")
    ]
    shape: Annotated[
        ShapeName,
        Say(
            "What the piece is: a miter's triangle, a squaring test's strip, a board's corner, a whole board.",
            main=True,
        ),
    ]
    fence_length: Annotated[str | None, FENCE_LENGTH] = None
    kept: Annotated[Side | None, KEPT] = None
    nominal: Annotated[str, NOMINAL] = "45deg"
    turns: Annotated[int | None, TURNS] = None
    read_to: Annotated[str | None, Say("The largest error of a length read on the print.", LENGTH, SHEET)] = None

    @property
    def cut_rad(self) -> float:
        """The cut's nominal angle from a square cut."""
        return 0.0 if self.shape == "strip" else parse_angle(self.nominal, "--nominal")


@dataclass(frozen=True, slots=True)
class MeasureResult:
    """What the photos show and, when the fence's lever was given, the fence.

    photos: as they were read. asked_about: why the fence is rather asked about than corrected; None where it is not.
    """

    measurement: Measurement
    photos: tuple[Photo, ...]
    correction: Correction | None = None
    asked_about: InputError | None = None
    shims: StackAdvice | None = None
    joints: JointPreview | None = None


def run_measure(asked: Measure, progress: Progress = lambda _step: None) -> MeasureResult:
    """Read and measure the photos. Raises InputError in the option's name, and PhotosRefused."""
    request = asked.photo_request(asked.shape, parse_angle(asked.nominal, "--nominal"), asked.read_to)
    jig = _fence(asked)
    photos, measurement = measure_photos(asked.photos, request, progress)
    if jig is None:
        return MeasureResult(measurement, tuple(photos))
    try:
        correction = correct_measured(measurement, jig, request.nominal_rad, asked.turns)
    except InputError as problem:
        return MeasureResult(measurement, tuple(photos), asked_about=problem)
    return MeasureResult(
        measurement,
        tuple(photos),
        correction,
        shims=asked.stack(correction),
        joints=asked.joints(correction),
    )


def correct_measured(measurement: Measurement, jig: Jig, nominal_rad: float, turns: int | None = None) -> Correction:
    """From what the photos show to the fence. Raises InputError as the methods in `correction` do."""
    from cutvision.correction import correct_miter_from_angles, correct_square_from_taper

    quantities, edge_form_rad = measurement.quantities, measurement.edge_form_rad
    if measurement.shape == "strip":
        return correct_square_from_taper(
            quantities["taper"],
            jig,
            turns=STRIP_TURNS if turns is None else turns,
            edge_form_rad=edge_form_rad["taper"],
        )
    return correct_miter_from_angles(
        quantities["angle_left"],
        quantities["angle_right"],
        quantities["corner"],
        jig,
        split_error=quantities["split_error"],
        nominal_rad=nominal_rad,
        edge_form_rad=edge_form_rad[FENCE_ANGLE[jig.kept]],
    )


def _fence(asked: Measure) -> Jig | None:
    """The fence that is asked about; None without its lever. Raises InputError before anything is measured."""
    from cutvision.correction import Jig, ReadingCare, typed_distance

    if asked.fence_length is None:
        _refuse_without_lever(asked)
        return None
    if asked.shape not in {"miter", "strip"}:
        message = f"A {asked.shape} shows how true the board is, but not which cut made which edge, nor so the fence."
        raise InputError(
            message, "Leave --fence-length out, or photograph a miter's offcut or the strip sawn off last."
        )
    if asked.turns is not None and asked.shape != "strip":
        raise InputError("--turns belongs to a strip from a squaring test.", "Leave --turns out for a miter.")
    geometry = asked.geometry()
    # without the kept side a miter's two candidates are shown, whatever the fence
    if geometry is not None and (asked.kept is not None or asked.shape == "strip"):
        geometry.check(asked.kept, asked.cut_rad)
    asked.check_joint(asked.cut_rad)
    asked.choice()
    lever = typed_distance(parse_lengths(asked.fence_length, "--fence-length"), "lever", ReadingCare())
    tolerance = asked.asked_tolerance(asked.cut_rad)
    return Jig(
        lever,
        asked.kept,
        None if tolerance is None else tolerance.angle_rad,
        asked.repeats(),
        geometry,
        "" if tolerance is None else tolerance.said,
    )


def _refuse_without_lever(asked: Measure) -> None:
    """Raise InputError for what was said of the fence when its lever is not known."""
    said: dict[str, Sequence[object]] = {
        "--turns and --tolerance": (asked.turns, asked.tolerance),
        "--shim-set, --shims, --cut-spread and --cut-angles": (
            asked.shim_set,
            asked.shims,
            asked.cut_spread,
            asked.cut_angles,
        ),
        "--fence and what goes with it": (asked.fence, asked.pivot, asked.shim_at, asked.screw_pitch),
        "--joint-sides and --joint-stock": (asked.joint_sides, asked.joint_stock),
    }
    for names, values in said.items():
        if any(value is not None for value in values):
            raise InputError(
                f"{names} are about the fence, but --fence-length is not given.",
                "Give --fence-length, the distance from the fence's pivot to the shim, too.",
            )
