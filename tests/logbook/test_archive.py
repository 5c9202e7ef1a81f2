"""Everything goes into a zip file and comes out of it elsewhere, merged by identity, without loss."""

from __future__ import annotations

import io
import json
import os
import shutil
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import ExifTags, Image

from cutvision.errors import InputError
from cutvision.logbook.archive import LOGBOOK, export_book, import_book
from cutvision.logbook.book import Logbook, open_book
from cutvision.logbook.evidence import NewFile, sha256_of
from cutvision.logbook.records import MoveSet
from cutvision.logbook.verification import verify


def with_place() -> bytes:
    """A small photo with a made-up place."""
    exif = Image.Exif()
    exif[ExifTags.IFD.GPSInfo] = {1: "N", 2: (51.0, 30.0, 15.5)}
    out = io.BytesIO()
    Image.new("RGB", (300, 200), "tan").save(out, "JPEG", exif=exif)
    return out.getvalue()


def filled(given: Any, book: Logbook, left: Path) -> None:
    """Two jigs, one retired and back, runs with files stored and left, a check, a move, one struck out."""
    book.add_jig("miter", "kind", given.later(), squared_by=book.jig("sled").identity)
    book.change_jig("miter", "kind, better", given.later(), squared_by=book.jig("sled").identity)
    book.retire_jig("sled", given.later())
    book.retire_jig("sled", given.later(), back=True)
    first = book.record(given.run(book, fence="fastened"), [NewFile("p.jpg", "photo", with_place())])
    left.write_bytes(b"left light")
    files = [NewFile("l.jpg", "photo", b"left light", left_at=str(left)), NewFile("m.svg", "drawing", b"<svg/>")]
    book.record(given.run(book, check_of=first.identity), files)
    book.record(given.run(book, "miter"), [NewFile("again.jpg", "photo", with_place())])
    book.set_move(2, MoveSet(given.later(), 0.25, "counterclockwise", "tacked", "by hand"))
    book.strike(3, "wrong piece", given.later())


def inside(file: Path) -> dict[str, Any]:
    """The JSON of an archive."""
    with zipfile.ZipFile(file) as archive:
        told: dict[str, Any] = json.loads(archive.read(LOGBOOK))
        return told


def test_a_book_comes_out_elsewhere_identical(given: Any, book: Logbook, tmp_path: Path) -> None:
    """Exported with its photos' places, imported into an empty folder: runs, jigs and files are the same and verify."""
    filled(given, book, tmp_path / "left.jpg")
    done = export_book(book, book.runs(), tmp_path / "out.zip", "1.2", {"sled": "a,b\r\n"}, with_gps=True)
    assert (done.jigs, done.runs, done.files, done.cleaned, done.left_out) == (2, 3, 3, (), ())
    with open_book(tmp_path / "other", create=True) as other:
        told = import_book(other, tmp_path / "out.zip")
        assert (told.jigs, told.runs, told.known, told.files, told.renamed) == (2, 3, 0, 3, ())
        assert other.jigs() == book.jigs()
        for one, was in zip(other.runs(), book.runs(), strict=True):
            assert (one.number, one.conditions, one.inputs, one.result_text) == (
                was.number,
                was.conditions,
                was.inputs,
                was.result_text,
            )
            assert (one.moves, one.struck, one.check_of, one.headline) == (
                was.moves,
                was.struck,
                was.check_of,
                was.headline,
            )
            for file, old in zip(one.evidence, was.evidence, strict=True):
                assert file.sha256 == old.sha256 == sha256_of(other.path_of(file).read_bytes())
        assert verify(other).findings == ()
        assert other.asked("sled") == book.asked("sled")
        export_book(other, other.runs(), tmp_path / "again.zip", "1.2", {}, with_gps=True)
    assert inside(tmp_path / "again.zip") == inside(tmp_path / "out.zip")
    with zipfile.ZipFile(tmp_path / "out.zip") as archive:
        assert archive.read("runs/sled.csv") == b"a,b\r\n"
        assert b"cutvision/logbook/1" in archive.read("README.txt")


def test_two_exports_are_the_same_bytes(given: Any, book: Logbook, tmp_path: Path) -> None:
    """The time of day does not go into the archive, so that a comparison of two files tells whether the books agree."""
    filled(given, book, tmp_path / "left.jpg")
    first, second = tmp_path / "first.zip", tmp_path / "second.zip"
    for out in (first, second):
        export_book(book, book.runs(), out, "1.2", {"sled": "a,b\r\n"})
    assert first.read_bytes() == second.read_bytes()
    with zipfile.ZipFile(first) as archive:
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}


def test_an_import_twice_adds_nothing_and_two_books_merge(given: Any, book: Logbook, tmp_path: Path) -> None:
    """Runs known by their identity are not doubled; what was added since comes in, into a book with runs of its own."""
    filled(given, book, tmp_path / "left.jpg")
    export_book(book, book.runs(), tmp_path / "one.zip", "1", {})
    with open_book(tmp_path / "other", create=True) as other:
        other.add_jig("Sled", "another", given.later())
        own = other.record(given.run(other, "Sled"))
        told = import_book(other, tmp_path / "one.zip")
        identity = book.jig("sled").identity
        assert told.renamed == (("sled", f"sled ({identity[:8]})"),)
        assert other.jig(identity).text == book.jig("sled").text
        assert [run.number for run in other.runs()] == [1, 2, 3, 4]
        book.record(given.run(book))
        book.set_move(4, MoveSet(given.later(), 0.1, None))
        export_book(book, book.runs(), tmp_path / "two.zip", "1", {})
        again = import_book(other, tmp_path / "two.zip")
        assert (again.jigs, again.runs, again.known, again.files) == (0, 1, 3, 0)
        assert {run.identity for run in other.runs()} == {own.identity, *(run.identity for run in book.runs())}
        assert verify(other).sound


def test_the_position_stays_at_home_unless_asked_for(given: Any, book: Logbook, tmp_path: Path) -> None:
    """Without with_gps the copy has no place, but the original's hash beside its own, and what is imported verifies."""
    book.record(given.run(book), [NewFile("p.jpg", "photo", with_place())])
    done = export_book(book, book.runs(), tmp_path / "out.zip", "1", {})
    assert done.cleaned == (f"p.jpg ({sha256_of(with_place())[:12]}): a position",)
    with zipfile.ZipFile(tmp_path / "out.zip") as archive:
        (photo,) = [name for name in archive.namelist() if name.endswith(".jpg")]
        with Image.open(io.BytesIO(archive.read(photo))) as image:
            assert not image.getexif().get_ifd(ExifTags.IFD.GPSInfo)
    with open_book(tmp_path / "other", create=True) as other:
        import_book(other, tmp_path / "out.zip")
        (file,) = other.runs()[0].evidence
        assert file.sha256 == sha256_of(with_place())
        assert other.path_of(file).read_bytes() != with_place()
        assert verify(other).findings == ()
        export_book(book, book.runs(), tmp_path / "whole.zip", "1", {}, with_gps=True)
        import_book(other, tmp_path / "whole.zip")
        assert other.path_of(file).read_bytes() == with_place(), "the original has come in since, and is shown"
        assert verify(other).findings == ()


def test_files_that_cannot_go_are_named(given: Any, book: Logbook, tmp_path: Path) -> None:
    """A file that is missing, changed, a link to a device or of a kind that cannot be cleaned is left out by name."""
    contents = [b"gone", b"edited", b"device", b"II*\0 a TIFF", with_place()]
    for content in contents:
        book.record(given.run(book), [NewFile("p.jpg", "photo", content)])
    gone, edited, device, *_ = [book.path_of(run.evidence[0]) for run in book.runs()]
    for path in (gone, device):
        path.unlink()
    device.symlink_to("/dev/zero")
    edited.write_bytes(b"other")
    done = export_book(book, book.runs(abridged=True), tmp_path / "out.zip", "1", {})
    assert (done.runs, done.files) == (5, 1)
    assert [words.partition(": ")[2] for words in done.left_out] == [
        "it cannot be read: there is no file of this name",
        "it was changed after it was recorded",
        "it cannot be read: it is a link",
        "a TIFF cannot be cleaned without touching its pixels, and may tell where it was taken; add --with-gps",
    ]
    assert not verify(book).sound
    with open_book(tmp_path / "other", create=True) as other:
        import_book(other, tmp_path / "out.zip")
        verified = verify(other)
        assert verified.sound
        assert ["is not in this logbook" in finding.what for finding in verified.findings] == [True] * 4


def test_a_run_that_cannot_be_read_is_left_out(given: Any, book: Logbook, tmp_path: Path) -> None:
    """An export holds the runs that can be read, and names the others, those struck out too."""
    for _ in range(3):
        book.record(given.run(book))
    runs = book.runs(abridged=True)
    book.connection.execute("DROP TRIGGER run_stays")
    book.connection.execute("UPDATE run SET inputs = '{}' WHERE number = 2")
    book.strike(2, "damaged", given.later())
    done = export_book(book, runs, tmp_path / "out.zip", "1", {})
    assert done.runs == 2
    assert ["run 2" in words and "cannot be read" in words for words in done.left_out] == [True]
    with open_book(tmp_path / "other", create=True) as other:
        assert import_book(other, tmp_path / "out.zip").runs == 2


def claiming(book: Logbook, given: Any, file: Path, sizes: list[int]) -> Path:
    """An archive whose files claim to be so long, and hold nothing."""
    pictures = [f"{number}".encode() for number in range(len(sizes))]
    for picture in pictures:
        book.record(given.run(book), [NewFile("p.jpg", "photo", picture)])
    export_book(book, book.runs(), file, "1", {}, with_gps=True)
    data = bytearray(file.read_bytes())
    with zipfile.ZipFile(file) as archive:
        at = archive.start_dir
        for info in archive.infolist():
            if info.filename.startswith("evidence/"):
                data[at + 24 : at + 28] = struct.pack("<I", sizes.pop())
            at += 46 + len(info.filename) + len(info.extra) + len(info.comment)
    file.write_bytes(data)
    return file


@pytest.mark.parametrize(
    ("sizes", "free", "says"),
    [
        ([400_000_001], 10**12, "400,000,000 a file"),
        ([400_000_000] * 51, 10**12, "At most 20,000,000,000 bytes are taken"),
        ([400_000_000] * 2, 850_000_000, "has 850,000,000 free"),
    ],
)
def test_an_import_that_is_too_much_is_refused_first(
    given: Any, book: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, sizes: list[int], free: int, says: str
) -> None:
    """A file that is too long, too many of them, or more than the disk has room for: nothing of it is unpacked."""
    file = claiming(book, given, tmp_path / "bomb.zip", list(sizes))
    monkeypatch.setattr(shutil, "disk_usage", lambda _: shutil._ntuple_diskusage(10**13, 0, free))  # type: ignore[attr-defined]
    with open_book(tmp_path / "other", create=True) as other:
        with pytest.raises(InputError, match=says):
            import_book(other, file)
        assert (other.runs(), other.jigs()) == ((), ())
        assert not list((tmp_path / "other").glob("evidence/**/*"))


@pytest.mark.parametrize("long", [False, True])
def test_a_list_of_contents_too_long_is_refused_unread(book: Logbook, tmp_path: Path, *, long: bool) -> None:
    """A zip file whose end claims a list past all sense is not opened, in the format's short form and its long one."""
    file = tmp_path / "list.zip"
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("a", b"")
    data = file.read_bytes()
    end = data.rindex(b"PK\5\6")
    claimed = 0xFFFFFFFF if long else 60_000_000
    told = data[: end + 12] + struct.pack("<I", claimed) + data[end + 16 :]
    if long:
        record = b"PK\6\6" + struct.pack("<QHHIIQQQQ", 44, 45, 45, 0, 0, 1, 1, 60_000_000, 0)
        locator = b"PK\6\7" + struct.pack("<IQI", 0, end, 1)
        told = told[:end] + record + locator + told[end:]
    file.write_bytes(told)
    with pytest.raises(InputError, match="lists 60,000,000 bytes"):
        import_book(book, file)


def test_a_list_too_long_is_refused_unread(book: Logbook, tmp_path: Path) -> None:
    """A few kilobytes that unpack to half a gigabyte of JSON are not unpacked."""
    file = tmp_path / "bomb.zip"
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(LOGBOOK, b" ")
    data = file.read_bytes()
    with zipfile.ZipFile(file) as archive:
        at = archive.start_dir
    file.write_bytes(data[: at + 24] + struct.pack("<I", 500_000_001) + data[at + 28 :])
    with pytest.raises(InputError, match="claims 500,000,001 bytes"):
        import_book(book, file)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes with names")
def test_what_is_no_file_is_not_imported(book: Logbook, tmp_path: Path) -> None:
    """A device has no end and a pipe no beginning: neither is waited for."""
    os.mkfifo(tmp_path / "pipe")
    for name in (Path("/dev/zero"), tmp_path / "pipe"):
        with pytest.raises(InputError, match="a pipe or a device"):
            import_book(book, name)


def test_nothing_stays_of_a_refused_import(given: Any, book: Logbook, tmp_path: Path) -> None:
    """Where a later file or record is wrong, the evidence that came before it is not left behind."""
    for _ in range(2):
        book.record(given.run(book), [NewFile("p.jpg", "photo", given.later().isoformat().encode())])
    export_book(book, book.runs(), tmp_path / "out.zip", "1", {}, with_gps=True)
    wrong: list[Callable[[dict[str, Any]], object]] = [
        lambda told: told["files"][1].update(stored_sha256="0" * 64),
        lambda told: told["runs"][1].update(check_of="0" * 36),
    ]
    for number, change in enumerate(wrong):
        bad = rewritten(tmp_path / "out.zip", change, tmp_path / f"bad-{number}.zip")
        with open_book(tmp_path / "other", create=True) as other:
            with pytest.raises(InputError):
                import_book(other, bad)
            assert not list((tmp_path / "other").glob("evidence/**/*"))


def test_an_export_overwrites_nothing(book: Logbook, tmp_path: Path) -> None:
    """A file that is there is left alone, and a folder that is not there is told."""
    (tmp_path / "out.zip").write_bytes(b"mine")
    with pytest.raises(InputError, match="is there already"):
        export_book(book, (), tmp_path / "out.zip", "1", {})
    assert (tmp_path / "out.zip").read_bytes() == b"mine"
    with pytest.raises(InputError, match="cannot be written"):
        export_book(book, (), tmp_path / "nowhere" / "out.zip", "1", {})


def rewritten(file: Path, change: Callable[[dict[str, Any]], None], out: Path) -> Path:
    """A copy of an archive with its JSON changed."""
    with zipfile.ZipFile(file) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            told = json.loads(old.read(name)) if name == LOGBOOK else None
            if told is not None:
                change(told)
            new.writestr(name, old.read(name) if told is None else json.dumps(told))
    return out


def moved(told: dict[str, Any]) -> dict[str, Any]:
    """The first move that was set, in an archive's JSON."""
    found: dict[str, Any] = next(run for run in told["runs"] if run["moves"])["moves"][0]
    return found


WRONG: dict[str, tuple[Callable[[dict[str, Any]], object], str]] = {
    "newer": (lambda told: told.update(schema="cutvision/logbook/2"), "holds 'cutvision/logbook/2'"),
    "other": (lambda told: told.update(schema="something"), "holds 'something'"),
    "no runs": (lambda told: told.pop("runs"), "does not hold"),
    "no day": (lambda told: told["runs"][0].update(day="soon"), "does not hold"),
    "changed run": (lambda told: told["runs"][0].update(humidity="1 %"), "with another content"),
    "changed jig": (lambda told: told["jigs"][0]["versions"][0].update(text="x"), "with another content"),
    "other file": (lambda told: told["files"][0].update(stored_sha256="0" * 64), "is not the file that was exported"),
    "no file": (lambda told: told["files"][0].update(place="evidence/00/0"), "does not hold"),
    "list": (lambda told: told.update(jigs=[1]), "does not hold"),
    "jig without a version": (lambda told: told["jigs"][0].update(versions=[]), "a jig's versions"),
    "jig that clears the screen": (lambda told: told["jigs"][0].update(name="\x1b[2J"), "a jig's name"),
    "no identity": (lambda told: told["runs"][-1].update(identity="../x"), "badly formed"),
    "far day": (lambda told: told["runs"][0].update(day="9999-12-31"), "a day is not"),
    "early": (lambda told: told["runs"][0].update(recorded_at="0001-01-01T00:00:00+14:00"), "does not hold"),
    "note that is no text": (lambda told: told["runs"][0].update(note=5), "a text is not"),
    "held by nothing": (lambda told: told["runs"][0].update(fence="glued"), "how the fence was held"),
    "no result": (lambda told: told["runs"][0].update(result=[1]), "a result's schema"),
    "other result": (lambda told: told["runs"][0].update(result={"schema": "x/1"}), "a result's schema"),
    "no number": (
        lambda told: told["runs"][0]["result"]["angle_error"].update(value="0.1"),
        "angle_error.value is not",
    ),
    "no bound": (lambda told: told["runs"][0]["result"]["angle_error"].pop("expanded_uncertainty"), "does not hold"),
    "bound below zero": (
        lambda told: told["runs"][0]["result"]["angle_error"].update(expanded_uncertainty=-1),
        "angle_error.expanded_uncertainty is not",
    ),
    "past all sense": (lambda told: told["runs"][0]["result"].update(more=[{"x": 10**400}]), "a number in a result"),
    "no source": (lambda told: told["runs"][0]["inputs"]["values"][0].update(source="sky"), "an input came from"),
    "moved sideways": (lambda told: moved(told).update(turn="sideways"), "which way the fence was turned"),
    "moved back": (lambda told: moved(told).update(distance_mm=-1), "how far the fence was moved"),
}


@pytest.mark.parametrize("wrong", WRONG)
def test_a_wrong_archive_is_refused_whole(given: Any, book: Logbook, tmp_path: Path, wrong: str) -> None:
    """An archive that was changed, is of another version or is no archive changes nothing in the book."""
    filled(given, book, tmp_path / "left.jpg")
    export_book(book, book.runs(), tmp_path / "out.zip", "1", {})
    before = book.file.read_bytes()
    change, words = WRONG[wrong]
    bad = rewritten(tmp_path / "out.zip", lambda told: change(told) and None, tmp_path / "bad.zip")
    with pytest.raises(InputError, match=words) as refused:
        import_book(book, bad)
    assert refused.value.remedy
    assert book.file.read_bytes() == before


@pytest.mark.parametrize("content", [b"", b"no zip", None])
def test_what_is_no_archive_is_refused(book: Logbook, tmp_path: Path, content: bytes | None) -> None:
    """An empty file, other text and a missing file are refused in words."""
    file = tmp_path / "x.zip"
    if content is not None:
        file.write_bytes(content)
    with pytest.raises(InputError, match=r"no zip file|cannot be read"):
        import_book(book, file)


def test_a_damaged_archive_is_refused(given: Any, book: Logbook, tmp_path: Path) -> None:
    """An archive with bytes changed anywhere, or cut short, is refused or gives the whole book, never half of it."""
    filled(given, book, tmp_path / "left.jpg")
    export_book(book, book.runs(), tmp_path / "out.zip", "1", {}, with_gps=True)
    data = (tmp_path / "out.zip").read_bytes()
    refused = 0
    for number in range(1, 20):
        at = len(data) * number // 20
        broken = data[:at] if number % 2 else data[:at] + bytes([data[at] ^ 0x55]) + data[at + 1 :]
        (tmp_path / "bad.zip").write_bytes(broken)
        with open_book(tmp_path / f"other-{number}", create=True) as other:
            try:
                import_book(other, tmp_path / "bad.zip")
            except InputError:
                refused += 1
                assert (other.runs(), other.jigs()) == ((), ())
            else:
                assert len(other.runs()) == 3
                assert verify(other).sound
    assert refused >= 10
