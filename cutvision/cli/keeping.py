"""The options by which a run is kept in the logbook, and what is said of the keeping."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cutvision.cli.jigs import names_a_file
from cutvision.cli.output import tell, tell_problem
from cutvision.errors import InputError, PhotoRefused, PhotosRefused
from cutvision.jobs.said import FILE, NAME, TEXT, Kind, Say
from cutvision.reports.columns import wrap

if TYPE_CHECKING:
    from cutvision.cli.commands import Said
    from cutvision.correction import Correction
    from cutvision.logbook.evidence import NewFile
    from cutvision.logbook.recording import Recorded, Recorder
    from cutvision.logbook.records import Run

LONGEST = 1000
KEPT = "What the logbook keeps beside it"
DAY = Kind("DAY", "2026-11-25", lambda _text, _what: None)
JIG = Say(
    "A jig in the logbook, which then keeps the run too, or a jig's file (see `cutvision jig new`). It fills every "
    "option that you do not type.",
    NAME,
    "The jig and the logbook",
    main=True,
)
JIG_ALONE = Say(
    "A jig in the logbook, or a jig's file (see `cutvision jig new`). It fills every option that you do not type.",
    NAME,
    "The jig and the logbook",
    main=True,
)
LOGBOOK = Say(
    "The logbook's folder, instead of CUTVISION_LOGBOOK or your own data folder.", FILE, "The jig and the logbook"
)
FENCE_STATE = Say("How the fence is held now; once fastened, it wants a check cut.", group=KEPT)


@dataclass(frozen=True, kw_only=True)
class WithJig:
    """The jig alone, for a command that records nothing."""

    jig: Annotated[str | None, JIG_ALONE] = None
    logbook: Annotated[Path | None, LOGBOOK] = None


@dataclass(frozen=True, kw_only=True)
class Keeping(WithJig):
    """What is kept beside a run, when `--jig` names a jig in the logbook."""

    jig: Annotated[str | None, JIG] = None
    no_record: Annotated[
        bool, Say("Keep nothing, though --jig names a jig in the logbook.", group="The jig and the logbook")
    ] = False
    check_of: Annotated[
        str | None, Say("The run whose move or fastening this cut checks.", NAME, "The jig and the logbook")
    ] = None
    leave_photos: Annotated[
        bool,
        Say("Keep the photos' hashes only, and leave the files where they are.", group="The jig and the logbook"),
    ] = False
    day: Annotated[
        str | None,
        Say("The day on which it was cut, such as 2026-11-25 (today unless you say).", DAY, KEPT, option="date"),
    ] = None
    humidity: Annotated[str | None, Say("Of the air or the wood, as you read it.", TEXT, KEPT)] = None
    blade: Annotated[str | None, Say("The blade in the saw.", TEXT, KEPT)] = None
    wood: Annotated[str | None, Say("The wood that was cut.", TEXT, KEPT)] = None
    note: Annotated[str | None, Say("What else should be known of it.", TEXT, KEPT)] = None
    fence_state: Annotated[Literal["clamped", "tacked", "fastened"] | None, FENCE_STATE] = None

    def recorder(self, kind: type, said: Said) -> Recorder | None:
        """What will keep this run; None when it is not to be kept.

        Raises InputError when the jig cannot take it, or something is said that would be kept nowhere.
        """
        if self.no_record or self.jig is None or names_a_file(self.jig):
            self._refuse_idle()
            return None
        from cutvision.logbook.place import place_of_book
        from cutvision.logbook.recording import day_of, inputs_of, recorder
        from cutvision.logbook.records import Conditions

        conditions = Conditions(
            day=day_of(self.day),
            humidity=words(self.humidity, "--humidity"),
            blade=words(self.blade, "--blade"),
            stock=words(self.wood, "--wood"),
            note=words(self.note, "--note"),
            fence=self.fence_state,
        )
        return recorder(
            place_of_book(self.logbook),
            self.jig,
            conditions,
            inputs_of(said.command, kind, said.typed, said.sources),
            self.check_of,
            leave_photos=self.leave_photos,
        )

    def _refuse_idle(self) -> None:
        beside = {
            "--date": self.day,
            "--humidity": self.humidity,
            "--blade": self.blade,
            "--wood": self.wood,
            "--note": self.note,
            "--fence-state": self.fence_state,
            "--check-of": self.check_of,
        }
        given = [name for name, value in beside.items() if value is not None]
        if given and not self.no_record:
            raise InputError(
                f"{', '.join(given)} would be kept in the logbook, but --jig names no jig in it.",
                "Give --jig NAME too (cutvision jig list shows the names), or leave it out.",
            )


def kept_lines(recorded: Recorded | None, *, checked: bool = False) -> tuple[str, ...]:
    """What became of the recording, in words; nothing when there was none, or it went wrong.

    checked: whether the answer says already how the fence moved.
    """
    if recorded is None or recorded.run is None:
        return ()
    from cutvision.reports.logbook_text import asked_words

    name = recorded.run.jig_name
    line = f"Recorded as run {recorded.run.number} of '{name}'. {asked_words(recorded.asked)}".strip()
    warned = "" if checked or recorded.before is None else _wrong_way(recorded.before, recorded.run)
    return (f"{line} {warned}".strip(),)


def tell_kept(recorded: Recorded | None) -> None:
    """Say it on standard error, with the cautions where a cut is asked for."""
    for line in kept_lines(recorded):
        tell(wrap(line))
    if recorded is not None and recorded.asked:
        from cutvision.reports.cautions import cautions

        tell("\n".join(["Cautions", *(wrap(text, "- ", "  ") for text in cautions("adjust", "cut"))]))


def raise_unkept(recorded: Recorded | None) -> None:
    """Raise InputError when the run could not be recorded."""
    if recorded is not None and recorded.problem is not None:
        raise recorded.problem


def _wrong_way(before: Run, now: Run) -> str:
    """A warning when the move set after the run before turned the fence away from true; else nothing."""
    if not before.moves:
        return ""
    from cutvision.logbook.answers import answers_of
    from cutvision.reports.says_steps import last_move_sentence

    try:
        found = answers_of((before, now))
    except InputError:
        return ""  # one of the two does not show the fence's error
    if found.last_move is None or found.last_move.verdict != "wrong way":
        return ""
    return f"{last_move_sentence(found.last_move, found.answers[-1])} See: cutvision log response '{now.jig_name}'."


def drawn_move(correction: Correction | None) -> tuple[NewFile, ...]:
    """The drawing of the move, to be kept with the run; nothing when there is no move to make."""
    from cutvision.logbook.evidence import NewFile
    from cutvision.reports.figure import figure_bytes
    from cutvision.reports.saw_drawing import saw_drawing

    figure = None if correction is None else saw_drawing(correction)
    return () if figure is None else (NewFile("move.png", "drawing", figure_bytes(figure, "png")),)


@contextlib.contextmanager
def refusals_kept(recorder: Recorder | None, photos: Sequence[Path], camera: Path | None) -> Iterator[None]:
    """Keep a refusal too: that a photo could not be measured, and why, belongs to the jig's story.

    Where not one of the files could be read there is nothing to keep: a name was mistyped.
    """
    try:
        yield
    except (PhotoRefused, PhotosRefused) as refused:
        refusals = (refused,) if isinstance(refused, PhotoRefused) else refused.refusals
        if recorder is not None:
            from cutvision.logbook.recording import camera_files, photo_files
            from cutvision.reports.objects import refusals_object

            read = photo_files(photos, leave=recorder.leave_photos)
            if not read:
                tell("Not recorded: none of the files could be read.")
                raise
            recorded = recorder.keep(refusals_object(refusals), (*read, *camera_files(camera)))
            if recorded.problem is not None:
                tell_problem(recorded.problem)
            tell_kept(recorded)
        raise


def words(text: str | None, option: str) -> str:
    """What was typed, for people; empty when nothing was. Raises InputError for signs a terminal would obey."""
    plain = " ".join((text or "").split())
    if len(plain) > LONGEST or not plain.isprintable():
        raise InputError(
            f"{option} is too long, or holds a sign that cannot be shown.",
            f"Use letters, figures and points, at most {LONGEST} of them.",
        )
    return plain
