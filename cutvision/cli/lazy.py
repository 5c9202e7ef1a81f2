"""The first level of commands: each module is imported when its command is called, so that the first help is quick."""

from __future__ import annotations

import importlib
from dataclasses import dataclass
from typing import Any

import typer
from typer.core import TyperGroup


@dataclass(frozen=True, slots=True)
class Door:
    """A command or group at the first level.

    name: its word. module: where it is made; a group there is named `app`, a command is added by `register`. help: one
    line. doing: what a person is doing when they want it, the heading it stands under.
    """

    name: str
    module: str
    help: str
    doing: str

    def open(self) -> Any:
        """The command itself."""
        module = importlib.import_module(self.module)
        if hasattr(module, "app"):
            return typer.main.get_command(module.app)
        holder = typer.Typer(rich_markup_mode=None)
        module.register(holder)
        holder.callback()(lambda: None)
        return typer.main.get_group(holder).commands[self.name]


class Doors(TyperGroup):
    """A group that knows its commands by their doors."""

    doors: tuple[Door, ...] = ()

    def list_commands(self, _ctx: Any) -> list[str]:
        """The commands' names, in the order of the work."""
        return [door.name for door in self.doors]

    def get_command(self, _ctx: Any, cmd_name: str) -> Any:
        """The command of that name, opened; None when there is none."""
        door = next((one for one in self.doors if one.name == cmd_name), None)
        return None if door is None else door.open()

    def format_commands(self, _ctx: Any, formatter: Any) -> None:
        """Write the commands under what a person is doing."""
        for doing in dict.fromkeys(door.doing for door in self.doors):
            with formatter.section(doing):
                formatter.write_dl([(door.name, door.help) for door in self.doors if door.doing == doing])
