"""`cutvision log`, and the runs that `measure` and `correct` keep, as a person types and reads them."""

from __future__ import annotations

import io
import json
import sqlite3
import uuid
import zipfile
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from cutvision.logbook.book import FILE, Logbook, open_book
from cutvision.logbook.place import VARIABLE
from cutvision.logbook.records import InputValue, NewRun

SAMPLES = Path(__file__).parents[2] / "sample_images"
BLURRED = SAMPLES / "refused" / "blurred.jpg"
SQUARE = ("correct", "square", "--at-fence", "24.91mm", "--far-end", "24.78mm", "--between", "380mm")
MITER = ("correct", "miter", "--left-leg", "101.62mm", "--right-leg", "101.35mm")
SLED = 'name = "sled"\nkind = "square"\nfence-length = "560mm"\nkept = "left"\ntolerance = "0.03deg"\n'
COLUMNS = 80


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the environment says that the book is."""
    monkeypatch.setenv(VARIABLE, str(tmp_path / "book"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "sled.toml").write_text(SLED, "utf-8")
    return tmp_path / "book"


@pytest.fixture
def sled(run: Any, folder: Path) -> Path:
    """A book with a squaring sled and a miter jig that leans on it."""
    assert run("jig", "add", "sled.toml").status == 0
    added = run(
        *("jig", "new", "V sled", "--kind", "miter", "--fence-length", "380mm", "--kept", "left"),
        *("--tolerance", "0.05deg", "--squared-by", "sled"),
    )
    assert (added.status, added.out) == (0, "")
    return folder


def opened(folder: Path) -> Logbook:
    """The book, to look at what was kept."""
    return open_book(folder)


def narrow(text: str) -> bool:
    """Whether a text fits the terminal, file names and what was typed in apart."""
    return all(len(line) <= COLUMNS or line.startswith("    ") for line in text.splitlines())


def test_a_run_is_kept_with_all_that_was_said(run: Any, sled: Path) -> None:
    """The jig fills the options, the run and its conditions are in the book, and one line says its number."""
    done = run(
        *SQUARE,
        *("--jig", "sled", "--date", "2025-11-02", "--humidity", "45 %", "--blade", "60 teeth", "--wood", "oak"),
        *("--note", "after the move", "--fence-state", "clamped"),
    )
    assert done.status == 0
    assert "Recorded as run 1 of 'sled'." in done.out
    with opened(sled) as book:
        (kept,) = book.runs()
    said = kept.conditions
    assert (said.day.isoformat(), said.humidity, said.blade, said.stock) == ("2025-11-02", "45 %", "60 teeth", "oak")
    assert (said.note, said.fence) == ("after the move", "clamped")
    assert kept.inputs.command == ("correct", "square")
    values = {value.option: (value.value, value.source) for value in kept.inputs.values}
    assert values["--at-fence"] == ("24.91mm", "typed")
    assert values["--fence-length"] == ("560mm", "jig")
    assert kept.result["method"] == "square"
    assert abs(datetime.now(UTC) - kept.recorded_at) < timedelta(minutes=5)


def test_the_json_is_the_same_and_stands_alone(run: Any, sled: Path) -> None:
    """With --json standard output holds the object alone, which is what is kept; the line is on standard error."""
    done = run(*SQUARE, "--jig", "sled", "--json", "--fence-state", "fastened")
    assert "Recorded as run 1 of 'sled'." in done.err
    assert "asks for a check cut" in done.err
    assert "Cautions" in done.err
    with opened(sled) as book:
        assert book.run(1).result == json.loads(done.out)


@pytest.mark.parametrize("arguments", [("--no-record", "--jig", "sled"), ("--jig", "sled.toml"), ()])
def test_a_run_is_not_kept_unasked(run: Any, sled: Path, arguments: tuple[str, ...]) -> None:
    """--no-record, a jig's file instead of a name, and no jig keep nothing."""
    fence = () if arguments else ("--fence-length", "560mm")
    done = run(*SQUARE, *fence, *arguments)
    assert done.status == 0
    assert "Recorded" not in done.out + done.err
    with opened(sled) as book:
        assert book.runs() == ()


def test_every_way_of_correcting_is_kept(run: Any, sled: Path) -> None:
    """Each command of `correct` keeps its run, and computes it again to the same."""
    lines = [
        ("correct", "facing", "--gap", "0.5mm", "--over", "300mm", "--gap-at", "fence", "--jig", "sled"),
        (*MITER, "--jig", "V sled"),
        (
            *("correct", "frame", "--gap", "1.2mm", "--stock", "60mm", "--sides", "4", "--gap-at", "toe"),
            *("--jig", "v sled", "--wood", "ash"),
        ),
        (
            *("correct", "direct", "--gap", "0.15mm", "--over", "200mm", "--gap-at", "far", "--square-on", "left"),
            *("--jig", "sled"),
        ),
    ]
    for number, line in enumerate(lines, 1):
        assert f"Recorded as run {number} of " in run(*line).out
        assert "is the same" in run("log", "recompute", number).out
    with opened(sled) as book:
        assert [one.inputs.command[1] for one in book.runs()] == ["facing", "miter", "frame", "direct"]
        assert book.run(3).conditions.stock == "ash"


def test_the_squaring_jig_fills_the_corner(run: Any, sled: Path) -> None:
    """The last run of the jig that squares the test pieces tells their corner, unless a corner is typed."""
    assert "has no run to tell" in run(*MITER, "--jig", "V sled").err
    run(*SQUARE, "--jig", "sled")
    done = run(*MITER, "--jig", "V sled", "--json")
    assert "is from run 2 of 'sled'" in done.err
    with opened(sled) as book:
        filled = {value.option: value for value in book.run(3).inputs.values if value.source == "logbook"}
        error = book.run(2).result["angle_error"]
    assert filled["--corner"].value == f"{90 + error['value']:.6f}deg"
    assert filled["--corner-to"].value == f"{3**0.5 * error['standard_uncertainty']:.6f}deg"
    typed = run(*MITER, "--jig", "V sled", "--corner", "90deg", "--json")
    assert "from run" not in typed.err
    assert json.loads(typed.out)["angle_error"] != json.loads(done.out)["angle_error"]


def test_a_photo_is_kept_with_its_pictures_and_refusals(run: Any, sled: Path, tmp_path: Path) -> None:
    """A measurement keeps its photo byte for byte, the annotated one and the drawing; a refused photo is kept too."""
    photo = SAMPLES / "miter-1.jpg"
    done = run("measure", photo, "--shape", "miter", "--thickness", "19mm", "--jig", "V sled", "--camera-note", "x")
    assert done.status == 2
    done = run("measure", photo, "--shape", "miter", "--thickness", "19mm", "--jig", "V sled")
    assert "Recorded as run 1 of 'V sled'." in done.out
    (tmp_path / "no photo.jpg").write_bytes(BLURRED.read_bytes())
    refused = run("measure", "no photo.jpg", "gone.jpg", "--shape", "miter", "--jig", "V sled", "--json")
    assert refused.status == 3
    assert "Recorded as run 2 of 'V sled'." in refused.err
    left = run("measure", photo, "--shape", "miter", "--jig", "V sled", "--leave-photos", "--json")
    assert left.status == 0
    with opened(sled) as book:
        measured, not_measured, left_there = book.runs()
        kinds = [file.kind for file in measured.evidence]
        assert kinds == ["photo", "annotated", *(["drawing"] if measured.headline.decision == "move" else [])]
        assert book.path_of(measured.evidence[0]).read_bytes() == photo.read_bytes()
        assert measured.inputs.values[0].sha256 == measured.evidence[0].sha256
        assert not_measured.headline.refused == "unreadable"  # the one that is gone, named first in the refusals
        assert not_measured.result == json.loads(refused.out)
        assert [file.name for file in not_measured.evidence] == ["no photo.jpg"]
        assert book.path_of(left_there.evidence[0]) == photo.resolve()
    for number in (1, 2, 3):
        again = run("log", "recompute", number, "--json")
        assert (again.status, json.loads(again.out)["differences"]) == (0, [])
    with opened(sled) as book:
        annotated = book.path_of(measured.evidence[1])
    assert run("log", "verify").status == 0
    assert run("log", "sheet", 1, "--out", "sound.html").err == "Wrote sound.html.\n"
    annotated.write_bytes((SAMPLES / "miter-2-turned.jpg").read_bytes())
    wrong = run("log", "verify")
    assert wrong.status == 1
    assert "was changed after it was recorded" in wrong.out
    assert run("log", "list").status == 0
    told = run("log", "sheet", 1, "--out", "left-out.html")
    assert "annotated-1.jpg was changed after it was recorded and is left out." in told.err
    pictures = [(tmp_path / name).read_text("utf-8").count("<img") for name in ("sound.html", "left-out.html")]
    assert pictures[1] == pictures[0] - 1


def test_a_hostile_file_name_moves_no_terminal_and_breaks_no_line(run: Any, sled: Path, tmp_path: Path) -> None:
    """A photo's name with escape, line break and turned writing is told with "?" in lists, tables and sheets."""
    name = "a\x1b[2J\rb\nc\u202ed.jpg"
    (tmp_path / name).write_bytes(BLURRED.read_bytes())
    assert run("measure", name, "--shape", "miter", "--jig", "V sled").status == 3
    for words in (("show", 1), ("compare", 1, 1)):
        told = run("log", *words)
        assert told.status == 0
        assert "a?[2J?b?c?d.jpg" in told.out
        assert told.out.replace("\n", "").isprintable()
    assert run("log", "sheet", 1, "--out", "run.html").status == 0
    page = (tmp_path / "run.html").read_text("utf-8")
    assert "a?[2J?b?c?d.jpg" in page
    assert not {"\x1b", "\u202e"} & set(page)
    with opened(sled) as book:
        assert book.run(1).evidence[0].name == name


def test_a_photo_that_was_left_and_then_edited_is_not_computed(run: Any, sled: Path, tmp_path: Path) -> None:
    """A photo left in its place is measured again only while its bytes are those that were recorded."""
    (tmp_path / "no photo.jpg").write_bytes(BLURRED.read_bytes())
    assert run("measure", "no photo.jpg", "--shape", "miter", "--jig", "V sled", "--leave-photos").status == 3
    with opened(sled) as book:
        assert book.run(1).evidence[0].left_at is not None
    assert run("log", "recompute", 1).status == 0
    (tmp_path / "no photo.jpg").write_bytes(b"another")
    done = run("log", "recompute", 1)
    assert done.status == 2
    assert "was changed after it was recorded" in " ".join(done.err.split())


@pytest.mark.usefixtures("sled")
def test_an_answer_is_given_though_it_cannot_be_kept(run: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the book fails, the answer is printed, the person is told that the run is not kept, and the status is 2."""

    def full(*_: object) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr("cutvision.logbook.book.insert_run", full)
    done = run(*SQUARE, "--jig", "sled")
    assert done.status == 2
    assert "The fence stands" in done.out
    assert "This run is not in the logbook." in done.err
    assert "Make room on the disk" in done.err
    Path("no photo.jpg").write_bytes(BLURRED.read_bytes())
    refused = run("measure", "no photo.jpg", "--shape", "miter", "--jig", "V sled")
    assert refused.status == 3
    assert "This run is not in the logbook." in refused.err


@pytest.mark.usefixtures("sled")
def test_a_mistyped_name_is_no_run(run: Any) -> None:
    """Where not one of the files could be read nothing is recorded, and that is said."""
    done = run("measure", "gone.jpg", "--shape", "miter", "--jig", "V sled")
    assert done.status == 3
    assert "Not recorded" in done.err
    assert json.loads(run("log", "list", "--json").out)["runs"] == []


@pytest.mark.usefixtures("sled")
def test_a_move_asks_for_its_check_cut(run: Any) -> None:
    """What was really set is kept; the other way than advised is said; the check cut is asked for until it is there."""
    run(*MITER, "--jig", "V sled")
    done = run("log", "move", 1, "--set", "0.5mm", "--turn", "clockwise", "--fence-state", "fastened", "--note", "tap")
    assert "That is the other way: the run advised counterclockwise." in " ".join(done.out.split())
    assert "--check-of 1" in done.out
    assert "Cautions" in done.out
    assert "asks for a check cut" in run("jig", "list").out
    assert "asks for a check cut" in run("log", "list").out
    run(*MITER, "--jig", "V sled", "--check-of", 1)
    assert "asks" not in run("jig", "list").out
    shown = run("log", "show", 1).out
    assert "0.50 mm (0.0197 in) clockwise, then fastened, tap" in " ".join(shown.split())
    assert "checked by        run 2" in shown
    answers = run("log", "response", "V sled")
    assert answers.status == 0
    assert "0.5 mm (0.02 in) clockwise" in answers.out
    assert json.loads(run("log", "response", "V sled", "--json").out)["schema"].startswith("cutvision/adjustments/")


@pytest.mark.usefixtures("sled")
def test_lists_are_narrow_and_complete(run: Any) -> None:
    """Every text keeps to 80 columns; list, show and jigs tell the same to other programs."""
    run(*SQUARE, "--jig", "sled", "--date", "2025-11-02", "--fence-state", "fastened")
    run(*SQUARE, "--jig", "sled", "--date", "2025-12-02", "--check-of", 1)
    run(*MITER, "--jig", "V sled")
    run("log", "strike", 2, "--why", "the wrong piece")
    for words in (("list",), ("list", "--jig", "sled"), ("show", 1), ("show", 3), ("compare", 1, 2)):
        done = run("log", *words)
        assert done.status == 0
        assert narrow(done.out), done.out
    listed = json.loads(run("log", "list", "--json").out)
    assert [one["run"] for one in listed["runs"]] == [1, 2, 3]
    assert listed["runs"][1]["struck"]["why"] == "the wrong piece"
    assert listed["asked"] == [{"run": 1, "after": "fastening"}]
    shown = json.loads(run("log", "show", 1, "--json").out)
    assert shown["inputs"]["command"] == ["correct", "square"]
    assert shown["result"]["schema"] == "cutvision/correction/1"
    (sled_jig, v_sled) = json.loads(run("jig", "list", "--json").out)["jigs"]
    assert (sled_jig["name"], sled_jig["runs"], v_sled["runs"]) == ("sled", 2, 1)
    assert v_sled["versions"][0]["squared_by"] == sled_jig["identity"]
    assert json.loads(run("log", "verify", "--json").out)["sound"] is True


@pytest.mark.usefixtures("sled")
def test_two_runs_beside_each_other(run: Any) -> None:
    """A difference within the bounds is called so, a larger one too, and what cannot be compared is said."""
    run(*SQUARE, "--jig", "sled")
    run(*SQUARE[:3], "24.92mm", *SQUARE[4:], "--jig", "sled")
    run(*SQUARE[:3], "25.91mm", *SQUARE[4:], "--jig", "sled")
    Path("no photo.jpg").write_bytes(BLURRED.read_bytes())
    run("measure", "no photo.jpg", "--shape", "strip", "--jig", "sled")
    assert "no more than their uncertainties explain" in " ".join(run("log", "compare", 1, 2).out.split())
    differing = run("log", "compare", 1, 3).out
    assert "the fence or the cut has changed" in " ".join(differing.split())
    assert "* --at-fence" in differing
    assert "  --far-end" in differing
    assert "shows no error" in run("log", "compare", 1, 4).out


@pytest.mark.usefixtures("sled")
def test_the_trend_the_sheet_and_the_table(run: Any, tmp_path: Path) -> None:
    """A jig's runs become a trend with its chart, an evidence sheet of one file, and a table."""
    for month, width in ((9, "24.91mm"), (10, "24.90mm"), (11, "24.88mm")):
        run(*SQUARE[:3], width, *SQUARE[4:], "--jig", "sled", "--date", f"2025-{month:02}-02")
    told = run("log", "trend", "sled", "--out", "trend.svg")
    assert told.status == 0
    assert "drift a month" in told.out
    assert b"<svg" in (tmp_path / "trend.svg").read_bytes()
    assert json.loads(run("log", "trend", "sled", "--json").out)["runs"] == [1, 2, 3]
    for which, file, begins in ((2, "run.html", b"<!"), ("sled", "jig.html", b"<!"), ("sled", "jig.pdf", b"%PDF")):
        assert run("log", "sheet", which, "--out", file).status == 0
        assert (tmp_path / file).read_bytes().lstrip().startswith(begins)
    assert run("log", "sheet", "sled", "--out", "jig.doc").status == 2
    assert run("log", "sheet", "V sled", "--out", "jig.pdf").status == 2
    assert run("log", "sheet", "77", "--out", "jig.pdf").status == 2
    table = run("log", "csv", "sled").out
    assert len(table.splitlines()) == 4
    run("log", "csv", "sled", "--out", "sled.csv")
    assert (tmp_path / "sled.csv").read_text("utf-8").splitlines() == table.splitlines()


@pytest.mark.usefixtures("sled")
def test_export_and_import_on_an_empty_machine(run: Any, tmp_path: Path) -> None:
    """What is exported comes out elsewhere the same, verifies and computes again; a second import adds nothing."""
    run("measure", SAMPLES / "miter-1.jpg", "--shape", "miter", "--thickness", "19mm", "--jig", "V sled")
    run(*SQUARE, "--jig", "sled")
    assert "jigs 2, runs 2" in run("log", "export", "all.zip").out
    assert run("log", "export", "all.zip").status == 2
    other = ("--logbook", tmp_path / "other")
    assert "2 jigs and 2 runs" in " ".join(run("log", "import", "all.zip", *other).out.split())
    assert run("log", "verify", *other).status == 0
    assert run("log", "recompute", 1, *other).status == 0
    assert run("log", "list", *other).out == run("log", "list").out
    assert "2 runs were there already" in " ".join(run("log", "import", "all.zip", *other).out.split())
    run("log", "export", "again.zip", *other)
    for name in ("logbook.json", "README.txt"):
        texts = [zipfile.ZipFile(tmp_path / file).read(name) for file in ("all.zip", "again.zip")]
        assert texts[0] == texts[1]


def test_a_recomputed_run_that_differs_says_what(run: Any, sled: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A run whose stored result is not what its inputs give is told value by value, figures first."""
    monkeypatch.setattr("cutvision.logbook.recording.__version__", "0.0.1")
    run(*SQUARE, "--jig", "sled")
    with opened(sled) as book:
        for (name,) in book.connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            book.connection.execute(f"DROP TRIGGER {name}")
        book.connection.execute("UPDATE run SET result = json_set(result, '$.fence_move.value', 9.5, '$.way', 'other')")
    done = run("log", "recompute", 1)
    assert done.status == 1
    assert "recorded by cutvision 0.0.1" in " ".join(done.out.split())
    lines = done.out.splitlines()
    assert next(line for line in lines if line.startswith("- ")).startswith("- fence_move.value: 9.5 was recorded, 0.0")
    assert "- way: 'other' was recorded, 'widths' now" in lines


@pytest.mark.parametrize(
    ("command", "option", "value"),
    [
        (("correct", "square"), "--drawing", "written.svg"),
        (("correct", "square"), "--jig", "sled"),
        (("target", "make"), "--out", "written.svg"),
        (("jig", "retire"), "PHOTO", "sled"),
    ],
)
def test_a_strangers_run_writes_nothing_when_computed_again(
    run: Any, sled: Path, command: tuple[str, ...], option: str, value: str
) -> None:
    """A run whose line was made up elsewhere is refused: no file is written, no run or jig touched."""
    assert run(*SQUARE, "--jig", "sled").status == 0
    with opened(sled) as book:
        known = book.run(1)
        inputs = replace(known.inputs, command=command, values=(*known.inputs.values, InputValue(option, value)))
        made_up = {field.name: getattr(known, field.name) for field in fields(NewRun)}
        book.record(NewRun(**{**made_up, "identity": str(uuid.uuid4()), "inputs": inputs}))
    done = run("log", "recompute", "2")
    assert done.status == 2
    assert "cannot be computed again" in done.err
    assert not (sled.parent / "written.svg").exists()
    with opened(sled) as book:
        assert len(book.runs()) == 2
        assert not book.jig("sled").retired


@pytest.mark.usefixtures("sled")
def test_a_jig_is_set_up_again_and_retired(run: Any) -> None:
    """A new version stands beside the old; a retired jig takes no run until back; --logbook names another book."""
    assert run("jig", "add", "sled.toml").status == 2
    assert "as version 2" in " ".join(run("jig", "add", "sled.toml", "--again").err.split())
    assert "retired" in run("jig", "retire", "sled").out
    refused = run(*SQUARE, "--jig", "sled")
    assert (refused.status, refused.out) == (2, "")
    assert "--back" in refused.err
    assert "in use" in run("jig", "retire", "sled", "--back").out
    assert run(*SQUARE, "--jig", "sled").status == 0
    assert "2 versions" in run("jig", "list").out
    assert run(*SQUARE, "--jig", "sled", "--logbook", "elsewhere").status == 2
    assert run("jig", "add", "sled.toml", "--logbook", "elsewhere").status == 0
    assert "Recorded as run 1" in run(*SQUARE, "--logbook", "elsewhere", "--jig", "sled").out


WRONG = {
    "unknown jig": ((*SQUARE, "--jig", "slde"), "has no jig 'slde'"),
    "other kind": ((*MITER, "--jig", "sled"), "square jig"),
    "nothing to keep it in": ((*SQUARE, "--fence-length", "560mm", "--humidity", "45 %"), "names no jig"),
    "file keeps nothing": ((*SQUARE, "--jig", "sled.toml", "--check-of", "1"), "names no jig"),
    "no day": ((*SQUARE, "--jig", "sled", "--date", "yesterday"), "is no day"),
    "day to come": ((*SQUARE, "--jig", "sled", "--date", "2999-01-01"), "has not come yet"),
    "day before all": ((*SQUARE, "--jig", "sled", "--date", "1000-01-01"), "long before any run"),
    "no such run": ((*SQUARE, "--jig", "sled", "--check-of", "9"), "has no run '9'"),
    "long note": ((*SQUARE, "--jig", "sled", "--note", "x" * 2000), "too long"),
    "escape": ((*SQUARE, "--jig", "sled", "--note", "\x1b[31m"), "cannot be shown"),
    "no move": (("log", "move", "1", "--set", "0mm"), "Nothing was set"),
    "no way": (("log", "move", "1", "--set", "1mm"), "not which way"),
    "no unit": (("log", "move", "1", "--set", "1", "--turn", "clockwise"), "without a unit"),
    "show nothing": (("log", "show", "1"), "has no run"),
    "trend of nothing": (("log", "trend", "sled"), "no trend"),
    "answers of nothing": (("log", "response", "sled"), "No move"),
    "strike for nothing": (("log", "strike", "1", "--why", ""), "has no run"),
    "jig like a file": (("jig", "add", "sled.toml", "--name", "a/b"), "take it for a file"),
    "jig without a name": (("jig", "new", "--kind", "miter"), "has no name"),
    "squared by nobody": (("jig", "add", "sled.toml", "--name", "x", "--squared-by", "y"), "has no jig 'y'"),
    "again but new": (("jig", "add", "sled.toml", "--name", "x", "--again"), "has no jig 'x'"),
    "import nothing": (("log", "import", "gone.zip"), "cannot be read"),
    "chart of nothing": (("log", "trend", "nobody", "--out", "x.svg"), "has no jig"),
}


@pytest.mark.parametrize("wrong", WRONG)
def test_what_is_wrong_is_refused_in_words(run: Any, sled: Path, wrong: str) -> None:
    """Each wrong line is refused with status 2 and what to do, and nothing is kept."""
    arguments, words = WRONG[wrong]
    done = run(*arguments)
    assert done.status == 2
    assert words in " ".join(done.err.split())
    assert "What to do" in done.err
    with opened(sled) as book:
        assert book.runs() == ()
        assert len(book.jigs()) == 2


@pytest.mark.usefixtures("sled")
def test_a_check_is_of_the_same_jig(run: Any) -> None:
    """A run of another jig cannot be checked by this one."""
    run(*SQUARE, "--jig", "sled")
    done = run(*MITER, "--jig", "V sled", "--check-of", "1")
    assert done.status == 2
    assert "run 1 is of the jig 'sled', not of 'V sled'" in " ".join(done.err.split())


def test_a_terminal_is_asked_for_a_name_that_will_do(run: Any, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No name, and one that --jig would take for a file, are asked for again; no other answer is lost by it."""
    stdin = io.StringIO("square\n\na/b\nOak sled\n560mm\n\nleft\n\n\n\n\n")
    monkeypatch.setattr(stdin, "isatty", lambda: True)
    monkeypatch.setattr("sys.stdin", stdin)
    done = run("jig", "new")
    assert done.status == 0
    assert "has no name" in done.err
    assert "take it for a file" in " ".join(done.err.split())
    with opened(folder) as book:
        assert 'kept = "left"' in book.jig("Oak sled").text


@pytest.mark.usefixtures("sled")
def test_a_move_that_was_not_advised_is_told_so(run: Any) -> None:
    """Where the run said to leave the fence alone, no way was advised that could have been the other one."""
    same = ("correct", "square", "--at-fence", "24.91mm", "--far-end", "24.90mm", "--between", "380mm")
    assert '"action": "leave"' in run(*same, "--jig", "sled", "--json").out
    told = run("log", "move", 1, "--set", "0.1mm", "--turn", "counterclockwise").out
    assert "The run advised to leave it alone." in " ".join(told.split())
    assert "other way" not in told


def test_there_is_no_book_yet(run: Any, folder: Path) -> None:
    """Before the first jig every command says how to begin, and makes nothing."""
    for words in (("list",), ("verify",), ("export", "x.zip"), ("show", 1)):
        done = run("log", *words)
        assert done.status == 2
        assert "jig new" in done.err
    assert not folder.exists()


def test_a_damaged_book_shows_the_rest(run: Any, sled: Path) -> None:
    """Of a book that was cut short, list shows what is left and says what to do; a new run is refused."""
    for _ in range(40):
        run(*SQUARE, "--jig", "sled", "--json")
    data = (sled / FILE).read_bytes()
    (sled / FILE).write_bytes(data[: len(data) * 5 // 8])
    listed = run("log", "list")
    assert listed.status == 0
    assert "Copy the whole folder somewhere safe" in " ".join(listed.err.split())
    assert 5 < sum(" sled " in line for line in listed.out.splitlines()) < 40
    assert run("log", "verify").status == 1
    assert run("log", "export", "rest.zip").status == 0
    assert run(*SQUARE, "--jig", "sled").status == 2


def test_a_shape_that_tells_no_fence_takes_no_lever(run: Any, sled: Path) -> None:
    """A corner is looked for though the sled's lever says nothing of one; this piece has none, and that is kept."""
    done = run("measure", SAMPLES / "miter-1.jpg", "--shape", "corner", "--jig", "sled", "--json")
    assert done.status == 3
    assert "Recorded as run 1 of 'sled'." in done.err
    with opened(sled) as book:
        assert book.run(1).headline.refused == "wrong-shape"
        assert "--fence-length" not in [value.option for value in book.run(1).inputs.values]


def test_a_calculation_is_shown_and_not_kept(run: Any, sled: Path) -> None:
    """--explain shows the calculation, keeps no run, and says so."""
    done = run(*SQUARE, "--jig", "sled", "--explain")
    assert done.status == 0
    assert "Not recorded" in done.err
    with opened(sled) as book:
        assert book.runs() == ()


@pytest.mark.parametrize(
    ("turn", "far_end", "wrong"), [("counterclockwise", "24.02mm", True), ("clockwise", "24.91mm", False)]
)
def test_a_move_the_wrong_way_is_told_as_soon_as_it_is_cut(
    run: Any, sled: Path, turn: str, far_end: str, *, wrong: bool
) -> None:
    """A strip 0.49 mm wider there asks for clockwise: set the other way, the next is twice that (closed form)."""
    cut = ("correct", "square", "--at-fence", "25.00mm", "--between", "400mm", "--jig", "sled")
    assert run(*cut, "--far-end", "24.51mm").status == 0
    assert run("log", "move", "1", "--set", "0.17mm", "--turn", turn).status == 0
    done = run(*cut, "--far-end", far_end, "--check-of", "1")
    assert ("The last move went the wrong way" in " ".join(done.out.split())) is wrong
    assert sled.is_dir()


@pytest.mark.usefixtures("sled")
def test_a_check_cut_and_the_logbook_give_one_number(run: Any) -> None:
    """Half of what was set came through: the check cut says so, and its move is the one that `log answers` gives."""
    legs = ("correct", "miter", "--left-leg", "101.62mm", "--jig", "V sled", "--tolerance", "0.02deg", "--right-leg")
    run(*legs, "101.05mm")
    run("log", "move", 1, "--set", "1.07mm", "--turn", "counterclockwise")
    told = json.loads(run(*legs, "101.35mm", "--check-of", 1, "--json").out)
    plain = json.loads(run(*legs, "101.35mm", "--no-record", "--json").out)
    answers = json.loads(run("log", "response", "V sled", "--json").out)
    assert told["fence_move"]["value"] == pytest.approx(answers["next_move"]["distance"]["value"], rel=1e-9)
    assert told["fence_move"]["value"] > 1.5 * plain["fence_move"]["value"]
    assert told["plan"]["pushes"][0]["distance"]["value"] == pytest.approx(told["fence_move"]["value"], rel=1e-9)
    assert "of what" in run("log", "show", 2).out + run(*legs, "101.35mm", "--check-of", 1).out
    assert "is the same" in run("log", "recompute", 2).out
