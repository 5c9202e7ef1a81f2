"""Wood and other surfaces as pictures of their albedo (share of light thrown back) in linear light."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from simulation.scene import Colour


@dataclass(frozen=True, slots=True)
class Species:
    """How a wood looks. Contrasts are relative; lengths in mm.

    light, dark: albedo of the early and of the late wood. pores: per cm2. plies: layers on a sawn side, 1 when solid.
    """

    light: Colour
    dark: Colour
    ring_mm: float
    ring_contrast: float
    fibre_contrast: float
    pores: float = 0.0
    pore_length_mm: float = 2.0
    pore_width_mm: float = 0.12
    mottle: float = 0.04
    plies: int = 1


SPECIES: dict[str, Species] = {
    "maple": Species((0.62, 0.50, 0.35), (0.50, 0.37, 0.23), 3.0, 0.25, 0.05, 20, 0.8, 0.06),
    "birch": Species((0.64, 0.52, 0.36), (0.55, 0.42, 0.27), 4.0, 0.25, 0.05, 30, 1.0, 0.06),
    "pine": Species((0.63, 0.47, 0.27), (0.42, 0.25, 0.10), 3.5, 0.75, 0.06),
    "ash": Species((0.58, 0.46, 0.31), (0.40, 0.28, 0.16), 3.0, 0.6, 0.08, 120, 3.0, 0.14),
    "oak": Species((0.45, 0.31, 0.17), (0.30, 0.19, 0.09), 2.5, 0.5, 0.12, 220, 3.5, 0.18),
    "cherry": Species((0.42, 0.23, 0.13), (0.32, 0.16, 0.08), 3.5, 0.35, 0.06, 40, 1.0, 0.07),
    "walnut": Species((0.15, 0.085, 0.050), (0.075, 0.040, 0.024), 4.0, 0.6, 0.12, 110, 3.5, 0.15),
    "mahogany": Species((0.27, 0.105, 0.055), (0.19, 0.065, 0.033), 6.0, 0.3, 0.12, 140, 3.0, 0.16, 0.08),
    "mdf": Species((0.36, 0.25, 0.16), (0.30, 0.20, 0.12), 3.0, 0.0, 0.0, mottle=0.03),
    "birch-ply": Species((0.62, 0.49, 0.33), (0.52, 0.39, 0.24), 6.0, 0.3, 0.07, 40, 1.0, 0.07, 0.05, 9),
    "steel": Species((0.42, 0.43, 0.45), (0.38, 0.39, 0.41), 3.0, 0.0, 0.08, mottle=0.02),
    "skin": Species((0.50, 0.29, 0.21), (0.42, 0.22, 0.15), 3.0, 0.0, 0.0, mottle=0.06),
    "paper": Species((0.80, 0.80, 0.79), (0.78, 0.78, 0.77), 3.0, 0.0, 0.0, mottle=0.01),
}


@dataclass(frozen=True)
class Picture:
    """Albedo over a plane: pixel (column, row) lies at origin + step (column, row) in axes turned by `turn_rad`.

    albedo: (H, W, 3) float32.
    """

    albedo: np.ndarray
    origin_mm: tuple[float, float]
    step_mm: float
    turn_rad: float

    def at(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Albedo at sheet places, two float32 arrays (H, W) -> (H, W, 3); the border's beyond the picture."""
        c, s = math.cos(self.turn_rad) / self.step_mm, math.sin(self.turn_rad) / self.step_mm
        u = x * np.float32(c) + y * np.float32(s) - np.float32(self.origin_mm[0] / self.step_mm)
        v = y * np.float32(c) - x * np.float32(s) - np.float32(self.origin_mm[1] / self.step_mm)
        return np.asarray(cv2.remap(self.albedo, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))


def _noise(rng: np.random.Generator, shape: tuple[int, int], sigma: tuple[float, float]) -> np.ndarray:
    """Gaussian noise of unit deviation, blurred by sigma (along columns' axis x, along rows' axis y) in pixels."""
    shrink = (max(1, int(sigma[0] / 2)), max(1, int(sigma[1] / 2)))
    small = (max(4, math.ceil(shape[0] / shrink[1])), max(4, math.ceil(shape[1] / shrink[0])))
    raw = rng.standard_normal(small, dtype=np.float32)
    blurred = cv2.GaussianBlur(raw, (0, 0), max(sigma[0] / shrink[0], 0.01), sigmaY=max(sigma[1] / shrink[1], 0.01))
    unit = blurred / np.float32(np.std(blurred) + 1e-9)
    return np.asarray(cv2.resize(unit, (shape[1], shape[0]), interpolation=cv2.INTER_LINEAR))


def _rings(rng: np.random.Generator, species: Species, u: np.ndarray, v: np.ndarray, step: float) -> np.ndarray:
    """Share of late wood 0..1 over a flat-sawn face: rings about a pith that runs off at a slant."""
    depth = rng.uniform(15, 60) + u * np.float32(rng.uniform(-0.12, 0.12))
    radius = np.hypot(v - np.float32(rng.uniform(-40, 40)), depth)
    radius += 0.35 * species.ring_mm * _noise(rng, u.shape, (25 / step, 8 / step))
    phase = radius / np.float32(species.ring_mm)
    phase += 0.25 * np.sin(phase * np.float32(0.61) + np.float32(rng.uniform(0, 6)))
    part = phase - np.floor(phase)
    return np.asarray(np.minimum(part**3, (1 - part) * 8))


def grain_picture(
    species: Species, box_mm: tuple[float, float, float, float], grain_rad: float, step_mm: float, seed: int
) -> Picture:
    """The face of a piece that covers a box (left, top, right, bottom), grain along `grain_rad`."""
    rng = np.random.default_rng([seed, 2])
    c, s = math.cos(grain_rad), math.sin(grain_rad)
    corners = np.array([(x, y) for x in (box_mm[0], box_mm[2]) for y in (box_mm[1], box_mm[3])])
    turned = corners @ np.array([[c, -s], [s, c]])
    low, high = turned.min(axis=0) - 2, turned.max(axis=0) + 2
    shape = (math.ceil((high[1] - low[1]) / step_mm), math.ceil((high[0] - low[0]) / step_mm))
    u = np.arange(shape[1], dtype=np.float32)[None, :] * np.float32(step_mm) + np.zeros(shape, np.float32)
    v = np.arange(shape[0], dtype=np.float32)[:, None] * np.float32(step_mm) + np.zeros(shape, np.float32)
    tone = 1 + species.mottle * _noise(rng, shape, (20 / step_mm, 6 / step_mm))
    if species.fibre_contrast > 0:
        tone += species.fibre_contrast * 0.7 * _noise(rng, shape, (5 / step_mm, 0.12 / step_mm))
        tone += species.fibre_contrast * 0.4 * _noise(rng, shape, (1.5 / step_mm, 0.05 / step_mm))
    else:
        tone += 0.06 * _noise(rng, shape, (0.15 / step_mm, 0.15 / step_mm))
    late = np.full(shape, 0.3, np.float32)
    if species.ring_contrast > 0:
        late += species.ring_contrast * _rings(rng, species, u - u.mean(), v - v.mean(), step_mm)
    if species.pores > 0:
        late += 0.9 * _pores(rng, species, shape, step_mm)
    light, dark = np.array(species.light, np.float32), np.array(species.dark, np.float32)
    shade = np.clip(late, 0, 1.6)[..., None]
    albedo = (light + (dark - light) * shade) * np.clip(tone, 0.4, 1.6)[..., None].astype(np.float32)
    return Picture(np.clip(albedo, 0.01, 0.95), (float(low[0]), float(low[1])), step_mm, grain_rad)


def _pores(rng: np.random.Generator, species: Species, shape: tuple[int, int], step_mm: float) -> np.ndarray:
    """Darkness 0..1 of pores cut open lengthwise: short streaks, as many as the wood's count over the area."""
    count = int(species.pores * shape[0] * shape[1] * step_mm**2 / 100)
    dots = np.zeros(shape, np.float32)
    rows, columns = rng.integers(0, shape[0], count), rng.integers(0, shape[1], count)
    np.add.at(dots, (rows, columns), rng.uniform(0.4, 1.0, count).astype(np.float32))
    long_px, wide_px = species.pore_length_mm / step_mm / 3.5, max(species.pore_width_mm / step_mm / 2.4, 0.3)
    streaks = cv2.GaussianBlur(dots, (0, 0), long_px, sigmaY=wide_px)
    return np.asarray(np.clip(streaks * np.float32(2 * math.pi * long_px * max(wide_px, 0.4)), 0, 1))


def bench_picture(
    kind: str, colour: Colour, turn_rad: float, box_mm: tuple[float, float, float, float], seed: int, *, plain: bool
) -> Picture:
    """What shows round the paper: planks of a wood, a cutting mat with its grid, or painted board."""
    rng = np.random.default_rng([seed, 3])
    step = 0.6
    if kind in SPECIES and not plain:
        picture = grain_picture(SPECIES[kind], box_mm, turn_rad, step, seed)
        plank_px = int(rng.uniform(90, 160) / step)
        for row in range(int(rng.integers(0, plank_px)), picture.albedo.shape[0], plank_px):
            picture.albedo[row : row + 2] *= np.float32(0.35)
            picture.albedo[row + 2 : row + 2 + plank_px] *= np.float32(rng.uniform(0.85, 1.12))
        return picture
    c, s = math.cos(turn_rad), math.sin(turn_rad)
    corners = np.array([(x, y) for x in (box_mm[0], box_mm[2]) for y in (box_mm[1], box_mm[3])])
    turned = corners @ np.array([[c, -s], [s, c]])
    low, high = turned.min(axis=0) - 2, turned.max(axis=0) + 2
    shape = (math.ceil((high[1] - low[1]) / step), math.ceil((high[0] - low[0]) / step))
    tone = np.ones(shape, np.float32)
    if not plain:
        tone += 0.05 * _noise(rng, shape, (30 / step, 30 / step)) + 0.04 * _noise(rng, shape, (0.7, 0.7))
        if kind == "mat":
            spacing = round(10 / step)
            tone[::spacing] *= np.float32(1.35)
            tone[:, ::spacing] *= np.float32(1.35)
    albedo = np.clip(tone[..., None] * np.array(colour, np.float32), 0.005, 0.95)
    return Picture(albedo, (float(low[0]), float(low[1])), step, turn_rad)
