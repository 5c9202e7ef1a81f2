"""Records runs as quickly as it can, beside another that does the same: run by a test, in a process of its own."""

from __future__ import annotations

import json
import sys
import uuid
from datetime import UTC, date, datetime
from pathlib import Path

from cutvision.logbook.book import open_book
from cutvision.logbook.evidence import NewFile
from cutvision.logbook.records import Conditions, Inputs, NewRun

RESULT = json.dumps({"schema": "cutvision/measurement/1", "shape": "board", "quantities": {}, "notes": []})

for number in range(int(sys.argv[2])):
    with open_book(Path(sys.argv[1])) as book:
        identity = str(uuid.uuid4())
        said = Conditions(date(2026, 1, 5))
        inputs = Inputs(("correct", "square"), ())
        run = NewRun(identity, book.jig("sled").identity, datetime.now(UTC), said, inputs, "test", RESULT)
        book.record(run, [NewFile("stub.jpg", "photo", b"the same for both" if number % 2 else identity.encode())])
        print(identity, flush=True)  # noqa: T201  what the test reads
