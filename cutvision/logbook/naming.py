"""Words that a person types to be kept: a jig's name, a note."""

from __future__ import annotations

from cutvision.errors import InputError

JIG_FILE_ENDING = ".toml"
LONGEST = 1000
LONGEST_NAME = 80


def words(text: str | None, option: str) -> str:
    """What was typed, for people; empty when nothing was. Raises InputError for signs a terminal would obey."""
    plain = " ".join((text or "").split())
    if len(plain) > LONGEST or not plain.isprintable():
        raise InputError(
            f"{option} is too long, or holds a sign that cannot be shown.",
            f"Use letters, figures and points, at most {LONGEST} of them.",
        )
    return plain


def name_of_jig(text: str) -> str:
    """A jig's name. Raises InputError for one that `--jig` would take for a file."""
    called = words(text, "The jig's name")
    if not called:
        raise InputError("The jig has no name.", "Type a word or two after `cutvision jig new`.")
    if "/" in called or "\\" in called or called.lower().endswith(JIG_FILE_ENDING) or len(called) > LONGEST_NAME:
        raise InputError(
            f"'{called}' is no name for a jig in the logbook: --jig would take it for a file.",
            f"Give it a word or two without slashes and without {JIG_FILE_ENDING} at the end.",
        )
    return called
