"""The jig that `--jig` names: a file, or a jig in the logbook."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from cutvision.cli.output import tell
from cutvision.errors import InputError
from cutvision.files import read_bounded
from cutvision.logbook.naming import JIG_FILE_ENDING
from cutvision.reports.columns import wrap

if TYPE_CHECKING:
    from cutvision.jobs.jig import KnownJig


def names_a_file(value: str) -> bool:
    """Whether `--jig` names a file: it has a slash, ends in .toml, or is there; else it is a name in the logbook."""
    return "/" in value or "\\" in value or value.lower().endswith(JIG_FILE_ENDING) or _is_file(value)


def known_jig(value: str, logbook: Path | None, *, corner_asked: bool = False) -> KnownJig:
    """The jig in a file or in the logbook.

    corner_asked: whether the corner of its test pieces is wanted from the jig that squares them. Raises InputError when
    there is none, when it cannot be read, and when its text is wrong.
    """
    from cutvision.correction.jig_file import read_jig_file
    from cutvision.jobs.jig import KnownJig

    if names_a_file(value):
        return KnownJig(read_jig_file(read_text(Path(value)), value), value)
    from cutvision.logbook.known import jig_in_book
    from cutvision.logbook.place import place_of_book

    try:
        found = jig_in_book(place_of_book(logbook), value, corner_asked=corner_asked)
    except InputError as problem:
        example = f"{value or 'sled'}{JIG_FILE_ENDING}"
        problem.remedy += f" A jig's file is named with its ending, such as {example}; cutvision jig new writes one."
        raise
    if found.told:
        tell(wrap(found.told))
    return found.jig


def _is_file(value: str) -> bool:
    try:
        return Path(value).is_file()
    except OSError:  # a name too long for a file
        return False


def read_text(path: Path) -> str:
    """A small text file. Raises InputError when it cannot be read, is too large, or is not UTF-8."""
    data = read_bounded(path, "jig")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InputError(
            f"{path}, line {line}: the text is not UTF-8.", "Save the file as UTF-8, or write that line again."
        ) from error
