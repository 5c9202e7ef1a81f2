"""Every method's stated uncertainty against Monte Carlo draws and against an independent package.

Both go through the method's formula, written once more from the drawing. Source of the draws: JCGM 101:2008, clause 7:
draw the inputs, work out the result for each draw, look at its spread. The package is `uncertainties`.
Every influence is drawn as a normal deviate, once for all the inputs that share it.

Where the inputs are built here, their half-widths are the program's stated defaults: 0.03 mm for a reading and for a
caliper's limit over 100 mm, 0.05 mm for half of what a tip may lose and for a gap, 1 mm for a rule, 0.05 deg for a
corner and a protractor, 0.03 deg for a square, each over the root of three; edges are rough by 0.03 mm RMS over 1 mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any, Literal

import numpy as np
import pytest
from uncertainties import covariance_matrix, ufloat, umath

from cutvision.correction import (
    Correction,
    Jig,
    JointGap,
    Joints,
    Kept,
    LegPair,
    ReadingCare,
    correct_arms_from_angles,
    correct_arms_from_legs,
    correct_assembly,
    correct_by_protractor,
    correct_direct,
    correct_facing,
    correct_frame,
    correct_miter_from_angles,
    correct_miter_from_legs,
    correct_square_from_taper,
    correct_square_from_widths,
    typed_angle,
    typed_corner,
    typed_distance,
    typed_gap,
    typed_gauge,
    typed_legs,
    typed_legs_by_difference,
    typed_protractor,
    typed_widths,
    typed_widths_by_difference,
)
from cutvision.correction.adjustments import judge_run, move_made, shown_by_cut
from cutvision.correction.gap import joint_opening
from cutvision.uncertainty import Influence, Quantity

DRAWS = 200_000
# The standard deviation of so many normal draws is uncertain by 0.16 %; the rest is what first order leaves out.
SPREAD_AGREES = 0.01
# The mean of the draws lies off the value by curvature only: a small part of the uncertainty.
MEAN_AGREES = 0.02
FLOAT_NOISE = 1e-9
BESIDE = {"edge form", "closed joints"}
CARE = ReadingCare()
LEVER = typed_distance(380.0, "lever", CARE)

Model = Callable[..., Any]


class Draws:
    """Deviates by influence, one array for each, the same wherever the influence appears."""

    def __init__(self, seed: int) -> None:
        self._random = np.random.default_rng(seed)
        self._deviates: dict[Influence, np.ndarray] = {}

    def of(self, influence: Influence) -> np.ndarray:
        return self._deviates.setdefault(influence, self._random.standard_normal(DRAWS))

    def around(self, quantity: Quantity) -> Any:
        return quantity.value + sum((part * self.of(one) for one, part in quantity.components.items()), np.zeros(DRAWS))


def agree(stated: Quantity, inputs: Mapping[str, Quantity], model: Model) -> None:
    """The draws spread as stated about the stated value, and the package states the same."""
    draws = Draws(20261125)
    result = model(np, **{name: draws.around(quantity) for name, quantity in inputs.items()})
    u = stated.standard_uncertainty
    assert np.std(result) == pytest.approx(u, rel=SPREAD_AGREES)
    assert np.mean(result) == pytest.approx(stated.value, abs=MEAN_AGREES * u)
    ones: dict[Influence, Any] = {}
    packed = model(umath, **{name: packaged(quantity, ones) for name, quantity in inputs.items()})
    assert (packed.n, packed.s) == pytest.approx((stated.value, u), rel=FLOAT_NOISE)


def check(correction: Correction, inputs: Mapping[str, Quantity], model: Model) -> None:
    """The error and the move agree. What a method says of wood and joints beside its inputs is simply added."""
    error, lever = correction.angle_error, correction.move.lever
    beside = {one: part for one, part in error.components.items() if one.name in BESIDE and one.key == one.name}
    inputs = {**inputs, "beside": Quantity(0.0, "rad", beside)}

    def with_wood(m: Any, beside: Any, **drawn: Any) -> Any:
        return model(m, **drawn) + beside

    def move(m: Any, lever: Any, **drawn: Any) -> Any:
        # signed, so that a move near nothing is not folded over
        return math.copysign(1.0, error.value) * lever * m.tan(with_wood(m, **drawn))

    agree(error, inputs, with_wood)
    agree(correction.fence_move, {**inputs, "lever": lever}, move)


def doubt(half_width: float, key: str) -> Quantity:
    """Nothing in value, within a rectangular half-width: of one influence that is this file's own."""
    return Quantity(0.0, "mm", {Influence(f"drawn here: {key}", key): half_width / math.sqrt(3)})


def rough(length_mm: float, key: str) -> Quantity:
    """The direction of a rough edge so long: s sqrt(24 c / L^3), the slope's doubt in a least-squares line."""
    return Quantity(0.0, "rad", {Influence(f"edge: {key}", key): 0.03 * math.sqrt(24 * 1.0 / length_mm**3)})


def packaged(quantity: Quantity, ones: dict[Influence, Any]) -> Any:
    """The quantity as the package holds it, each influence one variable of its own."""
    return quantity.value + sum(
        part * ones.setdefault(one, ufloat(0.0, 1.0)) for one, part in quantity.components.items()
    )


@pytest.mark.parametrize("kept", ["left", "right"])
@pytest.mark.parametrize("nominal_deg", [22.5, 45.0])
def test_miter_from_legs(kept: Kept, nominal_deg: float) -> None:
    """The law of cosines and of sines in the triangle of the two legs and the corner."""
    tangent = math.tan(math.radians(90 - nominal_deg))
    legs = (100.0 * tangent + 0.4, 100.0) if kept == "left" else (100.0, 100.0 * tangent + 0.4)
    left, right = typed_legs(*legs, CARE)
    corner = typed_corner(math.radians(90.04), CARE)
    nominal = math.radians(nominal_deg)

    def model(m: Any, left: Any, right: Any, corner: Any) -> Any:
        cut = m.sqrt(left**2 + right**2 - 2 * left * right * m.cos(corner))
        angle_left = m.acos((cut**2 + left**2 - right**2) / (2 * cut * left))
        angle_right = np.pi - corner - angle_left
        at_fence_leg = np.pi / 2 - nominal
        return at_fence_leg - angle_right if kept == "left" else angle_left - at_fence_leg

    correction = correct_miter_from_legs(left, right, corner, Jig(LEVER, kept), nominal_rad=nominal)
    check(correction, {"left": left, "right": right, "corner": corner}, model)


@pytest.mark.parametrize("turns", [2, 4])
def test_square_from_widths(turns: int) -> None:
    """The tangent of the taper; four turns for the strip, two, the other way round, for the board."""
    at, far = typed_widths(25.0, 24.8, CARE)
    between = typed_distance(400.0, "between", CARE)
    sign = 1 if turns == 4 else -1

    def model(m: Any, at: Any, far: Any, between: Any) -> Any:
        return sign * m.atan2(at - far, between) / turns

    correction = correct_square_from_widths(at, far, between, Jig(LEVER, "left"), turns=turns)
    check(correction, {"at": at, "far": far, "between": between}, model)


def test_square_from_a_taper() -> None:
    """A quarter of the taper."""
    taper = Quantity(math.radians(0.12), "rad", {Influence("photo", "edge points"): math.radians(0.01)})
    correction = correct_square_from_taper(taper, Jig(LEVER, "right"), edge_form_rad=math.radians(0.004))
    check(correction, {"taper": taper}, lambda _m, taper: -taper / 4)


@pytest.mark.parametrize("kept", ["left", "right"])
def test_direct(kept: Kept) -> None:
    """The gap's tangent beside a square with an error of its own."""
    gap, over, gauge = typed_gap(0.4, CARE), typed_distance(200.0, "over", CARE), typed_gauge(CARE)
    sign = 1 if kept == "left" else -1

    def model(m: Any, gap: Any, over: Any, gauge: Any) -> Any:
        return sign * (m.atan2(gap, over) + gauge)

    correction = correct_direct(gap, over, "far", gauge, Jig(LEVER, kept))
    check(correction, {"gap": gap, "over": over, "gauge": gauge}, model)


def test_facing() -> None:
    """Half of the wedge between two cuts."""
    gap, over = typed_gap(0.5, CARE), typed_distance(300.0, "over", CARE)

    def model(m: Any, gap: Any, over: Any) -> Any:
        return m.atan2(gap, over) / 2

    check(correct_facing(gap, over, "fence", Jig(LEVER, "left")), {"gap": gap, "over": over}, model)


@pytest.mark.parametrize("sides", [4, 6, 8])
def test_frame(sides: int) -> None:
    """The chord over the joint's face, shared by two ends of every side."""
    gap, stock = typed_gap(1.2, CARE), typed_distance(60.0, "stock", CARE)

    def model(m: Any, gap: Any, stock: Any) -> Any:
        error = 0.0
        for _ in range(20):  # the cuts as they are
            face = stock / m.cos(math.pi / sides + error)
            error = 2 * m.asin(gap / 2 / face) / (2 * sides)
        return error

    check(correct_frame(gap, stock, sides, "heel", Jig(LEVER, "left")), {"gap": gap, "stock": stock}, model)


@pytest.mark.parametrize("kept", ["left", "right", None])
def test_miter_from_angles(kept: Kept | None) -> None:
    """The fence leg's angle as a photo gives it; half of the difference, and of the corner's departure, without it."""
    shared = Influence("photo", "print")
    angles = {
        "left": Quantity(math.radians(45.06), "rad", {Influence("l", "edges"): 1e-4, shared: 2e-4}),
        "right": Quantity(math.radians(44.9), "rad", {Influence("r", "edges"): 1e-4, shared: -2e-4}),
    }
    corner = Quantity(math.radians(90.04), "rad", {Influence("c", "edges"): 3e-4})
    either = Quantity(0.0, "rad", {Influence("sign", "sign"): math.hypot(math.radians(0.04), 3e-4) / 2})
    correction = correct_miter_from_angles(
        angles["left"], angles["right"], corner, Jig(LEVER, kept), edge_form_rad=5e-5
    )

    def model(_m: Any, left: Any, right: Any, either: Any) -> Any:
        if kept is None:
            return (left - right) / 2 + either
        return np.pi / 4 - right if kept == "left" else left - np.pi / 4

    check(correction, {**angles, "either": either}, model)


def fence_leg_angles(m: Any, left: Any, right: Any, corner: Any) -> tuple[Any, Any]:
    """The angles at the cut, left and right: law of cosines, and the sum of a triangle's angles."""
    cut = m.sqrt(left**2 + right**2 - 2 * left * right * m.cos(corner))
    angle_left = m.acos((cut**2 + left**2 - right**2) / (2 * cut * left))
    return angle_left, np.pi - corner - angle_left


@pytest.mark.parametrize("same_corner", [True, False])
@pytest.mark.parametrize("nominal_deg", [22.5, 45.0])
def test_both_arms_by_their_legs(nominal_deg: float, *, same_corner: bool) -> None:
    """Two triangles: each arm's error, their mean and the V's own angle.

    What both share: the caliper, which errs alike in both end legs and in both fence legs (in all four at 45 deg); and
    the corner, when it is the same.
    """
    nominal, tangent = math.radians(nominal_deg), math.tan(math.radians(90 - nominal_deg))
    lengths = {"left": (100.5 * tangent + 0.3, 100.5), "right": (101.2, 101.2 * tangent - 0.2)}
    pairs = [LegPair(*typed_legs(*lengths[arm], CARE)) for arm in ("left", "right")]
    corner = typed_corner(math.radians(90.03), CARE)
    found = correct_arms_from_legs(*pairs, corner, Jig(LEVER), nominal_rad=nominal, same_corner=same_corner)
    inputs: dict[str, Quantity] = {}
    for arm, (left, right) in lengths.items():
        end = "left" if arm == "left" else "right"
        for leg, length in (("left", left), ("right", right)):
            role = "all" if nominal_deg == 45 else "end" if leg == end else "fence"
            parts = (
                doubt(0.03, f"reading {arm} {leg}"),
                doubt(0.05, f"tip {arm} {leg}"),
                doubt(0.03, f"caliper {role}"),
            )
            inputs[f"{arm}_{leg}"] = parts[0] + parts[1] + parts[2] + length
        whose = "both" if same_corner else arm
        part = Influence(f"drawn here: corner {whose}", "corner")
        inputs[f"{arm}_corner"] = Quantity(corner.value, "rad", {part: math.radians(0.05) / math.sqrt(3)})
        cut = math.hypot(left, right)
        inputs[f"{arm}_wood"] = rough(cut, f"{arm} cut") + rough(right if arm == "left" else left, f"{arm} leg")

    def left_arm(m: Any, **q: Any) -> Any:
        shown = fence_leg_angles(m, q["left_left"], q["left_right"], q["left_corner"])[1]
        return np.pi / 2 - nominal - shown + q["left_wood"]

    def right_arm(m: Any, **q: Any) -> Any:
        shown = fence_leg_angles(m, q["right_left"], q["right_right"], q["right_corner"])[0]
        return shown - (np.pi / 2 - nominal) + q["right_wood"]

    check_v(found, inputs, left_arm, right_arm)


def check_v(found: Correction, inputs: Mapping[str, Quantity], left_arm: Model, right_arm: Model) -> None:
    """Each arm alone and the move that trues it, the mean and its move, and the angle between the arms."""
    assert found.arms is not None
    for arm, model, alone in zip(
        (found.arms.left, found.arms.right), (left_arm, right_arm), found.candidates, strict=True
    ):
        agree(arm, inputs, model)
        sign = math.copysign(1.0, arm.value)
        agree(
            alone.fence_move,
            {**inputs, "lever": LEVER},
            lambda m, lever, model=model, sign=sign, **q: sign * lever * m.tan(model(m, **q)),
        )
    agree(found.arms.opening, inputs, lambda m, **q: right_arm(m, **q) - left_arm(m, **q))
    agree(found.angle_error, inputs, lambda m, **q: (left_arm(m, **q) + right_arm(m, **q)) / 2)
    sign = math.copysign(1.0, found.angle_error.value)
    agree(
        found.fence_move,
        {**inputs, "lever": LEVER},
        lambda m, lever, **q: sign * lever * m.tan((left_arm(m, **q) + right_arm(m, **q)) / 2),
    )


def test_both_arms_by_their_angles() -> None:
    """The angle at each fence leg within a 95 % bound, the legs 80 mm long; the cut is 80 / cos 67.5 deg at 22.5."""
    nominal = math.radians(22.5)
    shown = {"left": math.radians(67.4), "right": math.radians(67.55)}
    typed = [typed_angle(shown[arm], math.radians(0.02), f"{arm} arm") for arm in ("left", "right")]
    found = correct_arms_from_angles(*typed, Jig(LEVER), nominal_rad=nominal, leg_mm=80.0)
    inputs = {
        arm: Quantity(angle, "rad", {Influence(f"shown {arm}", "angle"): math.radians(0.01)})
        + rough(80.0, f"{arm} leg")
        + rough(80.0 / math.cos(math.radians(67.5)), f"{arm} cut")
        for arm, angle in shown.items()
    }
    check_v(
        found,
        inputs,
        lambda _m, left, right: np.pi / 2 - nominal - left + 0 * right,
        lambda _m, left, right: right - (np.pi / 2 - nominal) + 0 * left,
    )


def test_the_opening_of_a_joint() -> None:
    """The angle at the tip of a triangle with two sides as long as the joint and the gap between them."""
    gap, face = typed_gap(1.1, CARE), typed_distance(85.0, "face", CARE)
    # law of cosines, not the half angle's sine
    agree(
        joint_opening(gap, face),
        {"gap": gap, "face": face},
        lambda m, gap, face: m.acos((2 * face**2 - gap**2) / (2 * face**2)),
    )


JOINTS = {"left_pair": (0.5, "heel"), "right_pair": (0.35, "toe"), "mixed": (0.42, "heel")}


@pytest.mark.parametrize("without", ["left_pair", "right_pair", "mixed", None])
def test_assembly(without: str | None) -> None:
    """Two joints, any, or all three: the pairs open by twice an arm's error, the mixed joint by their difference.

    Length of the joint and square are shared, gap and edges (two faces of 85 mm) are each joint's own. Of three joints
    the two ways to each arm are weighed so that the sum has the least variance.
    """
    told = {name: how for name, how in JOINTS.items() if name != without}
    joints = Joints(**{name: JointGap(typed_gap(gap, CARE), end) for name, (gap, end) in told.items()})  # type: ignore[arg-type]
    face, gauge = typed_distance(85.0, "face", CARE), typed_gauge(CARE)
    found = correct_assembly(joints, face, gauge, Jig(LEVER))
    inputs = {
        "face": doubt(1.0, "face") + 85.0,
        "square": Quantity(0.0, "rad", {Influence("square", "square"): math.radians(0.03) / math.sqrt(3)}),
    }
    for name, (gap, _) in told.items():
        inputs[name] = doubt(0.05, f"gap {name}") + gap
        inputs[f"wood_{name}"] = rough(85.0, f"{name} one") + rough(85.0, f"{name} other")

    def opened(m: Any, name: str, q: Mapping[str, Any]) -> Any:
        sign = 1 if told[name][1] == "heel" else -1
        return sign * 2 * m.asin(q[name] / 2 / q["face"]) + q[f"wood_{name}"] + q["square"]

    ways: dict[str, list[Model]] = {"left": [], "right": []}
    if without != "left_pair":
        ways["left"].append(lambda m, **q: opened(m, "left_pair", q) / 2)
    if without != "right_pair":
        ways["right"].append(lambda m, **q: -opened(m, "right_pair", q) / 2)
    if without not in {"right_pair", "mixed"}:
        ways["left"].append(lambda m, **q: opened(m, "mixed", q) - opened(m, "right_pair", q) / 2)
    if without not in {"left_pair", "mixed"}:
        ways["right"].append(lambda m, **q: opened(m, "left_pair", q) / 2 - opened(m, "mixed", q))
    check_v(found, inputs, lightest(ways["left"], inputs), lightest(ways["right"], inputs))


def lightest(ways: list[Model], inputs: Mapping[str, Quantity]) -> Model:
    """One way, or of two the weighted mean whose variance is least, by the package's own covariance (closed form)."""
    if len(ways) == 1:
        return ways[0]
    first, second = ways
    ones: dict[Influence, Any] = {}
    packed = {name: packaged(quantity, ones) for name, quantity in inputs.items()}
    matrix = covariance_matrix([first(umath, **packed), second(umath, **packed)])
    weight = (matrix[1][1] - matrix[0][1]) / (matrix[0][0] + matrix[1][1] - 2 * matrix[0][1])
    return lambda m, **q: weight * first(m, **q) + (1 - weight) * second(m, **q)


@pytest.mark.parametrize("known", ["left", "right"])
@pytest.mark.parametrize("shorter", ["left", "right"])
def test_miter_from_a_leg_and_the_difference(known: Kept, shorter: Kept) -> None:
    """The leg by the caliper; the other less or more by what the caliper, zeroed on it, shows: read twice, no scale."""
    legs = typed_legs_by_difference(101.6, known, 0.31, shorter, CARE)
    corner = typed_corner(math.radians(90.02), CARE)
    correction = correct_miter_from_legs(*legs, corner, Jig(LEVER, "left"))
    inputs = {
        "leg": doubt(0.03, "reading") + doubt(0.03, "caliper") + 101.6,
        "difference": doubt(0.03, "zeroing") + doubt(0.03, "reading the difference") + 0.31,
        "tip_left": doubt(0.05, "tip left"),
        "tip_right": doubt(0.05, "tip right"),
        "corner": corner,
    }

    def model(m: Any, leg: Any, difference: Any, tip_left: Any, tip_right: Any, corner: Any) -> Any:
        other = leg + difference if shorter == known else leg - difference
        left, right = (leg, other) if known == "left" else (other, leg)
        return np.pi / 4 - fence_leg_angles(m, left - tip_left, right - tip_right, corner)[1]

    check(correction, inputs, model)


@pytest.mark.parametrize("known", ["fence", "far"])
@pytest.mark.parametrize("turns", [2, 4])
def test_square_from_a_width_and_the_difference(turns: int, known: Literal["fence", "far"]) -> None:
    """Wider at the fence by what the zeroed caliper shows; a caliper below 100 mm has a limit of 0.02 mm."""
    at, far = typed_widths_by_difference(24.9, known, 0.21, "fence", CARE)
    between = typed_distance(400.0, "between", CARE)
    correction = correct_square_from_widths(at, far, between, Jig(LEVER, "left"), turns=turns)
    inputs = {
        "width": doubt(0.03, "reading") + doubt(0.02, "caliper") + 24.9,
        "difference": doubt(0.03, "zeroing") + doubt(0.03, "reading the difference") + 0.21,
        "between": between,
    }

    def model(m: Any, width: Any, difference: Any, between: Any) -> Any:
        at, far = (width, width - difference) if known == "fence" else (width + difference, width)
        return (1 if turns == 4 else -1) * m.atan2(at - far, between) / turns

    check(correction, inputs, model)


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize(("shown_deg", "scale"), [(22.6, "square"), (112.6, "blade"), (67.4, "blade")])
def test_protractor(shown_deg: float, scale: Literal["square", "blade"], side: Kept) -> None:
    """From square, or the angle between fence and blade beyond or before the fence, 0.1 deg too large beyond it."""
    reading, gauge = typed_protractor(math.radians(shown_deg), CARE), typed_gauge(CARE)
    correction = correct_by_protractor(reading, gauge, Jig(LEVER, side), math.radians(22.5), scale)
    inputs = {
        "shown": Quantity(math.radians(shown_deg), "rad", {Influence("eye", "eye"): math.radians(0.05) / math.sqrt(3)}),
        "own": Quantity(0.0, "rad", {Influence("own", "own"): math.radians(0.03) / math.sqrt(3)}),
    }
    true = math.radians({22.6: 22.5, 112.6: 112.5, 67.4: 67.5}[shown_deg])

    def model(_m: Any, shown: Any, own: Any) -> Any:
        over = true - shown if shown_deg == 67.4 else shown - true
        return (1 if side == "left" else -1) * (over + own)

    check(correction, inputs, model)


@pytest.mark.parametrize("common_deg", [0.0, 0.02])
def test_adjustments(common_deg: float) -> None:
    """A move between two cuts: the gain is the turn seen over the turn asked for; the next move allows for it.

    What all cuts share cancels in the turn seen and stays in the error. The lever is one for both moves.
    """
    bound_deg = math.hypot(0.01, common_deg)
    cuts = [
        shown_by_cut(math.radians(value), math.radians(bound_deg), number, common_rad=math.radians(common_deg))
        for number, value in ((1, 0.6), (2, 0.2))
    ]
    told = judge_run([cuts[0], move_made(3.3, "clockwise", LEVER, 1), cuts[1]], LEVER)
    inputs = {
        "before": Quantity(math.radians(0.6), "rad", {Influence("cut 1", "cut"): math.radians(0.005)}),
        "after": Quantity(math.radians(0.2), "rad", {Influence("cut 2", "cut"): math.radians(0.005)}),
        "common": Quantity(0.0, "rad", {Influence("shared", "shared"): math.radians(common_deg) / 2}),
        "moved": doubt(0.02, "setting") + 3.3,
        "lever": LEVER,
    }

    def gain(m: Any, before: Any, after: Any, moved: Any, lever: Any, common: Any) -> Any:
        return ((after + common) - (before + common)) / -m.atan(moved / lever)

    def following(m: Any, **q: Any) -> Any:
        return q["lever"] * m.tan((q["after"] + q["common"]) / gain(m, **q))

    assert told.gain is not None
    assert told.next_move is not None
    assert told.gain_used is told.gain.quantity
    agree(told.gain.quantity, inputs, gain)
    agree(told.next_move.distance, inputs, following)


def test_a_move_that_no_cut_has_tested() -> None:
    """The error as it is expected: what the last cut showed, less the turn asked for."""
    cut = shown_by_cut(math.radians(0.6), math.radians(0.02), 1)
    told = judge_run([cut, move_made(2.0, "clockwise", LEVER, 1)], LEVER)
    inputs = {"before": cut.error, "moved": doubt(0.02, "setting") + 2.0, "lever": LEVER}
    agree(told.error, inputs, lambda m, before, moved, lever: before - m.atan(moved / lever))
