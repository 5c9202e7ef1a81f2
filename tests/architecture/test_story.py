"""The story in docs/ is what the commands print now."""

from __future__ import annotations

import contextlib
import importlib.util
import io
import re
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from cutvision import cli

DOCS = Path(__file__).parents[2] / "docs"
NUMBER = re.compile(r"\d+(?:\.(\d+))?")
VERSION = re.compile(r"\d+\.\d+\.\d+")
REMAKE = "run python docs/remake_story.py, and read what has changed"


@pytest.fixture(scope="module")
def remake() -> Any:
    """The script that makes the page."""
    spec = importlib.util.spec_from_file_location("remake_story", DOCS / "remake_story.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # its dataclasses look their annotations up there
    spec.loader.exec_module(module)
    return module


def run_here(words: Sequence[str], folder: Path) -> str:
    """Run a line of the page in this process, as the script does in one of its own."""
    if words[0] != "cutvision":
        return subprocess.run(
            [sys.executable, *words[1:]], cwd=folder, capture_output=True, text=True, timeout=60, check=True
        ).stdout
    told = io.StringIO()
    with pytest.MonkeyPatch.context() as patch, contextlib.redirect_stdout(told), contextlib.redirect_stderr(told):
        patch.chdir(folder)
        patch.setenv("CUTVISION_LOGBOOK", "logbook")
        patch.setattr(sys, "argv", list(words))
        with pytest.raises(SystemExit) as left:
            cli.main()
    assert not left.value.code, told.getvalue()
    return told.getvalue()


def numbers(text: str) -> list[tuple[float, float]]:
    """Each number with one unit of its last figure."""
    return [(float(found[0]), 10.0 ** -len(found[1] or "")) for found in NUMBER.finditer(text)]


def test_the_story_is_what_the_commands_print(remake: Any, tmp_path: Path) -> None:
    """Its words are the same, its figures to two of their last digit: another OpenCV may round a photo otherwise."""
    page = VERSION.sub("VERSION", remake.PAGE.read_text("utf-8"))
    now = VERSION.sub("VERSION", remake.story(tmp_path, run_here))
    assert NUMBER.sub("0", now).split() == NUMBER.sub("0", page).split(), REMAKE
    for (was, unit), (value, _) in zip(numbers(page), numbers(now), strict=True):
        assert value == pytest.approx(was, rel=0, abs=2.1 * unit if unit < 1 else 0), REMAKE


def test_every_picture_of_the_story_is_there(remake: Any) -> None:
    """The page's pictures lie in docs/pictures, and none lies there that it does not show."""
    shown = set(re.findall(r"\]\(pictures/([^)]+)\)", remake.PAGE.read_text("utf-8")))
    assert shown == {path.name for path in remake.PICTURES.iterdir()}


def test_a_left_out_part_is_marked_and_a_lost_one_is_an_error(remake: Any) -> None:
    """Blocks that are not kept become "..."; a beginning that no line has any more stops the script."""
    output = "First.\nmore\n\nSecond.\n\nThird.\nRecorded as run 1."
    assert remake.shown(output, ("First", "Recorded")) == "First.\nmore\n...\nRecorded as run 1."
    assert remake.shown(output, ()) == output
    with pytest.raises(ValueError, match="no line begins with"):
        remake.shown(output, ("Fourth",))
