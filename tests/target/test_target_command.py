"""`cutvision target make` as a person runs it."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image
from typer.testing import CliRunner

from cutvision.cli.target import app
from cutvision.errors import InputError
from cutvision.target.files import ENDINGS


def test_command_writes_each_format(tmp_path: Path) -> None:
    """`target make` writes PDF, SVG and PNG, says what it wrote and how to print it, and leaves nothing else behind."""
    for ending in ENDINGS:
        out = tmp_path / f"Blatt für Gehrung{ending}"
        result = CliRunner().invoke(app, ["make", "--paper", "a4", "--out", str(out), "--dpi", "60"])
        assert result.exit_code == 0, result.output
        assert "cutvision-a4-1" in result.output
        assert "100 %" in result.output
        assert "unplugged" in result.output
    assert len(list(tmp_path.iterdir())) == len(ENDINGS)
    with Image.open(tmp_path / "Blatt für Gehrung.png") as image:
        assert image.size == (702, 496)  # 297 and 210 mm at 60 pixels per inch


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--paper", "a5", "--out", "x.pdf"], "a5"),
        (["--paper", "a4", "--out", "x.docx"], ".docx"),
        (["--paper", "a4", "--out", "x"], "without an ending"),
        (["--paper", "a4", "--out", "x.png", "--dpi", "49"], "49"),
        (["--paper", "a4", "--out", "x.png", "--dpi", "1201"], "1201"),
        (["--paper", "a4", "--out", "x.png", "--dpi", "nan"], "nan"),
        (["--paper", "a4", "--out", "no such folder/x.svg"], "no such folder"),
    ],
)
def test_command_refuses_with_a_remedy(
    options: list[str], said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An unknown paper, ending, resolution or folder is wrong input with a message and a remedy, and writes nothing."""
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(app, ["make", *options])
    assert isinstance(result.exception, InputError)
    assert said in result.exception.message
    assert result.exception.remedy
    assert list(tmp_path.iterdir()) == []
