"""`cutvision log`: the logbook of jigs and their runs."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from cutvision.cli.force import Force
from cutvision.cli.output import answer, answer_json, tell, tell_problem
from cutvision.errors import InputError
from cutvision.files import write_output
from cutvision.logbook.naming import words
from cutvision.reports.columns import wrap
from cutvision.version import __version__

if TYPE_CHECKING:
    from cutvision.logbook.book import Asked, Logbook
    from cutvision.logbook.records import MoveSet, Run
    from cutvision.logbook.verification import Finding
    from cutvision.reports.trend import Trend

NOT_SOUND = 1
NEWEST_ON_A_SHEET = 50
Book = Annotated[
    Path | None,
    typer.Option(
        "--logbook",
        metavar="DIR",
        help="The logbook's folder, instead of CUTVISION_LOGBOOK or your own data folder.",
    ),
]
State = Annotated[
    Literal["clamped", "tacked", "fastened"] | None,
    typer.Option("--fence-state", help="How the fence is held now; once fastened, it wants a check cut."),
]
Day = Annotated[
    str | None,
    typer.Option("--date", metavar="DAY", help="The day on which it was done, such as 2026-11-25 (else today)."),
]
NoteText = Annotated[str | None, typer.Option("--note", metavar="TEXT", help="What else should be known of it.")]

app = typer.Typer(
    help="The logbook: each jig's runs with their photos, moves and check cuts. It lies on this machine alone, and "
    "nothing in it is overwritten.\n\nKeep its folder on a disk of this computer. In a network folder it is safe only "
    "while one computer at a time uses it, since such folders do not lock files reliably. In a folder that is synced "
    "between computers, wait until it is synced before another one uses it: two that wrote at once are two logbooks, "
    "of which the sync keeps one. Between computers use export and import, which lose nothing.",
    no_args_is_help=True,
    rich_markup_mode=None,
    add_completion=False,
)

JigName = Annotated[str, typer.Argument(metavar="JIG", help="The jig's name in the logbook.")]
RunNumber = Annotated[str, typer.Argument(metavar="RUN", help="The run's number in the logbook.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")]
More = Annotated[bool, typer.Option("--more", help="Show everything: figures, notes, every caution.")]


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


@app.command("list")
def list_runs(
    jig: Annotated[str | None, typer.Option("--jig", metavar="JIG", help="Only this jig's runs.")] = None,
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """List the runs, oldest first: day, jig, error with its uncertainty, decision, what was set afterwards."""
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


def readable_runs(book: Logbook, jig: str | None, *, abridged: bool = True, newest: int | None = None) -> Sequence[Run]:
    """The runs, or a jig's; of a damaged book those that can be read, and on standard error what cannot."""
    from cutvision.logbook.verification import salvage
    from cutvision.reports.encode import recorded_correction

    found = salvage(
        book,
        jig,
        abridged=abridged,
        newest=newest,
        check=None if abridged else lambda run: run.correction and recorded_correction(run.correction),
    )
    tell_findings(found.lost)
    return found.runs


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
    """Set two runs beside each other: what differs, and whether their uncertainties explain the difference."""
    from cutvision.reports.logbook_text import compared_text

    with opened_to_read(logbook) as book:
        answer(compared_text(book.run(run), book.run(other)))


@app.command()
def move(
    run: RunNumber,
    set_to: Annotated[
        str,
        typer.Option(
            "--set",
            metavar="LENGTH",
            help="How far the fence was really moved, where the shim goes (0mm: not); of a V at its point, each foot.",
        ),
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
    from cutvision.jobs.said import request
    from cutvision.logbook.moved import MoveSaid, move_of
    from cutvision.reports.logbook_text import moved_words, with_cautions

    said = {"set": set_to, "turn": turn, "fence_state": fence_state, "day": day, "note": note}
    done = move_of(request(MoveSaid, said), now())
    with opened(logbook) as book:
        _check_move(book.run(run), done)
        found = book.set_move(run, done)
        asked = book.asked(found.jig)
    answer(with_cautions(wrap(moved_words(found, done, asked)), asks=bool(asked)))


def _check_move(after: Run, done: MoveSet) -> None:
    """Raise InputError for a move that nobody made: it would stand in the way of every later answer."""
    from cutvision.correction import ReadingCare, typed_distance
    from cutvision.correction.adjustments import move_made
    from cutvision.logbook.answers import each_foot

    if done.day is not None and done.day < after.conditions.day:
        raise InputError(
            f"--date is {done.day.isoformat()}, but run {after.number} was cut on {after.conditions.day.isoformat()}.",
            "Give the day on which the fence was moved after that cut.",
        )
    if after.correction is not None and done.distance_mm and done.turn is not None:
        lever = typed_distance(after.correction["fence_length"]["value"], "lever", ReadingCare())
        move_made((2 if each_foot(after.correction) else 1) * done.distance_mm, done.turn, lever, 1)


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
def trend(
    jig: JigName,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Draw the chart too, as .svg, .png or .pdf.")
    ] = None,
    force: Force = False,
    as_json: AsJson = False,
    logbook: Book = None,
) -> None:
    """Show how a jig's error has gone over time: drift with its uncertainty, season, verdict, next check."""
    from cutvision.reports.trend import trend_as_json, trend_of, trend_text

    with opened_to_read(logbook) as book:
        name = book.jig(jig).name
        found = trend_of(readable_runs(book, jig))
    if out is not None:
        write_figure(found, name, out, force=force)
    if as_json:
        answer_json(trend_as_json(found))
    else:
        answer(trend_text(found, name))


@app.command(short_help="Show how the fence moved of what was set.")
def response(jig: JigName, more: More = False, as_json: AsJson = False, logbook: Book = None) -> None:
    """Show how a jig's fence moved of what was set, whether a move went the wrong way, and what to do next."""
    from cutvision.logbook.answers import answers_of
    from cutvision.reports.objects import adjustments_object
    from cutvision.reports.says_steps import steps_report
    from cutvision.reports.terminal import to_terminal

    with opened_to_read(logbook) as book:
        found = answers_of(readable_runs(book, jig))
    if as_json:
        answer_json(adjustments_object(found))
    else:
        answer(to_terminal(steps_report(found), "more" if more else "default"))


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
    newest: Annotated[
        int, typer.Option("--newest", metavar="N", min=1, help="Of a jig's runs, no more than the last so many.")
    ] = NEWEST_ON_A_SHEET,
    force: Force = False,
    logbook: Book = None,
) -> None:
    """Write the evidence of a run, or of a whole jig, as one file to keep, print or hand on."""
    from cutvision.logbook.stored import StoredFiles
    from cutvision.reports.evidence_pdf import evidence_pdf
    from cutvision.reports.evidence_sheet import evidence_html

    form = out.suffix.lower()
    if form not in {".html", ".pdf"}:
        raise InputError(
            f"--out {out}: an evidence sheet is written as .html or .pdf.", "Give it one of these endings."
        )
    with opened_to_read(logbook) as book:
        if which.lower() in {jig.name.lower() for jig in book.jigs()}:
            runs = readable_runs(book, which, abridged=False, newest=newest)
            earlier = len(runs) == newest and runs[0].number > 1
        else:
            runs, earlier = [book.run(which)], False
        if not runs:
            raise InputError(f"'{which}' has no run yet.", f"Record one: measure or correct with --jig '{which}'.")
        jig, files = book.jig(runs[0].jig), StoredFiles(book, runs)
    for words_of_loss in files.lost:
        tell(wrap(words_of_loss))
    if earlier:
        tell(wrap(f"The sheet shows the last {newest} runs; --newest shows more of them."))
    if form == ".html":
        made = evidence_html(jig, runs, files, made_at=now(), program=__version__, paper=paper).encode("utf-8")
    else:
        made = evidence_pdf(jig, runs, files, made_at=now(), program=__version__, paper=paper)
    write_output(out, made, "evidence sheet", force=force)
    tell(f"Wrote {out}.")


@app.command("csv")
def csv_of(
    jig: JigName,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="The file to write (standard output unless said).")
    ] = None,
    force: Force = False,
    logbook: Book = None,
) -> None:
    """Write a jig's runs as a table (CSV) for a spreadsheet."""
    from cutvision.reports.runs_csv import runs_csv

    with opened_to_read(logbook) as book:
        table = runs_csv(readable_runs(book, jig))
    if out is None:
        answer(table.rstrip())
        return
    write_output(out, table.encode("utf-8"), "table", force=force)
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
    answer(wrap(f"Wrote {file}: jigs {done.jigs}, runs {done.runs}, stored files {done.files}."))
    for cleaned in done.cleaned:
        answer(wrap(f"Without: {cleaned}", "- ", "  "))
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
    from cutvision.logbook.recompute import recompute as computed_again
    from cutvision.reports.encoded import encoded
    from cutvision.reports.logbook_json import recomputed_as_json
    from cutvision.reports.logbook_text import recomputed_text

    with opened_to_read(logbook) as book:
        found = book.run(run)
        differing = computed_again(book, found, encoded)
    if as_json:
        answer_json(recomputed_as_json(found, __version__, differing))
    else:
        answer(recomputed_text(found, __version__, differing))
    if differing:
        raise typer.Exit(NOT_SOUND)


def write_figure(found: Trend, name: str, out: Path, *, force: bool = False) -> None:
    """Draw the trend's chart. Raises InputError when the file cannot be written."""
    from cutvision.reports.figure import figure_bytes, format_of
    from cutvision.reports.trend_chart import trend_figure

    form = format_of(out)
    write_output(out, figure_bytes(trend_figure(found, name), form), "drawing", force=force)
    tell(f"Wrote {out}.")
