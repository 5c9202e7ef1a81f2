"""What goes wrong with the book, in words: what was seen, and what to do so that nothing is lost."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from cutvision.errors import InputError

_DAMAGED = (
    "Copy the whole folder somewhere safe before anything else. Then put the file back from a backup or from a copy "
    "before-version beside it, or take what can be read out of it with the sqlite3 tool (.recover). The photos in the "
    "evidence folder are plain files and stay readable."
)
_CAUSES = (  # words of SQLite's message -> what it means, what to do
    ("locked", "another program has held it for too long", "Close the other program, then do the same again."),
    ("full", "the disk is full", "Make room on the disk, then do the same again."),
    ("readonly", "it may not be written", "See that the folder and the file may be written, or name another folder."),
    ("read-only", "it may not be written", "See that the folder may be written, or name another folder."),
    ("unable to open", "it cannot be opened", "See that the folder may be read and written, or name another folder."),
    (
        "disk i/o",
        "the disk did not take or give it",
        "See that the disk has room and is sound, then do the same again.",
    ),
    ("malformed", "the file is damaged", _DAMAGED),
    ("not a database", "the file is damaged, or no logbook at all", _DAMAGED),
)


@contextlib.contextmanager
def told(file: Path) -> Iterator[None]:
    """Turn what the disk or SQLite says of the book into words. Raises InputError."""
    try:
        yield
    except sqlite3.Error as error:
        said = str(error).lower()
        for words, why, remedy in _CAUSES:
            if words in said:
                raise InputError(f"The logbook {file}: {why} ({error}). Nothing in it was changed.", remedy) from error
        raise InputError(
            f"The logbook {file} cannot be used: {error}. Nothing in it was changed.",
            "Run cutvision log verify, which names what is wrong.",
        ) from error
    except OSError as error:
        named = error.filename or file.parent
        raise InputError(
            f"The logbook could not be read or written at {named}: {error.strerror or error}. Nothing in it was "
            "changed.",
            "See that the disk has room and that the folder may be written, then do the same again.",
        ) from error
