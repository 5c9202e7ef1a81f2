"""What one photo says of a piece: the shape's parameters and the print's shape, with the sensitivity to every influence."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cutvision.imaging.camera import back_project
from cutvision.imaging.offcut import THICKNESS_READ_MM, Offcut
from cutvision.imaging.pose import ANISOTROPY, COUNT, FIRST_LIFT, PARAMETERS, SHEAR, camera_of, parameter_steps, pose_of
from cutvision.measurement.shapes import parameters_of
from cutvision.plane import Line
from cutvision.uncertainty import Influence

TILT_RAD = math.radians(0.03)
"""Standard uncertainty of how flat a piece lies, about each axis: a grain of dust of 0.05 mm under one end of 100 mm (common
practice, no source)."""
THICKNESS_UNKNOWN_MM = 7.0
"""Standard uncertainty of a thickness that nobody stated: 3 to 30 mm."""
STEP_FLOOR_PX = 0.04
DRIFT_FLOOR_PX = 0.03
"""What the profile's model leaves in one edge's place and from end to end of it, from a trial on rendered photos: offsets
wanted a floor of 0.06 px in all and slopes 0.03 px of drift."""


@dataclass(frozen=True, slots=True)
class Observation:
    """values: (p + 2,): the shape's parameters, then the print's anisotropy and shear as this photo has them.

    components: (p + 2, n) signed standard contributions of the n influences.
    """

    values: np.ndarray
    influences: tuple[Influence, ...]
    components: np.ndarray


def observe(offcut: Offcut, index: int, *, thickness_known: bool, camera_key: str) -> Observation:
    """The photo's parameters and their influences. index: of the photo in the run, for the influences' keys."""
    values, turned_from = offcut.pose.values, offcut.pose.turned_from
    carriers = np.concatenate([edge.carrier_px for edge in offcut.edges])
    heights = np.repeat([edge.height_mm for edge in offcut.edges], 2)
    raised = heights > 0

    def lines(theta: np.ndarray, extra_mm: np.ndarray) -> list[Line]:
        mm = back_project(camera_of(theta), pose_of(theta, turned_from), carriers, heights + extra_mm)
        return [
            Line(*((mm[k] + mm[k + 1]) / 2), math.atan2(*(mm[k + 1] - mm[k])[::-1])) for k in range(0, len(mm), 2)
        ]

    def observed(found: list[Line], theta: np.ndarray) -> np.ndarray:
        return np.array([*parameters_of(offcut.shape, found), theta[ANISOTROPY], theta[SHEAR]])

    none = np.zeros(len(carriers))
    nominal = lines(values, none)
    here = back_project(camera_of(values), pose_of(values, turned_from), carriers, heights)
    away = here - here.mean(axis=0)
    influences: list[Influence] = []
    columns: list[np.ndarray] = []

    def add(key: str, name: str, source: str, column: np.ndarray, kind: str = "B") -> None:
        if np.any(np.abs(column) > 1e-15):
            influences.append(Influence(key, name, "A" if kind == "A" else "B", source))
            columns.append(column)

    jacobian = np.empty((len(observed(nominal, values)), COUNT))
    for k, step in enumerate(parameter_steps(values)):
        nudge = np.zeros(COUNT)
        nudge[k] = step
        ahead = observed(lines(values + nudge, none), values + nudge)
        behind = observed(lines(values - nudge, none), values - nudge)
        jacobian[:, k] = (ahead - behind) / (2 * step)
    # the budget's rows are told apart in this order: what a parameter shares with one before it counts as that one's
    first = [0, ANISOTROPY, SHEAR, *range(FIRST_LIFT, COUNT)]
    order = [*first, *(k for k in range(COUNT) if k not in first)]
    ordered = offcut.pose.covariance[np.ix_(order, order)]
    scaling = np.sqrt(np.diag(ordered))
    root = np.linalg.cholesky(ordered / np.outer(scaling, scaling)) * scaling[:, None]
    for column, k in enumerate(order):
        key = camera_key if k == 0 else f"{PARAMETERS[k]}/photo {index}"
        name, source = _row_of(k, offcut)
        add(key, name, source, jacobian[:, order] @ root[:, column], "A")

    def height_column(extra_mm: np.ndarray) -> np.ndarray:
        return (observed(lines(values, extra_mm), values) - observed(lines(values, -extra_mm), values)) / 2

    u_thickness = THICKNESS_READ_MM if thickness_known else THICKNESS_UNKNOWN_MM
    # half the step each way keeps the difference straight where the thickness is all but unknown
    add(
        "thickness",
        "thickness",
        "stated, to 0.2 mm" if thickness_known else "not stated",
        height_column(np.where(raised, 0.1, 0.0)) * u_thickness / 0.1,
    )
    for axis, name in enumerate("xy"):
        tilt = height_column(np.where(raised, TILT_RAD, 0.0) * away[:, axis])
        add(f"tilt {name}/photo {index}", "tilt of the piece", "dust of 0.05 mm under 100 mm", tilt)

    def line_column(moves: list[tuple[float, float]]) -> np.ndarray:
        def moved(sign: int) -> list[Line]:
            result = []
            for line, (offset, turn) in zip(nominal, moves, strict=True):
                nx, ny = -line.normal[0], -line.normal[1]
                result.append(
                    Line(line.x + sign * offset * nx, line.y + sign * offset * ny, line.angle_rad - sign * turn)
                )
            return result

        return (observed(moved(1), values) - observed(moved(-1), values)) / 2

    count = len(offcut.edges)
    still = [(0.0, 0.0)] * count
    for k, edge in enumerate(offcut.edges):
        scale = edge.points.scale_px_per_mm
        spread = np.linalg.cholesky(edge.line.covariance + 1e-18 * np.eye(2))
        for j in range(2):
            moves = [*still]
            moves[k] = (float(spread[0, j]), float(spread[1, j]))
            add(f"edge points {edge.name} {j}/photo {index}", "edge points", "scatter along the edge", line_column(moves), "A")
        floors = (
            ("place", "pixel and tone residual", (math.hypot(STEP_FLOOR_PX / scale, edge.hidden_wall_mm / 3.46), 0.0)),
            ("drift", "pixel and tone residual", (0.0, DRIFT_FLOOR_PX / scale / edge.line.length_mm * 2)),
        )
        for what, name, move in floors:
            moves = [*still]
            moves[k] = move
            add(f"{what} {edge.name}/photo {index}", name, "study on rendered photos", line_column(moves))
    tone = math.hypot(0.03, offcut.optics.shift_px) / offcut.optics.scale_px_per_mm
    add(f"tone/photo {index}", "pixel and tone residual", "step shift on the sheet's squares", line_column([(tone, 0.0)] * count))
    return Observation(observed(nominal, values), tuple(influences), np.column_stack(columns))


def _row_of(parameter: int, offcut: Offcut) -> tuple[str, str]:
    """The budget's row for a parameter of the pose, and where its figure comes from."""
    name = PARAMETERS[parameter]
    if name == "focal":
        return "lens height and foot point", offcut.pose.prior_source
    if name in {"aspect", "skew"}:
        return "sensor readout", "hand movement while the rows are read"
    if parameter in {ANISOTROPY, SHEAR}:
        return "print stretch", "square pixels against the perspective"
    if parameter >= FIRST_LIFT:
        return "sheet flatness", "saddle points against a flat sheet"
    return "mapping", "fit of the saddle points"
