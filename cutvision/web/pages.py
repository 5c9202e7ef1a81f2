"""What is there to see: the jigs, one jig, its runs, and what can be downloaded and printed."""

from __future__ import annotations

import contextlib
import tempfile
import threading
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any, get_args

from starlette.requests import Request
from starlette.responses import Response

from cutvision.correction.jig_file import read_jig_file
from cutvision.correction.result import Method
from cutvision.errors import InputError
from cutvision.files import NotReadError, read_bounded
from cutvision.jobs.registry import CORRECT
from cutvision.logbook.archive import export_book
from cutvision.logbook.book import Logbook, open_book
from cutvision.logbook.evidence import is_as_recorded
from cutvision.logbook.moved import MoveSaid
from cutvision.logbook.records import JigRecord, Run
from cutvision.reports.encode import recorded_correction
from cutvision.reports.evidence import HISTORY_COLUMNS, history_row, jig_sheet, run_sheet
from cutvision.reports.evidence_pdf import evidence_pdf
from cutvision.reports.evidence_pictures import pictures_of
from cutvision.reports.figure import figure_bytes
from cutvision.reports.logbook_text import asked_words
from cutvision.reports.printed_sheet import Paper
from cutvision.reports.reading_drawing import reading_drawing
from cutvision.reports.runs_csv import runs_csv
from cutvision.reports.says_correction import state
from cutvision.reports.trend import trend_of, trend_words
from cutvision.reports.trend_chart import trend_figure
from cutvision.reports.worksheet import miter_worksheet, square_worksheet
from cutvision.target.files import sheet_bytes
from cutvision.target.margins import printing_advice
from cutvision.target.sheet import SHEETS
from cutvision.version import __version__
from cutvision.web.bench import Bench
from cutvision.web.forms import fields_of
from cutvision.web.render import DRAWING, bench_of, download, page

STATIC = Path(__file__).parent / "static"
STATIC_KINDS = {".css": "text/css", ".svg": DRAWING}
WORKSHEETS = {"miter": miter_worksheet, "square": square_worksheet}
PAPERS: tuple[Paper, ...] = get_args(Paper)
PDF = "application/pdf"
NEWEST_ON_A_SHEET = 50
# Labels of how the last run was decided.
_JUDGED = {"leave": "within tolerance", "move": "out of tolerance"}
# Drawings share one set of typefaces and settings.
_DRAWING = threading.Lock()


class NotFoundError(Exception):
    """Nothing is there under that address."""


@dataclass(frozen=True, slots=True)
class Card:
    """A jig at a glance. state: how the fence stands by the last run. judged: a label; empty when it is open."""

    identity: str
    name: str
    kind: str
    retired: bool
    run: int | None = None
    day: str = ""
    state: str = ""
    judged: str = ""
    asked: str = ""


def jigs(request: Request) -> Response:
    """Every jig at a glance."""
    bench = bench_of(request)
    cards: list[Card] = []
    if (bench.folder / "logbook.sqlite").exists():
        with open_book(bench.folder) as book:
            cards = [card_of(book, jig) for jig in book.jigs()]
    return page(request, "jigs", cards=cards)


def card_of(book: Logbook, jig: JigRecord) -> Card:
    """The jig's card. Raises InputError when the book cannot be read."""
    kind = ""
    with contextlib.suppress(InputError):  # written by a version that knew other keys
        kind = read_jig_file(jig.text, jig.name).kind
    last = book.last_run(jig.identity)
    asked = book.asked(jig.identity)
    if last is None or last.correction is None:
        return Card(jig.identity, jig.name, kind, jig.retired, asked=asked_words(asked))
    found = recorded_correction(last.correction)
    judged = "" if last.moves else _JUDGED.get(found.decision.action, "")
    day = last.conditions.day.isoformat()
    return Card(
        jig.identity, jig.name, kind, jig.retired, last.number, day, state(found), judged, asked=asked_words(asked)
    )


def jig(request: Request) -> Response:
    """One jig: how it stands, ways to measure, history, downloads."""
    with open_book(bench_of(request).folder) as book:
        found = jig_of(request, book)
        card, runs = card_of(book, found), book.readable(found.identity)
    words: tuple[str, ...] = ()
    charted = False
    with contextlib.suppress(InputError):  # no run shows the fence's error yet
        words, charted = trend_words(trend_of(runs)), len(runs) > 1
    facts = jig_sheet(found, (), {}, made_at=datetime.now(UTC), program=__version__).jig
    return page(
        request,
        "jig",
        card=card,
        facts=facts,
        trend=words if charted else (),
        columns=HISTORY_COLUMNS,
        history=[history_row(run) for run in reversed(runs)],
    )


def jig_of(request: Request, book: Logbook) -> JigRecord:
    """The jig that the address names by its identity. Raises NotFoundError."""
    identity = request.path_params["jig"]
    found = next((one for one in book.jigs() if one.identity == identity), None)
    if found is None:
        raise NotFoundError
    return found


def ways_of(kind: str) -> dict[str, str]:
    """The ways of reading for a jig of this kind: what each is for, by its name."""
    return {
        name: (job.kind.__doc__ or "").split("\n", 1)[0] for name, job in CORRECT.items() if job.cuts in {None, kind}
    }


def ways(request: Request) -> Response:
    """The ways of reading that suit a jig."""
    with open_book(bench_of(request).folder) as book:
        card = card_of(book, jig_of(request, book))
    return page(request, "ways", card=card, ways=ways_of(card.kind))


def how_drawing(request: Request) -> Response:
    """Where to hold the instrument, drawn."""
    if request.path_params["way"] not in CORRECT:
        raise NotFoundError
    return Response(_how_drawing(request.path_params["way"]), media_type=DRAWING)


@cache
def _how_drawing(way: Method) -> bytes:
    with _DRAWING:
        return figure_bytes(reading_drawing(way), "svg")


def trend_chart(request: Request) -> Response:
    """The error over time, drawn."""
    with open_book(bench_of(request).folder) as book:
        found = jig_of(request, book)
        runs = book.readable(found.identity)
    with _DRAWING:
        drawn = figure_bytes(trend_figure(trend_of(runs), found.name, worded=False), "svg")
    return Response(drawn, media_type=DRAWING)


def history(request: Request) -> Response:
    """Every run, the newest first."""
    bench = bench_of(request)
    runs: Sequence[Run] = ()
    if (bench.folder / "logbook.sqlite").exists():
        with open_book(bench.folder) as book:
            runs = [run for run in book.look_through(abridged=True) if isinstance(run, Run)]
    rows = [(run.jig_name, history_row(run)) for run in reversed(runs)]
    return page(request, "history", columns=HISTORY_COLUMNS, rows=rows)


def run_of(request: Request, book: Logbook) -> Run:
    """The run that the address names by its number. Raises NotFoundError when there is none."""
    number = request.path_params["run"]
    try:
        book.named(number)
    except InputError:
        raise NotFoundError from None
    return book.run(number)


def run(request: Request) -> Response:
    """One run, as its evidence sheet says it, and what was done afterwards."""
    with open_book(bench_of(request).folder) as book:
        found = run_of(request, book)
        files = evidence_of(book, (found,))
        asked = asked_words([one for one in book.asked(found.jig) if one.run == found.number])
    sheet = run_sheet(found, files)
    movable = found.correction is not None and found.struck is None
    fields = fields_of(MoveSaid, {}) if movable else None
    return page(request, "run", run=found, sheet=sheet, fields=fields, asked=asked, problem=None)


def run_picture(request: Request) -> Response:
    """One picture of a run."""
    with open_book(bench_of(request).folder) as book:
        found = run_of(request, book)
        pictures = pictures_of(found.evidence, evidence_of(book, (found,)))
    number = request.path_params["number"]
    if number >= len(pictures):
        raise NotFoundError
    return Response(pictures[number].data, media_type=f"image/{pictures[number].kind}")


def evidence_of(book: Logbook, runs: Iterable[Run]) -> dict[str, bytes]:
    """The runs' pictures by sha256 that cutvision drew itself: those that are there, and as they were recorded.

    Photos are left out: nothing that came from a stranger is decoded in the page's own process.
    """
    found: dict[str, bytes] = {}
    for file in {file for one in runs for file in one.evidence}:
        if file.kind not in {"annotated", "drawing"}:
            continue
        path = book.path_of(file)
        with contextlib.suppress(NotReadError):
            data = read_bounded(path, "evidence", follow_links=file.left_at is not None)
            if is_as_recorded(data, file, path):
                found[file.sha256] = data
    return found


def run_pdf(request: Request) -> Response:
    """A run's evidence sheet."""
    with open_book(bench_of(request).folder) as book:
        found = run_of(request, book)
        made = _evidence_sheet(book, book.jig(found.jig), (found,))
    return download(made, f"run-{found.number}.pdf", PDF)


def jig_pdf(request: Request) -> Response:
    """A jig's evidence sheet with its last runs."""
    with open_book(bench_of(request).folder) as book:
        found = jig_of(request, book)
        newest = book.look_through(found.identity, newest=NEWEST_ON_A_SHEET)
        runs = [one for one in newest if isinstance(one, Run)]
        if not runs:
            raise NotFoundError
        made = _evidence_sheet(book, found, runs)
    return download(made, "jig.pdf", PDF)


def _evidence_sheet(book: Logbook, of_jig: JigRecord, runs: Sequence[Run]) -> bytes:
    with _DRAWING:
        return evidence_pdf(
            of_jig, runs, evidence_of(book, runs), made_at=datetime.now(UTC), program=__version__, paper="a4"
        )


def jig_csv(request: Request) -> Response:
    """A jig's runs as a table."""
    with open_book(bench_of(request).folder) as book:
        table = runs_csv(book.readable(jig_of(request, book).identity))
    return download(table.encode(), "runs.csv", "text/csv")


def export(request: Request) -> Response:
    """The whole logbook as one zip file, photos without their GPS position."""
    bench: Bench = bench_of(request)
    with tempfile.TemporaryDirectory(dir=bench.uploads) as folder, open_book(bench.folder) as book:
        runs = [one for one in book.look_through(abridged=True) if isinstance(one, Run)]
        tables = {one.identity: runs_csv([run for run in runs if run.jig == one.identity]) for one in book.jigs()}
        file = Path(folder) / "logbook.zip"
        export_book(book, runs, file, __version__, tables)
        return download(file.read_bytes(), "logbook.zip", "application/zip")


def prints(request: Request) -> Response:
    """What there is to print."""
    advice = {name: printing_advice(sheet) for name, sheet in SHEETS.items()}
    return page(request, "prints", sheets=advice, worksheets=tuple(WORKSHEETS), papers=PAPERS)


def print_pdf(request: Request) -> Response:
    """A reference sheet or a worksheet."""
    what, paper = request.path_params["what"], request.path_params["paper"]
    name = f"{what}-{paper}.pdf"
    if what == "sheet" and paper in SHEETS:
        return download(sheet_bytes(SHEETS[paper], ".pdf"), name, PDF)
    if what in WORKSHEETS and paper in PAPERS:
        with _DRAWING:
            return download(WORKSHEETS[what](paper).bytes("pdf"), name, PDF)
    raise NotFoundError


def static(request: Request) -> Response:
    """The style sheet, and the drawings of how to lay the piece."""
    known: dict[str, Any] = {one.name: one for one in STATIC.iterdir()}
    found: Path | None = known.get(request.url.path.rsplit("/", 1)[-1])
    if found is None:
        raise NotFoundError
    return Response(found.read_bytes(), media_type=STATIC_KINDS[found.suffix])
