"""An option that stands twice in a line: the parser would silently keep the last."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from typer.core import TyperCommand, TyperGroup, TyperOption

from cutvision.errors import InputError


def refuse_said_twice(command: object, arguments: Sequence[str]) -> None:
    """Raise InputError for an option, of typer's command, that takes one value and stands twice in the line.

    A person who types each of three repeated readings as an option of its own would otherwise get an answer from the
    last alone.
    """
    said: dict[str, str] = {}
    for name, value in _values(command, list(arguments)):
        if name in said:
            raise InputError(
                f"{name} stands twice in the line, as '{said[name]}' and as '{value}'.",
                f"Give it once. Where it takes several readings, put commas between them: {name} {said[name]},{value}.",
            )
        said[name] = value


def _values(command: object, left: list[str]) -> Iterator[tuple[str, str]]:
    """Each option that takes one value, with it, as it stands in the line."""
    while isinstance(command, TyperGroup) and left:
        word = left.pop(0)
        command = command if word.startswith("-") else command.get_command(None, word)  # type: ignore[arg-type]
    if not isinstance(command, TyperCommand):
        return
    options = [one for one in command.params if isinstance(one, TyperOption) and not (one.is_flag or one.count)]
    multiple = {name: one.multiple for one in options for name in one.opts}
    while left and (word := left.pop(0)) != "--":
        name, equals, value = word.partition("=")
        if name not in multiple:
            continue
        if not equals and left:
            value = left.pop(0)
        if not multiple[name]:
            yield name, value
