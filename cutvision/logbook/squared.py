"""A test piece's corner, from the last run of the jig that squares the test pieces."""

from __future__ import annotations

import math
from dataclasses import dataclass

from cutvision.logbook.book import Logbook
from cutvision.logbook.records import JigRecord


@dataclass(frozen=True, slots=True)
class SquaredCorner:
    """The corner that the squaring jig cuts, as options take it, and where that is known from.

    corner_text, within_text: angles with their unit; the doubt is a rectangular half-width with the run's own standard
    uncertainty; empty when nothing can be said. told: a sentence for the person.
    """

    corner_text: str
    within_text: str
    told: str


def squared_corner(book: Logbook, jig: JigRecord) -> SquaredCorner | None:
    """None when the jig names no other that squares its test pieces."""
    if jig.squared_by is None:
        return None
    squaring = book.jig(jig.squared_by)
    run = book.last_run(squaring.identity)
    if run is None:
        return SquaredCorner("", "", f"'{squaring.name}' squares the test pieces, but has no run to tell their corner.")
    told = run.correction
    if told is None or told["nominal"] != 0:
        return SquaredCorner("", "", f"Run {run.number} of '{squaring.name}' is no square cut: it tells no corner.")
    if run.moves:
        return SquaredCorner(
            "",
            "",
            f"'{squaring.name}' was moved after run {run.number}: its corner is unknown until a check cut is recorded.",
        )
    error = told["angle_error"]
    clockwise_opens = told["positive_means"] == "counterclockwise" and told["kept"] == "right"
    corner = 90.0 + (-error["value"] if clockwise_opens else error["value"])
    within = math.sqrt(3.0) * error["standard_uncertainty"]
    corner_text, within_text = f"{corner:.6f}deg", f"{within:.6f}deg"
    return SquaredCorner(
        corner_text,
        within_text,
        f"The corner, {corner:.4f} deg within {within:.4f} deg, is from run {run.number} of '{squaring.name}'.",
    )
