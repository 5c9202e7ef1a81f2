"""Files are written whole or not at all."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest

from cutvision.errors import InputError
from cutvision.whole_file import write_whole


def test_a_file_is_written_and_written_anew(tmp_path: Path) -> None:
    """What is there is replaced as a whole, and nothing else is left in the folder."""
    file = tmp_path / "sheet.html"
    write_whole(file, b"one")
    write_whole(file, b"two")
    assert file.read_bytes() == b"two"
    assert list(tmp_path.iterdir()) == [file]


def test_a_full_disk_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the new content cannot be written to its end the old file stays, and no part of the new one."""
    file = tmp_path / "sheet.html"
    file.write_bytes(b"good")

    def full(path: Path, content: bytes) -> int:
        path.touch()
        raise OSError(errno.ENOSPC, "No space left on device", str(content[:1]))

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(InputError, match="No space left"):
        write_whole(file, b"new")
    assert file.read_bytes() == b"good"
    assert list(tmp_path.iterdir()) == [file]


@pytest.mark.parametrize("name", ["", "missing/sheet.html", "folder"])
def test_what_is_no_file_is_refused_in_words(tmp_path: Path, name: str) -> None:
    """No name, no folder, and a folder in its place."""
    (tmp_path / "folder").mkdir()
    with pytest.raises(InputError, match="cannot be written"):
        write_whole(tmp_path / name if name else Path(), b"x")
