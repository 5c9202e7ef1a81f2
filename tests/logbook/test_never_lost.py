"""A run is all there or not there: whatever is killed, fails or is written by two at once."""

from __future__ import annotations

import errno
import itertools
import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cutvision import files
from cutvision.errors import InputError
from cutvision.logbook.archive import export_book, import_book
from cutvision.logbook.book import FILE, Logbook, open_book
from cutvision.logbook.evidence import NewFile
from cutvision.logbook.records import MoveSet
from cutvision.logbook.verification import verify

HERE = Path(__file__).parent
FAILURES = (errno.ENOSPC, errno.EACCES, errno.EROFS, errno.EIO)
# What SQLite says of a full disk, a read-only one, and one that fails.
SQLITE_SAYS = ("database or disk is full", "attempt to write a readonly database", "disk I/O error")


def run_script(*arguments: object) -> subprocess.Popen[str]:
    """A Python script of this folder in a process of its own."""
    command = [sys.executable, *(str(argument) for argument in arguments)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system cannot fork")
@pytest.mark.parametrize("kills", [30, pytest.param(300, marks=pytest.mark.study)])
def test_no_kill_loses_a_reported_run(folder: Path, kills: int) -> None:
    """After each of so many kills at random moments the book opens, verifies, and holds every run that was reported."""
    with run_script(HERE / "killed_recorder.py", folder, kills, 20260105) as script:
        out, err = script.communicate(timeout=300)
    assert (script.returncode, err) == (0, "")
    reported, held = map(int, out.split())
    assert held >= reported > kills / 2, "the kills came before anything was recorded, and tried nothing"


def test_two_processes_lose_nothing(book: Logbook, folder: Path) -> None:
    """Two programs that record at once both get all their runs into the book, each under a number of its own."""
    scripts = [run_script(HERE / "busy_recorder.py", folder, 40) for _ in range(2)]
    told = [script.communicate(timeout=120) for script in scripts]
    assert [err for _, err in told] == ["", ""]
    reported = {identity for out, _ in told for identity in out.split()}
    runs = book.runs()
    assert len(reported) == 80
    assert {run.identity for run in runs} == reported
    assert [run.number for run in runs] == list(range(1, 81))
    assert verify(book).findings == ()


class FailingOs:
    """The system's file operations, of which the n-th fails; `calls` counts those that could."""

    COUNTED = ("open", "write", "fsync", "replace", "mkdir", "close")

    def __init__(self, fail_at: int, error: int) -> None:
        self.calls = 0
        self._fail_at, self._error = fail_at, error

    def __getattr__(self, name: str) -> Any:
        real = getattr(os, name)
        if name not in self.COUNTED:
            return real

        def counted(*arguments: Any, **options: Any) -> Any:
            self.calls += 1
            if self.calls == self._fail_at:
                if name == "close":
                    real(*arguments)
                raise OSError(self._error, os.strerror(self._error), "somewhere")
            return real(*arguments, **options)

        return counted


class FailingConnection(sqlite3.Connection):
    """A connection of which the n-th statement that writes fails."""

    fail_at, calls, says = 0, 0, ""

    def execute(self, *arguments: Any) -> sqlite3.Cursor:
        """Count what writes, fail once, else do it."""
        if not str(arguments[0]).startswith(("SELECT", "PRAGMA", "ROLLBACK")):
            FailingConnection.calls += 1
            if FailingConnection.calls == FailingConnection.fail_at:
                raise sqlite3.OperationalError(self.says)
        return super().execute(*arguments)


def sound_with(book_folder: Path, identities: set[str]) -> None:
    """The book opens, verifies, and holds just these runs."""
    with open_book(book_folder) as again:
        assert {run.identity for run in again.runs()} == identities
        assert verify(again).sound


@pytest.mark.parametrize("error", FAILURES, ids=lambda number: errno.errorcode[number])
def test_every_file_operation_may_fail(
    given: Any, book: Logbook, folder: Path, monkeypatch: pytest.MonkeyPatch, error: int
) -> None:
    """Whichever file operation of a recording fails, the person is told, and the book holds the runs it held before."""
    before = book.record(given.run(book), [NewFile("a.jpg", "photo", b"first")]).identity
    for fail_at in itertools.count(1):
        place = shutil.copytree(folder, folder.with_name(f"book-{fail_at}"))
        with open_book(place) as one:
            run = given.run(one)
            failing = FailingOs(fail_at, error)
            monkeypatch.setattr(files, "os", failing)
            told = told_by(one.record, run, [NewFile("b.jpg", "photo", b"2nd"), NewFile("c.svg", "drawing", b"3rd")])
            monkeypatch.setattr(files, "os", os)
        if told is None:
            break
        assert "Nothing in it was changed" in told.message
        sound_with(place, {before})
    assert failing.calls >= 14, "two files, each: folder made and synced, opened, written, synced, closed, renamed"
    sound_with(place, {before, run.identity})


def told_by(do: Callable[..., object], *arguments: object) -> InputError | None:
    """What a person is told when it cannot be done; None when it was done."""
    try:
        do(*arguments)
    except InputError as told:
        return told
    return None


@pytest.mark.parametrize("says", SQLITE_SAYS)
def test_every_statement_may_fail(given: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, says: str) -> None:
    """Whichever statement that writes fails, from the first of a new book on, nothing that was recorded is lost."""
    real = sqlite3.connect
    monkeypatch.setattr(FailingConnection, "says", says)
    monkeypatch.setattr(sqlite3, "connect", lambda *a, **k: real(*a, **{"factory": FailingConnection, **k}))
    kept: set[str] = set()

    def story(place: Path) -> None:
        with open_book(place, create=True) as one:
            one.add_jig("sled", "", given.later())
            run = given.run(one)
            number = one.record(run, [NewFile("a.jpg", "photo", b"1")]).number
            kept.add(run.identity)
            one.set_move(number, MoveSet(given.later(), 0.5, "clockwise"))
            one.strike(number, "a try", given.later())

    for fail_at in itertools.count(1):
        kept.clear()
        FailingConnection.calls, FailingConnection.fail_at = 0, fail_at
        told = told_by(story, tmp_path / f"book-{fail_at}")
        FailingConnection.fail_at = 0
        if told is None:
            break
        assert "Nothing in it was changed" in told.message
        assert told.remedy
        with open_book(tmp_path / f"book-{fail_at}", create=True):
            pass  # a book whose very tables failed begins anew
        sound_with(tmp_path / f"book-{fail_at}", kept)
    assert fail_at > 10


def test_a_disk_that_is_full_for_sqlite(given: Any, book: Logbook, folder: Path) -> None:
    """When SQLite itself finds no room for another page the run is refused in words, and earlier ones stay."""
    kept = {book.record(given.run(book)).identity}
    pages = book.connection.execute("PRAGMA page_count").fetchone()[0]
    book.connection.execute(f"PRAGMA max_page_count = {pages}")
    long_result = given.correction().replace("clockwise", "c" * 90_000)
    with pytest.raises(InputError, match="the disk is full") as told:
        book.record(given.run(book, result=long_result))
    assert "Make room" in told.value.remedy
    sound_with(folder, kept)


def test_a_book_that_may_not_be_written(given: Any, book: Logbook, folder: Path) -> None:
    """A book opened for reading alone still lists its runs, and a recording is refused in words."""
    kept = book.record(given.run(book)).identity
    run = given.run(book)
    book.connection.close()
    connection = sqlite3.connect(f"file:{folder / FILE}?mode=ro", uri=True, isolation_level=None)
    with Logbook(folder, connection) as read_only:
        assert [one.identity for one in read_only.runs()] == [kept]
        with pytest.raises(InputError, match="may not be written"):
            read_only.record(run)
    sound_with(folder, {kept})


def test_an_import_that_fails_adds_nothing(
    given: Any, book: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whichever file operation of an import fails, the other book holds what it held: nothing, or all of it."""
    for number in range(3):
        book.record(given.run(book), [NewFile("a.jpg", "photo", str(number).encode())])
    export_book(book, book.runs(), tmp_path / "out.zip", "test", {}, with_gps=True)
    for fail_at in itertools.count(1):
        with open_book(tmp_path / f"other-{fail_at}", create=True) as other:
            failing = FailingOs(fail_at, errno.ENOSPC)
            monkeypatch.setattr(files, "os", failing)
            told = told_by(import_book, other, tmp_path / "out.zip")
            monkeypatch.setattr(files, "os", os)
            if told is None:
                break
            assert (other.runs(), other.jigs()) == ((), ())
            assert not list((tmp_path / f"other-{fail_at}" / "evidence").glob(f"*{files.ASIDE}"))
    assert failing.calls > 20
    with open_book(tmp_path / f"other-{fail_at}") as other:
        assert [run.identity for run in other.runs()] == [run.identity for run in book.runs()]
        assert verify(other).findings == ()
