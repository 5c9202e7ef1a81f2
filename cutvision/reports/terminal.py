"""A report on a terminal of 80 columns: the answer stands last, where a person's eye is."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, get_args

from cutvision.reports.columns import COLUMNS, bullets, wrap
from cutvision.reports.model import Report, Table
from cutvision.reports.saw_ascii import ascii_scene

Detail = Literal["quiet", "default", "more"]
DETAILS: tuple[Detail, ...] = get_args(Detail)

LINES = 24
NAME_COLUMNS = 24
_GAP = 2


def to_terminal(report: Report, detail: Detail = "default") -> str:
    """The report as text.

    "quiet": the cautions in brief and the answer. "default": one screen, with what is sure and as much of drawing and
    figures as fits. "more": everything.
    """
    answer = _paragraphs(report.headline)
    brief = _brief(report)
    if detail == "quiet":
        return _joined([brief, answer])
    drawing = "" if report.drawing is None else "\n".join(ascii_scene(report.drawing))
    sure = _paragraphs(report.sure)
    figures = "" if report.figures is None else _table(report.figures)
    if detail == "more":
        return _joined(
            [
                *(_table(one) for one in report.tables if one.rows),
                *(bullets(one.title, one.lines) for one in report.sections),
                bullets("Assumed", report.assumed),
                bullets("Notes", report.notes),
                bullets("Cautions", report.cautions),
                figures,
                drawing,
                sure,
                answer,
            ]
        )
    below = [_joined([sure, brief, _more(report)], "\n"), answer]
    above = [one for one in (figures, drawing) if one]
    while above and _height([*above, *below]) > LINES:
        # what was drawn says most; figures give way first
        above.pop(0)
    return _joined([*above, *below])


def _more(report: Report) -> str:
    """What --more would add."""
    kinds = [
        "the figures" if report.tables else "",
        f"{len(report.notes)} notes" if len(report.notes) > 1 else "a note" if report.notes else "",
        "what was assumed" if report.assumed else "",
        "every caution" if report.cautions else "",
    ]
    named = [one for one in kinds if one]
    if not named:
        return ""
    return f"--more: {', '.join(named[:-1])}{' and ' if len(named) > 1 else ''}{named[-1]}."


def _brief(report: Report) -> str:
    return wrap(report.brief_cautions, "Caution: ", "") if report.brief_cautions else ""


def _table(table: Table) -> str:
    """Columns as wide as they need; the last one is wrapped."""
    rows = table.rows
    if not table.head:
        body = [wrap(row[1], f"{row[0]:{NAME_COLUMNS}}") for row in rows]
        return "\n".join([table.title, *body] if table.title else body)
    wide = [max(len(row[n]) for row in (table.head, *rows)) for n in range(len(table.head))]
    lines = []
    for row in (table.head, *rows):
        cells = [f"{cell:{w}}" if n == 0 else f"{cell:>{w}}" for n, (cell, w) in enumerate(zip(row, wide, strict=True))]
        before = (" " * _GAP).join(cells[:-1]) + " " * _GAP
        lines.append(wrap(row[-1], before) if len(before) + len(row[-1]) > COLUMNS else (before + row[-1]).rstrip())
    return "\n".join([table.title, *lines] if table.title else lines)


def _paragraphs(lines: Sequence[str]) -> str:
    return "\n".join(wrap(line) for line in lines if line)


def _joined(blocks: Sequence[str], between: str = "\n\n") -> str:
    return between.join(block for block in blocks if block)


def _height(blocks: Sequence[str]) -> int:
    return _joined(blocks).count("\n") + 1
