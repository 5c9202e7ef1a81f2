"""The evidence folder: each file byte for byte as it came, under the sha256 of its bytes."""

from __future__ import annotations

import contextlib
import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

from cutvision.errors import InputError
from cutvision.files import NotReadError, put, read_bounded
from cutvision.logbook.records import EvidenceFile, EvidenceKind

FOLDER = "evidence"


@dataclass(frozen=True, slots=True)
class NewFile:
    """A file to be kept with a run. left_at: where it stays when it is not to be copied into the book.

    typed: how the run's inputs name it; empty for a file that was made.
    """

    name: str
    kind: EvidenceKind
    data: bytes
    left_at: str | None = None
    typed: str = ""


def sha256_of(data: bytes) -> str:
    """The hash by which a file is known, in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def is_as_recorded(data: bytes, file: EvidenceFile, path: Path) -> bool:
    """Whether these bytes, read from the path, are the file's, or the stored copy without its GPS position."""
    sha256 = sha256_of(data)
    return sha256 == file.sha256 or (file.left_at is None and path.name.startswith(sha256))


def place_in_folder(sha256: str, name: str) -> str:
    """The stored file's place below the evidence folder: its hash with the ending of its name, so that it opens."""
    ending = Path(name).suffix.lower()
    return f"{sha256[:2]}/{sha256}{ending if re.fullmatch(r'[.][a-z0-9]{1,8}', ending) else ''}"


def keep(folder: Path, place: str, data: bytes) -> None:
    """See that the file is in the evidence folder. Raises OSError; InputError when another lies in its place."""
    path = folder / FOLDER / place
    if path.exists():
        refuse_changed(folder, place, sha256_of(data))
    else:
        put(path, (data,))


def refuse_changed(folder: Path, place: str, sha256: str) -> None:
    """Raise InputError when another file, a link or a device lies in a stored file's place."""
    path = folder / FOLDER / place
    with contextlib.suppress(NotReadError):
        if sha256_of(read_bounded(path, "evidence", follow_links=False)) == sha256:
            return
    raise InputError(
        f"{path} is not the file that its name says: it was changed after it was stored.",
        "Put the file back from a backup, or move it away; then record again. cutvision log verify names such files.",
    )
