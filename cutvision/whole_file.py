"""Files that are written whole or not at all: what was there before stays until the new one is complete."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from cutvision.errors import InputError


def write_whole(path: Path, content: bytes) -> None:
    """Write the file beside its place, then rename it. Raises InputError when it cannot be written."""
    try:
        part = path.with_name(f".{path.name}.{os.getpid()}.part")
        try:
            part.write_bytes(content)
            part.replace(path)
        finally:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)
    except (OSError, ValueError) as error:  # a path without a name is a ValueError
        raise InputError(
            f"{path} cannot be written: {getattr(error, 'strerror', None) or error}.",
            "Name a file in a folder that exists and that you may write to.",
        ) from error
