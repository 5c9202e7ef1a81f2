"""What a person may say, declared once: the command line, a jig's file, a page's form and the logbook read it here.

A request is a frozen dataclass whose fields hold the text as it was said, such as "380mm". Each field is annotated with
a `Say`; `request` builds one from texts and checks every value in its option's name.
"""

from __future__ import annotations

import dataclasses
import difflib
import functools
import types
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

from cutvision.errors import InputError
from cutvision.units import parse_angle, parse_angles, parse_length, parse_lengths

Request = TypeVar("Request")
# What a job cannot do without, as groups of fields: each group is asked for when all of its fields are empty.
Needs = tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Kind:
    """What is typed after an option: how it is called in the help, one example, and what checks it.

    check: takes the text and the option's name, and raises InputError in that name.
    """

    metavar: str
    example: str
    check: Callable[[str, str], object]


def _any(_text: str, _what: str) -> object:
    return None


def _tolerance(text: str, what: str) -> object:
    from cutvision.correction.tolerance import parse_tolerance

    return parse_tolerance(text, what, 0.0)


LENGTH = Kind("LENGTH", "19mm", parse_length)
LENGTH_OR_NONE = Kind("LENGTH", "0.03mm", functools.partial(parse_length, zero=True))
LENGTHS = Kind("LENGTH", "101.62mm,101.64mm", parse_lengths)
LENGTHS_OR_NONE = Kind("LENGTH", "0.27mm,0.29mm", functools.partial(parse_lengths, zero=True))
ANGLE = Kind("ANGLE", "45deg", parse_angle)
ANGLE_OR_NONE = Kind("ANGLE", "0.02deg", functools.partial(parse_angle, zero=True))
ANGLES = Kind("ANGLES", "44.98deg,45.01deg,44.97deg", parse_angles)
TOLERANCE = Kind("TOLERANCE", "0.05deg", _tolerance)
TEXT = Kind("TEXT", "", _any)
NAME = Kind("NAME", "", _any)
FILE = Kind("FILE", "", _any)


@dataclass(frozen=True, slots=True)
class Say:
    """One thing that a person may say.

    help: one or two sentences. kind: of the text; None for a choice or a switch. group: the heading it stands under
    when everything is listed. main: whether the short help shows it. option: its spelling, when that is not the field's
    name; in capitals for what is typed without an option, such as photos. in_jig: an example of it in a jig's file;
    empty when a jig does not hold it. formerly: its spelling in older logbooks and jig files.
    """

    help: str
    kind: Kind | None = None
    group: str = ""
    main: bool = False
    option: str = ""
    in_jig: str = ""
    formerly: str = ""


@dataclass(frozen=True, slots=True)
class Declared:
    """A field of a request as it is said.

    option: with its dashes; in capitals without them when it is known by its place alone. choices: empty unless one of
    several words.
    """

    field: str
    option: str
    say: Say
    default: Any
    choices: tuple[str, ...]
    is_switch: bool
    is_count: bool
    is_list: bool
    is_file: bool

    @property
    def key(self) -> str:
        """The option without its dashes, as a jig's file spells it."""
        return self.option.removeprefix("--")

    @property
    def by_place(self) -> bool:
        """Whether it stands in the line without an option before it."""
        return not self.option.startswith("-")

    def read(self, value: Any) -> Any:
        """The value as the request's field holds it. Raises InputError in the option's name."""
        if value is None or self.is_switch:
            return value
        if self.is_list:
            several = (value,) if isinstance(value, str | Path) else value
            return tuple(Path(one) if self.is_file else str(one) for one in several)
        if self.is_file:
            return Path(value)
        if self.is_count:
            return self._count(value)
        if not isinstance(value, str):
            raise InputError(
                f"{self.option} is {value!r}, a number without a unit.", f"Give it as text: '{self._example}'."
            )
        if self.choices and value not in self.choices:
            near = difflib.get_close_matches(value.lower(), self.choices, n=1, cutoff=0.5)
            meant = f"Did you mean {near[0]}? " if near else ""
            raise InputError(f"{self.option} is '{value}'.", f"{meant}It is one of {', '.join(self.choices)}.")
        if self.say.kind is not None:
            self.say.kind.check(value, self.option)
        return value

    @property
    def _example(self) -> str:
        return self.choices[0] if self.choices else self.say.kind.example if self.say.kind else "..."

    def _count(self, value: Any) -> int:
        try:
            return int(str(value))
        except ValueError as error:
            raise InputError(f"{self.option} is '{value}'.", "Type a whole number.") from error


def declared(kind: type) -> tuple[Declared, ...]:
    """Everything that a request of this kind takes, in the order of its fields, by what they are annotated with."""
    return _declared(kind)


@functools.cache
def _declared(kind: type) -> tuple[Declared, ...]:
    hints = get_type_hints(kind, include_extras=True)
    found = []
    for field in dataclasses.fields(kind):
        hint = hints[field.name]
        say = next((one for one in getattr(hint, "__metadata__", ()) if isinstance(one, Say)), None)
        if say is None:
            continue
        bare = _bare(hint)
        found.append(
            Declared(
                field=field.name,
                option=say.option if say.option.isupper() else f"--{say.option or field.name.replace('_', '-')}",
                say=say,
                default=None if field.default is dataclasses.MISSING else field.default,
                choices=tuple(map(str, get_args(bare))) if get_origin(bare) is Literal else (),
                is_switch=bare is bool,
                is_count=bare is int,
                is_list=get_origin(bare) is tuple,
                is_file=Path in {bare, *get_args(bare)},
            )
        )
    return tuple(found)


def _bare(hint: Any) -> Any:
    """The annotated type without `Annotated` and without None."""
    inner = get_args(hint)[0] if hasattr(hint, "__metadata__") else hint
    if get_origin(inner) in {Union, types.UnionType}:
        inner = next(one for one in get_args(inner) if one is not type(None))
    return inner


def request(kind: type[Request], said: Mapping[str, Any]) -> Request:
    """A request from what was said, by field or option name, text as typed; None leaves a thing unsaid.

    Raises InputError in the option's name for a value that cannot be read, and for a name that this kind does not take.
    """
    by_name = {name: one for one in declared(kind) for name in (one.field, one.option, one.key)}
    by_name |= {one.say.formerly: one for one in declared(kind) if one.say.formerly}
    values: dict[str, Any] = {}
    for name, value in said.items():
        one = by_name.get(name) or by_name.get(name.removeprefix("--"))
        if one is None:
            near = difflib.get_close_matches(name, [other.field for other in declared(kind)], n=1, cutoff=0.6)
            raise InputError(
                f"'{name}' is nothing that can be said here.",
                f"Did you mean {near[0]}?" if near else "See the command's --help-all.",
            )
        if value is not None:
            values[one.field] = one.read(value)
    missing = [one.option for one in declared(kind) if one.field not in values and _is_required(kind, one.field)]
    if missing:
        raise InputError(
            f"{' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} not given.", "Give a value for each."
        )
    return kind(**values)


def _is_required(kind: type, name: str) -> bool:
    field = next(one for one in dataclasses.fields(kind) if one.name == name)
    return field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING


def said_of(asked: object) -> dict[str, Any]:
    """What was said in a request, by option, without what was left at its default."""
    return {
        one.option: value
        for one in declared(type(asked))
        if (value := getattr(asked, one.field)) is not None and value != one.default
    }


def length(text: str | None, option: str, *, zero: bool = False) -> float | None:
    """A length in mm when it was said. Raises InputError in the option's name."""
    return None if text is None else parse_length(text, option, zero=zero)


def angle(text: str | None, option: str, *, zero: bool = False) -> float | None:
    """An angle in rad when it was said. Raises InputError in the option's name."""
    return None if text is None else parse_angle(text, option, zero=zero)
