"""What common measuring tools are assumed to do, as named records that a person prints, judges and overrides."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from cutvision.errors import InputError
from cutvision.units import MM_PER_INCH

Reads = Literal["length", "gap"]


@dataclass(frozen=True, slots=True)
class Instrument:
    """A record of one kind of tool; lengths in mm.

    step_mm: what its display or scale steps by. limits: pairs of a longest length read and the limit of error up to it,
    shortest first, the last without end. repeat_mm: half-width within which one reading repeats, in practised hands on
    wood. source: of the figures, in words.
    """

    name: str
    what: str
    reads: Reads
    step_mm: float
    limits: tuple[tuple[float, float], ...]
    repeat_mm: float
    source: str

    def limit_mm(self, length_mm: float) -> float:
        """The limit of error for a length."""
        return next(limit for longest, limit in self.limits if length_mm <= longest)


_DIN_862_FINE = ((100.0, 0.02), (600.0, 0.03), (math.inf, 0.04))
_DIN_862_COARSE = (
    (300.0, 0.05),
    (400.0, 0.06),
    (500.0, 0.07),
    (600.0, 0.08),
    (700.0, 0.09),
    (800.0, 0.10),
    (900.0, 0.11),
    (math.inf, 0.12),
)
_DIN = "limit of error in DIN 862 by length (where the class changes: from memory)"
_HANDS = "repeatability by common practice, no source"
_NONE = "all by common practice, no source"

INSTRUMENTS: Mapping[str, Instrument] = MappingProxyType(
    {
        one.name: one
        for one in (
            Instrument(
                "caliper-0.01mm",
                "digital caliper, 0.01 mm",
                "length",
                0.01,
                _DIN_862_FINE,
                0.03,
                f"{_DIN}, {_HANDS}",
            ),
            Instrument(
                "vernier-0.02mm",
                "vernier caliper, 50 parts, 0.02 mm",
                "length",
                0.02,
                _DIN_862_FINE,
                0.03,
                f"{_DIN}, {_HANDS}",
            ),
            Instrument(
                "vernier-0.05mm",
                "vernier caliper, 20 parts, 0.05 mm",
                "length",
                0.05,
                _DIN_862_COARSE,
                0.05,
                f"{_DIN}, {_HANDS}",
            ),
            Instrument(
                "dial-caliper-0.001in",
                "dial caliper, 0.001 in",
                "length",
                0.001 * MM_PER_INCH,
                ((6 * MM_PER_INCH, 0.001 * MM_PER_INCH), (math.inf, 0.002 * MM_PER_INCH)),
                0.03,
                _NONE,
            ),
            Instrument("rule-mm", "steel rule in mm, by eye", "length", 1.0, ((math.inf, 0.2),), 0.25, _NONE),
            Instrument(
                "rule-64ths",
                "steel rule in 1/64 in, by eye",
                "length",
                MM_PER_INCH / 64,
                ((math.inf, 0.2),),
                0.25,
                _NONE,
            ),
            Instrument("feelers", "feeler-gauge blades", "gap", 0.05, ((math.inf, 0.05),), 0.0, _NONE),
            Instrument("indicator-0.01mm", "dial indicator, 0.01 mm", "length", 0.01, ((math.inf, 0.02),), 0.01, _NONE),
        )
    }
)
CALIPER = INSTRUMENTS["caliper-0.01mm"]


def instrument(name: str) -> Instrument:
    """The record of that name. Raises InputError for a name that is none."""
    if name not in INSTRUMENTS:
        raise InputError(f"'{name}' is no instrument that is known here.", f"Name one of {', '.join(INSTRUMENTS)}.")
    return INSTRUMENTS[name]
