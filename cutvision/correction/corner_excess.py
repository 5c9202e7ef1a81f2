"""From the angle between fence and blade, on the side of the work, to the fence: what several methods come to.

That angle is the corner which a cut leaves on the kept piece. When it is too large the fence stands counterclockwise
with the work kept on the left of the blade, and clockwise with the work kept on the right, for any nominal angle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from cutvision.correction.angle_error import AngleError, check_plausible
from cutvision.correction.decision import decide
from cutvision.correction.fence_move import FenceMove, Side, distance_at_lever, turn_against
from cutvision.correction.jig import Jig
from cutvision.correction.move_plan import with_plan
from cutvision.correction.result import Correction, FirstOrder, Method, PieceRead, Way
from cutvision.correction.trace import Tracer
from cutvision.errors import Note
from cutvision.uncertainty import Quantity


@dataclass(frozen=True, slots=True)
class CornerExcess:
    """How much the angle between fence and blade exceeds its nominal value.

    quantity: rad, with everything in doubt about the fence. first_order_rad, rule: the same by the shop's rule.
    cuts: the count of cuts whose mean it is; 0 when no cut piece was looked at.
    turns: of the board, for a square cut made by turning it. piece: what was read on it. suspected: which reading may
    be misread, when the error is hardly possible. tracer: how quantity was computed, up to excess. rule_formula: of
    first_order_rad, in the tracer's names.
    """

    method: Method
    way: Way
    quantity: Quantity
    first_order_rad: float
    rule: str
    cuts: int
    tracer: Tracer
    rule_formula: str
    turns: int | None = None
    piece: PieceRead | None = None
    suspected: str = ""


def correct_from_excess(
    excess: CornerExcess, jig: Jig, nominal_rad: float = 0.0, notes: tuple[Note, ...] = ()
) -> Correction:
    """The fence, its move and what to do. nominal_rad: as shops say it, from a square cut (0).

    Raises InputError for an error over 2 deg and for a lever or tolerance that is not positive.
    """
    jig.check(nominal_rad)
    sign = -1.0 if jig.kept == "right" else 1.0
    error = excess.quantity.scaled(sign)
    if jig.cut_spread is not None:
        error = jig.cut_spread.on(error, excess.cuts)
    check_plausible(error, excess.suspected)
    side: Side | None = None
    if nominal_rad == 0 and excess.quantity.value != 0:
        side = "toward-work" if excess.quantity.value > 0 else "away-from-work"
    first_order_rad = sign * excess.first_order_rad
    minus = "-" if sign < 0 else ""
    turned = ", which on this side counts the other way" if minus else ""
    words = "Error of the fence, + counterclockwise" if jig.kept else "Error of the fence, + kept corner over 90 deg"
    excess.tracer.line(f"{words}{turned}", f"error = {minus}excess", math.degrees(error.value), "deg")
    rule = f"-({excess.rule_formula})" if minus else excess.rule_formula
    found = Correction(
        method=excess.method,
        way=excess.way,
        error=AngleError(error, "kept corner over 90 deg" if jig.kept is None else "counterclockwise"),
        move=FenceMove(
            distance_at_lever(error, jig.lever),
            jig.lever,
            side,
            None if jig.kept is None else turn_against(error),
            jig.geometry,
        ),
        first_order=FirstOrder(first_order_rad, abs(first_order_rad) * jig.lever.value, excess.rule),
        decision=decide(error, jig.tolerance_rad, said=jig.tolerance_said, pieces=jig.pieces),
        nominal_rad=nominal_rad,
        kept=jig.kept,
        turns=excess.turns,
        notes=notes,
        piece=excess.piece,
        trace=excess.tracer.trace(rule, first_order_rad),
    )
    return with_plan(found)
