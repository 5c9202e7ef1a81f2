"""The whole book as one zip file, and such a file merged into a book: by identity, without loss."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import sqlite3
import struct
import uuid
import zipfile
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any, BinaryIO

from cutvision.errors import InputError
from cutvision.files import ASIDE, LIMITS, NotReadError, opened_to_read, put, read_bounded, settle, writing_output
from cutvision.imaging.clean_photo import PICTURES, CannotCleanError, CleanPhoto, clean_photo
from cutvision.logbook import trouble
from cutvision.logbook.acceptance import UNREADABLE, check_jig, check_move, check_run
from cutvision.logbook.book import Logbook, insert_file, insert_run
from cutvision.logbook.evidence import FOLDER, is_as_recorded, place_in_folder, refuse_changed, sha256_of
from cutvision.logbook.plain import (
    Plain,
    digest_of,
    move_as_plain,
    move_from_plain,
    run_as_plain,
    run_from_plain,
    struck_as_plain,
    struck_from_plain,
    time_text,
    version_as_plain,
    version_from_plain,
)
from cutvision.logbook.records import EvidenceFile, Run

SCHEMA = "cutvision/logbook/1"
LOGBOOK, README = "logbook.json", "README.txt"
MOST_TOLD = 500_000_000  # bytes of logbook.json: over ten thousand runs
MOST_TOTAL = 20_000_000_000  # bytes of all files inside, unpacked: a damaged or hostile archive may claim any size
MOST_ENTRIES = 200_000
MOST_LISTED, END_OF_ZIP = 50_000_000, 66_000  # bytes: of the list of contents; where its length is sought
ROOM_TO_SPARE = 100_000_000  # bytes that an import leaves free on the disk
PIECE = 1 << 20

EXPLANATION = """\
This is a logbook of cutvision: jigs, their runs, and the files that the runs rest on.

logbook.json   everything but the files, as one JSON object (UTF-8)
runs/          each jig's runs as a table (CSV) for a spreadsheet, under the jig's identity
evidence/      photos, annotated photos and drawings, each under the sha256 of its bytes

logbook.json, schema cutvision/logbook/1. Times are UTC; angles are in degrees and lengths in millimetres.
  schema, program   what wrote this
  jigs              identity (a UUID), name, added_at
    versions        recorded_at, text (the jig's file), squared_by (the identity of another jig, or null)
    uses            recorded_at, retired (true or false): when it was taken out of use, and back
  runs              in the order of their numbers in the book that was exported
    identity, jig, recorded_at, day, humidity, blade, stock, note, fence, check_of (a run's identity), program
    inputs          command, and values: option, value, source (typed, jig, logbook), sha256 (of a file it names)
    result          what the command prints with --json, with the schema named in it
    files           sha256 (of the file as it came), name, kind, size
    moves           recorded_at, distance_mm, turn, fence, note, day: what was really set afterwards
    struck          recorded_at, why: the run was found wrong
  files             sha256 (as in a run's files), stored_sha256 and place (of the file in evidence/)
  left_out          sha256, name, why: files that are not in evidence/

Where stored_sha256 differs from sha256, the copy is the photo without its position, comments and whatever else came
with it but size, orientation, focal length, lens and exposure; the pixels' own bytes are the same.
"""


@dataclass(frozen=True, slots=True)
class Exported:
    """What went into an archive.

    left_out: each file and run that did not, and why. cleaned: each photo of which something was left out, and what.
    """

    jigs: int
    runs: int
    files: int
    cleaned: tuple[str, ...]
    left_out: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Imported:
    """What an archive added to the book. known: runs that were there already. renamed: old and new names of jigs."""

    jigs: int
    runs: int
    known: int
    files: int
    renamed: tuple[tuple[str, str], ...]


def export_book(
    book: Logbook, runs: Sequence[Run], out: Path, program: str, tables: Mapping[str, str], *, with_gps: bool = False
) -> Exported:
    """Write everything to a new zip file, whole or not at all. runs: all of them, or those that can be read.

    tables: the CSV of each jig's runs, by the jig's identity. Raises InputError when the file is there, or cannot be
    written.
    """
    if out.exists():
        raise InputError(f"{out} is there already.", "Give another name; an export never overwrites a file.")
    files: list[Plain] = []
    left_out: list[Plain] = []
    cleaned: list[str] = []
    places: set[str] = set()
    with (
        writing_output(out, "archive", protected=(book.folder,)) as handle,
        os.fdopen(handle, "w+b", closefd=False) as opened,
        zipfile.ZipFile(opened, "w", zipfile.ZIP_DEFLATED) as archive,
    ):
        archive.writestr(_entry(README), EXPLANATION)
        for jig, table in tables.items():
            archive.writestr(_entry(f"runs/{jig}.csv"), table)
        for file in {file.sha256: file for run in runs for file in book.files_of(run)}.values():
            going = _file_for_export(book, file, with_gps=with_gps)
            if isinstance(going, str):
                left_out.append({"sha256": file.sha256, "name": file.name, "why": going})
                continue
            stored = sha256_of(going.data)
            place = f"{FOLDER}/{place_in_folder(stored, file.name)}"
            files.append({"sha256": file.sha256, "stored_sha256": stored, "place": place})
            cleaned += [f"{_named(file)}: {', '.join(going.left_out)}"] if going.left_out else []
            if place not in places:
                places.add(place)
                archive.writestr(zipfile.ZipInfo(place), going.data)
        jigs = _jigs_as_plain(book)
        with archive.open(_entry(LOGBOOK), "w", force_zip64=True) as told:
            unread = _write_told(
                told, book, runs, {"schema": SCHEMA, "program": program, "jigs": jigs}, files, left_out
            )
    words = (*(f"{one['name']} ({one['sha256'][:12]}): {one['why']}" for one in left_out), *unread)
    return Exported(len(jigs), len(runs) - len(unread), len(files), tuple(cleaned), words)


def _named(file: EvidenceFile) -> str:
    return f"{file.name} ({file.sha256[:12]})"


def _write_told(
    out: IO[bytes], book: Logbook, runs: Sequence[Run], head: Plain, files: Sequence[Plain], left_out: Sequence[Plain]
) -> list[str]:
    """Write logbook.json, one run after the other, so that never more than one is held. Gives those not to be read."""
    unread = []
    out.write(json.dumps(head, indent=1, allow_nan=False).encode().removesuffix(b"\n}") + b',\n "runs": [')
    between = b"\n"
    for run in runs:
        try:
            whole = book.run(run.identity)
        except InputError as error:
            unread.append(f"run {run.number}: {error.message}")
            continue
        plain = {
            **run_as_plain(whole, whole.evidence),
            "moves": [move_as_plain(run.identity, move) for move in whole.moves],
            "struck": [struck_as_plain(run.identity, one) for one in book.strikes_of(run)],
        }
        out.write(between + json.dumps(plain, allow_nan=False).encode())
        between = b",\n"
    tail = json.dumps({"files": list(files), "left_out": list(left_out)}, indent=1, allow_nan=False)
    out.write(b"\n ]," + tail.encode().removeprefix(b"{"))
    return unread


def _entry(name: str) -> zipfile.ZipInfo:
    """A text's place in the archive, without the time of day: two exports of the same book are the same bytes."""
    entry = zipfile.ZipInfo(name)
    entry.compress_type = zipfile.ZIP_DEFLATED
    return entry


def import_book(book: Logbook, file: Path) -> Imported:
    """Merge an archive into the book, all of it or nothing; what is there already stays as it is.

    Raises InputError for a file that is no such archive, is damaged, is from a newer program, or holds a record that
    the book has with another content.
    """
    try:
        with opened_to_read(file, "archive") as opened:
            _refuse_long_list(opened, file)
            archive = zipfile.ZipFile(opened)
            told = _told(archive, file)
            return _merge(book, archive, told, file)
    except (zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        raise InputError(f"{file} is damaged or no zip file: {error}.", _COPY_AGAIN) from error
    except UNREADABLE as error:
        raise InputError(
            f"{file} does not hold what a logbook's export holds ({type(error).__name__}: {error}).", _COPY_AGAIN
        ) from error
    except OSError as error:
        raise InputError(f"{file} cannot be read: {error.strerror or error}.", "Check its name and folder.") from error


_COPY_AGAIN = "Copy it again from where it was exported, or export it again. The logbook was not changed."


def _jigs_as_plain(book: Logbook) -> list[Plain]:
    db = book.connection
    added = dict(db.execute("SELECT identity, added_at FROM jig"))
    uses: dict[str, list[Plain]] = {}
    for jig, at, retired in db.execute("SELECT jig, recorded_at, retired FROM jig_use ORDER BY recorded_at"):
        uses.setdefault(jig, []).append({"recorded_at": at, "retired": bool(retired)})
    return [
        {
            "identity": jig.identity,
            "name": jig.name,
            "added_at": added[jig.identity],
            "versions": [version_as_plain(jig.identity, version) for version in jig.versions],
            "uses": uses.get(jig.identity, []),
        }
        for jig in book.jigs()
    ]


def _file_for_export(book: Logbook, file: EvidenceFile, *, with_gps: bool) -> CleanPhoto | str:
    """The file's bytes as they may leave the book, and what was left out of them; or why it stays."""
    path = book.path_of(file)
    try:
        data = read_bounded(path, "evidence", follow_links=file.left_at is not None)
    except NotReadError as error:
        return f"it cannot be read: {error.why}"
    if not is_as_recorded(data, file, path):
        return "it was changed after it was recorded"
    if with_gps or not (file.kind in {"photo", "annotated"} or data.startswith(PICTURES)):
        return CleanPhoto(data, ())
    try:
        return clean_photo(data)
    except CannotCleanError as error:
        return f"{error}, and may tell where it was taken; add --with-gps"


def _told(archive: zipfile.ZipFile, file: Path) -> Plain:
    told: Plain = json.loads(_inside(archive, LOGBOOK))
    schema = str(told["schema"])
    if schema != SCHEMA:
        newer = schema.startswith(SCHEMA.rpartition("/")[0])
        raise InputError(
            f"{file} holds '{schema}'; this cutvision reads '{SCHEMA}'. The logbook was not changed.",
            "Install the newer cutvision." if newer else "Name a file that cutvision log export wrote.",
        )
    return told


def _refuse_long_list(opened: BinaryIO, file: Path) -> None:
    """Raise InputError for a list of contents that would fill the memory: it is read whole when a zip is opened.

    Source of the layout: PKWARE's APPNOTE, 4.3.14 and 4.3.16: the list's length stands at the file's end.
    """
    opened.seek(max(0, opened.seek(0, os.SEEK_END) - END_OF_ZIP))
    tail = opened.read()
    end = tail.rfind(b"PK\5\6")
    if end < 0 or len(tail) < end + 16:
        return  # no zip, which is said when it is opened
    (length,) = struct.unpack_from("<I", tail, end + 12)
    long_end = tail.rfind(b"PK\6\6", 0, end)
    if length == 0xFFFFFFFF and 0 <= long_end <= len(tail) - 48:
        (length,) = struct.unpack_from("<Q", tail, long_end + 40)
    if length > MOST_LISTED:
        raise InputError(f"{file} lists {length:,} bytes of names, more than {MOST_LISTED:,}.", _COPY_AGAIN)


def _inside(archive: zipfile.ZipFile, name: str) -> bytes:
    info = archive.getinfo(name)
    if info.file_size > MOST_TOLD:
        raise ValueError(f"{name} claims {info.file_size:,} bytes")
    return archive.read(info)


def _merge(book: Logbook, archive: zipfile.ZipFile, told: Plain, file: Path) -> Imported:
    for jig in told["jigs"]:
        check_jig(jig)
    names: dict[str, str] = {}
    for one in told["runs"]:
        run, files = run_from_plain(one)
        check_run(run, files)
        names |= {each.sha256: each.name for each in files}
    _refuse_too_much(book, archive, told["files"], file)
    aside = book.folder / FOLDER / f"{uuid.uuid4().hex}{ASIDE}"
    try:
        return _merge_rows(book, told, _unpacked(book, archive, told["files"], names, aside, file))
    finally:
        shutil.rmtree(aside, ignore_errors=True)


def _refuse_too_much(book: Logbook, archive: zipfile.ZipFile, files: Sequence[Plain], file: Path) -> None:
    """Raise InputError, before anything is written, for more than an import takes or than the disk has room for."""
    sizes = [archive.getinfo(one["place"]).file_size for one in files]
    most = LIMITS["evidence"].most_bytes
    if len(archive.infolist()) > MOST_ENTRIES or sum(sizes) > MOST_TOTAL or max(sizes, default=0) > most:
        raise InputError(
            f"{file} would unpack to {sum(sizes):,} bytes in {len(sizes):,} files, the largest of "
            f"{max(sizes, default=0):,}. At most {MOST_TOTAL:,} bytes are taken, {most:,} a file.",
            "Is it the file that was exported? An archive of photos within these bounds can be imported.",
        )
    free = shutil.disk_usage(book.folder).free
    if sum(sizes) + ROOM_TO_SPARE > free:
        raise InputError(
            f"{file} unpacks to {sum(sizes):,} bytes, and the disk of {book.folder} has {free:,} free.",
            "Make room on the disk, or name a logbook on another one with --logbook.",
        )


@dataclass(frozen=True, slots=True)
class _Unpacked:
    """A file of the archive. aside: where it waits to be brought to its place; None when the book has it."""

    sha256: str
    size: int
    place: str
    aside: Path | None


def _unpacked(
    book: Logbook, archive: zipfile.ZipFile, files: Sequence[Plain], names: Mapping[str, str], aside: Path, file: Path
) -> dict[str, _Unpacked]:
    """Every file of the archive that the book lacks, unpacked aside, by the sha256 that runs know it by."""
    found: dict[str, _Unpacked] = {}
    for one in files:
        info, stored = archive.getinfo(one["place"]), str(one["stored_sha256"])
        known = book.place_of(stored)
        place = known or place_in_folder(stored, names[one["sha256"]])
        there = (book.folder / FOLDER / place).exists()
        digest = hashlib.sha256()
        pieces = _pieces(archive, info, digest)
        waiting = None if there else aside / f"{len(found)}{ASIDE}"
        if waiting is None:
            for _ in pieces:
                pass
        else:
            with trouble.told(book.file):
                put(waiting, pieces)
        if digest.hexdigest() != stored:
            raise InputError(f"{file}: {one['place']} is not the file that was exported.", _COPY_AGAIN)
        if there:
            refuse_changed(book.folder, place, stored)
        found[one["sha256"]] = _Unpacked(stored, info.file_size, place, waiting)
    return found


def _pieces(archive: zipfile.ZipFile, info: zipfile.ZipInfo, digest: Any) -> Iterator[bytes]:
    with archive.open(info) as opened:
        while piece := opened.read(PIECE):
            digest.update(piece)
            yield piece


def _merge_rows(book: Logbook, told: Plain, files: Mapping[str, _Unpacked]) -> Imported:
    stored = {sha256: (one.sha256, one.size, one.place) for sha256, one in files.items()}
    waiting = {one.place: one.aside for one in files.values() if one.aside is not None}
    with book.writing() as db:
        jigs, renamed = _merge_jigs(db, told["jigs"])
        new = 0
        for plain in told["runs"]:
            run, evidence = run_from_plain(plain)
            own = run_as_plain(run, evidence)
            if _is_new(db, "SELECT digest FROM run WHERE identity = ?", (run.identity,), own, f"run {run.identity}"):
                new += 1
                insert_run(db, own)
                for position, one in enumerate(evidence):
                    insert_file(db, run.identity, position, one, stored.get(one.sha256))
            _merge_afterwards(db, run.identity, plain)
        for row in stored.values():
            db.execute("INSERT INTO stored_file VALUES (?, ?, ?) ON CONFLICT DO NOTHING", row)
        for place, aside in waiting.items():  # files before rows: the transaction ends when all are in their places
            settle(aside, book.folder / FOLDER / place)
    return Imported(jigs, new, len(told["runs"]) - new, len(waiting), renamed)


def _merge_jigs(db: sqlite3.Connection, jigs: Sequence[Mapping[str, Any]]) -> tuple[int, tuple[tuple[str, str], ...]]:
    new, renamed = 0, []
    for jig in jigs:
        identity, name = str(jig["identity"]), str(jig["name"])
        if db.execute("SELECT 1 FROM jig WHERE identity = ?", (identity,)).fetchone():
            continue
        if db.execute("SELECT 1 FROM jig WHERE name = ?", (name,)).fetchone():
            renamed.append((name, f"{name} ({identity[:8]})"))
            name = renamed[-1][1]
        values = (identity, name, _moment(jig["added_at"]))
        db.execute("INSERT INTO jig (identity, name, added_at) VALUES (?, ?, ?)", values)
        new += 1
    for jig in jigs:
        identity = str(jig["identity"])
        for one in jig["versions"]:
            plain = version_as_plain(identity, version_from_plain(one))
            key = (identity, plain["recorded_at"])
            query = "SELECT digest FROM jig_version WHERE jig = ? AND recorded_at = ?"
            if _is_new(db, query, key, plain, f"the jig '{jig['name']}'"):
                db.execute("INSERT INTO jig_version VALUES (?, ?, ?, ?, ?)", (*plain.values(), digest_of(plain)))
        for use in jig["uses"]:
            values = (identity, _moment(use["recorded_at"]), str(int(use["retired"])))
            db.execute("INSERT INTO jig_use VALUES (?, ?, ?) ON CONFLICT DO NOTHING", values)
    return new, tuple(renamed)


def _merge_afterwards(db: sqlite3.Connection, run: str, plain: Mapping[str, Any]) -> None:
    """What was set after a run, and why it was struck out."""
    for one in plain["moves"]:
        check_move(move_from_plain(one))
        move = move_as_plain(run, move_from_plain(one))
        query = "SELECT digest FROM move_set WHERE run = ? AND recorded_at = ?"
        if _is_new(db, query, (run, move["recorded_at"]), move, f"a move after run {run}"):
            db.execute("INSERT INTO move_set VALUES (?, ?, ?, ?, ?, ?, ?, ?)", (*move.values(), digest_of(move)))
    for one in plain["struck"]:
        struck = struck_as_plain(run, struck_from_plain(one))
        query = "SELECT digest FROM struck WHERE run = ? AND recorded_at = ?"
        if _is_new(db, query, (run, struck["recorded_at"]), struck, f"why run {run} was struck out"):
            db.execute("INSERT INTO struck VALUES (?, ?, ?, ?)", (*struck.values(), digest_of(struck)))


def _is_new(db: sqlite3.Connection, query: str, key: tuple[str, ...], plain: Plain, what: str) -> bool:
    """Whether the book lacks the record. Raises InputError when it has it with another content."""
    row = db.execute(query, key).fetchone()
    if row is not None and row[0] != digest_of(plain):
        raise InputError(
            f"The logbook has {what} too, but with another content. Nothing was imported.",
            "Run cutvision log verify on both logbooks: one of them was changed after it was recorded.",
        )
    return row is None


def _moment(text: str) -> str:
    return time_text(datetime.fromisoformat(text).astimezone(UTC))
