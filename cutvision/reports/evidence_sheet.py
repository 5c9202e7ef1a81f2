"""The evidence of a run, or of a whole jig, as one HTML file that needs nothing beside it and prints on paper."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template

from cutvision.logbook.records import JigRecord, Run
from cutvision.reports.evidence import HISTORY_COLUMNS, Paper, jig_sheet
from cutvision.reports.evidence_pictures import Picture

TEMPLATES = Path(__file__).parent / "templates"
_PAGE = {"a4": "A4", "letter": "letter"}


def evidence_html(
    jig: JigRecord,
    runs: Sequence[Run],
    files: Mapping[str, bytes],
    *,
    made_at: datetime,
    program: str,
    paper: Paper = "a4",
) -> str:
    """The sheet as HTML: of several runs a page of the jig with its trend first, then each run on at most two pages.

    files: by sha256, those that could be read. made_at: the caller's clock. Photos lose their EXIF on the way in.
    """
    sheet = jig_sheet(jig, runs, files, made_at=made_at, program=program)
    trend = "" if sheet.trend is None else base64.b64encode(sheet.trend).decode()
    return _template().render(sheet=sheet, trend=trend, paper=_PAGE[paper], columns=HISTORY_COLUMNS)


def _as_uri(picture: Picture) -> str:
    return f"data:image/{picture.kind};base64,{base64.b64encode(picture.data).decode()}"


def page_environment(templates: Path) -> Environment:
    """Templates of HTML: everything escaped, and a name that is not given is a fault."""
    return Environment(
        loader=FileSystemLoader(templates),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


@cache
def _template() -> Template:
    environment = page_environment(TEMPLATES)
    environment.filters["as_uri"] = _as_uri
    return environment.get_template("evidence.html.j2")
