"""What the README and DEVELOPERS.md promise is what the program has."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import typer

from cutvision.cli.app import app
from cutvision.errors import REFUSALS

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text("utf-8")


def commands(command: Any = None, path: tuple[str, ...] = ()) -> Iterator[tuple[str, Any]]:
    """Every command that does something, by its words."""
    command = typer.main.get_command(app) if command is None else command
    inner = getattr(command, "commands", None)
    if inner is None:
        yield " ".join(path), command
        return
    for name, sub in inner.items():
        yield from commands(sub, (*path, name))


COMMANDS = dict(commands())


@pytest.mark.parametrize("words", COMMANDS)
def test_every_command_and_option_has_help(words: str) -> None:
    """Each command says what it does, and each of its arguments and options too."""
    command = COMMANDS[words]
    assert command.help
    silent = [parameter.name for parameter in command.params if not getattr(parameter, "help", None)]
    assert silent == []


@pytest.mark.parametrize("words", COMMANDS)
def test_every_command_stands_in_the_readme(words: str) -> None:
    """A person who reads the README meets every command."""
    assert f"cutvision {words}" in README


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
