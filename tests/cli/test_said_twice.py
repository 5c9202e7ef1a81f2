"""An option typed twice."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

MITER = ["correct", "miter", "--left-leg", "101.62mm", "--right-leg", "101.35mm", "--fence-length", "380mm"]


def test_a_reading_typed_as_an_option_of_its_own_is_not_dropped(run: Callable[..., Any]) -> None:
    """The remedy shows how several readings are typed, and that line is obeyed."""
    done = run(*MITER, "--left-leg", "101.64mm")
    assert (done.status, done.out) == (2, "")
    assert "--left-leg 101.62mm,101.64mm" in " ".join(done.err.split())
    assert run(*MITER[:3], "101.62mm,101.64mm", *MITER[4:]).status == 0


@pytest.mark.parametrize(
    "arguments",
    [
        [*MITER, "--json", "--json"],
        ["plan", "--kind", "miter", "--link", "runner play=0.05deg", "--link", "blade to slot=0.02deg"],
        [*MITER, "--note", "--kept", "--kept", "left"],
        ["no-such-command", "--x", "1", "--x", "2"],
        ["correct"],
        [*MITER, "--kept"],
    ],
)
def test_what_may_stand_twice_is_left_to_the_command(run: Callable[..., Any], arguments: list[str]) -> None:
    """Flags, options that take several, values that look like options, and unknown words are not refused for it."""
    assert "stands twice" not in run(*arguments).err
