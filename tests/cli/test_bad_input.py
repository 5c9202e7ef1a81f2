"""Whatever a person types or hands over, the program ends with words and the right exit status, never a traceback."""

from __future__ import annotations

import io
import json
import os
import re
import shlex
import shutil
import struct
import subprocess
import sys
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from cutvision.cli import output
from cutvision.jobs import measure as measure_job

ROOT = Path(__file__).parents[2]
SAMPLE = ROOT / "sample_images" / "miter-1.jpg"
MEASURED, WRONG, REFUSED, FAULT = 0, 2, 3, 1


def truncated() -> bytes:
    """The first half of a real photo."""
    whole = SAMPLE.read_bytes()
    return whole[: len(whole) // 2]


def animated_gif() -> bytes:
    """Two frames of 300 x 300."""
    out = io.BytesIO()
    Image.new("L", (300, 300)).save(
        out, "GIF", save_all=True, append_images=[Image.new("L", (300, 300), 255)], duration=99
    )
    return out.getvalue()


def one_pixel() -> bytes:
    """A whole and sound PNG of one pixel."""
    out = io.BytesIO()
    Image.new("RGB", (1, 1)).save(out, "PNG")
    return out.getvalue()


def huge_claim() -> bytes:
    """A PNG whose header says 30000 x 30000. Source: W3C PNG, chunks IHDR and IDAT."""
    header = struct.pack(">IIBBBBB", 30000, 30000, 8, 2, 0, 0, 0)
    chunks = ((b"IHDR", header), (b"IDAT", zlib.compress(b"")))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body)) for name, body in chunks
    )


def empty_scene() -> bytes:
    """A photo of nothing: grey all over."""
    out = io.BytesIO()
    Image.new("RGB", (1600, 1200), (128, 128, 128)).save(out, "JPEG")
    return out.getvalue()


BAD_FILES = {
    "empty.jpg": (lambda: b"", "unreadable", "empty"),
    "text.jpg": (lambda: b"Dear diary, today I cut a miter.", "unreadable", "not a picture"),
    "half.jpg": (truncated, "unreadable", "cut short"),
    "moving.gif": (animated_gif, "unreadable", "GIF"),
    "dot.png": (one_pixel, "no-target", "1 x 1"),
    "huge.png": (huge_claim, "unreadable", "million pixels"),
    "photo of my bench früh.jpg": (lambda: b"?", "unreadable", "not a picture"),
    "grey.jpg": (empty_scene, "no-target", ""),
}


@pytest.mark.parametrize("name", BAD_FILES)
@pytest.mark.parametrize("options", [[], ["--json"]], ids=["text", "json"])
def test_a_bad_file_is_refused_in_words(run: Callable, tmp_path: Path, name: str, options: list[str]) -> None:
    """Exit status 3; the file, what was seen and what to do on standard error; with --json one object and no more."""
    make, reason, word = BAD_FILES[name]
    path = tmp_path / name
    path.write_bytes(make())
    done = run("measure", path, "--shape", "miter", *options)
    assert done.status == REFUSED
    flat = " ".join(done.err.split())
    assert name.rsplit(maxsplit=1)[-1] in flat
    assert word in flat
    if not options:
        assert done.out == ""
        return
    said = json.loads(done.out)
    assert said["schema"] == "cutvision/refusal/1"
    (refusal,) = said["refusals"]
    assert (refusal["file"], refusal["reason"]) == (str(path), reason)
    assert word in refusal["message"]
    assert refusal["remedy"]


def test_a_path_that_leads_to_no_photo_is_refused(
    run: Callable, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder, a missing file and one that may not be read are refused as unreadable, each in its own words."""
    for path, word in ((tmp_path, "folder"), (tmp_path / "nowhere.jpg", "no file of this name")):
        done = run("measure", path, "--shape", "miter", "--json")
        assert done.status == REFUSED
        (refusal,) = json.loads(done.out)["refusals"]
        assert refusal["reason"] == "unreadable"
        assert word in refusal["message"]

    def forbidden(*_: object) -> int:
        raise PermissionError(13, "Permission denied")

    with monkeypatch.context() as patched:
        patched.setattr(os, "open", forbidden)  # a test run by root may read anything
        done = run("measure", SAMPLE, "--shape", "miter")
    assert done.status == REFUSED
    assert "not allowed" in " ".join(done.err.split())


def test_no_picture_is_written_over_a_photo(run: Callable, tmp_path: Path) -> None:
    """A picture named as the photo, or whose numbered name is another photo's, leaves every photo as it was."""
    photos = [tmp_path / "miter-1.jpg", tmp_path / "miter-2.jpg"]
    for photo in photos:
        shutil.copy(SAMPLE, photo)
    before = [photo.read_bytes() for photo in photos]
    for named, picture in ((photos, tmp_path / "miter.jpg"), (photos[:1], photos[0])):
        done = run("measure", *named, "--shape", "miter", "--picture", picture)
        assert (done.status, done.out) == (2, "")
        assert "is read by this command" in " ".join(done.err.split())
    assert [photo.read_bytes() for photo in photos] == before


@pytest.mark.parametrize("ending", ["svg", "png", "pdf"])
def test_what_another_made_is_written_over_with_force_alone(run: Callable, tmp_path: Path, ending: str) -> None:
    """A sheet is not written over a file of another's, nor over a drawing of ours, but with --force; a sheet it is."""
    out = tmp_path / f"sheet.{ending}"
    line = ("target", "make", "--paper", "a4", "--dpi", "50", "--out", out)
    drawing = ("correct", "square", "--how", "--how-drawing", out)
    out.write_bytes(b"mine")
    for _ in range(2):
        before = out.read_bytes()
        refused = run(*line)
        assert (refused.status, refused.out) == (2, "")
        assert "--force" in refused.err
        assert out.read_bytes() == before
        assert run(*line, "--force").status == 0
        assert run(*line).status == 0
        assert run(*drawing, "--force").status == 0


def test_a_camera_file_without_an_end_is_refused(run: Callable) -> None:
    """A device in a file's place is not read to memory's end."""
    done = run("measure", SAMPLE, "--shape", "miter", "--camera", "/dev/zero")
    assert done.status == 2
    assert "a pipe or a device" in " ".join(done.err.split())


def test_one_bad_photo_among_good_ones_is_named(run: Callable, tmp_path: Path) -> None:
    """One good and two bad together: every bad one is told, and which one can be measured by itself."""
    text, missing = tmp_path / "text.jpg", tmp_path / "missing.jpg"
    text.write_bytes(b"text")
    done = run("measure", SAMPLE, text, missing, "--shape", "miter", "--json")
    assert done.status == REFUSED
    assert [refusal["file"] for refusal in json.loads(done.out)["refusals"]] == [str(text), str(missing)]
    assert f"can be measured without the others: {SAMPLE}" in " ".join(done.err.split())


def test_a_photo_given_twice_is_no_second_opinion(run: Callable, tmp_path: Path) -> None:
    """The same bytes under two names are refused as a wrong argument: they would narrow the bound for nothing."""
    twin = tmp_path / "twin.jpg"
    twin.write_bytes(SAMPLE.read_bytes())
    done = run("measure", SAMPLE, twin, "--shape", "miter")
    assert done.status == WRONG
    assert "the same photo" in done.err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "--shape"),
        (["--shape", "round"], "--shape"),
        (["--shape", "miter", "--thickness", "19"], "--thickness"),
        (["--shape", "miter", "--thickness", "-3mm"], "--thickness"),
        (["--shape", "miter", "--thickness", "thick"], "--thickness"),
        (["--shape", "miter", "--nominal", "45"], "--nominal"),
        (["--shape", "miter", "--read-to", "0.2mm"], "--read-to"),
        (["--shape", "miter", "--long-side", "25mm"], "long side"),
        (["--shape", "miter", "--camera", "nowhere.json"], "nowhere.json"),
        (["--shape", "miter", "--camera", str(SAMPLE)], "miter-1.jpg"),
        (["--shape", "miter", "--fence-length", "380"], "--fence-length"),
        (["--shape", "miter", "--kept", "middle", "--fence-length", "380mm"], "--kept"),
        (["--shape", "miter", "--picture", "answer.txt"], "answer.txt"),
        (["--shape", "miter", "--no-such-option"], "--no-such-option"),
    ],
    ids=lambda value: " ".join(value[-2:]) if isinstance(value, list) else "",
)
def test_a_wrong_option_is_told_by_name(run: Callable, arguments: list[str], words: str) -> None:
    """Exit status 2, the option or value by its name, nothing on standard output."""
    done = run("measure", SAMPLE, *arguments)
    assert done.status == WRONG
    assert words in " ".join(done.err.split())
    assert done.out == ""


def test_no_photo_is_a_wrong_argument(run: Callable) -> None:
    """`measure` without a photo says so with exit status 2."""
    done = run("measure", "--shape", "miter")
    assert done.status == WRONG
    assert "PHOTO" in done.err


def test_a_fault_of_the_program_is_one_plain_line(run: Callable, monkeypatch: pytest.MonkeyPatch) -> None:
    """An unexpected exception ends with exit status 1, one line, and how to see more; --debug shows the trace."""

    def broken(*_: object) -> None:
        message = "no such number"
        raise ZeroDivisionError(message)

    monkeypatch.setattr(measure_job, "measure_photos", broken)
    done = run("measure", SAMPLE, "--shape", "miter")
    assert done.status == FAULT
    assert "fault in cutvision" in done.err
    assert "--debug" in done.err


def test_debug_shows_the_trace() -> None:
    """With --debug anywhere in the line the trace of a refusal is shown too."""
    done = program("measure", "nowhere.jpg", "--shape", "round", "--debug")
    assert done.returncode == WRONG
    done = program("measure", "nowhere.jpg", "--shape", "miter", "--thickness", "3", "--debug")
    assert done.returncode == WRONG
    assert b"Traceback" in done.stderr


def program(*arguments: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """Run the command line in a process of its own."""
    code = f"import sys; sys.argv = ['cutvision', *{list(arguments)!r}]; from cutvision.cli import main; main()"
    return subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        check=False,
        timeout=60,
        cwd=ROOT,
        env={**os.environ, **environment},
    )


def test_a_name_that_the_terminal_cannot_write_breaks_nothing() -> None:
    """A file name outside ASCII is told in UTF-8 even where the terminal says ASCII."""
    done = program("measure", "früh 45°.jpg", "--shape", "miter", PYTHONIOENCODING="ascii", LC_ALL="C")
    assert done.returncode == REFUSED
    assert "früh 45°.jpg" in done.stderr.decode("utf-8")
    assert b"Traceback" not in done.stderr


def test_output_is_plain() -> None:
    """No colour or cursor codes anywhere: NO_COLOR and TERM=dumb need no special case."""
    for environment in ({}, {"NO_COLOR": "1"}, {"TERM": "dumb"}, {"FORCE_COLOR": "1"}):
        for words in (["--help"], ["measure", "--help"], ["measure"], ["measure", "x.jpg", "--shape", "round"]):
            done = program(*words, **environment)
            assert b"\x1b" not in done.stdout + done.stderr


def test_a_reader_that_stops_listening_is_no_fault() -> None:
    """A closed pipe, as left by `| head -1`, ends the program without a word."""
    code = "import sys; sys.argv = ['cutvision', 'measure', '--help']; from cutvision.cli import main; main()"
    command = shlex.join([sys.executable, "-c", code])
    done = subprocess.run(
        ["/bin/sh", "-c", f"{command} | true"], capture_output=True, text=True, check=False, timeout=60, cwd=ROOT
    )
    assert done.stderr == ""


def test_progress_speaks_only_when_it_takes_long(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A step is named on standard error only once a second has gone by, and only where a person watches."""
    clock = [0.0]
    monkeypatch.setattr(output.time, "monotonic", lambda: clock[0])
    asked, unasked = output.Progress(wanted=True), output.Progress()
    asked("reading")
    clock[0] = 1.5
    asked("fitting")
    unasked("fitting")
    assert capsys.readouterr() == ("", "... fitting\n")


START = "from cutvision.cli import main; main()"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no device that is always full")
@pytest.mark.parametrize("form", [[], ["--json"]])
def test_an_answer_that_cannot_be_written_is_told(form: list[str]) -> None:
    """A full disk behind standard output is a wrong place for the answer, not a fault of the program."""
    legs = ["correct", "miter", "--left-leg", "4in", "--right-leg", "3.99in", "--fence-length", "15in"]
    command = [sys.executable, "-c", START, *legs, *form]
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, check=False, cwd=ROOT)
    assert done.returncode == WRONG
    assert "could not be written" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.skipif(os.name != "posix", reason="a POSIX shell closes the stream")
def test_a_closed_standard_error_changes_no_exit_status(tmp_path: Path) -> None:
    """A refused photo stays refused where nobody can be told why."""
    (tmp_path / "empty.jpg").touch()
    command = shlex.join([sys.executable, "-c", START, "measure", str(tmp_path / "empty.jpg"), "--shape", "miter"])
    done = subprocess.run(["/bin/sh", "-c", f"{command} 2>&-"], check=False, timeout=60, cwd=ROOT)
    assert done.returncode == REFUSED


def test_the_first_help_says_where_to_begin(run: Callable[..., Any]) -> None:
    """Each command named there exists and has a help of its own."""
    told = run("--help").out.partition("To begin:")[2]
    commands = re.findall(r"`cutvision ([^`]*)`", " ".join(told.split()))
    assert len(commands) == 4
    for command in commands:
        assert run(*command.split(), "--help").status == 0
