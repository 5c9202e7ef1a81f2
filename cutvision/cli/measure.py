"""`cutvision measure`: photos of an offcut to its angles and lengths and, with the fence's lever, to the fence move."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from cutvision.cli.correct_options import FenceOptions
from cutvision.cli.drawing_option import DrawingOptions
from cutvision.cli.joint_options import JointOptions
from cutvision.cli.leaves import LeafOptions
from cutvision.cli.output import Progress, answer, answer_json, refusals_told, tell, tell_problem
from cutvision.cli.record_options import (
    RecordOptions,
    camera_files,
    drawn_move,
    photo_files,
    picture_files,
    refusals_kept,
)
from cutvision.cli.spread import SpreadOptions
from cutvision.errors import InputError

if TYPE_CHECKING:
    from cutvision.correction import Correction, LeafChoice
    from cutvision.correction.joint import JointPreview
    from cutvision.imaging.camera_file import CameraFile
    from cutvision.reports.correction_json import CorrectionJson
    from cutvision.target.print_scale import PrintReadings


ShapeName = Literal["miter", "strip", "corner", "board"]
Side = Literal["left", "right"]
THICKEST_MM = 150.0  # the deepest table saws cut some 130 mm (common practice, no source)


def measure(
    photos: Annotated[
        list[Path],
        typer.Argument(metavar="PHOTO...", help="Photos of one piece on one sheet, turned or moved between shots."),
    ],
    shape: Annotated[
        ShapeName,
        typer.Option(
            "--shape",
            help="What the piece is: a miter's triangle, a squaring test's strip, a board's corner, a whole board.",
        ),
    ],
    thickness: Annotated[
        str | None, typer.Option("--thickness", metavar="LENGTH", help="The stock's thickness, as 19mm or 3/4in.")
    ] = None,
    nominal: Annotated[
        str, typer.Option("--nominal", metavar="ANGLE", help="The miter as shops say it, from a square cut.")
    ] = "45deg",
    long_side: Annotated[
        str | None,
        typer.Option("--long-side", metavar="LENGTH", help="The printed frame's long side, as read on the paper."),
    ] = None,
    short_side: Annotated[
        str | None, typer.Option("--short-side", metavar="LENGTH", help="Its short side, as read on the paper.")
    ] = None,
    read_to: Annotated[
        str | None, typer.Option("--read-to", metavar="LENGTH", help="The largest error of such a reading.")
    ] = None,
    diagonal_down: Annotated[
        str | None,
        typer.Option("--diagonal-down", metavar="LENGTH", help="Its diagonal from top left to bottom right."),
    ] = None,
    diagonal_up: Annotated[
        str | None, typer.Option("--diagonal-up", metavar="LENGTH", help="Its diagonal from bottom left to top right.")
    ] = None,
    camera: Annotated[
        Path | None, typer.Option("--camera", metavar="FILE", help="What `cutvision camera calibrate` wrote.")
    ] = None,
    fence_length: Annotated[
        str | None,
        typer.Option(
            "--fence-length",
            metavar="LENGTH",
            help="From the fence's pivot to where the leaf goes or the fence is pushed, at right angles to the push. "
            "Gives the fence move too.",
        ),
    ] = None,
    kept: Annotated[
        Side | None, typer.Option("--kept", help="The side of the blade on which the work lay and was kept.")
    ] = None,
    turns: Annotated[
        int | None,
        typer.Option("--turns", help="Strip: quarter turns of the board between its two edges (4, or 2)."),
    ] = None,
    budget: Annotated[bool, typer.Option("--budget", help="Print where the doubt of each figure comes from.")] = False,
    picture: Annotated[
        Path | None,
        typer.Option(
            "--picture", metavar="FILE", help="Write the annotated photo (.jpg or .png); of several, FILE-1, FILE-2 ..."
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")] = False,
    progress: Annotated[
        bool, typer.Option("--progress", help="Say what is being done even without a terminal.")
    ] = False,
    *,
    fence: FenceOptions,
    spread: SpreadOptions,
    leaves: LeafOptions,
    table: DrawingOptions,
    joints: JointOptions,
    record: RecordOptions,
) -> None:
    """Measure an offcut on the printed sheet from one photo or several.

    Before you lift it, pencil L and R on a miter's left and right leg (cut toward you), F on the end of a strip that
    lay at the fence; lay that end to the sheet's left. A miter wants two photos, turned by a quarter turn between.
    """
    from cutvision import workflow
    from cutvision.measurement.request import MeasureRequest
    from cutvision.reports.measurement_json import measurement_as_json
    from cutvision.reports.measurement_text import measurement_text
    from cutvision.units import parse_angle, parse_lengths

    request = MeasureRequest(
        shape=shape,
        thickness_mm=None if thickness is None else thickness_of(thickness),
        nominal_rad=parse_angle(nominal, "--nominal"),
        readings=print_readings(long_side, short_side, read_to, diagonal_down, diagonal_up),
        camera=None if camera is None else camera_of(camera),
    )
    question = None
    choice, cut_spread = leaves.choice(), spread.asked()
    tolerance = fence.asked_tolerance(0.0 if shape == "strip" else request.nominal_rad)
    geometry = fence.geometry()
    table.check()
    if fence_length is not None:
        question = workflow.FenceQuestion(
            lever_mm=parse_lengths(fence_length, "--fence-length"),
            kept=kept,
            turns=turns,
            tolerance_rad=None if tolerance is None else tolerance.angle_rad,
            cut_spread=cut_spread,
            geometry=geometry,
            tolerance_said="" if tolerance is None else tolerance.said,
        )
        workflow.check_question(request, question)
        joints.check(0.0 if shape == "strip" else request.nominal_rad)
    else:
        _refuse_without_lever(
            {
                "--turns and --tolerance": (turns, tolerance),
                "--leaf-set, --leaves, --cut-spread and --cut-angles": (choice, cut_spread),
                "--fence, what goes with it, and --drawing": (geometry, table.drawing),
                "--joint-sides and --joint-stock": (joints.joint_sides, joints.joint_stock),
            }
        )
    files = [] if picture is None else pictures_of(picture, len(photos))
    recorder = record.recorder()

    with refusals_told(as_json=as_json), refusals_kept(recorder, photos, camera):
        looked_at, measurement = workflow.measure_photos(photos, request, Progress(True if progress else None))
    told: dict[str, Any] = {**measurement_as_json(measurement)}
    correction, words = None, _FenceWords()
    doubted: InputError | None = None
    if question is not None:
        try:
            correction = workflow.correct(measurement, request.nominal_rad, question)
        except InputError as problem:
            doubted = problem  # what was measured is told all the same
    if correction is not None:
        told["correction"], words = _told_of_fence(correction, choice, joints.of(correction), with_budget=budget)
        table.write(correction)
    drawn: list[bytes] = []
    if files or recorder is not None:
        from cutvision.reports.annotated import annotate, picture_bytes, write_picture

        for index, photo in enumerate(looked_at):
            one = annotate(photo, measurement, index, words.advice, nominal_rad=request.nominal_rad, kept=kept)
            if files:
                write_picture(one, files[index])
                tell(f"Wrote {files[index]}.")
            if recorder is not None:
                drawn.append(picture_bytes(one))
    recorded = None
    if recorder is not None:
        made = (*picture_files(drawn), *(() if correction is None else drawn_move(correction)))
        evidence = (*photo_files(photos, leave=record.leave_photos), *made, *camera_files(camera))
        recorded = recorder.keep(told, evidence, [photo.sha256 for photo in looked_at])
    if as_json:
        answer_json(told)
    else:
        text = measurement_text(
            measurement,
            words.advice,
            beside=words.beside,
            noted=words.noted,
            with_budget=budget,
            nominal_rad=request.nominal_rad,
            kept=kept,
        )
        answer(text.rstrip())
    if recorded is not None:
        recorded.say(beside_cautions=not as_json)
    if doubted is not None:
        tell_problem(doubted)
        raise typer.Exit(doubted.exit_status)


@dataclass(frozen=True, slots=True)
class _FenceWords:
    """What is said of the fence: the answer's first lines, the blocks below them, and notes."""

    advice: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    noted: tuple[str, ...] = ()


def _told_of_fence(
    correction: Correction, choice: LeafChoice | None, joints: JointPreview | None, *, with_budget: bool
) -> tuple[CorrectionJson, _FenceWords]:
    """The correction for other programs, and in words."""
    from cutvision.correction import find_stack
    from cutvision.reports.correction_json import correction_as_json
    from cutvision.reports.correction_text import (
        answer_lines,
        budget_table,
        figures,
        leaf_block,
        next_block,
        note_lines,
    )
    from cutvision.reports.joint_text import joint_block
    from cutvision.reports.move_drawing import move_drawing

    stack = None if choice is None else find_stack(correction.move.at_leaf.value, choice)
    beside = [leaf_block(correction, stack), figures(correction)]
    if with_budget:
        beside.append(budget_table(correction.angle_error))
    if correction.decision.moves:
        beside += [block for block in ("\n".join(move_drawing(correction)), next_block(correction)) if block]
    if joints is not None:
        beside.append(joint_block(joints))
    words = _FenceWords(answer_lines(correction), tuple(beside), tuple(note_lines(correction)))
    return correction_as_json(correction, stack, joints), words


def _refuse_without_lever(said: Mapping[str, tuple[object, ...]]) -> None:
    """Raise InputError for options about the fence, by their names, when its lever is not known."""
    for names, values in said.items():
        if any(value is not None for value in values):
            raise InputError(
                f"{names} are about the fence, but --fence-length is not given.",
                "Give --fence-length, the distance from the fence's pivot to the leaf, too.",
            )


def thickness_of(text: str) -> float:
    """The stock's thickness in mm. Raises InputError also for more than any table saw cuts through."""
    from cutvision.units import parse_length

    thickness_mm = parse_length(text, "--thickness")
    if thickness_mm > THICKEST_MM:
        message = f"--thickness is '{text}': no table saw cuts through more than {THICKEST_MM:g} mm."
        raise InputError(message, "Give the height of the piece as it lies on the sheet, such as 19mm or 3/4in.")
    return thickness_mm


def camera_of(file: Path) -> CameraFile:
    """What was calibrated before. Raises InputError for a file that holds no camera."""
    from cutvision.imaging.camera_file import read_camera_file

    return read_camera_file(file)


def print_readings(
    long_side: str | None,
    short_side: str | None,
    read_to: str | None,
    down: str | None = None,
    up: str | None = None,
    *,
    read_to_option: str = "--read-to",
) -> PrintReadings | None:
    """What was read on the print. Raises InputError when no more than how well it was read is given."""
    from cutvision.target.print_scale import READ_TO_MM, PrintReadings
    from cutvision.units import parse_length

    def length(text: str | None, option: str) -> float | None:
        return None if text is None else parse_length(text, option)

    to_mm = length(read_to, read_to_option)
    readings = PrintReadings(
        long_side_mm=length(long_side, "--long-side"),
        short_side_mm=length(short_side, "--short-side"),
        read_to_mm=READ_TO_MM if to_mm is None else to_mm,
        diagonal_down_mm=length(down, "--diagonal-down"),
        diagonal_up_mm=length(up, "--diagonal-up"),
    )
    if long_side or short_side or down or up:
        return readings
    if read_to:
        message = f"{read_to_option} says how well lengths were read on the print, but none is given."
        raise InputError(message, f"Give --long-side and --short-side too, or leave {read_to_option} out.")
    return None


def pictures_of(picture: Path, count: int) -> list[Path]:
    """The file for each photo's picture: the name itself for one, with -1, -2 ... before its ending for several.

    Raises InputError, before anything is measured, when pictures are not written in such a file.
    """
    from cutvision.reports.annotated import FORMATS

    if picture.suffix.lower() not in FORMATS:
        message = f"--picture {picture}: an annotated photo is written as {' or '.join(FORMATS)}."
        raise InputError(message, "Give the file one of these endings.")
    if count == 1:
        return [picture]
    return [picture.with_stem(f"{picture.stem}-{number}") for number in range(1, count + 1)]
