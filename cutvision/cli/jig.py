"""`cutvision jig`: what stays the same from one test piece to the next, kept in the logbook or in a small file."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Annotated, Any

import typer

from cutvision.cli.commands import Said, add
from cutvision.cli.jigs import ENDING, read_text
from cutvision.cli.keeping import WithJig, words
from cutvision.cli.output import answer, answer_json, tell, tell_problem
from cutvision.errors import InputError
from cutvision.files import write_output
from cutvision.jobs.jig_new import JigSaid, jig_from
from cutvision.jobs.said import FILE, NAME, Say, request
from cutvision.reports.columns import wrap

app = typer.Typer(
    help="A jig: what stays the same from one test piece to the next. Any command takes one with --jig NAME or FILE.",
    no_args_is_help=True,
    rich_markup_mode=None,
    add_completion=False,
)
LONGEST_NAME = 80
# Asked in a terminal, in this order: the key, the question, and for which kind.
QUESTIONS: tuple[tuple[str, str, str], ...] = (
    ("fence-length", "From the fence's pivot to where it is pushed (such as 380mm; a V: from foot to foot)", ""),
    ("fence", "How the fence is held (single, v-foot, v-point)", ""),
    ("pivot", "The end it turns about, as you stand behind the saw (left, right)", "single"),
    ("shim-at", "Where its stop is, and so the shim (operator: on your side; work: on the work's side)", "single"),
    ("kept", "The side of the blade on which the work is kept (left, right)", ""),
    ("nominal", "The miter, from a square cut (Enter: 45deg)", "miter"),
    ("turns", "Quarter turns between the two edges (4: the strip sawn off last; 2: the board)", "square"),
    ("tolerance", "The fence error that is good enough (Enter: 0.1mm/300mm)", ""),
    ("thickness", "The stock's thickness (such as 19mm or 3/4in)", ""),
    ("shim-set", "Your feeler-gauge blades (metric-13, metric-20, inch-26)", ""),
)
Logbook = Annotated[
    Path | None,
    typer.Option(
        "--logbook",
        metavar="DIR",
        help="The logbook's folder, instead of CUTVISION_LOGBOOK or your own data folder.",
    ),
]
JigName = Annotated[str, typer.Argument(metavar="JIG", help="The jig's name in the logbook.")]


@dataclass(frozen=True, kw_only=True)
class Where(WithJig):
    """Where a new jig is kept."""

    out: Annotated[Path | None, Say("Write it as a file instead of keeping it in the logbook.", FILE, main=True)] = None
    squared_by: Annotated[
        str | None,
        Say(
            "The jig in the logbook that squares its test pieces: that one's last run shows their corner, and how well "
            "it is known.",
            NAME,
        ),
    ] = None
    again: Annotated[bool, Say("It is in the logbook: keep this as its new version beside the old ones.")] = False


def new(asked: JigSaid, _said: Said, where: Where) -> None:
    """Keep a jig in the logbook or write its file."""
    from cutvision.correction.jig_file import jig_file_text

    if where.out is not None and where.out.exists():
        raise InputError(
            f"{where.out} is there already.", "Give --out another name; a jig's file is never overwritten."
        )
    if asked.kind is None:
        asked = _ask(asked, name_of_jig if where.out is None else None)
    jig = jig_from(asked)
    if where.out is not None:
        write_output(where.out, jig_file_text(jig).encode(), "jig")
        tell(wrap(f"Wrote {where.out}. Use it with --jig {where.out}; `cutvision jig show {where.out}` shows it."))
        return
    _keep(jig_file_text(jig), name_of_jig(jig.name), where.squared_by, where.logbook, again=where.again)


def _keep(text: str, called: str, squared_by: str | None, logbook: Path | None, *, again: bool) -> None:
    from cutvision.logbook.book import open_book
    from cutvision.logbook.place import place_of_book

    now = datetime.now(UTC)
    with open_book(place_of_book(logbook), create=not again) as book:
        squaring = None if squared_by is None else book.jig(squared_by).identity
        added = book.change_jig(called, text, now, squaring) if again else book.add_jig(called, text, now, squaring)
        version = f" as version {len(added.versions)}" if again else ""
        tell(wrap(f"'{added.name}' is in the logbook {book.folder}{version}."))
    tell(wrap(f"measure and correct with --jig '{added.name}' take their options from it and are kept there."))


@app.command("add")
def add_file(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The jig's file.")],
    name: Annotated[
        str | None, typer.Option("--name", metavar="NAME", help="What you call it, if not as its file says.")
    ] = None,
    squared_by: Annotated[
        str | None,
        typer.Option("--squared-by", metavar="JIG", help="The jig in the logbook that squares its test pieces."),
    ] = None,
    again: Annotated[
        bool, typer.Option("--again", help="It is in the logbook: keep this as its new version beside the old ones.")
    ] = False,
    logbook: Logbook = None,
) -> None:
    """Keep a jig's file in the logbook: cutvision jig add sled.toml."""
    from cutvision.correction.jig_file import read_jig_file

    text = read_text(file)
    read = read_jig_file(text, str(file))
    _keep(text, name_of_jig(name or read.name or file.stem), squared_by, logbook, again=again)


@app.command()
def show(
    jig: Annotated[str, typer.Argument(metavar="JIG", help="The jig's file, or the name of a jig in the logbook.")],
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")] = False,
    logbook: Logbook = None,
) -> None:
    """Check a jig and show in words what it holds."""
    from cutvision.cli.jigs import known_jig
    from cutvision.reports.jig_words import jig_as_json, jig_words

    read = known_jig(jig, logbook).file
    if as_json:
        answer_json(jig_as_json(read))
    else:
        answer(jig_words(read, jig).rstrip())


@app.command("list")
def list_jigs(
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")] = False,
    logbook: Logbook = None,
) -> None:
    """List the jigs in the logbook, how many runs each has, and which check cuts are asked for."""
    from cutvision.cli.log import opened_to_read, readable_runs, still_asked
    from cutvision.reports.logbook_json import jigs_as_json
    from cutvision.reports.logbook_text import jigs_text

    with opened_to_read(logbook) as book:
        found, runs = book.jigs(), readable_runs(book, None)
        asked = {jig.identity: still_asked(book, jig.identity) for jig in found}
    if as_json:
        answer_json(jigs_as_json(found, runs, asked))
    else:
        answer(jigs_text(found, runs, asked))


@app.command()
def retire(
    jig: JigName,
    back: Annotated[bool, typer.Option("--back", help="Take a retired jig into use again.")] = False,
    logbook: Logbook = None,
) -> None:
    """Take a jig out of use: nothing more is recorded for it, and what there is stays."""
    from cutvision.cli.log import opened

    with opened(logbook) as book:
        found = book.retire_jig(jig, datetime.now(UTC), back=back)
    answer(wrap(f"'{found.name}' is {'retired' if found.retired else 'in use'}; its runs stay in the logbook."))


def name_of_jig(text: str) -> str:
    """A jig's name. Raises InputError for one that `--jig` would take for a file."""
    called = words(text, "The jig's name")
    if not called:
        raise InputError("The jig has no name.", "Type a word or two after `cutvision jig new`.")
    if "/" in called or "\\" in called or called.lower().endswith(ENDING) or len(called) > LONGEST_NAME:
        raise InputError(
            f"'{called}' is no name for a jig in the logbook: --jig would take it for a file.",
            f"Give it a word or two without slashes and without {ENDING} at the end.",
        )
    return called


def _ask(asked: JigSaid, check_name: Callable[[str], object] | None) -> JigSaid:
    """What was said, with the rest asked for in the terminal; an empty answer leaves a thing unsaid.

    Raises InputError when nobody is there to be asked.
    """
    from cutvision.correction.jig_file import KINDS, check_option
    from cutvision.jobs.said import said_of
    from cutvision.reports.cautions import cautions

    if sys.stdin is None or not sys.stdin.isatty():
        raise InputError("It is not said what the jig cuts.", "Give --kind miter or --kind square.")
    tell("Enter alone leaves a question open. Lengths and angles want their unit.")
    tell("\n".join(wrap(text, "- ", "  ") for text in cautions("measure")))
    values: dict[str, Any] = {option.removeprefix("--"): value for option, value in said_of(asked).items()}
    values["name"] = values.pop("NAME", None)
    kind = ""
    while kind not in KINDS:
        kind = typer.prompt("What it cuts (miter, square)", err=True).strip()
    values["kind"] = kind
    if check_name is not None and values["name"]:
        check_name(values["name"])
    if not values["name"]:
        values["name"] = _asked("What you call it", check_name, needed=check_name is not None)
    for key, question, only in QUESTIONS:
        if key not in values and only in {"", kind, values.get("fence")}:
            text = _asked(question, partial(_check, check_option, key))
            if text:
                values[key] = text
    return request(JigSaid, {key: value for key, value in values.items() if value})


def _check(check: Callable[[str, str, str], object], key: str, text: str) -> object:
    return check(key, text, "The answer")


def _asked(question: str, check: Callable[[str], object] | None, *, needed: bool = False) -> str:
    """The answer, asked for again until it can be taken; an empty one is checked only when it is needed."""
    while True:
        text = str(typer.prompt(question, default="", show_default=False, err=True)).strip()
        try:
            if check is not None and (text or needed):
                check(text)
        except InputError as problem:
            tell_problem(problem)
        else:
            return text


add(app, "new", JigSaid, new, beside=(Where,))
