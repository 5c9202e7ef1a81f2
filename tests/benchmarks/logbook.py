"""How quick the logbook is with ten runs and with two thousand: `python tests/benchmarks/logbook.py [RUNS]`.

Prints, for each count, the seconds of recording one run (the median of 40, with a small photo), and of `log list`,
`log show`, `log trend` and `log response`, each in a process of its own (the best of five), beyond the start-up: the
interpreter, and the import of the modules that the command needs, with nothing done.
"""

from __future__ import annotations

import json
import math
import os
import statistics
import subprocess
import sys
import tempfile
import time
import uuid
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from cutvision.logbook.book import Logbook, open_book
from cutvision.logbook.evidence import NewFile
from cutvision.logbook.records import Conditions, Inputs, InputValue, MoveSet, NewRun

FEW, MANY = 10, 2000
LIMIT_SECONDS = 0.3
TRIES = 5
RECORDINGS = 40
START = datetime(2021, 1, 4, 9, tzinfo=UTC)


def program(*arguments: str) -> str:
    """What `cutvision` prints, run as a person runs it."""
    code = "from cutvision.cli import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], check=True, capture_output=True, text=True, timeout=60
    )
    return done.stdout


def start_up(*modules: str) -> float:
    """The best wall time of a process that imports what a command needs and does nothing."""
    best = math.inf
    for _ in range(TRIES):
        begun = time.perf_counter()
        code = f"import cutvision.cli, cutvision.logbook.book, {', '.join(modules)}"
        subprocess.run([sys.executable, "-c", code], check=True, timeout=60)
        best = min(best, time.perf_counter() - begun)
    return best


def result() -> dict[str, object]:
    """A correction as the program itself tells it, so that a row has its true size."""
    line = "correct square --at-fence 24.91mm --far-end 24.78mm --between 380mm --fence-length 560mm --kept left --json"
    told: dict[str, object] = json.loads(program(*line.split()))
    return told


def record(book: Logbook, told: dict[str, object], number: int) -> float:
    """Record one run, a day after the last, and give the seconds that it took."""
    at = START + timedelta(days=number)
    error = 0.02 * math.sin(number / 58) + 0.003 * math.sin(7.7 * number)
    changed = {**told, "angle_error": {**told["angle_error"], "value": error}}  # type: ignore[dict-item]
    run = NewRun(
        str(uuid.uuid4()),
        book.jig("sled").identity,
        at,
        Conditions(date.fromordinal(at.toordinal()), "45 %", "60 teeth", "oak"),
        Inputs(("correct", "square"), tuple(InputValue(f"--option-{n}", f"{n}mm") for n in range(8))),
        "benchmark",
        json.dumps(changed),
    )
    begun = time.perf_counter()
    book.record(run, [NewFile("photo.jpg", "photo", f"light of {number}".encode())])
    seconds = time.perf_counter() - begun
    if number % 25 == 24:
        book.set_move(run.identity, MoveSet(at, 0.2, "clockwise", day=run.conditions.day))
    return seconds


def seconds_of(*arguments: str) -> float:
    """The best wall time of several."""
    best = math.inf
    for _ in range(TRIES):
        begun = time.perf_counter()
        program(*arguments)
        best = min(best, time.perf_counter() - begun)
    return best


def main(many: int) -> None:
    """Fill a book, and time it at ten runs and at many."""
    told = result()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "book"
        os.environ["CUTVISION_LOGBOOK"] = str(folder)
        text, trend = start_up("cutvision.reports.logbook_text"), start_up("cutvision.reports.trend")
        bare = seconds_of("--version")
        print(f"start-up: list, show {text:.3f} s, trend {trend:.3f} s; --version {bare:.3f} s")  # noqa: T201
        with open_book(folder, create=True) as book:
            book.add_jig("sled", 'kind = "square"\n', START)
        count = 0
        for goal in (FEW, many):
            with open_book(folder) as book:
                while count < goal:
                    record(book, told, count)
                    count += 1
                took = [record(book, told, count + n) for n in range(RECORDINGS)]
                count += RECORDINGS
            figures = {
                "list": seconds_of("log", "list") - text,
                "show": seconds_of("log", "show", str(count)) - text,
                "trend": seconds_of("log", "trend", "sled") - trend,
                "response": seconds_of("log", "response", "sled") - trend,
            }
            shown = ", ".join(f"{what} {seconds:.3f} s" for what, seconds in figures.items())
            print(f"{count} runs: recording {statistics.median(took):.4f} s; beyond start-up: {shown}")  # noqa: T201
            if max(figures.values()) > LIMIT_SECONDS:
                print(f"  over the limit of {LIMIT_SECONDS} s")  # noqa: T201


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else MANY)
