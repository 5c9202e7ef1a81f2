"""What a measurement says: the piece, the fence when it was asked about, and everything behind them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Literal

from cutvision.correction import Correction, StackAdvice
from cutvision.correction.joint import JointPreview
from cutvision.measurement.result import Measurement
from cutvision.reports.cautions import MEASURED, brief_caution, cautions
from cutvision.reports.departure import is_even_miter
from cutvision.reports.model import Report, Section, Table
from cutvision.reports.says_correction import budget_table, correction_report
from cutvision.reports.wording import angle_words, degrees_words, slope_words
from cutvision.uncertainty import Quantity
from cutvision.units import MM_PER_INCH, format_bound, format_number

Side = Literal["left", "right"]

SHOP_WORDS = {
    "angle_left": "left leg to cut",
    "angle_right": "right leg to cut",
    "corner": "corner",
    "leg_left": "left leg",
    "leg_right": "right leg",
    "leg_difference": "left leg less right leg",
    "split_error": "half the difference, right less left",
    "taper": "taper, + wider at the fence end",
    "width_fence": "width at the fence end",
    "width_far": "width at the far end",
    "corner_1": "corner 1, by the sheet's top left",
    "corner_2": "corner 2, clockwise from 1",
    "corner_3": "corner 3",
    "corner_4": "corner 4",
}
MAIN = {"miter": "split_error", "strip": "taper", "corner": "corner"}


def measurement_report(
    measurement: Measurement,
    correction: Correction | None = None,
    *,
    nominal_rad: float = math.pi / 4,
    kept: Side | None = None,
    shims: StackAdvice | None = None,
    joints: JointPreview | None = None,
) -> Report:
    """The whole answer: the piece's own when no correction was asked for, else the fence's.

    nominal_rad, kept: as asked for; they say what a true cut of a miter is. shims, joints: as `correction_report`.
    """
    quantities = _quantities(measurement)
    budgets = tuple(budget_table(q, _shop_words(measurement, name)) for name, q in measurement.quantities.items())
    sections = (
        Section(
            "How the piece lies", tuple(line for line in (pencil_line(measurement.shape), *_rough(measurement)) if line)
        ),
        Section("Photos", _photos(measurement)),
    )
    if correction is None:
        return Report(
            headline=piece_headline(measurement, nominal_rad, kept),
            sure=tuple(line for line in (pencil_line(measurement.shape),) if line),
            figures=quantities,
            tables=budgets,
            sections=sections,
            notes=_notes(measurement),
            cautions=cautions(*MEASURED),
            brief_cautions=brief_caution("photo"),
        )
    report = correction_report(correction, shims=shims, joints=joints)
    return replace(
        report,
        sure=(*_measured(measurement), *report.sure),
        figures=report.figures or quantities,
        tables=(*((quantities,) if report.figures else ()), *report.tables, *budgets),
        sections=(*report.sections, *sections),
        notes=tuple(dict.fromkeys((*_notes(measurement), *report.notes))),
        cautions=tuple(dict.fromkeys((*cautions("photo"), *report.cautions))),
    )


def piece_headline(
    measurement: Measurement, nominal_rad: float = math.pi / 4, kept: Side | None = None
) -> tuple[str, ...]:
    """What the piece is, in a sentence or two."""
    quantities = measurement.quantities
    if measurement.shape == "strip":
        return _verdict(
            quantities["taper"],
            "The strip tapers by {}: it is wider at the fence end.",
            "The strip tapers by {}: it is narrower at the fence end.",
            "The strip is parallel",
        )
    if measurement.shape == "miter":
        return _miter_headline(quantities, nominal_rad, kept)
    name = max(quantities, key=lambda n: abs(quantities[n].value - math.pi / 2))
    one = measurement.shape == "corner"
    called = "The corner is" if one else f"C{name[1:].replace('_', ' ')} is the farthest from square:"
    return _verdict(
        quantities[name] + -math.pi / 2,
        f"{called} {{}} more than square.",
        f"{called} {{}} less than square.",
        "The corner is square" if one else "All four corners are square",
    )


def pencil_line(shape: str) -> str:
    """How a person checks that left and right, or fence end and far end, are what the program takes them for."""
    if shape == "miter":
        return "Left and right: piece face up, cut toward you. Compare with your pencil letters L and R."
    if shape == "strip":
        return "The fence end is the one toward the sheet's left. Compare with your pencil letter F."
    return ""


def _measured(measurement: Measurement) -> tuple[str, ...]:
    """The angles that the correction rests on, in a line."""
    quantities = measurement.quantities
    if measurement.shape == "miter":
        left, right = (angle_words(quantities[f"angle_{side}"]) for side in ("left", "right"))
        return (f"Measured: left leg to cut {left}, right leg to cut {right}.",)
    if measurement.shape == "strip":
        return (f"Measured: taper {angle_words(quantities['taper'])}, positive when wider at the fence end.",)
    return ()


def _miter_headline(quantities: Mapping[str, Quantity], nominal_rad: float, kept: Side | None) -> tuple[str, ...]:
    if kept is not None:
        side = "right" if kept == "left" else "left"
        at_fence = math.pi / 2 - nominal_rad
        called = f"The cut meets the {side} leg, which lay at the fence, at"
        wanted = f"the {math.degrees(at_fence):g} deg wanted"
        return _verdict(
            quantities[f"angle_{side}"] + -at_fence,
            f"{called} {{}} more than {wanted}.",
            f"{called} {{}} less than {wanted}.",
            f"{called} {wanted}",
        )
    if is_even_miter(nominal_rad):
        return _verdict(
            quantities["split_error"],
            "The cut divides the corner unevenly, by {}: the left leg is the longer.",
            "The cut divides the corner unevenly, by {}: the right leg is the longer.",
            "The cut divides the corner evenly",
        )
    left, right = (angle_words(quantities[f"angle_{side}"]) for side in ("left", "right"))
    return (
        f"The cut meets the left leg at {left} and the right leg at {right}.",
        "Which of them is the miter depends on the leg that lay at the fence. Give --kept.",
    )


def _verdict(off: Quantity, more: str, less: str, true: str) -> tuple[str, ...]:
    """Which way a piece is off, or that it is too small to see. {} in `more` and `less` takes the amount."""
    size, bound = abs(off.value), off.expanded_uncertainty
    if size > bound:
        amount = f"{degrees_words(size, bound)}, {slope_words(size, bound)}"
        return ((more if off.value > 0 else less).format(amount),)
    return (f"{true}, as far as can be seen here: off by {degrees_words(off.value, bound)}.",)


def _quantities(measurement: Measurement) -> Table:
    rows = []
    for name, q in measurement.quantities.items():
        factor, unit = (math.degrees(1.0), "deg") if q.unit == "rad" else (1.0, q.unit)
        inch = "" if q.unit == "rad" else _figures(q, 1 / MM_PER_INCH, "in")
        rows.append((_shop_words(measurement, name), _figures(q, factor, unit), inch))
    return Table("", ("", "± 95 % uncertainty", ""), tuple(rows))


def _figures(q: Quantity, factor: float, unit: str) -> str:
    bound = factor * q.expanded_uncertainty
    return f"{format_number(factor * q.value, bound)} ± {format_bound(bound)} {unit}"


def _shop_words(measurement: Measurement, name: str) -> str:
    return "corner between the legs" if (measurement.shape, name) == ("miter", "corner") else SHOP_WORDS[name]


def _rough(measurement: Measurement) -> list[str]:
    worst = max(measurement.edge_form_rad.values(), default=0.0)
    if worst <= 0:
        return []
    bound = format_bound(math.degrees(2 * worst))
    return [
        f"The uncertainties are this piece's. Its sawn edges are rough, which hides up to {bound} deg more of what "
        "the saw did. A longer or a planed edge, or more pieces, hide less."
    ]


def _photos(measurement: Measurement) -> tuple[str, ...]:
    lines = []
    for photo in measurement.photos:
        height = f"{photo.lens_height_mm:.0f} mm ({photo.lens_height_mm / MM_PER_INCH:.1f} in)"
        seen = (
            f"{photo.file}: {photo.paper} sheet, {photo.saddles_used} corners of its squares, lens "
            f"{height} above it, tilted {photo.tilt_deg:.0f} deg"
        )
        own = photo.quantities.get(MAIN.get(measurement.shape, ""))
        if own is not None and len(measurement.photos) > 1:
            seen += f"; by itself: {_shop_words(measurement, MAIN[measurement.shape])} {angle_words(own)}"
        lines.append(f"{seen}." if photo.used else f"{seen}; not used.")
    return tuple(lines)


def _notes(measurement: Measurement) -> tuple[str, ...]:
    own = [("", note) for note in measurement.notes]
    photos = [(f"{p.file}: ", note) for p in measurement.photos for note in p.notes if note not in measurement.notes]
    return tuple(f"{before}{note.message} {note.remedy}".strip() for before, note in own + photos)
