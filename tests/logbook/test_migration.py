"""A book of an older version is brought up to date whole, after a copy; one from the future is left alone."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any

import pytest

from cutvision.errors import InputError
from cutvision.logbook import migration
from cutvision.logbook.book import FILE, Logbook, open_book
from cutvision.logbook.migration import fresh_tables, migrate, tables_of
from cutvision.logbook.schema import APPLICATION_ID, STEPS
from cutvision.logbook.verification import verify

SCHEMAS = sorted((Path(__file__).parent / "schemas").glob("*.sql"))
# Toy versions after the real ones: a new column that is filled from an old one, and a step that breaks off half-way.
ONE_MORE = (
    *STEPS,
    (
        "ALTER TABLE run ADD COLUMN season TEXT NOT NULL DEFAULT ''",
        "DROP TRIGGER run_stays",
        "UPDATE run SET season = substr(day, 6, 2)",
    ),
)
BROKEN = (*STEPS, ("ALTER TABLE run ADD COLUMN season TEXT", "INSERT INTO nowhere VALUES (1)"))


def old_book(schema: Path, file: Path) -> sqlite3.Connection:
    """A book with the tables of a version that has landed."""
    file.parent.mkdir(exist_ok=True)
    connection = sqlite3.connect(file, isolation_level=None)
    connection.executescript(schema.read_text("utf-8"))
    return connection


def test_every_version_that_landed_has_its_reference_file() -> None:
    """There is one file for each version, numbered without a gap."""
    assert [int(path.stem) for path in SCHEMAS] == list(range(1, len(STEPS) + 1))


@pytest.mark.parametrize("schema", SCHEMAS, ids=lambda path: path.stem)
def test_every_older_version_becomes_the_newest(schema: Path, folder: Path) -> None:
    """A book of each version that has landed opens, and has then the tables of a new one."""
    old_book(schema, folder / FILE).close()
    with open_book(folder) as book:
        assert tables_of(book.connection) == fresh_tables()
        assert verify(book).sound


def test_a_step_keeps_the_runs_and_a_copy(given: Any, book: Logbook, folder: Path) -> None:
    """A later version finds the runs in the new tables, and beside the book a copy of it as it was."""
    run = book.record(given.run(book))
    migrate(book.connection, book.file, ONE_MORE)
    assert book.connection.execute("SELECT identity, season FROM run").fetchall() == [(run.identity, "01")]
    assert book.connection.execute("PRAGMA user_version").fetchone() == (len(ONE_MORE),)
    copy = sqlite3.connect(folder / f"logbook-before-version-{len(ONE_MORE)}.sqlite")
    assert copy.execute("PRAGMA user_version").fetchone() == (len(STEPS),)
    assert copy.execute("SELECT identity FROM run").fetchall() == [(run.identity,)]
    copy.close()


def test_a_step_that_fails_changes_nothing(given: Any, book: Logbook, folder: Path) -> None:
    """A migration that breaks off leaves the tables and the version as they were; a second copy spares the first."""
    book.record(given.run(book))
    before = book.connection.execute("SELECT * FROM sqlite_master").fetchall()
    for _ in range(2):
        with pytest.raises(sqlite3.OperationalError, match="nowhere"):
            migrate(book.connection, book.file, BROKEN)
    assert book.connection.execute("SELECT * FROM sqlite_master").fetchall() == before
    assert book.connection.execute("PRAGMA user_version").fetchone() == (len(STEPS),)
    copies = sorted(path.name for path in folder.glob("*before*"))
    assert copies == [f"logbook-before-version-{len(BROKEN)}{end}.sqlite" for end in ("-2", "")]
    assert verify(book).sound


def test_a_step_that_leaves_rows_without_their_jig_is_undone(given: Any, book: Logbook) -> None:
    """Rows that name others which are not there stop a migration."""
    book.record(given.run(book))
    book.connection.execute("PRAGMA foreign_keys = OFF")
    orphaned = (*STEPS, ("DROP TRIGGER jig_is_kept", "DELETE FROM jig"))
    with pytest.raises(InputError, match="name others that are not there"):
        migrate(book.connection, book.file, orphaned)
    assert [run.number for run in book.runs("sled")] == [1]


def test_two_programs_migrate_once(given: Any, book: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    """A program that waited while another migrated finds the work done."""
    book.record(given.run(book))
    other = sqlite3.connect(book.file, isolation_level=None)

    def meanwhile(*_: object) -> None:
        monkeypatch.setattr(migration, "_copy", lambda *_: None)
        migrate(other, book.file, ONE_MORE)

    monkeypatch.setattr(migration, "_copy", meanwhile)
    migrate(book.connection, book.file, ONE_MORE)
    assert book.connection.execute("SELECT season FROM run").fetchall() == [("01",)]
    other.close()


def test_a_newer_book_is_refused_untouched(given: Any, book: Logbook, folder: Path) -> None:
    """A book whose version is not known yet keeps every byte, and the message says what to install."""
    book.record(given.run(book))
    book.connection.execute(f"PRAGMA user_version = {len(STEPS) + 1}")
    book.connection.close()
    before = (folder / FILE).read_bytes()
    with pytest.raises(InputError, match="newer cutvision") as refused:
        open_book(folder)
    assert "Install the newer cutvision" in refused.value.remedy
    assert (folder / FILE).read_bytes() == before
    assert [path.name for path in folder.iterdir()] == [FILE]


@pytest.mark.parametrize("application", [0, APPLICATION_ID + 1])
def test_another_program_s_file_is_refused_untouched(folder: Path, application: int) -> None:
    """An SQLite file that is no logbook is not written to."""
    folder.mkdir()
    connection = sqlite3.connect(folder / FILE)
    connection.executescript(f"CREATE TABLE other (a); PRAGMA application_id = {application};")
    connection.close()
    before = (folder / FILE).read_bytes()
    with pytest.raises(InputError, match="another program"):
        open_book(folder, create=True)
    assert (folder / FILE).read_bytes() == before
