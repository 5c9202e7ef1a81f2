"""A run as it is about to be recorded: what was asked of it, under which circumstances, and the files it rests on."""

from __future__ import annotations

import contextlib
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from cutvision.correction import Correction
from cutvision.correction.adjustments import Adjustments, as_answered
from cutvision.errors import InputError
from cutvision.files import NotReadError, read_bounded
from cutvision.jobs.said import declared
from cutvision.logbook.answers import answers_of
from cutvision.logbook.book import Asked, open_book
from cutvision.logbook.evidence import NewFile, sha256_of
from cutvision.logbook.plain import canonical
from cutvision.logbook.records import Conditions, Inputs, InputSource, InputValue, NewRun, Run
from cutvision.version import __version__

PHOTO = "PHOTO"


@dataclass(frozen=True, slots=True)
class Recorder:
    """Where a run goes, and all that is kept of it but its result.

    jig: the jig's identity. checked: the run whose move or fastening this cut checks. leave_photos: whether the photos
    stay where they are, known by their hashes alone.
    """

    folder: Path
    jig: str
    jig_name: str
    conditions: Conditions
    inputs: Inputs
    checked: Run | None = None
    leave_photos: bool = False

    def keep(self, result: Mapping[str, Any], files: Sequence[NewFile] = (), measured: Sequence[str] = ()) -> Recorded:
        """Record the run. measured: the sha256 of each photo that the result rests on.

        What goes wrong with the book comes back as a value, so that the answer is given all the same.
        """
        run = NewRun(
            identity=str(uuid.uuid4()),
            jig=self.jig,
            recorded_at=datetime.now(UTC),
            conditions=self.conditions,
            inputs=_with_hashes(self.inputs, files),
            program=__version__,
            result_text=canonical(result),
            check_of=None if self.checked is None else self.checked.identity,
        )
        try:
            _refuse_changed(files, measured)
            with open_book(self.folder) as book:
                before = book.last_run(self.jig_name)
                recorded = book.record(run, files)
                return Recorded(recorded, before, tuple(book.asked(self.jig)), None)
        except InputError as problem:
            problem.message = f"This run is not in the logbook. {problem.message}"
            return Recorded(None, None, (), problem)

    def answered(self, correction: Correction | None) -> tuple[Correction | None, Adjustments | None]:
        """The correction as a check cut advises it, and how the fence moved of what was set after the checked run.

        As it is, and None, when no run is checked or nothing was moved after it.
        """
        if correction is None or self.checked is None:
            return correction, None
        with open_book(self.folder) as book:
            return answered(correction, self.checked, book.readable(self.jig))


def answered(correction: Correction, checked: Run, runs: Iterable[Run]) -> tuple[Correction, Adjustments | None]:
    """A check cut's correction with the move that allows for how the fence moved, and how it did.

    checked: the run whose move is checked; runs: the jig's before this one, oldest first. As it is, and None, when
    nothing was moved, or what was recorded does not show the fence's error.
    """
    if not any(move.distance_mm for move in checked.moves):
        return correction, None
    try:
        found = answers_of(runs, correction)
    except InputError:
        return correction, None
    return as_answered(correction, found), found


@dataclass(frozen=True, slots=True)
class Recorded:
    """What became of the recording: the run, the one before it, the check cuts asked for, or what went wrong."""

    run: Run | None
    before: Run | None
    asked: tuple[Asked, ...]
    problem: InputError | None


def recorder(
    folder: Path,
    jig: str,
    conditions: Conditions,
    inputs: Inputs,
    check_of: str | None = None,
    *,
    leave_photos: bool = False,
) -> Recorder:
    """What will keep a run of this jig. Raises InputError when the jig cannot take it."""
    with open_book(folder) as book:
        known = book.jig(jig)
        if known.retired:
            raise InputError(
                f"The jig '{known.name}' is retired.",
                f"Take it into use again with cutvision jig retire '{known.name}' --back, or add --no-record.",
            )
        checked = None if check_of is None else book.run(check_of)
        if checked is not None and checked.jig != known.identity:
            raise InputError(
                f"--check-of: run {checked.number} is of the jig '{checked.jig_name}', not of '{known.name}'.",
                f"cutvision log list --jig '{known.name}' shows its runs.",
            )
    return Recorder(folder, known.identity, known.name, conditions, inputs, checked, leave_photos)


def inputs_of(command: tuple[str, ...], kind: type, said: Mapping[str, Any], sources: Mapping[str, str]) -> Inputs:
    """All that a request was made from, as it would be typed. said, sources: by field."""
    found: list[InputValue] = []
    for one in sorted(declared(kind), key=lambda each: not each.is_list):
        value = said.get(one.field)
        if value is None or value is False:
            continue
        source: InputSource = "typed"
        if one.field in sources:
            source = "logbook" if sources[one.field] == "logbook" else "jig"
        option = PHOTO if one.is_list else one.option
        values = value if isinstance(value, list | tuple) else (value,)
        found += [InputValue(option, "" if each is True else str(each), source) for each in values]
    return Inputs(command, tuple(found))


def photo_files(photos: Sequence[Path], *, leave: bool = False) -> tuple[NewFile, ...]:
    """The photos as they came; one that cannot be read, or is no plain file, is left out."""
    found = []
    for path in photos:
        with contextlib.suppress(NotReadError):
            left_at = str(path.resolve()) if leave else None
            found.append(NewFile(path.name, "photo", read_bounded(path, "photo"), left_at, str(path)))
    return tuple(found)


def camera_files(camera: Path | None) -> tuple[NewFile, ...]:
    """The camera's file, when one was given."""
    if camera is None:
        return ()
    return (NewFile(camera.name, "camera", read_bounded(camera, "camera"), None, str(camera)),)


def picture_files(pictures: Sequence[bytes]) -> tuple[NewFile, ...]:
    """The annotated photos, as JPEG."""
    return tuple(NewFile(f"annotated-{number}.jpg", "annotated", data) for number, data in enumerate(pictures, 1))


def _with_hashes(inputs: Inputs, files: Sequence[NewFile]) -> Inputs:
    """The inputs with the hash of every file that they name and that could be read."""
    hashes = {file.typed: sha256_of(file.data) for file in files}
    return replace(
        inputs,
        values=tuple(
            replace(value, sha256=hashes.get(value.value)) if value.option in {PHOTO, "--camera"} else value
            for value in inputs.values
        ),
    )


def _refuse_changed(files: Sequence[NewFile], measured: Sequence[str]) -> None:
    """Raise InputError when a photo is no longer the one that was measured."""
    if measured and [sha256_of(file.data) for file in files if file.kind == "photo"] != list(measured):
        raise InputError("A photo was changed or moved while it was measured.", "Measure again.")


FIRST_YEAR = 1900  # as the logbook takes it from an archive


def day_of(text: str | None, what: str = "--date") -> date:
    """The day that was given, or today. what: names it in messages.

    Raises InputError when it is no day, or has not come yet.
    """
    today = datetime.now().astimezone().date()
    if text is None:
        return today
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise InputError(f"{what} is '{text}', which is no day.", f"Type it as {today.isoformat()}.") from error
    if day.year < FIRST_YEAR:
        raise InputError(f"{what} is {day.isoformat()}, long before any run.", f"Today is {today.isoformat()}.")
    if day > today:
        raise InputError(f"{what} is {day.isoformat()}, which has not come yet.", f"Today is {today.isoformat()}.")
    return day
