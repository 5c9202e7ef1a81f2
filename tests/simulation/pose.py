"""Where a hand holds the phone."""

from __future__ import annotations

import math

import numpy as np

from cutvision.imaging.camera import CameraModel, Pose

DIAGONAL_35MM = math.hypot(36.0, 24.0)


def pose_over(
    aim_mm: tuple[float, float], distance_mm: float, tilt_rad: float, azimuth_rad: float, roll_rad: float
) -> Pose:
    """A camera `distance_mm` from the place on the paper it aims at.

    tilt_rad: its axis off the plumb line; azimuth_rad: direction on the sheet in which the lens stands off from that
    place; roll_rad: the sheet's x axis in the picture, from right toward down.
    """
    c, s = math.cos(roll_rad), math.sin(roll_rad)
    roll = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])
    # The optical axis points from the lens to the aim: down (+Z) and back against the azimuth.
    axis = np.array(
        [-math.sin(tilt_rad) * math.cos(azimuth_rad), -math.sin(tilt_rad) * math.sin(azimuth_rad), math.cos(tilt_rad)]
    )
    k = np.array([-math.sin(azimuth_rad), math.cos(azimuth_rad), 0.0])
    cross = np.array([[0, -k[2], k[1]], [k[2], 0, -k[0]], [-k[1], k[0], 0]])
    lean = np.eye(3) + math.sin(tilt_rad) * cross + (1 - math.cos(tilt_rad)) * cross @ cross
    # `lean` turns the axis onto the plumb line (0, 0, 1).
    centre = np.array([*aim_mm, 0.0]) - distance_mm * axis
    rotation = roll @ lean
    return Pose(rotation, -rotation @ centre)


def phone_camera(width_px: int, height_px: int, focal_35mm: float, **lens: float) -> CameraModel:
    """A phone's main camera by its 35 mm equivalent (by the diagonal); lens: fields of `CameraModel` to set."""
    focal = focal_35mm / DIAGONAL_35MM * math.hypot(width_px, height_px)
    facts = {"centre_x_px": (width_px - 1) / 2, "centre_y_px": (height_px - 1) / 2, **lens}
    return CameraModel(focal_px=focal, **facts)
