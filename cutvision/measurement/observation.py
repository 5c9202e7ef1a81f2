"""What one photo says of a piece: the shape's parameters and the print's shape, and how every influence moves them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from cutvision.imaging.camera import back_project
from cutvision.imaging.constants import DRIFT_FLOOR_PX, STEP_FLOOR_PX, TONE_FLOOR_PX
from cutvision.imaging.offcut import THICKNESS_READ_MM, Offcut, SeenEdge
from cutvision.imaging.pose import (
    ANISOTROPY,
    COUNT,
    FIRST_LIFT,
    PARAMETERS,
    SHEAR,
    camera_of,
    parameter_jacobian,
    pose_of,
)
from cutvision.measurement.shapes import parameters_of
from cutvision.plane import Line
from cutvision.uncertainty import Influence

TILT_RAD = math.radians(0.0286) / math.sqrt(3)
"""Standard uncertainty of how flat a piece lies, about each axis: dust of up to 0.05 mm under one end of 100 mm,
rectangular (common practice, no source)."""
THICKNESS_UNKNOWN_MM = 7.0
"""Standard uncertainty of a thickness that nobody stated: 3 to 30 mm."""
LEAST_COLUMN = 1e-15


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
    seen = _Seen(
        offcut,
        np.concatenate([edge.carrier_px for edge in offcut.edges]),
        np.repeat([edge.height_mm for edge in offcut.edges], 2),
    )
    columns = [
        *_of_the_pose(seen, index, camera_key),
        *_of_the_height(seen, index, thickness_known=thickness_known),
        *_of_the_edges(seen, index),
    ]
    felt = [column for column in columns if np.any(np.abs(column.parts) > LEAST_COLUMN)]
    return Observation(
        seen.observed(),
        tuple(column.influence for column in felt),
        np.column_stack([column.parts for column in felt]),
    )


@dataclass(frozen=True, slots=True)
class _Column:
    """One influence and its signed standard contributions (p + 2,)."""

    influence: Influence
    parts: np.ndarray


def _column(
    key: str, name: str, source: str, parts: np.ndarray, kind: Literal["A", "B"] = "B", *, photo: int | None = None
) -> _Column:
    """photo: whose own it is; the key then tells it from the same influence in another photo."""
    whole_key = key if photo is None else f"{key}/photo {photo}"
    return _Column(Influence(whole_key, name, kind, source, photo=photo), parts)


@dataclass(frozen=True, slots=True)
class _Move:
    """A line moved outward by offset_mm and turned by turn_rad, positive as the slope of its fit is."""

    offset_mm: float = 0.0
    turn_rad: float = 0.0

    def applied(self, line: Line, sign: int) -> Line:
        nx, ny = line.normal
        along = sign * self.offset_mm
        return Line(line.x - along * nx, line.y - along * ny, line.angle_rad - sign * self.turn_rad)


@dataclass(frozen=True, slots=True)
class _Seen:
    """The piece's lines as functions of whatever they rest on.

    carriers_px: (2 E, 2) pixels of two points of each of E edges; heights_mm: (2 E,) of their planes.
    """

    offcut: Offcut
    carriers_px: np.ndarray
    heights_mm: np.ndarray

    def points_mm(self, values: np.ndarray, extra_mm: np.ndarray | float = 0.0) -> np.ndarray:
        """(2 E, 2) the carriers in the sheet's frame under the pose's parameters, their planes raised by extra_mm."""
        pose = pose_of(values, self.offcut.pose.turned_from)
        return back_project(camera_of(values), pose, self.carriers_px, self.heights_mm + extra_mm)

    def lines(self, values: np.ndarray, extra_mm: np.ndarray | float = 0.0) -> list[Line]:
        mm = self.points_mm(values, extra_mm)
        lines = []
        for start, end in zip(mm[::2], mm[1::2], strict=True):
            (x, y), (along_x, along_y) = (start + end) / 2, end - start
            lines.append(Line(float(x), float(y), math.atan2(along_y, along_x)))
        return lines

    def observed(self, values: np.ndarray | None = None, extra_mm: np.ndarray | float = 0.0) -> np.ndarray:
        """(p + 2,) what would be observed under other parameters or with planes at other heights."""
        theta = self.offcut.pose.values if values is None else values
        return self._from_lines(self.lines(theta, extra_mm), theta)

    def by_height(self, extra_mm: np.ndarray) -> np.ndarray:
        """(p + 2,) change when every carrier's plane rises by extra_mm (2 E,)."""
        return np.asarray((self.observed(extra_mm=extra_mm) - self.observed(extra_mm=-extra_mm)) / 2)

    def by_moves(self, moves: Sequence[_Move]) -> np.ndarray:
        """(p + 2,) change when the edges' lines move."""
        values = self.offcut.pose.values
        nominal = self.lines(values)
        ahead, behind = (
            self._from_lines([move.applied(line, sign) for line, move in zip(nominal, moves, strict=True)], values)
            for sign in (1, -1)
        )
        return np.asarray((ahead - behind) / 2)

    def by_move(self, edge: int, move: _Move) -> np.ndarray:
        """(p + 2,) change when one edge's line moves."""
        return self.by_moves([move if k == edge else _Move() for k in range(len(self.offcut.edges))])

    def _from_lines(self, lines: Sequence[Line], values: np.ndarray) -> np.ndarray:
        return np.array([*parameters_of(self.offcut.shape, lines), values[ANISOTROPY], values[SHEAR]])


def _of_the_pose(seen: _Seen, index: int, camera_key: str) -> Iterator[_Column]:
    """Columns of camera, place, print and lifted corners, from the fit's covariance."""
    pose = seen.offcut.pose
    jacobian = parameter_jacobian(seen.observed, pose.values)
    # the budget's rows are told apart in this order: what a parameter shares with one before it counts as that one's
    first = [0, ANISOTROPY, SHEAR, *range(FIRST_LIFT, COUNT)]
    order = [*first, *(k for k in range(COUNT) if k not in first)]
    covariance = pose.covariance[np.ix_(order, order)]
    scaling = np.sqrt(np.diag(covariance))
    root = np.linalg.cholesky(covariance / np.outer(scaling, scaling)) * scaling[:, None]
    for column, k in enumerate(order):
        key, photo = (camera_key, None) if k == 0 else (PARAMETERS[k], index)
        name, source = _row_of(k, seen.offcut)
        yield _column(key, name, source, jacobian[:, order] @ root[:, column], "A", photo=photo)


def _of_the_height(seen: _Seen, index: int, *, thickness_known: bool) -> Iterator[_Column]:
    """Columns of the thickness and of how flat the piece lies: only edges seen at the top face feel them."""
    raised = seen.heights_mm > 0
    u_thickness = THICKNESS_READ_MM if thickness_known else THICKNESS_UNKNOWN_MM
    source = "stated, to 0.2 mm" if thickness_known else "not stated"
    # a small step keeps the difference straight where the thickness is all but unknown
    parts = seen.by_height(np.where(raised, 0.1, 0.0)) * u_thickness / 0.1
    yield _column("thickness", "thickness", source, parts)
    here = seen.points_mm(seen.offcut.pose.values)
    away = here - here.mean(axis=0)
    for axis, name in enumerate("xy"):
        parts = seen.by_height(np.where(raised, TILT_RAD, 0.0) * away[:, axis])
        yield _column(f"tilt {name}", "tilt of the piece", "dust of 0.05 mm under 100 mm", parts, photo=index)


def _of_the_edges(seen: _Seen, index: int) -> Iterator[_Column]:
    """Columns of each edge's own line, and of what the tone curve leaves in all of them alike."""
    offcut = seen.offcut
    for k, edge in enumerate(offcut.edges):
        spread = np.linalg.cholesky(edge.line.covariance + 1e-18 * np.eye(2))
        for j in range(2):
            parts = seen.by_move(k, _Move(float(spread[0, j]), float(spread[1, j])))
            key = f"edge points {edge.name} {j}"
            yield _column(key, "edge points", "scatter along the edge", parts, "A", photo=index)
        parts = seen.by_move(k, _Move(edge.points.step_doubt_mm))
        yield _column(f"step {edge.name}", "which step it is", "costs of the other walls", parts, photo=index)
        parts = seen.by_move(k, _by_squares(edge))
        yield _column(f"blur {edge.name}", "blur of the edge", "its own or the squares'", parts, photo=index)
        for what, move in _floors(edge).items():
            parts, source = seen.by_move(k, move), "study on rendered photos"
            yield _column(f"{what} {edge.name}", "pixel and tone residual", source, parts, photo=index)
    tone_mm = math.hypot(TONE_FLOOR_PX, offcut.optics.shift_px) / offcut.optics.scale_px_per_mm
    parts = seen.by_moves([_Move(tone_mm)] * len(offcut.edges))
    yield _column("tone", "pixel and tone residual", "step shift on the sheet's squares", parts, photo=index)


def _by_squares(edge: SeenEdge) -> _Move:
    """How the line would move under the squares' blur: the truth is as likely anywhere as far to either side.

    Source: JCGM 100:2008, 4.3.7.
    """
    points, used = edge.points, edge.line.used
    away = points.by_squares_px[used] / points.scale_px_per_mm / math.sqrt(3)
    along = points.along_mm[used] - edge.line.length_mm / 2
    offset, slope = np.linalg.lstsq(np.column_stack([np.ones_like(along), along]), away, rcond=None)[0]
    return _Move(float(offset), float(slope))


def _floors(edge: SeenEdge) -> dict[str, _Move]:
    """What the profile's model leaves in an edge's place, and in that of its ends against its middle."""
    scale = edge.points.scale_px_per_mm
    drift = DRIFT_FLOOR_PX / scale / (edge.line.length_mm / 2)
    return {"place": _Move(STEP_FLOOR_PX / scale), "drift": _Move(turn_rad=drift)}


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
