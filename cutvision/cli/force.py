"""`--force`: the one word that lets an output be written over what another made."""

from __future__ import annotations

from typing import Annotated

import typer

FORCE_HELP = "Write over a file that cutvision did not write."
Force = Annotated[bool, typer.Option("--force", help=FORCE_HELP)]
