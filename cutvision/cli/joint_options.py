"""The options by which a correction ends with what its error means in a frame's joints."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import typer

from cutvision.errors import InputError

if TYPE_CHECKING:
    from cutvision.correction import Correction
    from cutvision.correction.joint import JointPreview

JointSides = Annotated[
    int | None,
    typer.Option(
        "--joint-sides", help="End with the gaps in a frame of so many sides whose every end is cut at this fence."
    ),
]
JointStock = Annotated[
    str | None, typer.Option("--joint-stock", metavar="LENGTH", help="The width of that frame's sides, as 60mm.")
]


def check_joint(sides: int | None, stock: str | None) -> float | None:
    """The stock's width in mm; None when nothing was asked. Raises InputError when only one of both is given."""
    from cutvision.units import parse_length

    if sides is None and stock is None:
        return None
    if sides is None or stock is None:
        given, missing = (
            ("--joint-sides", "--joint-stock 60mm") if stock is None else ("--joint-stock", "--joint-sides 4")
        )
        raise InputError(f"{given} alone does not say which frame.", f"Give {missing} too.")
    return parse_length(stock, "--joint-stock")


def joints_of(correction: Correction, sides: int | None, stock: str | None) -> JointPreview | None:
    """The frame's joints; None when nobody asked. Raises InputError also for a frame of another miter."""
    from cutvision.correction.joint import preview_from

    stock_mm = check_joint(sides, stock)
    return None if stock_mm is None or sides is None else preview_from(correction, sides, stock_mm)


@dataclass(frozen=True, slots=True)
class JointOptions:
    """A frame to be cut at this fence, whose joints end the answer."""

    joint_sides: JointSides = None
    joint_stock: JointStock = None

    def check(self, nominal_rad: float) -> None:
        """Raise InputError, before anything is measured, for half a frame or one that takes another miter."""
        if check_joint(self.joint_sides, self.joint_stock) is not None and self.joint_sides is not None:
            from cutvision.correction.joint import check_miter

            check_miter(self.joint_sides, nominal_rad)

    def of(self, correction: Correction) -> JointPreview | None:
        """The frame's joints; None when nobody asked."""
        return joints_of(correction, self.joint_sides, self.joint_stock)
