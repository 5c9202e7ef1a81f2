"""`--jig`: a jig's file fills the options of the command; what is typed on the line wins."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cutvision.errors import InputError

if TYPE_CHECKING:
    from cutvision.correction.jig_file import JigFile

ENDING = ".toml"
MOST_BYTES = 100_000
# What a command finds the error of, where its name says so.
KIND_BY_COMMAND = {"miter": "miter", "frame": "miter", "square": "square", "facing": "square"}
KIND_BY_SHAPE = {"miter": "miter", "strip": "square", "corner": "square", "board": "square"}
# `measure --read-to` is about a rule on the print, a jig's read-to about its caliper.
OTHER_MEANING = {("measure", "read-to")}


def fill_from_jig(context: typer.Context, value: str | None) -> str | None:
    """Let the jig that was named stand in for every option that is not typed, required ones too.

    Raises InputError when there is no such jig, when its file is wrong, and when it is of another kind than the
    command.
    """
    if value is None or context.resilient_parsing:
        return value
    from cutvision.correction.jig_file import read_jig_file

    jig = read_jig_file(jig_text(value), value)
    _refuse_other_kind(jig, value, KIND_BY_COMMAND.get(context.command.name or ""), f"`{context.command_path}`")
    context.default_map = _FromJig(context, jig, value)
    return value


JigText = Annotated[
    str | None,
    typer.Option(
        "--jig",
        metavar="JIG",
        is_eager=True,
        callback=fill_from_jig,
        help="A jig's file (see `cutvision jig new`); it fills every option that you do not type.",
    ),
]


@dataclass(frozen=True, slots=True)
class JigOptions:
    """The jig alone, for a command that has no FenceOptions."""

    jig_file: JigText = None


def jig_text(value: str) -> str:
    """The text of the jig that `--jig` names: a path when it has a slash, ends in .toml, or is a file.

    Raises InputError when there is none, when it cannot be read, is too large, or is not UTF-8.
    """
    if "/" in value or "\\" in value or value.lower().endswith(ENDING) or _is_file(value):
        return read_text(Path(value))
    raise InputError(
        f"There is no jig file '{value}'.",
        f"Give the path of a jig's file, such as sled{ENDING}; `cutvision jig new --out sled{ENDING}` writes one.",
    )


def _is_file(value: str) -> bool:
    try:
        return Path(value).is_file()
    except OSError:  # a name too long for a file
        return False


def read_text(path: Path) -> str:
    """A small text file. Raises InputError when it cannot be read, is too large, or is not UTF-8."""
    try:
        if path.exists() and not path.is_file():
            raise InputError(f"{path} is no file.", f"Give the path of a jig's file, such as sled{ENDING}.")
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise InputError(
            f"{path} cannot be read: {reason}.", f"Give the path of a jig's file, such as sled{ENDING}."
        ) from error
    if len(data) > MOST_BYTES:
        raise InputError(f"{path} is no jig file: it is larger than {MOST_BYTES} bytes.", "Give the jig's own file.")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InputError(
            f"{path}, line {line}: the text is not UTF-8.", "Save the file as UTF-8, or write that line anew."
        ) from error


def _refuse_other_kind(jig: JigFile, value: str, kind: str | None, what: str) -> None:
    if kind is not None and jig.kind != kind:
        raise InputError(
            f"{value} is a {jig.kind} jig, but {what} is about a {kind} one: its lever would give a wrong move.",
            f'Give a jig with kind = "{kind}", or the command for a {jig.kind} jig.',
        )


class _FromJig(dict[str, Any]):
    """The command's defaults by parameter name. A rival that was typed puts the jig's aside."""

    def __init__(self, context: typer.Context, jig: JigFile, value: str) -> None:
        from cutvision.correction.jig_file import RIVALS

        names = {opt[2:]: str(param.name) for param in context.command.params for opt in param.opts}
        command = context.command.name or ""
        super().__init__(
            (names[key], text)
            for key, text in jig.options.items()
            if key in names and (command, key) not in OTHER_MEANING
        )
        self._typed: Mapping[str, Any] = context.params
        pairs = [(names.get(one), names.get(other)) for one, other in (*RIVALS, *((b, a) for a, b in RIVALS))]
        self._rivals = {
            key: [other for one, other in pairs if one == key and other is not None] for key in names.values()
        }
        self._jig, self._value = jig, value

    def get(self, key: str, default: Any = None) -> Any:
        """The jig's value for a parameter; typed parameters are all known by the time that one is asked for."""
        shape = self._typed.get("shape")
        _refuse_other_kind(self._jig, self._value, KIND_BY_SHAPE.get(str(shape)), f"--shape {shape}")
        if any(self._typed.get(rival) is not None for rival in self._rivals.get(key, ())):
            return default
        return super().get(key, default)
