"""Outlines of test pieces by the angles and lengths that the saw gave them."""

from __future__ import annotations

import math
from collections.abc import Sequence

from simulation.scene import Point


def turned(points: Sequence[Point], turn_rad: float, middle: Point) -> tuple[Point, ...]:
    """The outline turned from +x toward +y about its vertices' mean, which then lies at `middle`."""
    mx, my = (sum(p[k] for p in points) / len(points) for k in (0, 1))
    c, s = math.cos(turn_rad), math.sin(turn_rad)
    return tuple((middle[0] + c * (x - mx) - s * (y - my), middle[1] + s * (x - mx) + c * (y - my)) for x, y in points)


def miter_outline(cut_mm: float, angle_left_rad: float, angle_right_rad: float) -> tuple[Point, ...]:
    """Corner, right tip, left tip, the cut along +x below the corner."""
    left = cut_mm * math.sin(angle_right_rad) / math.sin(angle_left_rad + angle_right_rad)
    x, y = left * math.cos(angle_left_rad), -left * math.sin(angle_left_rad)
    return (x, y), (cut_mm, 0.0), (0.0, 0.0)


def strip_outline(length_mm: float, width_mm: float, taper_rad: float, skew_rad: float = 0.0) -> tuple[Point, ...]:
    """Fence end at x = 0, wider there when the taper is positive; far end at x = length. skew_rad: of both ends."""
    half, lean = width_mm / 2, math.tan(skew_rad) * width_mm / 2
    open_by = math.tan(taper_rad / 2) * length_mm / 2
    return (
        (-lean, -half - open_by),
        (length_mm - lean, -half + open_by),
        (length_mm + lean, half - open_by),
        (lean, half + open_by),
    )


def board_outline(width_mm: float, height_mm: float, corners_rad: tuple[float, float, float]) -> tuple[Point, ...]:
    """Four sides clockwise from the top left; the angles at the first three vertices, the fourth is what is left."""
    a, b, _ = corners_rad
    first, second = (0.0, 0.0), (width_mm, 0.0)
    down = math.pi - b
    third = (second[0] + height_mm * math.cos(down), second[1] + height_mm * math.sin(down))
    back = down + math.pi - corners_rad[2]
    # The fourth vertex: from the third along `back`, from the first along the angle a.
    ax, ay, bx, by = math.cos(a), math.sin(a), math.cos(back), math.sin(back)
    reach = (third[0] * by - third[1] * bx) / (ax * by - ay * bx)
    return first, second, third, (reach * ax, reach * ay)
