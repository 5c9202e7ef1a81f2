"""The evidence of runs, read from the disk one file at a time, when it is asked for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from cutvision.files import NotReadError, read_bounded
from cutvision.logbook.book import Logbook
from cutvision.logbook.evidence import is_as_recorded
from cutvision.logbook.records import EvidenceFile, Run


class StoredFiles(Mapping[str, bytes]):
    """By sha256 the runs' files that are there as they were recorded; no more than one is held in memory.

    lost: in words each file that is not there so, and why. Raises KeyError for a file that was changed since.
    """

    def __init__(self, book: Logbook, runs: Sequence[Run]) -> None:
        self._found: dict[str, tuple[EvidenceFile, Path]] = {}
        lost = []
        for file in {file.sha256: file for run in runs for file in run.evidence}.values():
            path = book.path_of(file)
            try:
                sound = is_as_recorded(_read(file, path), file, path)
            except NotReadError as error:
                lost.append(f"{file.name} cannot be read ({error.why}) and is left out.")
                continue
            if sound:
                self._found[file.sha256] = file, path
            else:
                lost.append(f"{file.name} was changed after it was recorded and is left out.")
        self.lost = tuple(lost)

    def __getitem__(self, sha256: str) -> bytes:
        file, path = self._found[sha256]
        try:
            data = _read(file, path)
        except NotReadError as error:
            raise KeyError(sha256) from error
        if not is_as_recorded(data, file, path):
            raise KeyError(sha256)
        return data

    def __contains__(self, sha256: object) -> bool:
        return sha256 in self._found

    def __iter__(self) -> Iterator[str]:
        return iter(self._found)

    def __len__(self) -> int:
        return len(self._found)


def _read(file: EvidenceFile, path: Path) -> bytes:
    return read_bounded(path, "evidence", follow_links=file.left_at is not None)
