"""A command made from a request's declaration: its options, its help, a jig's values, the questions in a terminal."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

import typer
from typer.core import TyperCommand

from cutvision.cli.output import tell, tell_problem
from cutvision.errors import InputError
from cutvision.jobs.said import Declared, declared, request
from cutvision.reports.columns import wrap

ALL = "--help-all"
# Other ways of saying the same, which nobody is asked for.
LAST_RESORTS = frozenset({"difference", "reading"})


@dataclass(frozen=True, slots=True)
class Said:
    """What a person said after a command. command: its words. sources: of fields filled from a jig: jig or logbook.

    typed: by field of the request, as typed.
    """

    command: tuple[str, ...]
    typed: dict[str, Any]
    sources: dict[str, str]


class Listed(TyperCommand):
    """A command whose short help shows the options that matter, and `--help-all` the rest under their headings."""

    short: frozenset[str] = frozenset()
    headings: dict[str, str] = {}  # noqa: RUF012  a class is made for every command

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write the options, the main ones first."""
        everything = ctx.meta.get(ALL, False)
        groups: dict[str, list[tuple[str, str]]] = {}
        left_out = 0
        for parameter in self.get_params(ctx):
            record = parameter.get_help_record(ctx)
            if record is None:
                continue
            if parameter.name in self.short or parameter.name == "help":
                groups.setdefault("Options", []).append(record)
            elif everything:
                groups.setdefault(self.headings.get(str(parameter.name)) or "More", []).append(record)
            else:
                left_out += 1
        for heading in sorted(groups, key=lambda one: (one != "Options", one == "More")):
            with formatter.section(heading):
                formatter.write_dl(groups[heading])
        if left_out:
            formatter.write_paragraph()
            formatter.write_text(f"{left_out} more options, by what they are about: {ALL}")


def add(
    app: typer.Typer,
    name: str,
    kind: type,
    handler: Callable[..., None],
    *,
    beside: Sequence[type] = (),
    epilog: str = "",
    short_help: str = "",
    cuts: Literal["miter", "square"] | None = None,
    instead: Callable[..., bool] | None = None,
    how: Callable[[], str] | None = None,
) -> None:
    """Add the command that asks for a request of this kind and hands it on.

    handler: takes the request, what was said, and an instance of each type in `beside`: what shapes the answer but is
    no part of what is asked. cuts: what the command is about, so that a jig of another kind is refused. instead: takes
    the same instances; when it answers for them, nothing is asked. how: what a person is shown before the questions.
    """
    parts = (kind, *beside)
    fields = [(part, one) for part in parts for one in declared(part)]
    own = set(inspect.get_annotations(kind))
    fields.sort(key=lambda pair: (not pair[1].by_place, pair[1].field not in own))
    names = [one.field for _, one in fields]
    if len(set(names)) < len(names):
        raise TypeError(f"{name} has options of the same name: {sorted(names)}")

    def run(**values: Any) -> None:
        typed = {key: _plain(value) for key, value in values.items() if key != "context"}
        said = Said(_words_of(values["context"]), {}, {})
        others: list[Any] = [request(part, {one.field: typed[one.field] for one in declared(part)}) for part in beside]
        if instead is not None and instead(*others):
            return
        asked = {one.field: typed[one.field] for one in declared(kind)}
        asked, sources = _from_jig(kind, asked, others, cuts)
        asked = ask_for_missing(kind, asked, how)
        meant: Any = request(kind, asked)
        kept = {key: value for key, value in asked.items() if value is not None}
        handler(meant, Said(said.command, kept, sources), *others)

    run.__name__ = name.replace("-", "_")
    run.__doc__ = kind.__doc__
    parameters = [inspect.Parameter("context", inspect.Parameter.KEYWORD_ONLY, annotation=typer.Context)]
    parameters += [
        inspect.Parameter(
            one.field, inspect.Parameter.KEYWORD_ONLY, default=False if one.is_switch else None, annotation=_option(one)
        )
        for _, one in fields
    ]
    parameters.append(
        inspect.Parameter("_everything", inspect.Parameter.KEYWORD_ONLY, default=False, annotation=_HELP_ALL)
    )
    run.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    listed = type(
        "Listed",
        (Listed,),
        {
            "short": frozenset(one.field for _, one in fields if one.say.main),
            "headings": {one.field: one.say.group for _, one in fields},
        },
    )
    app.command(name, cls=listed, epilog=epilog or None, short_help=short_help or None)(run)


def _show_all(context: typer.Context, wanted: bool) -> None:
    if wanted:
        context.meta[ALL] = True
        typer.echo(context.get_help())
        raise typer.Exit


_HELP_ALL = Annotated[
    bool, typer.Option(ALL, help="Show every option, by what it is about.", callback=_show_all, is_eager=True)
]


def _option(one: Declared) -> Any:
    """The option as typer takes it; what must be given is asked for or refused later, in one place for all."""
    of_list = list[Path] if one.is_file else list[str]
    if one.by_place:
        kind = of_list if one.is_list else str
        return Annotated[kind | None, typer.Argument(metavar=one.key, help=one.say.help)]
    if one.is_switch:
        return Annotated[bool, typer.Option(one.option, help=one.say.help)]
    default = "" if one.default in {None, ()} else f" ({one.default} unless you say)"
    text = one.say.help if "unless you say" in one.say.help else one.say.help.removesuffix(".") + default + "."
    metavar = f"<{'|'.join(one.choices)}>" if one.choices else one.say.kind.metavar if one.say.kind else None
    told = typer.Option(one.option, metavar=metavar, help=text)
    if one.is_list:
        return Annotated[of_list | None, told]
    return Annotated[(int if one.is_count else Path if one.is_file else str) | None, told]


def _plain(value: Any) -> Any:
    """What typer gives, with nothing at all for what was not typed."""
    if isinstance(value, list):
        return tuple(value) or None
    return None if value is False else value


def _words_of(context: typer.Context) -> tuple[str, ...]:
    words: list[str] = []
    command: Any = context
    while command.parent is not None:
        words.insert(0, str(command.info_name))
        command = command.parent
    return tuple(words)


def _from_jig(
    kind: type, asked: dict[str, Any], others: Sequence[Any], cuts: str | None
) -> tuple[dict[str, Any], dict[str, str]]:
    """What was asked, filled up from the jig that was named, and where each value came from."""
    named = next((one for one in others if getattr(one, "jig", None) is not None), None)
    if named is None:
        return asked, {}
    from cutvision.cli.jigs import known_jig
    from cutvision.jobs.jig import fill

    jig = known_jig(
        named.jig, getattr(named, "logbook", None), corner_asked="corner" in asked and asked["corner"] is None
    )
    filled = fill(kind, asked, jig, cuts)
    return filled.said, filled.sources


def ask_for_missing(kind: type, asked: dict[str, Any], how: Callable[[], str] | None = None) -> dict[str, Any]:
    """What was asked, with what is needed and missing asked for when a person sits at a terminal.

    A request names what is needed in `needs`: groups of fields, each asked for when the group's fields are all empty.
    how: what is shown before the questions.
    """
    groups = getattr(kind, "needs", ())
    missing = [group for group in groups if not any(asked.get(name) is not None for name in group)]
    watched = all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stderr))
    if not missing or not watched:
        return asked
    by_field = {one.field: one for one in declared(kind)}
    questions = [by_field[name] for group in missing for name in group if name not in LAST_RESORTS]
    from cutvision.reports.cautions import cautions

    tell("\n".join(wrap(text, "- ", "  ") for text in cautions("measure")))
    if how is not None:
        tell(f"\n{how()}\n")
    for one in questions:
        asked[one.field] = _answer_to(one)
    return asked


def _answer_to(one: Declared) -> Any:
    """The answer, asked for again until it can be read."""
    choices = f" ({', '.join(one.choices)})" if one.choices else ""
    example = f" (such as {one.say.kind.example})" if one.say.kind and one.say.kind.example else choices
    while True:
        text = str(typer.prompt(f"{one.say.help.rstrip('.')}{example}", err=True)).strip()
        try:
            return one.read(text)
        except InputError as problem:
            tell_problem(problem)
