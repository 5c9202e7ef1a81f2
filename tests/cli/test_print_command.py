"""`cutvision print` from the outside: a file is written, and what is wrong is said."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cutvision.reports.cautions import cautions

STARTS = {"pdf": b"%PDF", "png": b"\x89PNG", "svg": b"<?xml"}
CARD_MITER = ["print", "card", "miter", "--fence-length", "380mm", "--piece-width", "102mm"]
CARD_SQUARE = ["print", "card", "square", "--fence-length", "560mm", "--between", "380mm"]
COMMANDS = {
    "worksheet miter": ["print", "worksheet", "miter"],
    "worksheet square": ["print", "worksheet", "square", "--paper", "letter"],
    "card miter": [*CARD_MITER, "--shim-set", "metric-13", "--tolerance", "0.05deg", "--tips", "0mm"],
    "card miter 22.5": [*CARD_MITER, "--nominal", "22.5deg", "--kept", "left", "--paper", "letter"],
    "card square": [*CARD_SQUARE, "--kept", "left", "--shims", "0.05mm,0.1mm,0.2mm"],
    "check list": ["print", "check-list"],
    "card square wide": [*CARD_SQUARE, "--piece-width", "300mm", "--cut-spread", "0.013deg"],
}


@pytest.mark.parametrize("name", COMMANDS)
@pytest.mark.parametrize("ending", STARTS)
def test_each_sheet_is_written_as_its_ending_says(
    run: Callable[..., Any], tmp_path: Path, name: str, ending: str
) -> None:
    """Exit status 0, the file is what its name says, and the cautions stand below what is told."""
    out = tmp_path / f"sheet.{ending}"
    done = run(*COMMANDS[name], "--out", out)
    assert (done.status, done.err) == (0, "")
    assert out.read_bytes().startswith(STARTS[ending])
    said = " ".join(done.out.split())
    assert "sheet." in said
    assert all(caution in said for caution in cautions("measure", "adjust", "cut"))


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["print", "worksheet", "miter", "--out", "sheet.doc"], ".pdf"),
        (["print", "worksheet", "square", "--out", "no-such-folder/sheet.pdf"], "cannot be written"),
        (["print", "worksheet", "square", "--out", "sheet.pdf", "--paper", "a5"], "a5"),
        ([*CARD_MITER[:4], "380", *CARD_MITER[5:], "--out", "card.pdf"], "without a unit"),
        ([*CARD_MITER[:6], "nanmm", "--out", "card.pdf"], "--piece-width"),
        ([*CARD_MITER[:6], "20mm", "--out", "card.pdf"], "too small to hold"),
        ([*CARD_MITER, "--nominal", "22.5deg", "--out", "card.pdf"], "left or right"),
        ([*CARD_SQUARE[:6], "0mm", "--out", "card.pdf"], "more than zero"),
        ([*CARD_SQUARE, "--shim-set", "metric-13", "--shims", "0.05mm", "--out", "card.pdf"], "Give one of them"),
        ([*CARD_SQUARE, "--out", "card.txt"], ".pdf"),
    ],
)
def test_wrong_values_are_refused_in_words(
    run: Callable[..., Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], said: str
) -> None:
    """Exit status 2, what is wrong named, no file left behind."""
    monkeypatch.chdir(tmp_path)
    done = run(*arguments)
    assert (done.status, done.out) == (2, "")
    assert said in " ".join(done.err.split())
    assert list(tmp_path.iterdir()) == []
