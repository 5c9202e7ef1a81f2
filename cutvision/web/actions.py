"""What can be done there: set up a jig, measure, type readings, keep a move, pair a phone. A form to a request."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from cutvision.correction.jig_file import jig_file_text
from cutvision.errors import InputError
from cutvision.jobs.jig import KnownJig, fill
from cutvision.jobs.jig_new import JigSaid, jig_from
from cutvision.jobs.measure import Measure
from cutvision.jobs.registry import JOBS, Job
from cutvision.jobs.said import declared, request
from cutvision.logbook.book import open_book
from cutvision.logbook.known import jig_in_book
from cutvision.logbook.moved import MoveSaid, move_of
from cutvision.logbook.naming import name_of_jig
from cutvision.logbook.recording import Recorded, Recorder, day_of, inputs_of, photo_files, recorder
from cutvision.logbook.records import Conditions
from cutvision.reports.logbook_text import moved_words
from cutvision.reports.reading_help import how_to_read
from cutvision.reports.says_kept import kept_words
from cutvision.web.answering import Answer, Problem, Task, problem_of
from cutvision.web.bench import HERE
from cutvision.web.desk import BusyError
from cutvision.web.desk import Job as DeskJob
from cutvision.web.forms import Fields, fields_of, said_in, spoken
from cutvision.web.pages import NotFoundError, card_of, jig_of, run_of, ways_of
from cutvision.web.pairing import TooManyGuessesError
from cutvision.web.phone import addresses, code_svg
from cutvision.web.render import DRAWING, bench_of, form_token, page, session_of
from cutvision.web.upload import MOST_PHOTO_BYTES, MOST_PHOTOS, Form, read_form, remove_folder

MOST_UPLOADS = 4
REFRESH_S = 2
ANSWER_WAIT_S = 3.0
CHECK_OF = "check_of"
# The parts of a report that may name options.
SPOKEN = ("headline", "notes", "assumed")


# ---- jigs


async def jig_new(asked: Request) -> Response:
    """The form for a new jig, and what becomes of it."""
    if asked.method != "POST":
        return page(asked, "jig_new", fields=fields_of(JigSaid, {}), problem=None)
    form = await read_form(asked, form_token(asked))
    return await run_in_threadpool(_add_jig, asked, form)


def _add_jig(asked: Request, form: Form) -> Response:
    bench = bench_of(asked)

    def add() -> str:
        made = jig_from(request(JigSaid, said_in(JigSaid, form.values)))
        with open_book(bench.folder, create=True) as book:
            return book.add_jig(name_of_jig(made.name), jig_file_text(made), datetime.now(UTC)).identity

    try:
        identity = bench.desk.once(_key(asked, form), add)
    except InputError as problem:
        shown = _relabelled(problem_of(problem), JigSaid)
        return page(asked, "jig_new", status=422, fields=fields_of(JigSaid, form.values), problem=shown)
    return RedirectResponse(f"/jig/{identity}", 303)


def _key(asked: Request, form: Form) -> str:
    """By what a form sent again is known: it cannot meet another session's."""
    return f"{session_of(asked)} {asked.url.path} {form.once}"


# ---- measuring and reading


async def photo(asked: Request) -> Response:
    """How to lay the piece and photograph it; the photos that come back."""
    bench = bench_of(asked)
    if asked.method != "POST":
        return await run_in_threadpool(_question, asked, ("measure",), {})
    # the upload's folder is counted, whoever waits: the disk and the line are shared
    if len(list(bench.uploads.iterdir())) >= MOST_UPLOADS + bench.desk.most_waiting:
        raise BusyError
    form = await read_form(asked, form_token(asked), bench.uploads)
    return await _submit(asked, ("measure",), form)


async def read(asked: Request) -> Response:
    """The form for one way of reading, and the readings that come back."""
    command = ("correct", asked.path_params["way"])
    if command not in JOBS:
        raise NotFoundError
    if asked.method != "POST":
        return await run_in_threadpool(_question, asked, command, {})
    return await _submit(asked, command, await read_form(asked, form_token(asked)))


def _question(
    asked: Request,
    command: tuple[str, ...],
    given: Mapping[str, str],
    problem: InputError | None = None,
) -> Response:
    """The page that asks for photos or readings."""
    bench = bench_of(asked)
    job = JOBS[command]
    with open_book(bench.folder) as book:
        found = jig_of(asked, book)
        card, checks = card_of(book, found), [str(one.run) for one in book.asked(found.identity)]
    if command[0] == "correct" and command[1] not in ways_of(card.kind):
        raise NotFoundError
    known = _known(bench.folder, found.identity, job)
    filled = fill(job.kind, {}, known, job.cuts).said
    shown: dict[str, Any] = {
        "card": card,
        "fields": _fields(job, given, filled),
        "checks": checks,
        "check_of": given.get(CHECK_OF, checks[-1] if checks else ""),
        "problem": None if problem is None else _relabelled(problem_of(problem), job.kind),
    }
    status = 200 if problem is None else 422
    if command == ("measure",):
        lay = (Measure.__doc__ or "").split("\n\n")[1]
        return page(
            asked,
            "photo",
            status=status,
            lay=lay,
            shape=filled["shape"],
            most=MOST_PHOTOS,
            most_mb=MOST_PHOTO_BYTES // 1_000_000,
            **shown,
        )
    way = command[1]
    return page(asked, "read", status=status, way=way, what=ways_of(card.kind)[way], how=how_to_read(way), **shown)


def _fields(job: Job, given: Mapping[str, str], filled: Mapping[str, Any]) -> Fields:
    return fields_of(job.kind, given, {name: value for name, value in filled.items() if value is not None})


def _known(folder: Path, identity: str, job: Job) -> KnownJig:
    corner_asked = any(one.field == "corner" for one in declared(job.kind))
    return jig_in_book(folder, identity, corner_asked=corner_asked).jig


async def _submit(asked: Request, command: tuple[str, ...], form: Form) -> Response:
    """Queue what was sent, wait a moment for it, and go where its answer is."""
    try:
        queued = await run_in_threadpool(_queue, asked, command, form)
    except BaseException as error:
        _tidy(form)
        if isinstance(error, InputError):
            return await run_in_threadpool(_question, asked, command, form.values, error)
        raise
    await run_in_threadpool(queued.finished.wait, ANSWER_WAIT_S)
    return RedirectResponse(f"/answer/{queued.identity}", 303)


def _queue(asked: Request, command: tuple[str, ...], form: Form) -> DeskJob:
    bench, job = bench_of(asked), JOBS[command]
    with open_book(bench.folder) as book:
        identity = jig_of(asked, book).identity
        checks = {str(one.run) for one in book.asked(identity)}
    said = said_in(job.kind, form.values)
    if command == ("measure",):
        if not form.photos:
            raise InputError("No photo came with the form.", "Take one or choose one, then measure.")
        said["photos"] = tuple(Path(one.name) for one in form.photos)
    filled = fill(job.kind, said, _known(bench.folder, identity, job), job.cuts)
    meant = {name: value for name, value in filled.said.items() if value is not None}
    request(job.kind, meant)  # says at once, beside the form, what cannot be read
    check_of = form.values.get(CHECK_OF)
    keeper = recorder(
        bench.folder,
        identity,
        Conditions(day_of(None)),
        inputs_of(command, job.kind, meant, filled.sources),
        check_of if check_of in checks else None,
    )
    if "camera" in meant:
        meant["camera"] = Path(meant["camera"]).absolute()
    folder = form.photos[0].parent if form.photos else bench.uploads
    keep, tidy = partial(_keep, keeper, form.photos), partial(_tidy, form)
    return bench.desk.submit(
        _key(asked, form), DeskJob(Task(command, meant, keeper, folder), asked.url.path, keep, tidy)
    )


def _keep(keeper: Recorder, photos: tuple[Path, ...], found: Answer) -> Recorded | None:
    """Record the answer with the photos, when there is one to be recorded."""
    if found.plain is None:
        return None
    # named as the run's inputs name them, so that each gets its hash
    came = [type(one)(one.name, one.kind, one.data, None, one.name) for one in photo_files(photos)]
    return keeper.keep(found.plain, (*came, *found.made), found.measured)


def _tidy(form: Form) -> None:
    if form.photos:
        remove_folder(form.photos[0].parent)


async def answer(asked: Request) -> Response:
    """What came of it; until then, how long it is."""
    job = _job(asked)
    await run_in_threadpool(job.finished.wait, ANSWER_WAIT_S)
    if job.state != "done":
        return page(asked, "waiting", refresh_s=REFRESH_S, ahead=bench_of(asked).desk.ahead(job))
    found, recorded = job.answer, job.recorded
    unkept = None if recorded is None or recorded.problem is None else problem_of(recorded.problem)
    kind, report = JOBS[job.task.command].kind, None if found is None else found.report
    lines = {name: [spoken(line, kind) for line in getattr(report, name, ())] for name in SPOKEN}
    return page(
        asked,
        "answer",
        job=job,
        found=found,
        trouble=job.trouble,
        unkept=unkept,
        kept=kept_words(recorded, checked=found is not None and found.checked),
        run=None if recorded is None or recorded.run is None else recorded.run.number,
        problem=None if found is None or found.problem is None else _relabelled(found.problem, kind),
        headline=lines["headline"],
        notes=lines["notes"],
        assumed=lines["assumed"],
    )


def _relabelled(problem: Problem, kind: type) -> Problem:
    return replace(problem, message=spoken(problem.message, kind), remedy=spoken(problem.remedy, kind))


def answer_drawing(asked: Request) -> Response:
    """The move, drawn."""
    found = _job(asked).answer
    if found is None or found.drawing is None:
        raise NotFoundError
    return Response(found.drawing, media_type=DRAWING)


def answer_picture(asked: Request) -> Response:
    """A photo with what was measured, or as it was seen."""
    found, number = _job(asked).answer, asked.path_params["number"]
    if found is None or number >= len(found.pictures):
        raise NotFoundError
    return Response(found.pictures[number], media_type="image/jpeg")


def _job(asked: Request) -> DeskJob:
    job = bench_of(asked).desk.find(asked.path_params["job"])
    if job is None:
        raise NotFoundError
    return job


# ---- after a run


async def move(asked: Request) -> Response:
    """Keep what was really done to the fence."""
    form = await read_form(asked, form_token(asked))
    return await run_in_threadpool(_move, asked, form)


def _move(asked: Request, form: Form) -> Response:
    bench = bench_of(asked)
    with open_book(bench.folder) as book:
        found = run_of(asked, book)

    def keep() -> str:
        done = move_of(request(MoveSaid, said_in(MoveSaid, form.values)), datetime.now(UTC))
        with open_book(bench.folder) as book:
            kept = book.set_move(found.number, done)
            return moved_words(kept, done, book.asked(kept.jig))

    try:
        words = bench.desk.once(_key(asked, form), keep)
    except InputError as problem:
        return page(
            asked,
            "move",
            status=422,
            run=found,
            fields=fields_of(MoveSaid, form.values),
            problem=_relabelled(problem_of(problem), MoveSaid),
            words="",
        )
    return page(asked, "move", run=found, fields=None, problem=None, words=words)


# ---- the phone


async def phone(asked: Request) -> Response:
    """On the computer alone: serve phones on a chosen address, show the code, or stop."""
    bench = bench_of(asked)
    if session_of(asked) != HERE:
        raise NotFoundError
    problem: InputError | None = None
    if asked.method == "POST":
        form = await read_form(asked, form_token(asked))
        problem = await run_in_threadpool(_set_phone, asked, form.values)
    if bench.phone is not None and not bench.pairing.offering:
        bench.new_code()
    found = await run_in_threadpool(addresses)
    shown = None if problem is None else problem_of(problem)
    return page(asked, "phone", url=bench.code, addresses=found, phone=bench.phone, problem=shown)


def _set_phone(asked: Request, values: Mapping[str, str]) -> InputError | None:
    bench = bench_of(asked)
    change: Callable[[], None] = bench.close_phone
    chosen = values.get("address", "")
    if values.get("stop") != "yes":
        if chosen not in addresses():
            return InputError("That is no private address of this computer.", "Choose one of those that are shown.")
        change = partial(bench.open_phone, chosen)
    try:
        change()
    except InputError as problem:
        return problem
    return None


def phone_code(asked: Request) -> Response:
    """The code to scan, on the computer alone."""
    bench = bench_of(asked)
    if session_of(asked) != HERE or bench.phone is None:
        raise NotFoundError
    return Response(code_svg(bench.code), media_type=DRAWING)


async def pair(asked: Request) -> Response:
    """Where the code leads: the token is swapped when the person says so, not by whatever looks at the address."""
    bench = bench_of(asked)
    if asked.method != "POST":
        return page(asked, "pair", code=asked.query_params.get("code", ""), problem="")
    form = await read_form(asked, form_token(asked))
    try:
        session = bench.pairing.swap(form.values.get("code", ""))
    except TooManyGuessesError:
        return page(asked, "pair", status=429, code="", problem="Too many wrong codes came. Wait a minute.")
    if session is None:
        problem = "That code is used up, too old or wrong. Let the computer show a new one and scan it."
        return page(asked, "pair", status=403, code="", problem=problem)
    answered = RedirectResponse("/", 303)
    answered.set_cookie(bench.cookie, session, httponly=True, samesite="strict", path="/")
    return answered
