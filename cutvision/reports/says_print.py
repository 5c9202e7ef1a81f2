"""What a rule's readings say of the printed sheet."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from cutvision.reports.encode import Json
from cutvision.reports.model import Report, Table
from cutvision.reports.wording import degrees_words
from cutvision.units import MM_PER_INCH, format_bound, format_number

if TYPE_CHECKING:
    from cutvision.jobs.target_check import Estimate, TargetCheckResult

PRINT: Final = "cutvision/print/1"
SPAN_MM = 100.0
PAPERS = {"a4": "A4", "letter": "Letter", "a3": "A3", "tabloid": "Tabloid"}


def print_report(found: TargetCheckResult, kept_in: str = "") -> Report:
    """What the printer did, whether that is ordinary, and what it would do to an angle and a length.

    kept_in: the jig that now holds the readings; empty for none.
    """
    return Report(
        headline=_headline(found, kept_in),
        sure=(
            f"Reading the print brings its part in the uncertainty of an angle of 45 deg from at worst "
            f"± {_degrees(found.angle_unread_rad)} to ± {_degrees(found.angle_left_rad)}.",
        ),
        figures=Table("", (), tuple(_rows(found))),
        notes=_notes(found),
    )


def print_object(found: TargetCheckResult) -> Json:
    """What `target check --json` prints: lengths in mm, stretches in %, angles in degrees."""
    return {
        "schema": PRINT,
        "paper": found.paper,
        "sides": [
            {"name": side.name, "drawn": side.drawn_mm, "read": list(side.read_mm), "mean": side.mean_mm}
            for side in found.sides
        ],
        "read_to": found.read_to_mm,
        "long_stretch": _estimate(found.long_stretch, "%", 100.0),
        "short_stretch": _estimate(found.short_stretch, "%", 100.0),
        "shear": _estimate(found.shear_rad, "deg", math.degrees(1.0)),
        "angle_off": math.degrees(found.angle_off_rad),
        "length_off": 100 * found.length_off,
        "angle_uncertainty_unread": math.degrees(found.angle_unread_rad),
        "angle_uncertainty_read": math.degrees(found.angle_left_rad),
        "verdict": found.verdict,
    }


def _headline(found: TargetCheckResult, kept_in: str) -> tuple[str, ...]:
    sheet = f"the {PAPERS[found.paper]} sheet"
    first = {
        "ordinary": f"Use this print: the printer did to {sheet} what an ordinary one does.",
        "scaled": f"Print again at 100 % (actual size), or use this print with these readings: the printer scaled "
        f"{sheet} to {100 * (1 + (found.long_stretch.value + found.short_stretch.value) / 2):.2f} %.",
        "uneven": f"Read it again, and print again if the readings stand: {sheet} is stretched unevenly, or leans, "
        "more than an ordinary printer does.",
    }[found.verdict]
    kept = f"The readings are kept with {kept_in}: `measure --jig` uses them. Read the sheet again after a new print."
    typed = "Give these readings to `measure` with every photo of this sheet, or keep them: --jig NAME."
    return (first, kept if kept_in else typed)


def _rows(found: TargetCheckResult) -> list[tuple[str, str]]:
    rows = [
        (side.name, f"{_length(side.mean_mm)}; drawn {_length(side.drawn_mm)}{_of(len(side.read_mm))}")
        for side in found.sides
    ]
    rows += [("long sides", _stretch(found.long_stretch)), ("short sides", _stretch(found.short_stretch))]
    if found.shear_read:
        lean = found.shear_rad
        way = (
            "too small to see here" if _unclear(lean) else f"the bottom to the {'right' if lean.value > 0 else 'left'}"
        )
        rows.append(("short sides lean by", f"{degrees_words(lean.value, lean.expanded_uncertainty)}: {way}"))
    off_deg = max(math.degrees(found.angle_off_rad), 0.01)
    off_mm = max(found.length_off * SPAN_MM, 0.01)
    rows.append(
        (
            "if left unread",
            f"an angle of 45 deg would be up to {off_deg:.2f} deg off, a length of "
            f"{SPAN_MM:g} mm up to {off_mm:.2f} mm ({off_mm / MM_PER_INCH:.3f} in)",
        )
    )
    return rows


def _notes(found: TargetCheckResult) -> tuple[str, ...]:
    notes = [
        f"Each reading is taken to be within {found.read_to_mm:g} mm. Ordinary printers stretch a side by up to some "
        "0.2 %, each its own, and lean by up to 0.1 deg; damp paper grows by 0.1 % (common practice, no source).",
        "Read the sheet again when the paper has lain damp or in the sun.",
    ]
    if not found.shear_read:
        notes.insert(0, "Read both diagonals too: they alone show whether the short sides lean.")
    return tuple(notes)


def _stretch(side: Estimate) -> str:
    percent, within = 100 * side.value, 100 * side.expanded_uncertainty
    longer = "longer than drawn" if percent > 0 else "shorter than drawn"
    what = "too small to see here" if _unclear(side) else longer
    return f"{format_number(percent, within)} ± {format_bound(within)} %: {what}"


def _unclear(one: Estimate) -> bool:
    return abs(one.value) <= one.expanded_uncertainty


def _of(readings: int) -> str:
    return f" (mean of {readings})" if readings > 1 else ""


def _degrees(angle_rad: float) -> str:
    return f"{format_bound(math.degrees(angle_rad)) if angle_rad else '0'} deg"


def _length(value_mm: float) -> str:
    return f"{value_mm:.2f} mm ({value_mm / MM_PER_INCH:.3f} in)"


def _estimate(one: Estimate, unit: str, per_unit: float) -> Json:
    return {
        "value": one.value * per_unit,
        "unit": unit,
        "standard_uncertainty": one.standard_uncertainty * per_unit,
        "expanded_uncertainty": one.expanded_uncertainty * per_unit,
    }
