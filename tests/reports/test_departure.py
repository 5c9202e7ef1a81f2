"""Where the true edge is drawn: on the right side, by the right amount, however the piece lies in the photo."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any, Literal

import numpy as np
import pytest

from cutvision.measurement.result import PhotoEvidence, Shape
from cutvision.reports.departure import ENLARGEMENTS, WIDEST_RAD, Departure, departure

MakeExample = Callable[..., Any]
FLOAT_NOISE_RAD = 1e-9


def turned(evidence: PhotoEvidence, degrees: float) -> PhotoEvidence:
    """The photo's evidence after the camera was rolled: every pixel turned about the origin."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    turn = np.array([[c, s], [-s, c]])
    corners = {name: tuple((np.array(at) @ turn).tolist()) for name, at in evidence.corners_px.items()}
    edges = tuple(replace(edge, line_px=edge.line_px[::-1] @ turn) for edge in evidence.edges)
    return replace(evidence, edges=edges, corners_px=corners, frame_px=evidence.frame_px @ turn)


def true_direction(judged: Departure) -> float:
    """The direction of the edge after the turn that makes it true, not enlarged, in rad."""
    x, y = judged.tip_px - judged.pivot_px
    return math.atan2(y, x) + judged.turn.value


def line_direction(evidence: PhotoEvidence, name: str) -> float:
    """The direction of an edge from its first point to its last, in rad."""
    line = next(edge.line_px for edge in evidence.edges if edge.name == name)
    x, y = line[-1] - line[0]
    return math.atan2(y, x)


def between(a_rad: float, b_rad: float) -> float:
    """The angle between two lines, 0 to 90 deg, in rad."""
    return math.atan2(abs(math.sin(a_rad - b_rad)), abs(math.cos(a_rad - b_rad)))


@pytest.mark.parametrize("roll", [0.0, 77.0, 180.0])
@pytest.mark.parametrize(
    ("shape", "off", "other", "wanted_deg"),
    [
        (shape, off, other, wanted)
        for shape, other, wanted in (
            ("miter", "left leg", 45.0),
            ("strip", "first long edge", 0.0),
            ("corner", "first edge", 90.0),
        )
        for off in (0.3, -0.3)
    ],
)
def test_the_turned_edge_is_true(
    shape: Shape, off: float, other: str, wanted_deg: float, roll: float, make_example: MakeExample
) -> None:
    """The edge, turned by what the departure says, splits evenly, is parallel or is square (closed form)."""
    measurement = make_example(shape, off).measurement
    evidence = turned(measurement.photos[0], roll)
    judged = departure(measurement, evidence)
    assert judged is not None
    assert abs(judged.turn.value) == pytest.approx(math.radians(0.3), abs=FLOAT_NOISE_RAD)
    angle = between(true_direction(judged), line_direction(evidence, other))
    # A cut that meets both legs alike meets each at 45 deg only because this corner is square.
    assert angle == pytest.approx(math.radians(wanted_deg), abs=FLOAT_NOISE_RAD)


@pytest.mark.parametrize("off", [0.3, -0.3])
def test_a_boards_worst_corner_is_made_square(off: float, make_example: MakeExample) -> None:
    """The edge drawn belongs to the corner farthest from square, and turned as said it is square to its neighbour."""
    measurement = make_example("board", off).measurement
    evidence = measurement.photos[0]
    judged = departure(measurement, evidence)
    assert judged is not None
    at_corner = np.hypot(*(judged.pivot_px - np.array(evidence.corners_px["corner_2"])))
    assert at_corner == pytest.approx(0.0, abs=1e-6)
    assert between(true_direction(judged), line_direction(evidence, "edge 1")) == pytest.approx(
        math.pi / 2, abs=FLOAT_NOISE_RAD
    )


@pytest.mark.parametrize(("kept", "fence_leg"), [("left", "right leg"), ("right", "left leg")])
@pytest.mark.parametrize("off", [0.3, -0.3])
def test_a_known_fence_leg_judges_the_cut_by_its_own_angle(
    kept: Literal["left", "right"], fence_leg: str, off: float, make_example: MakeExample
) -> None:
    """With --kept the true cut stands at the nominal angle to the fence leg: 90 deg less 22.5 deg here."""
    measurement = make_example("miter", off).measurement
    evidence = measurement.photos[0]
    judged = departure(measurement, evidence, math.radians(22.5), kept)
    assert judged is not None
    assert between(true_direction(judged), line_direction(evidence, fence_leg)) == pytest.approx(
        math.radians(67.5), abs=FLOAT_NOISE_RAD
    )
    assert "67.5°" in judged.true
    assert fence_leg in judged.true


def test_nothing_is_drawn_when_nothing_says_what_true_is(make_example: MakeExample) -> None:
    """A miter other than 45 deg without --kept has no true cut to draw."""
    measurement = make_example("miter").measurement
    assert departure(measurement, measurement.photos[0], math.radians(22.5)) is None


@pytest.mark.parametrize(("off", "bound"), [(0.1, 0.02), (0.003, 0.004), (2.5, 0.01), (0.0, 0.0)])
def test_the_enlargement_is_the_largest_that_fits(off: float, bound: float, make_example: MakeExample) -> None:
    """Departure and bound, enlarged, stay within 7 deg, and the next round factor would not."""
    measurement = make_example("strip", off, bound).measurement
    judged = departure(measurement, measurement.photos[0])
    assert judged is not None
    reach = abs(judged.turn.value) + judged.turn.expanded_uncertainty
    assert judged.enlargement * reach <= WIDEST_RAD
    larger = [n for n in ENLARGEMENTS if n > judged.enlargement]
    assert not larger or larger[0] * reach > WIDEST_RAD


@pytest.mark.parametrize(("off", "told"), [(0.03, True), (-0.03, True), (0.01, False), (0.0, False)])
def test_a_side_is_told_only_beyond_the_bound(off: float, told: bool, make_example: MakeExample) -> None:  # noqa: FBT001
    """A departure of 0.03 deg is told with a bound of 0.02 deg; one of 0.01 deg is not."""
    measurement = make_example("strip", off, 0.02).measurement
    judged = departure(measurement, measurement.photos[0])
    assert judged is not None
    assert judged.is_told is told
