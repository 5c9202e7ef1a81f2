"""The whole book as one zip file, and such a file merged into a book: by identity, without loss."""

from __future__ import annotations

import json
import os
import sqlite3
import zipfile
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from cutvision.errors import InputError
from cutvision.files import NotReadError, opened_to_read, read_bounded, writing_output
from cutvision.logbook import trouble
from cutvision.logbook.acceptance import check_jig, check_move, check_run
from cutvision.logbook.book import Logbook, insert_file, insert_run
from cutvision.logbook.evidence import FOLDER, is_as_recorded, keep, place_in_folder, sha256_of
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
from cutvision.logbook.position import without_position
from cutvision.logbook.records import EvidenceFile, Run

SCHEMA = "cutvision/logbook/1"
LOGBOOK, README = "logbook.json", "README.txt"
MOST_BYTES = 2_000_000_000  # of one file inside: a damaged or hostile archive may claim any size

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

Where stored_sha256 differs from sha256, the GPS position was taken out of the copy, pixels untouched.
"""


@dataclass(frozen=True, slots=True)
class Exported:
    """What went into an archive. left_out: each file that did not, and why. blanked: photos without their position."""

    jigs: int
    runs: int
    files: int
    blanked: int
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
    told = _book_as_plain(book, runs, program)
    left_out: list[Plain] = []
    places: set[str] = set()
    with (
        writing_output(out, "archive", protected=(book.folder,)) as handle,
        os.fdopen(handle, "w+b", closefd=False) as opened,
        zipfile.ZipFile(opened, "w", zipfile.ZIP_DEFLATED) as archive,
    ):
        archive.writestr(_entry(README), EXPLANATION)
        for jig, table in tables.items():
            archive.writestr(_entry(f"runs/{jig}.csv"), table)
        for file in {file.sha256: file for run in runs for file in run.evidence}.values():
            data, why = _file_for_export(book, file, with_gps=with_gps)
            if data is None:
                left_out.append({"sha256": file.sha256, "name": file.name, "why": why})
                continue
            stored = sha256_of(data)
            place = f"{FOLDER}/{place_in_folder(stored, file.name)}"
            told["files"].append({"sha256": file.sha256, "stored_sha256": stored, "place": place})
            if place not in places:
                places.add(place)
                archive.writestr(zipfile.ZipInfo(place), data)
        told["left_out"] = left_out
        archive.writestr(_entry(LOGBOOK), json.dumps(told, indent=1, allow_nan=False))
    blanked = sum(one["sha256"] != one["stored_sha256"] for one in told["files"])
    words = tuple(f"{one['name']} ({one['sha256'][:12]}): {one['why']}" for one in left_out)
    return Exported(len(told["jigs"]), len(told["runs"]), len(told["files"]), blanked, words)


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
        with opened_to_read(file, "archive") as opened, zipfile.ZipFile(opened) as archive:
            told = _told(archive, file)
            return _merge(book, archive, told, file)
    except (zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        raise InputError(f"{file} is damaged or no zip file: {error}.", _COPY_AGAIN) from error
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as error:
        raise InputError(
            f"{file} does not hold what a logbook's export holds ({type(error).__name__}: {error}).", _COPY_AGAIN
        ) from error
    except OSError as error:
        raise InputError(f"{file} cannot be read: {error.strerror or error}.", "Check its name and folder.") from error


_COPY_AGAIN = "Copy it again from where it was exported, or export it again. The logbook was not changed."


def _book_as_plain(book: Logbook, runs: Sequence[Run], program: str) -> Plain:
    db = book.connection
    added = dict(db.execute("SELECT identity, added_at FROM jig"))
    uses: dict[str, list[Plain]] = {}
    for jig, at, retired in db.execute("SELECT jig, recorded_at, retired FROM jig_use ORDER BY recorded_at"):
        uses.setdefault(jig, []).append({"recorded_at": at, "retired": bool(retired)})
    struck: dict[str, list[Plain]] = {}
    for run, at, why in db.execute("SELECT run, recorded_at, why FROM struck ORDER BY recorded_at"):
        struck.setdefault(run, []).append({"run": run, "recorded_at": at, "why": why})
    return {
        "schema": SCHEMA,
        "program": program,
        "jigs": [
            {
                "identity": jig.identity,
                "name": jig.name,
                "added_at": added[jig.identity],
                "versions": [version_as_plain(jig.identity, version) for version in jig.versions],
                "uses": uses.get(jig.identity, []),
            }
            for jig in book.jigs()
        ],
        "runs": [
            {
                **run_as_plain(run, run.evidence),
                "moves": [move_as_plain(run.identity, move) for move in run.moves],
                "struck": struck.get(run.identity, []),
            }
            for run in runs
        ],
        "files": [],
        "left_out": [],
    }


def _file_for_export(book: Logbook, file: EvidenceFile, *, with_gps: bool) -> tuple[bytes | None, str]:
    """The file's bytes as they may leave the book; or nothing, and why."""
    path = book.path_of(file)
    try:
        data = read_bounded(path, "evidence")
    except NotReadError as error:
        return None, f"it cannot be read: {error.why}"
    if not is_as_recorded(data, file, path):
        return None, "it was changed after it was recorded"
    if with_gps or file.kind != "photo":
        return data, ""
    blanked = without_position(data)
    return blanked, "" if blanked is not None else "it may hold a GPS position that cannot be taken out; add --with-gps"


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


def _inside(archive: zipfile.ZipFile, name: str) -> bytes:
    info = archive.getinfo(name)
    if info.file_size > MOST_BYTES:
        raise ValueError(f"{name} claims {info.file_size} bytes")
    return archive.read(info)


def _merge(book: Logbook, archive: zipfile.ZipFile, told: Plain, file: Path) -> Imported:
    runs = [(one, *run_from_plain(one)) for one in told["runs"]]
    for jig in told["jigs"]:
        check_jig(jig)
    for _, run, files in runs:
        check_run(run, files)
    names = {one.sha256: one.name for _, _, files in runs for one in files}
    stored: dict[str, tuple[str, int, str]] = {}
    new_files = 0
    for one in told["files"]:
        data = _inside(archive, one["place"])
        sha256 = sha256_of(data)
        if sha256 != one["stored_sha256"]:
            raise InputError(f"{file}: {one['place']} is not the file that was exported.", _COPY_AGAIN)
        known = book.place_of(sha256)
        new_files += known is None
        place = known or place_in_folder(sha256, names[one["sha256"]])
        with trouble.told(book.file):
            keep(book.folder, place, data)
        stored[one["sha256"]] = (sha256, len(data), place)
    with book.writing() as db:
        jigs, renamed = _merge_jigs(db, told["jigs"])
        new = 0
        for plain, run, files in runs:
            own = run_as_plain(run, files)
            if _is_new(db, "SELECT digest FROM run WHERE identity = ?", (run.identity,), own, f"run {run.identity}"):
                new += 1
                insert_run(db, own)
                for position, one in enumerate(files):
                    insert_file(db, run.identity, position, one, stored.get(one.sha256))
            _merge_afterwards(db, run.identity, plain)
        for row in stored.values():
            db.execute("INSERT INTO stored_file VALUES (?, ?, ?) ON CONFLICT DO NOTHING", row)
    return Imported(jigs, new, len(runs) - new, new_files, renamed)


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
