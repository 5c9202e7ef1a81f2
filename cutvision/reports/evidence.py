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
from cutvision.reports.cautions import Topic, cautions
from cutvision.reports.columns import one_line
from cutvision.reports.encode import recorded_correction
from cutvision.reports.evidence_pictures import Picture, pictures_of
from cutvision.reports.figure import figure_bytes
from cutvision.reports.jig_words import value_words
from cutvision.reports.says_correction import headline, sure_lines
from cutvision.reports.trend import trend_of, trend_words
from cutvision.reports.trend_chart import trend_figure
from cutvision.units import format_angle_with_bound, format_length_with_bound, format_number

Paper = Literal["a4", "letter"]
# So that a run prints on two pages whatever is in it; what is left out is counted and stays in the logbook.
MOST_ROWS = 10
MOST_FIGURES = 14  # a measured miter with its correction
MOST_NOTES = 6
LONGEST_WORDS = 240
# From so many lines on a run is set smaller to print on two pages.
MANY_LINES = 62
COLUMN = 95
# Larger angles are told in degrees alone: nobody reads 2700 minutes.
SMALL_DEG = 2.0

_TURN = {"clockwise": "clockwise", "counterclockwise": "counter-clockwise"}
_ADVISED: dict[str, tuple[Topic, ...]] = {
    "move": ("measure", "adjust", "cut"),
    "leave": ("measure", "cut"),
    "cannot-tell": ("photo", "measure", "cut"),
    "needs-kept": ("photo", "measure"),
}
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
    correction = run.correction
    decided = "" if correction is None else recorded_correction(correction).decision.action
    return RunSheet(
        f"{run.jig_name}: run {run.number}, {run.conditions.day.isoformat()}",
        _short(f"Struck out on {run.struck.recorded_at.date().isoformat()}: {run.struck.why}") if run.struck else "",
        tuple(_short(line) for line in _answer(run, correction)),
        _capped(_figures(run.result, correction), lambda n: ("...", f"{n} more in the logbook"), MOST_FIGURES),
        _budget(correction),
        _conditions(run),
        "cutvision " + " ".join(run.inputs.command),
        _inputs(run),
        tuple(_short(line) for line in _moves(run)),
        _notes(run.result, correction),
        pictures_of(run.evidence, files),
        _files(run, files),
        _versions(run),
        cautions(*_ADVISED.get(decided, ("photo", "measure"))),
    )


def _answer(run: Run, correction: Mapping[str, Any] | None) -> list[str]:
    """The action first, then how the fence stands."""
    if run.headline.refused is not None:
        refusals = run.result.get("refusals", [])
        return ["The photo was refused."] + [f"{one['message']} {one['remedy']}" for one in refusals[:2]]
    if correction is None:
        return ["Measured, without a question about the fence."]
    found = recorded_correction(correction)
    return [*headline(found), *sure_lines(found)]


def _figures(result: Mapping[str, Any], correction: Mapping[str, Any] | None) -> list[Row]:
    rows = []
    if correction is not None:
        rows += [
            ("fence error", f"{_angle(correction['angle_error'])} (+ {_positive(correction)})"),
            ("move at the lever", _length(correction["fence_move"])),
            ("lever", _length(correction["fence_length"])),
            ("way it was found", f"{correction['method']}: {correction['way']}"),
        ]
        decision = correction["decision"]
        if decision["tolerance"] is not None:
            said = decision.get("tolerance_said") or f"{decision['tolerance']:.3g} deg"
            rows.append(("tolerance", f"±{decision['tolerance']:.3g} deg, said as {said}"))
        if decision.get("probability_within") is not None:
            rows.append(("chance to be within", _chance(decision["probability_within"])))
    if "quantities" in result:
        rows += [(name.replace("_", " "), _quantity(one)) for name, one in result["quantities"].items()]
    if "shape" in result:
        rows.append(("shape", str(result["shape"])))
    return rows


def _chance(probability: float) -> str:
    if 0.001 <= probability <= 0.999:
        return f"{100 * probability:.1f} %"
    return "under 0.1 %" if probability < 0.5 else "over 99.9 %"


def _positive(correction: Mapping[str, Any]) -> str:
    means = str(correction["positive_means"])
    return _TURN.get(means, means)


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
        BudgetLine(
            f"times {k:.2f}", "", format_number(expanded, u / 10), "", "holds the true value in about 95 of 100"
        ),
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
    told = {"typed": "", "jig": " (from the jig)", "logbook": " (from another jig's last run)"}
    rows = []
    for one in run.inputs.values:
        value = one.value if one.sha256 is None else one.value.replace("\\", "/").rsplit("/", maxsplit=1)[-1]
        rows.append((one.option, _short(value, 80) + told[one.source]))
    return _capped(rows, lambda n: ("...", f"{n} more in the logbook"), 2 * MOST_ROWS)


def _moves(run: Run) -> list[str]:
    lines = []
    for move in run.moves[:MOST_NOTES]:
        turn = f" {_TURN[move.turn]}" if move.turn else ""
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


def _notes(result: Mapping[str, Any], correction: Mapping[str, Any] | None) -> tuple[str, ...]:
    found = [*result.get("notes", ()), *((correction or {}).get("notes", ()) if correction is not result else ())]
    lines = dict.fromkeys(_short(f"{note['message']} {note['remedy']}".strip()) for note in found)
    return _capped([*lines], lambda n: f"{n} more in the logbook", MOST_NOTES)


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
        f"{move.distance_mm:.3g} mm {_TURN.get(move.turn or '', '')}".strip()
        for move in run.moves[:3]
        if move.distance_mm
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
    if abs(one["value"]) < SMALL_DEG:
        return _angle(one)
    bound = one["expanded_uncertainty"]
    return f"{format_number(one['value'], bound)} ± {format_number(bound, bound)} deg"


def _angle(one: Mapping[str, Any]) -> str:
    return format_angle_with_bound(math.radians(one["value"]), math.radians(one["expanded_uncertainty"]))


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
