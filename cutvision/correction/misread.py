"""When readings tell of a fence that is hardly possible: which one may have been misread, and for what."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

from cutvision.correction.angle_error import PLAUSIBLE_RAD
from cutvision.units import MM_PER_INCH

# A reading is suspected when the one that is put in its place brings the fence within this of true.
CREDIBLE_RAD = math.radians(0.3)
MOST_ASKED = 2


@dataclass(frozen=True, slots=True)
class Misread:
    """One reading, and what it was perhaps misread for, each in words with a unit; left_rad: the error that then is."""

    where: str
    read: str
    perhaps: str
    left_rad: float


@dataclass(frozen=True, slots=True)
class _Scale:
    """The unit in which readings were taken: its name, its size in mm, the places read, the usual slips along it."""

    unit: str
    size_mm: float
    places: int
    slips: tuple[float, ...]

    def text(self, value_mm: float) -> str:
        return f"{value_mm / self.size_mm:.{self.places}f}"

    def guess(self, text: str) -> tuple[float, str]:
        """What such figures would be: mm, and words."""
        return float(text) * self.size_mm, f"{float(text):g} {self.unit}"


_MM = _Scale("mm", 1.0, 2, (1.0, -1.0, 10.0, -10.0))
_INCH = _Scale("in", MM_PER_INCH, 3, (0.025, -0.025, 0.1, -0.1))
_Slips = Callable[[float, _Scale], Iterator[tuple[float, str]]]


def suspicion(readings: Mapping[str, float], error_rad: Callable[[Mapping[str, float]], float]) -> str:
    """What to ask of readings that give an error over 2 deg, as in `likely_misreads`; empty for nothing suspected."""
    if abs(error_rad(readings)) <= PLAUSIBLE_RAD:
        return ""
    asked = [f"{one.perhaps} as {one.read} ({one.where})" for one in likely_misreads(readings, error_rad)]
    return f"Was a digit or a unit misread, perhaps {', or '.join(asked)}?" if asked else ""


def likely_misreads(
    readings: Mapping[str, float], error_rad: Callable[[Mapping[str, float]], float]
) -> tuple[Misread, ...]:
    """The likeliest single slips: two neighbouring digits swapped, a unit mixed up, a step of the scale, one digit.

    readings: mm by what was read. error_rad: the fence's error that such readings give. Only the likeliest kind of slip
    that brings the error within 0.3 deg is told, at most two of it, the smaller error first.
    """
    scale = _scale_of(readings.values())
    for slips in (_swapped, _other_unit, _along_the_scale, _one_digit):
        best: dict[str, Misread] = {}
        for one in sorted(_found(slips, scale, readings, error_rad), key=lambda one: abs(one.left_rad)):
            best.setdefault(one.where, one)
        if best:
            return tuple(best.values())[:MOST_ASKED]
    return ()


def _found(
    slips: _Slips, scale: _Scale, readings: Mapping[str, float], error_rad: Callable[[Mapping[str, float]], float]
) -> Iterator[Misread]:
    for where, value_mm in readings.items():
        for perhaps_mm, words in slips(value_mm, scale):
            try:
                left = error_rad({**readings, where: perhaps_mm})
            except (ValueError, ZeroDivisionError):
                continue
            if abs(left) <= CREDIBLE_RAD:
                yield Misread(where, scale.guess(scale.text(value_mm))[1], words, left)


def _scale_of(values_mm: Collection[float]) -> _Scale:
    """Inches when all readings together take fewer decimals in them than in mm."""

    def places(unit_mm: float) -> int:
        return sum(len(f"{value / unit_mm:.4f}".rstrip("0").partition(".")[2]) for value in values_mm)

    return _INCH if places(MM_PER_INCH) < places(1.0) else _MM


def neighbours_swapped(text: str) -> Iterator[str]:
    """The figures with two neighbouring digits, unlike each other, exchanged."""
    for i, j in pairwise(i for i, sign in enumerate(text) if sign.isdigit()):
        if text[i] != text[j]:
            signs = list(text)
            signs[i], signs[j] = signs[j], signs[i]
            yield "".join(signs)


def one_digit_changed(text: str) -> Iterator[str]:
    """The figures with one digit in another's place, from the first to the last."""
    for i, sign in enumerate(text):
        for other in "0123456789" if sign.isdigit() else "":
            if other != sign:
                yield text[:i] + other + text[i + 1 :]


def _swapped(value_mm: float, scale: _Scale) -> Iterator[tuple[float, str]]:
    yield from map(scale.guess, neighbours_swapped(scale.text(value_mm)))


def _one_digit(value_mm: float, scale: _Scale) -> Iterator[tuple[float, str]]:
    yield from map(scale.guess, one_digit_changed(scale.text(value_mm)))


def _along_the_scale(value_mm: float, scale: _Scale) -> Iterator[tuple[float, str]]:
    for slip in scale.slips:
        yield scale.guess(scale.text(value_mm + slip * scale.size_mm))


def _other_unit(value_mm: float, scale: _Scale) -> Iterator[tuple[float, str]]:
    del scale
    yield value_mm * MM_PER_INCH, f"{value_mm:.5g} in"
    yield value_mm / MM_PER_INCH, f"{value_mm / MM_PER_INCH:.5g} mm"
