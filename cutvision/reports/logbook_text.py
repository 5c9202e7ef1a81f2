"""The logbook in words: jigs and runs in a list, one run, two beside each other, and what the book still asks for."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from cutvision.logbook.book import Asked
from cutvision.logbook.differences import Difference
from cutvision.logbook.records import EvidenceFile, InputValue, JigRecord, MoveSet, Run
from cutvision.logbook.verification import Finding, Verified
from cutvision.reports.cautions import cautions
from cutvision.reports.columns import bullets, one_line, wrap
from cutvision.reports.encode import recorded_correction
from cutvision.reports.says_correction import headline, sure_lines
from cutvision.units import format_angle_with_bound, format_length, format_length_with_bound, format_number

_TURNS = {"clockwise": "clockwise", "counterclockwise": "counter-clockwise", None: ""}
_DECISIONS = {
    "move": "move",
    "leave": "leave",
    "cannot-tell": "cannot tell",
    "needs-kept": "kept side?",
    None: "",
}
LEAST_SHARE = 0.005
MOST_DIFFERENCES = 20
SET_TO_MM = 0.1  # a move is told to a hundredth
SMALL_DEG = 5.0  # larger angles are told in degrees alone
_LEFT = 17  # columns of the names in a table of two


def asked_words(asked: Sequence[Asked]) -> str:
    """What the book still asks for, in a sentence each; empty when it asks for nothing."""
    after = {"fastening": "The fence was fastened after run {0}", "move": "The fence was moved after run {0}"}
    return " ".join(
        f"{after[one.after].format(one.run)}: the logbook asks for a check cut, recorded with --check-of {one.run}."
        for one in asked
    )


def jigs_text(jigs: Sequence[JigRecord], runs: Sequence[Run], asked: Mapping[str, Sequence[Asked]]) -> str:
    """Every jig with its count of runs, its last run and what is asked for."""
    names = {jig.identity: jig.name for jig in jigs}
    blocks = []
    for jig in jigs:
        own = [run for run in runs if run.jig == jig.identity]
        facts = [f"{len(own)} {'run' if len(own) == 1 else 'runs'}"]
        facts += [f"last {own[-1].conditions.day.isoformat()}"] if own else []
        facts += [f"{len(jig.versions)} versions"] if len(jig.versions) > 1 else []
        facts += [f"test pieces squared by '{names[jig.squared_by]}'"] if jig.squared_by in names else []
        facts += ["retired"] if jig.retired else []
        lines = [wrap(f"{jig.name}: {', '.join(facts)}.", "", "  ")]
        lines += [wrap(asked_words(asked[jig.identity]), "  ")] if asked.get(jig.identity) else []
        blocks.append("\n".join(lines))
    text = "\n".join(blocks) or "The logbook has no jig yet: cutvision jig new sets one up."
    return with_cautions(text, asks=any(asked.values()))


def runs_text(runs: Sequence[Run], asked: Sequence[Asked] = ()) -> str:
    """The runs, one a line, oldest first, with what was set or said after each below it."""
    if not runs:
        return "The logbook has no such run yet: measure or correct with --jig NAME records one."
    numbers = {run.identity: run.number for run in runs}
    wide = min(16, max(len(run.jig_name) for run in runs))
    lines = [f"{'run':>5}  {'date':10}  {'jig':{wide}}  {'error, 95 % bound':22}  decision"]
    for run in runs:
        name = run.jig_name if len(run.jig_name) <= wide else f"{run.jig_name[: wide - 1]}…"
        lines.append(
            f"{run.number:>5}  {run.conditions.day.isoformat()}  {name:{wide}}  {_error(run):22}  "
            f"{_DECISIONS.get(run.headline.decision, '')}".rstrip()
        )
        lines += [wrap(told, " " * 7) for told in _afterwards(run, numbers)]
    lines += [
        "",
        wrap(
            "A positive error is counter-clockwise, or, for a square cut whose kept side was not said, a kept corner "
            "over 90 deg."
        ),
    ]
    lines += [wrap(asked_words(asked))] if asked else []
    return with_cautions("\n".join(lines), asks=bool(asked))


def run_text(run: Run, path_of: Callable[[EvidenceFile], Path], checks: Sequence[Run], checked: Run | None) -> str:
    """All that is kept of a run. checks: the runs that check it. checked: the run that it checks."""
    said = run.conditions
    blocks = []
    if run.struck is not None:
        blocks.append(wrap(f"Struck out on {run.struck.recorded_at.date().isoformat()}: {run.struck.why}"))
    blocks.append("\n".join(_outcome(run)))
    rows = [
        ("recorded", f"{run.recorded_at:%Y-%m-%d %H:%M} UTC by cutvision {run.program}"),
        ("identity", run.identity),
        ("fence", said.fence or ""),
        ("humidity", said.humidity),
        ("blade", said.blade),
        ("stock", said.stock),
        ("note", said.note),
        ("checks", "" if checked is None else f"run {checked.number}"),
        ("checked by", ", ".join(f"run {check.number}" for check in checks)),
        *(("set afterwards", move_words(move)) for move in run.moves),
    ]
    blocks.append(_table(rows))
    inputs = [f"    {_input(value)}" for value in run.inputs.values]
    blocks.append("\n".join(["Computed from", f"  {' '.join(run.inputs.command)}", *inputs]))
    quantities = run.result.get("quantities", {})
    if quantities:
        blocks.append(_table([(name, quantity_words(quantity)) for name, quantity in quantities.items()]))
    correction = run.correction
    if correction is not None and correction.get("budget"):
        shares = [
            (f"{row['influence'][:40]}", f"{100 * row['share']:.0f} % of the variance, type {row['type']}")
            for row in correction["budget"]
            if row["share"] >= LEAST_SHARE
        ]
        blocks.append("Where the doubt of the error comes from\n" + _table(shares, 42))
    if run.evidence:
        files = [
            f"  {file.kind}: {one_line(file.name)}{', left in its place' * bool(file.left_at)}\n    {file.sha256}\n"
            f"    {path_of(file)}"
            for file in run.evidence
        ]
        blocks.append("\n".join(["Files, each with its sha256 and its place", *files]))
    title = f"Run {run.number} of '{run.jig_name}', {said.day.isoformat()}"
    return with_cautions("\n\n".join([title, *blocks]), asks=run.headline.decision == "move")


def compared_text(one: Run, other: Run) -> str:
    """Two runs beside each other, and how much their errors differ against both bounds."""
    rows = [
        ("run", f"{one.number} of '{one.jig_name}'", f"{other.number} of '{other.jig_name}'"),
        ("date", one.conditions.day.isoformat(), other.conditions.day.isoformat()),
        ("error", _error(one), _error(other)),
        ("decision", *(_DECISIONS.get(run.headline.decision, "") for run in (one, other))),
        ("fence", one.conditions.fence or "", other.conditions.fence or ""),
        ("humidity", one.conditions.humidity, other.conditions.humidity),
        ("blade", one.conditions.blade, other.conditions.blade),
        ("stock", one.conditions.stock, other.conditions.stock),
        ("program", one.program, other.program),
        ("struck out", *(run.struck.why if run.struck else "" for run in (one, other))),
    ]
    names = dict.fromkeys([*(_options(one)), *(_options(other))])
    rows += [(name, _options(one).get(name, ""), _options(other).get(name, "")) for name in names]
    shown = [row for row in rows if row[1] or row[2]]
    lines = [f"{'*' if a != b else ' '} {name:{_LEFT}} {_short(a)} {_short(b)}".rstrip() for name, a, b in shown]
    return "\n".join([wrap(difference_words(one, other)), "", *lines, "", "* marks what differs."])


def difference_words(one: Run, other: Run) -> str:
    """Whether the errors of two runs differ by more than their bounds explain."""
    a, b = one.headline, other.headline
    if a.error_deg is None or b.error_deg is None or a.bound_deg is None or b.bound_deg is None:
        return "One of them tells no error of the fence, so the errors cannot be compared."
    if (one.correction or {}).get("positive_means") != (other.correction or {}).get("positive_means"):
        return "Their errors are not of one sign: one was told with --kept, the other without."
    difference = math.radians(b.error_deg - a.error_deg)
    bound = math.radians(math.hypot(a.bound_deg, b.bound_deg))
    told = format_angle_with_bound(difference, bound)
    if abs(difference) <= bound:
        return f"The errors differ by {told}: no more than their bounds explain."
    return f"The errors differ by {told}: more than their bounds explain, so the fence or the cut has changed."


def verified_text(verified: Verified, where: Path) -> str:
    """What verify looked at and found."""
    counted = f"Looked at in {where}: jigs {verified.jigs}, runs {verified.runs}, stored files {verified.files}."
    if verified.sound:
        title = "Every file is there and unchanged, and every row is as it was recorded."
    else:
        title = "Not everything is as it was recorded. Nothing was mended."
    return "\n".join([wrap(title), wrap(counted), *(_finding(finding) for finding in verified.findings)])


def recomputed_text(run: Run, program: str, differing: Sequence[Difference]) -> str:
    """What differs when a run is computed again, the figures first."""
    told = f"Run {run.number} of '{run.jig_name}', recorded by cutvision {run.program} and computed again by {program}"
    if not differing:
        return wrap(f"{told}: every figure and every word is the same.")
    order = sorted(differing, key=lambda one: not isinstance(one.recorded, int | float))
    rows = [
        wrap(f"{one.where}: {_value(one.recorded)} was recorded, {_value(one.computed)} now", "- ", "  ")
        for one in order
    ]
    left = len(rows) - MOST_DIFFERENCES
    more = [f"and {left} more; --json tells all."] if left > 0 else []
    return "\n".join([wrap(f"{told}: {len(differing)} values differ."), *rows[:MOST_DIFFERENCES], *more])


def move_words(move: MoveSet) -> str:
    """A move that was set, in both units."""
    how = f"{format_length(move.distance_mm, SET_TO_MM)} {_TURNS[move.turn]}".strip()
    parts = [how if move.distance_mm else "not moved", *([f"then {move.fence}"] if move.fence else []), move.note]
    return f"{', '.join(part for part in parts if part)} ({(move.day or move.recorded_at.date()).isoformat()})"


def quantity_words(quantity: Mapping[str, Any]) -> str:
    """A quantity of a result with its bound in both units."""
    value, bound = quantity["value"], quantity["expanded_uncertainty"]
    if quantity["unit"] == "mm":
        return format_length_with_bound(value, bound)
    if quantity["unit"] == "deg" and abs(value) > SMALL_DEG:
        return f"{format_number(value, bound)} ± {format_number(bound, bound)} deg"
    if quantity["unit"] == "deg":
        return format_angle_with_bound(math.radians(value), math.radians(bound))
    return f"{format_number(value, bound)} ± {format_number(bound, bound)}"


def with_cautions(text: str, *, asks: bool) -> str:
    """The text, with the cautions below it when it sends someone to the saw."""
    return f"{text}\n\n{bullets('Cautions', cautions('adjust', 'cut'))}" if asks else text


def _error(run: Run) -> str:
    told = run.headline
    if told.refused is not None:
        return f"refused: {told.refused}"
    if told.error_deg is None or told.bound_deg is None:
        return "-"
    sign = "+" if told.error_deg > 0 else ""
    return (
        f"{sign}{format_number(told.error_deg, told.bound_deg)} ± {format_number(told.bound_deg, told.bound_deg)} deg"
    )


def _afterwards(run: Run, numbers: Mapping[str, int]) -> list[str]:
    lines = [f"fence {run.conditions.fence}"] if run.conditions.fence else []
    lines += [f"checks run {numbers[run.check_of]}"] if run.check_of and run.check_of in numbers else []
    lines = [", ".join(lines)] if lines else []
    lines += [f"set: {move_words(move)}" for move in run.moves]
    lines += [f"struck out: {run.struck.why}"] if run.struck else []
    return lines


def _outcome(run: Run) -> list[str]:
    """What came out of a run: the decision and its reason, or why photos were refused."""
    result, correction = run.result, run.correction
    if "refusals" in result:
        return [
            wrap(f"{one['file']}: refused ({one['reason']}). {one['message']}", "", "  ") for one in result["refusals"]
        ]
    if correction is None:
        return [f"A {result.get('shape', 'piece')} was measured; nothing was asked of the fence."]
    found = recorded_correction(correction)
    return [wrap(line) for line in (*headline(found), *sure_lines(found))]


def _value(value: object) -> str:
    text = "nothing" if value is None else repr(value) if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else f"{text[:59]}…"


def _input(value: InputValue) -> str:
    source = {"typed": "", "jig": "  (from the jig)", "logbook": "  (from the squaring jig's last run)"}[value.source]
    return f"{value.option} {one_line(value.value)}{source}"


def _options(run: Run) -> dict[str, str]:
    found: dict[str, str] = {}
    for value in run.inputs.values:
        text = one_line(value.value)
        found[value.option] = f"{found[value.option]}, {text}" if value.option in found else text
    return found


def _short(text: str) -> str:
    return f"{text if len(text) <= 29 else f'{text[:28]}…':29}"


def _table(rows: Sequence[tuple[str, str]], left: int = _LEFT) -> str:
    return "\n".join(wrap(text, f"{name:{left}} ", " " * (left + 1)) for name, text in rows if text)


def _finding(finding: Finding) -> str:
    mark = "Harmless: " if finding.harmless else "WRONG: "
    return "\n".join([wrap(finding.what, f"- {mark}", "  "), wrap(finding.remedy, "  What to do: ", "  ")])
