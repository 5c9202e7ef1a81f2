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

from cutvision.imaging.chart import Chart, LateralColor
from cutvision.imaging.constants import CHROMA_SLOPE, QUANTISATION, SHAPE_ERROR
from cutvision.imaging.profiles import CHANNELS, REACH_PX, Profiles, block_covariance, strip_covariance
from cutvision.imaging.response import GRID_PX, EdgeResponse, filed, kernels, stored_steps
from cutvision.imaging.tone import LUMA_CHROMA_FROM_RGB, RGB_FROM_LUMA_CHROMA, linear_from_stored, stored_from_linear

LEAST_RISE = 4.0
"""A step of fewer stored values than this takes the plain blurred step's shape."""
SOUGHT = 2.5
"""How many standard uncertainties to each side a wall is sought."""
LEAST_WALL_PX = 0.3
NARROW_WALL_PX = 2.5
"""A wall narrower than the first is lost in the edge's blur; one narrower than the second has no level of its own."""
SHADES = (0.1, 0.4, 0.7, 1.0)
"""How light a narrow wall may be beside the face of the same wood."""
LEVEL_COST = 4.0
"""What a free level must earn a block before it is believed: twice the log of how far it narrows what was known."""


@dataclass(frozen=True, slots=True)
class WallGuess:
    """Width of the side wall on the paper by geometry, mm (negative: seen from the piece's side), and its doubt.

    low_mm, high_mm: where the photo itself has been found to put it so far; the geometry's word keeps its weight.
    """

    width_mm: float
    sd_mm: float
    low_mm: float = -math.inf
    high_mm: float = math.inf

    @property
    def widest_mm(self) -> float:
        """The widest wall that is worth a look."""
        return max(0.0, min(self.width_mm + 3 * self.sd_mm, self.high_mm))

    def narrowed(self, found_mm: float, doubt_mm: float) -> WallGuess:
        """The same geometry, sought only about a wall found to doubt_mm (standard uncertainty); 0 for no wall."""
        reach = SOUGHT * doubt_mm
        return WallGuess(self.width_mm, self.sd_mm, found_mm - reach if found_mm > 0 else -math.inf, found_mm + reach)


@dataclass(frozen=True, slots=True)
class Model:
    """One way the edge may be made.

    wall_mm: width of a side wall on the paper, 0 for none; shade: its light beside the face's, when it is too narrow to
    have a level of its own, else nan; prior_cost: by the geometry alone.
    """

    wall_mm: float
    shade: float
    prior_cost: float


@dataclass(frozen=True, slots=True)
class Looks:
    """How a step looks at one place: the file's response, and how far red, green, blue (3,) are displaced outward."""

    response: EdgeResponse
    shift_px: np.ndarray


def possible_models(guess: WallGuess, scale: float, step_px: float) -> list[Model]:
    """The walls that the geometry allows where they are sought, a step apart, and none where it allows that."""
    sd = math.hypot(guess.sd_mm, 0.2 / scale)
    step = step_px / scale
    low, high = (max(guess.width_mm - SOUGHT * sd, guess.low_mm), min(guess.width_mm + SOUGHT * sd, guess.high_mm))
    centre = min(max(guess.width_mm, low), high)
    result: list[Model] = []
    for k in range(math.ceil((low - centre) / step - 1e-9), math.floor((high - centre) / step + 1e-9) + 1):
        wall = centre + k * step
        cost = ((wall - guess.width_mm) / sd) ** 2
        if LEAST_WALL_PX <= wall * scale < NARROW_WALL_PX:
            result.extend(Model(wall, shade, cost) for shade in SHADES)
        elif wall * scale >= NARROW_WALL_PX:
            result.append(Model(wall, math.nan, cost))
    beyond = (guess.width_mm - LEAST_WALL_PX / scale) / sd
    if beyond < SOUGHT or not result:
        result.append(Model(0.0, math.nan, max(0.0, beyond) ** 2))
    return result


def _shapes(levels: np.ndarray, u: np.ndarray, wall_px: float, looks: Looks) -> list[np.ndarray]:
    """One (n, 3, 3) a step: what unit height of it in stored red, green, blue (last) adds to luma and chroma.

    From 0 outside to 1 inside, at distances u outward of the outer step. The tone curve makes a step between given
    levels rise early or late; the file blurs and sharpens it; lateral color displaces red and blue.
    """
    grid, kept = _widened(u, looks.response)
    places = looks.shift_px - np.array([[0.0], [wall_px]])[: len(levels) - 1]
    shapes = []
    for k in range(len(places)):
        inner = _parted(levels[k], levels[k + 1])
        with_step = stored_steps(np.vstack([levels[: k + 1], inner]), grid, places[: k + 1], looks.response.blur_px)
        without = stored_steps(np.vstack([levels[: k + 1], levels[k]]), grid, places[: k + 1], looks.response.blur_px)
        step = with_step - without - (with_step - without)[-1]
        shapes.append(_mixed(step / step[0], looks.response)[kept])
    return shapes


def _composite(levels: np.ndarray, u: np.ndarray, wall_px: float, looks: Looks) -> np.ndarray:
    """(n, 3, 3) as `_shapes`, of paper, a narrow wall and the face together."""
    grid, kept = _widened(u, looks.response)
    places = looks.shift_px - np.array([[0.0], [wall_px]])
    stored = stored_steps(levels, grid, places, looks.response.blur_px)
    stored -= stored[-1]
    top = np.abs(stored).max(axis=0)
    plain = ndtr((looks.shift_px - wall_px / 2 - grid[:, None]) / looks.response.blur_px)
    profile = np.where(top < LEAST_RISE / 2, plain, stored / np.maximum(top, LEAST_RISE / 2))
    return _mixed(profile, looks.response)[kept]


def _widened(u: np.ndarray, response: EdgeResponse) -> tuple[np.ndarray, slice]:
    """The grid u with room at both ends for the response's kernels, and where u is in it."""
    room = max(len(kernel) for kernel in kernels(response)) // 2
    ends = np.arange(1, room + 1) * GRID_PX
    return np.concatenate([u[0] - ends[::-1], u, u[-1] + ends]), slice(room, room + len(u))


def _parted(outer: np.ndarray, inner: np.ndarray) -> np.ndarray:
    """(3,) the inner level, moved off the outer one where they are too alike for the step to have a shape."""
    outer_stored, inner_stored = stored_from_linear(outer), stored_from_linear(inner)
    rise = inner_stored - outer_stored
    away = np.where(outer_stored > 128, -LEAST_RISE, LEAST_RISE)
    return linear_from_stored(np.where(np.abs(rise) < LEAST_RISE, outer_stored + away, inner_stored))


def _mixed(profile: np.ndarray, response: EdgeResponse) -> np.ndarray:
    """(n, 3) unit profiles of stored red, green, blue -> (n, 3, 3) what each adds to luma and both chroma channels."""
    sharp, coarse = filed(profile, response)
    return np.stack(
        [sharp * LUMA_CHROMA_FROM_RGB[0], coarse * LUMA_CHROMA_FROM_RGB[1], coarse * LUMA_CHROMA_FROM_RGB[2]], axis=1
    )


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
    chart: Chart,
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
    noise = _noise(profiles, d, max(walls), chart.response)
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
        wrong = _shape_error(profiles, group, d, walls, math.hypot(chart.misfit, SHAPE_ERROR))
        root = linalg.cholesky(noise + np.diag(wrong**2), lower=True)
        looks = Looks(chart.response, _displaced(profiles, group, chart.color))
        white = linalg.solve_triangular(root, data[:, group], lower=True)
        energy = (white**2).sum(axis=0)
        q, _ = np.linalg.qr(linalg.solve_triangular(root, plain, lower=True))
        no_step[group] = energy - ((q.T @ white) ** 2).sum(axis=0)
        for j, model in enumerate(models):
            shapes = _model_shapes(profiles, group, model, table_u, looks)
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


def _noise(profiles: Profiles, d: np.ndarray, widest: float, response: EdgeResponse) -> np.ndarray:
    """(3 n, 3 n) covariance of a block: the grain's on the wood, the print's and the sensor's on the paper."""
    offsets, values, n = profiles.offsets_px, profiles.values, len(d)
    clear = max(REACH_PX / 2, response.reach_px)
    wood = block_covariance(strip_covariance(values[:, offsets < -widest - clear], 3 * REACH_PX, 0.9), n)
    paper = block_covariance(strip_covariance(values[:, offsets > clear + 1], 2 * REACH_PX, 0.7), n)
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


def _displaced(profiles: Profiles, group: np.ndarray, color: LateralColor) -> np.ndarray:
    """(3,) how far red, green and blue are displaced outward over a run of blocks."""
    return np.asarray(color.shifts_px(profiles.base_px[group], profiles.across[group]).mean(axis=0))


def _shape_error(
    profiles: Profiles, group: np.ndarray, d: np.ndarray, walls: Sequence[float], misfit: float
) -> np.ndarray:
    """(3 n,) what the model's shape gets wrong: a share of the contrast, as on the squares, where the steps are."""
    paper, face = _ends(profiles, group, max(walls))
    contrast = float(np.abs(paper - face).max()) * 255
    spread = np.exp(-0.5 * (d / 2.0) ** 2)
    if max(walls) > 0:
        spread = spread + np.exp(-0.5 * ((d + (max(walls) + min(walls)) / 2) / 2.0) ** 2)
    return np.asarray(misfit * contrast * np.tile(spread, CHANNELS))


def _basis(plain: np.ndarray, shapes: Sequence[np.ndarray], index: np.ndarray) -> np.ndarray:
    """(places, 3 n, k) free levels of every channel: what is plain, and each step's height, for each place."""
    places, n = index.shape
    free = plain.shape[1]
    basis = np.zeros((places, len(plain), free + len(shapes) * CHANNELS))
    basis[:, :, :free] = plain
    for s, shape in enumerate(shapes):
        at = shape[index]
        for c in range(CHANNELS):
            basis[:, c * n : (c + 1) * n, free + s * CHANNELS : free + (s + 1) * CHANNELS] = at[:, :, c]
    return basis


def _model_shapes(profiles: Profiles, group: np.ndarray, model: Model, u: np.ndarray, looks: Looks) -> list[np.ndarray]:
    """The steps of a model over a run of blocks, as shapes at distances u outward of the edge."""
    wall_px = model.wall_mm * float(np.mean(profiles.scales[group]))
    paper, face = _ends(profiles, group, wall_px)
    if wall_px <= 0:
        return _shapes(np.array([paper, face]), u, 0.0, looks)
    if not math.isnan(model.shade):
        return [_composite(np.array([paper, face * model.shade, face]), u, wall_px, looks)]
    middle = np.abs(profiles.offsets_px + wall_px / 2) <= max(0.75, wall_px / 2 - 2.5)
    return _shapes(np.array([paper, _level(profiles, group, middle), face]), u, wall_px, looks)


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
