"""`--jig`: a jig's file fills the options of the command; what is typed on the line wins."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cutvision.cli.output import tell
from cutvision.errors import InputError
from cutvision.files import read_bounded
from cutvision.reports.columns import wrap

if TYPE_CHECKING:
    from cutvision.correction.jig_file import JigFile
    from cutvision.logbook.squared import SquaredCorner

ENDING = ".toml"
# What a command finds the error of, where its name says so.
KIND_BY_COMMAND = {
    **dict.fromkeys(("miter", "frame", "arms", "assembly"), "miter"),
    **dict.fromkeys(("square", "facing"), "square"),
}
KIND_BY_SHAPE = {"miter": "miter", "strip": "square", "corner": "square", "board": "square"}
# They tell no fence, so that what a jig says of its own would be refused.
SHAPES_WITHOUT_FENCE = ("corner", "board")
# `measure --read-to` is about a rule on the print, a jig's read-to about its caliper.
OTHER_MEANING = {("measure", "read-to")}


def fill_from_jig(context: typer.Context, value: str | None) -> str | None:
    """Let the jig that was named stand in for every option that is not typed, required ones too.

    Raises InputError when there is no such jig, when its file is wrong, and when it is of another kind than the
    command.
    """
    if value is None or context.resilient_parsing:
        return value
    if not names_a_file(value):
        context.default_map = _FromBook(context, value)
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
        help="A jig's file (see `cutvision jig new`), or the name of a jig in the logbook (`cutvision log add-jig`), "
        "which keeps the run too. It fills every option that you do not type.",
    ),
]


@dataclass(frozen=True, slots=True)
class JigOptions:
    """The jig alone, for a command that has no FenceOptions."""

    jig_file: JigText = None


def names_a_file(value: str) -> bool:
    """Whether `--jig` names a file: it has a slash, ends in .toml, or is there; else it is a name in the logbook."""
    return "/" in value or "\\" in value or value.lower().endswith(ENDING) or _is_file(value)


def jig_text(value: str, logbook: Path | None = None) -> str:
    """The text of the jig that `--jig` names, in a file or in the logbook.

    Raises InputError when there is none, when it cannot be read, is too large, or is not UTF-8.
    """
    return read_text(Path(value)) if names_a_file(value) else _from_the_book(value, logbook)[0]


def _from_the_book(name: str, logbook: Path | None) -> tuple[str, SquaredCorner | None]:
    """The jig's text, and the corner of its test pieces. Raises InputError when the logbook has no such jig."""
    from cutvision.logbook.book import open_book
    from cutvision.logbook.place import place_of_book
    from cutvision.logbook.squared import squared_corner

    try:
        with open_book(place_of_book(logbook)) as book:
            jig = book.jig(name)
            return jig.text, squared_corner(book, jig)
    except InputError as problem:
        example = f"{name or 'sled'}{ENDING}"
        problem.remedy += f" A jig's file is named with its ending, such as {example}; cutvision jig new writes one."
        raise


def _is_file(value: str) -> bool:
    try:
        return Path(value).is_file()
    except OSError:  # a name too long for a file
        return False


def read_text(path: Path) -> str:
    """A small text file. Raises InputError when it cannot be read, is too large, or is not UTF-8."""
    data = read_bounded(path, "jig")
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


def from_the_book(context: typer.Context) -> frozenset[str]:
    """The parameters that were filled from another jig's last run in the logbook."""
    return getattr(context.default_map, "from_the_book", frozenset())


class _FromBook(dict[str, Any]):
    """A jig in the logbook, read when the first option asks for it: by then it is known which logbook is meant."""

    def __init__(self, context: typer.Context, name: str) -> None:
        from cutvision.correction.jig_file import OPTION_KEYS

        super().__init__()
        self._context, self._name = context, name
        self._asks = {
            str(param.name)
            for param in context.command.params
            if {opt[2:] for opt in param.opts} & {*OPTION_KEYS, "kind"}
        }
        self._jig: _FromJig | None = None
        self.from_the_book: frozenset[str] = frozenset()

    def get(self, key: str, default: Any = None) -> Any:
        """The jig's value for a parameter."""
        if key not in self._asks:
            return default
        if self._jig is None:
            self._jig = self._read()
        return self._jig.get(key, default)

    def _read(self) -> _FromJig:
        from cutvision.correction.jig_file import read_jig_file

        context, name = self._context, self._name
        text, squared = _from_the_book(name, context.params.get("logbook"))
        jig = read_jig_file(text, name)
        _refuse_other_kind(jig, name, KIND_BY_COMMAND.get(context.command.name or ""), f"`{context.command_path}`")
        filled = _FromJig(context, jig, name)
        if squared is not None and "corner" in self._asks and context.params.get("corner") is None:
            tell(wrap(squared.told))
            if squared.corner_text:
                filled.update(corner=squared.corner_text, corner_to=squared.within_text)
                self.from_the_book = frozenset({"corner", "corner_to"})
        return filled


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
        if "kind" in names:
            self[names["kind"]] = jig.kind
        self._typed: Mapping[str, Any] = context.params
        self._plans = command == "plan"  # `jig new --kind` may well differ from the jig that it copies
        pairs = [(names.get(one), names.get(other)) for one, other in (*RIVALS, *((b, a) for a, b in RIVALS))]
        self._rivals = {
            key: [other for one, other in pairs if one == key and other is not None] for key in names.values()
        }
        self._jig, self._value = jig, value

    def get(self, key: str, default: Any = None) -> Any:
        """The jig's value for a parameter; typed parameters are all known by the time that one is asked for."""
        shape = self._typed.get("shape")
        _refuse_other_kind(self._jig, self._value, KIND_BY_SHAPE.get(str(shape)), f"--shape {shape}")
        kind = self._typed.get("kind") if self._plans else None
        _refuse_other_kind(self._jig, self._value, kind, f"--kind {kind}")
        told_no_fence = shape in SHAPES_WITHOUT_FENCE
        if told_no_fence or any(self._typed.get(rival) is not None for rival in self._rivals.get(key, ())):
            return default
        return super().get(key, default)
