"""The registry of budget rows: every influence that is made stands in it, with what it shares and what narrows it."""

from __future__ import annotations

import ast
import inspect
from pathlib import Path

import pytest

import cutvision
from cutvision.correction import ReadingCare, typed_distance, typed_legs, typed_widths
from cutvision.uncertainty import ROWS, Influence, Row, row_of, rows

PACKAGE = Path(inspect.getfile(cutvision)).parent


def names_made() -> set[str]:
    """The names written where an influence or a column of influences is made."""
    found = set()
    for file in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and len(node.args) > 1:
                name = node.args[1]
                if node.func.id in {"Influence", "_column"} and isinstance(name, ast.Constant):
                    found.add(name.value)
    return found


def test_every_influence_that_is_made_stands_in_the_registry() -> None:
    """A name that is misspelled would be narrowed by nothing; "as recorded" comes from a file."""
    made = names_made()
    assert len(made) > 20
    assert made - set(ROWS) == {"as recorded"}


def test_a_row_is_found_by_name_and_an_unknown_one_narrows_by_nothing() -> None:
    """An influence's row is the registry's own object; a stranger shares nothing and nothing narrows it."""
    assert Influence("caliper/left leg", "caliper").row is rows.CALIPER
    assert row_of("never heard of") == Row("never heard of")
    assert {name for name, row in ROWS.items() if row.reversed} == {"print stretch"}


def test_typed_readings_stand_in_rows_of_the_registry() -> None:
    """Names that are passed on, such as those of distances and of repeated readings, too."""
    care = ReadingCare()
    quantities = [*typed_legs((101.6, 101.62, 101.61), 101.3, care), *typed_widths(24.9, 24.8, care)]
    quantities += [typed_distance((380.0, 381.0), name, care) for name in ("lever", "between", "over", "stock", "face")]  # type: ignore[arg-type]
    assert {i.name for q in quantities for i in q.components} <= set(ROWS)


@pytest.mark.parametrize(
    ("row", "shared_by"),
    [
        (rows.READING, "nothing"),
        (rows.CALIPER, "instrument"),
        (rows.CORNER, "piece"),
        (rows.PRINT, "sheet"),
        (rows.EDGE_POINTS, "photo"),
    ],
)
def test_what_an_influence_is_shared_by(row: Row, shared_by: str) -> None:
    """A reading is its own; a caliper errs alike in all; a corner is the piece's, a stretch the print's."""
    assert row.shared_by == shared_by
