"""What other programs read: the keys, units and names that the project has promised."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import Any

import pytest

from cutvision.errors import REFUSALS, PhotoRefused
from cutvision.measurement.result import SHAPES, Shape
from cutvision.reports.measurement_json import MeasurementJson, measurement_as_json
from cutvision.reports.refusal_json import refusals_as_json

MakeExample = Callable[..., Any]
ROUNDING = 1e-12
KEYS = {"value", "unit", "standard_uncertainty", "expanded_uncertainty", "coverage_factor"}


@pytest.mark.parametrize("shape", SHAPES)
def test_every_shape_keeps_the_promised_object(shape: Shape, make_example: MakeExample) -> None:
    """The object has the promised keys, survives a trip through text, and nothing in it is a NaN or an infinity."""
    measurement = make_example(shape).measurement
    told = json.loads(json.dumps(measurement_as_json(measurement), allow_nan=False))
    assert told["schema"] == "cutvision/measurement/1"
    assert told["shape"] == shape
    promised = {"file": "piece one.jpg", "sha256": "ab" * 32, "paper": "a4", "used": True}
    assert promised.items() <= told["photos"][0].items()
    assert set(told["quantities"]) == set(measurement.quantities)
    assert all(set(q) == KEYS for q in told["quantities"].values())
    assert set(told) == MeasurementJson.__required_keys__


def test_angles_are_told_in_degrees_and_lengths_in_millimetres(make_example: MakeExample) -> None:
    """An angle of 45 deg known within 0.02 deg reads so, and a length of 85 mm known within 0.2 mm reads so."""
    quantities = measurement_as_json(make_example("miter", off=0.0, bound=0.02).measurement)["quantities"]
    split, leg = quantities["angle_left"], quantities["leg_left"]
    assert (split["unit"], leg["unit"]) == ("deg", "mm")
    assert split["value"] == pytest.approx(45.0, rel=ROUNDING)
    assert split["standard_uncertainty"] == pytest.approx(0.01, rel=ROUNDING)
    assert split["expanded_uncertainty"] == pytest.approx(0.02, rel=ROUNDING)
    assert leg["value"] == pytest.approx(85.0, rel=ROUNDING)
    assert leg["expanded_uncertainty"] == pytest.approx(0.2, rel=ROUNDING)


def test_the_budget_adds_up_and_sums_influences_of_one_name(make_example: MakeExample) -> None:
    """Rows combine, root sum of squares, to the standard uncertainty; the print's two make one row of 64 %."""
    told = measurement_as_json(make_example("miter").measurement)
    rows = told["budget"]["split_error"]
    u = told["quantities"]["split_error"]["standard_uncertainty"]
    assert math.hypot(*(row["standard_uncertainty"] for row in rows)) == pytest.approx(u, rel=ROUNDING)
    assert [(row["influence"], row["type"]) for row in rows] == [("print stretch", "B"), ("edge points", "A")]
    assert [row["share"] for row in rows] == pytest.approx([0.64, 0.36], rel=ROUNDING)
    assert rows[0]["sources"] == ["an ordinary printer"]


def test_refusals_keep_the_promised_object() -> None:
    """Each refusal gives file, reason, message and remedy, the remedy from the registry unless it has its own."""
    told = refusals_as_json(
        [
            PhotoRefused("blurred", "The squares' edges are 9 px wide.", file="a b.jpg"),
            PhotoRefused("no-offcut", "The window is empty.", "Lay it in.", file="c.jpg"),
        ]
    )
    assert told == {
        "schema": "cutvision/refusal/1",
        "refusals": [
            {
                "file": "a b.jpg",
                "reason": "blurred",
                "message": "The squares' edges are 9 px wide.",
                "remedy": REFUSALS["blurred"].remedy,
            },
            {"file": "c.jpg", "reason": "no-offcut", "message": "The window is empty.", "remedy": "Lay it in."},
        ],
    }
