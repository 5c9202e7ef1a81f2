"""Options that several commands share: declared once as the fields of a dataclass, spread out into each command."""

from __future__ import annotations

import dataclasses
import functools
import inspect
from collections.abc import Callable
from typing import Any, get_type_hints

from typer.models import OptionInfo


def with_groups(command: Callable[..., None]) -> Callable[..., None]:
    """The command with every argument that is a dataclass replaced by that dataclass's fields, as options of their own.

    The dataclass's fields are annotated as typer takes them. Raises TypeError when two arguments bear one name, or two
    options are typed alike.
    """
    hints = get_type_hints(command, include_extras=True)
    groups: dict[str, Any] = {name: kind for name, kind in hints.items() if dataclasses.is_dataclass(kind)}
    parameters: list[inspect.Parameter] = []
    for name, parameter in inspect.signature(command).parameters.items():
        if name in groups:
            parameters += _fields(groups[name])
        else:
            parameters.append(parameter.replace(annotation=hints[name], kind=inspect.Parameter.KEYWORD_ONLY))
    for names in (
        [parameter.name for parameter in parameters],
        [word for parameter in parameters for word in _spelled(parameter.annotation)],
    ):
        if len(set(names)) < len(names):
            raise TypeError(f"{command.__name__} has options of the same name: {names}")

    @functools.wraps(command)
    def spread_out(**options: Any) -> None:
        filled = {
            name: group(**{field.name: options.pop(field.name) for field in dataclasses.fields(group)})
            for name, group in groups.items()
        }
        command(**options, **filled)

    spread_out.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    spread_out.__annotations__ = {parameter.name: parameter.annotation for parameter in parameters}
    del spread_out.__wrapped__
    return spread_out


def _spelled(hint: Any) -> tuple[str, ...]:
    """How an annotated option is typed, such as "--stock"."""
    # in an annotation typer keeps the first spelling where the default stands elsewhere
    told = [one for one in getattr(hint, "__metadata__", ()) if isinstance(one, OptionInfo)]
    return tuple(word for one in told for word in (one.default, *(one.param_decls or ())) if isinstance(word, str))


def _fields(group: Any) -> list[inspect.Parameter]:
    hints = get_type_hints(group, include_extras=True)
    return [
        inspect.Parameter(
            field.name,
            inspect.Parameter.KEYWORD_ONLY,
            default=inspect.Parameter.empty if field.default is dataclasses.MISSING else field.default,
            annotation=hints[field.name],
        )
        for field in dataclasses.fields(group)
    ]
