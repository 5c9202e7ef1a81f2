"""A jig's runs as a table for a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from cutvision.logbook.records import MoveSet, Run

COLUMNS = (
    "run",
    "day",
    "recorded_at",
    "command",
    "error_deg",
    "bound_deg",
    "tolerance_deg",
    "decision",
    "advised_move_mm",
    "advised_turn",
    "fence",
    "set_mm",
    "set_turn",
    "fence_afterwards",
    "humidity",
    "blade",
    "stock",
    "note",
    "check_of",
    "refused",
    "struck_out",
    "program",
    "identity",
)
# A spreadsheet takes text that begins so for a formula and may run it.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def runs_csv(runs: Sequence[Run]) -> str:
    """One row a run, oldest first, moves of one run with semicolons between; lines end as RFC 4180 has it.

    Numbers have a point and all their digits; text that a spreadsheet would take for a formula is led by an apostrophe.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for run in runs:
        writer.writerow(_row(run))
    return out.getvalue()


def _row(run: Run) -> list[object]:
    told, said = run.headline, run.conditions
    return [
        run.number,
        said.day.isoformat(),
        run.recorded_at.isoformat(timespec="seconds"),
        " ".join(run.inputs.command),
        _number(told.error_deg),
        _number(told.bound_deg),
        _number(told.tolerance_deg),
        told.decision or "",
        _number(told.move_mm),
        told.turn or "",
        said.fence or "",
        "; ".join(_number(move.distance_mm) for move in run.moves),
        "; ".join(move.turn or "" for move in run.moves),
        _afterwards(run.moves),
        *(_plain(text) for text in (said.humidity, said.blade, said.stock, said.note)),
        run.check_of or "",
        told.refused or "",
        "" if run.struck is None else _plain(run.struck.why),
        run.program,
        run.identity,
    ]


def _afterwards(moves: Sequence[MoveSet]) -> str:
    return next((move.fence for move in reversed(moves) if move.fence), "")


def _number(value: float | None) -> str:
    return "" if value is None else repr(value)


def _plain(text: str) -> str:
    return f"'{text}" if text.startswith(_FORMULA) else text
