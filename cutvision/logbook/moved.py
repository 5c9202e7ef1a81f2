"""What was really done to the fence after a run, as it is said."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Literal

from cutvision.errors import InputError
from cutvision.jobs.said import LENGTH_OR_NONE, TEXT, Kind, Say, length
from cutvision.logbook.naming import words
from cutvision.logbook.recording import day_of
from cutvision.logbook.records import MoveSet

DAY = Kind("DAY", "2026-11-25", lambda _text, _what: None)


@dataclass(frozen=True, kw_only=True)
class MoveSaid:
    """Keep what was really done to the fence after a run; the logbook then asks for a check cut."""

    set_to: Annotated[
        str, Say("How far the fence was really moved at its lever (0mm: not).", LENGTH_OR_NONE, main=True, option="set")
    ]
    turn: Annotated[
        Literal["clockwise", "counterclockwise"] | None, Say("Which way it was turned, seen from above.", main=True)
    ] = None
    fence_state: Annotated[
        Literal["clamped", "tacked", "fastened"] | None,
        Say("How the fence is held now; once fastened, it wants a check cut.", main=True),
    ] = None
    day: Annotated[
        str | None, Say("The day on which it was done, such as 2026-11-25 (else today).", DAY, option="date")
    ] = None
    note: Annotated[str | None, Say("What else should be known of it.", TEXT)] = None


def move_of(said: MoveSaid, at: datetime) -> MoveSet:
    """What was done, to be recorded. Raises InputError when it does not say what."""
    distance_mm = length(said.set_to, "--set", zero=True) or 0.0
    if distance_mm and said.turn is None:
        raise InputError(
            "--set says how far the fence was moved, but not which way.", "Give --turn clockwise or counterclockwise."
        )
    if not distance_mm and said.fence_state is None:
        raise InputError(
            "Nothing was set: --set is 0 and --fence-state is not given.",
            "Give the move as it was set, or --fence-state when the fence was only clamped, tacked or fastened.",
        )
    turn = said.turn if distance_mm else None
    return MoveSet(at, distance_mm, turn, said.fence_state, words(said.note, "--note"), day_of(said.day))
