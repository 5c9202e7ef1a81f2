"""Results as JSON: fixed keys, degrees and millimetres, no NaN, and the same value back."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cutvision.correction import (
    Correction,
    Jig,
    ReadingCare,
    correct_miter_from_legs,
    correct_square_from_taper,
    typed_corner,
    typed_distance,
    typed_legs,
)
from cutvision.errors import InputError, PhotoRefused
from cutvision.measurement.result import Measurement
from cutvision.reports.encode import decode, encode, recorded_correction, schema_of
from cutvision.reports.objects import correction_object, measurement_object, refusals_object
from cutvision.uncertainty import Influence, Quantity

SCHEMAS = Path(__file__).parent / "schemas"
CARE = ReadingCare()


def legs(left: float, right: float, kept: Any = None) -> Correction:
    """Two typed legs, all defaults."""
    jig = Jig(typed_distance(380.0, "lever", CARE), kept)
    return correct_miter_from_legs(*typed_legs(left, right, CARE), typed_corner(math.pi / 2, CARE), jig)


def strip(taper_deg: float, kept: Any = None) -> Correction:
    """A strip's taper."""
    taper = Quantity(math.radians(taper_deg), "rad", {Influence("one", "one"): 1e-5})
    return correct_square_from_taper(taper, Jig(typed_distance(560.0, "lever", CARE), kept))


EVERY = [legs(101.62, 101.35), legs(101.35, 101.62, "left"), legs(101.6, 101.6), strip(0.1), strip(-0.1, "right")]


@pytest.mark.parametrize("correction", EVERY, ids=range(len(EVERY)))
def test_a_correction_has_the_keys_that_other_programs_rely_on(correction: Correction) -> None:
    """The interface's keys, in deg and mm, the expanded uncertainty k times the standard one; plain JSON."""
    told = json.loads(json.dumps(correction_object(correction), allow_nan=False))
    assert told["schema"] == "cutvision/correction/1"
    assert told["method"] == correction.method
    for key, unit, quantity in (
        ("angle_error", "deg", correction.angle_error),
        ("fence_move", "mm", correction.fence_move),
    ):
        one = told[key]
        assert one["unit"] == unit
        assert one["value"] == pytest.approx(math.degrees(quantity.value) if unit == "deg" else quantity.value)
        assert one["expanded_uncertainty"] == pytest.approx(one["coverage_factor"] * one["standard_uncertainty"])
    assert (told["side"], told["turn"]) == (correction.side, correction.turn)
    decision = correction.decision
    assert told["decision"]["action"] == decision.action
    assert told["decision"]["tolerance"] == pytest.approx(math.degrees(decision.tolerance_rad))
    assert told["decision"]["probability_within"] == decision.probability_within
    assert [one["kept"] for one in told["candidates"]] == [one.kept for one in correction.candidates]
    assert told["cautions"]


def test_a_measurement_has_the_keys_that_other_programs_rely_on(make_example: Callable[..., Any]) -> None:
    """Schema, shape, photos with file, sha256, paper and used, quantities in deg and mm, and cautions."""
    measurement = make_example("miter").measurement
    told = json.loads(json.dumps(measurement_object(measurement, EVERY[0]), allow_nan=False))
    assert (told["schema"], told["shape"]) == ("cutvision/measurement/1", "miter")
    photo = measurement.photos[0]
    assert [(one["file"], one["sha256"], one["paper"], one["used"]) for one in told["photos"]] == [
        (photo.file, photo.sha256, photo.paper, photo.used)
    ]
    assert set(told["quantities"]) == set(measurement.quantities)
    left = told["quantities"]["angle_left"]
    assert (left["unit"], left["value"]) == ("deg", pytest.approx(44.9))
    assert told["quantities"]["leg_left"]["unit"] == "mm"
    assert told["photos"][0]["edges"][0]["points_used"] == len(photo.edges[0].used_px)
    assert sum(row["share"] for row in told["budget"]["angle_left"]) == pytest.approx(1.0)
    assert told["correction"] == json.loads(json.dumps(correction_object(EVERY[0])))
    assert told["cautions"]


def test_a_refusal_has_its_four_keys() -> None:
    """File, reason, message and remedy, under the refusal's schema."""
    told = refusals_object([PhotoRefused("no-target", "It shows no sheet.", "Lay it on the sheet.", "a.jpg")])
    assert told == {
        "schema": "cutvision/refusal/1",
        "refusals": [
            {
                "file": "a.jpg",
                "reason": "no-target",
                "message": "It shows no sheet.",
                "remedy": "Lay it on the sheet.",
            }
        ],
    }


@pytest.mark.parametrize("correction", EVERY, ids=range(len(EVERY)))
def test_a_correction_comes_back_as_it_was(correction: Correction) -> None:
    """Written, read and written again gives the same JSON but for the last bits of a float."""
    told = json.loads(json.dumps(correction_object(correction)))
    again = json.loads(json.dumps(correction_object(recorded_correction(told))))
    _same(again, told)


def _same(one: Any, other: Any) -> None:
    """Equal to 12 places; what a row of the budget says it is made of is kept as one source."""
    if isinstance(other, dict):
        assert one.keys() == other.keys()
        for key in other:
            if key != "sources":
                _same(one[key], other[key])
    elif isinstance(other, list):
        assert len(one) == len(other)
        for mine, theirs in zip(one, other, strict=True):
            _same(mine, theirs)
    elif isinstance(other, float):
        assert one == pytest.approx(other, rel=1e-9, abs=1e-12)
    else:
        assert one == other


def test_nan_is_never_written_and_no_limit_is_null() -> None:
    """NaN is a bug that ends the writing; an infinite figure has no number in JSON."""
    with pytest.raises(ValueError, match="NaN"):
        encode(Quantity(math.nan, "mm"))
    assert encode(math.inf) is None
    assert str(encode(-0.0)) == "0.0"


def test_what_is_no_result_is_not_read_as_one() -> None:
    """A missing key, a word for a number and a wrong word raise; none passes for a value."""
    told = json.loads(json.dumps(correction_object(EVERY[0])))
    for change in ({"angle_error": {}}, {"method": "guess"}, {"nominal": "45"}, {"nominal": None}):
        with pytest.raises(InputError, match="cannot be read"):
            recorded_correction({**told, **change})
    with pytest.raises((KeyError, TypeError, ValueError)):
        decode(Quantity, {"value": math.nan, "unit": "mm", "coverage_factor": 2.0, "standard_uncertainty": 0.1})


@pytest.mark.parametrize(("name", "cls"), [("correction", Correction), ("measurement", Measurement)])
def test_the_schema_that_is_kept_is_the_one_that_is_written(name: str, cls: type) -> None:
    """The kept file equals what the types give; a change of keys shows here."""
    assert json.loads((SCHEMAS / f"{name}.json").read_text()) == json.loads(json.dumps(schema_of(cls)))


@pytest.mark.parametrize("correction", EVERY, ids=range(len(EVERY)))
def test_what_is_written_has_the_schemas_keys(correction: Correction) -> None:
    """Every key of every object is in the schema and none is missing."""
    schema = schema_of(Correction)
    _check(json.loads(json.dumps(encode(correction))), schema, schema["$defs"])


def _check(told: Any, schema: dict[str, Any], definitions: dict[str, Any]) -> None:
    """A small reader of the schema: references, choices, objects and lists."""
    if "$ref" in schema:
        _check(told, definitions[schema["$ref"].rsplit("/", 1)[1]], definitions)
    elif "anyOf" in schema:
        options = [one for one in schema["anyOf"] if (one.get("type") == "null") == (told is None)]
        assert options, told
        if len(options) == 1:
            _check(told, options[0], definitions)
    elif "enum" in schema:
        assert told in schema["enum"]
    elif schema.get("type") == "object" and "properties" in schema:
        assert set(told) == set(schema["properties"]) == set(schema["required"])
        for key, value in told.items():
            _check(value, schema["properties"][key], definitions)
    elif schema.get("type") == "array":
        for one in told:
            _check(one, schema["items"], definitions)
