"""From the tables as they are to the tables as they should be: in one transaction, after a copy of the book."""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Sequence
from pathlib import Path

from cutvision.errors import InputError
from cutvision.files import sync_folder
from cutvision.logbook.schema import APPLICATION_ID, STEPS

Steps = Sequence[Sequence[str]]


def version_of(connection: sqlite3.Connection, file: Path, steps: Steps = STEPS) -> int:
    """The version of the book's tables, 0 for a file without any; nothing is written.

    Raises InputError for a file that is no logbook, and for one from a newer cutvision.
    """
    version, application = _header(connection)
    if application not in {0, APPLICATION_ID} or (application == 0 and _tables(connection)):
        raise InputError(
            f"{file} is an SQLite file of another program, not a logbook.",
            "Name the logbook's own folder with --logbook, or an empty one.",
        )
    # asked again, as another process may have made them in between
    if version < 0 or (version == 0 and application and _tables(connection) and _header(connection)[0] == 0):
        raise InputError(
            f"The header of the logbook {file} is damaged: it gives version {version} to tables that are there.",
            "Copy the whole folder somewhere safe, then put the file back from a backup or an export.",
        )
    if version > len(steps):
        raise InputError(
            f"The logbook {file} was written by a newer cutvision (its tables are version {version}, this one knows "
            f"{len(steps)}). It was left untouched.",
            "Install the newer cutvision, or name another folder with --logbook.",
        )
    return version


def migrate(connection: sqlite3.Connection, file: Path, steps: Steps = STEPS) -> None:
    """Bring the tables up to the last version, all or nothing. A book that holds anything is copied beside it first.

    The connection is in autocommit. Raises InputError as `version_of`, OSError and sqlite3.Error when it cannot be.
    """
    version = version_of(connection, file, steps)
    if version == len(steps):
        return
    if version:
        _copy(connection, file.with_name(f"{file.stem}-before-version-{len(steps)}{file.suffix}"))
    connection.execute("BEGIN IMMEDIATE")
    try:
        for step in steps[version_of(connection, file, steps) :]:  # another process may have been quicker
            for statement in step:
                connection.execute(statement)
        _refuse_broken(connection, file, len(steps))
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {len(steps)}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def tables_of(connection: sqlite3.Connection) -> list[tuple[str, str]]:
    """The name and the making of every table, index and trigger. Raises sqlite3.Error."""
    return connection.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY name").fetchall()


def fresh_tables(steps: Steps = STEPS) -> list[tuple[str, str]]:
    """The same of a book made now."""
    with contextlib.closing(sqlite3.connect(":memory:")) as made:
        for step in steps:
            for statement in step:
                made.execute(statement)
        return tables_of(made)


def _refuse_broken(connection: sqlite3.Connection, file: Path, version: int) -> None:
    broken = connection.execute("PRAGMA foreign_key_check").fetchall()
    if broken:
        raise InputError(
            f"The logbook {file} was not brought up to version {version}: {len(broken)} rows name others that are not "
            "there. It is as it was.",
            "Run cutvision log verify with the cutvision that wrote it, and keep the copy beside it.",
        )


def _header(connection: sqlite3.Connection) -> tuple[int, int]:
    """The version of the tables, and the mark of the program that made them."""
    version, application = (
        int(connection.execute(f"PRAGMA {name}").fetchone()[0]) for name in ("user_version", "application_id")
    )
    return version, application


def _tables(connection: sqlite3.Connection) -> bool:
    return connection.execute("SELECT 1 FROM sqlite_master").fetchone() is not None


def _copy(connection: sqlite3.Connection, to: Path) -> None:
    """The whole book as it is, in one file, on the disk before anything is changed. An earlier copy is kept."""
    number, aside = 1, to
    while aside.exists():
        number += 1
        aside = to.with_stem(f"{to.stem}-{number}")
    with contextlib.closing(sqlite3.connect(aside)) as copy:
        connection.backup(copy)
    handle = os.open(aside, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
    sync_folder(aside.parent)
