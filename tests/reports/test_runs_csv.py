"""A jig's runs as CSV."""

from __future__ import annotations

import csv
import dataclasses
import io
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest

from cutvision.logbook.records import Conditions, Headline, Inputs, Struck
from cutvision.reports.runs_csv import COLUMNS, runs_csv

Make = Callable[..., Any]


def read(text: str) -> list[dict[str, str]]:
    """The rows as a spreadsheet reads them."""
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_figures_come_back_exactly(make_run: Make, make_move: Make) -> None:
    """Every number is read back to its last bit; moves of one run stand in its row."""
    moves = (make_move(0.1 + 0.2, "clockwise", "clamped"), make_move(1 / 3, None, "fastened"), make_move(0.0, None))
    rows = read(runs_csv([make_run(7, 3, 0.1 / 3, moves=moves, check_of="abc")]))
    assert [*rows[0]] == list(COLUMNS)
    assert float(rows[0]["error_deg"]) == 0.1 / 3
    assert [float(one) for one in rows[0]["set_mm"].split("; ")] == [0.1 + 0.2, 1 / 3, 0.0]
    assert (rows[0]["set_turn"], rows[0]["fence_afterwards"]) == ("clockwise; ; ", "fastened")
    assert (rows[0]["run"], rows[0]["day"], rows[0]["check_of"]) == ("7", "2025-10-08", "abc")


def test_words_of_any_kind_stay_in_their_cell(make_run: Make) -> None:
    """Commas, quotes and line ends come back; what a spreadsheet would run as a formula is led by an apostrophe."""
    day = make_run().conditions.day
    said = Conditions(day, 'a, "b"\nc', "=1+1", "@x", "-3")
    struck = Struck(datetime(2026, 1, 1, tzinfo=UTC), "+why")
    row = read(runs_csv([make_run(conditions=said, struck=struck)]))[0]
    assert (row["humidity"], row["blade"], row["stock"], row["note"]) == ('a, "b"\nc', "'=1+1", "'@x", "'-3")
    assert row["struck_out"] == "'+why"


@pytest.mark.parametrize("begins", ["=", "+", "-", "@", "|", "\t=", "\r=", " =", "\uff1d"])
def test_no_text_of_any_cell_is_a_formula(make_run: Make, begins: str) -> None:
    """Text of whichever column, as an archive may bring it in, begins with an apostrophe; numbers stay numbers."""
    bad = f"{begins}1+1"
    day = make_run().conditions.day
    run = dataclasses.replace(
        make_run(7, 3, -0.25, conditions=Conditions(day, bad, bad, bad, bad), check_of=bad),
        struck=Struck(datetime(2026, 1, 1, tzinfo=UTC), bad),
        program=bad,
        identity=bad,
        inputs=Inputs((bad,), ()),
    )
    run = dataclasses.replace(run, headline=dataclasses.replace(run.headline, decision=bad, turn=bad, refused=bad))
    row = read(runs_csv([run]))[0]
    texts = {name: cell for name, cell in row.items() if "1+1" in cell}
    assert len(texts) == 12
    assert {cell[0] for cell in texts.values()} == {"'"}
    assert float(row["error_deg"]) == -0.25


def test_a_run_without_figures_has_empty_cells(make_run: Make) -> None:
    """A refusal leaves the figures empty and says its reason; no run at all leaves the head."""
    row = read(runs_csv([make_run(headline=Headline(refused="blurred"))]))[0]
    assert (row["error_deg"], row["set_mm"], row["refused"]) == ("", "", "blurred")
    assert runs_csv([]) == ",".join(COLUMNS) + "\r\n"


@pytest.mark.parametrize("count", [1, 5])
def test_one_row_a_run(make_run: Make, count: int) -> None:
    """As many rows as runs, in their order."""
    rows = read(runs_csv([make_run(n) for n in range(count)]))
    assert [row["run"] for row in rows] == [str(n) for n in range(count)]
