"""The calculation behind a correction, line by line: the steps that computed it, with their numbers as one writes them.

The steps of the error are the method's own (`Correction.trace`); the move, its uncertainty, the decision and the shop's
rule follow from the correction for every method alike. Enough places are written that a pencil and a pocket calculator
come to what the answer shows.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from cutvision.correction.angle_error import Kept
from cutvision.correction.miter import is_45, rule_of_45, rule_of_others
from cutvision.correction.next_reading import legs_of
from cutvision.correction.result import Correction
from cutvision.correction.trace import StepUnit, TracedNumber, Tracer
from cutvision.uncertainty import budget
from cutvision.units import MM_PER_INCH, decimals, format_number

SectionName = Literal["readings", "error", "move", "bound", "decision", "shop rule"]
DEPARTURES_RAD = tuple(math.radians(error) for error in (0.1, 0.5, 1.0, 2.0))
DEG_PER_RAD_TEXT = "57.2957795"
# Places carried beyond the last one that the answer shows.
EXTRA_PLACES = 3
# A leg so much shorter than the piece is none, but for float noise.
NO_LEG = 1e-9
# Left out of a row's name where it stands in a formula.
APOSTROPHE = "'s"
_NAME = re.compile(r"[A-Za-z][A-Za-z0-9_]*")


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
    """What the calculation starts from: its name in formulas, what it is, the number and its unit."""

    name: str
    words: str
    number: Number
    unit: StepUnit


@dataclass(frozen=True, slots=True)
class Step:
    """One line: what is done, in words and as a formula; the same with the numbers put in; what comes out.

    formula: of names, as "taper = atan(wider / spacing)". numbers: + - x / ^ and brackets, |size|, sqrt, and sin, cos,
    tan, asin, atan with angles in degrees; put into a calculator they give `result`, but for the rounding of what they
    hold. unit: of the result; "mdeg" is a thousandth of a degree.
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
class Zeroed:
    """A difference shown by a caliper zeroed on what is named `on`: it stands in for the other reading.

    values_mm: one or several readings of it. known_larger: whether what it was zeroed on is the larger.
    """

    on: str
    values_mm: Sequence[float]
    known_larger: bool


Readings = Sequence[float] | Zeroed


def explain(correction: Correction, read: Mapping[str, Readings] | None = None) -> Explanation:
    """The whole calculation of a correction.

    read: what lies behind a number that was given, by its name: several readings (mm or deg), whose mean is shown
    then, or a difference off a zeroed caliper.
    Raises ValueError for a correction that was put together without a trace.
    """
    trace = correction.trace
    if trace is None:
        raise ValueError("a correction without a trace cannot be explained")
    paper = _Paper(correction)
    behind = read or {}
    # what a difference is taken from stands above it
    givens = sorted(trace.givens, key=lambda one: isinstance(behind.get(one.name), Zeroed))
    readings = [step for one in givens for step in paper.given(one, behind.get(one.name, ()))]
    tracer = Tracer.after(trace)
    sections = [
        Section("readings", tuple(readings)),
        Section("error", tuple(map(paper.step, trace.steps))),
        Section("move", tuple(map(paper.step, _move(correction, tracer)))),
        Section("bound", tuple(map(paper.step, _bound(correction, tracer))), _no_bound(correction)),
        Section("decision", (), _decided(correction)),
        Section("shop rule", tuple(map(paper.step, (trace.rule, *_beside_rule(correction, tracer))))),
    ]
    paper.givens.append(Given("lever", "lever, from the pivot to the push", paper.plain("lever", correction), "mm"))
    sign = -1.0 if correction.angle_error.value < 0 else 1.0
    rules = ((size, _rule_at(correction, sign * size)) for size in DEPARTURES_RAD)
    return Explanation(
        correction,
        tuple(paper.givens),
        tuple(section for section in sections if section.steps or section.conclusion),
        tuple(Departure(size, abs(angle), correction.move.lever.value) for size, angle in rules if angle is not None),
    )


class _Paper:
    """Numbers as they are written: what is given in full, what is computed to the places carried for its unit."""

    def __init__(self, correction: Correction) -> None:
        angle = max(0, decimals(math.degrees(correction.angle_error.expanded_uncertainty))) + EXTRA_PLACES
        length = max(0, decimals(correction.fence_move.expanded_uncertainty)) + EXTRA_PLACES
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
        self._written = {"lever": Number(plain_figures(correction.move.lever.value))}

    def given(self, one: TracedNumber, readings: Readings) -> list[Step]:
        """Write down what is given; of repeated readings each, and the step that makes their mean."""
        if isinstance(readings, Zeroed):
            return self._by_difference(one, readings)
        if len(readings) < 2:
            self._written[one.name] = Number(plain_figures(one.value))
            self.givens.append(Given(one.name, one.words, self._written[one.name], one.unit))
            return []
        numbers = [Number(plain_figures(value)) for value in readings]
        for count, number in enumerate(numbers, 1):
            self.givens.append(Given(f"{one.name}_{count}", f"{one.words}, reading {count}", number, one.unit))
        self._written[one.name] = result = self._rounded(one.value, one.unit)
        names = " + ".join(f"{one.name}_{count}" for count in range(1, len(numbers) + 1))
        formula = f"{one.name} = ({names}) / {len(numbers)}"
        put_in = f"({' + '.join(map(str, numbers))}) / {len(numbers)}"
        return [Step(f"Mean of {len(numbers)} readings: {one.words}", _said(formula), put_in, result, one.unit)]

    def _by_difference(self, one: TracedNumber, zeroed: Zeroed) -> list[Step]:
        """What was not read is what the caliper was zeroed on, less or more the difference that it showed."""
        mean = math.fsum(zeroed.values_mm) / len(zeroed.values_mm)
        words = f"difference, the caliper zeroed on the {_said(zeroed.on)}"
        steps = self.given(TracedNumber("difference", words, mean, "mm"), zeroed.values_mm)
        sign = "-" if zeroed.known_larger else "+"
        self._written[one.name] = result = self._rounded(one.value, one.unit)
        formula = f"{one.name} = {zeroed.on} {sign} difference"
        put_in = f"{self._written[zeroed.on]} {sign} {self._written['difference']}"
        return [*steps, Step(f"The {one.words}", _said(formula), put_in, result, one.unit)]

    def plain(self, name: str, correction: Correction) -> Number:
        """What was given elsewhere."""
        return self._written.setdefault(name, Number(plain_figures(correction.move.lever.value)))

    def step(self, one: TracedNumber) -> Step:
        """Write one step, with the numbers that stand above it put in."""

        def put_in(found: re.Match[str]) -> str:
            name = found[0]
            if name not in one.of:
                return name
            value, unit = one.of[name]
            number = str(self._written.setdefault(name, self._rounded(value, unit)))
            return number.strip("()") if one.formula[: found.start()].endswith("|") else number

        numbers = _NAME.sub(put_in, one.formula)
        self._written[one.name] = result = self._rounded(one.value, one.unit)
        return Step(one.words, _said(f"{one.name} = {one.formula}"), numbers, result, one.unit)

    def _rounded(self, value: float, unit: StepUnit) -> Number:
        places = self._places[unit]
        return Number(f"{round(value, places) + 0.0:.{places}f}")


def plain_figures(value: float) -> str:
    """At most six places and no zeros at the end: what was typed, freed of float noise."""
    return f"{value:.6f}".rstrip("0").rstrip(".")


def _said(formula: str) -> str:
    """A formula's names as people read them."""
    return formula.replace("_", " ")


def _move(correction: Correction, tracer: Tracer) -> list[TracedNumber]:
    error, move = correction.angle_error, correction.fence_move
    tracer.know("lever", correction.move.lever.value, "mm")
    tracer.line("Move at the lever", "move = lever x tan(|error|)", move.value, "mm")
    tracer.line("The same in inches", f"inches = move / {MM_PER_INCH}", move.value / MM_PER_INCH, "in")
    if correction.move.at_shim.value < move.value:
        words = "Held at its point, each foot goes half of it"
        tracer.line(words, "foot_move = move / 2", correction.move.at_shim.value, "mm")
    tracer.line("And the error in minutes of arc", "minutes = error x 60", 60 * math.degrees(error.value), "min")
    return list(tracer.steps)


def _bound(correction: Correction, tracer: Tracer) -> list[TracedNumber]:
    """From the budget's rows to the 95 % uncertainty of the error and of the move."""
    error, move, lever = correction.angle_error, correction.fence_move, correction.move.lever
    rows = [row for row in budget(error) if row.contribution]
    if not rows:
        return []
    start = len(tracer.steps)
    squares = []
    for row in rows:
        part = f"{row.name.replace(APOSTROPHE, '').replace(' ', '_')}_part"
        tracer.know(part, 1000 * math.degrees(row.contribution), "mdeg")
        words = f"{row.name} ({'; '.join(row.sources)})" if row.sources else row.name
        square = (1000 * math.degrees(row.contribution)) ** 2
        squares.append(tracer.line(words, f"{part}_squared = {part}^2", square, "mdeg^2"))
    u_mdeg = 1000 * math.degrees(error.standard_uncertainty)
    tracer.line("Their sum", f"sum = {' + '.join(one.name for one in squares)}", u_mdeg**2, "mdeg^2")
    tracer.line("Its root: the standard uncertainty", "standard_uncertainty = sqrt(sum)", u_mdeg, "mdeg")
    k = f"{error.coverage_factor:.7g}"
    tracer.line(
        f"Times {k} for 95 %: the uncertainty of the error",
        f"uncertainty = {k} x standard_uncertainty / 1000",
        math.degrees(error.expanded_uncertainty),
        "deg",
    )
    slope = lever.value * (1 + math.tan(abs(error.value)) ** 2)
    tracer.line(
        "What the standard uncertainty makes at the lever",
        f"from_error = lever x standard_uncertainty / 1000 / {DEG_PER_RAD_TEXT} / cos(error)^2",
        slope * error.standard_uncertainty,
        "mm",
    )
    tracer.know("lever_uncertainty", lever.standard_uncertainty, "mm")
    tracer.line(
        "What the lever's own standard uncertainty makes",
        "from_lever = lever_uncertainty x tan(|error|)",
        lever.standard_uncertainty * math.tan(abs(error.value)),
        "mm",
    )
    k = f"{move.coverage_factor:.7g}"
    tracer.line(
        f"Times {k} for 95 %: the uncertainty of the move",
        f"move_uncertainty = {k} x sqrt(from_error^2 + from_lever^2)",
        move.expanded_uncertainty,
        "mm",
    )
    return tracer.steps[start:]


def _no_bound(correction: Correction) -> str:
    nothing = "Nothing was said to be uncertain, so there is no uncertainty."
    return "" if correction.angle_error.standard_uncertainty else nothing


def _decided(correction: Correction) -> str:
    """U with T, then the error with the larger of the two."""
    decision = correction.decision
    u_deg, t_deg = math.degrees(decision.bound_rad), math.degrees(decision.tolerance_rad)
    size = format_number(abs(math.degrees(correction.angle_error.value)), u_deg)
    u, t = f"{format_number(u_deg, u_deg)} deg", f"{t_deg:.3g} deg ({decision.tolerance_said})"
    wide = decision.bound_rad > decision.tolerance_rad
    other = f"the uncertainty, {u}" if wide else f"the tolerance, {t}"
    than = {True: "more than", False: "not more than"}
    told = f"The uncertainty, {u}, is {than[wide]} the tolerance, {t}"
    return f"{told}; the error, {size} deg, is {than[decision.moves]} {other}: {_ACTIONS[decision.action]}."


_ACTIONS = {
    "move": "move the fence",
    "leave": "leave it",
    "cannot-tell": "leave it, as not even the way to turn is known",
    "needs-kept": "say the kept side first",
}


def _beside_rule(correction: Correction, tracer: Tracer) -> list[TracedNumber]:
    start, first = len(tracer.steps), correction.first_order
    rule_deg = math.degrees(first.angle_rad)
    tracer.line("In degrees", f"rule_angle = rule x {DEG_PER_RAD_TEXT}", rule_deg, "deg")
    tracer.line("Its move at the lever", "rule_move = |rule| x lever", first.move_mm, "mm")
    off_deg = rule_deg - math.degrees(correction.angle_error.value)
    tracer.line("Less the exact error", "angle_off = rule_angle - error", off_deg, "deg")
    off_mm = first.move_mm - correction.fence_move.value
    tracer.line("Less the exact move", "move_off = rule_move - move", off_mm, "mm")
    return tracer.steps[start:]


def _rule_at(correction: Correction, error_rad: float) -> float | None:
    """The shop's rule, in rad, for the piece that a fence so far off cuts; None when there is no such piece."""
    piece, nominal_rad = correction.piece, correction.nominal_rad
    if piece is None:
        return error_rad
    if piece.kind == "legs":
        arms: tuple[Kept, ...] = ("left", "right")
        sides = (correction.kept,) if correction.arms is None else arms
        rules = []
        for kept in sides:
            left, right = legs_of(piece, kept, nominal_rad, error_rad)
            if min(left, right) <= NO_LEG * piece.size_mm:
                return None
            if is_45(nominal_rad):
                rules.append(rule_of_45(left, right, piece.width_mm)[0])
            else:
                rules.append(rule_of_others(left, right, nominal_rad, kept)[0])
        return math.fsum(rules) / len(rules)
    if piece.kind == "widths":
        turns = correction.turns or 1
        return math.tan(turns * error_rad) / turns
    if piece.kind == "gap":
        return math.tan(piece.fold * error_rad) / piece.fold
    excess_rad = -error_rad if correction.kept == "right" else error_rad
    face = math.cos(nominal_rad) / math.cos(nominal_rad + excess_rad)
    return 2 * face * math.sin(piece.fold * error_rad / 2) / piece.fold
