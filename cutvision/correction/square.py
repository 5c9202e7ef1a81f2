"""A square fence from a board turned against it: each cut stands at 90 deg + e to the edge that lay at the fence.

The strip sawn off last lies between that cut and the edge made four quarter turns before, so its taper is 4 e, from the
fifth cut on however many follow. After three cuts the board's own width tapers by 2 e, the other way.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from cutvision.correction.angle_error import saw_doubt
from cutvision.correction.corner_excess import CornerExcess, correct_from_excess
from cutvision.correction.edge_form import EdgeForm
from cutvision.correction.jig import Jig
from cutvision.correction.misread import suspicion
from cutvision.correction.result import Correction, PieceRead, Way
from cutvision.correction.trace import DEG_PER_RAD, Tracer
from cutvision.errors import InputError
from cutvision.uncertainty import Quantity, propagate

STRIP_TURNS = 4
BOARD_TURNS = 2
# +1: wider at the fence means that the kept corner is over 90 deg; -1: narrower does.
_SIGN = {STRIP_TURNS: 1, BOARD_TURNS: -1}


def correct_square_from_widths(
    at_fence: Quantity,
    far_end: Quantity,
    between: Quantity,
    jig: Jig,
    *,
    turns: int = STRIP_TURNS,
    edge_form: EdgeForm | None = None,
) -> Correction:
    """The fence from two widths (mm) of the strip sawn off last (4 turns) or of the board after three cuts (2 turns).

    at_fence: width at the end that lay at the fence during the last cut. between: from one reading to the other along
    the piece. edge_form: roughness of the sawn edges, a stated default without it.
    Raises InputError for widths, a distance, a lever or a tolerance that is not positive, for other turns, and for an
    error over 2 deg.
    """
    for name, length in (
        ("width at the fence", at_fence),
        ("width at the far end", far_end),
        ("distance between the readings", between),
    ):
        if not (math.isfinite(length.value) and length.value > 0):
            raise InputError(f"The {name} is {length.value:g} mm.", "Read it again; it must be more than zero.")
    form = edge_form or EdgeForm()
    difference = at_fence - far_end
    slope = difference.value / between.value
    scale = 1 / (between.value * (1 + slope**2))
    taper = propagate(math.atan(slope), "rad", ((difference, scale), (between, -slope * scale)))
    # Four spots: two readings, each across two edges.
    form_rad = math.sqrt(4) * form.spot_mm() / between.value
    source = f"edges {form.words} where the jaws touch"
    widths = {"width at the fence": at_fence.value, "width at the far end": far_end.value}
    suspected = suspicion(
        widths,
        lambda read: (
            math.atan((read["width at the fence"] - read["width at the far end"]) / between.value) / max(1, turns)
        ),
    )
    rule = f"difference of the widths / {turns} / distance between x lever"
    doubt = saw_doubt(form_rad, source)
    tracer = Tracer()
    tracer.give("fence_end", "width at the fence", at_fence.value, "mm")
    tracer.give("far_end", "width at the far end", far_end.value, "mm")
    tracer.give("spacing", "spacing of the readings", between.value, "mm")
    tracer.line("How much wider it is at the fence", "wider = fence_end - far_end", difference.value, "mm")
    tracer.line("Its taper as an angle", "taper = atan(wider / spacing)", math.degrees(taper.value), "deg")
    shown = _Shown("widths", taper, doubt, slope, rule, "wider / spacing", tracer, between.value, suspected)
    return _judge(shown, jig, turns)


def correct_square_from_taper(
    taper: Quantity,
    jig: Jig,
    *,
    turns: int = STRIP_TURNS,
    edge_form_rad: float = 0.0,
) -> Correction:
    """The fence from the angle between the two long edges, positive when the fence end is the wider (rad; lever in mm).

    edge_form_rad: standard uncertainty that the roughness of both edges adds to the taper.
    Raises InputError as `correct_square_from_widths`, where it applies.
    """
    doubt = saw_doubt(edge_form_rad, "roughness of the sawn edges, from the photo")
    tracer = Tracer()
    tracer.give("taper", "taper of the piece, + wider at the fence", math.degrees(taper.value), "deg")
    rule = f"taper in radians / {turns} x lever"
    return _judge(_Shown("taper", taper, doubt, taper.value, rule, f"taper / {DEG_PER_RAD}", tracer), jig, turns)


@dataclass(frozen=True, slots=True)
class _Shown:
    """What the piece shows, the doubt that the saw adds to it, and the shop's rule: taper to first order, in words.

    slope_formula: of the taper to first order, in the tracer's names. tracer: up to the taper, in deg.
    between_mm: of the widths that were read; None when a photo gave the taper. suspected: which may be misread.
    """

    way: Way
    taper: Quantity
    doubt: Quantity
    slope: float
    rule: str
    slope_formula: str
    tracer: Tracer
    between_mm: float | None = None
    suspected: str = ""


def _judge(shown: _Shown, jig: Jig, turns: int) -> Correction:
    if turns not in _SIGN:
        raise InputError(
            f"{turns} quarter turns tell nothing of the fence here.",
            "Give 4 for the strip sawn off last (from the fifth cut on), 2 for the board's own width after three cuts.",
        )
    factor = _SIGN[turns] / turns
    quantity = (shown.taper + shown.doubt).scaled(factor)
    minus = "-" if factor < 0 else ""
    words = f"The taper is {turns} times what the kept corner is over 90 deg{', the other way' if minus else ''}"
    shown.tracer.line(words, f"excess = {minus}taper / {turns}", math.degrees(quantity.value), "deg")
    excess = CornerExcess(
        method="square",
        way=shown.way,
        quantity=quantity,
        first_order_rad=shown.slope * factor,
        rule=shown.rule,
        cuts=turns,
        tracer=shown.tracer,
        rule_formula=f"{minus}{shown.slope_formula} / {turns}",
        turns=turns,
        piece=None if shown.between_mm is None else PieceRead("widths", shown.between_mm),
        suspected=shown.suspected,
    )
    return correct_from_excess(excess, jig)
