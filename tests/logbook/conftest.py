"""Small books: a jig or two, runs typed in by hand, and stand-ins for photos."""

from __future__ import annotations

import itertools
import json
import uuid
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from cutvision.logbook.book import Logbook, open_book
from cutvision.logbook.records import Conditions, FenceState, Inputs, InputValue, NewRun

START = datetime(2026, 1, 5, 9, 30, tzinfo=UTC)


def quantity(value: float, unit: str) -> dict[str, Any]:
    """A quantity as results hold it."""
    return {
        "value": value,
        "unit": unit,
        "standard_uncertainty": 0.01,
        "expanded_uncertainty": 0.02,
        "coverage_factor": 2.0,
    }


class Given:
    """What the tests put into a book."""

    def __init__(self) -> None:
        self._minutes = itertools.count(1)

    def later(self) -> datetime:
        """A moment, each later than the last."""
        return START + timedelta(minutes=next(self._minutes))

    def correction(self, error_deg: float = 0.05, decision: str = "move", **changes: object) -> str:
        """What a correction tells, as far as the logbook's readers rely on it."""
        return json.dumps(
            {
                "schema": "cutvision/correction/1",
                "method": "square",
                "way": "widths",
                "angle_error": quantity(error_deg, "deg"),
                "positive_means": "counterclockwise",
                "fence_move": quantity(0.33, "mm"),
                "fence_length": quantity(560.0, "mm"),
                "side": "toward-work",
                "turn": "clockwise",
                "nominal": 0.0,
                "kept": "left",
                "decision": {"value": decision, "reason": "it is past the tolerance", "tolerance": 0.05},
                "budget": [],
                "notes": [],
                **changes,
            }
        )

    def run(
        self,
        book: Logbook,
        jig: str = "sled",
        fence: FenceState | None = None,
        check_of: str | None = None,
        result: str | None = None,
    ) -> NewRun:
        """A run of the jig, not yet recorded."""
        return NewRun(
            identity=str(uuid.uuid4()),
            jig=book.jig(jig).identity,
            recorded_at=self.later(),
            conditions=Conditions(date(2026, 1, 5), "45 %", "60 teeth", "oak", "first snow", fence),
            inputs=Inputs(
                ("correct", "square"), (InputValue("--at-fence", "24.91mm"), InputValue("--kept", "left", "jig"))
            ),
            program="0.1.0",
            result_text=self.correction() if result is None else result,
            check_of=check_of,
        )


@pytest.fixture
def given() -> Given:
    """Moments, results and runs."""
    return Given()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Where the book will be."""
    return tmp_path / "book"


@pytest.fixture
def book(folder: Path, given: Given) -> Iterator[Logbook]:
    """A book with one jig and no run."""
    with open_book(folder, create=True) as made:
        made.add_jig("sled", 'kind = "square"\n', given.later())
        yield made
