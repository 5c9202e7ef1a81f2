"""The options by which a person says which leaves are at hand."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Literal

import typer

from cutvision.errors import InputError

if TYPE_CHECKING:
    from cutvision.correction import LeafChoice

LeafSetOption = Annotated[
    Literal["metric-13", "metric-20", "inch-26"] | None,
    typer.Option("--leaf-set", help="Name the leaves for the move, from a common set of feeler leaves."),
]
LeavesOption = Annotated[
    str | None,
    typer.Option("--leaves", metavar="LENGTHS", help="Or from your own leaves, such as 0.05mm,0.10mm,0.15mm."),
]
MostLeavesOption = Annotated[
    int | None, typer.Option("--most-leaves", help="At most so many leaves together (1 to 5; 3 unless said).")
]


def leaves_asked(leaf_set: str | None, leaves: str | None, most_leaves: int | None) -> LeafChoice | None:
    """Whose leaves to choose from; None when nobody asked. Raises InputError for options at odds."""
    if leaf_set is None and leaves is None:
        if most_leaves is not None:
            raise InputError(
                "--most-leaves says how many leaves may be laid together, but not which you have.",
                "Give --leaf-set metric-13, metric-20 or inch-26, or your own --leaves 0.05mm,0.10mm.",
            )
        return None
    if leaf_set is not None and leaves is not None:
        raise InputError("--leaf-set and --leaves both say which leaves you have.", "Give one of them.")
    from cutvision.correction import LEAF_SETS, LeafChoice, own_leaves
    from cutvision.units import parse_lengths

    if leaves is not None:
        marks = [mark.strip() for mark in leaves.split(",")]
        chosen = own_leaves(list(zip(parse_lengths(leaves, "--leaves"), marks, strict=True)))
    else:
        chosen = next(one for name, one in LEAF_SETS.items() if name == leaf_set)
    return LeafChoice(chosen) if most_leaves is None else LeafChoice(chosen, most_leaves)
