"""The calculation behind a correction, line by line, with the numbers as a person writes them on paper.

Each line reckons with the numbers that stand written above it, rounded as they are, so that a pencil and a pocket
calculator come to the same; enough places are carried for the end to agree with the exact core.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from cutvision.correction.result import Correction
from cutvision.uncertainty import budget
from cutvision.units import MM_PER_INCH, decimals, format_number

StepUnit = Literal["", "mm", "in", "deg", "min", "mdeg", "mdeg^2"]
SectionName = Literal["readings", "error", "move", "bound", "decision", "shop rule"]
DEPARTURES_RAD = tuple(math.radians(error) for error in (0.1, 0.5, 1.0, 2.0))
DEG_PER_RAD_TEXT = "57.2957795"
# Places carried beyond the last one that the answer shows; more are tried when rounding would show in the answer.
EXTRA_PLACES = range(2, 9)
# So near, in units of the last place shown, a number agrees even when the two lie on either side of half a unit.
TIE = 0.01


@dataclass(frozen=True, slots=True)
class Number:
    """A number as it is written down, in decimal figures."""

    text: str

    @property
    def value(self) -> float:
        return float(self.text)

    def __str__(self) -> str:
        """As it stands inside a formula: in brackets when it is negative."""
        return f"({self.text})" if self.text.startswith("-") else self.text


@dataclass(frozen=True, slots=True)
class Given:
    """What the calculation starts from: its letter, what it is, the number and its unit."""

    letter: str
    words: str
    number: Number
    unit: Literal["mm", "deg", ""]


@dataclass(frozen=True, slots=True)
class Step:
    """One line: what is done, in words and as a formula; the same with the numbers put in; what comes out.

    numbers: + - x / ^ and brackets, sqrt, and sin, cos, tan, asin, atan with angles in degrees; it gives `result`, to
    within half of its last place. unit: of the result; "mdeg" is a thousandth of a degree.
    """

    words: str
    formula: str
    numbers: str
    result: Number
    unit: StepUnit


@dataclass(frozen=True, slots=True)
class Section:
    """Lines that belong together. conclusion: what they come to, in words; may be empty."""

    name: SectionName
    steps: tuple[Step, ...]
    conclusion: str = ""


@dataclass(frozen=True, slots=True)
class Departure:
    """The shop's rule beside the exact value for a fence that stands off by so much; lever and piece as they are.

    All in rad and mm, the signs left out.
    """

    error_rad: float
    rule_rad: float
    lever_mm: float

    @property
    def angle_share(self) -> float:
        """How far the rule's angle departs, as a share of the exact one."""
        return self.rule_rad / self.error_rad - 1

    @property
    def move_share(self) -> float:
        """How far the rule's move (angle in radians x lever) departs, as a share of the exact one."""
        return self.rule_rad / math.tan(self.error_rad) - 1


@dataclass(frozen=True, slots=True)
class Explanation:
    """The whole calculation: what is given, the sections in order, and how the shop's rule departs as errors grow."""

    correction: Correction
    givens: tuple[Given, ...]
    sections: tuple[Section, ...]
    departures: tuple[Departure, ...]

    def section(self, name: SectionName) -> Section:
        """The section of this name. Raises KeyError when it was not needed."""
        for section in self.sections:
            if section.name == name:
                return section
        raise KeyError(name)


@dataclass(frozen=True, slots=True)
class Rule:
    """The shop's rule for the error, as a plain number (radians) signed like it: formula, numbers, value."""

    formula: str
    numbers: str
    value: float


class Paper:
    """Lines written one below the other, each number rounded to the places carried for its kind."""

    def __init__(self, correction: Correction, extra: int) -> None:
        bound_deg = math.degrees(correction.angle_error.expanded_uncertainty)
        angle = max(0, decimals(bound_deg)) + extra
        length = max(0, decimals(correction.fence_move.expanded_uncertainty)) + extra
        # One radian is 57 degrees: a plain number needs two places more than the angle that comes of it.
        self._places: dict[StepUnit, int] = {
            "": angle + 2,
            "mm": length + 1,
            "in": length + 2,
            "deg": angle,
            "min": max(0, angle - 1),
            "mdeg": max(0, angle - 3) + 1,
            "mdeg^2": max(0, angle - 3) + 2,
        }
        self.givens: list[Given] = []
        self.sections: list[Section] = []
        self._steps: list[Step] = []

    def give(self, letter: str, words: str, value: float, unit: Literal["mm", "deg", ""]) -> Number:
        """Write down what is given."""
        number = Number(plain_figures(value))
        self.givens.append(Given(letter, words, number, unit))
        return number

    def read(self, letter: str, words: str, values: Sequence[float], unit: Literal["mm", "deg"] = "mm") -> Number:
        """Write down what was read; of several readings their mean."""
        count = len(values)
        if count == 1:
            return self.give(letter, words, values[0], unit)
        names = [f"{letter}{number}" for number in range(1, count + 1)]
        readings = [
            self.give(name, f"{words}, reading {name[len(letter) :]}", value, unit)
            for name, value in zip(names, values, strict=True)
        ]
        return self.line(
            f"Mean of the {count} readings: {words}",
            f"{letter} = ({' + '.join(names)}) / {count}",
            f"({' + '.join(map(str, readings))}) / {count}",
            math.fsum(reading.value for reading in readings) / count,
            unit,
        )

    def line(self, words: str, formula: str, numbers: str, value: float, unit: StepUnit) -> Number:
        """Write one line; its result is rounded to the places carried for its unit."""
        result = self.rounded(value, unit)
        self._steps.append(Step(words, formula, numbers, result, unit))
        return result

    def rounded(self, value: float, unit: StepUnit) -> Number:
        """A number with the places carried for its unit."""
        places = self._places[unit]
        return Number(f"{round(value, places) + 0.0:.{places}f}")

    def close(self, name: SectionName, conclusion: str = "") -> None:
        """End a section; one without lines and conclusion is left out."""
        if self._steps or conclusion:
            self.sections.append(Section(name, tuple(self._steps), conclusion))
        self._steps = []


def plain_figures(value: float) -> str:
    """At most six places and no zeros at the end: what was typed, freed of float noise."""
    return f"{value:.6f}".rstrip("0").rstrip(".")


def explain(
    correction: Correction,
    write: Callable[[Paper], tuple[Number, Rule]],
    rule_at: Callable[[float], float | None],
) -> Explanation:
    """The whole calculation around a method's own lines.

    write: puts the readings and the error (deg, in sections "readings" and "error") on the paper and gives the error
    and the shop's rule. rule_at: the rule's angle, in rad, for a fence that stands off by a given error; None when
    there is no such piece.
    """
    for extra in EXTRA_PLACES:
        paper = Paper(correction, extra)
        error, rule = write(paper)
        paper.close("error")
        lever = paper.give("F", "lever, from the pivot to the push", correction.move.lever.value, "mm")
        move = _write_move(paper, correction, error, lever)
        bound, move_bound = _write_bound(paper, correction, error, lever)
        _write_decision(paper, correction, error, bound)
        _write_rule(paper, rule, error, move, lever)
        if _agrees(correction, (error, move, bound, move_bound)):
            break
    sign = -1.0 if correction.angle_error.value < 0 else 1.0
    rules = ((size, rule_at(sign * size)) for size in DEPARTURES_RAD)
    return Explanation(
        correction,
        tuple(paper.givens),
        tuple(paper.sections),
        tuple(Departure(size, abs(angle), correction.move.lever.value) for size, angle in rules if angle is not None),
    )


def _write_move(paper: Paper, correction: Correction, error: Number, lever: Number) -> Number:
    size = _size(error)
    value = lever.value * math.tan(math.radians(size.value))
    move = paper.line("Move at the lever", "M = F x tan|E|", f"{lever} x tan({size})", value, "mm")
    paper.line("The same in inches", "M / 25.4", f"{move} / {MM_PER_INCH}", move.value / MM_PER_INCH, "in")
    if correction.move.at_shim.value < correction.move.distance.value:
        paper.line("Held at its point, each foot goes half of it", "M / 2", f"{move} / 2", move.value / 2, "mm")
    paper.line("And the error in minutes of arc", "E x 60", f"{error} x 60", error.value * 60, "min")
    paper.close("move")
    return move


def _write_bound(paper: Paper, correction: Correction, error: Number, lever: Number) -> tuple[Number, Number]:
    """The bounds of the error (deg) and of the move (mm)."""
    squares = []
    for number, row in enumerate(budget(correction.angle_error), 1):
        part = paper.rounded(1000 * math.degrees(row.contribution), "mdeg")
        words = f"{row.name} ({'; '.join(row.sources)})" if row.sources else row.name
        squares.append(
            paper.line(words, f"p{number} x p{number}", f"{part} x {part}", part.value * part.value, "mdeg^2")
        )
    if not squares:
        paper.close("bound", "Nothing was said to be in doubt, so there is no bound.")
        nothing = Number("0")
        return nothing, nothing
    summed = paper.line(
        "Their sum",
        f"s = {' + '.join(f'p{number}^2' for number in range(1, len(squares) + 1))}",
        " + ".join(map(str, squares)),
        math.fsum(square.value for square in squares),
        "mdeg^2",
    )
    root = paper.line("Its root: the standard uncertainty", "u = sqrt(s)", f"sqrt({summed})", summed.value**0.5, "mdeg")
    k = Number(f"{correction.angle_error.coverage_factor:.6g}")
    in_mdeg = paper.line(f"Times k = {k} for 95 cases in 100", "k x u", f"{k} x {root}", k.value * root.value, "mdeg")
    bound = paper.line("Bound of the error", "U = k x u / 1000", f"{in_mdeg} / 1000", in_mdeg.value / 1000, "deg")
    size = _size(error)
    slope = 1 / math.cos(math.radians(size.value)) ** 2
    at_lever = paper.line(
        "What u makes at the lever",
        "m1 = F x u / 1000 / 57.2957795 / cos(E)^2",
        f"{lever} x {root} / 1000 / {DEG_PER_RAD_TEXT} / cos({size})^2",
        lever.value * root.value / 1000 / float(DEG_PER_RAD_TEXT) * slope,
        "mm",
    )
    lever_doubt = Number(plain_figures(correction.move.lever.standard_uncertainty))
    of_lever = paper.line(
        f"What the lever's own doubt makes (standard uncertainty {lever_doubt} mm)",
        "m2 = u(F) x tan|E|",
        f"{lever_doubt} x tan({size})",
        lever_doubt.value * math.tan(math.radians(size.value)),
        "mm",
    )
    k = Number(f"{correction.fence_move.coverage_factor:.6g}")
    move_bound = paper.line(
        f"Bound of the move, k = {k}",
        "k x sqrt(m1^2 + m2^2)",
        f"{k} x sqrt({at_lever}^2 + {of_lever}^2)",
        k.value * math.hypot(at_lever.value, of_lever.value),
        "mm",
    )
    paper.close("bound")
    return bound, move_bound


def _write_decision(paper: Paper, correction: Correction, error: Number, bound: Number) -> None:
    decision, size = correction.decision, _size(error)
    limit = paper.give("T", "tolerance", math.degrees(decision.tolerance_rad), "deg")
    than = {True: "more than", False: "not more than"}
    told = f"U = {bound} deg is {than[decision.bound_rad > decision.tolerance_rad]} T = {limit} deg"
    other = ("T", limit) if decision.bound_rad <= decision.tolerance_rad else ("U", bound)
    told += f"; |E| = {size} deg is {than[decision.moves]} {other[0]} = {other[1]} deg"
    paper.close("decision", f"{told}: {_ACTIONS[decision.action]}.")


_ACTIONS = {
    "move": "move the fence",
    "leave": "leave it",
    "cannot-tell": "leave it, as not even the way to turn is known",
    "needs-kept": "say the kept side first",
}


def _write_rule(paper: Paper, rule: Rule, error: Number, move: Number, lever: Number) -> None:
    r = paper.line("The shop's rule, a plain number", f"r = {rule.formula}", rule.numbers, rule.value, "")
    degrees = r.value * float(DEG_PER_RAD_TEXT)
    by_rule = paper.line("In degrees", "r x 57.2957795", f"{r} x {DEG_PER_RAD_TEXT}", degrees, "deg")
    size = _size(r)
    at_lever = paper.line("Its move at the lever", "|r| x F", f"{size} x {lever}", size.value * lever.value, "mm")
    paper.line("Less the exact error", "r - E", f"{by_rule} - {error}", by_rule.value - error.value, "deg")
    paper.line("Less the exact move", "|r| x F - M", f"{at_lever} - {move}", at_lever.value - move.value, "mm")
    paper.close("shop rule")


def _agrees(correction: Correction, written: tuple[Number, Number, Number, Number]) -> bool:
    """Whether error, move and bounds come out as the answer shows them, to its last place."""
    error, move = correction.angle_error, correction.fence_move
    u_deg, u_mm = math.degrees(error.expanded_uncertainty), move.expanded_uncertainty
    exact = ((math.degrees(error.value), u_deg), (move.value, u_mm), (u_deg, u_deg), (u_mm, u_mm))
    return all(
        format_number(number.value, bound) == format_number(value, bound)
        or abs(number.value - value) <= TIE * 10.0 ** -decimals(bound)
        for number, (value, bound) in zip(written, exact, strict=True)
    )


def _size(number: Number) -> Number:
    return Number(number.text.removeprefix("-"))
