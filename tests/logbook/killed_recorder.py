"""Kills recording processes at random moments and looks at the book after each: run by a test, in a process of its own.

`killed_recorder.py FOLDER KILLS SEED` prints how many runs were reported as recorded and how many are in the book, or
what is wrong and leaves with status 1. Not for Windows, where there is no fork.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
import uuid
from datetime import UTC, date, datetime
from pathlib import Path

from cutvision.logbook.book import open_book
from cutvision.logbook.evidence import NewFile
from cutvision.logbook.records import Conditions, Inputs, NewRun
from cutvision.logbook.verification import verify

RECORDINGS = 3  # a kill comes at random within the time that so many recordings take
FIRST_SECONDS, LONGEST_SECONDS = 0.15, 3.0  # that time is learned from what was reported, for a busy machine is slow
READY = b"ready"
RESULT = json.dumps({"schema": "cutvision/measurement/1", "shape": "board", "quantities": {}, "notes": []})


def record_for_ever(folder: Path, report: int) -> None:
    """Record runs, each with a small file of its own, and report each identity once it is recorded."""
    os.write(report, READY)
    while True:
        with open_book(folder) as book:
            jig = book.jig("sled")
            for _ in range(3):
                identity = str(uuid.uuid4())
                said = Conditions(date(2026, 1, 5))
                inputs = Inputs(("correct", "square"), ())
                run = NewRun(identity, jig.identity, datetime.now(UTC), said, inputs, "test", RESULT)
                book.record(run, [NewFile("stub.jpg", "photo", identity.encode())])
                os.write(report, f"{identity}\n".encode())


def killed_once(folder: Path, seconds: float) -> list[str]:
    """Start a recorder, kill it after so long, and give the identities of the runs that it reported as recorded."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read)
        try:
            record_for_ever(folder, write)
        finally:
            os._exit(1)
    os.close(write)
    os.read(read, len(READY))
    time.sleep(seconds)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    told = b""
    while part := os.read(read, 65536):
        told += part
    os.close(read)
    if not os.WIFSIGNALED(status):
        raise SystemExit("a recorder ended by itself")
    return told.decode().split("\n")[:-1]


def main(folder: Path, kills: int, seed: int) -> None:
    """Kill, open, verify, count, again and again."""
    chance = random.Random(seed)  # noqa: S311  a seeded test, no secret
    with open_book(folder, create=True) as book:
        book.add_jig("sled", "", datetime.now(UTC))
    reported: set[str] = set()
    seconds = FIRST_SECONDS
    for kill in range(kills):
        waited = chance.uniform(0, seconds)
        told = killed_once(folder, waited)
        wanted = RECORDINGS * waited / len(told) if told else 2 * seconds
        seconds = min(LONGEST_SECONDS, 0.9 * seconds + 0.1 * wanted)
        reported |= set(told)
        with open_book(folder) as book:
            held = {run.identity for run in book.runs()}
            wrong = [finding.what for finding in verify(book).findings if not finding.harmless]
        if wrong or reported - held:
            raise SystemExit(f"after kill {kill}: {len(reported - held)} reported runs are gone; {wrong}")
    print(len(reported), len(held))  # noqa: T201  what the test reads


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
