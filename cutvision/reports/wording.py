"""Figures as a person reads them: both units, no finer than their uncertainty, one spelling."""

from __future__ import annotations

import math
from fractions import Fraction

from cutvision.correction.fence_geometry import ScrewTurn
from cutvision.uncertainty import Quantity
from cutvision.units import MM_PER_INCH, format_bound, format_length, format_length_with_bound, format_number

# As shops say an angle: what it comes to over this much of the fence.
SPAN_MM = 300.0
FOOT_MM = 12 * MM_PER_INCH
THOU_MM = MM_PER_INCH / 1000
_EIGHTHS = {
    1: "an eighth of a turn",
    2: "a quarter of a turn",
    3: "three eighths of a turn",
    4: "half a turn",
    5: "five eighths of a turn",
    6: "three quarters of a turn",
    7: "seven eighths of a turn",
}
_TURNED = {"in": "clockwise", "out": "counterclockwise"}


def degrees_words(value_rad: float, bound_rad: float) -> str:
    """An angle and its uncertainty in degrees; the angle alone when it has none."""
    bound = math.degrees(bound_rad)
    if not bound:
        return f"{math.degrees(value_rad):.5g} deg"
    return f"{format_number(math.degrees(value_rad), bound)} ± {format_bound(bound)} deg"


def angle_words(angle: Quantity) -> str:
    """A quantity in rad, with its uncertainty, in degrees."""
    return degrees_words(angle.value, angle.expanded_uncertainty)


def slope_words(value_rad: float, bound_rad: float) -> str:
    """An angle as shops say it: mm over 300 mm, and thousandths of an inch over a foot."""
    metric, inch = SPAN_MM * math.tan(value_rad), FOOT_MM / THOU_MM * math.tan(value_rad)
    metric_to, inch_to = SPAN_MM * math.tan(bound_rad), FOOT_MM / THOU_MM * math.tan(bound_rad)
    if not bound_rad:
        return f"{metric:.2g} mm over {SPAN_MM:g} mm ({inch:.2g} thou over a foot)"
    return (
        f"{format_number(metric, metric_to)} ± {format_bound(metric_to)} mm over {SPAN_MM:g} mm "
        f"({format_number(inch, inch_to)} ± {format_bound(inch_to)} thou over a foot)"
    )


def small_angle_words(value_rad: float) -> str:
    """A limit, which has no uncertainty: in degrees and as shops say it."""
    return f"{math.degrees(value_rad):.2g} deg, {slope_words(value_rad, 0.0)}"


def bound_words(bound_rad: float) -> str:
    """An uncertainty by itself."""
    return f"±{format_bound(math.degrees(bound_rad))} deg"


def length_words(length: Quantity) -> str:
    """A length with its uncertainty, in both units."""
    return format_length_with_bound(length.value, length.expanded_uncertainty)


def short_length_words(length: Quantity) -> str:
    """A length in both units, no finer than its uncertainty, which is not shown."""
    return format_length(length.value, length.expanded_uncertainty)


def plain_length_words(value_mm: float) -> str:
    """A length that was given, as it was given, in both units."""
    return f"{value_mm:.4g} mm ({value_mm / MM_PER_INCH:.4g} in)"


def small_length_words(value_mm: float) -> str:
    """A small length without an uncertainty of its own."""
    return f"{value_mm:.2g} mm ({value_mm / MM_PER_INCH:.2g} in)"


def chance_words(probability: float) -> str:
    """A probability in percent, nothing ever wholly sure."""
    if probability > 0.99:
        return "over 99 %"
    return "under 1 %" if probability < 0.01 else f"{100 * probability:.0f} %"


def turns_label(screw: ScrewTurn) -> str:
    """Turns to the nearest eighth, for a table: "3/8", "1 1/4"."""
    whole, rest = divmod(screw.eighths, 8)
    return " ".join(str(part) for part in (whole, Fraction(rest, 8)) if part) or "0"


def turned_words(screw: ScrewTurn) -> str:
    """How far and which way a screw is turned, to the nearest eighth: "three quarters of a turn clockwise"."""
    eighths = screw.eighths
    whole, rest = divmod(eighths, 8)
    if not eighths:
        said = f"{screw.exact:.2g} of a turn"
    elif not whole:
        said = _EIGHTHS[rest]
    else:
        part = f" {Fraction(rest, 8)}" if rest else ""
        said = f"{whole}{part} {'turn' if eighths == 8 else 'turns'}"
    return f"{said} {_TURNED[screw.way]}"


def capitalized(text: str) -> str:
    """The sentence with a capital first letter, the rest as it is."""
    return text[:1].upper() + text[1:]


def uncapitalized(text: str) -> str:
    """The sentence as it goes on after a colon."""
    return text[:1].lower() + text[1:]
