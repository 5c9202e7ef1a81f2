"""Options declared once as the fields of a dataclass."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

import pytest
import typer
from typer.testing import CliRunner

from cutvision.cli.option_groups import with_groups


@dataclass(frozen=True)
class Size:
    """A group of two options."""

    wide: Annotated[str, typer.Option("--wide", help="Width.")]
    high: Annotated[str, typer.Option("--high", help="Height.")] = "2mm"


def app_of(command: Callable[..., None]) -> typer.Typer:
    """A program of this one command."""
    app = typer.Typer()
    app.command()(with_groups(command))
    return app


def test_the_fields_become_options_and_come_back_as_one_value() -> None:
    """A required field is a required option, a default stays a default, and the command gets the dataclass."""
    got: list[Any] = []

    def command(place: Annotated[str, typer.Argument(help="Where.")], *, size: Size) -> None:
        got.append((place, size))

    app = app_of(command)
    assert CliRunner().invoke(app, ["here", "--wide", "3mm"]).exit_code == 0
    assert got == [("here", Size("3mm", "2mm"))]
    assert CliRunner().invoke(app, ["here"]).exit_code == 2


def test_two_options_of_one_name_are_a_mistake_of_ours() -> None:
    """A name that both the command and a group bear would hide one of them."""

    def command(wide: Annotated[str, typer.Option("--broad", help="Width.")] = "1mm", *, size: Size) -> None:
        raise AssertionError(wide, size)

    with pytest.raises(TypeError, match="same name"):
        with_groups(command)


def test_two_options_typed_alike_are_a_mistake_of_ours() -> None:
    """Of two options with one spelling the person could reach only one."""

    def command(breadth: Annotated[str, typer.Option("--wide", help="Width.")] = "1mm", *, size: Size) -> None:
        raise AssertionError(breadth, size)

    with pytest.raises(TypeError, match="same name"):
        with_groups(command)
