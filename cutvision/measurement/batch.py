"""Many pieces measured in one go, on all cores, each result as it comes."""

from __future__ import annotations

import multiprocessing
from collections.abc import Collection, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from cutvision.errors import CutvisionError, PhotoRefused, PhotosRefused
from cutvision.imaging.opencv import keep_to_one_core
from cutvision.imaging.photo import Photo, read_photo_file
from cutvision.measurement.pipeline import measure
from cutvision.measurement.request import MeasureRequest
from cutvision.measurement.result import Measurement
from cutvision.measurement.side_by_side import cores

WAITING_EACH = 2
"""Pieces handed to each process ahead, so that none stands idle and an interruption loses little."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece to measure. name: by which its result is known; no two pieces of a batch share one."""

    name: str
    photos: tuple[Path, ...]
    request: MeasureRequest


@dataclass(frozen=True, slots=True)
class Trouble:
    """Why a piece has no measurement. file and reason: of the photo that is refused, empty for anything else."""

    message: str
    remedy: str
    file: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class PieceResult:
    """What came of a piece: its measurement, or what stood in its way and which of its photos are good."""

    name: str
    measurement: Measurement | None
    troubles: tuple[Trouble, ...] = ()
    good: tuple[str, ...] = ()


def measure_pieces(
    pieces: Iterable[Piece], *, done: Collection[str] = (), processes: int | None = None
) -> Iterator[PieceResult]:
    """Results in the order in which they are ready; nothing that befalls one piece stops the others.

    done: names of pieces that have their result from an earlier, interrupted run, and are passed over. processes: how
    many work at once, as many as there are cores if None. Closing the iterator ends the work after the pieces in hand.
    """
    at_once = processes or cores()
    left = (piece for piece in pieces if piece.name not in done)
    while ahead := list(islice(left, at_once * WAITING_EACH)):
        yield from _until_broken(ahead, left, at_once)


def _until_broken(ahead: list[Piece], left: Iterator[Piece], at_once: int) -> Iterator[PieceResult]:
    """The results of the pieces ahead and of those left, by one pool; it ends early when a process of it dies."""
    # a forked process would share OpenCV's threads, and hang
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(at_once, mp_context=context, initializer=keep_to_one_core)
    try:
        working: dict[Future[PieceResult], Piece] = {pool.submit(measured, piece): piece for piece in ahead}
        broken = False
        while working:
            ready = list(working) if broken else wait(working, return_when=FIRST_COMPLETED).done
            for future in ready:
                piece = working.pop(future)
                try:
                    yield future.result()
                except BrokenProcessPool:
                    broken = True
                    yield _lost(piece)
            for piece in islice(left, 0 if broken else len(ready)):
                try:
                    working[pool.submit(measured, piece)] = piece
                except BrokenProcessPool:
                    yield _lost(piece)
    finally:
        pool.shutdown(cancel_futures=True)


def measured(piece: Piece) -> PieceResult:
    """What comes of one piece, whatever befalls it."""
    troubles: list[Trouble] = []
    photos: list[Photo] = []
    good: tuple[str, ...] = ()
    for path in piece.photos:
        try:
            photos.append(read_photo_file(path))
        except PhotoRefused as refusal:
            troubles.append(_trouble(refusal))
    if troubles:
        return PieceResult(piece.name, None, tuple(troubles))
    try:
        return PieceResult(piece.name, measure(photos, piece.request, _unheard, at_once=1))
    except PhotosRefused as refused:
        troubles, good = [_trouble(refusal) for refusal in refused.refusals], refused.good
    except CutvisionError as error:
        troubles = [_trouble(error)]
    except Exception as error:  # noqa: BLE001  a fault met with one piece must not cost the others
        fault = f"A fault in cutvision: {type(error).__name__}: {error}."
        troubles = [Trouble(fault, "Measure this piece by itself with --debug, and report what it says.")]
    return PieceResult(piece.name, None, tuple(troubles), good)


def _unheard(_step: str) -> None:
    """Of many pieces nobody follows the steps."""


def _trouble(error: CutvisionError) -> Trouble:
    if isinstance(error, PhotoRefused):
        return Trouble(error.message, error.remedy, error.file, error.reason)
    return Trouble(error.message, error.remedy)


def _lost(piece: Piece) -> PieceResult:
    message = "The computer ended the process that measured this piece or one beside it, perhaps for want of memory."
    return PieceResult(piece.name, None, (Trouble(message, "Run the batch again with fewer processes."),))
