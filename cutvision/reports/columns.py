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


def bullets(title: str, lines: Sequence[str]) -> str:
    """A titled list; empty when there is nothing to list."""
    return "\n".join([title, *(wrap(line, "- ") for line in lines)]) if lines else ""
