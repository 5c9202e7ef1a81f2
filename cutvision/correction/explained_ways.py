"""The lines that belong to each way of finding the error: from what was read to the error and the shop's rule."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from cutvision.correction.angle_error import Kept
from cutvision.correction.explanation import DEG_PER_RAD_TEXT, Explanation, Number, Paper, Rule, explain, plain_figures
from cutvision.correction.gap import FrameGap, GapEnd
from cutvision.correction.miter import CORNER_RAD, NOMINAL_RAD
from cutvision.correction.result import Correction, Way
from cutvision.correction.square import STRIP_TURNS

_NEAR_RAD = 1e-9


@dataclass(frozen=True, slots=True)
class Zeroed:
    """A difference shown by a caliper that was zeroed on one of two readings: it stands in for the other.

    known_larger: whether the one that was read is the larger.
    """

    values_mm: Sequence[float]
    known_larger: bool


def explain_legs(
    correction: Correction,
    lefts_mm: Sequence[float],
    rights_mm: Sequence[float],
    corner_rad: float,
    piece_width_mm: float | None = None,
    zeroed: Zeroed | None = None,
) -> Explanation:
    """The calculation of `correct_miter_from_legs` from its readings; zeroed: in place of the leg that has none.

    With a right corner the angle at the fence leg is atan(end leg / fence leg), else atan(d sin c / (f - d cos c)).
    Raises ValueError for a correction found in another way.
    """
    _check(correction, "legs")
    kept, nominal_rad = correction.kept, correction.nominal_rad
    at_45 = math.isclose(nominal_rad, NOMINAL_RAD, abs_tol=_NEAR_RAD)
    width_mm = piece_width_mm if at_45 else None

    def write(paper: Paper) -> tuple[Number, Rule]:
        left, right = _pair(paper, ("L", "left leg", lefts_mm), ("R", "right leg", rights_mm), zeroed)
        corner = paper.give("c", "corner of the test piece", math.degrees(corner_rad), "deg")
        if kept is not None:
            true = paper.give("N", "true angle at the fence leg", 90 - math.degrees(nominal_rad), "deg")
        paper.close("readings")
        angle = _at_leg(paper, (right, left) if kept == "left" else (left, right), corner, kept)
        if kept is None:
            words = "What it exceeds half of both angles by: the fence's error, + counter-clockwise"
            half = (180 - corner.value) / 2
            error = paper.line(
                words, "E = a - (180 - c) / 2", f"{angle} - (180 - {corner}) / 2", angle.value - half, "deg"
            )
        elif kept == "left":
            words = _ERROR
            error = paper.line(words, "E = N - a", f"{true} - {angle}", true.value - angle.value, "deg")
        else:
            words = _ERROR
            error = paper.line(words, "E = a - N", f"{angle} - {true}", angle.value - true.value, "deg")
        if at_45:
            width = None if width_mm is None else paper.give("W", "width of the piece", width_mm, "mm")
            return error, _rule_of_45(left, right, width)
        return error, _rule_of_others(left, right, 90 - math.degrees(nominal_rad), kept)

    # The rule takes the width for the mean leg.
    stretch = 1.0
    if width_mm is not None:
        left_mm, right_mm = _means(lefts_mm, rights_mm, zeroed)
        stretch = (left_mm + right_mm) / 2 / width_mm

    def rule_at(error_rad: float) -> float | None:
        left, right = _legs_at(error_rad, kept, nominal_rad, corner_rad)
        if min(left, right) <= 0:
            return None
        if at_45:
            return stretch * (right - left) / (right + left)
        tangent = 1 / math.tan(nominal_rad)
        fence_leg, end_leg = (right, left) if kept == "left" else (left, right)
        return (end_leg / fence_leg - tangent) / (1 + tangent**2)

    return explain(correction, write, rule_at)


def explain_arms(
    correction: Correction,
    left_arm_mm: tuple[Sequence[float], Sequence[float]],
    right_arm_mm: tuple[Sequence[float], Sequence[float]],
    corner_rad: float,
) -> Explanation:
    """The calculation of `correct_arms_from_legs` for a V of 45 deg: each arm's error, the V's own angle, their mean.

    left_arm_mm, right_arm_mm: the readings of the left and the right leg of that arm's piece. Raises ValueError for a
    correction found in another way and for another miter.
    """
    _check(correction, "both arms by their legs")
    if not math.isclose(correction.nominal_rad, NOMINAL_RAD, abs_tol=_NEAR_RAD):
        raise ValueError("a V's arms are written out for miters of 45 deg")

    def write(paper: Paper) -> tuple[Number, Rule]:
        legs: dict[str, Number] = {}
        for arm, letters, readings in (("left", "AB", left_arm_mm), ("right", "CD", right_arm_mm)):
            for letter, side, values in zip(letters, ("left", "right"), readings, strict=True):
                legs[letter] = paper.read(letter, f"{side} leg of the piece from the {arm} arm", values)
        corner = paper.give("c", "corner of both test pieces", math.degrees(corner_rad), "deg")
        true = paper.give("N", "true angle at the fence leg", 45.0, "deg")
        paper.close("readings")
        at_left = _at_leg(paper, (legs["B"], legs["A"]), corner, "left", ("B", "A"))
        left = paper.line(
            "So the left arm is off by, + counter-clockwise",
            "Y = N - a",
            f"{true} - {at_left}",
            true.value - at_left.value,
            "deg",
        )
        at_right = _at_leg(paper, (legs["C"], legs["D"]), corner, "right", ("C", "D"))
        right = paper.line(
            "So the right arm is off by", "Z = a - N", f"{at_right} - {true}", at_right.value - true.value, "deg"
        )
        paper.line(
            "The V's own angle is off by, + too wide; no turning cures that",
            "Z - Y",
            f"{right} - {left}",
            right.value - left.value,
            "deg",
        )
        mean = (left.value + right.value) / 2
        error = paper.line("How far the V stands from true", "E = (Y + Z) / 2", f"({left} + {right}) / 2", mean, "deg")
        one, other = _rule_of_45(legs["A"], legs["B"], None), _rule_of_45(legs["C"], legs["D"], None)
        formula = "((B - A) / (A + B) + (D - C) / (C + D)) / 2"
        numbers = "(({B} - {A}) / ({A} + {B}) + ({D} - {C}) / ({C} + {D})) / 2".format(**legs)
        return error, Rule(formula, numbers, (one.value + other.value) / 2)

    def rule_at(error_rad: float) -> float | None:
        sides: tuple[Kept, ...] = ("left", "right")
        pairs = [_legs_at(error_rad, kept, NOMINAL_RAD, corner_rad) for kept in sides]
        return math.fsum((right - left) / (right + left) for left, right in pairs) / 2

    return explain(correction, write, rule_at)


def explain_widths(
    correction: Correction,
    at_fence_mm: Sequence[float],
    far_end_mm: Sequence[float],
    between_mm: Sequence[float],
    zeroed: Zeroed | None = None,
) -> Explanation:
    """The calculation of `correct_square_from_widths` from its readings, atan((A - B) / X) / turns.

    zeroed: in place of the width that has no reading. Raises ValueError for a correction found in another way.
    """
    _check(correction, "widths")
    turns = correction.turns or STRIP_TURNS
    sign = _sign(correction.kept, positive=turns == STRIP_TURNS)

    def write(paper: Paper) -> tuple[Number, Rule]:
        ends = ("A", "width at the fence", at_fence_mm), ("B", "width at the far end", far_end_mm)
        at_fence, far_end = _pair(paper, *ends, zeroed)
        between = paper.read("X", "distance between the readings", between_mm)
        paper.close("readings")
        wider = at_fence.value - far_end.value
        d = paper.line("How much wider it is at the fence", "D = A - B", f"{at_fence} - {far_end}", wider, "mm")
        q = paper.line(
            "Over the distance between the readings", "q = D / X", f"{d} / {between}", d.value / between.value, ""
        )
        angle = math.degrees(math.atan(q.value))
        a = paper.line("Its taper as an angle", "a = atan(q)", f"atan({q})", angle, "deg")
        minus = "-" if sign < 0 else ""
        words = f"The taper is {turns} times the error{_TURNED if sign < 0 else ''}"
        error = paper.line(words, f"E = {minus}a / {turns}", f"{minus}{a} / {turns}", sign * a.value / turns, "deg")
        value = sign * d.value / between.value / turns
        return error, Rule(f"{minus}D / X / {turns}", f"{minus}{d} / {between} / {turns}", value)

    return explain(correction, write, lambda error_rad: math.tan(turns * error_rad) / turns)


def explain_direct(
    correction: Correction, gaps_mm: Sequence[float], overs_mm: Sequence[float], gap_at: GapEnd
) -> Explanation:
    """The calculation of `correct_direct` from its readings, atan(gap / over).

    Raises ValueError for a correction found in another way.
    """
    _check(correction, "gap beside a square")
    sign = _sign(correction.kept, positive=gap_at == "far")

    def write(paper: Paper) -> tuple[Number, Rule]:
        return _wedge(paper, gaps_mm, overs_mm, sign, 1)

    return explain(correction, write, math.tan)


def explain_protractor(correction: Correction, readings_rad: Sequence[float]) -> Explanation:
    """The calculation of `correct_by_protractor` from its readings, reading less what would be true.

    Raises ValueError for a correction found in another way.
    """
    _check(correction, "reading of a protractor")
    nominal_deg = math.degrees(correction.nominal_rad)
    shown_deg = math.degrees(math.fsum(readings_rad) / len(readings_rad))
    error_deg = math.degrees(correction.angle_error.value)
    # The scale was chosen by the core: of the true settings the one that gives the core's own error.
    settings = ((nominal_deg, True), (90 + nominal_deg, True), (90 - nominal_deg, False))
    true_deg, sign = min(
        ((true, _sign(correction.kept, positive=positive)) for true, positive in settings),
        key=lambda setting: abs(setting[1] * (shown_deg - setting[0]) - error_deg),
    )

    def write(paper: Paper) -> tuple[Number, Rule]:
        shown = paper.read("a", "what the protractor shows", [math.degrees(value) for value in readings_rad], "deg")
        true = paper.give("N", "what it would show at a true fence", true_deg, "deg")
        paper.close("readings")
        first, then = (shown, true) if sign > 0 else (true, shown)
        formula = "E = a - N" if sign > 0 else "E = N - a"
        error = paper.line(_ERROR, formula, f"{first} - {then}", first.value - then.value, "deg")
        value = error.value / float(DEG_PER_RAD_TEXT)
        return error, Rule(f"E / {DEG_PER_RAD_TEXT}", f"{error} / {DEG_PER_RAD_TEXT}", value)

    return explain(correction, write, lambda error_rad: error_rad)


def explain_facing(
    correction: Correction, gaps_mm: Sequence[float], overs_mm: Sequence[float], gap_at: GapEnd
) -> Explanation:
    """The calculation of `correct_facing` from its readings, atan(gap / over) / 2.

    Raises ValueError for a correction found in another way.
    """
    _check(correction, "two pieces face to face")
    sign = _sign(correction.kept, positive=gap_at == "fence")

    def write(paper: Paper) -> tuple[Number, Rule]:
        return _wedge(paper, gaps_mm, overs_mm, sign, 2)

    return explain(correction, write, lambda error_rad: math.tan(2 * error_rad) / 2)


def explain_frame(
    correction: Correction, gaps_mm: Sequence[float], stocks_mm: Sequence[float], sides: int, gap_at: FrameGap
) -> Explanation:
    """The calculation of `correct_frame` from its readings, asin(gap / (2 face)) / sides.

    Raises ValueError for a correction found in another way.
    """
    _check(correction, "last joint of a frame")
    sign = _sign(correction.kept, positive=gap_at == "heel")

    def write(paper: Paper) -> tuple[Number, Rule]:
        gap = paper.read("g", "gap at the last joint", gaps_mm)
        stock = paper.read("b", "width of the sides", stocks_mm)
        n = paper.give("n", "count of the sides", float(sides), "")
        paper.close("readings")
        minus = "-" if sign < 0 else ""
        over_sign = _sign(correction.kept, positive=True)
        over, joint, slant_words, slant_numbers = 0.0, "Length of a joint of true cuts", "180 / n", f"180 / {n}"
        while True:
            slant = math.cos(math.radians(180 / sides + over))
            face = paper.line(
                joint, f"f = b / cos({slant_words})", f"{stock} / cos({slant_numbers})", stock.value / slant, "mm"
            )
            q = paper.line(
                "Half of the gap over it", "q = g / 2 / f", f"{gap} / 2 / {face}", gap.value / 2 / face.value, ""
            )
            half = math.degrees(math.asin(q.value))
            h = paper.line("Half of the opening", "h = asin(q)", f"asin({q})", half, "deg")
            words = f"Both halves hold the errors of {2 * sides} cuts{_TURNED if sign < 0 else ''}"
            error = paper.line(
                words, f"E = {minus}2 x h / (2 x n)", f"{minus}2 x {h} / (2 x {n})", sign * h.value / sides, "deg"
            )
            before, over = over, over_sign * error.value
            if abs(over - before) <= CLOSE_DEG:
                break
            joint = "The same with the cuts as they are, by the error so far"
            operation = "+" if over_sign > 0 else "-"
            slant_words, slant_numbers = f"180 / n {operation} E", f"180 / {n} {operation} {error}"
        true_face = stock.value / math.cos(math.pi / sides)
        value = sign * gap.value / true_face / (2 * sides)
        numbers = f"{minus}{gap} / ({stock} / cos(180 / {n})) / (2 x {n})"
        return error, Rule(f"{minus}g / (b / cos(180 / n)) / (2 x n)", numbers, value)

    def rule_at(error_rad: float) -> float:
        over_rad = error_rad * _sign(correction.kept, positive=True)
        return math.cos(math.pi / sides) / math.cos(math.pi / sides + over_rad) * math.sin(sides * error_rad) / sides

    return explain(correction, write, rule_at)


# Rounds of the frame's calculation end where they change nothing that is printed.
CLOSE_DEG = 2e-6
_ERROR = "Error of the fence, + counter-clockwise"
_TURNED = ", and on this side it counts the other way"


def _check(correction: Correction, way: Way) -> None:
    if correction.way != way:
        raise ValueError(f"a correction from {correction.way} is not explained as one from {way}")


def _sign(kept: Kept | None, *, positive: bool) -> int:
    """Whether the error has the sign of what was read: see `correction.corner_excess`."""
    return (1 if positive else -1) * (-1 if kept == "right" else 1)


def _pair(
    paper: Paper, one: tuple[str, str, Sequence[float]], other: tuple[str, str, Sequence[float]], zeroed: Zeroed | None
) -> tuple[Number, Number]:
    """Two readings, each a letter, what it is and its values; or one of them and the difference."""
    if zeroed is None:
        return paper.read(*one), paper.read(*other)
    known, missing = (one, other) if one[2] else (other, one)
    read = paper.read(*known)
    z = paper.read("z", f"difference, caliper zeroed on the {known[1]}", zeroed.values_mm)
    sign = "-" if zeroed.known_larger else "+"
    value = read.value - z.value if zeroed.known_larger else read.value + z.value
    words = f"The {missing[1]}"
    found = paper.line(words, f"{missing[0]} = {known[0]} {sign} z", f"{read} {sign} {z}", value, "mm")
    return (read, found) if one[2] else (found, read)


def _means(ones: Sequence[float], others: Sequence[float], zeroed: Zeroed | None) -> tuple[float, float]:
    """The two lengths of `_pair`, unrounded."""
    if zeroed is None:
        return _mean(ones), _mean(others)
    step = _mean(zeroed.values_mm) * (-1 if zeroed.known_larger else 1)
    return (_mean(ones), _mean(ones) + step) if ones else (_mean(others) + step, _mean(others))


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)


def _wedge(
    paper: Paper, gaps_mm: Sequence[float], overs_mm: Sequence[float], sign: int, times: int
) -> tuple[Number, Rule]:
    """A gap over a length, which shows the error so many times."""
    gap = paper.read("g", "gap", gaps_mm)
    over = paper.read("l", "length from where the edges touch to the gap", overs_mm)
    paper.close("readings")
    q = paper.line("The gap over the length", "q = g / l", f"{gap} / {over}", gap.value / over.value, "")
    angle = math.degrees(math.atan(q.value))
    a = paper.line("The angle that opens so", "a = atan(q)", f"atan({q})", angle, "deg")
    minus = "-" if sign < 0 else ""
    shows = "It shows the error" + (" twice" if times == 2 else "")
    words = shows + (_TURNED if sign < 0 else "")
    error = paper.line(words, f"E = {minus}a / {times}", f"{minus}{a} / {times}", sign * a.value / times, "deg")
    value = sign * gap.value / over.value / times
    return error, Rule(f"{minus}g / l / {times}", f"{minus}{gap} / {over} / {times}", value)


def _at_leg(
    paper: Paper,
    legs: tuple[Number, Number],
    corner: Number,
    kept: Kept | None,
    letters: tuple[str, str] | None = None,
) -> Number:
    """The angle, in deg, between the cut and the first of two legs. letters: of both, where not L and R."""
    first, other = legs
    f, d = letters or (("R", "L") if kept == "left" else ("L", "R"))
    where = f"the {'right' if kept == 'left' else 'left'} leg" + ("" if kept is None else ", which lay at the fence")
    if corner.value == math.degrees(CORNER_RAD):
        q = paper.line(
            f"The other leg over {where}", f"q = {d} / {f}", f"{other} / {first}", other.value / first.value, ""
        )
    else:
        sine, cosine = math.sin(math.radians(corner.value)), math.cos(math.radians(corner.value))
        h = paper.line(
            f"How far the other leg reaches across {where}",
            f"h = {d} x sin(c)",
            f"{other} x sin({corner})",
            other.value * sine,
            "mm",
        )
        b = paper.line(
            "What is left along it",
            f"b = {f} - {d} x cos(c)",
            f"{first} - {other} x cos({corner})",
            first.value - other.value * cosine,
            "mm",
        )
        q = paper.line("The one over the other", "q = h / b", f"{h} / {b}", h.value / b.value, "")
    words = f"Angle between the cut and {where}"
    angle = math.degrees(math.atan(q.value))
    if q.value >= 0:
        return paper.line(words, "a = atan(q)", f"atan({q})", angle, "deg")
    return paper.line(f"{words}, past 90 deg", "a = 180 + atan(q)", f"180 + atan({q})", 180 + angle, "deg")


def _rule_of_45(left: Number, right: Number, width: Number | None) -> Rule:
    difference = right.value - left.value
    if width is None:
        value = difference / (left.value + right.value)
        return Rule("(R - L) / 2 / ((L + R) / 2)", f"({right} - {left}) / 2 / (({left} + {right}) / 2)", value)
    return Rule("(R - L) / 2 / W", f"({right} - {left}) / 2 / {width}", difference / 2 / width.value)


def _rule_of_others(left: Number, right: Number, at_fence_leg_deg: float, kept: Kept | None) -> Rule:
    true = plain_figures(at_fence_leg_deg)
    (f, first), (d, other) = (("R", right), ("L", left)) if kept == "left" else (("L", left), ("R", right))
    minus = "-" if kept == "left" else ""
    tangent = math.tan(math.radians(float(true)))
    value = (other.value - first.value * tangent) / (1 + tangent**2) / first.value
    return Rule(
        f"{minus}({d} - {f} x tan(N)) x cos(N)^2 / {f}",
        f"{minus}({other} - {first} x tan({true})) x cos({true})^2 / {first}",
        -value if kept == "left" else value,
    )


def _legs_at(error_rad: float, kept: Kept | None, nominal_rad: float, corner_rad: float) -> tuple[float, float]:
    """The left and right leg, to any scale, of the piece that a fence so far off cuts (law of sines)."""
    both_rad = math.pi - corner_rad
    if kept == "left":
        angle_right = math.pi / 2 - nominal_rad - error_rad
    elif kept == "right":
        angle_right = both_rad - (math.pi / 2 - nominal_rad + error_rad)
    else:
        angle_right = both_rad / 2 - error_rad
    return math.sin(angle_right), math.sin(both_rad - angle_right)
