"""What a perfect instrument would read on a simulated piece, by the interface's names: degrees and millimetres."""

from __future__ import annotations

import math

import numpy as np

from cutvision.plane import Line, angle_between, intersection
from simulation.edges import sawn_line, true_line
from simulation.scene import Scene, Shape

SIDES: dict[Shape, int] = {"miter": 3, "strip": 4, "corner": 4, "board": 4}
# A strip's ends, and the two sides of a corner's board that lie out of the window.
_UNMEASURED: dict[Shape, tuple[int, ...]] = {"strip": (1, 3), "corner": (1, 2)}


def window_outline(scene: Scene) -> np.ndarray:
    """(4, 2) the printed window's corners clockwise from the top left, where the print has them."""
    left, top, right, bottom = scene.sheet.window_mm
    return scene.true_from_nominal(np.array([[left, top], [right, top], [right, bottom], [left, bottom]]))


def true_quantities(scene: Scene) -> dict[str, float]:
    """The first piece's quantities from the least-squares lines of its rough edges.

    Raises ValueError when the scene has no piece or one without as many sides as its shape has.
    """
    if not scene.pieces or len(scene.pieces[0].polygon) != SIDES[scene.shape]:
        raise ValueError(f"a {scene.shape} has {SIDES[scene.shape]} sides")
    piece, window = scene.pieces[0], window_outline(scene)
    unmeasured = _UNMEASURED.get(scene.shape, ())
    lines = [
        sawn_line(piece, edge) if edge in unmeasured else true_line(piece, edge, window)
        for edge in range(len(piece.polygon))
    ]
    return _quantities(scene, lines)


def sawn_quantities(scene: Scene) -> dict[str, float]:
    """The same from the ideal lines that the saw followed: what a piece without roughness would show."""
    return _quantities(scene, [sawn_line(scene.pieces[0], edge) for edge in range(len(scene.pieces[0].polygon))])


def _quantities(scene: Scene, lines: list[Line]) -> dict[str, float]:
    if scene.shape == "miter":
        return _miter(*lines)
    if scene.shape == "strip":
        return _strip(lines, window_outline(scene))
    if scene.shape == "corner":
        return {"corner": _inside_angle(lines[3], lines[0])}
    first = int(np.argmin([math.hypot(*intersection(lines[k - 1], lines[k])) for k in range(4)]))
    return {f"corner_{n + 1}": _inside_angle(lines[(first + n - 1) % 4], lines[(first + n) % 4]) for n in range(4)}


def _inside_angle(into: Line, out: Line) -> float:
    return 180.0 - math.degrees(angle_between(into.angle_rad, out.angle_rad))


def _miter(right: Line, cut: Line, left: Line) -> dict[str, float]:
    corner, right_tip, left_tip = intersection(left, right), intersection(right, cut), intersection(cut, left)
    angle_left, angle_right = _inside_angle(cut, left), _inside_angle(right, cut)
    leg_left, leg_right = math.dist(corner, left_tip), math.dist(corner, right_tip)
    return {
        "angle_left": angle_left,
        "angle_right": angle_right,
        "corner": _inside_angle(left, right),
        "leg_left": leg_left,
        "leg_right": leg_right,
        "leg_difference": leg_left - leg_right,
        "split_error": (angle_right - angle_left) / 2,
    }


def _strip(lines: list[Line], window: np.ndarray) -> dict[str, float]:
    going, far_end, coming, fence_end = lines
    back = Line(coming.x, coming.y, coming.angle_rad + math.pi)
    taper = angle_between(back.angle_rad, going.angle_rad)
    along = back.angle_rad + taper / 2
    fence = _middle(going, back, fence_end)
    far = _middle(going, back, far_end)
    centre = Line(*fence, along)
    ux, uy = centre.direction
    reach = [0.0, (far[0] - fence[0]) * ux + (far[1] - fence[1]) * uy]
    for a, b in zip(window, np.roll(window, -1, axis=0), strict=True):
        nx, ny = (b - a)[1], -(b - a)[0]
        rate, offset = nx * ux + ny * uy, nx * (fence[0] - a[0]) + ny * (fence[1] - a[1])
        if rate > 1e-9:
            reach[1] = min(reach[1], -offset / rate)
        elif rate < -1e-9:
            reach[0] = max(reach[0], -offset / rate)
    widths = [_width(going, back, Line(fence[0] + r * ux, fence[1] + r * uy, along + math.pi / 2)) for r in reach]
    return {"taper": math.degrees(taper), "width_fence": widths[0], "width_far": widths[1]}


def _middle(one: Line, other: Line, end: Line) -> tuple[float, float]:
    a, b = intersection(one, end), intersection(other, end)
    return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2


def _width(one: Line, other: Line, across: Line) -> float:
    return math.dist(intersection(one, across), intersection(other, across))
