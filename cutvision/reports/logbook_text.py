"""The logbook in words: runs in a list, one run, two beside each other, and what the book still asks for."""

from __future__ import annotations

from collections.abc import Sequence

from cutvision.logbook.book import Asked


def asked_words(asked: Sequence[Asked]) -> str:
    """What the book still asks for, in a sentence each; empty when it asks for nothing."""
    after = {"fastening": "The fence was fastened after run {0}", "move": "The fence was moved after run {0}"}
    return " ".join(
        f"{after[one.after].format(one.run)}: the logbook asks for a check cut, recorded with --check-of {one.run}."
        for one in asked
    )
