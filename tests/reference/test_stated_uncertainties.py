"""Every method's stated uncertainty against Monte Carlo draws and against an independent package.

Both go through the method's formula, written once more from the drawing. Source of the draws: JCGM 101:2008, clause 7:
draw the inputs, work out the result for each draw, look at its spread. The package is `uncertainties`.
Every influence is drawn as a normal deviate, once for all the inputs that share it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pytest
from uncertainties import ufloat, umath

from cutvision.correction import (
    Correction,
    Jig,
    Kept,
    ReadingCare,
    correct_direct,
    correct_facing,
    correct_frame,
    correct_miter_from_legs,
    correct_square_from_taper,
    correct_square_from_widths,
    typed_corner,
    typed_distance,
    typed_gap,
    typed_gauge,
    typed_legs,
    typed_widths,
)
from cutvision.uncertainty import Influence, Quantity

DRAWS = 200_000
# The standard deviation of so many normal draws is uncertain by 0.16 %; the rest is what first order leaves out.
SPREAD_AGREES = 0.01
# The mean of the draws lies off the value by curvature only: a small part of the uncertainty.
MEAN_AGREES = 0.02
FLOAT_NOISE = 1e-9
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

    def known(self, influence: Influence) -> bool:
        return influence in self._deviates

    def around(self, quantity: Quantity) -> Any:
        return quantity.value + sum((part * self.of(one) for one, part in quantity.components.items()), np.zeros(DRAWS))


def check(correction: Correction, inputs: Mapping[str, Quantity], model: Model) -> None:
    """Error and move of the draws spread as stated, about the stated value, and the package states the same.

    What the method adds to the fence's error beside its inputs (edge form, joints) is drawn too and simply added.
    """
    draws = Draws(20261125)
    drawn = {name: draws.around(quantity) for name, quantity in inputs.items()}
    lever = draws.around(correction.move.lever)
    error = model(np, **drawn)
    added = {one: part for one, part in correction.angle_error.components.items() if not draws.known(one)}
    error = error + sum((part * draws.of(one) for one, part in added.items()), np.zeros(DRAWS))
    u = correction.angle_error.standard_uncertainty
    assert np.std(error) == pytest.approx(u, rel=SPREAD_AGREES)
    assert np.mean(error) == pytest.approx(correction.angle_error.value, abs=MEAN_AGREES * u)
    # signed, so that a move near nothing is not folded over
    move = math.copysign(1.0, correction.angle_error.value) * lever * np.tan(error)
    assert np.std(move) == pytest.approx(correction.fence_move.standard_uncertainty, rel=SPREAD_AGREES)
    assert np.mean(move) == pytest.approx(
        correction.fence_move.value, abs=MEAN_AGREES * correction.fence_move.standard_uncertainty
    )
    ones: dict[Influence, Any] = {}
    error = model(umath, **{name: packaged(quantity, ones) for name, quantity in inputs.items()})
    error = error + sum(part * ones.setdefault(one, ufloat(0.0, 1.0)) for one, part in added.items())
    move = packaged(correction.move.lever, ones) * umath.tan(error)
    assert (error.n, error.s) == pytest.approx((correction.angle_error.value, u), rel=FLOAT_NOISE)
    assert (abs(move.n), move.s) == pytest.approx(
        (correction.fence_move.value, correction.fence_move.standard_uncertainty), rel=FLOAT_NOISE
    )


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
        face = stock / math.cos(math.pi / sides)
        return 2 * m.asin(gap / 2 / face) / (2 * sides)

    check(correct_frame(gap, stock, sides, "heel", Jig(LEVER, "left")), {"gap": gap, "stock": stock}, model)
