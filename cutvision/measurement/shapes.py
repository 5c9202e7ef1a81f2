"""From the lines of a piece's sides to what is asked of it, with every sign in one place.

Lines run clockwise round the piece as seen from above (angles from +x toward +y, y down), so the turn from one side to
the next is positive and the angle inside is a straight one less that turn.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cutvision.plane import Line, angle_between, intersection


@dataclass(frozen=True, slots=True)
class ShapeKind:
    """A shape's free parameters and the quantities that follow from them.

    parameters: names; lengths: which of them are lengths (they take part in the print's mean stretch).
    """

    name: str
    parameters: tuple[str, ...]
    lengths: tuple[bool, ...]
    quantities: tuple[str, ...]
    units: Mapping[str, str]


def _inside(before: Line, after: Line) -> float:
    return math.pi - angle_between(before.angle_rad, after.angle_rad)


KINDS: dict[str, ShapeKind] = {
    kind.name: kind
    for kind in (
        ShapeKind(
            "miter",
            ("angle_left", "angle_right", "leg_sum"),
            (False, False, True),
            ("angle_left", "angle_right", "corner", "leg_left", "leg_right", "leg_difference", "split_error"),
            {"leg_left": "mm", "leg_right": "mm", "leg_difference": "mm"},
        ),
        ShapeKind(
            "strip",
            ("taper", "width_middle"),
            (False, True),
            ("taper", "width_fence", "width_far"),
            {"width_fence": "mm", "width_far": "mm"},
        ),
        ShapeKind("corner", ("corner",), (False,), ("corner",), {}),
        ShapeKind(
            "board",
            ("corner_1", "corner_2", "corner_3"),
            (False, False, False),
            ("corner_1", "corner_2", "corner_3", "corner_4"),
            {},
        ),
    )
}

ANGLE_SIDES: dict[str, dict[str, Mapping[int, float]]] = {
    "miter": {
        "angle_left": {1: 1.0, 2: -1.0},
        "angle_right": {0: 1.0, 1: -1.0},
        "corner": {2: 1.0, 0: -1.0},
        "split_error": {0: 0.5, 1: -1.0, 2: 0.5},
    },
    "strip": {"taper": {0: 1.0, 1: -1.0}},
    "corner": {"corner": {0: 1.0, 1: -1.0}},
    "board": {f"corner_{k + 1}": {(k - 1) % 4: 1.0, k: -1.0} for k in range(4)},
}
"""How the direction of each side (in the order of the outline) enters each angle."""


def parameters_of(shape: str, lines: Sequence[Line]) -> np.ndarray:
    """The shape's free parameters (rad, mm) from its sides' lines in order.

    A strip's width is that midway between the two lines' own points.
    """
    if shape == "miter":
        right, cut, left = lines
        tip_right, tip_left, top = intersection(right, cut), intersection(cut, left), intersection(left, right)
        legs = math.dist(tip_left, top) + math.dist(tip_right, top)
        return np.array([_inside(cut, left), _inside(right, cut), legs])
    if shape == "strip":
        first, second = lines
        back = second.angle_rad + math.pi
        taper = angle_between(back, first.angle_rad)
        centre = first.angle_rad - taper / 2
        across = np.array([-math.sin(centre), math.cos(centre)])
        middle = Line((first.x + second.x) / 2, (first.y + second.y) / 2, math.atan2(across[1], across[0]))
        upper, lower = intersection(first, middle), intersection(second, middle)
        return np.array([taper, math.dist(upper, lower)])
    if shape == "corner":
        return np.array([_inside(lines[0], lines[1])])
    return np.array([_inside(lines[k - 1], lines[k]) for k in range(3)])


def quantities_of(shape: str, parameters: np.ndarray, reach_mm: tuple[float, float] = (0.0, 0.0)) -> np.ndarray:
    """The named quantities (rad, mm), in the kind's order, from the free parameters.

    reach_mm: of a strip, from where the middle width stands to its fence end and to its far end.
    """
    if shape == "miter":
        left, right, legs = parameters
        leg_left = legs * math.sin(right) / (math.sin(left) + math.sin(right))
        leg_right = legs - leg_left
        return np.array(
            [left, right, math.pi - left - right, leg_left, leg_right, leg_left - leg_right, (right - left) / 2]
        )
    if shape == "strip":
        taper, width = parameters
        narrowing = 2 * math.tan(taper / 2)
        return np.array([taper, width + narrowing * reach_mm[0], width - narrowing * reach_mm[1]])
    if shape == "corner":
        return np.array(parameters, dtype=float)
    return np.array([*parameters, 2 * math.pi - float(np.sum(parameters))])
