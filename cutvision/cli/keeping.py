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
    from cutvision.logbook.recording import Recorded, Recorder

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
    day: Annotated[
        str | None,
        Say("The day on which it was cut, such as 2026-11-25 (today unless you say).", DAY, KEPT, option="date"),
    ] = None
    humidity: Annotated[str | None, Say("The humidity of the air or the wood, as you read it.", TEXT, KEPT)] = None
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
        from cutvision.logbook.naming import words
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
            leave_photos=self._left is not None,
        )

    @property
    def _left(self) -> bool | None:
        """True when photos are to be left where they are."""
        return None

    def _refuse_idle(self) -> None:
        beside = {
            "--leave-photos": self._left,
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


@dataclass(frozen=True, kw_only=True)
class KeepingPhotos(Keeping):
    """What is kept beside a run that was measured from photos."""

    leave_photos: Annotated[
        bool,
        Say("Keep the photos' hashes only, and leave the files where they are.", group="The jig and the logbook"),
    ] = False

    @property
    def _left(self) -> bool | None:
        return self.leave_photos or None


def tell_kept(recorded: Recorded | None) -> None:
    """Say it on standard error, with the cautions where a cut is asked for."""
    from cutvision.reports.says_kept import kept_words

    if line := kept_words(recorded):
        tell(wrap(line))
    if recorded is not None and recorded.asked:
        from cutvision.reports.cautions import cautions

        tell("\n".join(["Cautions", *(wrap(text, "- ", "  ") for text in cautions("adjust", "cut"))]))


def raise_unkept(recorded: Recorded | None) -> None:
    """Raise InputError when the run could not be recorded."""
    if recorded is not None and recorded.problem is not None:
        raise recorded.problem


@contextlib.contextmanager
def refusals_kept(recorder: Recorder | None, photos: Sequence[Path], camera: Path | None) -> Iterator[None]:
    """Keep a refusal too: that a photo could not be measured, and why, belongs to the jig's story.

    Where not one of the files is a picture there is nothing to keep: a name was mistyped.
    """
    try:
        yield
    except (PhotoRefused, PhotosRefused) as refused:
        refusals = (refused,) if isinstance(refused, PhotoRefused) else refused.refusals
        if recorder is not None:
            from cutvision.logbook.recording import camera_files, photo_files
            from cutvision.reports.objects import refusals_object

            read = photo_files(photos, leave=recorder.leave_photos)
            if not read or all(one.reason == "unreadable" for one in refusals):
                tell("Not recorded: none of the files could be read as a picture.")
                raise
            recorded = recorder.keep(refusals_object(refusals), (*read, *camera_files(camera)))
            if recorded.problem is not None:
                tell_problem(recorded.problem)
            tell_kept(recorded)
        raise
