"""A measurement as a person reads it in a terminal: the answer first, then the figures, the notes and the cautions.

Plain words without colour, at most 80 columns.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Literal

from cutvision.errors import PhotoRefused
from cutvision.measurement.result import Measurement
from cutvision.reports.cautions import ADVISED, MEASURED, cautions
from cutvision.reports.columns import bullets, wrap
from cutvision.reports.departure import is_even_miter
from cutvision.uncertainty import Quantity, budget
from cutvision.units import MM_PER_INCH, format_angle_with_bound, format_bound, format_number

Side = Literal["left", "right"]

SHOP_WORDS = {
    "angle_left": "left leg to cut",
    "angle_right": "right leg to cut",
    "corner": "corner",
    "leg_left": "left leg",
    "leg_right": "right leg",
    "leg_difference": "left leg less right leg",
    "split_error": "uneven split (+ left leg longer)",
    "taper": "taper (+ wider at the fence end)",
    "width_fence": "width at the fence end",
    "width_far": "width at the far end",
    "corner_1": "corner 1 (by the sheet's top left)",
    "corner_2": "corner 2 (clockwise from 1)",
    "corner_3": "corner 3",
    "corner_4": "corner 4",
}

MAIN = {"miter": "split_error", "strip": "taper", "corner": "corner"}


def measurement_text(
    measurement: Measurement,
    answer: Sequence[str] = (),
    *,
    beside: Sequence[str] = (),
    noted: Sequence[str] = (),
    with_budget: bool = False,
    nominal_rad: float = math.pi / 4,
    kept: Side | None = None,
) -> str:
    """The whole report as text.

    answer: what to do, as the correction words it; without it the measurement's own headline stands first.
    beside: blocks that belong to the answer, as the correction lays them out (its figures, its drawing).
    noted: what the correction says beside its answer, after the measurement's own notes.
    with_budget: whether each quantity's uncertainty budget is printed too.
    nominal_rad, kept: as asked for; they say what a true cut of a miter is.
    """
    blocks = [
        _paragraphs(answer or headline(measurement, nominal_rad, kept)),
        *beside,
        _table(measurement),
        _paragraphs([line for line in (pencil_line(measurement.shape), *_edge_form(measurement)) if line]),
        _photos(measurement),
        _notes(measurement, noted),
        *(_budget(measurement, name) for name in measurement.quantities if with_budget),
        bullets("Cautions", cautions(*(ADVISED if answer else MEASURED))),
    ]
    return "\n\n".join(block for block in blocks if block) + "\n"


def refusal_text(refusals: Sequence[PhotoRefused]) -> str:
    """Which photos cannot be measured, what was seen in each, and what to do."""
    return (
        "\n".join(
            "\n".join(
                [
                    wrap(f"{refused.file or 'The photo'} is refused ({refused.reason})."),
                    wrap(refused.message, "  Seen:  "),
                    wrap(refused.remedy, "  Do:    "),
                ]
            )
            for refused in refusals
        )
        + "\n"
    )


def headline(measurement: Measurement, nominal_rad: float = math.pi / 4, kept: Side | None = None) -> tuple[str, ...]:
    """What the piece is, in a line or two, when no correction was asked for."""
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
        return (
            "Left and right are named with the piece face up and the cut toward you: compare with your pencil letters "
            "L and R."
        )
    if shape == "strip":
        return "The fence end is the one toward the sheet's left: compare with your pencil letters."
    return ""


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
            "The cut splits the corner unevenly, by {}: the left leg is the longer.",
            "The cut splits the corner unevenly, by {}: the right leg is the longer.",
            "The cut splits the corner evenly",
        )
    left, right = (" ± ".join(degrees(quantities[f"angle_{side}"])) for side in ("left", "right"))
    return (
        f"The cut meets the left leg at {left} deg and the right leg at {right} deg.",
        "Which of them is the miter depends on the leg that lay at the fence: give --kept.",
    )


def _verdict(off: Quantity, more: str, less: str, true: str) -> tuple[str, ...]:
    """Which way a piece is off, or that it cannot be told from true. {} in `more` and `less` takes the amount."""
    amount = format_angle_with_bound(abs(off.value), off.expanded_uncertainty)
    if abs(off.value) > off.expanded_uncertainty:
        return ((more if off.value > 0 else less).format(amount),)
    amount = format_angle_with_bound(off.value, off.expanded_uncertainty)
    return (f"{true}, as far as this can tell: off by {amount}, no more than the bound.",)


def degrees(q: Quantity) -> tuple[str, str]:
    """An angle and its bound in degrees, neither finer than the bound supports."""
    return _figures(q, math.degrees(1.0))


def _figures(q: Quantity, factor: float) -> tuple[str, str]:
    bound = factor * q.expanded_uncertainty
    return format_number(factor * q.value, bound), format_bound(bound)


def _table(measurement: Measurement) -> str:
    rows = [f"{'':34}{'value':>10}   95 % bound"]
    for name, q in measurement.quantities.items():
        value, bound = degrees(q) if q.unit == "rad" else _figures(q, 1.0)
        row = f"{_shop_words(measurement, name):34}{value:>10} ± {bound} {'deg' if q.unit == 'rad' else q.unit}"
        if q.unit == "mm":
            value, bound = _figures(q, 1 / MM_PER_INCH)
            row = f"{row:59} {value:>7} ± {bound} in"
        rows.append(row)
    return "\n".join(rows)


def _shop_words(measurement: Measurement, name: str) -> str:
    return "corner between the legs" if (measurement.shape, name) == ("miter", "corner") else SHOP_WORDS[name]


def _edge_form(measurement: Measurement) -> list[str]:
    worst = max(measurement.edge_form_rad.values(), default=0.0)
    if worst <= 0:
        return []
    bound = format_bound(math.degrees(2 * worst))
    return [
        f"The bounds speak of this piece. Its sawn edges are rough, which hides up to {bound} deg more of what the saw "
        "did; a longer or a planed edge, or more pieces, hide less."
    ]


def _photos(measurement: Measurement) -> str:
    lines = ["Photos"]
    for photo in measurement.photos:
        height = f"{photo.lens_height_mm:.0f} mm ({photo.lens_height_mm / MM_PER_INCH:.1f} in)"
        seen = (
            f"{photo.file}: {photo.paper} sheet, {photo.saddles_used} corners of its squares, lens "
            f"{height} above it, tilted {photo.tilt_deg:.0f} deg"
        )
        own = photo.quantities.get(MAIN.get(measurement.shape, ""))
        if own is not None and len(measurement.photos) > 1:
            name, figures = _shop_words(measurement, MAIN[measurement.shape]), " ± ".join(degrees(own))
            seen += f"; by itself: {name} {figures} deg"
        lines.append(wrap(seen if photo.used else f"{seen}; not used", "  "))
    return "\n".join(lines)


def _notes(measurement: Measurement, more: Sequence[str]) -> str:
    own = [("", note) for note in measurement.notes]
    photos = [(f"{p.file}: ", note) for p in measurement.photos for note in p.notes if note not in measurement.notes]
    told = [f"{before}{note.message} {note.remedy}".strip() for before, note in own + photos]
    return bullets("Notes", [*told, *more])


def _budget(measurement: Measurement, name: str) -> str:
    q = measurement.quantities[name]
    factor, unit = (math.degrees(1.0), "deg") if q.unit == "rad" else (1.0, q.unit)
    lines = [
        f"Budget of: {_shop_words(measurement, name)} (standard uncertainties in {unit})",
        f"  {'influence':34}{'type':6}{'part':>10}{'share':>8}",
    ]
    u = q.standard_uncertainty * factor
    for row in budget(q):
        part = format_number(row.contribution * factor, u / 10)
        lines.append(f"  {row.name:34}{row.kind:6}{part:>10}{row.share:8.0%}")
        lines += [wrap(source, "      ") for source in row.sources]
    lines.append(f"  {'together':40}{format_number(u, u / 10):>10}")
    lines.append(f"  {f'times {q.coverage_factor:.2f} for 95 %':40}{format_number(q.coverage_factor * u, u / 10):>10}")
    return "\n".join(lines)


def _paragraphs(lines: Sequence[str]) -> str:
    return "\n".join(wrap(line) for line in lines)
