"""What a person meets who has never used the program, or who mistypes."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]
SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"
MITER = ("correct", "miter", "--left-leg", "101.62mm", "--right-leg", "101.05mm")
FENCE = ("--kept", "left", "--fence-length", "380mm")


@pytest.fixture
def jig(run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    """The command line beside a logbook with one jig, 'sled'."""
    monkeypatch.setenv("CUTVISION_LOGBOOK", str(tmp_path / "book"))
    monkeypatch.chdir(tmp_path)
    made = run("jig", "new", "sled", "--kind", "miter", "--fence", "v-foot", "--thickness", "19mm", *FENCE)
    assert made.status == 0
    return run


def test_a_recorded_photo_shows_the_drawing_on_one_screen(jig: Run) -> None:
    """With a jig the whole answer, drawing, place in the logbook and cautions fit 24 lines of 80 columns."""
    photos = (SAMPLES / "miter-1.jpg", SAMPLES / "miter-2-turned.jpg")
    lines = jig("measure", *photos, "--jig", "sled").out.splitlines()
    assert any("| blade" in line for line in lines)
    assert any(line.startswith("Recorded as run 1 of 'sled'. --more: ") for line in lines)
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80


def test_more_says_too_where_it_is_recorded(jig: Run) -> None:
    """Everything includes the run's number."""
    assert "Recorded as run 1 of 'sled'." in jig(*MITER, "--jig", "sled", "--more").out


def test_what_is_no_picture_becomes_no_run(jig: Run, tmp_path: Path) -> None:
    """A name mistyped as that of another file leaves nothing in the logbook."""
    (tmp_path / "notes.txt").write_text("buy glue")
    done = jig("measure", "notes.txt", "--jig", "sled")
    assert done.status == 3
    assert "Not recorded" in done.err
    assert "no such run yet" in jig("log", "list").out


def test_a_move_that_nobody_made_is_refused(jig: Run) -> None:
    """A slip of the unit would stand in the way of every later answer of the jig, as nothing is overwritten."""
    jig(*MITER, "--jig", "sled")
    done = jig("log", "move", "1", "--set", "5m", "--turn", "clockwise")
    assert (done.status, "would turn the fence by 85.7 deg" in done.err) == (2, True)
    early = jig("log", "move", "1", "--set", "1mm", "--turn", "clockwise", "--date", "2020-01-01")
    assert (early.status, "was cut on" in early.err) == (2, True)
    assert jig("log", "move", "1", "--set", "1mm", "--turn", "counterclockwise").status == 0
    assert jig(*MITER, "--jig", "sled", "--check-of", "1").status == 0


def test_the_move_that_was_advised_is_the_move_that_is_kept(jig: Run) -> None:
    """Whoever sets each foot of a V held at its point by the shim that was named has turned it by the whole error."""
    jig("jig", "new", "point", "--kind", "miter", "--fence", "v-point", *FENCE)
    assert "put a shim of 0.53 " in " ".join(jig(*MITER, "--jig", "point").out.split())
    jig("log", "move", "1", "--set", "0.53mm", "--turn", "counterclockwise")
    true = ("correct", "miter", "--left-leg", "101.62mm", "--right-leg", "101.62mm")
    assert "of what was set: all of it" in " ".join(jig(*true, "--jig", "point", "--check-of", "1").out.split())
    assert "of what was set: all of it" in " ".join(jig("log", "response", "point").out.split())


@pytest.mark.parametrize(
    ("arguments", "advice"),
    [
        (("measure", SAMPLES / "miter-1.jpg"), "Give --shape miter, strip, corner or board."),
        (("measure", "--shape", "miter"), "Give the name of at least one photo file."),
        (("print", "card", "miter", "--fence-length", "380mm", "--out", "x.pdf"), "Give --piece-width 19mm."),
    ],
)
def test_what_is_missing_is_named_with_what_to_type(run: Run, arguments: tuple[object, ...], advice: str) -> None:
    """An option that is missing is named with its values or an example."""
    done = run(*arguments)
    assert done.status == 2
    assert advice in done.err


@pytest.mark.parametrize(
    ("left", "right", "kept", "nominal", "other"),
    [
        ("100mm", "41.4mm", "left", "45deg", "22.5deg"),
        ("57.8mm", "100mm", "right", "45deg", "30deg"),
        ("101.62mm", "101.05mm", "left", "22.5deg", "45deg"),
    ],
)
def test_a_piece_of_another_miter_is_noticed(
    run: Run, left: str, right: str, kept: str, nominal: str, other: str
) -> None:
    """Legs that fit another frame's miter than was said name that one (closed form: the fence leg is cut / tan)."""
    legs = ("--left-leg", left, "--right-leg", right, "--kept", kept, "--nominal", nominal)
    done = run("correct", "miter", *legs, "--fence-length", "380mm")
    assert (done.status, f"give --nominal {other}." in " ".join(done.err.split())) == (2, True)


def test_a_misread_leg_suggests_no_miter(run: Run) -> None:
    """A digit misread by 10 mm fits no other miter."""
    legs = ("--left-leg", "110.62mm", "--right-leg", "101.05mm")
    done = run("correct", "miter", *legs, *FENCE)
    assert (done.status, "--nominal 4" in done.err) == (2, False)


@pytest.mark.parametrize("way", ["miter", "square", "arms"])
def test_how_draws_the_piece_as_it_is_read(run: Run, way: str) -> None:
    """The piece stands above the words, no wider than a terminal."""
    lines = run("correct", way, "--how").out.splitlines()
    assert any("fence end" in line or "corner, away from you" in line or "spacing" in line for line in lines[:6])
    assert max(map(len, lines)) <= 80


def test_how_and_json_are_not_both_shown(run: Run) -> None:
    """Whoever asks for JSON gets JSON or a refusal, never a text."""
    done = run("correct", "miter", "--how", "--json")
    assert (done.status, done.out) == (2, "")


def test_a_wide_limit_is_written_without_an_exponent(run: Run) -> None:
    """One degree is 210 thou over a foot, not 2.1e+02."""
    assert "(210 thou over a foot)" in run(*MITER, *FENCE, "--tolerance", "1deg").out


def test_a_limit_of_a_joint_has_two_figures(run: Run) -> None:
    """0.1 mm at a joint of 60 mm stock: 0.034 deg, not 0.033805 deg."""
    said = " ".join(run("joint", "--error", "0.1deg", "--sides", "4", "--stock", "60mm").out.split())
    assert "An error of at most 0.034 deg in each cut" in said


def test_picture_and_drawing_take_two_names(run: Run, tmp_path: Path) -> None:
    """One file named for both is refused before anything is written."""
    file = tmp_path / "both.png"
    photo = SAMPLES / "miter-1.jpg"
    done = run("measure", photo, "--shape", "miter", *FENCE, "--picture", file, "--drawing", file)
    assert (done.status, file.exists()) == (2, False)


def test_leaving_photos_belongs_to_photos(run: Run) -> None:
    """`correct` has no photos to leave, and `measure` leaves none where nothing is recorded."""
    assert "No such option" in run(*MITER, *FENCE, "--leave-photos").err
    done = run("measure", SAMPLES / "miter-1.jpg", "--shape", "miter", "--leave-photos")
    assert (done.status, "--leave-photos would be kept in the logbook" in done.err) == (2, True)


def test_a_word_said_twice_gets_no_advice_for_readings(run: Run) -> None:
    """Left and right are no repeated readings."""
    done = run(*MITER, *FENCE, "--kept", "right")
    assert (done.status, "commas" in done.err) == (2, False)


def command(*words: str) -> list[str]:
    """The program in a process of its own."""
    return [sys.executable, "-m", "cutvision", *words]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_help_on_a_full_disk_is_no_fault() -> None:
    """Where nothing can be written the exit status is 2, and the words name the disk, not the program."""
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(command("--help"), check=False, stdout=full, stderr=subprocess.PIPE, text=True)
    assert (done.returncode, "fault in cutvision" in done.stderr) == (2, False)
    assert "No space left" in done.stderr


def test_a_reader_that_goes_away_leaves_no_trace() -> None:
    """An answer that nobody reads to its end gives no trace, and exit status 2."""
    words = command("correct", "instruments")
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        said = process.stderr.read()
    assert (process.returncode, said) == (2, "")


@pytest.mark.skipif(sys.platform == "win32", reason="a folder in use cannot be removed there")
def test_a_folder_that_is_gone_is_no_fault(tmp_path: Path) -> None:
    """Whoever stands in a folder that was removed is told so."""
    (tmp_path / "gone").mkdir()
    words = repr(["cutvision", *MITER, *FENCE, "--drawing", "d.png"])
    script = f"import os, sys; os.rmdir(os.getcwd()); sys.argv = {words}; from cutvision.cli import main; main()"
    there = tmp_path / "gone"
    done = subprocess.run([sys.executable, "-c", script], check=False, cwd=there, capture_output=True, text=True)
    assert (done.returncode, "fault in cutvision" in done.stderr) == (2, False)
