"""Results as JSON, and back: one encoder and one decoder for every result type, and the schema that they come to.

Angles in degrees, lengths in millimetres, whatever a person reads. A field's key is its name without `_rad` or `_mm`.
A `Quantity` gives value, unit, standard and expanded uncertainty, and coverage factor. NaN is never written; what has
no limit is null.
"""

from __future__ import annotations

import dataclasses
import math
import types
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from cutvision.correction import (
    AngleError,
    Correction,
    FenceGeometry,
    FenceMove,
    FirstOrder,
    Kept,
    NextReading,
    PointShift,
    Side,
    Turn,
    probability_between,
)
from cutvision.correction.comparison import Cause, Comparison
from cutvision.correction.joint import JointPreview, sight
from cutvision.correction.result import Method
from cutvision.correction.spread_study import PieceAngle, SpreadStudy
from cutvision.correction.tolerance import DEFAULT_TOLERANCE
from cutvision.errors import InputError
from cutvision.measurement.result import EdgeEvidence, Measurement, PhotoEvidence
from cutvision.uncertainty import (
    BudgetRow,
    Influence,
    Quantity,
    Unit,
    budget,
    freedom_of_factor,
    quantity_of_rows,
)
from cutvision.uncertainty.agreement import Agreement

Json = dict[str, Any]
_DEG = math.degrees(1.0)


@dataclasses.dataclass(frozen=True, slots=True)
class Added:
    """A key that no field has: its type, and how it comes from the value."""

    hint: Any
    of: Callable[[Any], Any]


def _budget(quantity: Quantity) -> list[Json]:
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


# Where a result is not shown field by field: attributes or properties, with ":key" where the key is another name.
_SHOWN: Mapping[type, tuple[str, ...]] = {
    Correction: (
        *("method", "way", "angle_error", "fence_move", "side", "turn", "nominal_rad", "kept", "turns", "first_order"),
        *("decision", "candidates", "piece", "arms", "uncured", "plan", "notes"),
    ),
    Measurement: ("shape", "photos", "quantities", "edge_form_rad", "notes"),
    PhotoEvidence: (
        *(
            "file",
            "sha256",
            "paper",
            "used",
            "lens_height_mm:lens_height_mm",
            "tilt_deg",
            "saddles_used",
            "saddle_rms_px",
            "edges",
        ),
        *("quantities", "notes"),
    ),
    EdgeEvidence: ("name", "residual_rms_mm:residual_rms_mm", "height_mm:height_mm"),
    SpreadStudy: (
        *("mean_rad", "seen_rad", "measuring_rad", "form_rad:edge_form", "least_rad", "most_rad", "by_chance"),
        "pieces",
    ),
    PieceAngle: ("name", "value_rad:angle", "measured_rad:measuring", "form_rad:edge_form"),
    FirstOrder: ("angle_rad:angle_error", "move_mm:fence_move", "rule"),
    PointShift: ("slide", "slide_mm:distance", "away_mm"),
    Agreement: ("first:caliper", "second:photo", "difference", "number:e_n", "verdict"),
    Comparison: ("verdict", "number:e_n", "angles", "lengths", "causes", "combined"),
    Cause: ("name", "message", "remedy", "number:e_n"),
}
_ADDED: Mapping[type, Mapping[str, Added]] = {
    Correction: {
        "positive_means": Added(str, lambda one: one.error.positive_means),
        "fence_length": Added(Quantity, lambda one: one.move.lever),
        "budget": Added(list[BudgetRow], lambda one: Raw(_budget(one.angle_error))),
    },
    Measurement: {
        "budget": Added(
            Mapping[str, list[BudgetRow]],
            lambda one: Raw({name: _budget(q) for name, q in one.quantities.items()}),
        )
    },
    SpreadStudy: {
        "spread": Added(float, lambda one: one.spread.standard_deviation_rad * _DEG),
        "degrees_of_freedom": Added(float, lambda one: one.spread.degrees_of_freedom),
    },
    JointPreview: {
        "nominal": Added(float, lambda one: one.nominal_rad * _DEG),
        "shows": Added(str, lambda one: sight(one.gap_each.value)),
    },
    Comparison: {"shape": Added(str, lambda one: "strip" if "taper" in one.angles else "miter")},
    EdgeEvidence: {
        "points_used": Added(int, lambda one: len(one.used_px)),
        "points_dropped": Added(int, lambda one: len(one.dropped_px)),
    },
}


@dataclasses.dataclass(frozen=True, slots=True)
class Raw:
    """What is JSON already."""

    value: Any


def encode(thing: Any) -> Any:
    """A result, or any part of one, as plain JSON. Raises ValueError for NaN, TypeError for what is no result."""
    special = _ENCODERS.get(type(thing))
    if special is not None:
        return special(thing)
    if thing is None or isinstance(thing, bool | int | str):
        return thing
    if isinstance(thing, float):
        return _number(thing)
    if isinstance(thing, Mapping):
        return {str(key): encode(value) for key, value in thing.items()}
    if isinstance(thing, Sequence):
        return [encode(one) for one in thing]
    return _fields(thing)


def _fields(thing: Any) -> Json:
    if not dataclasses.is_dataclass(thing) or isinstance(thing, type):
        raise TypeError(f"{type(thing).__name__} is no result")
    told = {key: _scaled(encode(getattr(thing, name)), factor) for name, key, factor in shown(type(thing))}
    return told | {key: encode(one.of(thing)) for key, one in _ADDED.get(type(thing), {}).items()}


@cache
def shown(cls: type) -> tuple[tuple[str, str, float], ...]:
    """The attributes of a result that are written: name, key, and by how much its numbers are multiplied."""
    rows = []
    for name in _SHOWN.get(cls) or _names(cls):
        attribute, _, said = name.partition(":")
        key, factor = key_of(attribute)
        rows.append((attribute, said or key, factor))
    return tuple(rows)


def key_of(name: str) -> tuple[str, float]:
    """The key of an attribute, and by how much its numbers are multiplied."""
    if name.endswith("_rad"):
        return name.removesuffix("_rad"), _DEG
    return name.removesuffix("_mm"), 1.0


def decode(cls: Any, told: Any) -> Any:
    """A result, or a part of one, from what `encode` made of it.

    A quantity comes back with one influence that bears all its uncertainty. Raises KeyError, TypeError or ValueError
    for what is none.
    """
    special = _DECODERS.get(cls)
    if special is not None:
        return special(told)
    origin = get_origin(cls)
    if origin in (Union, types.UnionType):
        inner = [one for one in get_args(cls) if one is not types.NoneType]
        return None if told is None else _one_of(inner, told)
    if origin is tuple:
        return tuple(decode(get_args(cls)[0], one) for one in told)
    if dataclasses.is_dataclass(cls):
        return _value(cls, told)
    if not (told in get_args(cls) if origin is Literal else isinstance(told, cls)):
        raise TypeError(f"{told!r} is no {cls}")
    return told


def _value(cls: Any, told: Mapping[str, Any]) -> Any:
    """A dataclass from its keys; a key that is missing leaves the field its default."""
    hints = get_type_hints(cls)
    fields = {}
    for name, key, factor in shown(cls):
        if key in told:
            value = decode(hints[name], told[key])
            fields[name] = value / factor if factor != 1.0 and value is not None else value
    return cls(**fields)


def _reading_from(told: Mapping[str, Any]) -> NextReading:
    scale = 1.0 if told["unit"] == "mm" else 1 / _DEG
    figures = {name: value * scale if isinstance(value, float) else value for name, value in told.items()}
    parts: Json = {**figures, "unit": "mm" if told["unit"] == "mm" else "rad"}
    return NextReading(**parts)


def _one_of(hints: Sequence[Any], told: Any) -> Any:
    """By the first type that takes it."""
    for hint in hints[:-1]:
        try:
            return decode(hint, told)
        except (KeyError, TypeError, ValueError):
            continue
    return decode(hints[-1], told)


def quantity_from(told: Mapping[str, Any], rows: Sequence[Mapping[str, Any]] = (), key: str = "recorded") -> Quantity:
    """A quantity from its JSON: each row of its budget an influence of its own, or one that bears all.

    Rows of type A carry the degrees of freedom that the coverage factor shows. key: begins the influences' keys.
    """
    unit: Unit = {"deg": "rad", "mm": "mm", "1": "1"}[told["unit"]]  # type: ignore[assignment]
    factor = 1 / _DEG if unit == "rad" else 1.0
    freedom = freedom_of_factor(_finite(told["coverage_factor"]))
    value = _finite(told["value"]) * factor
    if not rows:
        part = _finite(told["standard_uncertainty"]) * factor
        influence = Influence(key, "as recorded", "A" if math.isfinite(freedom) else "B", "", freedom)
        return Quantity(value, unit, {influence: part} if part else {})
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
    return quantity_of_rows(value, unit, parts, freedom, key)


def _correction(told: Mapping[str, Any]) -> Correction:
    """A correction whose error carries its budget's rows."""
    hints = get_type_hints(Correction)
    plan = decode(hints["plan"], told.get("plan"))
    geometry: FenceGeometry | None = None if plan is None or plan.assumed else plan.geometry
    error = quantity_from(told["angle_error"], told["budget"], "fence")
    rest = {
        name: decode(hints[name], told[key])
        for name in ("first_order", "decision", "candidates", "notes", "piece", "arms", "uncured")
        if (key := name) in told
    }
    return Correction(
        method=decode(Method, told["method"]),
        way=decode(hints["way"], told["way"]),
        error=AngleError(error, told["positive_means"]),
        move=FenceMove(
            quantity_from(told["fence_move"]),
            quantity_from(told["fence_length"]),
            decode(Side | None, told["side"]),
            decode(Turn | None, told["turn"]),
            geometry,
        ),
        nominal_rad=_finite(told["nominal"]) / _DEG,
        kept=decode(Kept | None, told["kept"]),
        turns=told["turns"],
        plan=plan,
        **rest,
    )


def recorded_correction(told: Mapping[str, Any]) -> Correction:
    """A correction as a run keeps it, of whichever version; one without a plan comes back without.

    Raises InputError for what is none.
    """
    try:
        return _correction(_renewed(told) if "value" in told["decision"] else told)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise InputError(
            f"The run's correction cannot be read ({type(error).__name__}: {error}).",
            "Run cutvision log verify; then compare with a backup or an export.",
        ) from error


def _renewed(told: Mapping[str, Any]) -> Json:
    """What the first version wrote, under the keys of this one."""
    old = told["decision"]
    limit = old["tolerance"]
    bound = told["angle_error"]["expanded_uncertainty"]
    decision = {
        "action": old["value"],
        "tolerance": math.degrees(DEFAULT_TOLERANCE.angle_rad) if limit is None else limit,
        "tolerance_said": DEFAULT_TOLERANCE.said if limit is None else old.get("tolerance_said", ""),
        "tolerance_is_default": limit is None,
        "bound": bound,
        "probability_within": old.get("probability_within"),
        "at_worst": bound if old["value"] == "move" else None,
        "remedies": (),
        "remedy": None,
    }
    if decision["probability_within"] is None:
        error = quantity_from(told["angle_error"])
        decision["probability_within"] = probability_between(
            error, -DEFAULT_TOLERANCE.angle_rad, DEFAULT_TOLERANCE.angle_rad
        )
    move = told.get("move")
    return {**told, "decision": decision, "plan": None if move is None else _renewed_plan(move)}


# What the next piece had to have as this one had it, before that stood with the reading.
_SAME_BEFORE = {
    "legs": "cut",
    "widths": "distance between readings",
    "gap": "length beside the gap",
    "last joint": "stock width",
}


def _renewed_plan(move: Mapping[str, Any]) -> Json:
    readings = [{**one, "same": _SAME_BEFORE.get(one["name"], "nothing")} for one in move["next_readings"]]
    pushes = [
        {
            **push,
            "means": push["means"].replace("leaf", "shim"),
            "shim_on": push["leaf_on"],
            "square_to": "fence" if move["fence"] == "single" else "rear stop",
            "screw": push["screw"] and {**push["screw"], "exact": push["screw"]["turns"]},
        }
        for push in move["pushes"]
    ]
    return {**move, "geometry": None, "assumed": False, "pushes": pushes, "readings": readings}


def schema_of(cls: Any) -> Json:
    """The JSON schema (draft 2020-12) of what `encode` makes of a type, every key always there."""
    definitions: Json = {}
    top = _schema(cls, definitions)
    name = top.get("$ref", "").removeprefix("#/$defs/")
    body = definitions.pop(name) if name else top
    return {**body, "$defs": dict(sorted(definitions.items()))}


_PLAIN = {str: "string", bool: "boolean", int: "integer", float: "number", types.NoneType: "null"}


def _schema(hint: Any, definitions: Json) -> Json:
    origin, inner = get_origin(hint), get_args(hint)
    if hint in _PLAIN:
        return {"type": _PLAIN[hint]}
    if origin in (Union, types.UnionType):
        return {"anyOf": [_schema(one, definitions) for one in inner]}
    if origin is Literal:
        return {"enum": list(inner)}
    if origin is not None and issubclass(origin, Mapping):
        return {"type": "object", "additionalProperties": _schema(inner[1], definitions)}
    if origin is not None:
        return {"type": "array", "items": _schema(inner[0], definitions)}
    name = hint.__name__
    if name not in definitions:
        definitions[name] = {}
        definitions[name] = _object(hint, definitions)
    return {"$ref": f"#/$defs/{name}"}


def _object(cls: Any, definitions: Json) -> Json:
    number = {"type": "number"}
    if cls is Quantity:
        keys: Json = {
            "value": number,
            "unit": {"enum": ["deg", "mm", "1"]},
            **dict.fromkeys(("standard_uncertainty", "expanded_uncertainty", "coverage_factor"), number),
        }
    elif cls is BudgetRow:
        text = {"type": "string"}
        keys = {"influence": text, "type": text, "standard_uncertainty": number, "share": number}
        keys["sources"] = {"type": "array", "items": text}
    else:
        keys = {key: _schema(_hint(cls, name), definitions) for name, key, _ in shown(cls)}
        keys |= {key: _schema(one.hint, definitions) for key, one in _ADDED.get(cls, {}).items()}
        if cls is NextReading:
            keys["unit"] = {"enum": ["mm", "deg"]}
    return {"type": "object", "properties": keys, "required": sorted(keys), "additionalProperties": False}


def _hint(cls: Any, name: str) -> Any:
    hints = get_type_hints(cls)
    return hints[name] if name in hints else get_type_hints(getattr(cls, name).fget)["return"]


@cache
def _names(cls: type) -> tuple[str, ...]:
    return tuple(field.name for field in dataclasses.fields(cls))


def _quantity(quantity: Quantity) -> Json:
    factor = _per_unit(quantity)
    return {
        "value": _number(quantity.value * factor),
        "unit": "deg" if quantity.unit == "rad" else quantity.unit,
        "standard_uncertainty": _number(quantity.standard_uncertainty * factor),
        "expanded_uncertainty": _number(quantity.expanded_uncertainty * factor),
        "coverage_factor": _number(quantity.coverage_factor),
    }


def _reading(reading: NextReading) -> Json:
    scale = 1.0 if reading.unit == "mm" else _DEG
    told = {name: getattr(reading, name) for name in _names(NextReading)}
    figures = {name: _number(value * scale) for name, value in told.items() if isinstance(value, float)}
    return {**told, **figures, "unit": "mm" if reading.unit == "mm" else "deg"}


def _scaled(told: Any, factor: float) -> Any:
    if factor == 1.0 or told is None:
        return told
    if isinstance(told, dict):
        return {key: _scaled(value, factor) for key, value in told.items()}
    if isinstance(told, list):
        return [_scaled(value, factor) for value in told]
    return told * factor


def _per_unit(quantity: Quantity) -> float:
    return _DEG if quantity.unit == "rad" else 1.0


def _number(value: float) -> float | None:
    if math.isnan(value):
        raise ValueError("a result holds NaN")
    # nothing is written as -0
    return value + 0.0 if math.isfinite(value) else None


def _finite(value: Any) -> float:
    if isinstance(value, str | bool):
        raise TypeError(f"{value!r} is no number")
    number = float(value)
    if not math.isfinite(number):
        raise ValueError(f"{value!r} is no number")
    return number


_ENCODERS: Mapping[type, Callable[[Any], Any]] = {
    Raw: lambda raw: raw.value,
    Quantity: _quantity,
    NextReading: _reading,
}
_DECODERS: Mapping[Any, Callable[[Any], Any]] = {
    float: _finite,
    Quantity: quantity_from,
    NextReading: _reading_from,
    Correction: _correction,
}
