"""`cutvision instruments`: what is assumed of common measuring tools."""

from __future__ import annotations

from typing import Annotated

import typer

from cutvision.cli.output import answer, answer_json


def instruments(
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")] = False,
) -> None:
    """List the measuring tools that --instrument names: steps, limits of error, repeatability, and their sources."""
    from cutvision.correction import INSTRUMENTS
    from cutvision.reports.instrument_text import instruments_as_json, instruments_text

    records = tuple(INSTRUMENTS.values())
    if as_json:
        answer_json(instruments_as_json(records))
    else:
        answer(instruments_text(records).rstrip())
