"""How the cut spreads, in words and for other programs."""

from __future__ import annotations

import math
from typing import Literal, TypedDict

from cutvision.correction.spread_study import SpreadStudy
from cutvision.reports.cautions import cautions
from cutvision.reports.columns import bullets, wrap
from cutvision.units import format_angle, format_bound

SCHEMA: Literal["cutvision/spread/1"] = "cutvision/spread/1"
# From here on the scatter may well be that of measuring and edge form alone.
MAY_BE_CHANCE = 0.05


class PieceJson(TypedDict):
    """A piece's angle, and the standard uncertainties of measuring it and of its edges, in degrees."""

    name: str
    angle: float
    measuring: float
    edge_form: float


class SpreadJson(TypedDict):
    """Standard deviations in degrees; `least` and `most` are the 95 % limits of `spread`.

    `by_chance` is the probability that measuring and edge form alone scatter as much.
    """

    schema: Literal["cutvision/spread/1"]
    spread: float
    degrees_of_freedom: float
    least: float
    most: float
    seen: float
    measuring: float
    edge_form: float
    mean: float
    by_chance: float
    pieces: list[PieceJson]


def spread_text(study: SpreadStudy) -> str:
    """What was found first, then how to use it, the pieces, and the cautions that go with cutting more."""
    most, left = study.most_rad, study.spread.standard_deviation_rad
    if study.by_chance > MAY_BE_CHANCE:
        lead = (
            "The pieces differ no more than measuring and edge form explain (chance of that alone: "
            f"{study.by_chance:.0%}): the cut spreads by less than {_angle(most)} from piece to piece."
        )
    else:
        lead = (
            f"The cut spreads by {_angle(left)} from piece to piece: one standard deviation, on "
            f"{study.spread.degrees_of_freedom:.0f} degrees of freedom, in 95 of 100 cases between "
            f"{_angle(study.least_rad)} and {_angle(most)}."
        )
    known = 2 * math.hypot(study.measuring_rad, study.form_rad)
    angles = ",".join(f"{math.degrees(piece.value_rad):.4f}deg" for piece in study.pieces)
    option = f"--cut-angles {angles}" + (f" --cut-angles-to {math.degrees(known):.3g}deg" if known else "")
    rows = [
        ("seen", f"{_angle(study.seen_rad)} (standard deviation of {len(study.pieces)} pieces)"),
        (
            "of that measuring",
            _angle(study.measuring_rad) if study.measuring_rad else "not said, so part of the spread",
        ),
        ("of that edge form", _angle(study.form_rad) if study.form_rad else "not said, so part of the spread"),
        ("left for the cut", _angle(left)),
        ("mean of the pieces", format_angle(study.mean_rad, study.seen_rad / math.sqrt(len(study.pieces)))),
    ]
    notes = ["It holds for this saw, jig, blade and wood, held and pushed in the same way."]
    if left:
        means = ", ".join(f"{count} pieces {_degrees(left / math.sqrt(count))}" for count in (2, 4, 9))
        notes.append(f"It leaves in the mean of {means}: more pieces help, better measuring does not.")
    blocks = [
        wrap(lead),
        wrap("Let the next correction count it, degrees of freedom and all:") + f"\n  {option}",
        "\n".join(wrap(text, f"{name:22}") for name, text in rows),
        "Pieces\n" + "\n".join(f"  {piece.name:40} {math.degrees(piece.value_rad):.4f} deg" for piece in study.pieces),
        bullets("Notes", notes),
        bullets("Cautions", cautions("measure", "cut")),
    ]
    return "\n\n".join(blocks) + "\n"


def spread_as_json(study: SpreadStudy) -> SpreadJson:
    """The study as a plain object, angles in degrees."""
    deg = math.degrees
    return {
        "schema": SCHEMA,
        "spread": deg(study.spread.standard_deviation_rad),
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
    }


def _angle(value_rad: float) -> str:
    return f"{_degrees(value_rad)} ({format_bound(60 * math.degrees(value_rad)) if value_rad else '0'}')"


def _degrees(value_rad: float) -> str:
    return f"{format_bound(math.degrees(value_rad)) if value_rad else '0'} deg"
