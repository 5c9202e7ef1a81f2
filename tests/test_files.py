"""Files that people name: read within a limit, written whole or not at all, and never over what is not ours."""

from __future__ import annotations

import errno
import io
import os
from pathlib import Path
from typing import get_args

import pytest
from PIL import Image

from cutvision import files
from cutvision.errors import InputError
from cutvision.files import (
    LIMITS,
    LOGBOOK_FILE,
    NotReadError,
    OutputKind,
    check_output,
    put,
    read_bounded,
    settle,
    sync_folder,
    write_output,
    writing_output,
)

needs_links = pytest.mark.skipif(not hasattr(os, "O_NOFOLLOW"), reason="this system has no such links")


def picture(form: str) -> bytes:
    """A small picture as a file's content."""
    out = io.BytesIO()
    Image.new("RGB", (8, 8), "teal").save(out, form)
    return out.getvalue()


def bare_jpeg() -> bytes:
    """A JPEG whose first segment is not JFIF's."""
    whole = picture("JPEG")
    return whole[:2] + whole[4 + int.from_bytes(whole[4:6], "big") :]


MADE: dict[str, tuple[bytes, OutputKind]] = {
    "a.png": (picture("PNG"), "picture"),
    "a.jpg": (picture("JPEG"), "picture"),
    "bare.jpg": (bare_jpeg(), "picture"),
    "a.svg": (b'<?xml version="1.0"?>\n<svg xmlns="http://www.w3.org/2000/svg"/>\n', "drawing"),
    "a.html": (b"<!doctype html>\n<p>a</p>\n", "evidence sheet"),
    "a.pdf": (b"%PDF-1.3\nxref\ntrailer\nstartxref\n9\n%%EOF\n", "reference sheet"),
    "a.csv": (b"run,day,recorded_at,command\r\n", "table"),
    "a.toml": (b"# A jig for cutvision: give it\nname = 'a'\n", "jig"),
    "a.json": (b'{\n "schema": "cutvision/camera/1"}', "camera"),
}


@pytest.mark.parametrize("name", MADE)
def test_what_the_program_wrote_is_written_again(tmp_path: Path, name: str) -> None:
    """A file of ours is known by its content and replaced by one of the same kind, and by no other."""
    data, kind = MADE[name]
    file = tmp_path / name
    write_output(file, data, kind)
    first = file.read_bytes()
    write_output(file, data, kind)
    assert file.read_bytes() == first
    for other in get_args(OutputKind):
        if other != kind:
            with pytest.raises(InputError, match=f"{name} is there already") as told:
                write_output(file, b"other", other)
            assert "--force" in told.value.remedy
    assert file.read_bytes() == first
    assert list(tmp_path.iterdir()) == [file]


@pytest.mark.parametrize("name", ["a.png", "a.jpg", "bare.jpg"])
def test_the_mark_leaves_the_picture_alone(tmp_path: Path, name: str) -> None:
    """A marked picture decodes to the same pixels."""
    data, kind = MADE[name]
    write_output(tmp_path / name, data, kind)
    with Image.open(tmp_path / name) as marked, Image.open(io.BytesIO(data)) as plain:
        assert marked.tobytes() == plain.tobytes()
        assert marked.format == plain.format
    assert (tmp_path / name).read_bytes() != data


@pytest.mark.parametrize("theirs", [data for data, _ in MADE.values()] + [b"", b"my notes"])
def test_what_another_made_stays(tmp_path: Path, theirs: bytes) -> None:
    """A file without our mark is left as it is, and with force it is replaced."""
    file = tmp_path / "notes"
    file.write_bytes(theirs)
    with pytest.raises(InputError, match="no drawing that cutvision wrote") as told:
        write_output(file, b"<svg/>", "drawing")
    assert str(file) in told.value.message
    assert file.read_bytes() == theirs
    write_output(file, b"<svg/>", "drawing", force=True)
    assert file.read_bytes().startswith(b"<svg/>")


def test_an_input_is_never_written_to(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Not by its name, another name, a link to it or a second name of it, and not with force either."""
    photo = tmp_path / "in.jpg"
    write_output(photo, picture("JPEG"), "picture")
    before = photo.read_bytes()
    (tmp_path / "link.jpg").symlink_to(photo)
    (tmp_path / "second.jpg").hardlink_to(photo)
    monkeypatch.chdir(tmp_path)
    for name in (photo, Path("in.jpg"), tmp_path / "x" / ".." / "in.jpg", Path("link.jpg"), Path("second.jpg")):
        with pytest.raises(InputError, match="is read by this command"):
            write_output(name, b"x", "picture", inputs=[tmp_path / "other.jpg", photo], force=True)
    assert photo.read_bytes() == before


def test_an_input_that_is_not_there_is_not_written_to(tmp_path: Path) -> None:
    """Two names of a file that does not exist yet are one file."""
    with pytest.raises(InputError, match="is read by this command"):
        check_output(tmp_path / "x" / ".." / "in.jpg", "picture", inputs=[tmp_path / "in.jpg"])


@pytest.mark.parametrize("name", [LOGBOOK_FILE, "new.svg", "evidence/ab/new.svg", "link/new.svg"])
def test_nothing_is_written_into_a_logbook(tmp_path: Path, name: str) -> None:
    """Neither the logbook nor anything in its folder, however deep or through a link, and not with force either."""
    book = tmp_path / "book"
    (book / "evidence" / "ab").mkdir(parents=True)
    (book / LOGBOOK_FILE).write_bytes(b"SQLite")
    (book / "link").symlink_to(book / "evidence")
    (tmp_path / "outside").symlink_to(book)
    for folder in (book, tmp_path / "outside"):
        with pytest.raises(InputError, match="lies in a logbook's folder"):
            write_output(folder / name, b"<svg/>", "drawing", force=True)
    assert (book / LOGBOOK_FILE).read_bytes() == b"SQLite"


def test_a_protected_folder_is_not_written_into(tmp_path: Path) -> None:
    """A folder that the caller protects, though it holds no logbook yet."""
    with pytest.raises(InputError, match="lies in a logbook's folder"):
        check_output(tmp_path / "book" / "a" / "b.svg", "drawing", protected=[tmp_path / "book"])
    check_output(tmp_path / "b.svg", "drawing", protected=[tmp_path / "book"])


@needs_links
def test_no_link_is_followed(tmp_path: Path) -> None:
    """A link in the output's place is refused; with force it is replaced, and what it points to stays."""
    target, link = tmp_path / "precious.svg", tmp_path / "out.svg"
    write_output(target, b"<svg/>", "drawing")
    before = target.read_bytes()
    link.symlink_to(target)
    with pytest.raises(InputError, match="is there already and is a link"):
        write_output(link, b"<svg>new</svg>", "drawing")
    write_output(link, b"<svg>new</svg>", "drawing", force=True)
    assert not link.is_symlink()
    assert target.read_bytes() == before


@needs_links
def test_the_part_file_is_opened_exclusively(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A link laid where the part file comes to lie is not followed: nothing is written."""

    class Guessed:
        hex = "guessed"

    target = tmp_path / "precious"
    target.write_bytes(b"mine")
    monkeypatch.setattr(files.uuid, "uuid4", Guessed)
    (tmp_path / f"guessed{files.ASIDE}").symlink_to(target)
    with pytest.raises(InputError, match="cannot be written"):
        write_output(tmp_path / "a.svg", b"<svg/>", "drawing")
    assert target.read_bytes() == b"mine"


def test_a_full_disk_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the new content cannot be written to its end the old file stays, and no part of the new one."""
    file = tmp_path / "a.svg"
    write_output(file, b"<svg/>", "drawing")
    before = file.read_bytes()

    def full(handle: int, data: bytes) -> int:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str((handle, len(data))))

    monkeypatch.setattr(os, "write", full)
    with pytest.raises(InputError, match="No space left"):
        write_output(file, b"<svg>new</svg>", "drawing")
    assert file.read_bytes() == before
    assert list(tmp_path.iterdir()) == [file]


def test_an_output_in_pieces_that_breaks_off_is_not_there(tmp_path: Path) -> None:
    """Whatever ends the writing, nothing of it is left."""

    def broken_off() -> None:
        with writing_output(tmp_path / "a.zip", "archive") as handle:
            os.write(handle, b"half")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        broken_off()
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("name", ["", "missing/sheet.html", "folder", "nul\0l"])
def test_what_is_no_file_is_refused_in_words(tmp_path: Path, name: str) -> None:
    """No name, no folder, a folder in its place, and a name that no system takes."""
    (tmp_path / "folder").mkdir()
    with pytest.raises(InputError, match="cannot be written"):
        write_output(tmp_path / name if name else Path(), b"x", "table")


def test_a_file_that_may_not_be_read_is_not_ours(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What cannot be looked into is not written over."""
    file = tmp_path / "a.svg"
    write_output(file, b"<svg/>", "drawing")

    def refused(*_: object) -> None:
        raise PermissionError

    monkeypatch.setattr(Path, "open", refused)
    with pytest.raises(InputError, match="no drawing that cutvision wrote"):
        write_output(file, b"<svg/>", "drawing")


def test_folders_are_made_with_the_file(tmp_path: Path) -> None:
    """A stored file comes with its folders, and replaces what was there."""
    put(tmp_path / "a" / "b" / "c", [b"o", b"ne"])
    put(tmp_path / "a" / "b" / "c", [b"two"])
    assert (tmp_path / "a" / "b" / "c").read_bytes() == b"two"
    settle(tmp_path / "a" / "b" / "c", tmp_path / "d" / "e")
    assert (tmp_path / "d" / "e").read_bytes() == b"two"


@pytest.mark.skipif(os.name == "nt", reason="Windows syncs no folder")
def test_a_folder_that_takes_no_sync(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file system without that call is no failure; any other error is."""

    def fails(number: int) -> None:
        def fsync(handle: int) -> None:
            raise OSError(number, os.strerror(number), str(handle))

        monkeypatch.setattr(os, "fsync", fsync)

    fails(errno.EINVAL)
    sync_folder(tmp_path)
    fails(errno.EIO)
    with pytest.raises(OSError, match=os.strerror(errno.EIO)):
        sync_folder(tmp_path)
    monkeypatch.setattr(os, "name", "nt")
    sync_folder(tmp_path)


@pytest.mark.parametrize("kind", LIMITS)
def test_a_file_longer_than_its_kind_may_be_is_refused_unread(tmp_path: Path, kind: files.InputKind) -> None:
    """A sparse file of 60 GB is refused by its size, with both figures; one within the limit is read."""
    file = tmp_path / "long"
    with file.open("wb") as made:
        made.truncate(60_000_000_000)
    with pytest.raises(NotReadError, match="60,000,000,000 bytes") as told:
        read_bounded(file, kind)
    assert f"at most {LIMITS[kind].most_bytes:,}" in told.value.message
    file.write_bytes(b"short")
    assert read_bounded(file, kind) == b"short"


def test_a_file_that_grows_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One that holds more than it says is not read on."""
    file = tmp_path / "a.toml"
    file.write_bytes(bytes(5))
    monkeypatch.setitem(LIMITS, "jig", files.Limit("jig's file", 4, "-"))
    real = os.fstat

    def small(handle: int) -> os.stat_result:
        seen = list(real(handle))
        seen[6] = 0
        return os.stat_result(seen)

    monkeypatch.setattr(os, "fstat", small)
    with pytest.raises(NotReadError, match="holds 5 bytes"):
        read_bounded(file, "jig")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes with names")
def test_pipes_devices_and_folders_are_refused_at_once(tmp_path: Path) -> None:
    """A pipe without a writer does not hang, a device without an end is not read, and a link to one neither."""
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "link").symlink_to("/dev/zero")
    for name in (tmp_path / "pipe", Path("/dev/zero"), tmp_path / "link"):
        with pytest.raises(NotReadError, match="it is a pipe or a device, not a file"):
            read_bounded(name, "photo")
    with pytest.raises(NotReadError, match="it is a folder"):
        read_bounded(tmp_path, "photo")


@needs_links
def test_a_link_is_followed_only_where_it_may_be(tmp_path: Path) -> None:
    """A person may name a link; what an archive or a logbook names is the file itself."""
    (tmp_path / "a").write_bytes(b"a")
    (tmp_path / "link").symlink_to(tmp_path / "a")
    assert read_bounded(tmp_path / "link", "evidence") == b"a"
    with pytest.raises(NotReadError, match="it is a link"):
        read_bounded(tmp_path / "link", "evidence", follow_links=False)
    assert read_bounded(tmp_path / "a", "evidence", follow_links=False) == b"a"


def test_what_cannot_be_read_is_told_in_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No such file, a name that none can have, and one that may not be read."""
    file = tmp_path / "a"
    with pytest.raises(NotReadError, match="there is no file of this name") as told:
        read_bounded(file, "photo")
    assert (told.value.why, told.value.remedy) == ("there is no file of this name", LIMITS["photo"].remedy)
    with pytest.raises(NotReadError, match="null"):
        read_bounded(tmp_path / "nul\0l", "photo")

    def refused(*_: object) -> int:
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(os, "open", refused)
    with pytest.raises(NotReadError, match="not allowed to read it"):
        read_bounded(file, "photo")


def test_a_disk_that_fails_while_reading(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An error in the middle of the file is told as one that cannot be read."""

    class Failing(io.BytesIO):
        def read(self, size: int | None = -1) -> bytes:
            raise OSError(errno.EIO, "Input/output error", str(size))

    file = tmp_path / "a"
    file.write_bytes(b"a")
    monkeypatch.setattr(os, "fdopen", lambda *_, **__: Failing())
    with pytest.raises(NotReadError, match="Input/output error"):
        read_bounded(file, "photo")
