"""The fence from a gap that a leaf fills: beside a square, between two pieces, or at the last joint of a frame.

Lengths in mm, angles in rad. Every formula is plain geometry (closed form).
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

from cutvision.correction.angle_error import saw_doubt
from cutvision.correction.corner_excess import CornerExcess, correct_from_excess
from cutvision.correction.edge_form import EdgeForm
from cutvision.correction.jig import Jig
from cutvision.correction.readings import SHUT_TO_MM
from cutvision.correction.result import Correction, PieceRead
from cutvision.correction.trace import DEG_PER_RAD, Tracer
from cutvision.errors import InputError, Note
from cutvision.uncertainty import Influence, Quantity, propagate, rectangular

GapEnd = Literal["fence", "far"]
FrameGap = Literal["heel", "toe"]
FEWEST_SIDES, MOST_SIDES = 3, 24
# A protractor shows the cut from square (0 for a square cut), or the angle between fence and blade.
Scale = Literal["square", "blade"]
# Readings further from the nominal angle than this were taken on another scale.
SCALE_RAD = math.radians(5.0)
# Each step towards the cut as it is leaves less than a tenth of the last one's change.
FACE_STEPS = 15


def correct_direct(
    gap: Quantity, over: Quantity, gap_at: GapEnd, gauge: Quantity, jig: Jig, nominal_rad: float = 0.0
) -> Correction:
    """The fence from a square or protractor held along it, its arm against the blade's plate: atan(gap / over).

    gap_at: "far" when the arm touches the plate near the fence and a leaf goes in away from it: the angle between fence
    and blade is too large; "fence" when it is too small. over: along the arm from where it touches to the leaf.
    gauge: the square's own error, nothing in value. jig.kept: the side of the blade on which the square lies.
    Raises InputError for no such side, for a gap that is negative or a length that is not positive, an error over 2
    deg, and a nominal angle outside 0 to 90 deg.
    """
    _check_direct(jig, nominal_rad)
    sign = 1.0 if gap_at == "far" else -1.0
    quantity = _wedge(gap, over).scaled(sign) + gauge
    excess = CornerExcess(
        method="direct",
        way="gap beside a square",
        quantity=quantity,
        first_order_rad=sign * gap.value / over.value,
        rule="gap / length x lever",
        cuts=0,
        tracer=_wedge_traced(gap, over, quantity.value, sign, 1),
        rule_formula=f"{'' if sign > 0 else '-'}gap / length",
        piece=PieceRead("gap", over.value),
    )
    notes = () if nominal_rad == 0 else (_leaning(jig, "The turn is the same if yours leans the other way."),)
    return correct_from_excess(excess, jig, nominal_rad, notes)


def correct_by_protractor(
    reading: Quantity, gauge: Quantity, jig: Jig, nominal_rad: float = 0.0, scale: Scale | None = None
) -> Correction:
    """The fence from a protractor held to it and to the blade's plate: how much the angle between them is too large.

    reading: rad, as it shows. scale: "square" when it shows the cut as shops say it, so that true is the nominal angle:
    reading - nominal; "blade" when it shows the angle between fence and blade in which it lies: reading - (90 deg +
    nominal) on the side of the work, (90 deg - nominal) - reading on the other side of the fence; None: the one scale
    on which the reading lies within 5 deg of true. gauge: the protractor's own error, nothing in value.
    jig.kept: the side of the blade on which it lies. Raises InputError for no such side, a reading that fits no scale
    or both, an error over 2 deg, and a nominal angle outside 0 to 90 deg.
    """
    _check_direct(jig, nominal_rad)
    signed = _excess_on(reading, nominal_rad, _scale_of(reading.value, nominal_rad, scale))
    tracer = Tracer()
    tracer.give("shown", "what the protractor shows", math.degrees(reading.value), "deg")
    other_way = math.isclose(signed.value, math.pi / 2 - nominal_rad - reading.value, abs_tol=1e-12)
    true_rad = reading.value + signed.value if other_way else reading.value - signed.value
    tracer.give("true", "what it would show at a true fence", math.degrees(true_rad), "deg")
    words = "How much too large the angle between fence and blade is"
    tracer.line(
        words, "excess = true - shown" if other_way else "excess = shown - true", math.degrees(signed.value), "deg"
    )
    excess = CornerExcess(
        method="direct",
        way="reading of a protractor",
        quantity=signed + gauge,
        first_order_rad=signed.value,
        rule="error in radians x lever",
        cuts=0,
        tracer=tracer,
        rule_formula=f"excess / {DEG_PER_RAD}",
    )
    other = "right" if jig.kept == "left" else "left"
    remedy = f"If yours leans the other way, the turn is the other too: say --square-on {other}."
    notes = () if nominal_rad == 0 else (_leaning(jig, remedy),)
    return correct_from_excess(excess, jig, nominal_rad, notes)


def _leaning(jig: Jig, remedy: str) -> Note:
    lean = "right" if jig.kept == "left" else "left"
    return Note("fence-leans", f"This is told for a fence that runs away from you toward the {lean}.", remedy)


def _scale_of(reading_rad: float, nominal_rad: float, said: Scale | None) -> Scale:
    """The scale on which the reading was taken. Raises InputError when it fits none, or both."""
    right = math.pi / 2
    off: dict[Scale, float] = {
        "square": abs(reading_rad - nominal_rad),
        "blade": min(abs(reading_rad - right - nominal_rad), abs(reading_rad - right + nominal_rad)),
    }
    shown = f"{math.degrees(reading_rad):g} deg"
    if said is not None:
        fits = [said] if off[said] <= SCALE_RAD else []
    else:
        fits = [scale for scale in off if off[scale] <= SCALE_RAD]
    if not fits:
        n = math.degrees(nominal_rad)
        raise InputError(
            f"A protractor that shows {shown} is more than {math.degrees(SCALE_RAD):g} deg from any true setting.",
            f"It should show {n:g} deg from square, or {90 + n:g} or {90 - n:g} deg between fence and blade. Check the "
            "nominal angle and read again.",
            at_the_saw=True,
        )
    if len(fits) > 1:
        raise InputError(
            f"{shown} may be counted from a square cut, or be the angle between fence and blade: the two turn "
            "the fence opposite ways.",
            "Say which your protractor shows: --reading-from square (0deg at a square cut) or --reading-from blade "
            "(90deg at a square cut).",
        )
    if fits[0] == "square" and nominal_rad == 0:
        raise InputError(
            f"{shown} from square does not tell to which side.",
            "Type the angle between fence and blade on the side where the protractor lies: about 90deg.",
        )
    return fits[0]


def _excess_on(reading: Quantity, nominal_rad: float, scale: Scale) -> Quantity:
    if scale == "square":
        return reading - nominal_rad
    beyond, before = math.pi / 2 + nominal_rad, math.pi / 2 - nominal_rad
    if abs(reading.value - beyond) <= abs(reading.value - before):
        return reading - beyond
    return -reading + before


def _check_direct(jig: Jig, nominal_rad: float) -> None:
    if jig.kept is None:
        raise InputError("It must be known on which side of the blade the square lies.", "Say left or right.")
    if not 0 <= nominal_rad < math.pi / 2:
        raise InputError(f"A cut of {math.degrees(nominal_rad):g} deg is none.", "Give 0 to 90 deg, from a square cut.")


def correct_facing(
    gap: Quantity, over: Quantity, gap_at: GapEnd, jig: Jig, *, edge_form: EdgeForm | None = None
) -> Correction:
    """A square fence from two pieces cut on one side of the blade, one of them turned over: atan(gap / over) / 2.

    Both stand with the edge that lay at the fence on one straight edge, and their cuts meet; the error shows doubled.
    gap_at: "fence" when they touch away from the straight edge: the corners exceed 90 deg; "far" when they touch at it.
    over: along the cut from where they touch to the leaf. edge_form: of the sawn edges, a stated default without it.
    Raises InputError as `correct_direct`.
    """
    form = edge_form or EdgeForm()
    wedge = _wedge(gap, over)
    # Four spots: two edges where the pieces touch, two where the leaf goes.
    doubt = saw_doubt(
        math.sqrt(4) * form.spot_mm() / over.value,
        f"edges {form.words} where they touch",
    )
    sign = 1.0 if gap_at == "fence" else -1.0
    quantity = (wedge.scaled(sign) + doubt).scaled(0.5)
    excess = CornerExcess(
        method="facing",
        way="two pieces face to face",
        quantity=quantity,
        first_order_rad=sign * gap.value / over.value / 2,
        rule="gap / 2 / length x lever",
        cuts=2,
        tracer=_wedge_traced(gap, over, quantity.value, sign, 2),
        rule_formula=f"{'' if sign > 0 else '-'}gap / length / 2",
        piece=PieceRead("gap", over.value, fold=2),
    )
    return correct_from_excess(excess, jig)


def correct_frame(
    gap: Quantity,
    stock: Quantity,
    sides: int,
    gap_at: FrameGap,
    jig: Jig,
    *,
    other_end: Quantity | None = None,
    edge_form: EdgeForm | None = None,
    shut_to_mm: float = SHUT_TO_MM,
) -> Correction:
    """A miter fence from a frame of N sides closed but for its last joint: e with N e = asin(gap / (2 face)).

    Every end was cut at the one fence, so that the last joint shows 2 N errors; its faces are as long as the cuts are,
    stock / cos(180 deg / N + e) (closed form, solved for e). What opens the joint is how much further apart its faces
    are at one end than at the other. Either the faces touch at one end, and gap is read at the other; or, with the
    other joints held shut from heel to toe, the frame is stiff, the faces touch nowhere, and both ends are read.
    gap_at: where gap was read, "toe" (the outer corner) or "heel" (the inner). other_end: what was read at the other
    end; None when the faces touch there. The cuts are short of 180 deg / N when the toe is the wider, over it when the
    heel is. stock: the width of the sides. jig.kept: the side of the blade on which the sides were kept, the fence
    leaning so that a triangle falls off: away from you toward the right for work kept on the left.
    shut_to_mm: how far each joint that looks shut may be open.
    Raises InputError for no such side, for other counts of sides than 3 to 24, a gap that is negative or wider than the
    joint, a width that is not positive, and an error over 2 deg.
    """
    if jig.kept is None:
        raise InputError(
            "It must be known on which side of the blade the sides were kept.", "Say --kept left or --kept right."
        )
    if not FEWEST_SIDES <= sides <= MOST_SIDES:
        raise InputError(
            f"A frame of {sides} sides cannot be judged here.", f"Give {FEWEST_SIDES} to {MOST_SIDES} sides."
        )
    form = edge_form or EdgeForm()
    _check_lengths(gap, stock)
    nominal_rad = math.pi / sides
    sign = 1.0 if gap_at == "heel" else -1.0
    if other_end is not None:
        _check_lengths(other_end, stock)
        gap = gap - _own(other_end, "other end")
        if gap.value < 0:
            sign, gap = -sign, -gap
    opening = _frame_opening(gap, stock, sides, sign)
    face_mm = stock.value / math.cos(nominal_rad + sign * opening.value / (2 * sides))
    shut = Influence("closed joints", "closed joints", source=f"{sides - 1} joints may be open by {shut_to_mm:g} mm")
    opening = opening.with_influence(shut, math.sqrt(sides - 1) * rectangular(shut_to_mm) / face_mm)
    source = f"{2 * sides} cuts {form.words}"
    doubt = saw_doubt(math.sqrt(2 * sides) * form.direction_rad(face_mm), source)
    quantity = (opening.scaled(sign) + doubt).scaled(1 / (2 * sides))
    minus = "-" if sign < 0 else ""
    excess = CornerExcess(
        method="frame",
        way="last joint of a frame",
        quantity=quantity,
        first_order_rad=sign * gap.value / (stock.value / math.cos(nominal_rad)) / (2 * sides),
        rule=f"gap / joint's length / {2 * sides} x lever",
        cuts=2 * sides,
        tracer=_frame_traced(gap, stock, sides, quantity.value, sign),
        rule_formula=f"{minus}gap / (stock_width / cos(180 / sides)) / (2 x sides)",
        piece=PieceRead("last joint", stock.value, fold=2 * sides),
    )
    lean = "right" if jig.kept == "left" else "left"
    notes = (
        Note(
            "one-fence",
            "This holds for a frame whose every end was cut at this one fence.",
            "Cut on both arms of a V fence, a frame shows the angle between the arms, which no turning cures.",
        ),
        Note(
            "fence-leans",
            f"It also holds for a fence that runs away from you toward the {lean}.",
            f"If yours leans the other way, the turn is the other too: say --kept {lean}.",
        ),
    )
    return correct_from_excess(excess, jig, nominal_rad, notes)


def _wedge_traced(gap: Quantity, over: Quantity, excess_rad: float, sign: float, times: int) -> Tracer:
    tracer = Tracer()
    tracer.give("gap", "gap", gap.value, "mm")
    tracer.give("length", "length from where the edges touch to the gap", over.value, "mm")
    wedge = math.degrees(math.atan(gap.value / over.value))
    tracer.line("The angle that opens", "opening = atan(gap / length)", wedge, "deg")
    shows = f"It shows{' twice' if times == 2 else ''} how much too large the angle between fence and blade is"
    minus = "-" if sign < 0 else ""
    part = f" / {times}" if times > 1 else ""
    words = f"{shows}{', the other way' if minus else ''}"
    tracer.line(words, f"excess = {minus}opening{part}", math.degrees(excess_rad), "deg")
    return tracer


def _frame_traced(gap: Quantity, stock: Quantity, sides: int, excess_rad: float, sign: float) -> Tracer:
    tracer = Tracer()
    tracer.give("gap", "gap at the last joint, how much wider at one end than at the other", gap.value, "mm")
    tracer.give("stock_width", "width of the sides", stock.value, "mm")
    tracer.give("sides", "count of the sides", float(sides), "")
    miter_rad = math.pi / sides + excess_rad
    words = "Miter of the cuts as they are"
    tracer.give(
        "over",
        "what each cut is over a true one, found by trying until it comes out below as the excess",
        math.degrees(excess_rad),
        "deg",
    )
    tracer.line(words, "miter = 180 / sides + over", math.degrees(miter_rad), "deg")
    tracer.line("Length of a joint", "joint_length = stock_width / cos(miter)", stock.value / math.cos(miter_rad), "mm")
    minus = "-" if sign < 0 else ""
    words = f"Both halves of the opening hold the errors of {2 * sides} cuts{', which are short' if minus else ''}"
    tracer.line(words, f"excess = {minus}asin(gap / 2 / joint_length) / sides", math.degrees(excess_rad), "deg")
    return tracer


def _own(quantity: Quantity, whose: str) -> Quantity:
    """The quantity with nothing in doubt that another reading shares."""
    parts = {replace(i, key=f"{i.key}/{whose}"): part for i, part in quantity.components.items()}
    return Quantity(quantity.value, quantity.unit, parts)


def _frame_opening(gap: Quantity, stock: Quantity, sides: int, sign: float) -> Quantity:
    """By how much the last joint opens, rad: 2 N e, with N e = asin(gap cos(180 deg / N + e) / (2 stock)).

    sign: 1 when the cuts are over 180 deg / N. Solved by repeated substitution; the slope by implicit differentiation.
    """
    nominal_rad = math.pi / sides
    opening = joint_opening(gap, stock.scaled(1 / math.cos(nominal_rad)))
    for _ in range(FACE_STEPS):
        miter_rad = nominal_rad + sign * opening.value / (2 * sides)
        opening = joint_opening(gap, stock.scaled(1 / math.cos(miter_rad)))
    # d(opening) = partial + d(opening)/d(miter) d(miter), with d(miter) = sign d(opening) / (2 N)
    by_miter = -2 * math.tan(miter_rad) * math.tan(opening.value / 2)
    return propagate(opening.value, "rad", ((opening, 1 / (1 - by_miter * sign / (2 * sides))),))


def joint_opening(gap: Quantity, face: Quantity) -> Quantity:
    """The angle between two faces that touch at one end and gape by `gap` at the other: 2 asin(gap / (2 face)), rad.

    Raises InputError for a gap that is negative or wider than the joint, and a face that is not positive.
    """
    _check_lengths(gap, face)
    half_sine = gap.value / (2 * face.value)
    if half_sine >= 1:
        raise InputError(
            f"A gap of {gap.value:g} mm is wider than a joint of {face.value:.4g} mm can open.", "Read both again."
        )
    slope = 1 / (face.value * math.sqrt(1 - half_sine**2))
    return propagate(2 * math.asin(half_sine), "rad", ((gap, slope), (face, -slope * gap.value / face.value)))


def _wedge(gap: Quantity, over: Quantity) -> Quantity:
    """The angle that opens from where two edges touch to a gap this wide, in rad."""
    _check_lengths(gap, over)
    squared = over.value**2 + gap.value**2
    return propagate(
        math.atan(gap.value / over.value), "rad", ((gap, over.value / squared), (over, -gap.value / squared))
    )


def _check_lengths(gap: Quantity, length: Quantity) -> None:
    if not (math.isfinite(gap.value) and gap.value >= 0):
        raise InputError(
            f"The gap is {gap.value:g} mm.", "Give the leaf that just fits, or 0mm when none does.", at_the_saw=True
        )
    if not (math.isfinite(length.value) and length.value > 0):
        raise InputError(f"The length beside the gap is {length.value:g} mm.", "Measure it again.", at_the_saw=True)
