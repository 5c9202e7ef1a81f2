"""`cutvision serve`: the bench page, on this computer and, when asked for, on a phone."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cutvision.cli.output import tell
from cutvision.errors import InputError
from cutvision.reports.columns import wrap

PORT = 8317
LEAST_PORT, MOST_PORT = 1024, 65535


def serve(
    port: Annotated[int, typer.Option("--port", metavar="N", help="The page's port (0: any that is free).")] = PORT,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Do not open a browser.")] = False,
    logbook: Annotated[
        Path | None,
        typer.Option(
            "--logbook",
            metavar="DIR",
            help="The logbook's folder, instead of CUTVISION_LOGBOOK or your own data folder.",
        ),
    ] = None,
) -> None:
    """Open the bench page: photograph with your phone, or type readings, and read the answer there.

    It is served to this computer alone until you ask for the phone on the page; then a phone that scans the code may
    use it too. It needs the extra: pip install 'cutvision[web]'.
    """
    from cutvision.logbook.place import place_of_book

    if port != 0 and not LEAST_PORT <= port <= MOST_PORT:
        raise InputError(f"--port is {port}.", f"Give one from {LEAST_PORT} to {MOST_PORT}, or 0 for any that is free.")
    try:
        from cutvision.web.serve import serve as run
    except ModuleNotFoundError as missing:
        if (missing.name or "").split(".")[0] not in {"starlette", "uvicorn", "python_multipart", "segno"}:
            raise
        raise InputError(
            f"The bench page needs {missing.name}, which is not installed.",
            "Install the extra: pip install 'cutvision[web]'. Everything else works without it.",
        ) from missing
    run(place_of_book(logbook), port, _say, browser=not no_browser)


def _say(text: str) -> None:
    tell(text if "\n" in text else wrap(text))


def register(app: typer.Typer) -> None:
    """Add the command."""
    from cutvision.reports.cautions import cautions

    app.command("serve", epilog=" ".join(cautions("photo", "measure", "adjust", "cut")))(serve)
