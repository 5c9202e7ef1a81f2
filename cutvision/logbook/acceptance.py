"""What a record must be to be read: of an archive before it goes in, and of the book each time it is read."""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any, get_args

from cutvision.logbook import shapes
from cutvision.logbook.records import (
    FENCE_STATES,
    EvidenceFile,
    EvidenceKind,
    Headline,
    InputSource,
    MoveSet,
    NewRun,
    TurnSet,
)
from cutvision.logbook.shapes import demand

LONGEST_NAME = 200
FIRST_YEAR, LAST_YEAR = 1900, 2999
UNREADABLE = (KeyError, TypeError, ValueError, AttributeError, OverflowError, RecursionError)  # what rubbish raises
_SHA256 = re.compile(r"[0-9a-f]{64}")


def check_jig(plain: Mapping[str, Any]) -> None:
    """Raise ValueError (or KeyError, TypeError) for a jig that could not be shown: no name, no version."""
    _identities((plain["identity"],))
    name = plain["name"]
    demand(isinstance(name, str) and name.isprintable() and 0 < len(name) <= LONGEST_NAME, "a jig's name")
    demand(bool(plain["versions"]), "a jig's versions")
    _texts(version["text"] for version in plain["versions"])


def check_run(run: NewRun, files: Iterable[EvidenceFile]) -> None:
    """Raise ValueError for a run that could not be shown: texts that are none, numbers past all sense, no result."""
    check_circumstances(run)
    for value in run.inputs.values:
        _texts((value.option, value.value))
        demand(value.source in get_args(InputSource), "where an input came from")
        demand(value.sha256 is None or _is_sha256(value.sha256), "an input's sha256")
    for file in files:
        _texts((file.name,))
        demand(_is_sha256(file.sha256), "a file's sha256")
        shapes.size(file.size, "a file's size")
        demand(file.kind in get_args(EvidenceKind), "a file's kind")
    shapes.result(json.loads(run.result_text))


def check_circumstances(run: NewRun) -> None:
    """Raise ValueError where all but inputs, files and result of a run could not be shown."""
    said = run.conditions
    _identities((run.identity, run.jig))
    _day(said.day)
    _day(run.recorded_at.date())
    demand(said.fence is None or said.fence in FENCE_STATES, "how the fence was held")
    _texts((said.humidity, said.blade, said.stock, said.note, run.program, *run.inputs.command))


def check_headline(told: Headline) -> None:
    """Raise ValueError for figures that a list or a chart could not show."""
    for name in ("error_deg", "move_mm", "tolerance_deg"):
        shapes.maybe(shapes.number)(getattr(told, name), name)
    shapes.maybe(shapes.size)(told.bound_deg, "bound_deg")
    for name in ("turn", "decision", "refused"):
        shapes.maybe(shapes.text)(getattr(told, name), name)


def check_move(move: MoveSet) -> None:
    """Raise ValueError for a move that could not be shown."""
    shapes.size(move.distance_mm, "how far the fence was moved")
    demand(move.turn is None or move.turn in get_args(TurnSet), "which way the fence was turned")
    demand(move.fence is None or move.fence in FENCE_STATES, "how the fence was held")
    _texts((move.note,))
    _day(move.recorded_at.date())
    if move.day is not None:
        _day(move.day)


def _is_sha256(text: object) -> bool:
    return isinstance(text, str) and _SHA256.fullmatch(text) is not None


def _identities(texts: Iterable[object]) -> None:
    for text in texts:
        demand(isinstance(text, str) and str(uuid.UUID(text)) == text, "an identity")


def _texts(texts: Iterable[object]) -> None:
    for text in texts:
        shapes.text(text, "a text")


def _day(day: date) -> None:
    demand(FIRST_YEAR <= day.year <= LAST_YEAR, "a day")
