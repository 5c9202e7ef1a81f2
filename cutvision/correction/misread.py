"""When readings tell of a fence that is hardly possible: which one may have been misread, and for what."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

from cutvision.correction.angle_error import PLAUSIBLE_RAD

MM_PER_INCH = 25.4
# A reading is suspected when the one that is put in its place brings the fence within this of true.
CREDIBLE_RAD = math.radians(0.3)
MOST_ASKED = 2


@dataclass(frozen=True, slots=True)
class Misread:
    """One reading in mm, and what it was perhaps misread for, in words with a unit."""

    where: str
    read: str
    perhaps: str
    left_rad: float


def likely_misreads(
    readings: Mapping[str, float], error_rad: Callable[[Mapping[str, float]], float]
) -> tuple[Misread, ...]:
    """The likeliest single slips: two neighbouring digits swapped, a unit mixed up, a step of the scale, one digit.

    readings: mm by what was read. error_rad: the fence's error that such readings give. Only the likeliest kind of slip
    that brings the error within 0.3 deg is told, at most two of it, the smaller error first.
    """
    for slips in (_swapped, _other_unit, _scale_slips, _one_digit):
        found = []
        for where, value_mm in readings.items():
            for perhaps_mm, words in slips(value_mm):
                left = _error(error_rad, {**readings, where: perhaps_mm})
                if abs(left) <= CREDIBLE_RAD:
                    found.append(Misread(where, _shown(value_mm), words, left))
        if found:
            best: dict[str, Misread] = {}
            for one in sorted(found, key=lambda one: abs(one.left_rad)):
                best.setdefault(one.where, one)
            return tuple(best.values())[:MOST_ASKED]
    return ()


def suspicion(readings: Mapping[str, float], error_rad: Callable[[Mapping[str, float]], float]) -> str:
    """What to ask of readings that give an error over 2 deg, as in `likely_misreads`; empty for nothing suspected."""
    if abs(error_rad(readings)) <= PLAUSIBLE_RAD:
        return ""
    asked = [f"{one.perhaps} as {one.read} ({one.where})" for one in likely_misreads(readings, error_rad)]
    return f"Was a digit or a unit misread, perhaps {', or '.join(asked)}?" if asked else ""


def _error(error_rad: Callable[[Mapping[str, float]], float], readings: Mapping[str, float]) -> float:
    try:
        return error_rad(readings)
    except (ValueError, ZeroDivisionError):
        return math.inf


def _unit(value_mm: float) -> tuple[str, float]:
    """The unit in which the reading was most likely taken: the one in which it has the fewest decimals."""
    as_mm, as_inch = f"{value_mm:.4f}".rstrip("0"), f"{value_mm / MM_PER_INCH:.4f}".rstrip("0")
    places_mm, places_inch = len(as_mm.partition(".")[2]), len(as_inch.partition(".")[2])
    return ("in", MM_PER_INCH) if places_mm > 2 and places_inch < 4 else ("mm", 1.0)


def _text(value_mm: float) -> str:
    unit, size = _unit(value_mm)
    return f"{value_mm / size:.{3 if unit == 'in' else 2}f}"


def _shown(value_mm: float) -> str:
    return f"{float(_text(value_mm)):g} {_unit(value_mm)[0]}"


def _swapped(value_mm: float) -> Iterator[tuple[float, str]]:
    unit, size = _unit(value_mm)
    text = _text(value_mm)
    digits = [i for i, sign in enumerate(text) if sign.isdigit()]
    for i, j in pairwise(digits):
        if text[i] != text[j]:
            signs = list(text)
            signs[i], signs[j] = signs[j], signs[i]
            yield _as_read("".join(signs), unit, size)


def _one_digit(value_mm: float) -> Iterator[tuple[float, str]]:
    unit, size = _unit(value_mm)
    text = _text(value_mm)
    for i, sign in enumerate(text):
        if sign.isdigit():
            for other in "0123456789":
                if other != sign:
                    yield _as_read(text[:i] + other + text[i + 1 :], unit, size)


def _scale_slips(value_mm: float) -> Iterator[tuple[float, str]]:
    unit, size = _unit(value_mm)
    steps = (1.0, 10.0) if unit == "mm" else (0.025, 0.1)
    for step in (*steps, *(-step for step in steps)):
        yield _as_read(f"{value_mm / size + step:.{3 if unit == 'in' else 2}f}", unit, size)


def _other_unit(value_mm: float) -> Iterator[tuple[float, str]]:
    yield value_mm * MM_PER_INCH, f"{value_mm:.5g} in"
    yield value_mm / MM_PER_INCH, f"{value_mm / MM_PER_INCH:.5g} mm"


def _as_read(text: str, unit: str, size: float) -> tuple[float, str]:
    return float(text) * size, f"{float(text):g} {unit}"
