"""How sharp the photo is and where its tone curve puts a step, measured on the sheet's own black and white squares."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutvision.imaging.normal import normal_below
from cutvision.imaging.opencv import cv2
from cutvision.imaging.photo import Photo
from cutvision.imaging.pose import SheetPose, predicted_px
from cutvision.imaging.tone import LUMA_CHROMA_FROM_RGB, linear_from_stored
from cutvision.target.sheet import SQUARE_MM

HALF_PROFILE_MM = 1.3
STEP_PX = 0.25
BLURS_PX = np.geomspace(0.3, 14.0, 40)
COARSE = 4


@dataclass(frozen=True, slots=True)
class Optics:
    """blur_px: standard deviation of the blur of a black to white step in linear luma, the median over the ring.

    shift_px: how far such a step stands into the white of where the saddle points put it; shift_scatter_px: its
    standard deviation from square to square. scale_px_per_mm: in the middle of the sheet. smear_px: the blur across the
    squares' upright or level sides, whichever is the wider: a hand that moves smears one of them.
    """

    blur_px: float
    shift_px: float = 0.0
    shift_scatter_px: float = 0.0
    scale_px_per_mm: float = 10.0
    smear_px: float = 0.0


def measure_optics(photo: Photo, pose: SheetPose) -> Optics:
    """Blur and step shift from the sides of the ring's black squares that face a white square."""
    sheet = pose.sheet
    sides = []
    for column, row in sheet.black_squares[::2]:
        for dc, dr in ((1, 0), (0, 1)):
            if sheet.in_ring(column + dc, row + dr):
                middle = np.array([column + 0.5 + dc / 2, row + 0.5 + dr / 2]) * SQUARE_MM
                sides.append((middle, np.array([dc, dr], dtype=float)))
    along = np.linspace(-2.5, 2.5, 25)
    middles, outward = np.array([m for m, _ in sides]), np.array([o for _, o in sides])
    tangent = np.column_stack([-outward[:, 1], outward[:, 0]])
    stations = (middles[:, None] + along[None, :, None] * tangent[:, None]).reshape(-1, 2)
    base = predicted_px(sheet, pose.values, pose.turned_from, stations)
    ahead = predicted_px(sheet, pose.values, pose.turned_from, stations + np.repeat(outward, len(along), axis=0))
    step = ahead - base
    scale = np.hypot(*step.T)
    normal = step / scale[:, None]
    px_per_mm = float(np.median(scale))
    reach = max(4, int(HALF_PROFILE_MM * px_per_mm / STEP_PX)) * STEP_PX
    u = np.arange(-reach, reach + 1e-9, STEP_PX)
    x = (base[:, 0:1] + normal[:, 0:1] * u).astype(np.float32)
    y = (base[:, 1:2] + normal[:, 1:2] * u).astype(np.float32)
    stored = photo.stored if photo.stored.dtype == np.uint8 else (photo.stored >> 8).astype(np.uint8)
    light = linear_from_stored(cv2.remap(stored, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))
    luma = (light @ LUMA_CHROMA_FROM_RGB[0]).reshape(len(sides), len(along), len(u)).mean(axis=1)
    rise = luma[:, -3:].mean(axis=1) - luma[:, :3].mean(axis=1)
    seen = rise > 0.4 * np.median(rise)
    luma = luma[seen]
    best, shifts = _best_blur(luma, u)
    blur = float(np.sqrt(max(0.2**2, np.median(BLURS_PX[best]) ** 2 - STEP_PX**2 / 6)))
    upright = outward[seen, 0] != 0
    ways = [np.median(BLURS_PX[best[way]]) for way in (upright, ~upright) if way.any()]
    scatter = 1.4826 * float(np.median(np.abs(shifts - np.median(shifts))))
    return Optics(blur, float(np.median(shifts)), scatter, px_per_mm, float(max(ways)))


def _best_blur(luma: np.ndarray, u: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(N,) index of the likeliest of BLURS_PX for each profile (N, n), and the step's place (N,) there.

    Every COARSE-th blur is tried for all profiles, those in between for the profiles that are near them.
    """
    every = np.arange(len(BLURS_PX))
    cost, shift = np.full((2, len(luma), len(every)), np.inf)
    for k in every[::COARSE]:
        cost[:, k], shift[:, k] = _step_misfit(luma, u, float(BLURS_PX[k]))
    near = np.argmin(cost, axis=1)
    for k in every[every % COARSE > 0]:
        rows = np.flatnonzero(np.abs(near - k) < COARSE)
        if len(rows):
            cost[rows, k], shift[rows, k] = _step_misfit(luma[rows], u, float(BLURS_PX[k]))
    best = np.argmin(cost, axis=1)
    return best, shift[np.arange(len(luma)), best]


def _step_misfit(luma: np.ndarray, u: np.ndarray, blur: float) -> tuple[np.ndarray, np.ndarray]:
    """Residual sum of squares (N,) of profiles (N, n) against a blurred step at its best place, and that place (N,).

    The place is fitted to first order, three times over.
    """
    place = np.zeros(len(luma))
    for _ in range(3):
        z = (u[None, :] - place[:, None]) / blur
        shape = normal_below(z)
        slope = -np.exp(-0.5 * z * z) / (np.sqrt(2 * np.pi) * blur)
        basis = np.stack([np.ones_like(shape), shape, slope], axis=2)
        normal = basis.transpose(0, 2, 1) @ basis + 1e-9 * np.eye(3)
        level = np.linalg.solve(normal, basis.transpose(0, 2, 1) @ luma[..., None])[..., 0]
        rise = np.where(np.abs(level[:, 1]) < 1e-3, 1e-3, level[:, 1])
        place = np.clip(place + level[:, 2] / rise, -u[-1] / 2, u[-1] / 2)
    residual = luma - (basis @ level[..., None])[..., 0]
    return (residual**2).sum(axis=1), place
