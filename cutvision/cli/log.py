"""`cutvision log`: the logbook of jigs and their runs."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from cutvision import __version__
from cutvision.cli.correct_options import CaliperOptions, FenceOptions, length
from cutvision.cli.jig import KeyOptions, MadeOptions, jig_from_options
from cutvision.cli.jig_option import ENDING, read_text
from cutvision.cli.leaves import LeafOptions
from cutvision.cli.option_groups import with_groups
from cutvision.cli.output import answer, answer_json, tell, tell_problem
from cutvision.cli.record_options import PHOTO, Book, Day, NoteText, State, day_of, kept_options, words
from cutvision.errors import InputError
from cutvision.files import write_output
from cutvision.reports.columns import wrap

if TYPE_CHECKING:
    from cutvision.logbook.book import Asked, Logbook
    from cutvision.logbook.records import Run
    from cutvision.logbook.verification import Finding
    from cutvision.reports.trend import Trend

LONGEST_NAME = 80
NOT_SOUND = 1

app = typer.Typer(
    help="The logbook: each jig's runs with their photos, moves and check cuts. It lies on this machine alone, and "
    "nothing in it is overwritten.\n\nKeep its folder on a disk of this computer. In a network folder it is safe only "
    "while one computer at a time uses it, since such folders do not lock files reliably. In a folder that is synced "
    "between computers, wait until it is synced before another one uses it: two that wrote at once are two logbooks, "
    "of which the sync keeps one. Between computers use export and import, which lose nothing.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

JigName = Annotated[str, typer.Argument(metavar="JIG", help="The jig's name in the logbook.")]
RunNumber = Annotated[str, typer.Argument(metavar="RUN", help="The run's number in the logbook.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")]


def opened(logbook: Path | None, *, create: bool = False) -> Logbook:
    """The book that is meant. Raises InputError when it cannot be opened."""
    from cutvision.logbook.book import open_book
    from cutvision.logbook.place import place_of_book

    return open_book(place_of_book(logbook), create=create)


def opened_to_read(logbook: Path | None) -> Logbook:
    """The book that is meant; of one that was cut short what is left, with the problem on standard error."""
    from cutvision.logbook.book import open_remains
    from cutvision.logbook.place import place_of_book

    try:
        return opened(logbook)
    except InputError as problem:
        remains = open_remains(place_of_book(logbook))
        if remains is None:
            raise
        tell_problem(problem)
        return remains


def now() -> datetime:
    """The time at which something is recorded."""
    return datetime.now(UTC)


@app.command("add-jig")
@with_groups
def add_jig(
    file: Annotated[
        Path | None, typer.Argument(metavar="[FILE]", help="The jig's file. Without one, options or questions tell it.")
    ] = None,
    kind: Annotated[
        Literal["miter", "square"] | None, typer.Option("--kind", help="Whether it cuts miters or squares.")
    ] = None,
    name: Annotated[
        str | None, typer.Option("--name", metavar="NAME", help="What you call it (as its file says unless said).")
    ] = None,
    squared_by: Annotated[
        str | None,
        typer.Option(
            "--squared-by",
            metavar="JIG",
            help="The jig that squares its test pieces: that one's last run tells their corner and its doubt.",
        ),
    ] = None,
    again: Annotated[
        bool, typer.Option("--again", help="It is in the logbook: keep this as its new version beside the old ones.")
    ] = False,
    logbook: Book = None,
    *,
    made: MadeOptions,
    keys: KeyOptions,
    fence: FenceOptions,
    caliper: CaliperOptions,
    leaves: LeafOptions,
) -> None:
    """Set up a jig in the logbook, and the logbook with the first one.

    cutvision log add-jig sled.toml

    cutvision log add-jig --name sled --kind square --fence-length 560mm --kept left

    Then every measure and correct with --jig sled is kept.
    """
    from cutvision.correction.jig_file import jig_file_text, read_jig_file

    if file is not None:
        text = read_text(file)
        read = read_jig_file(text, str(file))
        called = name_of_jig(name or read.name or file.stem)
    else:
        jig = jig_from_options(kind, name or "", made, (keys, fence, caliper, leaves), name_of_jig)
        leaves.choice()  # refuses what is at odds
        text, called = jig_file_text(jig), name_of_jig(jig.name)
    with opened(logbook, create=not again) as book:
        squaring = None if squared_by is None else book.jig(squared_by).identity
        added = book.change_jig(called, text, now(), squaring) if again else book.add_jig(called, text, now(), squaring)
        version = f" as version {len(added.versions)}" if again else ""
        tell(wrap(f"'{added.name}' is in the logbook {book.folder}{version}."))
    tell(wrap(f"measure and correct with --jig '{added.name}' take their options from it and are kept there."))


def name_of_jig(text: str) -> str:
    """A jig's name. Raises InputError for one that `--jig` would take for a file."""
    called = words(text, "The jig's name")
    if not called:
        raise InputError("The jig has no name.", "Give --name a word or two.")
    if "/" in called or "\\" in called or called.lower().endswith(ENDING) or len(called) > LONGEST_NAME:
        raise InputError(
            f"'{called}' is no name for a jig in the logbook: --jig would take it for a file.",
            f"Give --name a word or two without slashes and without {ENDING} at the end.",
        )
    return called


@app.command()
def jigs(as_json: AsJson = False, logbook: Book = None) -> None:
    """List the jigs, how many runs each has, and which check cuts are asked for."""
    from cutvision.reports.logbook_json import jigs_as_json
    from cutvision.reports.logbook_text import jigs_text

    with opened_to_read(logbook) as book:
        found, runs = book.jigs(), readable_runs(book, None)
        asked = {jig.identity: still_asked(book, jig.identity) for jig in found}
    if as_json:
        answer_json(jigs_as_json(found, runs, asked))
    else:
        answer(jigs_text(found, runs, asked))


@app.command("list")
def list_runs(
    jig: Annotated[str | None, typer.Option("--jig", metavar="JIG", help="Only this jig's runs.")] = None,
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """List the runs, oldest first: day, jig, error with its bound, decision, what was set afterwards."""
    from cutvision.reports.logbook_json import runs_as_json
    from cutvision.reports.logbook_text import runs_text

    with opened_to_read(logbook) as book:
        runs = readable_runs(book, jig)
        jigs_meant = [jig] if jig else [one.identity for one in book.jigs()]
        asked = [one for each in jigs_meant for one in still_asked(book, each)]
    if as_json:
        answer_json(runs_as_json(runs, asked))
    else:
        answer(runs_text(runs, asked))


def readable_runs(book: Logbook, jig: str | None) -> Sequence[Run]:
    """The runs, or a jig's; of a damaged book those that can be read, and on standard error what cannot."""
    from cutvision.logbook.verification import salvage

    identity = None if jig is None else book.jig(jig).identity
    try:
        return book.runs(identity)
    except InputError as problem:
        tell_problem(problem)
    found = salvage(book)
    tell_findings(found.lost)
    return [run for run in found.runs if identity in {None, run.jig}]


def still_asked(book: Logbook, jig: str) -> Sequence[Asked]:
    """The check cuts that are asked for; none of a damaged book, which `readable_runs` has told of."""
    try:
        return book.asked(jig)
    except InputError:
        return ()


def tell_findings(findings: Sequence[Finding]) -> None:
    """Say on standard error what cannot be read."""
    for finding in findings:
        tell(wrap(finding.what))


@app.command()
def show(run: RunNumber, as_json: AsJson = False, logbook: Book = None) -> None:
    """Show all that is kept of a run: outcome, conditions, inputs, figures, files, moves, checks."""
    from cutvision.reports.logbook_json import run_as_json
    from cutvision.reports.logbook_text import run_text

    with opened_to_read(logbook) as book:
        found = book.run(run)
        checked = None if found.check_of is None else book.run(found.check_of)
        if as_json:
            answer_json(run_as_json(found))
        else:
            answer(run_text(found, book.path_of, book.checks_of(found), checked))


@app.command()
def compare(run: RunNumber, other: RunNumber, logbook: Book = None) -> None:
    """Set two runs beside each other: what differs, and whether the bounds explain the difference."""
    from cutvision.reports.logbook_text import compared_text

    with opened_to_read(logbook) as book:
        answer(compared_text(book.run(run), book.run(other)))


@app.command()
def move(
    run: RunNumber,
    set_to: Annotated[
        str, typer.Option("--set", metavar="LENGTH", help="How far the fence was really moved at its lever (0mm: not).")
    ],
    turn: Annotated[
        Literal["clockwise", "counterclockwise"] | None,
        typer.Option("--turn", help="Which way it was turned, seen from above."),
    ] = None,
    fence_state: State = None,
    day: Day = None,
    note: NoteText = None,
    logbook: Book = None,
) -> None:
    """Keep what was really done to the fence after a run; the logbook then asks for a check cut.

    cutvision log move 12 --set 0.5mm --turn clockwise --fence-state fastened
    """
    from cutvision.logbook.records import MoveSet
    from cutvision.reports.logbook_text import asked_words, move_words, with_cautions

    distance_mm = length(set_to, "--set", zero=True) or 0.0
    if distance_mm and turn is None:
        raise InputError(
            "--set says how far the fence was moved, but not which way.", "Give --turn clockwise or counterclockwise."
        )
    if not distance_mm and fence_state is None:
        raise InputError(
            "Nothing was set: --set is 0 and --fence-state is not given.",
            "Give the move as it was set, or --fence-state when the fence was only clamped, tacked or fastened.",
        )
    done = MoveSet(now(), distance_mm, turn if distance_mm else None, fence_state, words(note, "--note"), day_of(day))
    with opened(logbook) as book:
        found = book.set_move(run, done)
        asked = book.asked(found.jig)
    text = f"After run {found.number} of '{found.jig_name}': {move_words(done)}."
    advised = found.headline.turn
    if distance_mm and found.headline.decision == "leave":
        text += " The run advised to leave it alone."
    elif distance_mm and advised is not None and advised != turn:
        text += f" That is the other way: the run advised {advised.replace('counterc', 'counter-c')}."
    answer(with_cautions(wrap(f"{text} {asked_words(asked)}".strip()), asks=bool(asked)))


@app.command()
def strike(
    run: RunNumber,
    why: Annotated[str, typer.Option("--why", metavar="TEXT", help="What was wrong with it.")],
    logbook: Book = None,
) -> None:
    """Strike out a wrong run. It stays in the logbook with the reason, and is not counted any more."""
    with opened(logbook) as book:
        found = book.strike(run, words(why, "--why"), now())
    answer(wrap(f"Run {found.number} of '{found.jig_name}' is struck out; it stays in the logbook with the reason."))


@app.command()
def retire(
    jig: JigName,
    back: Annotated[bool, typer.Option("--back", help="Take a retired jig into use again.")] = False,
    logbook: Book = None,
) -> None:
    """Take a jig out of use: nothing more is recorded for it, and what there is stays."""
    with opened(logbook) as book:
        found = book.retire_jig(jig, now(), back=back)
    answer(wrap(f"'{found.name}' is {'retired' if found.retired else 'in use'}; its runs stay in the logbook."))


@app.command()
def trend(
    jig: JigName,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Draw the chart too, as .svg, .png or .pdf.")
    ] = None,
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """Tell how a jig's error has gone over time: drift with its bound, season, verdict, when to check again."""
    from cutvision.reports.trend import trend_as_json, trend_of, trend_text

    with opened_to_read(logbook) as book:
        name = book.jig(jig).name
        found = trend_of(readable_runs(book, jig))
    if out is not None:
        write_figure(found, name, out)
    if as_json:
        answer_json(trend_as_json(found))
    else:
        answer(trend_text(found, name))


@app.command()
def answers(jig: JigName, as_json: AsJson = False, logbook: Book = None) -> None:
    """Tell how a jig's fence has answered to the moves that were set: its gain, and whether one went the wrong way."""
    from cutvision.logbook.answers import answers_of
    from cutvision.reports.adjustments_json import adjustments_as_json
    from cutvision.reports.adjustments_text import adjustments_text

    with opened_to_read(logbook) as book:
        found = answers_of(readable_runs(book, jig))
    if as_json:
        answer_json(adjustments_as_json(found))
    else:
        answer(adjustments_text(found).rstrip())


@app.command()
def verify(as_json: AsJson = False, logbook: Book = None) -> None:
    """Check that every file is there and unchanged and every row as it was recorded; exit status 1 when not.

    What is wrong is named and nothing is mended.
    """
    from cutvision.logbook.verification import verify as looked_through
    from cutvision.reports.logbook_json import verified_as_json
    from cutvision.reports.logbook_text import verified_text

    with opened_to_read(logbook) as book:
        verified = looked_through(book)
        if as_json:
            answer_json(verified_as_json(verified))
        else:
            answer(verified_text(verified, book.folder))
    if not verified.sound:
        raise typer.Exit(NOT_SOUND)


@app.command()
def sheet(
    which: Annotated[str, typer.Argument(metavar="RUN|JIG", help="A run's number, or a jig's name for all its runs.")],
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="The file to write: .html or .pdf.")],
    paper: Annotated[Literal["a4", "letter"], typer.Option("--paper", help="The paper it is printed on.")] = "a4",
    logbook: Book = None,
) -> None:
    """Write the evidence of a run, or of a whole jig, as one file to keep, print or hand on."""
    from cutvision.logbook.evidence import is_as_recorded
    from cutvision.reports.evidence_pdf import evidence_pdf
    from cutvision.reports.evidence_sheet import evidence_html

    form = out.suffix.lower()
    if form not in {".html", ".pdf"}:
        raise InputError(
            f"--out {out}: an evidence sheet is written as .html or .pdf.", "Give it one of these endings."
        )
    with opened_to_read(logbook) as book:
        if which.lower() in {jig.name.lower() for jig in book.jigs()}:
            runs = readable_runs(book, which)
        else:
            runs = [book.run(which)]
        if not runs:
            raise InputError(f"'{which}' has no run yet.", f"Record one: measure or correct with --jig '{which}'.")
        jig, files = book.jig(runs[0].jig), {}
        for file in {file for run in runs for file in run.evidence}:
            path = book.path_of(file)
            try:
                data = path.read_bytes()
            except OSError as error:
                tell(wrap(f"{file.name} cannot be read ({error.strerror or error}) and is left out."))
                continue
            if is_as_recorded(data, file, path):
                files[file.sha256] = data
            else:
                tell(wrap(f"{file.name} was changed after it was recorded and is left out."))
    if form == ".html":
        made = evidence_html(jig, runs, files, made_at=now(), program=__version__, paper=paper).encode("utf-8")
    else:
        made = evidence_pdf(jig, runs, files, made_at=now(), program=__version__, paper=paper)
    write_output(out, made, "evidence sheet")
    tell(f"Wrote {out}.")


@app.command("csv")
def csv_of(
    jig: JigName,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="The file to write (standard output unless said).")
    ] = None,
    logbook: Book = None,
) -> None:
    """Write a jig's runs as a table (CSV) for a spreadsheet."""
    from cutvision.reports.runs_csv import runs_csv

    with opened_to_read(logbook) as book:
        table = runs_csv(readable_runs(book, jig))
    if out is None:
        answer(table.rstrip())
        return
    write_output(out, table.encode("utf-8"), "table")
    tell(f"Wrote {out}.")


@app.command("export")
def export_to(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The zip file to write; it must not be there yet.")],
    with_gps: Annotated[
        bool, typer.Option("--with-gps", help="Let the photos keep their GPS position, byte for byte as they came.")
    ] = False,
    logbook: Book = None,
) -> None:
    """Write the whole logbook as one zip file: JSON, CSV, photos. Its README.txt says what is what.

    Without --with-gps the photos go without their GPS position, pixels untouched; each keeps the hash of the original.
    """
    from cutvision.logbook.archive import export_book
    from cutvision.reports.runs_csv import runs_csv

    with opened_to_read(logbook) as book:
        runs = readable_runs(book, None)
        tables = {one.identity: runs_csv([run for run in runs if run.jig == one.identity]) for one in book.jigs()}
        done = export_book(book, runs, file, __version__, tables, with_gps=with_gps)
    answer(wrap(f"Wrote {file}: {done.jigs} jigs, {done.runs} runs, {done.files} files."))
    if done.blanked:
        answer(wrap(f"The GPS position was taken out of {done.blanked} photos; --with-gps would leave it in."))
    for left in done.left_out:
        answer(wrap(f"Left out: {left}", "- ", "  "))


@app.command("import")
def import_from(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A zip file that cutvision log export wrote.")],
    logbook: Book = None,
) -> None:
    """Merge an export into the logbook, by identity: what is there already stays, nothing is lost or doubled."""
    from cutvision.logbook.archive import import_book

    with opened(logbook, create=True) as book:
        done = import_book(book, file)
        where = book.folder
    answer(
        wrap(
            f"{where} took in {done.jigs} jigs and {done.runs} runs with {done.files} files; {done.known} runs were "
            "there already."
        )
    )
    for old, new in done.renamed:
        answer(wrap(f"Another jig '{old}' is in the logbook, so the imported one is called '{new}'."))


@app.command()
def recompute(run: RunNumber, as_json: AsJson = False, logbook: Book = None) -> None:
    """Compute a run again from its stored inputs and photos, and say what differs; exit status 1 when anything does."""
    from cutvision.logbook.differences import differences
    from cutvision.reports.logbook_json import recomputed_as_json
    from cutvision.reports.logbook_text import recomputed_text

    with opened_to_read(logbook) as book:
        found = book.run(run)
        arguments = arguments_of(book, found)
    differing = tuple(differences(found.result, computed_anew(arguments)))
    if as_json:
        answer_json(recomputed_as_json(found, __version__, differing))
    else:
        answer(recomputed_text(found, __version__, differing))
    if differing:
        raise typer.Exit(NOT_SOUND)


def arguments_of(book: Logbook, run: Run) -> list[str]:
    """The line that computes a run again. Raises InputError when a file that it rests on is not here as it was."""
    from cutvision.logbook.evidence import is_as_recorded

    refuse_foreign_inputs(run)
    by_hash = {file.sha256: file for file in run.evidence}
    options, photos = [], []
    for value in run.inputs.values:
        text = value.value
        if value.sha256 is not None:
            file = by_hash.get(value.sha256)
            if file is None:
                raise InputError(
                    f"Run {run.number} does not hold the file {value.value} that it was computed from.",
                    f"It was changed where it came from: look at it with cutvision log show {run.number}.",
                )
            path = book.path_of(file).resolve()
            try:
                sound = is_as_recorded(path.read_bytes(), file, path)
            except OSError as error:
                raise InputError(
                    f"{file.name} of run {run.number} cannot be read: {error.strerror or error}.",
                    f"Put {path} back from a backup or an export, then do the same again.",
                ) from error
            if not sound:
                raise InputError(
                    f"{file.name} of run {run.number} was changed after it was recorded.",
                    f"Put {path} back from a backup or an export, then do the same again.",
                )
            text = str(path)
        if value.option == PHOTO:
            photos.append(text)
        else:
            options.append(f"{value.option}={text}" if text else value.option)
    return (
        [*run.inputs.command, *options, "--json", "--", *photos]
        if photos
        else [*run.inputs.command, *options, "--json"]
    )


def refuse_foreign_inputs(run: Run) -> None:
    """Raise InputError for a line that no measure or correct keeps.

    An imported run is a stranger's: computed again, it must write no file and touch no logbook.
    """
    from typer.main import get_command

    from cutvision.cli.app import app as whole

    command: object = get_command(whole)
    for word in run.inputs.command:
        command = getattr(command, "commands", {}).get(word)
    kept = set(kept_options(command).values())
    foreign = [value.option for value in run.inputs.values if value.option not in kept]
    if not kept or foreign:
        line = " ".join([*run.inputs.command, *foreign])
        raise InputError(
            f"Run {run.number} cannot be computed again: this cutvision keeps no run of `{line}`.",
            "It was recorded by another cutvision, or was changed where it came from: look at it with cutvision log "
            f"show {run.number}.",
        )


def computed_anew(arguments: Sequence[str]) -> object:
    """What the command prints with --json. Raises InputError when it does not take these inputs any more."""
    import contextlib
    import io
    import json

    from cutvision.cli.app import app as whole

    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()), contextlib.suppress(SystemExit):
        whole(list(arguments), prog_name="cutvision")
    try:
        return json.loads(out.getvalue())
    except ValueError as error:
        raise InputError(
            f"This cutvision no longer takes the run's inputs: {' '.join(arguments)}",
            "Type that line to see why.",
        ) from error


def write_figure(found: Trend, name: str, out: Path) -> None:
    """Draw the trend's chart. Raises InputError when the file cannot be written."""
    from cutvision.reports.figure import figure_bytes, format_of
    from cutvision.reports.trend_chart import trend_figure

    form = format_of(out)
    write_output(out, figure_bytes(trend_figure(found, name), form), "drawing")
    tell(f"Wrote {out}.")
