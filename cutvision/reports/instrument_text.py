"""The records of common measuring tools, as a table and for other programs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, TypedDict

from cutvision.correction import Instrument
from cutvision.reports.columns import wrap
from cutvision.units import MM_PER_INCH

SCHEMA: Literal["cutvision/instruments/1"] = "cutvision/instruments/1"


class LimitJson(TypedDict):
    """A limit of error in mm for lengths up to `up_to` mm; null for any length."""

    up_to: float | None
    limit: float


class InstrumentJson(TypedDict):
    """One record; lengths in mm."""

    name: str
    what: str
    reads: str
    step: float
    limits: list[LimitJson]
    repeats_to: float
    source: str


class InstrumentsJson(TypedDict):
    """The object that `instruments --json` prints."""

    schema: Literal["cutvision/instruments/1"]
    instruments: list[InstrumentJson]


def instruments_as_json(records: Sequence[Instrument]) -> InstrumentsJson:
    """The records as a plain object that json.dumps takes as it is."""
    return {
        "schema": SCHEMA,
        "instruments": [
            {
                "name": one.name,
                "what": one.what,
                "reads": one.reads,
                "step": one.step_mm,
                "limits": [
                    {"up_to": None if upper == one.limits[-1][0] else upper, "limit": limit}
                    for upper, limit in one.limits
                ],
                "repeats_to": one.repeat_mm,
                "source": one.source,
            }
            for one in records
        ],
    }


def instruments_text(records: Sequence[Instrument]) -> str:
    """What is assumed of each tool, and how to overrule it."""
    blocks = [
        wrap(
            "Name yours with --instrument in `correct miter`, `square` or `arms`, in `compare`, `plan` or `jig new`; "
            "what you know better goes into --read-to and --accuracy, which win."
        )
    ]
    for one in records:
        lines = [f"{one.name}: {one.what}", wrap(f"steps of {_both(one.step_mm)}", "  ")]
        lines.append(wrap(f"errs by at most {_limits(one)}", "  "))
        if one.repeat_mm:
            lines.append(wrap(f"one reading of wood, in practised hands, repeats to ±{_both(one.repeat_mm)}", "  "))
        lines.append(wrap(one.source, "  "))
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks) + "\n"


def _limits(one: Instrument) -> str:
    if len(one.limits) == 1:
        return _both(one.limits[0][1])
    told = [f"{_both(limit)} up to {upper:.4g} mm ({upper / MM_PER_INCH:.3g} in)" for upper, limit in one.limits[:-1]]
    return f"{', '.join(told)}, {_both(one.limits[-1][1])} above"


def _both(value_mm: float) -> str:
    return f"{value_mm:.4g} mm ({value_mm / MM_PER_INCH:.2g} in)"
