"""Records as plain objects and back: what exports hold and what a row's digest is taken of."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from typing import Any

from cutvision.logbook.evidence import sha256_of
from cutvision.logbook.records import (
    Conditions,
    EvidenceFile,
    Inputs,
    InputValue,
    JigVersion,
    MoveSet,
    NewRun,
    Run,
    Struck,
)

Plain = dict[str, Any]


def canonical(plain: Any) -> str:
    """One spelling for one object: no blanks, ASCII, keys in their order. Raises ValueError for NaN and infinity."""
    return json.dumps(plain, separators=(",", ":"), allow_nan=False)


def digest_of(plain: Mapping[str, Any]) -> str:
    """The sha256 of a record, by which a change made behind the program's back is seen."""
    return sha256_of(canonical(plain).encode("ascii"))


def time_text(moment: datetime) -> str:
    """A moment in UTC, in one spelling that sorts by time. Raises ValueError for a moment without a zone."""
    if moment.tzinfo is None:
        raise ValueError("a moment without a time zone cannot be recorded")
    return moment.astimezone(UTC).isoformat(timespec="microseconds")


def version_as_plain(jig: str, version: JigVersion) -> Plain:
    """A jig's version, with the jig's identity."""
    return {
        "jig": jig,
        "recorded_at": time_text(version.recorded_at),
        "text": version.text,
        "squared_by": version.squared_by,
    }


def version_from_plain(plain: Mapping[str, Any]) -> JigVersion:
    """The jig's version. Raises KeyError, TypeError or ValueError for anything else."""
    return JigVersion(datetime.fromisoformat(plain["recorded_at"]), plain["text"], plain["squared_by"])


def inputs_as_plain(inputs: Inputs) -> Plain:
    """A run's inputs."""
    return {
        "command": list(inputs.command),
        "values": [
            {"option": one.option, "value": one.value, "source": one.source, "sha256": one.sha256}
            for one in inputs.values
        ],
    }


def inputs_from_plain(plain: Mapping[str, Any]) -> Inputs:
    """A run's inputs. Raises KeyError, TypeError or ValueError for anything else."""
    return Inputs(
        tuple(plain["command"]),
        tuple(InputValue(one["option"], one["value"], one["source"], one["sha256"]) for one in plain["values"]),
    )


def run_as_plain(run: NewRun, files: Sequence[EvidenceFile]) -> Plain:
    """A run and the files it rests on; where those files lie is each book's own affair and not part of it.

    Raises ValueError for an abridged run, which does not hold all that it says.
    """
    if isinstance(run, Run) and run.abridged:
        raise ValueError("an abridged run has no plain form")
    said = run.conditions
    return {
        "identity": run.identity,
        "jig": run.jig,
        "recorded_at": time_text(run.recorded_at),
        "day": said.day.isoformat(),
        "humidity": said.humidity,
        "blade": said.blade,
        "stock": said.stock,
        "note": said.note,
        "fence": said.fence,
        "check_of": run.check_of,
        "program": run.program,
        "inputs": inputs_as_plain(run.inputs),
        "result": json.loads(run.result_text),
        "files": [{"sha256": file.sha256, "name": file.name, "kind": file.kind, "size": file.size} for file in files],
    }


def run_from_plain(plain: Mapping[str, Any]) -> tuple[NewRun, tuple[EvidenceFile, ...]]:
    """A run and its files. Raises KeyError, TypeError or ValueError for anything else."""
    run = NewRun(
        identity=plain["identity"],
        jig=plain["jig"],
        recorded_at=datetime.fromisoformat(plain["recorded_at"]),
        conditions=Conditions(
            date.fromisoformat(plain["day"]),
            plain["humidity"],
            plain["blade"],
            plain["stock"],
            plain["note"],
            plain["fence"],
        ),
        inputs=inputs_from_plain(plain["inputs"]),
        program=plain["program"],
        result_text=canonical(plain["result"]),
        check_of=plain["check_of"],
    )
    files = tuple(EvidenceFile(one["sha256"], one["name"], one["kind"], one["size"]) for one in plain["files"])
    return run, files


def move_as_plain(run: str, move: MoveSet) -> Plain:
    """A move that was set, with its run's identity."""
    return {
        "run": run,
        "recorded_at": time_text(move.recorded_at),
        "distance_mm": float(move.distance_mm),
        "turn": move.turn,
        "fence": move.fence,
        "note": move.note,
        "day": None if move.day is None else move.day.isoformat(),
    }


def move_from_plain(plain: Mapping[str, Any]) -> MoveSet:
    """A move that was set. Raises KeyError, TypeError or ValueError for anything else."""
    return MoveSet(
        datetime.fromisoformat(plain["recorded_at"]),
        float(plain["distance_mm"]),
        plain["turn"],
        plain["fence"],
        plain["note"],
        None if plain["day"] is None else date.fromisoformat(plain["day"]),
    )


def struck_as_plain(run: str, struck: Struck) -> Plain:
    """Why a run was struck out, with its identity."""
    return {"run": run, "recorded_at": time_text(struck.recorded_at), "why": struck.why}


def struck_from_plain(plain: Mapping[str, Any]) -> Struck:
    """Why a run was struck out. Raises KeyError, TypeError or ValueError for anything else."""
    return Struck(datetime.fromisoformat(plain["recorded_at"]), plain["why"])
