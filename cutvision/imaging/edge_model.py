"""What makes a profile across an edge: paper, perhaps a side wall, and the wood's face; what each alternative costs.

Steps are blurred by the lens in linear light and stored through the tone curve; mosaic and file blur chroma further.
Which walls can be there follows from the geometry; which one is, from the photo.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import linalg
from scipy.special import ndtr

from cutvision.imaging.profiles import CHANNELS, REACH_PX, Profiles, block_covariance, strip_covariance
from cutvision.imaging.sharpness import Optics
from cutvision.imaging.tone import LUMA_CHROMA_FROM_RGB, RGB_FROM_LUMA_CHROMA, linear_from_stored, stored_from_linear

GRID_PX = 0.25
LEAST_RISE = 4.0
"""A step of fewer stored values than this takes the plain blurred step's shape."""
LEAST_WALL_PX = 0.3
NARROW_WALL_PX = 2.5
"""A wall narrower than the first is lost in the edge's blur; one narrower than the second has no level of its own."""
SHADES = (0.1, 0.4, 0.7, 1.0)
"""How light a narrow wall may be beside the face of the same wood."""
LEVEL_COST = 4.0
"""What a free level must earn a block before it is believed: twice the log of how far it narrows what was known."""
CHROMA_SLOPE = 0.7
"""Standard deviation of how far the paper's colour drifts over REACH_PX, in stored values."""
QUANTISATION = 0.2
SHAPE_ERROR = 0.01
CHROMA_BLUR_PX = 1.6
"""Blur of chroma beyond luma's: colour mosaic and 4:2:0 storage. Rendered photos show 1.3 to 2.4 px in all."""


@dataclass(frozen=True, slots=True)
class WallGuess:
    """Width of the side wall on the paper by geometry, mm (negative: seen from the piece's side), and its doubt."""

    width_mm: float
    sd_mm: float


@dataclass(frozen=True, slots=True)
class Model:
    """One way the edge may be made.

    wall_mm: width of a side wall on the paper, 0 for none; shade: its light beside the face's, when it is too narrow to
    have a level of its own, else nan; prior_cost: by the geometry alone.
    """

    wall_mm: float
    shade: float
    prior_cost: float


def possible_models(guess: WallGuess, scale: float, step_px: float) -> list[Model]:
    """The walls that the geometry allows, a step apart."""
    sd = math.hypot(guess.sd_mm, 0.2 / scale)
    step = step_px / scale
    count = math.ceil(2.5 * sd / step)
    result: list[Model] = []
    bare_cost = math.inf
    for k in range(-count, count + 1):
        wall = guess.width_mm + k * step
        cost = (k * step / sd) ** 2
        if wall * scale < LEAST_WALL_PX:
            bare_cost = min(bare_cost, cost)
        elif wall * scale < NARROW_WALL_PX:
            result.extend(Model(wall, shade, cost) for shade in SHADES)
        else:
            result.append(Model(wall, math.nan, cost))
    if math.isfinite(bare_cost):
        result.append(Model(0.0, math.nan, bare_cost))
    return result


def _stored_step(levels: np.ndarray, offsets: np.ndarray, places: list[float], blur: float) -> np.ndarray:
    """(n, 3) stored luma and chroma of regions with linear levels (regions, 3) parted at `places` (outermost first)."""
    light = np.broadcast_to(levels[0], (len(offsets), 3)).copy()
    for k, place in enumerate(places):
        light += (levels[k + 1] - levels[k]) * ndtr((place - offsets) / blur)[:, None]
    return np.asarray(stored_from_linear(light) @ LUMA_CHROMA_FROM_RGB.T)


def _shapes(levels: np.ndarray, u: np.ndarray, wall_px: float, blur: float) -> list[np.ndarray]:
    """One (n, 3) shape a step, from 0 outside to 1 inside, at distances u outward of the outer step.

    The tone curve makes a step between given levels rise early or late; chroma is blurred further by mosaic and file.
    """
    places = [0.0, -wall_px][: len(levels) - 1]
    wide = math.hypot(blur, CHROMA_BLUR_PX)
    shapes = []
    for k, place in enumerate(places):
        shape = np.empty((len(u), CHANNELS))
        for channels, width in (((0,), blur), ((1, 2), wide)):
            with_step = _stored_step(levels[: k + 2], u, places[: k + 1], width)
            without = _stored_step(np.vstack([levels[: k + 1], levels[k]]), u, places[: k + 1], width)
            step = with_step - without
            for c in channels:
                rise = step[0, c] - step[-1, c]
                flat = abs(rise) < LEAST_RISE
                shape[:, c] = ndtr((place - u) / width) if flat else (step[:, c] - step[-1, c]) / rise
        shapes.append(shape)
    return shapes


def _composite(levels: np.ndarray, u: np.ndarray, wall_px: float, blur: float) -> np.ndarray:
    """(n, 3) stored profile of paper, a narrow wall and the face, less the paper's level: one shape for all three."""
    wide = math.hypot(blur, CHROMA_BLUR_PX)
    luma, chroma = (_stored_step(levels, u, [0.0, -wall_px], width) for width in (blur, wide))
    profile = np.column_stack([luma[:, 0], chroma[:, 1:]])
    profile -= profile[-1]
    for c, width in enumerate((blur, wide, wide)):
        if np.abs(profile[:, c]).max() < LEAST_RISE / 2:
            profile[:, c] = ndtr(-(u + wall_px / 2) / width)
    return np.asarray(profile)


@dataclass(frozen=True, slots=True)
class CostStack:
    """cost[block, place, model]: minus twice the log likelihood with the edge at places_px[place] under the model.

    no_step: (B,) the same without any edge; freedom: degrees of freedom of a block's cost.
    """

    places_px: np.ndarray
    models: tuple[Model, ...]
    cost: np.ndarray
    no_step: np.ndarray
    freedom: int


def cost_stack(
    profiles: Profiles,
    places: np.ndarray,
    models: Sequence[Model],
    optics: Optics,
    *,
    segment_mm: float = 10.0,
    everything: bool = False,
) -> CostStack:
    """The costs of all blocks under all models. places lie on a grid of GRID_PX.

    Levels of paper and wood are free in every block and channel; what a step between them looks like is worked out anew
    every segment_mm. everything: use the whole profile from beyond the arris to beyond the last place, not only what is
    near the two steps.
    """
    scale = float(profiles.scales.mean())
    walls = [model.wall_mm * scale for model in models]
    near = _telling_offsets(profiles.offsets_px, min(walls), max(walls), places[-1] if everything else None)
    d = profiles.offsets_px[near]
    n = len(d)
    noise = _noise(profiles, d, max(walls))
    plain = np.kron(np.eye(CHANNELS), np.ones((n, 1)))
    plain = np.column_stack([plain, np.pad(_slope(d), (0, n * (CHANNELS - 1)))])
    data = profiles.values[:, near, :].transpose(0, 2, 1).reshape(len(profiles.values), -1).T

    # u = d - place on the fine grid, so that every place reads the same table
    low, high = d[0] - places[-1], d[-1] - places[0]
    table_u = np.arange(round(low / GRID_PX), round(high / GRID_PX) + 1) * GRID_PX
    index = np.rint((d[None, :] - places[:, None] - table_u[0]) / GRID_PX).astype(int)
    cost = np.empty((data.shape[1], len(places), len(models)))
    no_step = np.empty(data.shape[1])
    for group in _segments(profiles, segment_mm):
        root = linalg.cholesky(noise + np.diag(_shape_error(profiles, group, d, walls) ** 2), lower=True)
        white = linalg.solve_triangular(root, data[:, group], lower=True)
        energy = (white**2).sum(axis=0)
        q, _ = np.linalg.qr(linalg.solve_triangular(root, plain, lower=True))
        no_step[group] = energy - ((q.T @ white) ** 2).sum(axis=0)
        for j, model in enumerate(models):
            shapes = _model_shapes(profiles, group, model, table_u, optics)
            basis = _basis(plain, shapes, index)
            whitened = linalg.solve_triangular(root, basis.transpose(1, 0, 2).reshape(len(plain), -1), lower=True)
            q, _ = np.linalg.qr(whitened.reshape(len(plain), len(places), -1).transpose(1, 0, 2))
            extra = LEVEL_COST * CHANNELS * (len(shapes) - 1)
            cost[group, :, j] = (energy - ((q.transpose(0, 2, 1) @ white) ** 2).sum(axis=1)).T + extra
    return CostStack(places, tuple(models), cost, no_step, len(plain) - 2 * CHANNELS - 2)


def _telling_offsets(offsets: np.ndarray, narrowest: float, widest: float, last_place: float | None) -> np.ndarray:
    """(n,) which offsets are looked at: those near outline or arris, or everything up to the last place."""
    near = (offsets >= -widest - REACH_PX) & (offsets <= (last_place or 0) + REACH_PX)
    if last_place is None:
        near &= (offsets >= -REACH_PX) | (offsets <= -narrowest + REACH_PX)
    return np.asarray(near)


def _slope(d: np.ndarray) -> np.ndarray:
    """(n,) light that rises outward over the paper."""
    return np.where(d > 0, d, 0.0) / REACH_PX


def _noise(profiles: Profiles, d: np.ndarray, widest: float) -> np.ndarray:
    """(3 n, 3 n) covariance of a block: the grain's on the wood, the print's and the sensor's on the paper."""
    offsets, values, n = profiles.offsets_px, profiles.values, len(d)
    wood = block_covariance(strip_covariance(values[:, offsets < -widest - REACH_PX / 2], 3 * REACH_PX, 0.9), n)
    paper = block_covariance(strip_covariance(values[:, offsets > REACH_PX / 2 + 1], 2 * REACH_PX, 0.7), n)
    on_wood = np.tile(d < 0, CHANNELS)
    noise = np.where(np.outer(on_wood, on_wood), wood, np.where(np.outer(~on_wood, ~on_wood), paper, 0.0))
    noise += QUANTISATION**2 * np.eye(CHANNELS * n)
    # light on the paper changes from place to place far more than its colour does
    drift = CHROMA_SLOPE**2 * np.outer(_slope(d), _slope(d))
    for c in range(1, CHANNELS):
        noise[c * n : (c + 1) * n, c * n : (c + 1) * n] += drift
    return np.asarray(noise)


def _segments(profiles: Profiles, segment_mm: float) -> list[np.ndarray]:
    count = len(profiles.values)
    block_mm = float(profiles.along_mm[1] - profiles.along_mm[0])
    return np.array_split(np.arange(count), max(1, round(count * block_mm / segment_mm)))


def _shape_error(profiles: Profiles, group: np.ndarray, d: np.ndarray, walls: Sequence[float]) -> np.ndarray:
    """(3 n,) what the model's shape gets wrong: a share of the contrast, where the steps are."""
    paper, face = _ends(profiles, group, max(walls))
    contrast = float(np.abs(paper - face).max()) * 255
    spread = np.exp(-0.5 * (d / 2.0) ** 2)
    if max(walls) > 0:
        spread = spread + np.exp(-0.5 * ((d + (max(walls) + min(walls)) / 2) / 2.0) ** 2)
    return np.asarray(SHAPE_ERROR * contrast * np.tile(spread, CHANNELS))


def _basis(plain: np.ndarray, shapes: Sequence[np.ndarray], index: np.ndarray) -> np.ndarray:
    """(places, 3 n, k) free levels of every channel: what is plain, and each step's height, for each place."""
    places, n = index.shape
    free = plain.shape[1]
    basis = np.zeros((places, len(plain), free + len(shapes) * CHANNELS))
    basis[:, :, :free] = plain
    for c in range(CHANNELS):
        for s, shape in enumerate(shapes):
            basis[:, c * n : (c + 1) * n, free + c * len(shapes) + s] = shape[index, c]
    return basis


def _model_shapes(
    profiles: Profiles, group: np.ndarray, model: Model, u: np.ndarray, optics: Optics
) -> list[np.ndarray]:
    """The steps of a model over a run of blocks, as shapes at distances u outward of the edge."""
    wall_px = model.wall_mm * float(np.mean(profiles.scales[group]))
    paper, face = _ends(profiles, group, wall_px)
    if wall_px <= 0:
        return _shapes(np.array([paper, face]), u, 0.0, optics.blur_px)
    if not math.isnan(model.shade):
        return [_composite(np.array([paper, face * model.shade, face]), u, wall_px, optics.blur_px)]
    middle = np.abs(profiles.offsets_px + wall_px / 2) <= max(0.75, wall_px / 2 - 2.5)
    return _shapes(np.array([paper, _level(profiles, group, middle), face]), u, wall_px, optics.blur_px)


def _level(profiles: Profiles, group: np.ndarray, chosen: np.ndarray) -> np.ndarray:
    """(3,) linear colour of the chosen offsets over a run of blocks."""
    stored = np.median(profiles.values[np.ix_(group, np.nonzero(chosen)[0])], axis=(0, 1)) @ RGB_FROM_LUMA_CHROMA.T
    return np.asarray(linear_from_stored(np.clip(stored, 0, 255)))


def _ends(profiles: Profiles, group: np.ndarray, wall_px: float) -> tuple[np.ndarray, np.ndarray]:
    """Linear colour of paper and face beside the edge."""
    offsets = profiles.offsets_px
    paper = (offsets >= 4) & (offsets <= REACH_PX)
    face = (offsets <= -wall_px - 4) & (offsets >= -wall_px - REACH_PX)
    return _level(profiles, group, paper), _level(profiles, group, face)
