"""The fields of a form, made from what a request declares; what a person typed in them, as a request takes it."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from cutvision.jobs.said import Declared, declared

_OPTION = re.compile(r"--([a-z][a-z-]*)")


@dataclass(frozen=True, slots=True)
class Field:
    """One question. given: what stands in it. filled: what the jig holds, which counts when nothing is typed.

    help_shows: whether the help shows an example itself.
    """

    name: str
    label: str
    help: str
    choices: tuple[str, ...]
    example: str
    default: str
    help_shows: bool
    is_switch: bool
    is_count: bool
    given: str
    filled: str


@dataclass(frozen=True, slots=True)
class Fields:
    """main: what most people answer. others: the rest, by what they are about."""

    main: tuple[Field, ...]
    others: tuple[tuple[str, tuple[Field, ...]], ...]


def asked_on_page(kind: type) -> tuple[Declared, ...]:
    """What of a request a page asks for: no files, as a path is of the computer that it is typed on."""
    return tuple(one for one in declared(kind) if not one.is_file and not one.is_list)


def fields_of(kind: type, given: Mapping[str, str], filled: Mapping[str, Any] | None = None) -> Fields:
    """The form. given: by field, as typed before. filled: by field, what the jig holds."""
    filled = filled or {}
    needed = {name for group in getattr(kind, "needs", ()) for name in group} | _required(kind)
    main: list[Field] = []
    others: dict[str, list[Field]] = {}
    for one in asked_on_page(kind):
        made = _field(one, kind, given, filled)
        if (one.say.main or one.field in needed) and not made.filled:
            main.append(made)
        else:
            others.setdefault(one.say.group or "More", []).append(made)
    return Fields(tuple(main), tuple((title, tuple(fields)) for title, fields in others.items()))


def said_in(kind: type, values: Mapping[str, str]) -> dict[str, Any]:
    """What was typed, by field; names that the page does not ask for are left out, whatever was sent."""
    said: dict[str, Any] = {}
    for one in asked_on_page(kind):
        if one.field in values:
            said[one.field] = True if one.is_switch else values[one.field]
    return said


def spoken(text: str, kind: type) -> str:
    """The text with the form's labels in place of the options that the command line calls them."""
    labels = {one.key: label_of(one) for one in declared(kind)}
    return _OPTION.sub(lambda found: f"“{labels[found[1]]}”" if found[1] in labels else found[0], text)


def label_of(one: Declared) -> str:
    """What the field is called."""
    words = one.field.replace("_", " ") if one.by_place else one.key.replace("-", " ")
    return words[:1].upper() + words[1:]


def _field(one: Declared, kind: type, given: Mapping[str, str], filled: Mapping[str, Any]) -> Field:
    default = "" if one.default in {None, ()} or one.is_switch else str(one.default)
    return Field(
        one.field,
        label_of(one),
        spoken(one.say.help, kind),
        one.choices,
        one.say.kind.example if one.say.kind else "",
        default,
        any(map(str.isdigit, one.say.help)),
        one.is_switch,
        one.is_count,
        given.get(one.field, ""),
        str(filled.get(one.field) or ""),
    )


def _required(kind: type) -> set[str]:
    return {
        one.name
        for one in dataclasses.fields(kind)
        if one.default is dataclasses.MISSING and one.default_factory is dataclasses.MISSING
    }
