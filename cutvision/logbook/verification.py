"""Is everything in the book as it was recorded? What is wrong is named; nothing is mended."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self

from cutvision.errors import InputError
from cutvision.files import ASIDE, NotReadError, read_bounded
from cutvision.logbook.book import Logbook
from cutvision.logbook.evidence import FOLDER, sha256_of
from cutvision.logbook.migration import fresh_tables, tables_of
from cutvision.logbook.plain import digest_of, move_as_plain, run_as_plain, struck_as_plain, version_as_plain
from cutvision.logbook.records import JigRecord, Run, UnreadRun

_BACKUP = "Put it back from a backup or an export; the rest of the book is not touched by it."
_WHOLE_BACKUP = (
    "Copy the whole folder somewhere safe, then write what can still be read with cutvision log export, and compare it "
    "with a backup."
)
_UNREAD_RUN = (
    "Copy the whole folder somewhere safe and compare the run with a backup or an export; the other runs are read. "
    "cutvision log strike {} takes it out of the count."
)
_CHANGED = "Compare it with a backup or an export; cutvision log strike takes the run out of the count."
_UNREADABLE = (InputError, sqlite3.Error, ValueError, KeyError, TypeError)


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that is not as it was recorded, and what to do. harmless: nothing recorded is touched by it."""

    what: str
    remedy: str
    harmless: bool = False


@dataclass(frozen=True, slots=True)
class Salvaged:
    """Runs that can be read, and what was said of those that cannot."""

    runs: tuple[Run, ...]
    lost: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Verified:
    """What was looked at, and what was found. sound: nothing that was recorded is missing or changed."""

    jigs: int
    runs: int
    files: int
    findings: tuple[Finding, ...]

    @property
    def sound(self) -> bool:
        return all(finding.harmless for finding in self.findings)


def salvage(
    book: Logbook,
    jig: str | None = None,
    *,
    abridged: bool = False,
    newest: int | None = None,
    check: Callable[[Run], object] | None = None,
) -> Salvaged:
    """Every run, or a jig's (by its name), that can be read, oldest first; newest: no more than so many, the last ones.

    check: raises InputError for a run that whoever asks cannot read. One that was struck out and cannot be read is
    missed by nobody, and not named.
    """
    identity = None if jig is None else book.jig(jig).identity
    runs: list[Run] = []
    lost: list[Finding] = []
    for one in _every(book, identity, abridged=abridged, newest=newest):
        read = one if check is None or isinstance(one, UnreadRun) else _checked(one, check)
        if isinstance(read, Run):
            runs.append(read)
        elif not read.struck:
            lost.append(_unread(read))
    return Salvaged(tuple(runs if newest is None else runs[-newest:]), tuple(lost))


def _every(
    book: Logbook, jig: str | None = None, *, abridged: bool = False, newest: int | None = None
) -> Iterator[Run | UnreadRun]:
    """Every run in one sweep; where the book is damaged so that it ends, the rest by their numbers."""
    seen: set[int] = set()
    try:
        for one in book.look_through(jig, abridged=abridged, newest=newest):
            seen.add(one.number)
            yield one
    except _UNREADABLE:
        pass
    else:
        return
    numbers = [number for number in _numbers(book) if number not in seen]
    for number in numbers:
        try:
            run = book.run(number)
        except _UNREADABLE as error:
            yield UnreadRun(number, _words(error))
        else:
            if jig in {None, run.jig}:
                yield run
    if not seen and not numbers:
        yield UnreadRun(0, "the table of runs")


def _checked(run: Run, check: Callable[[Run], object]) -> Run | UnreadRun:
    try:
        check(run)
    except InputError as error:
        return UnreadRun(run.number, error.message, run.struck is not None)
    return run


def _unread(run: UnreadRun) -> Finding:
    if not run.number:
        return Finding("The table of runs cannot be read.", _WHOLE_BACKUP)
    return Finding(f"Run {run.number} cannot be read: {run.why}", _UNREAD_RUN.format(run.number))


def verify(book: Logbook) -> Verified:
    """Every table, row and file looked at; one that cannot be read is named and the others are still looked at."""
    try:
        jigs: tuple[JigRecord, ...] = book.jigs()
        unread: tuple[Finding, ...] = ()
    except _UNREADABLE as error:
        jigs, unread = (), (Finding(f"The jigs cannot be read: {_words(error)}", _WHOLE_BACKUP),)
    files = _rows(book, "SELECT sha256, size, place FROM stored_file")
    digests = _Digests.of(book)
    runs, of_runs = 0, []
    for one in _every(book):
        runs += isinstance(one, Run)
        of_runs += [_unread(one)] if isinstance(one, UnreadRun) else [*digests.of_run(one), *_left(book, digests, one)]
    findings = (
        *_tables(book),
        *unread,
        *of_runs,
        *digests.of_jigs(jigs),
        *(finding for row in files for finding in _stored(book, *row)),
        *_strays(book, {str(row[2]) for row in files}),
    )
    return Verified(len(jigs), runs, len(files), findings)


def _words(error: Exception) -> str:
    return error.message if isinstance(error, InputError) else f"{type(error).__name__} {error}"


def _rows(book: Logbook, query: str) -> list[tuple[Any, ...]]:
    """What can be read of a query's rows, in the order in which they come; integrity_check speaks of the others."""
    rows: list[tuple[Any, ...]] = []
    with contextlib.suppress(sqlite3.Error):
        rows.extend(book.connection.execute(query))
    return rows


def _numbers(book: Logbook) -> range:
    """Every number that a run can have, by the table or by its index, whichever can be read further."""
    queries = [f"SELECT {what} FROM {place}" for what in ("number", "max(number)") for place in _PLACES_OF_NUMBERS]
    return range(1, max((row[0] or 0 for query in queries for row in _rows(book, query)), default=0) + 1)


_PLACES_OF_NUMBERS = ("run NOT INDEXED", "run INDEXED BY run_of_jig")


def _tables(book: Logbook) -> Iterator[Finding]:
    try:
        told = [str(row[0]) for row in book.connection.execute("PRAGMA integrity_check(20)") if row[0] != "ok"]
        told += [
            f"a row of {row[0]} names one of {row[2]} that is not there"
            for row in _rows(book, "PRAGMA foreign_key_check")
        ]
        if tables_of(book.connection) != fresh_tables():
            told.append("its tables or their guards against overwriting are not those that cutvision makes")
    except sqlite3.Error as error:
        told = [str(error)]
    for text in told:
        yield Finding(f"The file {book.file} is damaged: {' '.join(text.split())}", _WHOLE_BACKUP)


@dataclass(frozen=True, slots=True)
class _Digests:
    """The digest that was taken of each row when it was recorded, by the row's key; files that an export left out."""

    versions: Mapping[tuple[str, str], str]
    runs: Mapping[str, str]
    moves: Mapping[tuple[str, str], str]
    struck: Mapping[tuple[str, str], str]
    missing: frozenset[tuple[str, str]]

    @classmethod
    def of(cls, book: Logbook) -> Self:
        """What can be read of them."""
        return cls(
            {(row[0], row[1]): row[2] for row in _rows(book, "SELECT jig, recorded_at, digest FROM jig_version")},
            dict(_rows(book, "SELECT identity, digest FROM run")),
            {(row[0], row[1]): row[2] for row in _rows(book, "SELECT run, recorded_at, digest FROM move_set")},
            {(row[0], row[1]): row[2] for row in _rows(book, "SELECT run, recorded_at, digest FROM struck")},
            frozenset(_rows(book, "SELECT run, sha256 FROM run_file WHERE stored IS NULL AND left_at IS NULL")),
        )

    def of_jigs(self, jigs: Iterable[JigRecord]) -> Iterator[Finding]:
        """Each jig's versions against their digests."""
        for jig in jigs:
            if not jig.versions:
                yield Finding(f"The jig '{jig.name}' has no version: what it was is lost.", _BACKUP)
            for plain in (version_as_plain(jig.identity, version) for version in jig.versions):
                digest = self.versions.get((jig.identity, plain["recorded_at"]))
                yield from _compared(plain, digest, f"The jig '{jig.name}'")

    def of_run(self, run: Run) -> Iterator[Finding]:
        """A run, its moves and why it was struck out against their digests."""
        yield from _compared(run_as_plain(run, run.evidence), self.runs.get(run.identity), f"Run {run.number}")
        for plain in (move_as_plain(run.identity, move) for move in run.moves):
            digest = self.moves.get((run.identity, plain["recorded_at"]))
            yield from _compared(plain, digest, f"The move set after run {run.number}")
        if run.struck is not None:
            plain = struck_as_plain(run.identity, run.struck)
            digest = self.struck.get((run.identity, plain["recorded_at"]))
            yield from _compared(plain, digest, f"The reason for which run {run.number} was struck out")


def _compared(plain: Mapping[str, Any], digest: str | None, what: str) -> Iterator[Finding]:
    if digest_of(plain) != digest:
        yield Finding(f"{what} was changed after it was recorded.", _CHANGED)


def _stored(book: Logbook, sha256: str, size: int, place: str) -> Iterator[Finding]:
    path = book.folder / FOLDER / place
    yield from _looked_at(path, sha256, f"The evidence file {path}", size)


def _left(book: Logbook, digests: _Digests, run: Run) -> Iterator[Finding]:
    """Files that are not stored: left in their place, or out of an export."""
    for file in run.evidence:
        if file.left_at is not None:
            what = f"{file.left_at}, left in its place by run {run.number},"
            yield from _looked_at(Path(file.left_at), file.sha256, what, follow_links=True)
        elif (run.identity, file.sha256) in digests.missing and not book.path_of(file).exists():
            yield Finding(
                f"{file.name} of run {run.number} is not in this logbook: the imported export left it out.",
                "Import an export that holds it, such as one made with --with-gps.",
                harmless=True,
            )


def _looked_at(
    path: Path, sha256: str, what: str, size: int | None = None, *, follow_links: bool = False
) -> Iterator[Finding]:
    if not path.exists():
        yield Finding(f"{what} is missing.", _BACKUP)
        return
    try:
        data = read_bounded(path, "evidence", follow_links=follow_links)
    except NotReadError as error:
        yield Finding(f"{what} cannot be read: {error.why}.", "See that it is a plain file which you may read.")
    else:
        if sha256_of(data) != sha256:
            short = f" It holds {len(data)} bytes of {size}." if size not in {None, len(data)} else ""
            yield Finding(f"{what} was changed after it was recorded.{short}", _BACKUP)


def _strays(book: Logbook, places: set[str]) -> Iterator[Finding]:
    folder = book.folder / FOLDER
    for path in sorted(folder.glob("*/*")):
        if path.relative_to(folder).as_posix() not in places:
            why = "was not written to its end" if path.suffix == ASIDE else "belongs to no run"
            yield Finding(
                f"{path} {why}: left behind by a recording that was broken off.", "It may be deleted.", harmless=True
            )
