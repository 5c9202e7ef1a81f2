"""How well the cut repeats: what pieces cut at one setting say, and how to let a correction count it."""

from __future__ import annotations

import math

from cutvision.correction.spread_study import SpreadStudy
from cutvision.reports.cautions import brief_caution, cautions
from cutvision.reports.model import Report, Section, Table
from cutvision.reports.wording import chance_words
from cutvision.units import format_bound, format_number

# From here on the scatter may well be that of measuring and edge roughness alone.
MAY_BE_CHANCE = 0.05


def repeatability_report(study: SpreadStudy) -> Report:
    """What was found, how to use it, and the pieces."""
    left = study.spread.standard_deviation_rad
    known = 2 * math.hypot(study.measuring_rad, study.form_rad)
    angles = ",".join(f"{math.degrees(piece.value_rad):.4f}deg" for piece in study.pieces)
    option = f"--cut-angles {angles}" + (f" --cut-angles-to {math.degrees(known):.3g}deg" if known else "")
    notes = ["It holds for this saw, jig, blade and wood, held and pushed in the same way."]
    if left:
        means = ", ".join(f"{count} pieces {_degrees(left / math.sqrt(count))}" for count in (2, 4, 9))
        notes.append(f"It leaves in the mean of {means}: more pieces help, better measuring does not.")
    return Report(
        headline=(_lead(study), "Let the next correction count it:", option),
        figures=_figures(study),
        sections=(
            Section("Pieces", tuple(f"{one.name}: {math.degrees(one.value_rad):.4f} deg" for one in study.pieces)),
        ),
        notes=tuple(notes),
        cautions=cautions("measure", "cut"),
        brief_cautions=brief_caution("measure"),
    )


def _lead(study: SpreadStudy) -> str:
    if study.by_chance > MAY_BE_CHANCE:
        return (
            "The pieces differ no more than measuring and edge roughness explain "
            f"({chance_words(study.by_chance)} chance of that alone): the cut repeats to less than "
            f"{_degrees(study.most_rad)} from piece to piece."
        )
    return (
        f"The cut repeats to {_degrees(study.spread.standard_deviation_rad)} from piece to piece: one standard "
        f"deviation on {study.spread.degrees_of_freedom:.0f} degrees of freedom, with 95 % confidence between "
        f"{_degrees(study.least_rad)} and {_degrees(study.most_rad)}."
    )


def _figures(study: SpreadStudy) -> Table:
    unsaid = "not given, so part of the repeatability"
    mean_to = study.seen_rad / math.sqrt(len(study.pieces))
    rows = (
        ("seen", f"{_degrees(study.seen_rad)}, standard deviation of {len(study.pieces)} pieces"),
        ("of that measuring", _degrees(study.measuring_rad) if study.measuring_rad else unsaid),
        ("of that edge roughness", _degrees(study.form_rad) if study.form_rad else unsaid),
        ("left for the cut", _degrees(study.spread.standard_deviation_rad)),
        ("mean of the pieces", f"{format_number(math.degrees(study.mean_rad), math.degrees(mean_to))} deg"),
    )
    return Table("", (), rows)


def _degrees(value_rad: float) -> str:
    return f"{format_bound(math.degrees(value_rad)) if value_rad else '0'} deg"
