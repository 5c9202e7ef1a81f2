"""From a task to its answer: what the worker's process does. The same calls as the command line's, in one place."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cutvision.errors import CutvisionError, InputError, PhotosRefused
from cutvision.logbook.evidence import NewFile
from cutvision.logbook.recording import Recorder
from cutvision.reports.model import Report

if TYPE_CHECKING:
    from cutvision.correction import Correction
    from cutvision.jobs.correct import CorrectResult
    from cutvision.jobs.measure import MeasureResult


@dataclass(frozen=True, slots=True)
class Task:
    """What is asked: the job's words, what was said by field, and what will keep the run.

    folder: where the photos lie, which are named by their names alone, as the answer and the logbook name them.
    """

    command: tuple[str, ...]
    said: dict[str, Any]
    recorder: Recorder
    folder: Path


@dataclass(frozen=True, slots=True)
class Problem:
    """What went wrong, in words. at_the_saw: whether the remedy sends the person to the saw."""

    message: str
    remedy: str
    at_the_saw: bool = False


@dataclass(frozen=True, slots=True)
class Answer:
    """What came of a task.

    report: without its scene, which `drawing` shows; None when there is only a problem. plain: what is recorded; None
    when nothing is. made: the files that the logbook keeps with it beside the photos. measured: the sha256 of every
    photo that was measured. drawing: of the move, as SVG. pictures: JPEGs, annotated, or of refused photos as they were
    seen. checked: whether the answer says how the fence moved.
    """

    report: Report | None
    plain: dict[str, Any] | None = None
    made: tuple[NewFile, ...] = ()
    measured: tuple[str, ...] = ()
    drawing: bytes | None = None
    pictures: tuple[bytes, ...] = ()
    problem: Problem | None = None
    refused: bool = False
    checked: bool = False


def answer(task: Task) -> Answer:
    """Do what is asked. What a person can mend is in the answer; any other exception is a fault."""
    with contextlib.chdir(task.folder):
        return _answer(task)


def _answer(task: Task) -> Answer:
    from cutvision.jobs.registry import JOBS
    from cutvision.jobs.said import request

    job = JOBS[task.command]
    try:
        asked: Any = request(job.kind, task.said)
        found = job.run(asked)
    except PhotosRefused as refused:
        return _refused(task, refused)
    except CutvisionError as problem:
        return Answer(None, problem=problem_of(problem))
    if task.command == ("measure",):
        return _measured(task, asked, found)
    return _corrected(task, asked, found)


def problem_of(error: CutvisionError) -> Problem:
    """The error in words."""
    return Problem(error.message, error.remedy, isinstance(error, InputError) and error.at_the_saw)


def _corrected(task: Task, asked: Any, found: CorrectResult) -> Answer:
    from cutvision.reports.encoded import encoded
    from cutvision.reports.reading_help import how_to_read
    from cutvision.reports.says_check import checked_report
    from cutvision.reports.says_correction import correction_report
    from cutvision.reports.says_kept import drawn_move

    correction, checked = task.recorder.answered(found.correction)
    assert correction is not None  # noqa: S101  one was given
    found = replace(found, correction=correction, shims=asked.stack(correction))
    how = how_to_read(correction.method, correction.way)
    report = correction_report(correction, found.assumed, shims=found.shims, joints=found.joints, how=how)
    return Answer(
        replace(checked_report(report, checked), drawing=None),
        encoded(found, checked),
        drawn_move(correction),
        drawing=_drawing(correction),
        checked=checked is not None,
    )


def _measured(task: Task, asked: Any, found: MeasureResult) -> Answer:
    from cutvision.logbook.recording import camera_files, picture_files
    from cutvision.reports.annotated import annotate, picture_bytes
    from cutvision.reports.encoded import encoded
    from cutvision.reports.says_check import checked_report
    from cutvision.reports.says_kept import drawn_move
    from cutvision.reports.says_measurement import measurement_report
    from cutvision.units import parse_angle

    correction, checked = task.recorder.answered(found.correction)
    if correction is not None:
        found = replace(found, correction=correction, shims=asked.stack(correction))
    nominal_rad = parse_angle(asked.nominal, "--nominal")
    report = measurement_report(
        found.measurement, correction, nominal_rad=nominal_rad, kept=asked.kept, shims=found.shims, joints=found.joints
    )
    report = replace(checked_report(report, checked), drawing=None)
    advice = report.headline if correction is not None else ()
    pictures = tuple(
        picture_bytes(annotate(photo, found.measurement, index, advice, nominal_rad=nominal_rad, kept=asked.kept))
        for index, photo in enumerate(found.photos)
    )
    return Answer(
        report,
        encoded(found, checked),
        (*picture_files(pictures), *drawn_move(correction), *camera_files(asked.camera)),
        tuple(photo.sha256 for photo in found.photos),
        _drawing(correction),
        pictures,
        None if found.asked_about is None else problem_of(found.asked_about),
        checked=checked is not None,
    )


def _drawing(correction: Correction | None) -> bytes | None:
    from cutvision.reports.figure import figure_bytes
    from cutvision.reports.saw_drawing import saw_drawing

    figure = None if correction is None else saw_drawing(correction)
    return None if figure is None else figure_bytes(figure, "svg")


def _refused(task: Task, refused: PhotosRefused) -> Answer:
    """Why, how to retake it, and each photo as it was seen."""
    from cutvision.reports.encoded import encoded
    from cutvision.reports.says_refusal import refusal_report

    pictures = [_seen(path) for path in task.said["photos"]]
    return Answer(
        refusal_report(refused.refusals, refused.good),
        encoded(refused),
        pictures=tuple(one for one in pictures if one is not None),
        refused=True,
    )


def _seen(path: Path) -> bytes | None:
    """The photo as it was decoded, small, with nothing in it but the picture; None when it cannot be decoded."""
    from cutvision.errors import PhotoRefused
    from cutvision.imaging.photo import read_photo_file
    from cutvision.reports.annotated import picture_bytes, unmarked

    try:
        return picture_bytes(unmarked(read_photo_file(path)))
    except PhotoRefused:
        return None
