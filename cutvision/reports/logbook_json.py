"""The logbook for other programs: what `jig list`, `log list`, `log show` and `log verify` print with --json."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from cutvision.logbook.book import Asked
from cutvision.logbook.differences import Difference
from cutvision.logbook.plain import move_as_plain, run_as_plain, struck_as_plain, time_text, version_as_plain
from cutvision.logbook.records import JigRecord, Run
from cutvision.logbook.verification import Verified

Json = dict[str, Any]


def asked_as_json(asked: Sequence[Asked]) -> list[Json]:
    """The check cuts that are asked for: the run's number, and after what."""
    return [{"run": one.run, "after": one.after} for one in asked]


def jigs_as_json(jigs: Sequence[JigRecord], runs: Sequence[Run], asked: Mapping[str, Sequence[Asked]]) -> Json:
    """Every jig with its versions, its count of runs and what is asked for."""
    return {
        "schema": "cutvision/logbook-jigs/1",
        "jigs": [
            {
                "name": jig.name,
                "identity": jig.identity,
                "retired_at": None if jig.retired_at is None else time_text(jig.retired_at),
                "versions": [version_as_plain(jig.identity, version) for version in jig.versions],
                "runs": sum(run.jig == jig.identity for run in runs),
                "asked": asked_as_json(asked.get(jig.identity, ())),
            }
            for jig in jigs
        ],
    }


def runs_as_json(runs: Sequence[Run], asked: Sequence[Asked] = ()) -> Json:
    """Runs with their figures, without inputs, result and files: those are in `log show`. Angles in degrees."""
    return {"schema": "cutvision/logbook-runs/1", "runs": [_line(run) for run in runs], "asked": asked_as_json(asked)}


def run_as_json(run: Run) -> Json:
    """All that is kept of a run."""
    return {"schema": "cutvision/logbook-run/1", **_line(run), **run_as_plain(run, run.evidence)}


def verified_as_json(verified: Verified) -> Json:
    """What verify looked at and found."""
    return {
        "schema": "cutvision/logbook-verified/1",
        "sound": verified.sound,
        "jigs": verified.jigs,
        "runs": verified.runs,
        "files": verified.files,
        "findings": [{"what": one.what, "remedy": one.remedy, "harmless": one.harmless} for one in verified.findings],
    }


def recomputed_as_json(run: Run, program: str, differing: Sequence[Difference]) -> Json:
    """What differs when a run is computed again."""
    return {
        "schema": "cutvision/logbook-recomputed/1",
        "run": run.number,
        "recorded_by": run.program,
        "computed_by": program,
        "same": not differing,
        "differences": [{"where": one.where, "recorded": one.recorded, "computed": one.computed} for one in differing],
    }


def _line(run: Run) -> Json:
    told = run.headline
    return {
        "run": run.number,
        "identity": run.identity,
        "jig_name": run.jig_name,
        "day": run.conditions.day.isoformat(),
        "fence": run.conditions.fence,
        "error": told.error_deg,
        "error_expanded_uncertainty": told.bound_deg,
        "fence_move": told.move_mm,
        "turn": told.turn,
        "decision": told.decision,
        "tolerance": told.tolerance_deg,
        "refused": told.refused,
        "check_of": run.check_of,
        "moves": [move_as_plain(run.identity, move) for move in run.moves],
        "struck": None if run.struck is None else struck_as_plain(run.identity, run.struck),
    }
