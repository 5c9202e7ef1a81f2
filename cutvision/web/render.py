"""From a template and what a page shows to a response. Every value is escaped; no template knows a number's meaning."""

from __future__ import annotations

import secrets
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from cutvision.reports.cautions import cautions
from cutvision.reports.evidence_sheet import page_environment
from cutvision.web.bench import HERE, Bench

TEMPLATES = Path(__file__).parent / "templates"
DRAWING = "image/svg+xml"


@cache
def _templates() -> Environment:
    made = page_environment(TEMPLATES)
    made.globals["cautions"] = cautions
    return made


def bench_of(request: Request) -> Bench:
    """The running page."""
    bench: Bench = request.app.state.bench
    return bench


def session_of(request: Request) -> str:
    """Whose request it is, as the guard found; empty for a phone that is not paired yet."""
    return str(request.scope["bench_session"])


def form_token(request: Request) -> str:
    """What this session's forms carry."""
    return bench_of(request).form_token(session_of(request))


def page(request: Request, template: str, *, status: int = 200, refresh_s: int | None = None, **shown: Any) -> Response:
    """A page. refresh_s: when the browser asks for it again."""
    session = session_of(request)
    text = (
        _templates()
        .get_template(f"{template}.html.j2")
        .render(
            here=session == HERE,
            paired=bool(session),
            token=form_token(request),
            once=secrets.token_urlsafe(16),
            **shown,
        )
    )
    return HTMLResponse(text, status, None if refresh_s is None else {"refresh": str(refresh_s)})


def download(data: bytes, name: str, kind: str) -> Response:
    """A file to keep. name: the page's own, never what somebody typed."""
    return Response(data, media_type=kind, headers={"content-disposition": f'attachment; filename="{name}"'})
