"""How well the cut repeats from piece to piece, apart from measuring and edge roughness."""

from __future__ import annotations

import math
from typing import Final

from cutvision.correction.spread_study import SpreadStudy
from cutvision.reports.cautions import brief_caution, cautions
from cutvision.reports.encode import Json
from cutvision.reports.model import Report, Section, Table
from cutvision.units import format_bound, format_number

SCHEMA: Final = "cutvision/repeatability/1"
# From here on the scatter may well be that of measuring and edge roughness alone.
MAY_BE_CHANCE = 0.05


def repeatability_report(study: SpreadStudy) -> Report:
    """How well the cut repeats, how to count that in the next correction, and how it was found."""
    cut = study.spread.standard_deviation_rad
    known = 2 * math.hypot(study.measuring_rad, study.form_rad)
    angles = ",".join(f"{math.degrees(piece.value_rad):.4f}deg" for piece in study.pieces)
    option = f"--cut-angles {angles}" + (f" --cut-angles-to {math.degrees(known):.3g}deg" if known else "")
    means = ", ".join(f"{count} pieces ±{_degrees(2 * cut / math.sqrt(count))}" for count in (2, 4, 9))
    return Report(
        headline=(_headline(study), f"Count it in the next correction: {option}"),
        sure=(f"Standard deviation, on {study.spread.degrees_of_freedom:.0f} degrees of freedom.",),
        figures=Table("", (), tuple(_rows(study))),
        sections=(
            Section(
                "Pieces", tuple(f"{piece.name}: {math.degrees(piece.value_rad):.4f} deg" for piece in study.pieces)
            ),
        ),
        notes=(
            "It holds for this saw, jig, blade and wood, held and pushed in the same way.",
            *((f"It leaves in the mean of {means}: more pieces help, better measuring does not.",) if cut else ()),
        ),
        cautions=cautions("measure", "cut"),
        brief_cautions=brief_caution("cut"),
    )


def repeatability_object(study: SpreadStudy) -> Json:
    """What `repeatability --json` prints: degrees; `least` and `most` are the 95 % limits of `standard_deviation`.

    `by_chance` is the probability that measuring and edge roughness alone scatter as much.
    """
    deg = math.degrees
    return {
        "schema": SCHEMA,
        "standard_deviation": deg(study.spread.standard_deviation_rad),
        "degrees_of_freedom": study.spread.degrees_of_freedom,
        "least": deg(study.least_rad),
        "most": deg(study.most_rad),
        "seen": deg(study.seen_rad),
        "measuring": deg(study.measuring_rad),
        "edge_form": deg(study.form_rad),
        "mean": deg(study.mean_rad),
        "by_chance": study.by_chance,
        "pieces": [
            {
                "name": piece.name,
                "angle": deg(piece.value_rad),
                "measuring": deg(piece.measured_rad),
                "edge_form": deg(piece.form_rad),
            }
            for piece in study.pieces
        ],
        "cautions": list(cautions("measure", "cut")),
    }


def _headline(study: SpreadStudy) -> str:
    if study.by_chance > MAY_BE_CHANCE:
        return (
            "The pieces differ no more than measuring and edge roughness explain (chance of that alone: "
            f"{study.by_chance:.0%}): from piece to piece the cut varies by less than {_degrees(study.most_rad)}."
        )
    return (
        f"From piece to piece the cut varies by {_degrees(study.spread.standard_deviation_rad)} (95 %: between "
        f"{_degrees(study.least_rad)} and {_degrees(study.most_rad)})."
    )


def _rows(study: SpreadStudy) -> list[tuple[str, str]]:
    unknown = "not given, so part of it"
    mean_to = 2 * math.degrees(study.seen_rad) / math.sqrt(len(study.pieces))
    return [
        ("seen", f"{_degrees(study.seen_rad)}, standard deviation of {len(study.pieces)} pieces"),
        ("of that measuring", _degrees(study.measuring_rad) if study.measuring_rad else unknown),
        ("of that edge roughness", _degrees(study.form_rad) if study.form_rad else unknown),
        ("left for the cut", _degrees(study.spread.standard_deviation_rad)),
        ("mean of the pieces", f"{format_number(math.degrees(study.mean_rad), mean_to)} deg"),
    ]


def _degrees(value_rad: float) -> str:
    return f"{format_bound(math.degrees(value_rad)) if value_rad else '0'} deg"
