"""The jig that `--jig` names: a file, or a jig in the logbook."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from cutvision.cli.output import tell
from cutvision.errors import InputError
from cutvision.files import read_bounded
from cutvision.reports.columns import wrap

if TYPE_CHECKING:
    from cutvision.jobs.jig import KnownJig

ENDING = ".toml"


def names_a_file(value: str) -> bool:
    """Whether `--jig` names a file: it has a slash, ends in .toml, or is there; else it is a name in the logbook."""
    return "/" in value or "\\" in value or value.lower().endswith(ENDING) or _is_file(value)


def known_jig(value: str, logbook: Path | None, *, corner_asked: bool = False) -> KnownJig:
    """The jig in a file or in the logbook.

    corner_asked: whether the corner of its test pieces is wanted from the jig that squares them. Raises InputError when
    there is none, when it cannot be read, and when its text is wrong.
    """
    from cutvision.correction.jig_file import read_jig_file
    from cutvision.jobs.jig import KnownJig

    if names_a_file(value):
        return KnownJig(read_jig_file(read_text(Path(value)), value), value)
    from cutvision.logbook.book import open_book
    from cutvision.logbook.place import place_of_book
    from cutvision.logbook.squared import squared_corner

    try:
        with open_book(place_of_book(logbook)) as book:
            jig = book.jig(value)
            squared = squared_corner(book, jig)
    except InputError as problem:
        example = f"{value or 'sled'}{ENDING}"
        problem.remedy += f" A jig's file is named with its ending, such as {example}; cutvision jig new writes one."
        raise
    beside = {}
    if squared is not None and corner_asked:
        tell(wrap(squared.told))
        if squared.corner_text:
            beside = {"corner": squared.corner_text, "corner-to": squared.within_text}
    return KnownJig(read_jig_file(jig.text, value), value, jig.name, beside)


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
