"""The logbook itself: one SQLite file and a folder of evidence. Every run is whole or not there."""

from __future__ import annotations

import contextlib
import json
import sqlite3
import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any, Literal, Self

from cutvision.errors import InputError
from cutvision.files import LOGBOOK_FILE, make_folder
from cutvision.logbook import shapes
from cutvision.logbook.acceptance import UNREADABLE, check_circumstances, check_headline, check_move, check_run
from cutvision.logbook.evidence import FOLDER, NewFile, keep, place_in_folder, sha256_of
from cutvision.logbook.migration import migrate, version_of
from cutvision.logbook.plain import (
    Plain,
    canonical,
    digest_of,
    inputs_from_plain,
    move_as_plain,
    move_from_plain,
    run_as_plain,
    struck_as_plain,
    time_text,
    version_as_plain,
)
from cutvision.logbook.records import (
    Conditions,
    EvidenceFile,
    Headline,
    JigRecord,
    JigVersion,
    MoveSet,
    NamedRun,
    NewRun,
    Run,
    Struck,
    UnreadRun,
)
from cutvision.logbook.trouble import told

FILE = LOGBOOK_FILE
SHORTEST_IDENTITY = 8  # of its characters; as many digits may be one too, and are no number
BUSY_SECONDS = 30.0
OLDEST_SQLITE = (3, 37, 0)
MOST_MISSING = 1 << 30
EMPTY_BYTES = 1  # SQLite takes a file of one byte for an empty one (its source, os_unix.c, unixFileSize)
_RUN_COLUMNS = (
    "run.number, run.identity, run.jig, jig.name, run.recorded_at, day, humidity, blade, stock, note, fence, check_of, "
    "program, error_deg, bound_deg, move_mm, turn, CASE WHEN json_valid(result) THEN action END, tolerance_deg, refused"
)
_WHOLE = "inputs, result"
# What lists, charts and the fence's gain take from a run: SQLite finds it ten times as fast as the whole is parsed.
_ABRIDGED_KEYS = ("angle_error", "positive_means", "fence_length")
_ABRIDGED_PLACES = ", ".join(f"'$.{inner}{key}'" for inner in ("correction.", "") for key in _ABRIDGED_KEYS)
_ABRIDGED = (
    "CASE WHEN json_valid(inputs) THEN json_extract(inputs, '$.command') END, "
    f"CASE WHEN json_valid(result) THEN json_extract(result, '$.schema', {_ABRIDGED_PLACES}) END"
)
_MOVE_COLUMNS = ("run", "recorded_at", "distance_mm", "turn", "fence", "note", "day", "digest")


@dataclass(frozen=True, slots=True)
class Asked:
    """A check cut that the book still asks for. run: the number of the run that was followed by `after`."""

    run: int
    after: Literal["move", "fastening"]


class Logbook:
    """An open logbook; closes itself at the end of a `with`. Every method raises InputError when the book fails.

    The journal is SQLite's own rollback journal, not its write-ahead log: that one needs memory shared between the
    programs, which a network folder does not give. `synchronous` is EXTRA: a run that was reported as recorded also
    outlasts a power cut just after.
    """

    def __init__(self, folder: Path, connection: sqlite3.Connection) -> None:
        self.folder = folder
        self.connection = connection

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.connection.close()

    @property
    def file(self) -> Path:
        """The SQLite file."""
        return self.folder / FILE

    @contextlib.contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """One transaction: all of it or nothing. Raises InputError when the book cannot be written."""
        with told(self.file):
            self.connection.execute("BEGIN IMMEDIATE")
            try:
                yield self.connection
                self.connection.execute("COMMIT")
            except BaseException:
                with contextlib.suppress(sqlite3.Error):
                    if self.connection.in_transaction:
                        self.connection.execute("ROLLBACK")
                raise

    # ---- jigs

    def add_jig(
        self, name: str, text: str, at: datetime, squared_by: str | None = None, identity: str | None = None
    ) -> JigRecord:
        """Set up a jig. squared_by: the identity of the jig that squares its test pieces.

        Raises InputError when a jig of this name is there.
        """
        identity = identity or str(uuid.uuid4())
        with self.writing() as db:
            if db.execute("SELECT 1 FROM jig WHERE name = ?", (name,)).fetchone():
                raise InputError(
                    f"The logbook has a jig '{name}' already.",
                    "Give the new one another name, or give the old one a new version: cutvision jig new --again.",
                )
            db.execute("INSERT INTO jig (identity, name, added_at) VALUES (?, ?, ?)", (identity, name, time_text(at)))
            _insert_version(db, identity, JigVersion(at, text, squared_by))
        return self.jig(name)

    def change_jig(self, name: str, text: str, at: datetime, squared_by: str | None = None) -> JigRecord:
        """Give a jig a new version; the earlier ones stay. Raises InputError for a jig that is not there."""
        jig = self.jig(name)
        with self.writing() as db:
            _insert_version(db, jig.identity, JigVersion(at, text, squared_by))
        return self.jig(name)

    def retire_jig(self, name: str, at: datetime, *, back: bool = False) -> JigRecord:
        """Take a jig out of use, or `back` into it; its runs stay. Raises InputError for a jig that is not there."""
        jig = self.jig(name)
        with self.writing() as db:
            db.execute("INSERT INTO jig_use VALUES (?, ?, ?)", (jig.identity, time_text(at), int(not back)))
        return self.jig(name)

    def jigs(self) -> tuple[JigRecord, ...]:
        """Every jig, in the order in which they were added."""
        with told(self.file), _rows_told(self.file):
            return self._read_jigs()

    def _read_jigs(self) -> tuple[JigRecord, ...]:
        rows = self.connection.execute("SELECT identity, name FROM jig ORDER BY number").fetchall()
        versions = self.connection.execute("SELECT * FROM jig_version ORDER BY recorded_at").fetchall()
        uses = self.connection.execute("SELECT * FROM jig_use ORDER BY recorded_at").fetchall()
        last = {jig: at if retired else None for jig, at, retired in uses}
        return tuple(
            JigRecord(
                identity,
                name,
                tuple(
                    JigVersion(datetime.fromisoformat(at), text, squared_by)
                    for jig, at, text, squared_by, _ in versions
                    if jig == identity
                ),
                None if last.get(identity) is None else datetime.fromisoformat(str(last[identity])),
            )
            for identity, name in rows
        )

    def jig(self, name: str) -> JigRecord:
        """The jig of this name, or with this identity. Raises InputError, naming the jigs there are."""
        jigs = self.jigs()
        found = next((jig for jig in jigs if name.lower() == jig.name.lower() or name == jig.identity), None)
        if found is None:
            names = ", ".join(jig.name for jig in jigs)
            raise InputError(
                f"The logbook {self.folder} has no jig '{name}'.",
                f"It has: {names}. " * bool(names) + "cutvision jig new sets one up.",
            )
        return found

    # ---- runs

    def record(self, run: NewRun, files: Sequence[NewFile] = ()) -> Run:
        """Record a run with its files; when this returns, it is on the disk. Files come first, then the rows.

        Raises InputError for a jig that is not there or is retired, for a run that cannot be checked by this one, and
        when anything cannot be written: then the run is not in the book. ValueError for a run that nobody could read.
        """
        self._refuse_retired(run.jig)
        kept = [_evidence_of(file) for file in files]
        check_run(run, kept)
        plain = run_as_plain(run, kept)
        with told(self.file):
            stored = [self._store(file) for file in files]
        with self.writing() as db:
            insert_run(db, plain)
            for position, (file, place) in enumerate(zip(kept, stored, strict=True)):
                insert_file(db, run.identity, position, file, place)
        return self.run(run.identity)

    def _store(self, file: NewFile) -> tuple[str, int, str] | None:
        """Put a file into the evidence folder: its sha256, size and place; None for one that is left where it is."""
        if file.left_at is not None:
            return None
        sha256 = sha256_of(file.data)
        place = self.place_of(sha256) or place_in_folder(sha256, file.name)
        keep(self.folder, place, file.data)
        return sha256, len(file.data), place

    def place_of(self, sha256: str) -> str | None:
        """Where these bytes lie in the evidence folder, under the ending they first had; None when they do not."""
        row = self.connection.execute("SELECT place FROM stored_file WHERE sha256 = ?", (sha256,)).fetchone()
        return None if row is None else str(row[0])

    def runs(self, jig: str | None = None, *, abridged: bool = False) -> tuple[Run, ...]:
        """Every run, or a jig's (by its name), oldest first. Raises InputError when any of them cannot be read."""
        return tuple(self._readable(run) for run in self.look_through(jig, abridged=abridged))

    def look_through(
        self, jig: str | None = None, *, abridged: bool = False, newest: int | None = None
    ) -> Iterator[Run | UnreadRun]:
        """Every run, or a jig's (by its name), oldest first and one by one, so that none but those kept take memory.

        newest: no more than so many, the last ones. Raises InputError when the book itself cannot be read on.
        """
        values: tuple[str, ...] = () if jig is None else (self.jig(jig).identity,)
        where = "WHERE run.jig = ?" if values else ""
        if newest is not None:
            order = f"{where} {'AND' if where else 'WHERE'} run.number IN (SELECT number FROM run {where} "
            where, values = f"{order}ORDER BY number DESC LIMIT ?)", (*values, *values, str(newest))
        with told(self.file):
            yield from self._look_through(where, values, abridged=abridged)

    def readable(self, jig: str) -> tuple[Run, ...]:
        """A jig's runs that can be read, abridged, oldest first."""
        return tuple(run for run in self.look_through(jig, abridged=True) if isinstance(run, Run))

    def run(self, which: int | str) -> Run:
        """The run of this number, or with this identity or its beginning.

        Raises InputError when there is none, and when it cannot be read.
        """
        (found,) = self._runs("WHERE run.number = ?", (self.named(which).number,))
        return found

    def named(self, which: int | str) -> NamedRun:
        """The names of the run that `run` would give, which can be read when the run cannot. Raises InputError."""
        said = str(which).strip()
        where, values = "WHERE run.number = ?", [said]
        if not said.isdecimal() or len(said) >= SHORTEST_IDENTITY:
            begins = said.lower() if len(said) >= SHORTEST_IDENTITY else "none"
            where, values = "WHERE run.identity >= ? AND run.identity < ?", [begins, f"{begins}~"]
        query = "SELECT run.number, run.identity, run.jig, jig.name FROM run JOIN jig ON jig.identity = run.jig"
        with told(self.file):
            found = self.connection.execute(f"{query} {where} LIMIT 2", values).fetchall()
        if len(found) != 1:
            raise InputError(
                f"The logbook {self.folder} has {'no run' if not found else 'several runs'} '{which}'.",
                "cutvision log list shows the runs with their numbers.",
            )
        return NamedRun(*found[0])

    def last_run(self, jig: str) -> Run | None:
        """A jig's last run that gave a correction, was not struck out, and can be read."""
        where = (
            "WHERE run.jig = ? AND error_deg IS NOT NULL AND NOT EXISTS (SELECT 1 FROM struck "
            "WHERE struck.run = run.identity) ORDER BY run.number DESC"
        )
        found = self._look_through(where, (self.jig(jig).identity,))
        with told(self.file):
            return next((run for run in found if isinstance(run, Run)), None)

    def checks_of(self, run: Run) -> tuple[Run, ...]:
        """The runs that check this one and were not struck out, oldest first."""
        return tuple(one for one in self._runs("WHERE check_of = ?", (run.identity,)) if one.struck is None)

    def files_of(self, run: NamedRun | Run) -> tuple[EvidenceFile, ...]:
        """The files that a run rests on, whether it was read whole or abridged."""
        with told(self.file):
            return tuple(EvidenceFile(*row) for row in self.connection.execute(_FILES_OF_RUN, (run.identity,)))

    def strikes_of(self, run: NamedRun | Run) -> tuple[Struck, ...]:
        """Each time that the run was struck out, in this book or another."""
        with told(self.file):
            rows = self.connection.execute(f"SELECT recorded_at, why {_OF_RUN.format('struck')}", (run.identity,))
            return tuple(Struck(datetime.fromisoformat(at), why) for at, why in rows)

    def set_move(self, which: int | str, move: MoveSet) -> Run:
        """Say what was really set after a run.

        Raises InputError when there is no such run, when it was struck out, and when its jig is retired.
        """
        run = self._unstruck(which)
        self._refuse_retired(run.jig)
        plain = move_as_plain(run.identity, move)
        with self.writing() as db:
            db.execute("INSERT INTO move_set VALUES (?, ?, ?, ?, ?, ?, ?, ?)", (*plain.values(), digest_of(plain)))
        return self.run(run.identity)

    def strike(self, which: int | str, why: str, at: datetime) -> NamedRun:
        """Strike out a wrong run, or one that cannot be read; it stays.

        Raises InputError without a reason, or when it was struck out before.
        """
        run = self._unstruck(which)
        if not why.strip():
            raise InputError("A run is struck out with a reason, and none is given.", "Say why: --why 'wrong piece'.")
        plain = struck_as_plain(run.identity, Struck(at, why))
        with self.writing() as db:
            db.execute("INSERT INTO struck VALUES (?, ?, ?, ?)", (*plain.values(), digest_of(plain)))
        return run

    def asked(self, jig: str) -> tuple[Asked, ...]:
        """The check cuts still asked for: after the jig's last fastening, and after the last move since.

        None of a retired jig, for which no cut is recorded.
        """
        known = self.jig(jig)
        if known.retired:
            return ()
        identity = known.identity
        asked: list[Asked] = []
        with told(self.file):
            for after, sought, check in _CHECKS:
                row = self.connection.execute(sought, {"jig": identity}).fetchone()
                if row is None or (asked and asked[0].run == row[0]):
                    continue
                if self.connection.execute(check, {"run": row[1], "at": row[2]}).fetchone() is None:
                    asked.append(Asked(row[0], after))
        return tuple(asked)

    def path_of(self, file: EvidenceFile) -> Path:
        """Where a run's file lies. A copy without its GPS position stands in when the original is not here."""
        if file.left_at is not None:
            return Path(file.left_at)
        with told(self.file):
            row = self.connection.execute(
                "SELECT place FROM stored_file WHERE sha256 = ? UNION ALL SELECT place FROM run_file "
                "JOIN stored_file ON stored_file.sha256 = run_file.stored WHERE run_file.sha256 = ? LIMIT 1",
                (file.sha256, file.sha256),
            ).fetchone()
        return self.folder / FOLDER / (place_in_folder(file.sha256, file.name) if row is None else str(row[0]))

    def _refuse_retired(self, which: str) -> None:
        jig = self.jig(which)
        if jig.retired:
            raise InputError(
                f"The jig '{jig.name}' is retired.",
                f"cutvision jig retire '{jig.name}' --back takes it into use again.",
            )

    def _unstruck(self, which: int | str) -> NamedRun:
        run = self.named(which)
        with told(self.file):
            row = self.connection.execute("SELECT why FROM struck WHERE run = ?", (run.identity,)).fetchone()
        if row is not None:
            raise InputError(
                f"Run {run.number} was struck out: {row[0]}", "Name a run that stands; cutvision log list shows them."
            )
        return run

    def _runs(self, where: str, values: Sequence[object]) -> tuple[Run, ...]:
        with told(self.file):
            return tuple(self._readable(run) for run in self._look_through(where, values))

    def _readable(self, run: Run | UnreadRun) -> Run:
        if isinstance(run, UnreadRun):
            raise InputError(
                f"The logbook {self.file} holds a row that cannot be read: run {run.number} ({run.why}).",
                f"Compare it with a backup or an export; cutvision log strike {run.number} takes it out of the count.",
            )
        return run

    def _look_through(
        self, where: str, values: Sequence[object], *, abridged: bool = False
    ) -> Iterator[Run | UnreadRun]:
        db = self.connection
        rows = db.execute(
            f"SELECT {_RUN_COLUMNS}, {_ABRIDGED if abridged else _WHOLE} FROM run JOIN jig ON jig.identity = run.jig "
            f"{where}{'' if where.endswith('DESC') else ' ORDER BY run.number'}",
            values,
        )
        for row in rows:
            names = (row[1],)
            struck = db.execute(f"SELECT recorded_at, why {_OF_RUN.format('struck')}", names).fetchone()
            moves = db.execute(f"SELECT * {_OF_RUN.format('move_set')}", names).fetchall()
            files = [] if abridged else db.execute(_FILES_OF_RUN, names).fetchall()
            try:
                yield _run_of(row, files, moves, struck, abridged=abridged)
            except UNREADABLE as error:
                yield UnreadRun(row[0], _why(error), struck is not None)


def _why(error: Exception) -> str:
    """The reason in words; what Python says of rubbish tells nobody anything."""
    if isinstance(error, KeyError):
        return f"{error.args[0]} is missing"
    told = isinstance(error, ValueError) and not isinstance(error, json.JSONDecodeError)
    return str(error) if told else "its text is damaged"


_OF_RUN = "FROM {} WHERE run = ? ORDER BY recorded_at"
_FILES_OF_RUN = "SELECT sha256, name, kind, size, left_at FROM run_file WHERE run = ? ORDER BY position"
Row = Sequence[Any]


def _run_of(row: Row, files: Sequence[Row], moves: Sequence[Row], struck: Row | None, *, abridged: bool) -> Run:
    """The run, looked at whole. Raises one of UNREADABLE when anything in it is not as it is written."""
    inputs, result = (json.loads(text) for text in row[20:22])
    if abridged:
        schema, *found = result
        inner, outer = (dict(zip(_ABRIDGED_KEYS, one, strict=True)) for one in (found[:3], found[3:]))
        has_one = any(value is not None for value in inner.values())
        result = {"schema": schema, **outer, "correction": inner if has_one else None}
        inputs = {"command": inputs, "values": []}
    run = Run(
        number=row[0],
        identity=row[1],
        jig=row[2],
        jig_name=row[3],
        recorded_at=datetime.fromisoformat(row[4]),
        conditions=Conditions(date.fromisoformat(row[5]), *row[6:11]),
        check_of=row[11],
        program=row[12],
        headline=Headline(*row[13:20]),
        inputs=inputs_from_plain(inputs),
        result_text=canonical(result) if abridged else row[21],
        evidence=tuple(EvidenceFile(*file) for file in files),
        moves=tuple(move_from_plain(dict(zip(_MOVE_COLUMNS, move, strict=True))) for move in moves),
        struck=None if struck is None else Struck(datetime.fromisoformat(struck[0]), struck[1]),
        abridged=abridged,
    )
    check_headline(run.headline)
    for move in run.moves:
        check_move(move)
    if abridged:
        check_circumstances(run)
        shapes.abridged_result(result)
    else:
        check_run(run, run.evidence)
    return run


@contextlib.contextmanager
def _rows_told(file: Path) -> Iterator[None]:
    """Turn a row whose content is not what was written there into words. Raises InputError."""
    try:
        yield
    except UNREADABLE as error:
        raise InputError(
            f"The logbook {file} holds a row that cannot be read ({type(error).__name__}: {error}).",
            "Run cutvision log verify, which names it; then compare with a backup or an export.",
        ) from error


_STANDS = "NOT EXISTS (SELECT 1 FROM struck WHERE struck.run = r.identity)"
_MOVES = "FROM move_set AS m JOIN run AS r ON r.identity = m.run WHERE r.jig = :jig AND"
# A run with the fence fastened is a fastening when it was not held so before; one that finds it so is a recheck. A move
# that does not say how the fence is held afterwards has loosened it.
_LAST_FASTENING = (
    "SELECT number, identity, at FROM (SELECT *, LAG(fence) OVER (ORDER BY at, number) AS before FROM ("
    "SELECT r.number, r.identity, r.recorded_at AS at, r.fence, r.check_of, 0 AS move FROM run AS r "
    f"WHERE r.jig = :jig AND r.fence IS NOT NULL AND {_STANDS} UNION ALL "
    f"SELECT r.number, r.identity, m.recorded_at, COALESCE(m.fence, ''), NULL, 1 {_MOVES} {_STANDS})) "
    "WHERE fence = 'fastened' AND check_of IS NULL AND (move OR before IS NOT 'fastened') "
    "ORDER BY at DESC, number DESC LIMIT 1"
)
_LAST_MOVE = (
    f"SELECT r.number, r.identity, m.recorded_at {_MOVES} {_STANDS} ORDER BY m.recorded_at DESC, r.number DESC LIMIT 1"
)
# a refused photo shows nothing, and so checks nothing
_CHECK = f"SELECT 1 FROM run AS r WHERE r.check_of = :run AND r.recorded_at >= :at AND r.refused IS NULL AND {_STANDS}"
_CHECKS: tuple[tuple[Literal["fastening", "move"], str, str], ...] = (
    ("fastening", _LAST_FASTENING, f"{_CHECK} AND (r.fence IS NULL OR r.fence = 'fastened')"),
    ("move", _LAST_MOVE, _CHECK),
)


def open_book(folder: Path, *, create: bool = False) -> Logbook:
    """Open the book in this folder; with `create`, begin one when there is none.

    Raises InputError when there is none, when it is damaged, from a newer program, or cannot be read.
    """
    file = folder / FILE
    with told(file):
        there = file.exists() and file.stat().st_size > EMPTY_BYTES
        if not there:
            _refuse_to_begin(folder, create=create)
        if sqlite3.sqlite_version_info < OLDEST_SQLITE:
            raise InputError(
                f"The SQLite in this Python is {sqlite3.sqlite_version}, too old for the logbook.",
                "Use a Python with SQLite 3.37 or newer.",
            )
        if create:
            make_folder(folder)
        connection = sqlite3.connect(file, timeout=BUSY_SECONDS, isolation_level=None)
        try:
            if version_of(connection, file) == 0:
                _refuse_to_begin(folder, create=create)
            for setting in ("foreign_keys = ON", "recursive_triggers = ON", "synchronous = EXTRA"):
                connection.execute(f"PRAGMA {setting}")
            migrate(connection, file)
        except BaseException:
            connection.close()
            raise
    return Logbook(folder, connection)


def _refuse_to_begin(folder: Path, *, create: bool) -> None:
    """Raise InputError where a book without tables must not be begun: unasked, or beside a lost one's evidence."""
    file = folder / FILE
    if any((folder / FOLDER).glob("*/*")):
        raise InputError(
            f"{file} is {'empty' if file.exists() else 'not there'}, but the evidence folder beside it holds "
            "files: a book was here.",
            "Put the file back from a backup before you go on; a new book in its place would hide the loss.",
        )
    if not create:
        raise InputError(
            f"There is no logbook in {folder} yet.",
            "Set up a jig first: cutvision jig new. Or name another folder with --logbook.",
        )


def open_remains(folder: Path) -> Logbook | None:
    """A book whose file was cut short, to read what is left of it; None when it was not, or nothing can be read.

    SQLite opens no file that is shorter than its header says; here a copy in memory is filled up with empty pages.
    """
    file = folder / FILE
    with told(file):
        data = file.read_bytes() if file.is_file() else b""
        size, pages = int.from_bytes(data[16:18], "big"), int.from_bytes(data[28:32], "big")
        missing = (65536 if size == 1 else size) * pages - len(data)
        if not data.startswith(b"SQLite format 3\0") or not 0 < missing < MOST_MISSING:
            return None
        connection = sqlite3.connect(":memory:", isolation_level=None)
        try:
            connection.deserialize(data + bytes(missing))
            version_of(connection, file)
            connection.execute("PRAGMA query_only = ON")
        except sqlite3.Error:
            connection.close()
            return None
    return Logbook(folder, connection)


def _evidence_of(file: NewFile) -> EvidenceFile:
    return EvidenceFile(sha256_of(file.data), file.name, file.kind, len(file.data), file.left_at)


def _insert_version(db: sqlite3.Connection, jig: str, version: JigVersion) -> None:
    plain = version_as_plain(jig, version)
    db.execute("INSERT INTO jig_version VALUES (?, ?, ?, ?, ?)", (*plain.values(), digest_of(plain)))


def insert_run(db: sqlite3.Connection, plain: Plain) -> None:
    """Add a run, in a transaction. Raises InputError when the run that it checks is not there or is another jig's."""
    checked = plain["check_of"]
    if checked is not None:
        row = db.execute("SELECT jig FROM run WHERE identity = ?", (checked,)).fetchone()
        if row is None or row[0] != plain["jig"]:
            raise InputError(
                "--check-of names a run that is not there, or is another jig's.",
                "cutvision log list --jig NAME shows the jig's runs with their numbers.",
            )
    names = (
        "identity",
        "jig",
        "recorded_at",
        "day",
        "humidity",
        "blade",
        "stock",
        "note",
        "fence",
        "check_of",
        "program",
    )
    values = [plain[name] for name in names]
    texts = (digest_of(plain), canonical(plain["inputs"]), canonical(plain["result"]))
    db.execute(
        f"INSERT INTO run ({', '.join(names)}, digest, inputs, result) VALUES ({', '.join('?' * 14)})",
        (*values, *texts),
    )


def insert_file(
    db: sqlite3.Connection, run: str, position: int, file: EvidenceFile, stored: tuple[str, int, str] | None
) -> None:
    """Name a run's file, and where its bytes lie: their sha256, size and place; None when they are not in the book."""
    if stored is not None:
        db.execute("INSERT INTO stored_file VALUES (?, ?, ?) ON CONFLICT DO NOTHING", stored)
    row = (run, position, file.sha256, file.name, file.kind, file.size, stored and stored[0], file.left_at)
    db.execute("INSERT INTO run_file VALUES (?, ?, ?, ?, ?, ?, ?, ?)", row)
