"""The options by which a run is kept in the logbook, and the keeping itself."""

from __future__ import annotations

import contextlib
import uuid
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from cutvision import __version__
from cutvision.cli.jig_option import from_the_book, names_a_file
from cutvision.cli.output import answer, tell, tell_problem
from cutvision.errors import InputError, PhotoRefused, PhotosRefused
from cutvision.files import NotReadError, read_bounded
from cutvision.reports.columns import wrap

if TYPE_CHECKING:
    from cutvision.correction import Correction
    from cutvision.logbook.evidence import NewFile
    from cutvision.logbook.records import Conditions, Inputs, Run

LONGEST = 1000
FIRST_YEAR = 1900  # as the logbook takes it from an archive
PHOTO = "PHOTO"
_NOT_KEPT = {
    "jig_file",
    "as_json",
    "budget",
    "explain",
    "how",
    "how_drawing",
    "progress",
    "picture",
    "drawing",
}  # only shape the answer

Book = Annotated[
    Path | None,
    typer.Option(
        "--logbook",
        metavar="DIR",
        is_eager=True,
        help="The logbook's folder, instead of CUTVISION_LOGBOOK or your own data folder.",
    ),
]
State = Annotated[
    Literal["clamped", "tacked", "fastened"] | None,
    typer.Option("--fence-state", help="How the fence is held now; once fastened, it wants a check cut."),
]
Day = Annotated[
    str | None,
    typer.Option("--date", metavar="DAY", help="The day on which it was done, such as 2026-11-25 (today unless said)."),
]
NoteText = Annotated[str | None, typer.Option("--note", metavar="TEXT", help="What else should be known of it.")]


@dataclass(frozen=True, slots=True)
class RecordOptions:
    """What is kept beside a run, when `--jig` names a jig in the logbook."""

    context: typer.Context
    no_record: Annotated[
        bool, typer.Option("--no-record", help="Do not keep this run in the logbook, though --jig names a jig in it.")
    ] = False
    logbook: Book = None
    day: Day = None
    humidity: Annotated[
        str | None, typer.Option("--humidity", metavar="TEXT", help="Of the air or the wood, as you read it.")
    ] = None
    blade: Annotated[str | None, typer.Option("--blade", metavar="TEXT", help="The blade in the saw.")] = None
    wood: Annotated[str | None, typer.Option("--wood", metavar="TEXT", help="The wood that was cut.")] = None
    note: NoteText = None
    fence_state: State = None
    check_of: Annotated[
        str | None,
        typer.Option("--check-of", metavar="RUN", help="The run whose move or fastening this cut checks."),
    ] = None
    leave_photos: Annotated[
        bool, typer.Option("--leave-photos", help="Keep the photos' hashes only, and leave the files where they are.")
    ] = False

    def recorder(self) -> Recorder | None:
        """What will keep this run; None when it is not to be kept.

        Raises InputError when the jig cannot take it, or something is said that would be kept nowhere.
        """
        context = self.context
        jig = None if self.no_record else context.params.get("jig_file")
        if jig is None or names_a_file(jig):
            self._refuse_idle()
            return None
        from cutvision.logbook.book import open_book
        from cutvision.logbook.place import place_of_book

        folder = place_of_book(self.logbook)
        with open_book(folder) as book:
            known = book.jig(jig)
            if known.retired:
                raise InputError(
                    f"The jig '{known.name}' is retired.",
                    f"Take it into use again with cutvision log retire '{known.name}' --back, or add --no-record.",
                )
            checked = None if self.check_of is None else book.run(self.check_of)
            if checked is not None and checked.jig != known.identity:
                raise InputError(
                    f"--check-of: run {checked.number} is of the jig '{checked.jig_name}', not of '{known.name}'.",
                    f"cutvision log list --jig '{known.name}' shows its runs.",
                )
        return Recorder(
            folder=folder,
            jig=known.identity,
            jig_name=known.name,
            conditions=self._conditions(),
            check_of=None if checked is None else checked.identity,
            inputs=inputs_of(context),
            leave_photos=self.leave_photos,
        )

    def _refuse_idle(self) -> None:
        said = {
            "--date": self.day,
            "--humidity": self.humidity,
            "--blade": self.blade,
            "--wood": self.wood,
            "--note": self.note,
            "--fence-state": self.fence_state,
            "--check-of": self.check_of,
        }
        given = [name for name, value in said.items() if value is not None]
        if given and not self.no_record:
            raise InputError(
                f"{', '.join(given)} would be kept in the logbook, but --jig names no jig in it.",
                "Give --jig NAME too (cutvision log jigs shows the names), or leave it out.",
            )

    def _conditions(self) -> Conditions:
        from cutvision.logbook.records import Conditions

        return Conditions(
            day=day_of(self.day),
            humidity=words(self.humidity, "--humidity"),
            blade=words(self.blade, "--blade"),
            stock=words(self.wood, "--wood"),
            note=words(self.note, "--note"),
            fence=self.fence_state,
        )


@dataclass(frozen=True, slots=True)
class Recorder:
    """A run that is about to be computed, with all that will be kept of it but its result."""

    folder: Path
    jig: str
    jig_name: str
    conditions: Conditions
    check_of: str | None
    inputs: Inputs
    leave_photos: bool

    def keep(self, result: Mapping[str, Any], files: Sequence[NewFile] = (), measured: Sequence[str] = ()) -> Kept:
        """Record the run. measured: the sha256 of each photo that the result rests on.

        What goes wrong with the book comes back as a value, so that the answer is printed all the same.
        """
        from cutvision.logbook.book import open_book
        from cutvision.logbook.plain import canonical
        from cutvision.logbook.records import NewRun

        run = NewRun(
            identity=str(uuid.uuid4()),
            jig=self.jig,
            recorded_at=datetime.now(UTC),
            conditions=self.conditions,
            inputs=with_hashes(self.inputs, files),
            program=__version__,
            result_text=canonical(result),
            check_of=self.check_of,
        )
        try:
            _refuse_changed(files, measured)
            with open_book(self.folder) as book:
                before = book.last_run(self.jig_name)
                recorded = book.record(run, files)
                asked = book.asked(self.jig)
        except InputError as problem:
            problem.message = f"This run is not in the logbook. {problem.message}"
            return Kept("", False, problem)
        from cutvision.reports.logbook_text import asked_words

        line = f"Recorded as run {recorded.number} of '{self.jig_name}'. {asked_words(asked)}".strip()
        warned = "" if before is None else _wrong_way(before, recorded)
        return Kept(f"{line} {warned}".strip(), bool(asked or warned), None)


@dataclass(frozen=True, slots=True)
class Kept:
    """What became of the recording: the line that says so, whether a cut is asked for in it, or what went wrong."""

    line: str
    asks: bool
    problem: InputError | None

    def say(self, *, beside_cautions: bool) -> None:
        """Print it: on standard output below a text that holds the cautions, else on standard error with them.

        Raises InputError when the run could not be recorded.
        """
        if self.problem is not None:
            raise self.problem
        if beside_cautions:
            answer(wrap(self.line))
            return
        tell(wrap(self.line))
        if self.asks:
            from cutvision.reports.cautions import cautions

            tell("\n".join(["Cautions", *(wrap(text, "- ", "  ") for text in cautions("adjust", "cut"))]))


def _wrong_way(before: Run, now: Run) -> str:
    """A warning when the move set after the run before turned the fence away from true; else nothing."""
    if not before.moves:
        return ""
    from cutvision.logbook.answers import answers_of
    from cutvision.reports.adjustments_text import last_move_words

    try:
        found = answers_of((before, now))
    except InputError:
        return ""  # one of the two does not tell the fence's error
    if found.last_move is None or found.last_move.verdict != "wrong way":
        return ""
    return f"{last_move_words(found.last_move, found.answers[-1])} See: cutvision log answers '{now.jig_name}'."


def _refuse_changed(files: Sequence[NewFile], measured: Sequence[str]) -> None:
    """Raise InputError when a photo is no longer the one that was measured."""
    from cutvision.logbook.evidence import sha256_of

    if measured and [sha256_of(file.data) for file in files if file.kind == "photo"] != list(measured):
        raise InputError("A photo was changed or moved while it was measured.", "Measure again.")


def drawn_move(correction: Correction) -> tuple[NewFile, ...]:
    """The drawing of the move, to be kept with the run; nothing when there is no move to make."""
    from cutvision.logbook.evidence import NewFile
    from cutvision.reports.figure import figure_bytes
    from cutvision.reports.saw_drawing import saw_drawing

    figure = saw_drawing(correction)
    return () if figure is None else (NewFile("move.png", "drawing", figure_bytes(figure, "png")),)


def photo_files(photos: Sequence[Path], *, leave: bool = False) -> tuple[NewFile, ...]:
    """The photos as they came; one that cannot be read, or is no plain file, is left out."""
    from cutvision.logbook.evidence import NewFile

    found = []
    for path in photos:
        with contextlib.suppress(NotReadError):
            left_at = str(path.resolve()) if leave else None
            found.append(NewFile(path.name, "photo", read_bounded(path, "photo"), left_at, str(path)))
    return tuple(found)


def camera_files(camera: Path | None) -> tuple[NewFile, ...]:
    """The camera's file, when one was given."""
    from cutvision.logbook.evidence import NewFile

    if camera is None:
        return ()
    return (NewFile(camera.name, "camera", read_bounded(camera, "camera"), None, str(camera)),)


def picture_files(pictures: Sequence[bytes]) -> tuple[NewFile, ...]:
    """The annotated photos, as JPEG."""
    from cutvision.logbook.evidence import NewFile

    return tuple(NewFile(f"annotated-{number}.jpg", "annotated", data) for number, data in enumerate(pictures, 1))


@contextlib.contextmanager
def refusals_kept(recorder: Recorder | None, photos: Sequence[Path], camera: Path | None) -> Iterator[None]:
    """Keep a refusal too: that a photo could not be measured, and why, belongs to the jig's story."""
    try:
        yield
    except (PhotoRefused, PhotosRefused) as refused:
        if recorder is not None:
            from cutvision.reports.refusal_json import refusals_as_json

            refusals = (refused,) if isinstance(refused, PhotoRefused) else refused.refusals
            files = (*photo_files(photos, leave=recorder.leave_photos), *camera_files(camera))
            kept = recorder.keep(refusals_as_json(refusals), files)
            if kept.problem is None:
                kept.say(beside_cautions=False)
            else:
                tell_problem(kept.problem)
        raise


def day_of(text: str | None) -> date:
    """The day that was typed, or today. Raises InputError when it is no day, or has not come yet."""
    today = datetime.now().astimezone().date()
    if text is None:
        return today
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise InputError(f"--date is '{text}', which is no day.", f"Type it as {today.isoformat()}.") from error
    if day.year < FIRST_YEAR:
        raise InputError(f"--date is {day.isoformat()}, long before any run.", f"Today is {today.isoformat()}.")
    if day > today:
        raise InputError(f"--date is {day.isoformat()}, which has not come yet.", f"Today is {today.isoformat()}.")
    return day


def words(text: str | None, option: str) -> str:
    """What was typed, for people; empty when nothing was. Raises InputError for signs a terminal would obey."""
    plain = " ".join((text or "").split())
    if len(plain) > LONGEST or not plain.isprintable():
        raise InputError(
            f"{option} is too long, or holds a sign that cannot be shown.",
            f"Use letters, figures and points, at most {LONGEST} of them.",
        )
    return plain


def kept_options(command: Any) -> dict[str, str]:
    """What a run keeps of a (click) command's line: for each parameter's name the option, or PHOTO.

    Empty for a command that keeps no run.
    """
    about_recording = {field.name for field in fields(RecordOptions)}
    names = {str(parameter.name): parameter.opts[0] for parameter in getattr(command, "params", ())}
    if not about_recording & names.keys():
        return {}
    return {
        name: PHOTO if name == "photos" else option
        for name, option in names.items()
        if name not in _NOT_KEPT and name not in about_recording
    }


def inputs_of(context: typer.Context) -> Inputs:
    """Every option that was typed or filled from the jig, as it would be typed; not what only shapes the answer."""
    from cutvision.logbook.records import Inputs, InputSource, InputValue

    commands: list[str] = []
    command = context
    while command.parent is not None:
        commands.insert(0, str(command.command.name))
        command = command.parent  # type: ignore[assignment]
    found = []
    for name, option in kept_options(context.command).items():
        where = getattr(context.get_parameter_source(name), "name", "DEFAULT")
        if where == "DEFAULT":
            continue
        source: InputSource = "typed"
        if where == "DEFAULT_MAP":
            source = "logbook" if name in from_the_book(context) else "jig"
        value = context.params[name]
        values = value if isinstance(value, list | tuple) else [value]
        found += [
            InputValue(option, "" if one is True else str(one), source) for one in values if one not in {None, False}
        ]
    return Inputs(tuple(commands), tuple(found))


def with_hashes(inputs: Inputs, files: Sequence[NewFile]) -> Inputs:
    """The inputs with the hash of every file that they name and that could be read."""
    from cutvision.logbook.evidence import sha256_of

    hashes = {file.typed: sha256_of(file.data) for file in files}
    return replace(
        inputs,
        values=tuple(
            replace(value, sha256=hashes.get(value.value)) if value.option in {PHOTO, "--camera"} else value
            for value in inputs.values
        ),
    )
