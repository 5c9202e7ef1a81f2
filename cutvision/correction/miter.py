"""A miter fence from its test piece: a triangle with a right corner, the cut opposite it, and two legs.

Left and right as the piece lies before you with the cut toward you and the corner away. Work kept on the left of the
blade had its right leg at the fence; kept on the right, its left leg. The angle between cut and fence leg is the
fence's own, whatever the corner; the other leg tells of the fence only as far as the corner is known.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from cutvision.correction.angle_error import PLAUSIBLE_RAD, AngleError, Kept, check_plausible, saw_doubt
from cutvision.correction.decision import decide
from cutvision.correction.edge_form import EdgeForm
from cutvision.correction.fence_move import FenceMove, Side, distance_at_lever, turn_against
from cutvision.correction.jig import Jig
from cutvision.correction.misread import suspicion
from cutvision.correction.move_plan import with_plan
from cutvision.correction.piece_safety import small_triangle
from cutvision.correction.result import Candidate, Correction, FirstOrder, PieceRead, Way
from cutvision.correction.trace import DEG_PER_RAD, Tracer
from cutvision.errors import InputError, Note
from cutvision.uncertainty import Influence, Quantity, propagate

NOMINAL_RAD = math.pi / 4
CORNER_RAD = math.pi / 2
CORNER_PLAUSIBLE_RAD = math.radians(5.0)
TIP_MARGIN_MM = 0.5
FRAME_SIDES = range(3, 13)


def leg_angles(left: Quantity, right: Quantity, corner: Quantity) -> tuple[Quantity, Quantity]:
    """The angles between the cut and the left and right leg, in rad, from the legs in mm and the corner in rad.

    Left: atan(R sin c / (L - R cos c)), exact for any triangle; right: what is left of 180 deg.
    Raises InputError for legs that are not positive and for a corner more than 5 deg from 90 deg.
    """
    for name, leg in (("left", left), ("right", right)):
        if not (math.isfinite(leg.value) and leg.value > 0):
            raise InputError(f"The {name} leg is {leg.value:g} mm, which makes no triangle.", "Read the leg again.")
    check_corner(corner)
    L, R, sine, cosine = left.value, right.value, math.sin(corner.value), math.cos(corner.value)
    cut_squared = L * L + R * R - 2 * L * R * cosine
    angle_left = propagate(
        math.atan2(R * sine, L - R * cosine),
        "rad",
        (
            (left, -R * sine / cut_squared),
            (right, L * sine / cut_squared),
            (corner, R * (L * cosine - R) / cut_squared),
        ),
    )
    return angle_left, -(angle_left + corner) + math.pi


def correct_miter_from_legs(
    left: Quantity,
    right: Quantity,
    corner: Quantity,
    jig: Jig,
    *,
    nominal_rad: float = NOMINAL_RAD,
    piece_width_mm: float | None = None,
    edge_form: EdgeForm | None = None,
) -> Correction:
    """The fence from two legs read at their ends; the corner is assumed or known, legs alone cannot see it.

    left, right: mm. corner: rad. nominal_rad: as shops say it, from a square cut. piece_width_mm: of the test piece,
    for the shop's rule and to notice a cut that ran past the tip. edge_form: roughness of the sawn edges, a stated
    default without it.
    Raises InputError for legs that make no triangle, a cut past the tip, an error over 2 deg, a nominal angle other
    than 45 deg without a kept side, a corner far from 90 deg, and a lever or tolerance that is not positive.
    """
    form = edge_form or EdgeForm()
    angle_left, angle_right = leg_angles(left, right, corner)
    _check_nominal(nominal_rad, jig.kept)
    notes = _check_tip(left.value, right.value, jig.kept, piece_width_mm)
    notes += small_triangle(min(left.value, right.value))
    cut_mm = math.sqrt(left.value**2 + right.value**2 - 2 * left.value * right.value * math.cos(corner.value))
    fence_leg_mm = {"left": right.value, "right": left.value, None: min(left.value, right.value)}[jig.kept]
    form_rad = math.hypot(form.direction_rad(cut_mm), form.direction_rad(fence_leg_mm))
    source = f"cut and fence leg {form.words}"
    if is_45(nominal_rad):
        first_order_rad, rule = rule_of_45(left.value, right.value, piece_width_mm)
    else:
        first_order_rad, rule = rule_of_others(left.value, right.value, nominal_rad, jig.kept)
    width_mm = piece_width_mm if is_45(nominal_rad) else None
    shown = _Shown(
        way="legs",
        angle_left=angle_left,
        angle_right=angle_right,
        half_difference=(angle_left - angle_right).scaled(0.5),
        corner=corner,
        doubt=saw_doubt(form_rad, source),
        tracer=_legs_traced(left, right, corner, jig.kept, angle_left, angle_right),
        rule_formula=rule_formula(jig.kept, nominal_rad, piece_width_mm),
        piece=PieceRead(
            "legs", cut_mm if jig.kept is None else fence_leg_mm, corner_rad=corner.value, width_mm=width_mm
        ),
        suspected=suspected_leg(left.value, right.value, corner.value, jig.kept, nominal_rad),
    )
    return _judge(
        shown, jig, nominal_rad, FirstOrder(first_order_rad, abs(first_order_rad) * jig.lever.value, rule), notes
    )


def correct_miter_from_angles(
    angle_left: Quantity,
    angle_right: Quantity,
    corner: Quantity,
    jig: Jig,
    *,
    split_error: Quantity | None = None,
    nominal_rad: float = NOMINAL_RAD,
    edge_form_rad: float = 0.0,
) -> Correction:
    """The fence from the angles between the cut and the legs, in rad, as a photo gives them.

    split_error: half of the right less the left angle, when it was measured as such; else it is made from the two.
    nominal_rad: as shops say it, from a square cut. edge_form_rad: standard uncertainty that the roughness of the sawn
    edges adds to the angle that is used: the fence leg's with a kept side, else the split's.
    Raises InputError as `correct_miter_from_legs`, where it applies.
    """
    check_corner(corner)
    _check_nominal(nominal_rad, jig.kept)
    shown = _Shown(
        way="split of the angles" if jig.kept is None else "fence leg's angle",
        angle_left=angle_left,
        angle_right=angle_right,
        half_difference=-split_error if split_error is not None else (angle_left - angle_right).scaled(0.5),
        corner=corner,
        doubt=saw_doubt(edge_form_rad, "roughness of the sawn edges, from the photo"),
        tracer=_angles_traced(angle_left, angle_right, split_error, jig.kept),
        rule_formula=f"error / {DEG_PER_RAD}",
    )
    error_rad = shown.piece_error(jig.kept, nominal_rad).value
    first_order = FirstOrder(error_rad, abs(error_rad) * jig.lever.value, "error in radians x lever")
    return _judge(shown, jig, nominal_rad, first_order, ())


@dataclass(frozen=True, slots=True)
class _Shown:
    """What the piece shows, in rad, the doubt that the saw adds to it, and which reading may be misread.

    tracer: up to the angle that is used, in deg; rule_formula: of the shop's rule, in its names.
    """

    way: Way
    angle_left: Quantity
    angle_right: Quantity
    half_difference: Quantity
    corner: Quantity
    doubt: Quantity
    tracer: Tracer
    rule_formula: str
    piece: PieceRead | None = None
    suspected: str = ""

    def piece_error(self, kept: Kept | None, nominal_rad: float) -> Quantity:
        """The fence's error, counterclockwise, from the leg that lay at it, or from both when that is not known."""
        at_fence_leg = math.pi / 2 - nominal_rad
        if kept == "left":
            return -self.angle_right + at_fence_leg
        if kept == "right":
            return self.angle_left - at_fence_leg
        return _either_leg(self.half_difference, self.corner)


def suspected_leg(left_mm: float, right_mm: float, corner_rad: float, kept: Kept | None, nominal_rad: float) -> str:
    """Which leg may be misread, when they give an error that is hardly possible."""

    def error_rad(legs: Mapping[str, float]) -> float:
        left, right = legs["left leg"], legs["right leg"]
        at_left = math.atan2(right * math.sin(corner_rad), left - right * math.cos(corner_rad))
        at_right = math.pi - corner_rad - at_left
        at_fence_leg = math.pi / 2 - nominal_rad
        if kept is None:
            return (at_left - at_right) / 2
        return at_fence_leg - at_right if kept == "left" else at_left - at_fence_leg

    return suspicion({"left leg": left_mm, "right leg": right_mm}, error_rad)


def _other_miter(shown: _Shown, kept: Kept | None, nominal_rad: float) -> str:
    """Which frame's miter the piece was cut for, when it is another than was said; empty when it fits none."""
    if kept is None or abs(shown.piece_error(kept, nominal_rad).value) <= PLAUSIBLE_RAD:
        return ""
    others = [math.pi / sides for sides in FRAME_SIDES if not math.isclose(math.pi / sides, nominal_rad)]
    near = min(others, key=lambda miter: abs(shown.piece_error(kept, miter).value))
    if abs(shown.piece_error(kept, near).value) > PLAUSIBLE_RAD:
        return ""
    said = f"{math.degrees(near):.4g}"
    return f"The piece looks like one of a {said} deg miter; if it is, give --nominal {said}deg."


def _judge(shown: _Shown, jig: Jig, nominal_rad: float, first_order: FirstOrder, notes: tuple[Note, ...]) -> Correction:
    jig.check(nominal_rad)
    doubt = shown.doubt if jig.cut_spread is None else jig.cut_spread.on(shown.doubt, 1)
    error = shown.piece_error(jig.kept, nominal_rad) + doubt
    check_plausible(error, shown.suspected, _other_miter(shown, jig.kept, nominal_rad))
    turn = turn_against(error)
    side: Side | None = None
    if is_45(nominal_rad) and turn is not None:
        side = "left" if turn == "clockwise" else "right"
        if error.value * shown.half_difference.value < 0:
            notes = (*notes, _corner_hides_it(shown.corner))
    sides: tuple[Kept, ...] = ("left", "right") if jig.kept is None else ()
    _error_traced(shown, jig.kept, nominal_rad, error.value)
    found = Correction(
        method="miter",
        way=shown.way,
        error=AngleError(error),
        move=FenceMove(distance_at_lever(error, jig.lever), jig.lever, side, turn, jig.geometry),
        first_order=first_order,
        decision=decide(
            error,
            jig.tolerance_rad,
            said=jig.tolerance_said,
            pieces=jig.pieces,
            needs_kept=shown.way == "split of the angles",
        ),
        nominal_rad=nominal_rad,
        kept=jig.kept,
        candidates=tuple(_candidate(kept, shown.piece_error(kept, nominal_rad) + doubt, jig) for kept in sides),
        notes=notes,
        piece=shown.piece,
        trace=shown.tracer.trace(shown.rule_formula, first_order.angle_rad),
    )
    return with_plan(found)


def _legs_traced(
    left: Quantity, right: Quantity, corner: Quantity, kept: Kept | None, angle_left: Quantity, angle_right: Quantity
) -> Tracer:
    """From the legs to the angle at the leg that lay at the fence, the left one's when that is not known."""
    tracer = Tracer()
    tracer.give("left_leg", "left leg", left.value, "mm")
    tracer.give("right_leg", "right leg", right.value, "mm")
    tracer.give("corner", "corner of the test piece", math.degrees(corner.value), "deg")
    trace_leg_angle(
        tracer,
        ("right_leg", right.value, "left_leg", left.value)
        if kept == "left"
        else ("left_leg", left.value, "right_leg", right.value),
        corner.value,
        angle_right.value if kept == "left" else angle_left.value,
    )
    return tracer


def trace_leg_angle(
    tracer: Tracer, legs: tuple[str, float, str, float], corner_rad: float, angle_rad: float, name: str = "angle"
) -> None:
    """The angle between the cut and the first of two legs, each a name and mm, as `leg_angles` has it."""
    leg, leg_mm, other, other_mm = legs
    along = "" if corner_rad == CORNER_RAD else f" - {other} x cos(corner)"
    across = other if corner_rad == CORNER_RAD else f"{other} x sin(corner)"
    below = leg if not along else f"({leg}{along})"
    formula = f"atan({across} / {below})"
    if leg_mm < other_mm * math.cos(corner_rad):
        formula = f"180 + {formula}"
    tracer.line(
        f"Angle between the cut and the {leg.replace('_', ' ')}", f"{name} = {formula}", math.degrees(angle_rad), "deg"
    )


def _angles_traced(
    angle_left: Quantity, angle_right: Quantity, split_error: Quantity | None, kept: Kept | None
) -> Tracer:
    tracer = Tracer()
    if kept is None and split_error is not None:
        words = "half of what the right angle is more than the left"
        tracer.give("split", words, math.degrees(split_error.value), "deg")
        return tracer
    if kept != "left":
        tracer.give("angle", "angle between the cut and the left leg", math.degrees(angle_left.value), "deg")
    if kept != "right":
        name = "angle" if kept == "left" else "right_angle"
        tracer.give(name, "angle between the cut and the right leg", math.degrees(angle_right.value), "deg")
    return tracer


def _error_traced(shown: _Shown, kept: Kept | None, nominal_rad: float, error_rad: float) -> None:
    tracer, words = shown.tracer, "Error of the fence, + counterclockwise"
    if kept is not None:
        true_deg = math.degrees(math.pi / 2 - nominal_rad)
        tracer.give("true", "true angle at the leg that lay at the fence", true_deg, "deg")
        formula = "true - angle" if kept == "left" else "angle - true"
    elif shown.way == "legs":
        words = f"What it is over half of both angles: {words[0].lower()}{words[1:]}"
        formula = "angle - (180 - corner) / 2"
    else:
        formula = "-split" if "split" in tracer else "(angle - right_angle) / 2"
    tracer.line(words, f"error = {formula}", math.degrees(error_rad), "deg")


def rule_formula(kept: Kept | None, nominal_rad: float, width_mm: float | None = None) -> str:
    """What `rule_of_45` and `rule_of_others` give, in the names of the legs."""
    if is_45(nominal_rad):
        width = "((left_leg + right_leg) / 2)" if width_mm is None else f"{width_mm:.10g}"
        return f"(right_leg - left_leg) / 2 / {width}"
    leg, end = ("right_leg", "left_leg") if kept == "left" else ("left_leg", "right_leg")
    return f"{'-' if kept == 'left' else ''}({end} - {leg} x tan(true)) x cos(true)^2 / {leg}"


def _candidate(kept: Kept, error: Quantity, jig: Jig) -> Candidate:
    return Candidate(kept, error, distance_at_lever(error, jig.lever), turn_against(error))


def _either_leg(half_difference: Quantity, corner: Quantity) -> Quantity:
    """The half difference, plus or minus half of what the corner is off, when the leg at the fence is not known.

    Both signs are as likely, which makes half of the corner's departure the standard uncertainty; the departure is
    itself uncertain, and as the sign is not known, that adds in squares. Source: closed form, the deviation of two
    equal chances.
    """
    half = 0.5 * math.hypot(corner.value - CORNER_RAD, corner.standard_uncertainty)
    source = "half of what the test piece's corner differs from 90 deg, as the leg at the fence is not known"
    return half_difference.with_influence(Influence("corner/either leg", "corner", source=source), half)


def rule_of_45(left_mm: float, right_mm: float, piece_width_mm: float | None) -> tuple[float, str]:
    """What shops reckon: half of the difference of the legs over the width (common practice), and it in words."""
    width, named = (piece_width_mm, "width") if piece_width_mm is not None else ((left_mm + right_mm) / 2, "mean leg")
    return (right_mm - left_mm) / 2 / width, f"difference of the legs / 2 / {named} x lever"


def rule_of_others(left_mm: float, right_mm: float, nominal_rad: float, kept: Kept | None) -> tuple[float, str]:
    """The like for any miter: (e - f tan N) cos^2(N) / f for end leg e, fence leg f and angle N at that leg."""
    at_fence_leg = math.pi / 2 - nominal_rad
    fence_leg, end_leg = (right_mm, left_mm) if kept == "left" else (left_mm, right_mm)
    ratio, cosine = math.tan(at_fence_leg), math.cos(at_fence_leg)
    angle = (end_leg - fence_leg * ratio) * cosine**2 / fence_leg
    rule = f"(end leg - {ratio:.5f} x fence leg) x {cosine**2:.5f} / fence leg x lever"
    return (-angle if kept == "left" else angle), rule


def is_45(nominal_rad: float) -> bool:
    """Whether a miter (rad from a square cut) is that of a corner of 90 deg."""
    return math.isclose(nominal_rad, NOMINAL_RAD, abs_tol=1e-9)


def _check_nominal(nominal_rad: float, kept: Kept | None) -> None:
    if not 0 < nominal_rad < math.pi / 2:
        raise InputError(
            f"A miter of {math.degrees(nominal_rad):g} deg leaves no triangle.",
            "Give the miter as shops say it, from a square cut: between 0 and 90 deg.",
        )
    if kept is None and not is_45(nominal_rad):
        raise InputError(
            f"For a miter of {math.degrees(nominal_rad):g} deg it must be known which leg lay at the fence.",
            "Say on which side of the blade the work was kept: left or right.",
        )


def check_corner(corner: Quantity) -> None:
    """Raise InputError for a test piece's corner (rad) more than 5 deg from 90 deg."""
    if not abs(corner.value - CORNER_RAD) <= CORNER_PLAUSIBLE_RAD:
        raise InputError(
            f"The test piece's corner is {math.degrees(corner.value):.2f} deg; it should be close to 90 deg.",
            "Was a digit misread? Cut the test piece from a board with a square end.",
            at_the_saw=True,
        )


def _check_tip(left_mm: float, right_mm: float, kept: Kept | None, piece_width_mm: float | None) -> tuple[Note, ...]:
    """The end leg (both, when it is not known which) as long as the piece is wide: the cut ran past the tip."""
    if piece_width_mm is None:
        return ()
    if not piece_width_mm > 0:
        raise InputError(f"The piece's width is {piece_width_mm:g} mm.", "Measure the width again.")
    end_leg_mm = {"left": left_mm, "right": right_mm, None: min(left_mm, right_mm)}[kept]
    if end_leg_mm >= piece_width_mm:
        which = "Both legs are" if kept is None else "The end leg is"
        raise InputError(
            f"{which} as long as the piece is wide ({piece_width_mm:g} mm) or longer: the cut ran past the tip, and "
            "the end leg shows the piece's width, not the fence.",
            "Cut again nearer to the end of the board, so that the offcut is a triangle with two whole tips.",
            at_the_saw=True,
        )
    if end_leg_mm > piece_width_mm - TIP_MARGIN_MM:
        message = f"The end leg is within {TIP_MARGIN_MM:g} mm of the piece's width."
        return (Note("tip-at-edge", message, "Make sure that the tip is whole; cut the next piece nearer to the end."),)
    return ()


def _corner_hides_it(corner: Quantity) -> Note:
    return Note(
        "corner-hides-it",
        f"The test piece's own corner ({math.degrees(corner.value):.3f} deg) makes the other leg the shorter one here.",
        "Go by the turn that is said, not by which leg looks short.",
    )
