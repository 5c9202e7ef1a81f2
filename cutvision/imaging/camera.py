"""The camera: a pinhole with Brown's lens distortion, and where it stands over the sheet.

World frame of the solver (right-handed): X = sheet x, Y = sheet y, Z = -height. The sheet's own frame (x, y, height) is
left-handed; `world_from_sheet` is the one place where the sign changes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class CameraModel:
    """Focal length, principal point and distortion (Brown 1966: k1 k2 k3 radial, p1 p2 tangential).

    aspect and skew are the sensor's departure from square pixels: u = focal (1 + aspect) x + skew focal y + centre_x.
    A phone's sensor has none, but rows read out one after another while the hand moves leave some.
    """

    focal_px: float
    centre_x_px: float
    centre_y_px: float
    k1: float = 0.0
    k2: float = 0.0
    p1: float = 0.0
    p2: float = 0.0
    k3: float = 0.0
    aspect: float = 0.0
    skew: float = 0.0

    @property
    def parameters(self) -> np.ndarray:
        """(10,) in the order of the fields."""
        return np.array(
            [
                *(self.focal_px, self.centre_x_px, self.centre_y_px),
                *(self.k1, self.k2, self.p1, self.p2, self.k3, self.aspect, self.skew),
            ]
        )

    @property
    def pixels_from_plane(self) -> np.ndarray:
        """(2, 2): pixels per unit of the distorted image plane."""
        return self.focal_px * np.array([[1.0 + self.aspect, self.skew], [0.0, 1.0]])

    @property
    def centre_px(self) -> np.ndarray:
        return np.array([self.centre_x_px, self.centre_y_px])


@dataclass(frozen=True, slots=True)
class Pose:
    """Camera from world: X_camera = rotation @ X_world + translation_mm.

    rotation: (3, 3); translation_mm: (3,).
    """

    rotation: np.ndarray
    translation_mm: np.ndarray

    @property
    def centre_mm(self) -> np.ndarray:
        """(3,) lens centre in the sheet's frame: x, y, height above the paper."""
        world = -self.rotation.T @ self.translation_mm
        return np.array([world[0], world[1], -world[2]])


def world_from_sheet(points_mm: np.ndarray) -> np.ndarray:
    """(N, 2) points on the paper or (..., N, 3) points with height -> as many right-handed world points."""
    points = np.asarray(points_mm, dtype=float)
    if points.shape[-1] == 2:
        return np.column_stack([points, np.zeros(len(points))])
    return np.asarray(points * np.array([1.0, 1.0, -1.0]))


def distort(camera: CameraModel, xy: np.ndarray) -> np.ndarray:
    """(N, 2) ideal image-plane points (at distance 1) -> (N, 2) distorted ones. Source: Brown, 1966; OpenCV's order."""
    return _distorted(camera.parameters, xy)


def _distorted(parameters: np.ndarray, xy: np.ndarray) -> np.ndarray:
    """The same for one camera (10,) or many (..., 10) with their points (..., N, 2)."""
    k1, k2, p1, p2, k3 = np.moveaxis(parameters[..., 3:8, None], -2, 0)
    x, y = xy[..., 0], xy[..., 1]
    r2 = x * x + y * y
    radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
    return np.stack(
        [
            x * radial + 2 * p1 * x * y + p2 * (r2 + 2 * x * x),
            y * radial + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y,
        ],
        axis=-1,
    )


def undistort(camera: CameraModel, xy: np.ndarray) -> np.ndarray:
    """Inverse of `distort` by fixed-point iteration; (N, 2) -> (N, 2), good to 1e-10 within the lens's own range."""
    ideal = xy.copy()
    for _ in range(60):
        step = xy - distort(camera, ideal)
        ideal = ideal + step
        if np.max(np.abs(step), initial=0.0) < 1e-12:
            break
    return ideal


def project(camera: CameraModel, pose: Pose, world_mm: np.ndarray) -> np.ndarray:
    """(N, 3) world points -> (N, 2) pixels, pixel centres at whole numbers."""
    return project_by(camera.parameters, pose.rotation, pose.translation_mm, world_mm)


def project_by(
    parameters: np.ndarray, rotation: np.ndarray, translation_mm: np.ndarray, world_mm: np.ndarray
) -> np.ndarray:
    """World points (..., N, 3) -> pixels (..., N, 2) by cameras (..., 10) standing as (..., 3, 3), (..., 3) say."""
    local = world_mm @ np.swapaxes(rotation, -1, -2) + translation_mm[..., None, :]
    distorted = _distorted(parameters, local[..., :2] / local[..., 2:3])
    focal, centre_x, centre_y = np.moveaxis(parameters[..., :3, None], -2, 0)
    aspect, skew = np.moveaxis(parameters[..., 8:, None], -2, 0)
    x, y = distorted[..., 0], distorted[..., 1]
    return np.stack([focal * ((1 + aspect) * x + skew * y) + centre_x, focal * y + centre_y], axis=-1)


def back_project(camera: CameraModel, pose: Pose, pixels: np.ndarray, height_mm: np.ndarray | float) -> np.ndarray:
    """(N, 2) pixels -> (N, 2) points in the sheet's frame where their rays meet the plane(s) at `height_mm`."""
    ideal = undistort(camera, np.linalg.solve(camera.pixels_from_plane, (pixels - camera.centre_px).T).T)
    rays = np.column_stack([ideal, np.ones(len(ideal))]) @ pose.rotation
    centre = -pose.rotation.T @ pose.translation_mm
    reach = (-np.asarray(height_mm) - centre[2]) / rays[:, 2]
    return np.asarray(centre[:2] + rays[:, :2] * np.asarray(reach)[..., None])
