"""What a person is told when something cannot be done: refusals of a photo, wrong input, and notes beside a result."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of a registry: what it is called, what the photo or the input shows, and what to do about it."""

    name: str
    shows: str
    remedy: str


REFUSALS: dict[str, Entry] = {
    entry.name: entry
    for entry in (
        Entry(
            "unreadable",
            "is not an image that can be decoded, is truncated, or is unreasonably large",
            "Send the photo as the phone stored it (JPEG, PNG, TIFF, WebP; HEIC with the extra), as a file, not "
            "through a chat that shrinks it.",
        ),
        Entry(
            "no-target",
            "shows no reference sheet",
            "Lay the offcut in the blank window of a printed reference sheet and photograph the whole sheet from "
            "above.",
        ),
        Entry(
            "target-too-little",
            "shows too few squares of the sheet, or on too few sides, to fix scale and perspective",
            "Step back until the squares show on at least three sides of the sheet, with nothing lying on them.",
        ),
        Entry(
            "blurred",
            "is too blurred for the edges to be found to the stated accuracy",
            "Hold the phone still with both hands or on a stand, tap the wood to focus, and give it more light.",
        ),
        Entry(
            "no-offcut",
            "shows an empty window",
            "Lay the offcut in the blank window of the sheet, clear of the printed squares.",
        ),
        Entry(
            "several-offcuts",
            "shows more than one piece in the window",
            "Photograph one piece at a time and brush the sheet clean.",
        ),
        Entry(
            "wrong-shape",
            "shows a piece that is not of the shape asked for",
            "Check --shape: miter is a triangle, strip and board show four straight sides, corner shows two.",
        ),
        Entry(
            "offcut-hidden",
            "shows a piece with an edge out of view or covered",
            "Take everything off the piece and lay it so that every edge to be measured shows over its whole length.",
        ),
        Entry(
            "overexposed",
            "has lost the edge between paper and wood to glare or over-exposure",
            "Turn off the flash, move the lamp to the side, tap the wood to expose for it, and lower the exposure.",
        ),
    )
}


class CutvisionError(Exception):
    """Something a person can mend. Carries a message and a remedy; never shown as a traceback."""

    exit_status = 1

    def __init__(self, message: str, remedy: str) -> None:
        super().__init__(message)
        self.message = message
        self.remedy = remedy


class InputError(CutvisionError):
    """A wrong option or value (exit status 2).

    at_the_saw: whether the remedy sends the person to adjust or cut, so that the cautions must stand beside it.
    """

    exit_status = 2

    def __init__(self, message: str, remedy: str, *, at_the_saw: bool = False) -> None:
        super().__init__(message, remedy)
        self.at_the_saw = at_the_saw


class PhotoRefused(CutvisionError):
    """A photo that cannot be measured honestly (exit status 3).

    Raises KeyError when `reason` is not in `REFUSALS`.
    """

    exit_status = 3

    def __init__(self, reason: str, message: str, remedy: str | None = None, file: str = "") -> None:
        entry = REFUSALS[reason]
        super().__init__(message, remedy if remedy is not None else entry.remedy)
        self.reason = reason
        self.file = file


class PhotosRefused(CutvisionError):
    """A run with at least one refused photo, so that there is no combined result (exit status 3).

    refusals: every photo that was refused, and why. good: the names of those that can be measured without them.
    """

    exit_status = 3

    def __init__(self, refusals: Sequence[PhotoRefused], good: Sequence[str] = ()) -> None:
        self.refusals = tuple(refusals)
        self.good = tuple(good)
        message = " ".join(f"{refusal.file}: {refusal.message}" for refusal in refusals)
        super().__init__(message, f"These can be measured without the others: {', '.join(good)}." if good else "")


def opencv_missing(error: ImportError) -> CutvisionError:
    """What to tell when OpenCV, or a library of the system that it needs, cannot be loaded."""
    headless = (
        f"{sys.executable or 'python'} -m pip uninstall -y opencv-python opencv-python-headless && "
        f"{sys.executable or 'python'} -m pip install 'opencv-python-headless>=4.14,<6'"
    )
    remedy = {
        "linux": (
            "Install the system's graphics libraries (Debian, Ubuntu: apt-get install libgl1 libglib2.0-0; Fedora: dnf "
            f"install mesa-libGL glib2), or use the build of OpenCV that needs none: {headless}"
        ),
        "win32": f"On an N edition of Windows install the Media Feature Pack; else put OpenCV in anew: {headless}",
    }.get(sys.platform, f"Put OpenCV in anew: {headless}")
    return CutvisionError(f"OpenCV cannot be loaded: {error}.", remedy)


@dataclass(frozen=True, slots=True)
class Note:
    """Something seen that does not stop the measurement but that a careful person wants to know."""

    name: str
    message: str
    remedy: str = ""
