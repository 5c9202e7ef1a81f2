"""A bench page, and who comes to it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from web.visitor import PHONE, PORT, Visitor

from cutvision.web.answering import answer
from cutvision.web.app import make_app
from cutvision.web.bench import Bench
from cutvision.web.desk import Desk
from cutvision.web.guard import Guard
from cutvision.web.worker import Worker


@pytest.fixture(scope="session")
def worker() -> Iterator[Worker]:
    """One worker for all, as its start takes a while."""
    made = Worker(answer)
    yield made
    made.close()


@pytest.fixture
def bench(tmp_path: Path, worker: Worker) -> Bench:
    """A page without a logbook yet."""
    uploads = tmp_path / "uploads"
    uploads.mkdir()
    return Bench(tmp_path / "book", PORT, uploads, Desk(worker))


@pytest.fixture
def app(bench: Bench) -> Guard:
    """The page itself."""
    return make_app(bench)


@pytest.fixture
def here(app: Guard) -> Visitor:
    """A browser on this computer; it keeps no cookies."""
    return Visitor(app)


@pytest.fixture
def phone(app: Guard, bench: Bench) -> Visitor:
    """A phone that is not paired, once phones are served."""
    bench.phone = PHONE
    return Visitor(app, PHONE, "192.168.1.77")
