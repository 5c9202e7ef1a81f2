"""A comparison of caliper and photo for other programs: angles in degrees, lengths in millimetres."""

from __future__ import annotations

from typing import Literal, NotRequired, TypedDict

from cutvision.correction import Correction, StackAdvice
from cutvision.correction.comparison import CauseName, Comparison
from cutvision.reports.correction_json import CorrectionJson, correction_as_json
from cutvision.reports.measurement_json import QuantityJson, quantity_as_json
from cutvision.uncertainty.agreement import Agreement, Verdict

SCHEMA: Literal["cutvision/comparison/1"] = "cutvision/comparison/1"


class AgreementJson(TypedDict):
    """Caliper against photo in one quantity; `e_n` is null when it is not finite."""

    caliper: QuantityJson
    photo: QuantityJson
    difference: QuantityJson
    e_n: float | None
    verdict: Verdict


class CauseJson(TypedDict):
    """What would make them agree, and the worst E_n that is left then."""

    name: CauseName
    message: str
    remedy: str
    e_n: float


class ComparisonJson(TypedDict):
    """The object that `compare --json` prints. `verdict` and `e_n` rest on `angles`; `lengths` are for information.

    `combined` is empty when they disagree; `correction` is there when the fence was asked about and they do not.
    """

    schema: Literal["cutvision/comparison/1"]
    shape: Literal["miter", "strip"]
    verdict: Verdict
    e_n: float | None
    angles: dict[str, AgreementJson]
    lengths: dict[str, AgreementJson]
    causes: list[CauseJson]
    combined: dict[str, QuantityJson]
    correction: NotRequired[CorrectionJson]


def comparison_as_json(
    comparison: Comparison, correction: Correction | None = None, leaves: StackAdvice | None = None
) -> ComparisonJson:
    """The comparison as a plain object that json.dumps takes as it is."""
    told: ComparisonJson = {
        "schema": SCHEMA,
        "shape": "strip" if "taper" in comparison.angles else "miter",
        "verdict": comparison.verdict,
        "e_n": _number(comparison.number),
        "angles": {name: _agreement(one) for name, one in comparison.angles.items()},
        "lengths": {name: _agreement(one) for name, one in comparison.lengths.items()},
        "causes": [
            {"name": cause.name, "message": cause.message, "remedy": cause.remedy, "e_n": cause.number}
            for cause in comparison.causes
        ],
        "combined": {name: quantity_as_json(q) for name, q in comparison.combined.items()},
    }
    if correction is not None:
        told["correction"] = correction_as_json(correction, leaves)
    return told


def _agreement(one: Agreement) -> AgreementJson:
    return {
        "caliper": quantity_as_json(one.first),
        "photo": quantity_as_json(one.second),
        "difference": quantity_as_json(one.difference),
        "e_n": _number(one.number),
        "verdict": one.verdict,
    }


def _number(number: float) -> float | None:
    return number if number < float("inf") else None
