"""The shape of what is stored, on which all readers rely. Each check raises ValueError, naming the place."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

LONGEST_TEXT = 100_000
MOST = 1e15  # of any number in a result: degrees, millimeters and counts are far smaller

Check = Callable[[object, str], None]


def demand(met: bool, where: str) -> None:  # noqa: FBT001  one flag, and named by what follows
    """Raise ValueError unless it is met."""
    if not met:
        raise ValueError(f"{where} is not as cutvision writes it")


def number(value: object, where: str) -> None:
    """A finite number within all sense."""
    demand(isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < MOST, where)


def size(value: object, where: str) -> None:
    """A number that is not negative."""
    number(value, where)
    demand(isinstance(value, int | float) and value >= 0, where)


def text(value: object, where: str) -> None:
    """A text that can be shown."""
    demand(isinstance(value, str) and len(value) <= LONGEST_TEXT, where)


def maybe(check: Check) -> Check:
    """None, or what the check takes."""

    def checked(value: object, where: str) -> None:
        if value is not None:
            check(value, where)

    return checked


def each(check: Check) -> Check:
    """A list of what the check takes."""

    def checked(value: object, where: str) -> None:
        if not isinstance(value, list):
            demand(met=False, where=where)
            return
        for place, one in enumerate(value):
            check(one, f"{where}[{place}]")

    return checked


def by_name(check: Check) -> Check:
    """An object whose every value is what the check takes."""

    def checked(value: object, where: str) -> None:
        if not isinstance(value, Mapping):
            demand(met=False, where=where)
            return
        for name, one in value.items():
            check(one, f"{where}.{name}")

    return checked


def record(required: Mapping[str, Check], optional: Mapping[str, Check] | None = None) -> Check:
    """An object that holds the required keys and may hold the optional ones, and others that nobody reads."""

    def checked(value: object, where: str) -> None:
        if not isinstance(value, Mapping):
            demand(met=False, where=where)
            return
        for name, check in required.items():
            demand(name in value, f"{where}.{name}")
            check(value[name], f"{where}.{name}")
        for name, check in (optional or {}).items():
            if name in value:
                check(value[name], f"{where}.{name}")

    return checked


def sane_numbers(told: object, where: str) -> None:
    """Every number in it, however deep, within all sense."""
    if isinstance(told, Mapping):
        told = list(told.values())
    if isinstance(told, list):
        for one in told:
            sane_numbers(one, where)
    elif isinstance(told, int | float) and not isinstance(told, bool):
        number(told, f"a number in {where}")


_QUANTITY = record(
    {"value": number, "unit": text, "standard_uncertainty": size, "expanded_uncertainty": size, "coverage_factor": size}
)
_NOTES = each(record({"message": text, "remedy": text}))
_BUDGET = each(
    record({"influence": text, "type": text, "standard_uncertainty": size, "share": number, "sources": each(text)})
)
_DECIDED = {"tolerance": maybe(number), "tolerance_said": maybe(text), "probability_within": maybe(number)}
_SAID, _NAMED = (
    record({"value": text, "reason": text}, {"remedy": text, **_DECIDED}),
    record({"action": text}, _DECIDED),
)


def _decision(value: object, where: str) -> None:
    """As it was first written, with a value and its reason, or as an action."""
    (_NAMED if isinstance(value, Mapping) and "action" in value else _SAID)(value, where)


_CORRECTION = record(
    {
        "angle_error": _QUANTITY,
        "positive_means": text,
        "fence_move": _QUANTITY,
        "fence_length": _QUANTITY,
        "decision": _decision,
        "method": text,
        "way": text,
        "nominal": number,
        "side": maybe(text),
        "turn": maybe(text),
        "kept": maybe(text),
        "budget": _BUDGET,
        "notes": _NOTES,
    },
    {"leaf_stack": record({}, {"best": record({"leaves": each(text)})})},
)
_RESULTS: dict[str, Check] = {
    "cutvision/correction/": _CORRECTION,
    "cutvision/measurement/": record(
        {"shape": text, "quantities": by_name(_QUANTITY), "notes": _NOTES}, {"correction": maybe(_CORRECTION)}
    ),
    "cutvision/refusal/": record(
        {"refusals": each(record({"file": text, "reason": text, "message": text, "remedy": text}))}
    ),
}


_ABRIDGED = record(
    {"angle_error": _QUANTITY, "positive_means": text, "fence_length": record({"value": number})},
)
_ABRIDGED_RESULTS: dict[str, Check] = {
    "cutvision/correction/": _ABRIDGED,
    "cutvision/measurement/": record({"correction": maybe(_ABRIDGED)}),
    "cutvision/refusal/": record({}),
}


def abridged_result(told: Any) -> None:
    """What a list or a chart is given of a result: its schema, and of its correction three values, if it has one."""
    _ABRIDGED_RESULTS[_kind_of(told)](told, "result")


def result(told: Any) -> None:
    """What a command printed with --json: a correction, a measurement (perhaps with one inside), or refusals."""
    _RESULTS[_kind_of(told)](told, "result")
    sane_numbers(told, "a result")


def _kind_of(told: Any) -> str:
    demand(isinstance(told, Mapping) and isinstance(told.get("schema"), str), "a result's schema")
    kind, _, version = str(told["schema"]).rpartition("/")
    demand(f"{kind}/" in _RESULTS and version.isdecimal() and len(version) < 5, "a result's schema")
    return f"{kind}/"
