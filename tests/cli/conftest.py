"""The command line run inside the test's own process, as a person would type it."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass

import pytest

from cutvision.cli import main


@dataclass(frozen=True)
class Done:
    """What a command left behind."""

    status: int
    out: str
    err: str


Run = Callable[..., Done]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run `cutvision` with these arguments and give its exit status and both outputs."""

    def run_once(*arguments: object) -> Done:
        monkeypatch.setattr(sys, "argv", ["cutvision", *map(str, arguments)])
        with pytest.raises(SystemExit) as left:
            main()
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return Done(int(left.value.code or 0), out, err)

    return run_once
