"""What `cutvision measure --json` printed, read back as quantities."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal

from cutvision.correction.comparison import PhotoReading
from cutvision.errors import InputError
from cutvision.files import LIMITS, read_bounded
from cutvision.uncertainty import BudgetRow, Quantity, Unit, freedom_of_factor, quantity_of_rows

SCHEMA: Literal["cutvision/measurement/1"] = "cutvision/measurement/1"
_ANGLES = {"miter": ("angle_left", "angle_right", "corner", "split_error"), "strip": ("taper",)}


def read_measured_file(file: Path, shape: Literal["miter", "strip"]) -> PhotoReading:
    """The photos' quantities in a file. Raises InputError when it cannot be read, and as `photo_reading_from_json`."""
    try:
        text = read_bounded(file, "measurement").decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"{file} cannot be read: it is no text.", LIMITS["measurement"].remedy) from error
    return photo_reading_from_json(text, shape, file.name)


def photo_reading_from_json(text: str, shape: Literal["miter", "strip"], name: str) -> PhotoReading:
    """The photos' quantities, each with a row of its budget as an influence of its own (rad, mm).

    What two quantities share is not in the file, so they come back as if they shared nothing. name: of the file, for
    messages. Raises InputError for a text that `cutvision measure --json` did not print, and for another shape.
    """
    try:
        told = json.loads(text)
        if told["schema"] != SCHEMA:
            raise _wrong(name, f"its schema is {told['schema']!r}")
        if told["shape"] != shape:
            raise InputError(
                f"{name} holds a {told['shape']}, not a {shape}.", f"Give the file of a {shape}, or another --shape."
            )
        quantities = {key: _quantity(key, q, told["budget"][key]) for key, q in told["quantities"].items()}
        missing = [key for key in _ANGLES[shape] if key not in quantities]
        if missing or not told["photos"]:
            raise _wrong(name, f"{', '.join(missing) or 'the photo'} is missing")
        return PhotoReading(
            quantities=quantities,
            edge_form_rad={key: math.radians(_finite(value)) for key, value in told["edge_form"].items()},
            photos=len(told["photos"]),
            lens_height_mm=math.fsum(_finite(p["lens_height_mm"]) for p in told["photos"]) / len(told["photos"]),
            thickness_mm=max(_finite(edge["height_mm"]) for p in told["photos"] for edge in p["edges"]),
        )
    except (ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError) as error:
        raise _wrong(name, _why(error)) from error


def _quantity(key: str, told: Mapping[str, Any], rows: list[Mapping[str, Any]]) -> Quantity:
    """Rows of type A carry the degrees of freedom that the coverage factor tells."""
    unit: Unit = {"deg": "rad", "mm": "mm"}[told["unit"]]  # type: ignore[assignment]
    factor = math.radians(1.0) if unit == "rad" else 1.0
    parts = [
        BudgetRow(
            str(row["influence"]),
            row["type"],
            _finite(row["standard_uncertainty"]) * factor,
            0.0,
            tuple(map(str, row["sources"])),
        )
        for row in rows
    ]
    if math.fsum(part.contribution for part in parts) <= 0:
        raise ValueError(f"{key} has no uncertainty")
    freedom = freedom_of_factor(_finite(told["coverage_factor"]))
    return quantity_of_rows(_finite(told["value"]) * factor, unit, parts, freedom, f"photo/{key}")


def _why(error: Exception) -> str:
    if isinstance(error, json.JSONDecodeError):
        return f"it is no whole JSON (line {error.lineno})"
    if isinstance(error, KeyError):
        return f"it holds no {error.args[0]!r}"
    if type(error) is ValueError:
        return str(error)[:120]
    return "its parts are of other kinds"


def _finite(value: Any) -> float:
    number = float(value)
    if isinstance(value, str | bool) or not math.isfinite(number):
        raise ValueError(f"{value!r} is no number")
    return number


def _wrong(name: str, why: str) -> InputError:
    return InputError(
        f"{name} is not what `cutvision measure --json` prints: {why}.",
        f"Write it with: cutvision measure PHOTO --shape miter --json > {name}",
    )
