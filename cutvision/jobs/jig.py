"""A jig fills a request: whatever it holds stands in for what was not said; what was said wins."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from cutvision.correction.jig_file import RIVALS, JigFile
from cutvision.errors import InputError
from cutvision.jobs.said import Declared, declared

KIND_OF_SHAPE = {"miter": "miter", "strip": "square", "corner": "square", "board": "square"}
# They show no fence, so that what a jig says of its own would be refused.
SHAPES_WITHOUT_FENCE = ("corner", "board")
_OF_THE_PIECE = frozenset(
    {"thickness", "long-side", "short-side", "diagonal-down", "diagonal-up", "sheet-read-to", "camera"}
)


@dataclass(frozen=True, slots=True)
class KnownJig:
    """A jig as a command takes it. called: as the person named it. name: in the logbook, empty for a file.

    beside: values that another jig's last run gives, such as a test piece's corner, by key; they count as the jig's.
    """

    file: JigFile
    called: str
    name: str = ""
    beside: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Filled:
    """said: by field, with what the jig filled in. sources: where each came from that was not typed: jig or logbook."""

    said: dict[str, Any]
    sources: dict[str, str]


def fill(kind: type, said: Mapping[str, Any], jig: KnownJig, cuts: str | None = None) -> Filled:
    """What was said, by field, filled up from the jig.

    cuts: what the job is about, "miter" or "square", where its name says so. Raises InputError when the jig is of
    another kind than the job or the shape.
    """
    fields = {one.key: one for one in declared(kind)}
    filled = dict(said)
    sources: dict[str, str] = {}
    if cuts is not None:
        _refuse_other_kind(jig, cuts, "this command")
    if "shape" in fields:
        if filled.get("shape") is None:
            filled["shape"] = next(one for one in fields["shape"].choices if KIND_OF_SHAPE[one] == jig.file.kind)
            sources["shape"] = "jig"
        shape = str(filled["shape"])
        _refuse_other_kind(jig, KIND_OF_SHAPE.get(shape, jig.file.kind), f"--shape {shape}")
    if "kind" in fields:
        if filled.get("kind") is None:
            filled["kind"], sources["kind"] = jig.file.kind, "jig"
        _refuse_other_kind(jig, str(filled["kind"]), f"--kind {filled['kind']}")
    for source, options in (("jig", jig.file.options), ("logbook", jig.beside)):
        for key, text in options.items():
            one = _meant(key, fields)
            if one is None or filled.get(one.field) is not None or not _wanted(key, filled):
                continue
            if any(said.get(fields[rival].field) is not None for rival in _rivals(one.key) if rival in fields):
                continue
            filled[one.field] = text
            sources[one.field] = source
    return Filled(filled, sources)


def _wanted(key: str, filled: Mapping[str, Any]) -> bool:
    """Whether a jig's key is about what is asked: no fence for a board, no sheet for what was measured already."""
    if key in _OF_THE_PIECE:
        return filled.get("photo_json") is None
    return filled.get("shape") not in SHAPES_WITHOUT_FENCE


def _meant(key: str, fields: Mapping[str, Declared]) -> Declared | None:
    """The job's option that a jig's key fills: `read-to` is the caliper's wherever there is one, else the sheet's."""
    calipered = "accuracy" in fields
    if key == "sheet-read-to" and key not in fields:
        return fields.get("print-read-to") if calipered else fields.get("read-to")
    if key == "read-to" and not calipered:
        return None
    return fields.get(key)


def _rivals(key: str) -> list[str]:
    return [other for one, other in (*RIVALS, *((b, a) for a, b in RIVALS)) if one == key]


def _refuse_other_kind(jig: KnownJig, kind: str, what: str) -> None:
    if jig.file.kind != kind:
        raise InputError(
            f"{jig.called} is a {jig.file.kind} jig, but {what} is about a {kind} one: its lever would give a wrong "
            "move.",
            f'Give a jig with kind = "{kind}", or the command for a {jig.file.kind} jig.',
        )
