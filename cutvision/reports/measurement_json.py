"""A measurement for other programs: angles in degrees, lengths in millimetres, whatever a person reads."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal, TypedDict

from cutvision.errors import Note
from cutvision.jobs.measured_file import SCHEMA
from cutvision.measurement.result import EdgeEvidence, Measurement, PhotoEvidence
from cutvision.uncertainty import Quantity
from cutvision.uncertainty.budget import budget


class QuantityJson(TypedDict):
    """A value with its doubt: `expanded_uncertainty` = `coverage_factor` x `standard_uncertainty`, about 95 %."""

    value: float
    unit: Literal["deg", "mm", "1"]
    standard_uncertainty: float
    expanded_uncertainty: float
    coverage_factor: float


class BudgetRowJson(TypedDict):
    """One row of a budget: `standard_uncertainty` in the quantity's unit, `share` of its variance from 0 to 1."""

    influence: str
    type: str
    standard_uncertainty: float
    share: float
    sources: list[str]


class NoteJson(TypedDict):
    """Something seen that did not stop the measurement."""

    name: str
    message: str
    remedy: str


class EdgeJson(TypedDict):
    """How one edge was seen: points used and dropped, their scatter, and the height of the arris that was fitted."""

    name: str
    points_used: int
    points_dropped: int
    residual_rms_mm: float
    height_mm: float


class PhotoJson(TypedDict):
    """One photo's part; `quantities` are its own readings before photos are combined."""

    file: str
    sha256: str
    paper: str
    used: bool
    lens_height_mm: float
    tilt_deg: float
    saddles_used: int
    saddle_rms_px: float
    edges: list[EdgeJson]
    quantities: dict[str, QuantityJson]
    notes: list[NoteJson]


class MeasurementJson(TypedDict):
    """The object that `measure --json` prints; `edge_form` is in degrees and not part of the quantities' bounds."""

    schema: Literal["cutvision/measurement/1"]
    shape: str
    photos: list[PhotoJson]
    quantities: dict[str, QuantityJson]
    edge_form: dict[str, float]
    budget: dict[str, list[BudgetRowJson]]
    notes: list[NoteJson]


def quantity_as_json(quantity: Quantity) -> QuantityJson:
    """A quantity with rad turned into degrees."""
    factor = _per_unit(quantity)
    return {
        "value": quantity.value * factor,
        "unit": "deg" if quantity.unit == "rad" else quantity.unit,
        "standard_uncertainty": quantity.standard_uncertainty * factor,
        "expanded_uncertainty": quantity.expanded_uncertainty * factor,
        "coverage_factor": quantity.coverage_factor,
    }


def budget_as_json(quantity: Quantity) -> list[BudgetRowJson]:
    """The rows of a quantity's budget, largest first, with rad turned into degrees."""
    factor = _per_unit(quantity)
    return [
        {
            "influence": row.name,
            "type": row.kind,
            "standard_uncertainty": row.contribution * factor,
            "share": row.share,
            "sources": list(row.sources),
        }
        for row in budget(quantity)
    ]


def notes_as_json(notes: Sequence[Note]) -> list[NoteJson]:
    """Notes in the order in which they were made."""
    return [{"name": note.name, "message": note.message, "remedy": note.remedy} for note in notes]


def measurement_as_json(measurement: Measurement) -> MeasurementJson:
    """The measurement as a plain object that json.dumps takes as it is."""
    return {
        "schema": SCHEMA,
        "shape": measurement.shape,
        "photos": [_photo(photo) for photo in measurement.photos],
        "quantities": {name: quantity_as_json(q) for name, q in measurement.quantities.items()},
        "edge_form": {name: math.degrees(u) for name, u in measurement.edge_form_rad.items()},
        "budget": {name: budget_as_json(q) for name, q in measurement.quantities.items()},
        "notes": notes_as_json(measurement.notes),
    }


def _per_unit(quantity: Quantity) -> float:
    return math.degrees(1.0) if quantity.unit == "rad" else 1.0


def _photo(photo: PhotoEvidence) -> PhotoJson:
    return {
        "file": photo.file,
        "sha256": photo.sha256,
        "paper": photo.paper,
        "used": photo.used,
        "lens_height_mm": photo.lens_height_mm,
        "tilt_deg": photo.tilt_deg,
        "saddles_used": photo.saddles_used,
        "saddle_rms_px": photo.saddle_rms_px,
        "edges": [_edge(edge) for edge in photo.edges],
        "quantities": {name: quantity_as_json(q) for name, q in photo.quantities.items()},
        "notes": notes_as_json(photo.notes),
    }


def _edge(edge: EdgeEvidence) -> EdgeJson:
    return {
        "name": edge.name,
        "points_used": len(edge.used_px),
        "points_dropped": len(edge.dropped_px),
        "residual_rms_mm": edge.residual_rms_mm,
        "height_mm": edge.height_mm,
    }
