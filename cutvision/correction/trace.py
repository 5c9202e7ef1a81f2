"""The steps of a calculation, written down by the code that computes: words, formula, and what came out."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

StepUnit = Literal["", "mm", "in", "deg", "min", "mdeg", "mdeg^2"]
FUNCTIONS = frozenset({"sqrt", "sin", "cos", "tan", "asin", "atan", "x"})
# As it stands in formulas that take an angle in degrees to a plain number.
DEG_PER_RAD = "57.29577951308232"
_NAME = re.compile(r"[A-Za-z][A-Za-z0-9_]*")


@dataclass(frozen=True, slots=True)
class TracedNumber:
    """A number that was given, or computed from others. value: in `unit`, unrounded.

    name: words joined by "_", which stand for it in formulas. words: what it is, or what is done.
    formula: + - x / ^, brackets, |size|, sqrt, and sin, cos, tan, asin, atan with angles in degrees, of names and
    numbers; "" for what was given. of: the values of the formula's names, with their units.
    """

    name: str
    words: str
    value: float
    unit: StepUnit
    formula: str = ""
    of: Mapping[str, tuple[float, StepUnit]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Trace:
    """How an error was found: what was given, the steps to the error (the last one), and the shop's rule."""

    givens: tuple[TracedNumber, ...]
    steps: tuple[TracedNumber, ...]
    rule: TracedNumber


class Tracer:
    """Writes numbers down as they are computed, each under a name of its own."""

    def __init__(self) -> None:
        self.givens: list[TracedNumber] = []
        self.steps: list[TracedNumber] = []
        self._known: dict[str, tuple[float, StepUnit]] = {}

    @classmethod
    def after(cls, trace: Trace) -> Tracer:
        """One that goes on from a trace: it knows its names."""
        tracer = cls()
        for one in (*trace.givens, *trace.steps, trace.rule):
            tracer.know(one.name, one.value, one.unit)
        return tracer

    def know(self, name: str, value: float, unit: StepUnit) -> None:
        """Let a number be used in formulas that stands written elsewhere."""
        if name in self._known:
            raise ValueError(f"{name} stands for another number already")
        self._known[name] = (value, unit)

    def __contains__(self, name: str) -> bool:
        return name in self._known

    def give(self, name: str, words: str, value: float, unit: StepUnit) -> None:
        """Write down what is given."""
        self.givens.append(TracedNumber(name, words, value, unit))
        self.know(name, value, unit)

    def line(self, words: str, equation: str, value: float, unit: StepUnit) -> TracedNumber:
        """Write down a step. equation: "taper = atan(wider / spacing)"; the names on its right stand above it."""
        name, _, formula = equation.partition(" = ")
        step = self.made(name, words, formula, value, unit)
        self.steps.append(step)
        self.know(name, value, unit)
        return step

    def made(self, name: str, words: str, formula: str, value: float, unit: StepUnit) -> TracedNumber:
        """A step that is not written down."""
        names = set(_NAME.findall(formula)) - FUNCTIONS
        return TracedNumber(name, words, value, unit, formula, {one: self._known[one] for one in sorted(names)})

    def trace(self, rule: str, rule_rad: float) -> Trace:
        """All that was written, with the shop's rule for the error as a formula, and what it gave, in rad."""
        made = self.made("rule", "The shop's rule, a plain number", rule, rule_rad, "")
        return Trace(tuple(self.givens), tuple(self.steps), made)
