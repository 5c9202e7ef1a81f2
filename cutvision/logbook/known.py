"""A jig in the logbook as a job takes it: its values, and its test pieces' corner from the jig that squares them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from cutvision.correction.jig_file import read_jig_file
from cutvision.jobs.jig import KnownJig
from cutvision.logbook.book import open_book
from cutvision.logbook.squared import squared_corner


@dataclass(frozen=True, slots=True)
class FoundJig:
    """told: a sentence on where the corner is from; empty when nobody asked for it, or no jig squares the pieces."""

    jig: KnownJig
    told: str = ""


def jig_in_book(folder: Path, name: str, *, corner_asked: bool = False) -> FoundJig:
    """The jig of this name, or with this identity. corner_asked: whether its test pieces' corner is wanted.

    Raises InputError when there is no book or no such jig, and when its text is wrong.
    """
    with open_book(folder) as book:
        jig = book.jig(name)
        squared = squared_corner(book, jig)
    wanted = squared is not None and corner_asked
    beside = {}
    if squared is not None and corner_asked and squared.corner_text:
        beside = {"corner": squared.corner_text, "corner-to": squared.within_text}
    return FoundJig(
        KnownJig(read_jig_file(jig.text, jig.name), name, jig.name, beside),
        squared.told if squared is not None and wanted else "",
    )
