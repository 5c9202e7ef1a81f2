"""`cutvision jig`: a jig as a small readable file, written once and given to any command with --jig."""

from __future__ import annotations

import dataclasses
import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from cutvision.cli.correct_options import CaliperOptions, FenceOptions, Kept
from cutvision.cli.jig_option import jig_text
from cutvision.cli.leaves import LeafOptions
from cutvision.cli.option_groups import with_groups
from cutvision.cli.output import answer, answer_json, tell, tell_problem
from cutvision.errors import InputError
from cutvision.files import write_output
from cutvision.reports.columns import wrap

if TYPE_CHECKING:
    from cutvision.correction.jig_file import JigFile, JigKind

app = typer.Typer(
    help="A jig as a small readable file: what stays the same from one test piece to the next.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

# Asked in a terminal, in this order: the key, the question, and for which kind.
QUESTIONS: tuple[tuple[str, str, str], ...] = (
    ("fence-length", "From the fence's pivot to where it is pushed (380mm; a V: foot to foot)", ""),
    ("kept", "Side of the blade on which the work is kept (left, right)", ""),
    ("nominal", "The miter, from a square cut (45deg)", "miter"),
    ("turns", "Quarter turns between the two edges (4: last strip, 2: board)", "square"),
    ("tolerance", "The fence error that is good enough (0.05deg)", ""),
    ("leaf-set", "Your feeler leaves (metric-13, metric-20, inch-26)", ""),
)


@dataclass(frozen=True, slots=True)
class MadeOptions:
    """Who made the jig, and when."""

    made_by: Annotated[str, typer.Option("--made-by", metavar="TEXT", help="Who made it.")] = ""
    made_on: Annotated[str, typer.Option("--made-on", metavar="DAY", help="When, such as 2026-11-25.")] = ""
    note: Annotated[str, typer.Option("--note", metavar="TEXT", help="What else should be known of it.")] = ""


@dataclass(frozen=True, slots=True)
class KeyOptions:
    """The keys that no other group of options holds."""

    fence_length: Annotated[
        str | None,
        typer.Option(
            "--fence-length",
            metavar="LENGTH",
            help="From the fence's pivot to where the leaf goes or the fence is pushed; for a V, from foot to foot.",
        ),
    ] = None
    nominal: Annotated[
        str | None, typer.Option("--nominal", metavar="ANGLE", help="The miter as shops say it, from a square cut.")
    ] = None
    turns: Annotated[
        int | None, typer.Option("--turns", help="Quarter turns of the board between its two edges (4, or 2).")
    ] = None
    kept: Kept = None
    cut_spread: Annotated[
        str | None,
        typer.Option("--cut-spread", metavar="ANGLE", help="Standard deviation from one cut to the next."),
    ] = None
    tips: Annotated[
        str | None, typer.Option("--tips", metavar="LENGTH", help="How much of a tip may be missing (0mm if none).")
    ] = None
    corner: Annotated[
        str | None, typer.Option("--corner", metavar="ANGLE", help="The test piece's corner between the legs.")
    ] = None
    corner_to: Annotated[
        str | None, typer.Option("--corner-to", metavar="ANGLE", help="How well the corner is known, as a half-width.")
    ] = None
    gap_to: Annotated[str | None, typer.Option("--gap-to", metavar="LENGTH", help="How well a gap is known.")] = None
    square_to: Annotated[
        str | None, typer.Option("--square-to", metavar="ANGLE", help="How true the square or protractor is.")
    ] = None


@app.command()
@with_groups
def new(
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="The file to write; it must not be there yet.")],
    kind: Annotated[
        Literal["miter", "square"] | None, typer.Option("--kind", help="Whether it cuts miters or squares.")
    ] = None,
    name: Annotated[str, typer.Option("--name", metavar="TEXT", help="What you call it.")] = "",
    *,
    made: MadeOptions,
    keys: KeyOptions,
    fence: FenceOptions,
    caliper: CaliperOptions,
    leaves: LeafOptions,
) -> None:
    """Write a jig's file; in a terminal it asks for what is not typed.

    cutvision jig new --out sled.toml --kind miter --fence-length 380mm --kept left --tolerance 0.05deg

    With --jig OTHER the new one begins as a copy of the other.
    """
    from cutvision.correction.jig_file import jig_file_text

    if out.exists():
        raise InputError(f"{out} is there already.", "Give --out another name; a jig's file is never overwritten.")
    jig = jig_from_options(kind, name, made, (keys, fence, caliper, leaves))
    leaves.choice()  # refuses what is at odds
    write_output(out, jig_file_text(jig).encode(), "jig")
    tell(wrap(f"Wrote {out}. Use it with --jig {out}; `cutvision jig show {out}` tells what it says."))


def jig_from_options(
    kind: JigKind | None,
    name: str,
    made: MadeOptions,
    groups: Iterable[object],
    check_name: Callable[[str], object] | None = None,
) -> JigFile:
    """The jig that the options tell of; in a terminal it asks for what is not typed.

    check_name: raises InputError for a name that will not do; it is then asked for until one does.

    Raises InputError for a value that a jig's file cannot hold, and when its kind is not said and nobody can be asked.
    """
    from cutvision.correction.jig_file import OPTION_KEYS, JigFile, check_about, check_option, fence_at_odds

    values = {key: text for group in groups for key, text in _typed(group) if key in OPTION_KEYS}
    about = {"name": name, "made-by": made.made_by, "made-on": made.made_on, "note": made.note}
    if kind is None:
        kind = _ask(about, values, check_name)
    for key, text in values.items():
        check_option(key, text, f"--{key}")
    checked: dict[str, Any] = {
        key.replace("-", "_"): check_about(key, text, f"--{key}") for key, text in about.items() if text
    }
    jig = JigFile(kind, options=values, **checked)
    at_odds = fence_at_odds(jig)
    if at_odds is not None:
        key, problem = at_odds
        raise InputError(f"--{key}: {problem.message}", problem.remedy)
    return jig


@app.command()
def show(
    jig: Annotated[str, typer.Argument(metavar="JIG", help="The jig's file, or the name of a jig in the logbook.")],
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")] = False,
) -> None:
    """Check a jig's file and tell in words what it says."""
    from cutvision.correction.jig_file import read_jig_file
    from cutvision.reports.jig_words import jig_as_json, jig_words

    read = read_jig_file(jig_text(jig), jig)
    if as_json:
        answer_json(jig_as_json(read))
    else:
        answer(jig_words(read, jig).rstrip())


def _typed(group: Any) -> Iterator[tuple[str, str]]:
    """What was typed of a group of options, by option name without its dashes."""
    for field in dataclasses.fields(group):
        value = getattr(group, field.name)
        if value is not None:
            yield field.name.removesuffix("_kind").replace("_", "-"), str(value)


def _ask(about: dict[str, str], values: dict[str, str], check_name: Callable[[str], object] | None) -> JigKind:
    """Ask in the terminal for what was not typed; an empty answer leaves a thing unsaid.

    Raises InputError when nobody is there to be asked.
    """
    from cutvision.correction.jig_file import KINDS, check_about, check_option

    if sys.stdin is None or not sys.stdin.isatty():
        raise InputError("It is not said what the jig cuts.", "Give --kind miter or --kind square.")
    from cutvision.reports.cautions import cautions

    tell("Enter alone leaves a question open. Lengths and angles want their unit.")
    tell("\n".join(wrap(text, "- ", "  ") for text in cautions("measure")))
    kind = ""
    while kind not in KINDS:
        kind = typer.prompt("What it cuts (miter, square)", err=True).strip()
    if check_name is not None and about["name"]:
        check_name(about["name"])
    if not about["name"]:
        checks: list[Callable[[str], object]] = [partial(_check, check_about, "name")]
        checks += [] if check_name is None else [check_name]
        about["name"] = _asked("What you call it", *checks, needed=check_name is not None)
    if not about["made-by"]:
        about["made-by"] = _asked("Who made it", partial(_check, check_about, "made-by"))
    for key, question, only in QUESTIONS:
        if key not in values and only in ("", kind):
            text = _asked(question, partial(_check, check_option, key))
            if text:
                values[key] = text
    return kind


def _check(check: Callable[[str, str, str], object], key: str, text: str) -> object:
    return check(key, text, "The answer")


def _asked(question: str, *checks: Callable[[str], object], needed: bool = False) -> str:
    """The answer, asked for again until every check takes it; an empty one is checked only when it is needed."""
    while True:
        text = str(typer.prompt(question, default="", show_default=False, err=True)).strip()
        try:
            for check in checks if text or needed else ():
                check(text)
        except InputError as problem:
            tell_problem(problem)
        else:
            return text
