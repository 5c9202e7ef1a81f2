"""Text for a terminal of 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

COLUMNS = 80


def wrap(text: str, first: str = "", rest: str | None = None) -> str:
    """A paragraph: `first` before its first line, `rest` before the others (by default as much blank)."""
    return textwrap.fill(
        text,
        COLUMNS,
        initial_indent=first,
        subsequent_indent=" " * len(first) if rest is None else rest,
        break_long_words=False,
        break_on_hyphens=False,
    )


def one_line(text: str) -> str:
    """A stranger's text, such as a file's name, on one line: "?" for signs that break, hide or turn a line."""
    return text if text.isprintable() else "".join(sign if sign.isprintable() else "?" for sign in text)


def bullets(title: str, lines: Sequence[str]) -> str:
    """A titled list; empty when there is nothing to list."""
    return "\n".join([title, *(wrap(line, "- ") for line in lines)]) if lines else ""
