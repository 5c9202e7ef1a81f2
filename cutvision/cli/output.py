"""How the program speaks: answers on standard output, everything else on standard error, never a traceback."""

from __future__ import annotations

import contextlib
import io
import json
import sys
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import typer

from cutvision.errors import CutvisionError, InputError, PhotoRefused, PhotosRefused
from cutvision.reports.columns import wrap

QUIET_SECONDS = 1.0


def use_utf8() -> None:
    """Write UTF-8 wherever the output goes; a sign that cannot be written becomes "?", not an error."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(encoding="utf-8", errors="replace")


def answer(text: str) -> None:
    """Print the answer on standard output. Raises InputError when it cannot be written there."""
    try:
        typer.echo(_harmless(text))
    except BrokenPipeError:
        raise
    except OSError as error:
        message = f"The answer could not be written: {error.strerror or error}."
        raise InputError(message, "Send it to a terminal, or to a file on a disk with room.") from error


def answer_json(thing: Mapping[str, Any]) -> None:
    """Print one JSON object, in ASCII so that no terminal or file name can break it."""
    answer(json.dumps(thing, indent=1, allow_nan=False))


def tell(text: str) -> None:
    """Print on standard error."""
    typer.echo(_harmless(text), err=True)


def tell_problem(problem: CutvisionError, about: str = "") -> None:
    """Say what happened and what to do next."""
    tell(wrap(f"{about}: {problem.message}" if about else problem.message))
    if problem.remedy:
        tell(wrap(problem.remedy, "  What to do: ", "  "))
    if isinstance(problem, InputError) and problem.at_the_saw:
        from cutvision.reports.cautions import ADVISED, cautions

        tell("\n".join(["Cautions", *(wrap(text, "- ", "  ") for text in cautions(*ADVISED))]))


def _harmless(text: str) -> str:
    """The text without signs that a terminal would obey, not show: a stranger may have named the file or the jig."""
    if text.replace("\n", "").isprintable():
        return text
    return "".join(sign if sign.isprintable() or sign.isspace() else "?" for sign in text)


class Progress:
    """Says on standard error what is being done, once the work has taken longer than a person waits without wondering.

    wanted: True speaks at any rate, None only when a person watches a terminal.
    """

    def __init__(self, wanted: bool | None = None) -> None:
        watched = sys.stderr is not None and sys.stderr.isatty()  # None when it was closed before the start
        self._speaks = watched if wanted is None else wanted
        self._start = time.monotonic()

    def __call__(self, step: str) -> None:
        """Name the step that begins."""
        if self._speaks and time.monotonic() - self._start > QUIET_SECONDS:
            tell(f"... {step}")


@contextlib.contextmanager
def refusals_told(*, as_json: bool) -> Iterator[None]:
    """Say why each photo was refused, and leave with exit status 3; with `as_json` for other programs too."""
    try:
        yield
    except (PhotoRefused, PhotosRefused) as refused:
        refusals = (refused,) if isinstance(refused, PhotoRefused) else refused.refusals
        if as_json:
            from cutvision.reports.objects import refusals_object

            answer_json(refusals_object(refusals))
        for refusal in refusals:
            tell_problem(refusal, about=refusal.file)
        if isinstance(refused, PhotosRefused) and refused.remedy:
            tell(refused.remedy)
        raise typer.Exit(refused.exit_status) from refused


@contextlib.contextmanager
def writing(path: Path) -> Iterator[None]:
    """Turn a file that cannot be written into plain words. Raises InputError."""
    try:
        yield
    except OSError as error:
        message = f"{path} cannot be written: {error.strerror or error}."
        raise InputError(message, "Name a file in a folder that exists and that you may write to.") from error
