"""What is damaged is named with what to do, and the rest stays readable; nothing is mended."""

from __future__ import annotations

import contextlib
import dataclasses
import os
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from cutvision.errors import InputError
from cutvision.files import ASIDE
from cutvision.logbook.book import FILE, Logbook, open_book, open_remains
from cutvision.logbook.evidence import NewFile
from cutvision.logbook.plain import run_as_plain
from cutvision.logbook.records import MoveSet, Run
from cutvision.logbook.stored import StoredFiles
from cutvision.logbook.verification import salvage, verify

PAGE = 4096


def filled(given: Any, book: Logbook, count: int = 3) -> None:
    """Runs with a photo each, a move and one struck out."""
    for number in range(count):
        book.record(given.run(book), [NewFile(f"{number}.jpg", "photo", f"light {number}".encode())])
    book.set_move(1, MoveSet(given.later(), 0.5, "clockwise"))
    book.strike(2, "wrong piece", given.later())


def found(book: Logbook) -> str:
    """What verify names as wrong, in one text."""
    verified = verify(book)
    assert not verified.sound
    assert all(finding.remedy for finding in verified.findings)
    return "\n".join(finding.what for finding in verified.findings if not finding.harmless)


def tamper(book: Logbook, statement: str) -> None:
    """Change a row behind the book's guards, which are put back afterwards."""
    triggers = book.connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in triggers:
        book.connection.execute(f"DROP TRIGGER {name}")
    book.connection.execute("PRAGMA foreign_keys = OFF")
    book.connection.execute(statement)
    for _, sql in triggers:
        book.connection.execute(sql)


def test_a_sound_book_is_sound(given: Any, book: Logbook) -> None:
    """Nothing is found in a book as it was written, and what was looked at is counted."""
    filled(given, book)
    verified = verify(book)
    assert verified.findings == ()
    assert (verified.sound, verified.jigs, verified.runs, verified.files) == (True, 1, 3, 3)


@pytest.mark.parametrize(
    ("statement", "named"),
    [
        ("UPDATE run SET humidity = '30 %' WHERE number = 2", "Run 2 was changed"),
        ("UPDATE run SET result = replace(result, '0.05', '0.01') WHERE number = 3", "Run 3 was changed"),
        ("UPDATE run_file SET name = 'other.jpg' WHERE position = 0", "Run 1 was changed"),
        ("DELETE FROM run_file", "Run 1 was changed"),
        ("UPDATE move_set SET distance_mm = 0.1", "The move set after run 1 was changed"),
        ("UPDATE struck SET why = 'none'", "The reason for which run 2 was struck out was changed"),
        ("UPDATE jig_version SET text = 'other'", "The jig 'sled' was changed"),
        ("DELETE FROM jig_version", "'sled' has no version"),
        ("DELETE FROM jig", "names one of jig that is not there"),
        ("UPDATE run SET day = 'yesterday' WHERE number = 2", "Run 2 cannot be read"),
        ("CREATE TABLE more (a)", "its tables or their guards"),
        ("DROP INDEX run_checks", "its tables or their guards"),
    ],
)
def test_a_changed_row_is_named(given: Any, book: Logbook, statement: str, named: str) -> None:
    """A row changed behind the program's back no longer fits the digest that was taken of it."""
    filled(given, book)
    tamper(book, statement)
    assert named in found(book)


def test_a_missing_guard_is_named(given: Any, book: Logbook) -> None:
    """A book whose triggers against overwriting were dropped is not sound."""
    filled(given, book)
    book.connection.execute("DROP TRIGGER run_stays")
    assert "their guards against overwriting" in found(book)


def test_a_missing_or_edited_photo_is_named(given: Any, book: Logbook, tmp_path: Path) -> None:
    """A file that is gone, edited or cut short is named; the runs stay readable."""
    filled(given, book)
    left = tmp_path / "left.jpg"
    left.write_bytes(b"left")
    book.record(given.run(book), [NewFile("left.jpg", "photo", b"left", left_at=str(left))])
    paths = [book.path_of(run.evidence[0]) for run in book.runs()]
    paths[0].unlink()
    paths[1].write_bytes(b"LIGHT 1")
    paths[2].write_bytes(b"light")
    left.write_bytes(b"edited")
    told = found(book)
    for path, words in zip(paths, ("is missing", "was changed", "It holds 5 bytes of 7", "was changed"), strict=True):
        assert str(path) in told
        assert words in told
    assert [run.number for run in book.runs()] == [1, 2, 3, 4]
    with pytest.raises(InputError, match="is not the file that its name says"):
        book.record(given.run(book), [NewFile("1.jpg", "photo", b"light 1")])
    assert paths[1].read_bytes() == b"LIGHT 1", "nothing is mended silently"


def test_leftovers_are_harmless(given: Any, book: Logbook, folder: Path) -> None:
    """Files of a recording that was broken off are named, and the book is sound."""
    filled(given, book)
    (folder / "evidence" / "ab").mkdir(exist_ok=True)
    (folder / "evidence" / "ab" / f"x{ASIDE}").write_bytes(b"half")
    (folder / "evidence" / "ab" / "abc.jpg").write_bytes(b"whole")
    verified = verify(book)
    assert verified.sound
    assert [("not written to its end" in one.what, one.harmless) for one in verified.findings] == [
        (False, True),
        (True, True),
    ]


def long_book(given: Any, book: Logbook) -> bytes:
    """A book of many pages, and its bytes."""
    filler = given.correction()[:-1] + f', "filler": "{"n" * 3000}"}}'
    for _ in range(30):
        book.record(given.run(book, result=filler))
    book.connection.close()
    return book.file.read_bytes()


def test_a_truncated_book_gives_what_is_left(given: Any, book: Logbook, folder: Path) -> None:
    """Of a database cut short, the runs before the cut are read one by one, and the message says what to do."""
    data = long_book(given, book)
    (folder / FILE).write_bytes(data[: len(data) * 3 // 4 // PAGE * PAGE])
    with pytest.raises(InputError, match="damaged") as told:
        open_book(folder)
    assert "Copy the whole folder somewhere safe" in told.value.remedy
    cut = open_remains(folder)
    assert cut is not None
    with cut:
        salvaged = salvage(cut)
        assert 10 < len(salvaged.runs) < 30
        assert salvaged.lost
        assert not verify(cut).sound
        with pytest.raises(InputError, match="may not be written"):
            cut.add_jig("other", "", given.later())
    (folder / FILE).write_bytes(data)
    assert open_remains(folder) is None


def test_a_corrupt_page_gives_the_rest(given: Any, book: Logbook, folder: Path) -> None:
    """Of a database with a page overwritten, the other runs are read, wherever that page is (the first apart)."""
    data = long_book(given, book)
    read = []
    for page in range(1, len(data) // PAGE, 3):
        (folder / FILE).write_bytes(data[: page * PAGE] + os.urandom(PAGE) + data[(page + 1) * PAGE :])
        try:
            with open_book(folder) as hit:
                salvaged, verified = salvage(hit), verify(hit)
        except InputError:
            read.append(0)
            continue
        assert not verified.sound
        read.append(len(salvaged.runs))
    assert sorted(read)[len(read) // 2] >= 28


@pytest.mark.parametrize(
    ("statement", "read", "named"),
    [
        ("UPDATE run SET day = 'soon' WHERE number = 2", 2, "Run 2 cannot be read"),
        ("UPDATE run SET inputs = '{}' WHERE number = 2", 2, "Run 2 cannot be read"),
        ("UPDATE move_set SET day = 'soon'", 2, "Run 1 cannot be read"),
        ("UPDATE jig_version SET recorded_at = 'once'", 3, "The jigs cannot be read"),
    ],
)
def test_a_row_of_rubbish_is_told_and_the_rest_read(
    given: Any, book: Logbook, statement: str, read: int, named: str
) -> None:
    """A row that a damaged disk made senseless is told in words; the other runs are read and verify names it."""
    filled(given, book)
    tamper(book, statement)
    with pytest.raises(InputError, match="holds a row that cannot be read"):
        assert book.jigs() + book.runs()
    assert len(salvage(book).runs) == read
    assert named in found(book)


def test_a_jig_that_lost_its_versions_is_told(given: Any, book: Logbook) -> None:
    """Its name and runs are still there; what it was is empty, and verify says so."""
    filled(given, book)
    tamper(book, "DELETE FROM jig_version")
    assert [(jig.text, jig.squared_by) for jig in book.jigs()] == [("", None)]
    assert len(book.runs()) == 3
    assert "The jig 'sled' has no version" in found(book)


def test_a_result_of_rubbish_is_told(given: Any, book: Logbook) -> None:
    """A result that is no JSON any more is refused in words."""
    run = dataclasses.replace(book.record(given.run(book)), result_text="x")
    with pytest.raises(InputError, match="The result of run 1 cannot be read"):
        assert run.result


@pytest.mark.parametrize("content", [b"no database at all" * 500, b"SQLite format 3\0" + b"\xff" * 5000])
def test_a_file_that_is_no_database_is_refused_untouched(folder: Path, content: bytes) -> None:
    """Rubbish in the book's place is refused with what to do, and not written over."""
    folder.mkdir()
    (folder / FILE).write_bytes(content)
    with pytest.raises(InputError) as told:
        open_book(folder, create=True)
    assert told.value.remedy
    assert (folder / FILE).read_bytes() == content


@pytest.mark.parametrize("lost", ["emptied", "one byte", "without tables", "deleted"])
def test_a_lost_database_is_not_begun_anew(given: Any, book: Logbook, folder: Path, lost: str) -> None:
    """With evidence still there, a book whose file is empty or gone is not silently replaced by a new one."""
    filled(given, book)
    book.connection.close()
    data = {"emptied": b"", "one byte": (folder / FILE).read_bytes()[:1]}.get(lost)
    (folder / FILE).unlink()
    if data is not None:
        (folder / FILE).write_bytes(data)
    if lost == "without tables":
        with contextlib.closing(sqlite3.connect(folder / FILE)) as made:
            made.execute("VACUUM")
            made.execute("PRAGMA user_version = 0")
    for create in (True, False):
        with pytest.raises(InputError, match="a book was here") as told:
            open_book(folder, create=create)
        assert "backup" in told.value.remedy
    assert data is None or (folder / FILE).read_bytes() == data


def test_a_file_without_tables_is_not_begun_unasked(folder: Path) -> None:
    """Reading begins no book: a file of one byte, or without tables, is no book yet, and stays as it is."""
    folder.mkdir()
    (folder / FILE).write_bytes(b"S")
    with pytest.raises(InputError, match=r"no logbook in .* yet"):
        open_book(folder)
    assert (folder / FILE).read_bytes() == b"S"
    with open_book(folder, create=True) as book:
        assert book.jigs() == ()


@pytest.mark.parametrize("version", [0, -1])
def test_a_damaged_header_is_told(book: Logbook, folder: Path, version: int) -> None:
    """Tables without their version are a damaged header, not a book to be begun."""
    book.connection.execute(f"PRAGMA user_version = {version}")
    with pytest.raises(InputError, match=r"header of the logbook .* is damaged") as told:
        open_book(folder, create=True)
    assert "backup" in told.value.remedy


def test_a_book_held_by_another_is_told_so(given: Any, book: Logbook, folder: Path) -> None:
    """A book that another program holds for longer than one waits is refused in words."""
    other = sqlite3.connect(folder / FILE, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    book.connection.execute("PRAGMA busy_timeout = 10")
    with pytest.raises(InputError, match="another program has held it") as told:
        book.add_jig("miter", "", given.later())
    assert "Close the other program" in told.value.remedy
    other.execute("ROLLBACK")
    other.close()


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    """A logbook below a plain file is refused in words."""
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(InputError, match="could not be read or written"):
        open_book(tmp_path / "file" / "book", create=True)


RUBBISH = {
    "no object": "[1]",
    "nothing in it": '{"schema":"cutvision/correction/1"}',
    "another program's": '{"schema":"other/1"}',
    "an error that is none": '{"schema":"cutvision/measurement/1","correction":{"angle_error":"small"}}',
    "a number past all sense": '{"schema":"cutvision/correction/1","angle_error":{"value":1e300}}',
}


@pytest.mark.parametrize("result", RUBBISH.values(), ids=RUBBISH)
@pytest.mark.parametrize("abridged", [False, True])
def test_a_run_that_cannot_be_read_is_passed_over(given: Any, book: Logbook, result: str, *, abridged: bool) -> None:
    """A damaged result costs that run alone: it is named, the others are read, and what follows from it is not asked.

    Struck out, it is read and named no more, but by verify, and by whoever asks for it.
    """
    for _ in range(3):
        book.record(given.run(book))
    tamper(book, f"UPDATE run SET result = '{result}' WHERE number = 3")
    read = salvage(book, "sled", abridged=abridged)
    assert [run.number for run in read.runs] == [1, 2]
    assert ["Run 3 cannot be read" in one.what for one in read.lost] == [True]
    assert "log strike 3" in read.lost[0].remedy
    last = book.last_run("sled")
    assert last is not None
    assert last.number == 2
    with pytest.raises(InputError, match="cannot be read: run 3"):
        book.run(3)
    with pytest.raises(InputError, match="cannot be read: run 3"):
        book.runs()
    assert book.strike(3, "damaged", given.later()).number == 3
    assert salvage(book, abridged=abridged).lost == ()
    assert not verify(book).sound


def test_a_byte_changed_in_a_result(given: Any, book: Logbook, folder: Path) -> None:
    """One byte of a result changed on the disk: that run is passed over, listed or read whole."""
    for _ in range(3):
        book.record(given.run(book))
    book.connection.close()
    data = (folder / FILE).read_bytes()
    place = data.rindex(b'{"schema":"cutvision/correction/1"')
    (folder / FILE).write_bytes(data[:place] + b"#" + data[place + 1 :])
    with open_book(folder) as again:
        for abridged in (False, True):
            read = salvage(again, abridged=abridged)
            assert (len(read.runs), len(read.lost)) == (2, 1)


def test_what_a_reader_cannot_read_is_passed_over_too(given: Any, book: Logbook) -> None:
    """Who asks for runs says what can be read of them; the others are named with the reason."""
    for _ in range(2):
        book.record(given.run(book))

    def only_the_first(run: Run) -> None:
        if run.number > 1:
            raise InputError("It has no plan.", "-")

    read = salvage(book, check=only_the_first)
    assert [run.number for run in read.runs] == [1]
    assert [one.what for one in read.lost] == ["Run 2 cannot be read: It has no plan."]


def test_the_newest_runs_alone(given: Any, book: Logbook) -> None:
    """Of a jig with many runs the last ones are read, oldest of them first."""
    book.add_jig("other", "", given.later())
    for jig in ("sled", "other", "sled", "sled", "other"):
        book.record(given.run(book, jig))
    assert [run.number for run in salvage(book, "sled", newest=2).runs] == [3, 4]
    assert [run.number for run in salvage(book, newest=2).runs] == [4, 5]


def test_an_abridged_run_stands_for_no_whole_one(given: Any, book: Logbook) -> None:
    """It has the figures of a list and of the gain, and cannot be exported or compared by its digest."""
    whole = book.record(given.run(book), [NewFile("a.jpg", "photo", b"1")])
    (short,) = book.runs(abridged=True)
    assert whole.correction is not None
    assert short.correction is not None
    assert (short.headline, short.inputs.command, short.evidence) == (whole.headline, whole.inputs.command, ())
    for key in ("angle_error", "positive_means", "fence_length"):
        assert short.correction[key] == whole.correction[key]
    with pytest.raises(ValueError, match="abridged"):
        run_as_plain(short, short.evidence)


def test_evidence_is_read_one_file_at_a_time(given: Any, book: Logbook) -> None:
    """Files that are there as they were recorded can be asked for; each other one is named, a device among them."""
    for number in range(4):
        book.record(given.run(book), [NewFile(f"{number}.jpg", "photo", f"light {number}".encode())])
    runs = book.runs()
    paths = [book.path_of(run.evidence[0]) for run in runs]
    paths[1].write_bytes(b"dark")
    for path in paths[2:]:
        path.unlink()
    paths[3].symlink_to("/dev/zero")
    files = StoredFiles(book, runs)
    sha256 = runs[0].evidence[0].sha256
    assert ([*files], len(files), files[sha256]) == ([sha256], 1, b"light 0")
    assert runs[1].evidence[0].sha256 not in files
    assert files.lost == (
        "1.jpg was changed after it was recorded and is left out.",
        "2.jpg cannot be read (there is no file of this name) and is left out.",
        "3.jpg cannot be read (it is a link) and is left out.",
    )
    paths[0].write_bytes(b"dark")
    with pytest.raises(KeyError):
        files[sha256]
    paths[0].unlink()
    with pytest.raises(KeyError):
        files[sha256]
