"""A jig's runs as a table for a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from cutvision.logbook.records import Run

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
# A spreadsheet takes text that begins so, blanks apart, for a formula and may run it (OWASP, CSV Injection); the last
# four are the same signs as some keyboards type them.
_FORMULA = ("=", "+", "-", "@", "|", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
Cell = str | float | None


def runs_csv(runs: Sequence[Run]) -> str:
    """One row a run, oldest first, moves of one run with semicolons between; lines end as RFC 4180 has it.

    Numbers have a point and all their digits; text that a spreadsheet would take for a formula is led by an apostrophe.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for run in runs:
        writer.writerow([_written(cell) for cell in _row(run)])
    return out.getvalue()


def _row(run: Run) -> list[Cell]:
    told, said = run.headline, run.conditions
    return [
        run.number,
        said.day.isoformat(),
        run.recorded_at.isoformat(timespec="seconds"),
        " ".join(run.inputs.command),
        told.error_deg,
        told.bound_deg,
        told.tolerance_deg,
        told.decision,
        told.move_mm,
        told.turn,
        said.fence,
        "; ".join(repr(move.distance_mm) for move in run.moves),
        "; ".join(move.turn or "" for move in run.moves),
        next((move.fence for move in reversed(run.moves) if move.fence), None),
        said.humidity,
        said.blade,
        said.stock,
        said.note,
        run.check_of,
        told.refused,
        None if run.struck is None else run.struck.why,
        run.program,
        run.identity,
    ]


def _written(cell: Cell) -> str:
    """A number with all its digits; any text so that no spreadsheet runs it, wherever it came from."""
    if cell is None:
        return ""
    if isinstance(cell, str):
        return f"'{cell}" if cell.lstrip(" ").startswith(_FORMULA) else cell
    return repr(cell)
