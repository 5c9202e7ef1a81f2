"""What an evidence sheet says of a run and of a jig, as plain words: the same for the page to print and the PDF."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from cutvision.correction.jig_file import OPTION_KEYS, JigFile, read_jig_file
from cutvision.errors import InputError
from cutvision.logbook.records import JigRecord, Run
from cutvision.reports.cautions import cautions
from cutvision.reports.columns import one_line
from cutvision.reports.evidence_pictures import Picture, pictures_of
from cutvision.reports.figure import figure_bytes
from cutvision.reports.jig_words import value_words
from cutvision.reports.model import Report
from cutvision.reports.recorded import recorded_report
from cutvision.reports.trend import trend_of, trend_words
from cutvision.reports.trend_chart import trend_figure
from cutvision.reports.wording import slope_words
from cutvision.units import format_length_with_bound, format_number

Paper = Literal["a4", "letter"]
# So that a run prints on two pages whatever is in it; what is left out is counted and stays in the logbook.
MOST_ROWS = 10
MOST_FIGURES = 14  # a measured miter with its correction
MOST_NOTES = 6
LONGEST_WORDS = 240
LONGEST_ANSWER = 600
# From so many lines on a run is set smaller to print on two pages.
MANY_LINES = 62
COLUMN = 95
Row = tuple[str, str]


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """A row of the fence error's budget, in words; share in percent."""

    influence: str
    kind: str
    part: str
    share: str
    source: str


@dataclass(frozen=True, slots=True)
class RunSheet:
    """One run. answer: the action first. struck: why it was struck out, empty while it stands."""

    title: str
    struck: str
    answer: tuple[str, ...]
    figures: tuple[Row, ...]
    budget: tuple[BudgetLine, ...]
    conditions: tuple[Row, ...]
    command: str
    inputs: tuple[Row, ...]
    moves: tuple[str, ...]
    notes: tuple[str, ...]
    pictures: tuple[Picture, ...]
    files: tuple[Row, ...]
    versions: tuple[Row, ...]
    cautions: tuple[str, ...]

    @property
    def dense(self) -> bool:
        """Whether it holds so much that it must be set smaller."""
        pairs = (*self.figures, *self.conditions, *self.files)
        rows = [*(text for _, text in pairs), *(row.source * 2 for row in self.budget)]
        halves = [text * 2 for _, text in self.inputs]  # two columns: half as wide, and half as many lines
        lines = sum(1 + len(text) // COLUMN for text in (*self.answer, *self.moves, *self.notes, *rows))
        return lines + sum(1 + len(text) // COLUMN for text in halves) / 2 > MANY_LINES


@dataclass(frozen=True, slots=True)
class JigSheet:
    """A jig and its runs. trend: the chart as PNG, None without one; verdict: what it says, or why there is none."""

    title: str
    jig: tuple[Row, ...]
    verdict: tuple[str, ...]
    trend: bytes | None
    history: tuple[tuple[str, ...], ...]
    cautions: tuple[str, ...]
    runs: tuple[RunSheet, ...]
    made: str


HISTORY_COLUMNS = ("run", "day", "fence error, deg", "decision", "set afterwards", "fence")


def jig_sheet(
    jig: JigRecord, runs: Sequence[Run], files: Mapping[str, bytes], *, made_at: datetime, program: str
) -> JigSheet:
    """All that the sheet says. files: by sha256, those that could be read; runs: the ones to be shown, oldest first."""
    trend: bytes | None = None
    verdict: tuple[str, ...] = ()
    if len(runs) > 1:
        try:
            found = trend_of(runs)
        except InputError as none:
            verdict = (none.message,)
        else:
            trend, verdict = figure_bytes(trend_figure(found, jig.name, worded=False), "png"), trend_words(found)
    retired = " (retired)" if jig.retired else ""
    return JigSheet(
        f"{jig.name}{retired}",
        _jig_rows(jig),
        verdict,
        trend,
        tuple(_history(run) for run in runs),
        cautions("photo", "measure", "cut"),
        tuple(run_sheet(run, files) for run in runs),
        f"Made {made_at.astimezone().strftime('%Y-%m-%d %H:%M')} by cutvision {program}",
    )


def run_sheet(run: Run, files: Mapping[str, bytes]) -> RunSheet:
    """One run's sheet."""
    correction, report = run.correction, recorded_report(run)
    return RunSheet(
        f"{run.jig_name}: run {run.number}, {run.conditions.day.isoformat()}",
        _short(f"Struck out on {run.struck.recorded_at.date().isoformat()}: {run.struck.why}") if run.struck else "",
        tuple(_short(line, LONGEST_ANSWER) for line in (*report.headline, *report.sure)),
        _capped(_figures(run.result, correction), lambda n: ("...", f"{n} more in the logbook"), MOST_FIGURES),
        _budget(correction),
        _conditions(run),
        "cutvision " + " ".join(run.inputs.command),
        _inputs(run),
        tuple(_short(line) for line in _moves(run)),
        _notes(run.result, report),
        pictures_of(run.evidence, files),
        _files(run, files),
        _versions(run),
        report.cautions,
    )


def _figures(result: Mapping[str, Any], correction: Mapping[str, Any] | None) -> list[Row]:
    rows = []
    if correction is not None:
        error = correction["angle_error"]
        rows += [
            ("fence's error", f"{_quantity(error)}, positive {correction['positive_means']}"),
            (
                "  as shops say it",
                slope_words(*(math.radians(error[key]) for key in ("value", "expanded_uncertainty"))),
            ),
            ("move at that distance", _length(correction["fence_move"])),
            ("distance from the pivot", _length(correction["fence_length"])),
            ("found by", f"{correction['method']}: {correction['way']}"),
        ]
    if "quantities" in result:
        rows += [(name.replace("_", " "), _quantity(one)) for name, one in result["quantities"].items()]
    if "shape" in result:
        rows.append(("shape", str(result["shape"])))
    return rows


def _budget(correction: Mapping[str, Any] | None) -> tuple[BudgetLine, ...]:
    if correction is None:
        return ()
    rows = correction["budget"]
    u = correction["angle_error"]["standard_uncertainty"]
    lines = [
        BudgetLine(
            str(row["influence"]),
            str(row["type"]),
            format_number(row["standard_uncertainty"], u / 10),
            f"{row['share']:.0%}",
            _short("; ".join(row["sources"][:2]), 90),
        )
        for row in rows[:MOST_ROWS]
    ]
    rest = rows[MOST_ROWS:]
    if rest:
        part = math.sqrt(math.fsum(row["standard_uncertainty"] ** 2 for row in rest))
        share = math.fsum(row["share"] for row in rest)
        lines.append(BudgetLine(f"{len(rest)} more", "", format_number(part, u / 10), f"{share:.0%}", ""))
    k = correction["angle_error"]["coverage_factor"]
    expanded = correction["angle_error"]["expanded_uncertainty"]
    return (
        *lines,
        BudgetLine("together", "", format_number(u, u / 10), "", "root sum of squares"),
        BudgetLine(f"times {k:.2f}", "", format_number(expanded, u / 10), "", "the 95 % uncertainty"),
    )


def _conditions(run: Run) -> tuple[Row, ...]:
    said = run.conditions
    rows = [
        ("fence", said.fence or ""),
        ("humidity", said.humidity),
        ("blade", said.blade),
        ("stock", said.stock),
        ("note", said.note),
    ]
    return tuple((name, _short(text)) for name, text in rows if text)


def _inputs(run: Run) -> tuple[Row, ...]:
    """What was typed or filled; a photo by its name alone, since a path may tell where a person lives."""
    source = {"typed": "", "jig": " (from the jig)", "logbook": " (from another jig's last run)"}
    rows = []
    for one in run.inputs.values:
        value = one.value if one.sha256 is None else one.value.replace("\\", "/").rsplit("/", maxsplit=1)[-1]
        rows.append((one.option, _short(value, 80) + source[one.source]))
    return _capped(rows, lambda n: ("...", f"{n} more in the logbook"), 2 * MOST_ROWS)


def _moves(run: Run) -> list[str]:
    lines = []
    for move in run.moves[:MOST_NOTES]:
        turn = f" {move.turn}" if move.turn else ""
        done = f"moved {_bare(move.distance_mm)}{turn}" if move.distance_mm else "not moved"
        fence = f", {move.fence}" if move.fence else ""
        note = f": {move.note}" if move.note else ""
        day = move.day or move.recorded_at.date()
        lines.append(f"{day.isoformat()} {done}{fence}{note}")
    if len(run.moves) > MOST_NOTES:
        lines.append(f"{len(run.moves) - MOST_NOTES} more in the logbook")
    if run.check_of is not None:
        lines.append(f"This cut checks the run {run.check_of[:8]}.")
    return lines


def _notes(result: Mapping[str, Any], report: Report) -> tuple[str, ...]:
    own = [f"{note['message']} {note['remedy']}".strip() for note in result.get("notes", ())]
    return _capped(
        [*dict.fromkeys(map(_short, (*own, *report.notes)))], lambda n: f"{n} more in the logbook", MOST_NOTES
    )


def _files(run: Run, files: Mapping[str, bytes]) -> tuple[Row, ...]:
    rows = []
    for one in run.evidence:
        where = "left where it was" if one.left_at is not None else "in the logbook"
        here = "" if one.sha256 in files else ", not read here"
        rows.append((f"{_short(one.name, 60)} ({one.kind}, {one.size} bytes, {where}{here})", f"sha256 {one.sha256}"))
    return _capped(rows, lambda n: (f"{n} more in the logbook", ""))


def _versions(run: Run) -> tuple[Row, ...]:
    return (
        ("run", run.identity),
        ("recorded", run.recorded_at.isoformat(timespec="seconds")),
        ("computed by", f"cutvision {run.program}, {run.schema}"),
    )


def _jig_rows(jig: JigRecord) -> tuple[Row, ...]:
    try:
        read = read_jig_file(jig.text, jig.name)
    except InputError:  # written by a version that knew other keys
        return tuple(("", _short(line)) for line in jig.text.splitlines()[:MOST_ROWS])
    return (("kind", read.kind), *_option_rows(read), *_made_rows(read, jig))


def _option_rows(read: JigFile) -> list[Row]:
    return [(key, f"{value_words(key, text)}: {OPTION_KEYS[key].means}") for key, text in read.options.items()]


def _made_rows(read: JigFile, jig: JigRecord) -> list[Row]:
    rows = [
        ("made by", read.made_by),
        ("made on", "" if read.made_on is None else read.made_on.isoformat()),
        ("note", _short(read.note)),
        ("versions", f"{len(jig.versions)}, the newest of {jig.versions[-1].recorded_at.date().isoformat()}"),
        ("identity", jig.identity),
    ]
    return [(name, text) for name, text in rows if text]


def _history(run: Run) -> tuple[str, ...]:
    error, bound = run.headline.error_deg, run.headline.bound_deg
    told = "" if error is None or bound is None else f"{format_number(error, bound)} ± {format_number(bound, bound)}"
    decision = "struck out" if run.struck else f"refused: {run.headline.refused}" if run.headline.refused else ""
    moves = "; ".join(
        f"{move.distance_mm:.3g} mm {move.turn or ''}".strip() for move in run.moves[:3] if move.distance_mm
    )
    held: list[str | None] = [run.conditions.fence, *(move.fence for move in run.moves if move.fence)]
    return (
        str(run.number),
        run.conditions.day.isoformat(),
        told,
        decision or (run.headline.decision or ""),
        moves,
        held[-1] or "",
    )


def _quantity(one: Mapping[str, Any]) -> str:
    if one["unit"] == "mm":
        return _length(one)
    bound = one["expanded_uncertainty"]
    return f"{format_number(one['value'], bound)} ± {format_number(bound, bound)} deg"


def _length(one: Mapping[str, Any]) -> str:
    return format_length_with_bound(one["value"], one["expanded_uncertainty"])


def _bare(value_mm: float) -> str:
    return f"{value_mm:.3g} mm ({value_mm / 25.4:.3g} in)"


def _short(text: str, longest: int = LONGEST_WORDS) -> str:
    text = one_line(text)
    return text if len(text) <= longest else f"{text[: longest - 4]} ..."


def _capped(rows: Sequence[Any], more: Any, most: int = MOST_ROWS) -> tuple[Any, ...]:
    kept = tuple(rows[:most])
    return kept if len(rows) <= most else (*kept, more(len(rows) - most))
