"""`cutvision measure`: photos of an offcut to its angles and lengths and, with the fence's lever, to the fence move."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from cutvision.cli.correct_options import FenceOptions, given
from cutvision.cli.drawing_option import DrawingOptions
from cutvision.cli.joint_options import JointOptions
from cutvision.cli.leaves import LeafOptions
from cutvision.cli.output import answer, answer_json, refusals_told, tell, tell_problem
from cutvision.cli.photo_options import PhotoOptions
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
from cutvision.files import check_output

if TYPE_CHECKING:
    from cutvision.correction import Correction, LeafChoice
    from cutvision.correction.joint import JointPreview
    from cutvision.measurement.result import Measurement
    from cutvision.reports.correction_json import CorrectionJson
    from cutvision.workflow import FenceQuestion


ShapeName = Literal["miter", "strip", "corner", "board"]
Side = Literal["left", "right"]


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
    nominal: Annotated[
        str, typer.Option("--nominal", metavar="ANGLE", help="The miter as shops say it, from a square cut.")
    ] = "45deg",
    read_to: Annotated[
        str | None, typer.Option("--read-to", metavar="LENGTH", help="The largest error of a length read on the print.")
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
    *,
    shots: PhotoOptions,
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
    from cutvision.reports.measurement_json import measurement_as_json
    from cutvision.reports.measurement_text import measurement_text
    from cutvision.units import parse_angle

    request = shots.request(shape, parse_angle(nominal, "--nominal"), read_to)
    cut_rad = 0.0 if shape == "strip" else request.nominal_rad
    choice, tolerance, cut_spread, geometry = (
        leaves.choice(),
        fence.asked_tolerance(cut_rad),
        spread.asked(),
        fence.geometry(),
    )
    table.check()
    question = None
    if fence_length is not None:
        question = workflow.FenceQuestion(
            lever_mm=given(fence_length, "--fence-length"),
            kept=kept,
            turns=turns,
            tolerance_rad=None if tolerance is None else tolerance.angle_rad,
            cut_spread=cut_spread,
            geometry=geometry,
            tolerance_said="" if tolerance is None else tolerance.said,
        )
        workflow.check_question(request, question)
        joints.check(cut_rad)
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
    for file in files:
        check_output(file, "picture", inputs=[*photos, *([shots.camera] if shots.camera else [])])
    recorder = record.recorder()

    with refusals_told(as_json=as_json), refusals_kept(recorder, photos, shots.camera):
        looked_at, measurement = workflow.measure_photos(photos, request, shots.speaker())
    told: dict[str, Any] = {**measurement_as_json(measurement)}
    correction, doubted = _corrected(measurement, request.nominal_rad, question)
    words = _FenceWords()
    if correction is not None:
        told["correction"], words = _told_of_fence(correction, choice, joints.of(correction), with_budget=budget)
        table.write(correction)
    recorded = None
    if files or recorder is not None:
        from cutvision.reports.annotated import annotate, picture_bytes, write_picture

        drawn = [
            annotate(photo, measurement, index, words.advice, nominal_rad=request.nominal_rad, kept=kept)
            for index, photo in enumerate(looked_at)
        ]
        for one, file in zip(drawn, files, strict=False):
            write_picture(one, file, photos)
            tell(f"Wrote {file}.")
        if recorder is not None:
            pictures = picture_files([picture_bytes(one) for one in drawn])
            made = (*pictures, *(() if correction is None else drawn_move(correction)))
            evidence = (*photo_files(photos, leave=record.leave_photos), *made, *camera_files(shots.camera))
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


def _corrected(
    measurement: Measurement, nominal_rad: float, question: FenceQuestion | None
) -> tuple[Correction | None, InputError | None]:
    """The fence when it was asked for, or why it is rather asked about: what was measured is told all the same."""
    from cutvision import workflow

    if question is None:
        return None, None
    try:
        return workflow.correct(measurement, nominal_rad, question), None
    except InputError as problem:
        return None, problem


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

    stack = None if choice is None else find_stack(correction.move.at_shim.value, choice)
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
