"""`--jig` and `cutvision jig`, from the outside."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import typer

from cutvision.cli.app import app
from cutvision.correction.jig_file import OPTION_KEYS, read_jig_file
from cutvision.files import LIMITS

Run = Callable[..., Any]
LEGS = ("correct", "miter", "--left-leg", "101.62mm", "--right-leg", "101.35mm")
OWN = ("--shims", "0.07mm,0.11mm", "--json")
FENCE = ("--fence-length", "380mm", "--kept", "left", "--read-to", "0.02mm", "--shim-set", "metric-13")
SLED = """kind = "miter"
fence-length = "380mm"
kept = "left"
tolerance = "0.01deg"
read-to = "0.02mm"
leaf-set = "metric-13"
"""


@pytest.fixture
def sled(tmp_path: Path) -> Path:
    """A miter jig's file."""
    path = tmp_path / "sled.toml"
    path.write_text(SLED, "utf-8")
    return path


def commands(command: Any = None) -> Iterator[Any]:
    """Every command that does something."""
    command = typer.main.get_command(app) if command is None else command
    if not hasattr(command, "list_commands"):
        yield command
        return
    for name in command.list_commands(None):
        yield from commands(command.get_command(None, name))


def options(command: Any) -> set[str]:
    """A command's options, without their dashes."""
    return {opt[2:] for parameter in command.params for opt in parameter.opts}


@pytest.mark.parametrize("key", [key for key in OPTION_KEYS if not key.startswith("sheet-read")])
def test_each_key_is_an_option(key: str) -> None:
    """A key fills an option of a command that takes a jig, and `jig new` writes it."""
    having = {command.name for command in commands() if {key, "jig"} <= options(command)}
    assert "new" in having
    assert having - {"new"}


def test_a_jig_fills_what_is_not_typed(run: Run, sled: Path) -> None:
    """Required and optional options alike; the answer is that of the same options typed."""
    typed = ("--fence-length", "380mm", "--kept", "left", "--tolerance", "0.01deg", "--read-to", "0.02mm")
    filled = run(*LEGS, "--jig", sled, "--json")
    assert filled.status == 0
    assert filled.out == run(*LEGS, *typed, "--shim-set", "metric-13", "--json").out


def test_a_typed_option_wins(run: Run, sled: Path) -> None:
    """Wherever it stands, before or after the jig, and against another way of saying the same."""
    told = json.loads(run(*LEGS, "--fence-length", "400mm", "--jig", sled, "--kept", "right", "--json").out)
    assert (told["fence_length"]["value"], told["kept"]) == (400.0, "right")
    own = run(*LEGS, "--jig", sled, *OWN)
    assert own.status == 0
    assert json.loads(own.out)["shims"] == json.loads(run(*LEGS, "--fence-length", "380mm", *OWN).out)["shims"]


def test_the_kind_is_filled_too(run: Run, sled: Path) -> None:
    """`plan` asks for the fence's kind, which the jig tells."""
    done = run("plan", "--jig", sled, "--tolerance", "0.1deg")
    assert done.status == 0
    assert "miter" in done.out


@pytest.mark.parametrize("tolerance", ["0.1mm/300mm", "gap:0.1mm/60mm"])
def test_a_tolerance_is_said_in_any_form(run: Run, sled: Path, tolerance: str) -> None:
    """Over a length, or as the gap of a joint: the file takes what the option takes."""
    sled.write_text(SLED.replace("0.01deg", tolerance), "utf-8")
    assert run(*LEGS, "--jig", sled, "--json").out == run(*LEGS, *FENCE, "--tolerance", tolerance, "--json").out
    assert tolerance in run("jig", "show", sled).out


def test_a_photo_takes_the_jig_too(run: Run, sled: Path) -> None:
    """`measure` takes the lever and leaves --read-to, which is the print's there: what it lacks is the photo."""
    done = run("measure", "missing.jpg", "--shape", "miter", "--jig", sled, "--json")
    assert (done.status, json.loads(done.out)["refusals"][0]["reason"]) == (3, "unreadable")
    assert "--read-to" not in done.err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("correct", "square", "--at-fence", "25mm", "--far-end", "25mm", "--between", "300mm"), "this command"),
        (("measure", "photo.jpg", "--shape", "strip"), "--shape strip"),
    ],
)
def test_a_jig_of_the_other_kind_is_refused(run: Run, sled: Path, arguments: tuple[str, ...], said: str) -> None:
    """A miter jig's lever is no square fence's."""
    done = run(*arguments, "--jig", sled)
    assert (done.status, done.out) == (2, "")
    assert said in done.err
    assert "miter jig" in done.err


@pytest.mark.parametrize("value", ["nope", "nope.toml", "./nope", ".", "./", "a" * 300, "\x1b[2J"])
def test_a_jig_that_is_not_there(run: Run, value: str) -> None:
    """What is no file is refused with what to give."""
    done = run(*LEGS, "--jig", value)
    assert done.status == 2
    assert re.search(r"Give the path of a jig's file|cutvision\s+jig\s+new\s+writes one", done.err)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b'kind = "miter"\nname = "\xff"\n', "line 2: the text is not UTF-8"),
        (b"#" * (LIMITS["jig"].most_bytes + 1), "100,001 bytes"),
        (b'kind = "miter"\nkept = 3\n', "line 2: kept is 3"),
    ],
)
def test_a_spoilt_file_is_refused(run: Run, tmp_path: Path, content: bytes, said: str) -> None:
    """Bytes that are no text, a huge file and a wrong line end in words and status 2."""
    path = tmp_path / "x.toml"
    path.write_bytes(content)
    done = run(*LEGS, "--jig", path)
    assert (done.status, done.out) == (2, "")
    assert said in " ".join(done.err.split())


def test_new_writes_what_was_typed(run: Run, tmp_path: Path) -> None:
    """All by options, as in a script; the file says the same and is never overwritten."""
    path = tmp_path / "new.toml"
    typed = (
        "--kind",
        "miter",
        "Sled",
        "--fence-length",
        "15in",
        "--most-shims",
        "2",
        "--shim-set",
        "inch-26",
    )
    made = ("--made-by", "Jo", "--made-on", "2026-01-02", "--note", "waxed")
    assert run("jig", "new", "--out", path, *typed, *made).status == 0
    jig = read_jig_file(path.read_text("utf-8"), "new.toml")
    assert dict(jig.options) == {"fence-length": "15in", "most-shims": "2", "shim-set": "inch-26"}
    assert (jig.name, jig.made_by, str(jig.made_on), jig.note) == ("Sled", "Jo", "2026-01-02", "waxed")
    again = run("jig", "new", "--out", path, "--kind", "square")
    assert again.status == 2
    assert "never overwritten" in again.err
    assert read_jig_file(path.read_text("utf-8"), "new.toml") == jig


@pytest.mark.parametrize("key", OPTION_KEYS)
def test_new_writes_each_key(run: Run, tmp_path: Path, key: str) -> None:
    """Every key's option puts that key, as typed, into the file."""
    path, example = tmp_path / "new.toml", OPTION_KEYS[key].example
    also = ("--shim-set", "inch-26") if key in {"most-shims", "shim-to"} else ()
    assert run("jig", "new", "--out", path, "--kind", "miter", f"--{key}", example, *also).status == 0
    assert read_jig_file(path.read_text("utf-8"), "x").options[key] == example


def test_new_copies_another(run: Run, tmp_path: Path, sled: Path) -> None:
    """With --jig the other's kind and options are taken over, typed ones in their place."""
    path = tmp_path / "copy.toml"
    assert run("jig", "new", "--out", path, "--jig", sled, "--kept", "right").status == 0
    copied = read_jig_file(path.read_text("utf-8"), "x")
    assert copied.options == {**read_jig_file(SLED, "x").options, "kept": "right"}
    assert copied.kind == "miter"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ((), "--kind miter or --kind square"),
        (("--kind", "square", "--turns", "3"), "--turns"),
        (("--kind", "miter", "--fence-length", "380"), "--fence-length"),
        (("--kind", "miter", "--shims", "0.1mm", "--shim-set", "metric-13"), "--shim-set"),
        (("--kind", "miter", "--made-on", "spring"), "--made-on"),
        (("--kind", "miter", "a\x1bb"), "name"),
    ],
)
def test_new_refuses_what_a_file_would(run: Run, tmp_path: Path, typed: tuple[str, ...], said: str) -> None:
    """A wrong value is refused in the option's name and no file is left."""
    done = run("jig", "new", "--out", tmp_path / "new.toml", *typed)
    assert done.status == 2
    assert said in done.err
    assert not list(tmp_path.iterdir())


def test_a_terminal_is_asked(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each question once more after an answer that makes no sense; an empty one leaves a thing unsaid."""
    stdin = io.StringIO("mter\nmiter\nSled\n380\n380mm\n\nleft\n\n3min\n\n\n")
    monkeypatch.setattr(stdin, "isatty", lambda: True)
    monkeypatch.setattr("sys.stdin", stdin)
    path = tmp_path / "asked.toml"
    done = run("jig", "new", "--out", path)
    assert done.status == 0
    assert "unplug" in done.err
    assert "without a unit" in done.err
    jig = read_jig_file(path.read_text("utf-8"), "x")
    assert (jig.kind, jig.name) == ("miter", "Sled")
    assert jig.options == {"fence-length": "380mm", "kept": "left", "tolerance": "3min"}


def test_show_tells_in_both_units(run: Run, sled: Path) -> None:
    """Each key in words, lengths in mm and in, angles in deg and minutes, what is left open, at most 80 columns."""
    done = run("jig", "show", sled)
    assert done.status == 0
    assert "380 mm (14.96 in)" in done.out
    assert "0.01 deg (0.6')" in done.out
    assert "--nominal" in done.out
    assert max(map(len, done.out.splitlines())) <= max(80, len(str(sled)) + 10)
    told = json.loads(run("jig", "show", sled, "--json").out)
    assert (told["schema"], told["kind"], told["options"]["kept"]) == ("cutvision/jig/1", "miter", "left")


def test_a_strangers_file_moves_no_terminal(run: Callable[..., Any], tmp_path: Path) -> None:
    """What a refusal quotes of a file holds no sign that a terminal would obey."""
    jig = tmp_path / "sled.toml"
    jig.write_text('kind = "miter"\n"\\u001b[2J\\u202e" = 1\n', encoding="utf-8")
    done = run("jig", "show", jig)
    assert (done.status, done.out) == (2, "")
    assert "?[2J? is no key of a jig file" in " ".join(done.err.split())


def test_a_jig_whose_fence_cannot_be_is_not_written(run: Callable[..., Any], tmp_path: Path) -> None:
    """A V cuts miters only; a lever that no fence has is refused; no file is left."""
    out = tmp_path / "sled.toml"
    done = run("jig", "new", "--out", out, "--kind", "square", "--fence", "v-foot")
    assert (done.status, out.exists()) == (2, False)
    assert "--fence: A V fence makes miters" in done.err
    assert run("jig", "new", "--out", out, "--kind", "miter", "--fence-length", "1mm").status == 2
    assert not out.exists()
