"""What the README and DEVELOPERS.md promise is what the program has."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import typer

from cutvision.cli.app import app, main
from cutvision.errors import REFUSALS
from cutvision.reports.cautions import TOPICS, cautions

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text("utf-8")


def commands(command: Any = None, path: tuple[str, ...] = ()) -> Iterator[tuple[str, Any]]:
    """Every command that does something, by its words."""
    command = typer.main.get_command(app) if command is None else command
    if not hasattr(command, "list_commands"):
        yield " ".join(path), command
        return
    for name in command.list_commands(None):
        yield from commands(command.get_command(None, name), (*path, name))


COMMANDS = dict(commands())
AT_THE_SAW = [words for words in COMMANDS if words.split()[0] in {"measure", "correct", "compare", "plan"}]


def test_a_dozen_doors() -> None:
    """A person meets about a dozen commands at the first level."""
    assert len({words.split()[0] for words in COMMANDS}) <= 13


@pytest.mark.parametrize("words", COMMANDS)
def test_every_command_and_option_has_help(words: str) -> None:
    """Each command says what it does, and each of its arguments and options too."""
    command = COMMANDS[words]
    assert command.help
    silent = [parameter.name for parameter in command.params if not getattr(parameter, "help", None)]
    assert silent == []


@pytest.mark.parametrize("words", [words for words in AT_THE_SAW if words != "correct instruments"])
def test_help_that_leads_to_the_saw_carries_cautions(words: str) -> None:
    """Below the options stands at least that the saw is off and unplugged."""
    assert "unplug" in (COMMANDS[words].epilog or "")


def test_the_short_help_shows_what_matters() -> None:
    """At most nine options in the short help of a command with many."""
    for command in COMMANDS.values():
        assert len(getattr(command, "shown_first", ())) <= 9


def test_the_readme_carries_every_caution() -> None:
    """Word for word, as the program says them."""
    flat = " ".join(README.split())
    assert all(text in flat for text in cautions(*TOPICS))


def test_the_readmes_python_runs(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """The worked example for people who write Python, from the project's folder."""
    (code,) = re.findall(r"```python\n(.*?)```", README, re.DOTALL)
    monkeypatch.chdir(ROOT)
    exec(compile(code, "README.md", "exec"), {})  # noqa: S102  the README's own lines
    measured, correction, by_caliper = capsys.readouterr().out.splitlines()
    assert float(measured.split()[0]) == pytest.approx(45.483, abs=float(measured.split()[1]))
    assert correction.split()[:2] == ["move", "counterclockwise"]
    # 380 mm x tan(atan(101.62 / 101.05) - 45 deg), closed form
    assert float(by_caliper.split()[0]) == pytest.approx(1.0687324, abs=1e-6)


def test_the_readmes_answer_is_what_the_first_command_prints(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The answer shown is the program's, but for the last figures, which another OpenCV may round otherwise."""
    line = next(line for line in README.splitlines() if line.startswith("python3 -m venv") and "measure" in line)
    words = line.partition("cutvision measure ")[2].partition(" --picture")[0].split()
    monkeypatch.chdir(ROOT)
    monkeypatch.setattr(sys, "argv", ["cutvision", "measure", *words])
    with pytest.raises(SystemExit):
        main()
    printed = capsys.readouterr().out
    (shown,) = (block for block in re.findall(r"```\n(.*?)```", README, re.DOTALL) if block.startswith("Seen from"))
    number = re.compile(r"\d+(?:\.\d+)?")
    assert number.sub("0", printed).split() == number.sub("0", shown).split()
    for was, now in zip(number.findall(shown), number.findall(printed), strict=True):
        assert float(now) == pytest.approx(float(was), rel=0.05, abs=0.003)


def test_the_readme_tells_every_refusal() -> None:
    """The README's table of refusals is the registry, row by row, in its words."""
    rows = re.findall(r"^\| `([a-z-]+)` \| (.+?) \| (.+?) \|$", README, re.MULTILINE)
    assert rows == [(entry.name, entry.shows, entry.remedy) for entry in REFUSALS.values()]


def test_the_two_commands_are_one_line_each() -> None:
    """Both make an environment; the first measures a sample photo that is there, the second runs the tests."""
    lines = re.findall(r"^python3 -m venv .+$", README, re.MULTILINE)
    assert len(lines) == 2
    first, second = lines
    assert "cutvision measure sample_images/" in first
    assert second.endswith("-m pytest")
    for photo in re.findall(r"sample_images/\S+", first):
        assert (ROOT / photo).is_file()


def test_every_file_named_in_the_documents_is_there() -> None:
    """Links and pictures in the documents lead to files of the project."""
    for document in ("README.md", "DEVELOPERS.md", "CHANGELOG.md"):
        for target in re.findall(r"\]\((?!https?://|#)([^)#]+)", (ROOT / document).read_text("utf-8")):
            assert (ROOT / target).exists(), f"{document}: {target}"


def test_the_changelog_keeps_its_numbers() -> None:
    """The changelog tells every change that moves a value or its bound under a heading of its own."""
    assert re.search(r"^### Numbers$", (ROOT / "CHANGELOG.md").read_text("utf-8"), re.MULTILINE)


def test_no_private_path_is_left_in_the_project() -> None:
    """Nothing points at a folder of the machine it was written on."""
    private = re.compile(r"/(?:work|root|tmp)/")
    for path in (*ROOT.glob("*.md"), ROOT / "pyproject.toml", *(ROOT / "cutvision").rglob("*.py")):
        assert not private.search(path.read_text("utf-8")), path
