"""What the logbook holds, as values: jigs, runs, and the files a run rests on."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Literal

from cutvision.errors import InputError

FenceState = Literal["clamped", "tacked", "fastened"]
FENCE_STATES: tuple[FenceState, ...] = ("clamped", "tacked", "fastened")
EvidenceKind = Literal["photo", "annotated", "drawing", "camera"]
TurnSet = Literal["clockwise", "counterclockwise"]
InputSource = Literal["typed", "jig", "logbook"]


@dataclass(frozen=True, slots=True)
class JigVersion:
    """A jig as it was known from `recorded_at` (UTC) on.

    text: the jig file's text. squared_by: the identity of the jig that squares its test pieces, or None.
    """

    recorded_at: datetime
    text: str
    squared_by: str | None = None


@dataclass(frozen=True, slots=True)
class JigRecord:
    """A jig in the book. identity: a UUID, the same in every book. versions: oldest first, at least one.

    retired_at: UTC, or None while it is in use.
    """

    identity: str
    name: str
    versions: tuple[JigVersion, ...]
    retired_at: datetime | None = None

    @property
    def text(self) -> str:
        """The jig file as it is now; empty when a damaged book has lost it."""
        return self.versions[-1].text if self.versions else ""

    @property
    def squared_by(self) -> str | None:
        """The identity of the jig that squares its test pieces now."""
        return self.versions[-1].squared_by if self.versions else None

    @property
    def retired(self) -> bool:
        return self.retired_at is not None


@dataclass(frozen=True, slots=True)
class InputValue:
    """One thing that a run was computed from.

    option: as typed, such as "--left-leg", or "PHOTO" for an argument. value: its text; for a switch, "".
    source: typed on the line, filled from the jig, or filled from another jig's last run.
    sha256: of the file that the value names, when it names one.
    """

    option: str
    value: str
    source: InputSource = "typed"
    sha256: str | None = None


@dataclass(frozen=True, slots=True)
class Inputs:
    """All that a run was computed from: enough to compute it again. command: its words, as ("correct", "miter")."""

    command: tuple[str, ...]
    values: tuple[InputValue, ...]


@dataclass(frozen=True, slots=True)
class Conditions:
    """What a person said of the circumstances; empty where nothing was said.

    day: the day on which the piece was cut. humidity, blade, stock, note: as typed.
    fence: how the fence was held when the run was recorded; None when not said.
    """

    day: date
    humidity: str = ""
    blade: str = ""
    stock: str = ""
    note: str = ""
    fence: FenceState | None = None


@dataclass(frozen=True, slots=True)
class Headline:
    """The figures of a run that a list or a chart shows, taken from its result; None where it holds none.

    error_deg, bound_deg: the fence's error (counterclockwise positive, as `angle_error` says) and its expanded
    uncertainty. move_mm: the advised move, never negative. turn: the advised way. decision: move, leave, cannot-tell.
    tolerance_deg: asked for. refused: the reason of the first refused photo.
    """

    error_deg: float | None = None
    bound_deg: float | None = None
    move_mm: float | None = None
    turn: TurnSet | None = None
    decision: str | None = None
    tolerance_deg: float | None = None
    refused: str | None = None


@dataclass(frozen=True, slots=True)
class EvidenceFile:
    """A file that a run rests on. size: bytes. left_at: where it was left when it was not stored in the book."""

    sha256: str
    name: str
    kind: EvidenceKind
    size: int
    left_at: str | None = None


@dataclass(frozen=True, slots=True)
class MoveSet:
    """What was really done to the fence after a run.

    distance_mm: at the run's lever, of a V held at its point at each foot; never negative.
    fence: how the fence was held afterwards; None when not said. day: when it was done; None for the day of recording.
    """

    recorded_at: datetime
    distance_mm: float
    turn: TurnSet | None
    fence: FenceState | None = None
    note: str = ""
    day: date | None = None


@dataclass(frozen=True, slots=True)
class Struck:
    """A run found wrong: when (UTC) and why. It stays in the book."""

    recorded_at: datetime
    why: str


@dataclass(frozen=True, slots=True)
class UnreadRun:
    """A run in the book that cannot be read, and why. struck: it was struck out, so that nobody misses it."""

    number: int
    why: str
    struck: bool = False


@dataclass(frozen=True, slots=True)
class NamedRun:
    """A run by its names, whether the rest of it can be read or not."""

    number: int
    identity: str
    jig: str
    jig_name: str


@dataclass(frozen=True, slots=True)
class NewRun:
    """A run about to be recorded. recorded_at: UTC, from the caller's clock. result_text: what `--json` prints.

    check_of: the identity of the run whose move or fastening this cut checks.
    """

    identity: str
    jig: str
    recorded_at: datetime
    conditions: Conditions
    inputs: Inputs
    program: str
    result_text: str
    check_of: str | None = None


@dataclass(frozen=True, slots=True)
class Run(NewRun):
    """A run as the book holds it. number: its number in this book. jig: its jig's identity.

    evidence: its files. moves: what was set afterwards, oldest first. struck: None unless it was found wrong.
    abridged: read for a list or a chart, without its input values and files, and with a result that holds no more than
    its schema and of its correction the error, what its sign means, the lever, and how the fence is held.
    """

    number: int = 0
    jig_name: str = ""
    headline: Headline = field(default_factory=Headline)
    evidence: tuple[EvidenceFile, ...] = ()
    moves: tuple[MoveSet, ...] = ()
    struck: Struck | None = None
    abridged: bool = False

    @property
    def result(self) -> dict[str, Any]:
        """What `--json` printed: a measurement (perhaps with its correction inside), a correction, or refusals.

        Raises InputError when a damaged book gives something else.
        """
        try:
            told: dict[str, Any] = json.loads(self.result_text)
        except ValueError as error:
            raise InputError(
                f"The result of run {self.number} cannot be read: {error}.",
                "Run cutvision log verify; then compare with a backup or an export.",
            ) from error
        return told

    @property
    def correction(self) -> dict[str, Any] | None:
        """The correction in the result, whichever command made it."""
        told = self.result
        return told if told["schema"].startswith("cutvision/correction/") else told.get("correction")

    @property
    def schema(self) -> str:
        """The schema of the result, such as "cutvision/measurement/1"."""
        return str(self.result["schema"])
