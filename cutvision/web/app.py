"""The page's addresses, and the one place where what went wrong becomes words and a status."""

from __future__ import annotations

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from cutvision.errors import CutvisionError
from cutvision.web import actions, pages
from cutvision.web.answering import Problem, problem_of
from cutvision.web.bench import Bench
from cutvision.web.desk import BusyError
from cutvision.web.guard import Guard
from cutvision.web.pages import NotFoundError
from cutvision.web.render import page
from cutvision.web.upload import FormRefusedError

_BOTH = ["GET", "POST"]
ROUTES = [
    Route("/", pages.jigs),
    Route("/jigs/new", actions.jig_new, methods=_BOTH),
    Route("/jig/{jig}", pages.jig),
    Route("/jig/{jig}/photo", actions.photo, methods=_BOTH),
    Route("/jig/{jig}/read", pages.ways),
    Route("/jig/{jig}/read/{way}", actions.read, methods=_BOTH),
    Route("/jig/{jig}/trend.svg", pages.trend_chart),
    Route("/jig/{jig}/jig.pdf", pages.jig_pdf),
    Route("/jig/{jig}/runs.csv", pages.jig_csv),
    Route("/how/{way}.svg", pages.how_drawing),
    Route("/answer/{job}", actions.answer),
    Route("/answer/{job}/move.svg", actions.answer_drawing),
    Route("/answer/{job}/photo-{number:int}.jpg", actions.answer_picture),
    Route("/runs", pages.history),
    Route("/run/{run:int}", pages.run),
    Route("/run/{run:int}/picture-{number:int}", pages.run_picture),
    Route("/run/{run:int}/run.pdf", pages.run_pdf),
    Route("/run/{run:int}/move", actions.move, methods=["POST"]),
    Route("/logbook.zip", pages.export),
    Route("/print", pages.prints),
    Route("/print/{what}-{paper}.pdf", pages.print_pdf),
    Route("/phone", actions.phone, methods=_BOTH),
    Route("/phone/code.svg", actions.phone_code),
    Route("/pair", actions.pair, methods=_BOTH),
    *(Route(f"/{name}", pages.static) for name in sorted(one.name for one in pages.STATIC.iterdir())),
]


def _problem(request: Request, status: int, problem: Problem) -> Response:
    answered = page(request, "problem", status=status, problem=problem)
    if status >= 400 and request.method == "POST":
        answered.headers["connection"] = "close"  # what is still being sent is not read
    return answered


def _mendable(request: Request, error: Exception) -> Response:
    assert isinstance(error, CutvisionError)  # noqa: S101  as registered below
    return _problem(request, 422, problem_of(error))


def _form_refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, FormRefusedError)  # noqa: S101  as registered below
    return _problem(request, error.status, Problem(error.message, "Go back and try again."))


def _busy(request: Request, _error: Exception) -> Response:
    return _problem(
        request,
        503,
        Problem("The page is busy: as many photos are waiting as it takes.", "Wait a minute, then send it again."),
    )


def _not_found(request: Request, _error: Exception) -> Response:
    return _problem(request, 404, Problem("There is nothing here.", "The logbook holds every run that was recorded."))


def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)  # noqa: S101  as registered below
    if error.status_code == 404:
        return _not_found(request, error)
    return _problem(request, error.status_code, Problem(error.detail, ""))


def _fault(request: Request, error: Exception) -> Response:
    said = f"This is a fault in cutvision, not in what you did: {type(error).__name__}."
    return _problem(request, 500, Problem(said, "The terminal in which the page was started says more."))


def make_app(bench: Bench) -> Guard:
    """The page behind its door, which stands outside all else, so that a fault's answer passes it too."""
    app = Starlette(
        routes=ROUTES,
        exception_handlers={
            CutvisionError: _mendable,
            FormRefusedError: _form_refused,
            BusyError: _busy,
            NotFoundError: _not_found,
            HTTPException: _refused,
            Exception: _fault,
        },
    )
    app.state.bench = bench
    return Guard(app, bench)
