"""The options by which a person says which leaves are at hand."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from cutvision.errors import InputError

if TYPE_CHECKING:
    from cutvision.correction import LeafChoice


@dataclass(frozen=True, slots=True)
class LeafOptions:
    """A common set or a person's own leaves, and how many may be laid together."""

    leaf_set: Annotated[
        Literal["metric-13", "metric-20", "inch-26"] | None,
        typer.Option("--leaf-set", help="Name the leaves for the move, from a common set of feeler leaves."),
    ] = None
    leaves: Annotated[
        str | None,
        typer.Option("--leaves", metavar="LENGTHS", help="Or from your own leaves, such as 0.05mm,0.10mm,0.15mm."),
    ] = None
    most_leaves: Annotated[
        int | None, typer.Option("--most-leaves", help="At most so many leaves together (1 to 5; 3 unless said).")
    ] = None
    leaf_to: Annotated[
        str | None,
        typer.Option("--leaf-to", metavar="LENGTH", help="How true each leaf is, as a half-width, such as 0.005mm."),
    ] = None

    def choice(self) -> LeafChoice | None:
        """Whose leaves to choose from; None when nobody asked. Raises InputError for options at odds."""
        if self.leaf_set is None and self.leaves is None:
            said = [option for option, value in self._about().items() if value is not None]
            if said:
                raise InputError(
                    f"{said[0]} is about your leaves, but which you have is not said.",
                    "Give --leaf-set metric-13, metric-20 or inch-26, or your own --leaves 0.05mm,0.10mm.",
                )
            return None
        if self.leaf_set is not None and self.leaves is not None:
            raise InputError("--leaf-set and --leaves both say which leaves you have.", "Give one of them.")
        from cutvision.correction import LEAF_SETS, LeafChoice, own_leaves
        from cutvision.correction.feeler_stack import MOST_LEAVES
        from cutvision.units import parse_length, parse_lengths

        if self.leaves is not None:
            marks = [mark.strip() for mark in self.leaves.split(",")]
            chosen = own_leaves(list(zip(parse_lengths(self.leaves, "--leaves"), marks, strict=True)))
        else:
            chosen = next(one for name, one in LEAF_SETS.items() if name == self.leaf_set)
        leaf_to_mm = None if self.leaf_to is None else parse_length(self.leaf_to, "--leaf-to", zero=True)
        return LeafChoice(chosen, MOST_LEAVES if self.most_leaves is None else self.most_leaves, leaf_to_mm)

    def _about(self) -> dict[str, object]:
        """What goes with leaves and makes no sense without them."""
        return {"--most-leaves": self.most_leaves, "--leaf-to": self.leaf_to}
