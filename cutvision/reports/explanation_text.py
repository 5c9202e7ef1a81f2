"""The calculation behind a correction as a person follows it with a pencil, and for other programs."""

from __future__ import annotations

import math
from typing import Literal, TypedDict

from cutvision.correction import Correction
from cutvision.correction.explanation import Departure, Explanation, SectionName, Step
from cutvision.correction.trace import StepUnit
from cutvision.reports.cautions import Topic, cautions
from cutvision.reports.columns import COLUMNS, bullets, wrap
from cutvision.reports.encode import Json
from cutvision.reports.objects import correction_object
from cutvision.reports.says_correction import headline, note_lines, sure_lines
from cutvision.units import MM_PER_INCH

SCHEMA: Literal["cutvision/explanation/1"] = "cutvision/explanation/1"
_TITLES: dict[SectionName, str] = {
    "readings": "The readings",
    "error": "The fence's error",
    "move": "The move",
    "bound": "How sure that is (each part in thousandths of a degree, mdeg)",
    "decision": "What to do",
    "shop rule": "The shop's rule beside it",
}
_UNITS: dict[StepUnit, str] = {"min": "'", "mdeg^2": " mdeg^2"}
_INDENT = " " * 4


class GivenJson(TypedDict):
    """What the calculation starts from; `value` as it is written, in `unit`."""

    name: str
    words: str
    value: float
    unit: str


class StepJson(TypedDict):
    """One line. `numbers` is arithmetic: + - x / ^ and functions that take and give degrees; it gives `result`."""

    words: str
    formula: str
    numbers: str
    result: float
    places: int
    unit: str


class SectionJson(TypedDict):
    """Lines that belong together, and what they come to."""

    name: SectionName
    steps: list[StepJson]
    conclusion: str


class DepartureJson(TypedDict):
    """How far the shop's rule departs for a fence off by `error` degrees, as shares of the exact angle and move."""

    error: float
    angle_share: float
    move_share: float


class ExplanationJson(TypedDict):
    """The object that `explain --json` prints."""

    schema: Literal["cutvision/explanation/1"]
    given: list[GivenJson]
    sections: list[SectionJson]
    shop_rule_departs: list[DepartureJson]
    correction: Json


def explanation_text(explanation: Explanation) -> str:
    """What comes out, then every line to it, the shop's rule, what to mind and the cautions; at most 80 columns."""
    correction = explanation.correction
    topics: tuple[Topic, ...] = ("measure", "adjust", "cut")
    if correction.decision.action in {"cannot-tell", "needs-kept"}:
        topics = ("photo", *topics)
    blocks = [
        "\n".join(wrap(line) for line in (*headline(correction), *sure_lines(correction))),
        _given_block(explanation),
        *_section_blocks(explanation),
        _departures(explanation.departures),
        bullets("Notes", note_lines(correction)),
        bullets("Cautions", cautions(*topics)),
    ]
    return "\n\n".join(block for block in blocks if block) + "\n"


def explanation_as_json(explanation: Explanation) -> ExplanationJson:
    """The calculation as a plain object; the correction that it explains stands beside it as `correct` gives it."""
    return {
        "schema": SCHEMA,
        "given": [
            {"name": given.name, "words": given.words, "value": given.number.value, "unit": given.unit}
            for given in explanation.givens
        ],
        "sections": [
            {
                "name": section.name,
                "steps": [
                    {
                        "words": step.words,
                        "formula": step.formula,
                        "numbers": step.numbers,
                        "result": step.result.value,
                        "places": len(step.result.text.partition(".")[2]),
                        "unit": step.unit,
                    }
                    for step in section.steps
                ],
                "conclusion": section.conclusion,
            }
            for section in explanation.sections
        ],
        "shop_rule_departs": [
            {
                "error": math.degrees(departure.error_rad),
                "angle_share": departure.angle_share,
                "move_share": departure.move_share,
            }
            for departure in explanation.departures
        ],
        "correction": correction_object(explanation.correction),
    }


def _given_block(explanation: Explanation) -> str:
    lines = ["Given (reckon on with each number as it stands; angles in degrees)"]
    for given in explanation.givens:
        inches = f" ({given.number.value / MM_PER_INCH:.4f} in)" if given.unit == "mm" else ""
        unit = f" {given.unit}" if given.unit else ""
        lines.append(wrap(given.words, f"  {given.name.replace('_', ' ')} = {given.number.text}{unit}{inches}: "))
    return "\n".join(lines)


def _section_blocks(explanation: Explanation) -> list[str]:
    blocks, number = [], 0
    for section in explanation.sections:
        lines = [wrap(_title(section.name, explanation.correction))]
        for step in section.steps:
            number += 1
            lines += _step_lines(number, step)
        if section.conclusion:
            lines.append(wrap(section.conclusion, "  "))
        blocks.append("\n".join(lines))
    return blocks


def _title(name: SectionName, correction: Correction) -> str:
    return f"{_TITLES[name]}: {correction.first_order.rule}" if name == "shop rule" else _TITLES[name]


def _step_lines(number: int, step: Step) -> list[str]:
    """The words, then formula, numbers and result on one line when they fit, else the numbers on the next."""
    result = f"{step.result.text}{_UNITS.get(step.unit, f' {step.unit}'.rstrip())}"
    head = wrap(step.words, f"{number:2}. ")
    line = f"{_INDENT}{step.formula} = {step.numbers} = {result}"
    if len(line) <= COLUMNS:
        return [head, line]
    return [head, wrap(step.formula, _INDENT), wrap(f"= {step.numbers} = {result}", _INDENT + "  ", _INDENT + "    ")]


def _departures(departures: tuple[Departure, ...]) -> str:
    """How the rule departs as errors grow, for the same lever and such a piece."""
    if not departures:
        return ""
    lines = [
        wrap("How far the rule departs from the exact value as the fence's error grows (share of the exact value)"),
        f"  {'error':>9}{'its angle':>14}{'its move':>14}",
    ]
    for departure in departures:
        shares = f"{_share(departure.angle_share):>14}{_share(departure.move_share):>14}"
        lines.append(f"  {math.degrees(departure.error_rad):5g} deg{shares}")
    return "\n".join(lines)


def _share(share: float) -> str:
    return "none" if abs(share) < 5e-8 else f"{100 * share:+.4f} %"
