"""`cutvision measure`: photos of an offcut to its angles and lengths and, with the fence's lever, to the fence move."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from cutvision.cli.commands import Said, add
from cutvision.cli.keeping import Keeping, drawn_move, kept_lines, raise_unkept, refusals_kept, tell_kept
from cutvision.cli.output import Progress, answer, answer_json, refusals_told, tell, tell_problem
from cutvision.cli.shown import Drawn, Pictured, Shown, check_drawing, write_drawing
from cutvision.errors import InputError
from cutvision.files import check_output, write_output
from cutvision.jobs.measure import Measure, MeasureResult, run_measure

if TYPE_CHECKING:
    from cutvision.logbook.recording import Recorded, Recorder


def measure(asked: Measure, said: Said, shown: Shown, pictured: Pictured, drawn: Drawn, keeping: Keeping) -> None:
    """Measure, draw, record and print."""
    check_drawing(drawn.drawing, "--drawing")
    if drawn.drawing is not None and asked.fence_length is None:
        raise InputError(
            "--drawing draws the fence's move, but --fence-length is not given.",
            "Give --fence-length, the distance from the fence's pivot to the shim, too.",
        )
    files = [] if pictured.picture is None else pictures_of(pictured.picture, len(asked.photos))
    read = [*asked.photos, *([asked.camera] if asked.camera else [])]
    for file in files:
        check_output(file, "picture", inputs=read, force=shown.force)
    if drawn.drawing is not None:
        check_output(drawn.drawing, "drawing", inputs=read, force=shown.force)
    recorder = keeping.recorder(Measure, said)
    with refusals_told(as_json=shown.as_json), refusals_kept(recorder, asked.photos, asked.camera):
        found = run_measure(asked, Progress(True if pictured.progress else None))
    _finish(asked, found, shown, files, drawn.drawing, recorder)


def _finish(
    asked: Measure,
    found: MeasureResult,
    shown: Shown,
    files: list[Path],
    drawing: Path | None,
    recorder: Recorder | None,
) -> None:
    from cutvision.cli.encoded import encoded
    from cutvision.reports.says_check import checked_report
    from cutvision.reports.says_measurement import measurement_report
    from cutvision.reports.terminal import to_terminal
    from cutvision.units import parse_angle

    checked = None
    if recorder is not None and found.correction is not None:
        correction, checked = recorder.answered(found.correction)
        found = replace(found, correction=correction, shims=None if correction is None else asked.stack(correction))
    correction = found.correction
    plain = encoded(found, checked)
    report = measurement_report(
        found.measurement,
        correction,
        nominal_rad=parse_angle(asked.nominal, "--nominal"),
        kept=asked.kept,
        shims=found.shims,
        joints=found.joints,
    )
    report = checked_report(report, checked)
    if drawing is not None and correction is not None:
        from cutvision.reports.saw_drawing import saw_drawing

        write_drawing(drawing, saw_drawing(correction), force=shown.force, inputs=asked.photos)
    recorded = _pictured(asked, found, plain, report.headline if correction else (), files, recorder, force=shown.force)
    report = replace(report, sure=(*report.sure, *kept_lines(recorded, checked=checked is not None)))
    if shown.as_json:
        answer_json(plain)
        tell_kept(recorded)
    else:
        answer(to_terminal(report, shown.detail))
    if found.asked_about is not None:
        tell_problem(found.asked_about)
        raise typer.Exit(found.asked_about.exit_status)
    raise_unkept(recorded)


def _pictured(
    asked: Measure,
    found: MeasureResult,
    plain: dict[str, Any],
    advice: tuple[str, ...],
    files: list[Path],
    recorder: Recorder | None,
    *,
    force: bool,
) -> Recorded | None:
    """Draw the annotated photos where they are wanted, and record the run with them."""
    if not files and recorder is None:
        return None
    from cutvision.logbook.recording import camera_files, photo_files, picture_files
    from cutvision.reports.annotated import FORMATS, annotate, picture_bytes
    from cutvision.units import parse_angle

    nominal_rad = parse_angle(asked.nominal, "--nominal")
    drawn = [
        annotate(photo, found.measurement, index, advice, nominal_rad=nominal_rad, kept=asked.kept)
        for index, photo in enumerate(found.photos)
    ]
    for one, file in zip(drawn, files, strict=False):
        write_output(
            file, picture_bytes(one, FORMATS[file.suffix.lower()]), "picture", inputs=asked.photos, force=force
        )
        tell(f"Wrote {file}.")
    if recorder is None:
        return None
    evidence = (
        *photo_files(asked.photos, leave=recorder.leave_photos),
        *picture_files([picture_bytes(one) for one in drawn]),
        *drawn_move(found.correction),
        *camera_files(asked.camera),
    )
    return recorder.keep(plain, evidence, [photo.sha256 for photo in found.photos])


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


def register(app: typer.Typer) -> None:
    """Add the command."""
    from cutvision.reports.cautions import cautions

    add(app, "measure", Measure, measure, beside=(Shown, Pictured, Drawn, Keeping), epilog=" ".join(cautions("photo")))
