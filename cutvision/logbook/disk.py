"""Files that are whole or not there: written aside, synced, renamed, and the folder synced; nowhere else."""

from __future__ import annotations

import contextlib
import os
import uuid
from pathlib import Path

ASIDE = ".part"


def make_folder(folder: Path) -> None:
    """Make the folder, with those above it, so that each outlasts a power cut. Raises OSError."""
    missing = []
    while not folder.is_dir():
        missing.append(folder)
        folder = folder.parent
    for one in reversed(missing):
        with contextlib.suppress(FileExistsError):  # another process may have been quicker
            os.mkdir(one)  # noqa: PTH102  os alone, so that tests can fail each call in turn
        sync_folder(one.parent)


def put(path: Path, data: bytes) -> None:
    """Write a file that is either whole under its name or not there. Raises OSError and then leaves nothing."""
    make_folder(path.parent)
    aside = path.with_name(f"{uuid.uuid4().hex}{ASIDE}")
    try:
        handle = os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o644)
        try:
            rest = memoryview(data)
            while rest:
                rest = rest[os.write(handle, rest) :]
            os.fsync(handle)
        finally:
            os.close(handle)
        os.replace(aside, path)  # noqa: PTH105  as above
    except OSError:
        with contextlib.suppress(OSError):
            os.unlink(aside)  # noqa: PTH108  as above
        raise
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """See that what was made or renamed in the folder is on the disk; Windows needs, and allows, no such call."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
