"""Refused photos for other programs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, TypedDict

from cutvision.errors import PhotoRefused

SCHEMA: Literal["cutvision/refusal/1"] = "cutvision/refusal/1"


class RefusalJson(TypedDict):
    """Which photo, the name of the reason in the registry, what was seen, and what to do."""

    file: str
    reason: str
    message: str
    remedy: str


class RefusalsJson(TypedDict):
    """The object that `measure --json` prints when photos are refused."""

    schema: Literal["cutvision/refusal/1"]
    refusals: list[RefusalJson]


def refusals_as_json(refusals: Sequence[PhotoRefused]) -> RefusalsJson:
    """The refusals as a plain object that json.dumps takes as it is."""
    return {
        "schema": SCHEMA,
        "refusals": [
            {"file": refused.file, "reason": refused.reason, "message": refused.message, "remedy": refused.remedy}
            for refused in refusals
        ],
    }
