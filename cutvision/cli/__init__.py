"""The command line: one module a group of commands, no arithmetic here."""

from cutvision.cli.app import main

__all__ = ["main"]
