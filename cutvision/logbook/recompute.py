"""A run computed again: the same request, made from what the logbook keeps, through the same job."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from cutvision.correction.adjustments import Adjustments
from cutvision.errors import InputError, PhotosRefused
from cutvision.files import NotReadError, read_bounded
from cutvision.jobs.registry import JOBS
from cutvision.jobs.said import declared, request
from cutvision.logbook.book import Logbook
from cutvision.logbook.differences import Difference, differences
from cutvision.logbook.evidence import is_as_recorded
from cutvision.logbook.recording import PHOTO, answered
from cutvision.logbook.records import InputValue, Run

Encode = Callable[[object, Adjustments | None], Mapping[str, Any]]


def recompute(book: Logbook, run: Run, encode: Encode) -> tuple[Difference, ...]:
    """What differs between a run's result as recorded and as computed now; of an older form, in what both hold.

    encode: a job's result, or a refusal, and what a check cut showed, as the object that is recorded. Raises InputError
    when a file that the run rests on is not here as it was, and for what no job keeps: an imported run is a stranger's.
    """
    job = JOBS.get(run.inputs.command)
    if job is None:
        raise _foreign(run, " ".join(run.inputs.command))
    takes = {PHOTO if one.is_list else one.option: one for one in declared(job.kind)}
    takes |= {f"--{one.say.formerly}": one for one in declared(job.kind) if one.say.formerly}
    said: dict[str, Any] = {}
    copies: dict[str, str] = {}
    for value in run.inputs.values:
        one = takes.get(value.option)
        if one is None:
            raise _foreign(run, " ".join([*run.inputs.command, value.option]))
        if one.is_file and not one.is_list and value.sha256 is None:
            raise _foreign(run, f"{value.option} without the file's hash")
        text: Any = value.value
        if value.sha256 is not None:
            text = _file_of(book, run, value)
            copies[text.stem] = value.sha256  # a stored file is named by the hash of its bytes
        if one.is_list:
            said[one.field] = (*said.get(one.field, ()), Path(text))
        else:
            said[one.field] = True if one.is_switch else text
    asked: Any = request(job.kind, said)
    try:
        result = job.run(asked)
    except PhotosRefused as refused:
        return tuple(differences(run.result, dict(encode(refused, None)), copies=copies))
    checked = None
    if run.check_of is not None and result.correction is not None:
        before = [one for one in book.readable(run.jig) if one.number < run.number]
        correction, checked = answered(result.correction, book.run(run.check_of), before)
        result = replace(result, correction=correction, shims=asked.stack(correction))
    older = "value" in (run.correction or {}).get("decision", {})
    return tuple(differences(run.result, dict(encode(result, checked)), copies=copies, shared=older))


def _foreign(run: Run, line: str) -> InputError:
    return InputError(
        f"Run {run.number} cannot be computed again: this cutvision keeps no run of `{line}`.",
        "It was recorded by another cutvision, or was changed where it came from: look at it with cutvision log show "
        f"{run.number}.",
    )


def _file_of(book: Logbook, run: Run, value: InputValue) -> Path:
    """The path of a stored file that an input names. Raises InputError when it is not here as it was recorded."""
    file = next((one for one in run.evidence if one.sha256 == value.sha256), None)
    if file is None:
        raise InputError(
            f"Run {run.number} does not hold the file {value.value} that it was computed from.",
            f"It was changed where it came from: look at it with cutvision log show {run.number}.",
        )
    path = book.path_of(file).absolute()
    try:
        sound = is_as_recorded(read_bounded(path, "evidence", follow_links=file.left_at is not None), file, path)
    except NotReadError as error:
        raise InputError(
            f"{file.name} of run {run.number} cannot be read: {error.why}.",
            f"Put {path} back from a backup or an export, then do the same again.",
        ) from error
    if not sound:
        raise InputError(
            f"{file.name} of run {run.number} was changed after it was recorded.",
            f"Put {path} back from a backup or an export, then do the same again.",
        )
    return path
