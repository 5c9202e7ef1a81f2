"""What differs between a result and the same computed again, and the corner that a squaring jig hands on."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from cutvision.logbook.book import Logbook
from cutvision.logbook.differences import differences
from cutvision.logbook.place import VARIABLE, place_of_book
from cutvision.logbook.records import MoveSet
from cutvision.logbook.squared import squared_corner


@pytest.mark.parametrize(
    ("recorded", "computed", "told"),
    [
        ({"a": 1.0, "b": [1, {"c": "x"}]}, {"a": 1.0 + 1e-12, "b": [1, {"c": "x"}]}, []),
        ({"file": "here", "a": 1}, {"file": "there", "a": 1}, []),
        ({"a": 1.0}, {"a": 1.001}, [("a", 1.0, 1.001)]),
        ({"a": {"b": [1, 2]}}, {"a": {"b": [1, 3]}}, [("a.b[1]", 2, 3)]),
        ({"a": [1]}, {"a": [1, 2]}, [("a", [1], [1, 2])]),
        ({"a": 1}, {"b": 1}, [("a", 1, None), ("b", None, 1)]),
        ({"a": True}, {"a": 1}, [("a", True, 1)]),
        ({"a": None}, {"a": 0.0}, [("a", None, 0.0)]),
        ({"a": "move"}, {"a": "leave"}, [("a", "move", "leave")]),
    ],
)
def test_each_value_that_differs_is_named(recorded: object, computed: object, told: list[object]) -> None:
    """Numbers differ beyond rounding, words at all, and where a photo lay does not count."""
    assert [(one.where, one.recorded, one.computed) for one in differences(recorded, computed)] == told


def square_cut(given: Any, kept: str | None) -> str:
    """A square cut's correction: 0.03 deg of error with a standard uncertainty of 0.01 deg."""
    means = "counterclockwise" if kept else "kept corner over 90 deg"
    told: str = given.correction(0.03, kept=kept, positive_means=means)
    return told


def test_a_cleaned_copy_counts_as_its_photo() -> None:
    """The hash of a copy that stands in for a photo is no difference; another photo's is."""
    recorded = {"photos": [{"sha256": "a"}, {"sha256": "b"}]}
    computed = {"photos": [{"sha256": "copy"}, {"sha256": "copy"}]}
    assert [one.where for one in differences(recorded, computed, copies={"copy": "a"})] == ["photos[1].sha256"]


@pytest.mark.parametrize(("kept", "corner"), [("left", "90.03"), ("right", "89.97"), (None, "90.03")])
def test_the_squaring_jig_tells_the_corner(given: Any, book: Logbook, kept: str | None, corner: str) -> None:
    """A fence that stands counterclockwise opens the corner of work kept on the left and closes it on the right.

    The half-width is the square root of 3 times the standard uncertainty: a rectangle with the same one (JCGM 100:2008,
    4.3.7).
    """
    book.record(given.run(book, result=square_cut(given, kept)))
    miter = book.add_jig("miter", "", given.later(), squared_by=book.jig("sled").identity)
    told = squared_corner(book, miter)
    assert told is not None
    assert told.corner_text == f"{corner}0000deg"
    assert told.within_text == "0.017321deg"
    assert "run 1 of 'sled'" in told.told


def test_a_corner_that_is_not_known_is_not_filled(given: Any, book: Logbook) -> None:
    """No run, a run that is no square cut, a struck one, or a move since: the corner stays open and it is said why."""
    assert squared_corner(book, book.jig("sled")) is None
    miter = book.add_jig("miter", "", given.later(), squared_by=book.jig("sled").identity)

    def told() -> str:
        corner = squared_corner(book, miter)
        assert corner is not None
        assert corner.corner_text == ""
        return corner.told

    assert "has no run" in told()
    book.record(given.run(book, result=square_cut(given, "left").replace('"nominal": 0.0', '"nominal": 45.0')))
    assert "is no square cut" in told()
    run = book.record(given.run(book, result=square_cut(given, "left")))
    book.set_move(run.number, MoveSet(given.later(), 0.5, "clockwise"))
    assert "was moved after run 2" in told()
    book.strike(2, "wrong", given.later())
    book.strike(1, "wrong", given.later())
    assert "has no run" in told()


def test_the_book_lies_where_it_was_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """--logbook goes before the environment variable, and that before the platform's data folder."""
    monkeypatch.setenv(VARIABLE, str(tmp_path / "variable"))
    assert place_of_book(tmp_path / "option") == tmp_path / "option"
    assert place_of_book() == tmp_path / "variable"
    monkeypatch.delenv(VARIABLE)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    assert place_of_book().name == "logbook"
    assert "cutvision" in place_of_book().parts
