"""Where the logbook is: the folder that was named, else the one the environment names, else the platform's own."""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs

VARIABLE = "CUTVISION_LOGBOOK"


def place_of_book(named: Path | None = None) -> Path:
    """The book's folder; it need not be there yet. named: what `--logbook` said."""
    if named is not None:
        return named
    told = os.environ.get(VARIABLE)
    return Path(told) if told else Path(platformdirs.user_data_dir("cutvision", appauthor=False)) / "logbook"
