"""What is recorded comes back, stays as it was, and is asked about until it is checked."""

from __future__ import annotations

import dataclasses
import json
import sqlite3
import threading
from pathlib import Path
from typing import Any

import pytest

from cutvision.errors import InputError
from cutvision.logbook.book import FILE, Asked, Logbook, open_book
from cutvision.logbook.evidence import NewFile, sha256_of
from cutvision.logbook.plain import canonical, run_as_plain, run_from_plain
from cutvision.logbook.records import Headline, MoveSet
from cutvision.logbook.schema import TABLES


def test_a_run_comes_back_as_it_was_recorded(given: Any, book: Logbook, folder: Path) -> None:
    """Another opening of the book gives the same run: conditions, inputs, result, files, and its figures."""
    typed = given.run(book, fence="clamped")
    book.record(typed, [NewFile("IMG 1.JPG", "photo", b"\xff\xd8 light")])
    with open_book(folder) as again:
        (run,) = again.runs("sled")
    assert (run.number, run.jig_name, run.identity, run.recorded_at) == (1, "sled", typed.identity, typed.recorded_at)
    assert (run.conditions, run.inputs, run.program) == (typed.conditions, typed.inputs, typed.program)
    assert run.result == json.loads(typed.result_text)
    assert run.headline == Headline(0.05, 0.02, 0.33, "clockwise", "move", 0.05, None)
    (file,) = run.evidence
    assert (file.sha256, file.name, file.kind, file.size) == (sha256_of(b"\xff\xd8 light"), "IMG 1.JPG", "photo", 8)
    assert book.path_of(file).read_bytes() == b"\xff\xd8 light"
    assert book.path_of(file).suffix == ".jpg"


def test_a_run_goes_through_its_plain_form_unchanged(given: Any, book: Logbook) -> None:
    """Turning a run into a plain object and back loses nothing: exports rest on it, and so does the digest."""
    run = book.record(given.run(book), [NewFile("a.png", "annotated", b"1")])
    plain = run_as_plain(run, run.evidence)
    back, files = run_from_plain(json.loads(canonical(plain)))
    assert run_as_plain(back, files) == plain


def refusal() -> str:
    """What is printed for a photo that is refused."""
    told = {"file": "a.jpg", "reason": "blurred", "message": "It is blurred.", "remedy": "Hold still."}
    return json.dumps({"schema": "cutvision/refusal/1", "refusals": [told]})


def test_a_measurement_and_a_refusal_show_their_figures(given: Any, book: Logbook) -> None:
    """The figures of a list are found in a correction inside a measurement, and the reason in a refusal."""
    correction = json.loads(given.correction(-0.2, "leave"))
    shown = {"shape": "strip", "quantities": {}, "notes": [], "correction": correction}
    inside = json.dumps({"schema": "cutvision/measurement/1", **shown})
    refused = refusal()
    measured = book.record(given.run(book, result=inside))
    assert measured.headline == Headline(-0.2, 0.02, 0.33, "clockwise", "leave", 0.05, None)
    assert measured.correction == json.loads(given.correction(-0.2, "leave"))
    assert book.record(given.run(book, result=refused)).headline == Headline(refused="blurred")


def test_the_same_photo_is_kept_once(given: Any, book: Logbook, folder: Path) -> None:
    """Two runs that rest on one photo share its file, whatever it was called."""
    book.record(given.run(book), [NewFile("a.jpg", "photo", b"same")])
    second = book.record(given.run(book), [NewFile("b.jpeg", "photo", b"same")])
    assert [path.name for path in folder.glob("evidence/*/*")] == [f"{sha256_of(b'same')}.jpg"]
    assert second.evidence[0].name == "b.jpeg"
    assert book.path_of(second.evidence[0]).read_bytes() == b"same"


def test_a_photo_may_be_left_where_it_is(given: Any, book: Logbook, folder: Path, tmp_path: Path) -> None:
    """A file left in its place is known by its hash and not copied."""
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(b"light")
    run = book.record(given.run(book), [NewFile("photo.jpg", "photo", b"light", left_at=str(photo))])
    assert book.path_of(run.evidence[0]) == photo
    assert not list(folder.glob("evidence/*/*"))


@pytest.mark.parametrize("table", TABLES)
def test_nothing_is_overwritten(given: Any, book: Logbook, table: str) -> None:
    """The tables themselves refuse to change or delete a row, whoever asks."""
    run = book.record(given.run(book), [NewFile("a.jpg", "photo", b"1")])
    book.set_move(run.number, MoveSet(given.later(), 0.5, "clockwise"))
    book.strike(run.number, "wrong piece", given.later())
    book.retire_jig("sled", given.later())
    column = book.connection.execute(f"SELECT * FROM {table}").description[0][0]
    for words in (f"UPDATE {table} SET {column} = {column}", f"DELETE FROM {table}"):
        with pytest.raises(sqlite3.IntegrityError, match="overwritten"):
            book.connection.execute(words)


def test_a_run_is_not_replaced(given: Any, book: Logbook) -> None:
    """SQLite's REPLACE, which deletes unasked, is refused too; so is a second run of the same identity."""
    run = given.run(book)
    book.record(run)
    with pytest.raises(sqlite3.IntegrityError, match="overwritten"):
        book.connection.execute(
            "INSERT OR REPLACE INTO run (number, identity, jig, recorded_at, day, humidity, blade, stock, note, "
            "program, digest, inputs, result) SELECT number, identity, jig, recorded_at, day, '', blade, stock, note, "
            "program, digest, inputs, result FROM run"
        )
    with pytest.raises(InputError, match="overwritten"):
        book.record(run)
    assert [one.conditions.humidity for one in book.runs()] == ["45 %"]


def test_a_jig_keeps_its_history(given: Any, book: Logbook) -> None:
    """A new version of a jig stands beside the old; the name stays its own; out of use and back again."""
    book.add_jig("Miter", "one", given.later(), squared_by=book.jig("sled").identity)
    changed = book.change_jig("miter", "two", given.later())
    assert [version.text for version in changed.versions] == ["one", "two"]
    assert (changed.text, changed.squared_by, changed.retired) == ("two", None, False)
    with pytest.raises(InputError, match="has a jig 'MITER' already"):
        book.add_jig("MITER", "three", given.later())
    assert book.retire_jig("Miter", given.later()).retired
    with pytest.raises(InputError, match="is retired"):
        book.record(given.run(book, "Miter"))
    assert not book.retire_jig("Miter", given.later(), back=True).retired


def test_an_identity_that_begins_with_digits_is_found(given: Any, book: Logbook) -> None:
    """Eight digits are the beginning of an identity, and no run's number."""
    identity = "12345678-0000-4000-8000-000000000000"
    book.record(dataclasses.replace(given.run(book), identity=identity))
    assert book.run("12345678").identity == book.run(1).identity == identity


def test_a_struck_run_stays(given: Any, book: Logbook) -> None:
    """A wrong run keeps its figures and tells why it was struck out; it is struck once, and with a reason."""
    run = book.record(given.run(book))
    with pytest.raises(InputError, match="with a reason"):
        book.strike(1, " ", given.later())
    book.strike(1, "wrong piece", given.later())
    struck = book.run(1)
    assert struck.result == run.result
    assert struck.struck is not None
    assert struck.struck.why == "wrong piece"
    for again in (
        lambda: book.strike(1, "again", given.later()),
        lambda: book.set_move(1, MoveSet(given.later(), 1.0, None)),
    ):
        with pytest.raises(InputError, match="was struck out: wrong piece"):
            again()
    assert book.last_run("sled") is None


def test_a_run_is_found_by_number_or_identity(given: Any, book: Logbook) -> None:
    """A number or the first signs of the identity name a run; anything else is refused in words."""
    run = book.record(given.run(book))
    assert book.run("1") == book.run(run.identity) == book.run(run.identity[:8]) == run
    for wrong in ("2", "0", "-1", "abc", "", run.identity[:3], "9" * 40):
        with pytest.raises(InputError, match="has no run"):
            book.run(wrong)


def test_what_is_not_there_is_refused_in_words(given: Any, book: Logbook, tmp_path: Path) -> None:
    """An unknown jig, no book, another program's file, and a check of another jig's run."""
    book.add_jig("miter", "", given.later())
    other = book.record(given.run(book, "miter"))
    with pytest.raises(InputError, match="has no jig 'slde'") as refused:
        book.jig("slde")
    assert "sled, miter" in refused.value.remedy
    with pytest.raises(InputError, match="another jig's"):
        book.record(given.run(book, check_of=other.identity))
    with pytest.raises(InputError, match="There is no logbook"):
        open_book(tmp_path / "nowhere")
    assert not (tmp_path / "nowhere").exists()


def test_fastening_calls_for_a_check_cut_until_there_is_one(given: Any, book: Logbook) -> None:
    """The book asks after a fastening until a run checks it with the fence fastened; a struck check does not count."""
    first = book.record(given.run(book, fence="fastened"))
    assert book.asked("sled") == (Asked(1, "fastening"),)
    book.record(given.run(book))
    book.record(given.run(book, fence="tacked", check_of=first.identity))
    assert book.asked("sled") == (Asked(1, "fastening"),)
    book.record(given.run(book, fence="fastened", check_of=first.identity))
    assert book.asked("sled") == ()
    book.strike(4, "wrong piece", given.later())
    assert book.asked("sled") == (Asked(1, "fastening"),)


def test_a_refused_photo_is_no_check_cut(given: Any, book: Logbook) -> None:
    """A photo that could not be measured leaves the check cut asked for; a piece that was measured is one."""
    first = book.record(given.run(book, fence="fastened"))
    refused = refusal()
    book.record(given.run(book, fence="fastened", check_of=first.identity, result=refused))
    assert book.asked("sled") == (Asked(1, "fastening"),)
    board = json.dumps({"schema": "cutvision/measurement/1", "shape": "board", "quantities": {}, "notes": []})
    book.record(given.run(book, fence="fastened", check_of=first.identity, result=board))
    assert book.asked("sled") == ()


def test_a_recheck_of_a_fastened_fence_is_no_fastening(given: Any, book: Logbook) -> None:
    """A fence once fastened and checked is asked about again when it is moved or fastened anew, not when rechecked."""
    first = book.record(given.run(book, fence="fastened"))
    book.record(given.run(book, fence="fastened", check_of=first.identity))
    book.record(given.run(book, fence="fastened"))
    assert book.asked("sled") == ()
    book.record(given.run(book, fence="tacked"))
    book.record(given.run(book, fence="fastened"))
    assert book.asked("sled") == (Asked(5, "fastening"),)
    book.record(given.run(book, fence="fastened"))
    assert book.asked("sled") == (Asked(5, "fastening"),)
    book.set_move(6, MoveSet(given.later(), 0.5, "clockwise"))
    book.record(given.run(book, fence="fastened"))
    assert book.asked("sled") == (Asked(7, "fastening"), Asked(6, "move"))


def test_a_move_calls_for_a_check_cut(given: Any, book: Logbook) -> None:
    """The last move is asked about until it is checked; with the fence fastened afterwards that is asked instead."""
    run = book.record(given.run(book))
    assert book.asked("sled") == ()
    book.set_move(1, MoveSet(given.later(), 0.5, "clockwise", "clamped"))
    assert book.asked("sled") == (Asked(1, "move"),)
    check = book.record(given.run(book, check_of=run.identity))
    assert book.asked("sled") == ()
    book.set_move(check.number, MoveSet(given.later(), 0.1, "clockwise", "fastened"))
    assert book.asked("sled") == (Asked(2, "fastening"),)
    assert [move.distance_mm for move in book.run(2).moves] == [0.1]


def test_a_retired_jig_is_asked_for_nothing(given: Any, book: Logbook) -> None:
    """While a jig is retired no move is taken and no check cut asked for; back in use the cut is asked for again."""
    book.record(given.run(book, fence="fastened"))
    book.retire_jig("sled", given.later())
    assert book.asked("sled") == ()
    with pytest.raises(InputError, match="is retired"):
        book.set_move(1, MoveSet(given.later(), 0.5, "clockwise"))
    book.strike(1, "wrong piece", given.later())
    book.retire_jig("sled", given.later(), back=True)
    book.record(given.run(book, fence="fastened"))
    assert book.asked("sled") == (Asked(2, "fastening"),)


def test_two_writers_wait_for_each_other(given: Any, book: Logbook, folder: Path) -> None:
    """A run is recorded while another holds the book, once that one lets go."""
    book.connection.execute("BEGIN IMMEDIATE")
    numbers: list[int] = []

    def write() -> None:
        with open_book(folder) as other:
            numbers.append(other.record(given.run(other)).number)

    thread = threading.Thread(target=write)
    thread.start()
    thread.join(0.2)
    assert thread.is_alive()
    book.connection.execute("COMMIT")
    thread.join(20)
    assert numbers == [1]


def test_the_book_is_a_plain_file_with_a_rollback_journal(given: Any, book: Logbook, folder: Path) -> None:
    """No second file is needed beside it, and each transaction is synced with its folder (EXTRA is 3)."""
    settings = {
        name: book.connection.execute(f"PRAGMA {name}").fetchone()[0] for name in ("journal_mode", "synchronous")
    }
    assert settings == {"journal_mode": "delete", "synchronous": 3}
    book.record(given.run(book))
    assert [path.name for path in folder.iterdir()] == [FILE]
