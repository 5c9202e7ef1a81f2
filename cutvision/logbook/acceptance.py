"""What an archive may bring in. Nothing is ever taken out of the book, so what could not be shown is refused before."""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any, get_args

from cutvision.logbook.records import (
    FENCE_STATES,
    EvidenceFile,
    EvidenceKind,
    InputSource,
    MoveSet,
    NewRun,
    TurnSet,
)

LONGEST_TEXT = 100_000
LONGEST_NAME = 200
MOST = 1e15  # of any number in a result: degrees, millimetres and counts are far smaller
FIRST_YEAR, LAST_YEAR = 1900, 2999
_RESULT = re.compile(r"cutvision/(measurement|correction|refusal)/[0-9]{1,4}")
_SHA256 = re.compile(r"[0-9a-f]{64}")


def check_jig(plain: Mapping[str, Any]) -> None:
    """Raise ValueError (or KeyError, TypeError) for a jig that could not be shown: no name, no version."""
    _identities((plain["identity"],))
    name = plain["name"]
    _demand(isinstance(name, str) and name.isprintable() and 0 < len(name) <= LONGEST_NAME, "a jig's name")
    _demand(bool(plain["versions"]), "a jig's versions")
    _texts(version["text"] for version in plain["versions"])


def check_run(run: NewRun, files: Iterable[EvidenceFile]) -> None:
    """Raise ValueError for a run that could not be shown: texts that are none, numbers past all sense, no result."""
    said = run.conditions
    _identities((run.identity, run.jig))
    _day(said.day)
    _day(run.recorded_at.date())
    _demand(said.fence is None or said.fence in FENCE_STATES, "how the fence was held")
    _texts((said.humidity, said.blade, said.stock, said.note, run.program, *run.inputs.command))
    for value in run.inputs.values:
        _texts((value.option, value.value))
        _demand(value.source in get_args(InputSource), "where an input came from")
        _demand(value.sha256 is None or _is_sha256(value.sha256), "an input's sha256")
    for file in files:
        _texts((file.name,))
        _demand(_is_sha256(file.sha256) and _is_number(file.size) and file.size >= 0, "a file's sha256 or size")
        _demand(file.kind in get_args(EvidenceKind), "a file's kind")
    _result(json.loads(run.result_text))


def check_move(move: MoveSet) -> None:
    """Raise ValueError for a move that could not be shown."""
    _demand(_is_number(move.distance_mm) and move.distance_mm >= 0, "how far the fence was moved")
    _demand(move.turn is None or move.turn in get_args(TurnSet), "which way the fence was turned")
    _demand(move.fence is None or move.fence in FENCE_STATES, "how the fence was held")
    _texts((move.note,))
    _day(move.recorded_at.date())
    if move.day is not None:
        _day(move.day)


def _result(told: dict[str, Any]) -> None:
    _demand(isinstance(told, dict), "a result")
    _demand(_RESULT.fullmatch(str(told.get("schema"))) is not None, "a result's schema")
    _numbers(told)
    correction = told if str(told["schema"]).startswith("cutvision/correction/") else told.get("correction")
    if correction is not None:
        error = correction["angle_error"]
        _demand(_is_number(error["value"]) and _is_number(error["expanded_uncertainty"]), "the fence's error")
        _demand(error["expanded_uncertainty"] >= 0, "the bound of the fence's error")
    if "refusals" in told:
        _texts(one["reason"] for one in told["refusals"])


def _numbers(told: object) -> None:
    """Raise ValueError where any number, however deep, is past all sense."""
    if isinstance(told, Mapping):
        told = list(told.values())
    if isinstance(told, list):
        for one in told:
            _numbers(one)
    elif isinstance(told, int | float) and not isinstance(told, bool):
        _demand(_is_number(told), "a number in a result")


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < MOST


def _is_sha256(text: object) -> bool:
    return isinstance(text, str) and _SHA256.fullmatch(text) is not None


def _identities(texts: Iterable[object]) -> None:
    for text in texts:
        _demand(isinstance(text, str) and str(uuid.UUID(text)) == text, "an identity")


def _texts(texts: Iterable[object]) -> None:
    for text in texts:
        _demand(isinstance(text, str) and len(text) <= LONGEST_TEXT, "a text")


def _day(day: date) -> None:
    _demand(FIRST_YEAR <= day.year <= LAST_YEAR, "a day")


def _demand(met: bool, what: str) -> None:  # noqa: FBT001  one flag, and named by what follows
    if not met:
        raise ValueError(f"{what} is not as cutvision writes it")
