"""`cutvision target check` from the outside."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]
CHECK = ("target", "check", "--long-side", "250.4mm,250.6mm", "--short-side", "179.8mm")
BOTH = ("--diagonal-down", "308.3mm", "--diagonal-up", "307.9mm")


@pytest.fixture(autouse=True)
def own_book(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A logbook of the test's own."""
    monkeypatch.setenv("CUTVISION_LOGBOOK", str(tmp_path / "book"))


def test_the_answer_fits_a_screen_and_agrees_with_its_json(run: Run) -> None:
    """24 lines of 80 columns, what to do last; stretch and shear are those of the JSON object."""
    done = run(*CHECK, *BOTH)
    assert (done.status, done.err) == (0, "")
    lines = done.out.splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    told = json.loads(run(*CHECK, *BOTH, "--json").out)
    assert (told["schema"], told["paper"], told["verdict"]) == ("cutvision/print/1", "a4", "ordinary")
    assert f"{told['long_stretch']['value']:.3f} ±" in done.out
    assert "\nUse this print" in done.out


@pytest.mark.parametrize("named", ["file", "logbook"])
def test_a_jig_keeps_the_readings_and_measure_takes_them(run: Run, tmp_path: Path, named: str) -> None:
    """A new reading puts the whole old one aside, in a file as in the logbook."""
    jig = "sled" if named == "logbook" else str(tmp_path / "sled.toml")
    where = () if named == "logbook" else ("--out", jig)
    assert run("jig", "new", "sled", "--kind", "miter", "--fence-length", "380mm", *where).status == 0
    assert run(*CHECK, *BOTH, "--jig", jig).status == 0
    assert run(*CHECK, "--jig", jig, "--read-on", "2025-05-05").status == 0
    kept = json.loads(run("jig", "show", jig, "--json").out)["options"]
    assert kept == {
        "fence-length": "380mm",
        "long-side": "250.500mm",
        "short-side": "179.8mm",
        "sheet-read-to": "0.25mm",
        "sheet-read-on": "2025-05-05",
    }


def test_what_cannot_be_is_refused_in_words(run: Run, tmp_path: Path) -> None:
    """A day to come, no jig of that name, and a file that is no jig: exit status 2, and nothing is changed."""
    novel = tmp_path / "novel.toml"
    novel.write_text("once upon a time\n", "utf-8")
    tomorrow = (datetime.now(UTC) + timedelta(days=2)).date().isoformat()
    assert run("jig", "new", "sled", "--kind", "miter").status == 0
    for more in (("--jig", "sled", "--read-on", tomorrow), ("--jig", "nobody"), ("--jig", str(novel))):
        done = run(*CHECK, *more)
        assert (done.status, done.out) == (2, "")
        assert "What to do" in done.err
    assert novel.read_text("utf-8") == "once upon a time\n"
