"""Sub-pixel edge points: the mean profile across the edge, about every millimetre, explained by a model of what made it.

The model: paper, perhaps a side wall, and the wood's face, parted by steps that the lens blurs in linear light, stored through
the tone curve, chroma blurred further by the camera and the file. Levels are free in every block and channel; the noise is
the grain and the print's own, as measured on strips of the same photo parallel to the edge. For every block and every place
the edge may have, the cost (minus twice the log likelihood) is kept, and the line is sought in that stack, so that a second
step nearby (shadow, arris) is an alternative to be weighed and not a point to be averaged in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import linalg
from scipy.special import ndtr

from cutvision.imaging.opencv import cv2
from cutvision.imaging.photo import Photo
from cutvision.imaging.pose import SheetPose, predicted_view_px
from cutvision.imaging.sharpness import Optics
from cutvision.imaging.tone import LUMA_CHROMA_FROM_RGB, RGB_FROM_LUMA_CHROMA, linear_from_stored, stored_from_linear

BLOCK_MM = 1.0
LEAST_BLOCK_PX = 7.0
REACH_PX = 8
CHANNELS = 3
TRIM_MM = 1.2
GRID_PX = 0.25
CHROMA_SLOPE = 0.7
"""Standard deviation of how far the paper's colour drifts over REACH_PX, in stored values."""
LEAST_RISE = 4.0
NARROW_WALL_PX = 2.5
LEAST_WALL_PX = 0.3
LEVEL_COST = 4.0
"""What a free level must earn a block before it is believed: twice the log of how much it narrows what was known before."""
MOST_COST = 12.0
BLOCKS_TOGETHER = 6.0
"""How many blocks say the same: what one model leaves unexplained in a block, it leaves in its neighbours."""
HUE_COST = 20.0
LEAST_HUE = 0.1
SHADES = (0.1, 0.4, 0.7, 1.0)
"""How light a side wall may be beside the face of the same wood."""
QUANTISATION = 0.2
SHAPE_ERROR = 0.01
CHROMA_BLUR_PX = 1.6
"""Blur of chroma beyond luma's: colour mosaic and 4:2:0 storage. Rendered photos show 1.3 to 2.4 px in all."""


@dataclass(frozen=True, slots=True)
class EdgePoints:
    """Edge points of one side, one a block.

    along_mm: (B,) place along the coarse line from its start; pixels: (B, 2); sigma_px: (B,) standard uncertainty across the
    edge by the block's own likelihood; misfit: (B,) reduced chi-square of the block; used: (B,) on the line's own ridge;
    across: (B, 2) unit normals in the photo, outward.
    wall_mm: width of the side wall that shows, on the paper, 0 where none does.
    gain: mean fall of the cost per block that the step explains.
    luma_px, chroma_px: (B,) the same points by luma alone and by chroma alone, as offsets from `pixels` along `across`.
    """

    along_mm: np.ndarray
    pixels: np.ndarray
    across: np.ndarray
    sigma_px: np.ndarray
    misfit: np.ndarray
    used: np.ndarray
    wall_mm: float
    gain: float
    scale_px_per_mm: float
    luma_px: np.ndarray
    chroma_px: np.ndarray


@dataclass(frozen=True, slots=True)
class _Profiles:
    """Mean profiles across a line: values (B, n, 3) luma and chroma at offsets_px (n,), outward positive.

    scales: (B,) pixels per mm of paper across the line.
    """

    along_mm: np.ndarray
    base_px: np.ndarray
    across: np.ndarray
    offsets_px: np.ndarray
    values: np.ndarray
    scale_px_per_mm: float
    scales: np.ndarray


def _profiles(photo: Photo, pose: SheetPose, start: np.ndarray, end: np.ndarray, widest_px: float) -> _Profiles:
    """Profiles across the line from start to end (mm on the paper, the outside to the left of its run as y points down)."""
    length = float(np.hypot(*(end - start)))
    direction = (end - start) / length
    ends_px = predicted_view_px(pose, np.array([start, end, start + direction, end - direction]))
    scale = float(np.hypot(*(ends_px[1] - ends_px[0])) / length)
    block_mm = max(BLOCK_MM, LEAST_BLOCK_PX / scale)
    count = max(4, int((length - 2 * TRIM_MM) / block_mm))
    edges_mm = np.linspace(TRIM_MM, length - TRIM_MM, count + 1)
    rows = max(4, math.ceil((edges_mm[1] - edges_mm[0]) * scale))
    stations = edges_mm[:-1, None] + (np.arange(rows) + 0.5) / rows * (edges_mm[1] - edges_mm[0])
    points = predicted_view_px(pose, start + stations.reshape(-1, 1) * direction)
    tangent = np.gradient(points, axis=0)
    tangent /= np.hypot(*tangent.T)[:, None]
    # clockwise round the piece with y down: outside is to the left, (t_y, -t_x)
    normal = np.column_stack([tangent[:, 1], -tangent[:, 0]])
    inward = predicted_view_px(pose, start + stations.reshape(-1, 1) * direction + np.array([-direction[1], direction[0]]))
    scales = ((points - inward) * normal).sum(axis=1).reshape(count, rows).mean(axis=1)
    reach = math.ceil(widest_px + 4 * REACH_PX)
    offsets = np.arange(-reach, reach + 1, dtype=float)
    x = (points[:, 0:1] + normal[:, 0:1] * offsets).astype(np.float32)
    y = (points[:, 1:2] + normal[:, 1:2] * offsets).astype(np.float32)
    x0, y0 = int(max(0, x.min() - 4)), int(max(0, y.min() - 4))
    patch = photo.stored[y0 : int(y.max()) + 6, x0 : int(x.max()) + 6]
    patch = patch if patch.dtype == np.uint8 else (patch / 257.0).astype(np.float32)
    luma_chroma = patch.astype(np.float32) @ LUMA_CHROMA_FROM_RGB.T.astype(np.float32)
    sampled = cv2.remap(luma_chroma, x - x0, y - y0, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    values = np.asarray(sampled, dtype=float).reshape(count, rows, len(offsets), CHANNELS).mean(axis=1)
    middle = points.reshape(count, rows, 2).mean(axis=1)
    across = normal.reshape(count, rows, 2).mean(axis=1)
    return _Profiles(stations.mean(axis=1), middle, across, offsets, values, scale, scales)


def _strip_covariance(values: np.ndarray, lags: int, share: float) -> np.ndarray:
    """(lags, 3, 3) autocovariance of profiles (B, n, 3) along the offset, over the quieter `share` of blocks."""
    centred = values - values.mean(axis=1, keepdims=True)
    energy = (centred[..., 0] ** 2).mean(axis=1)
    centred = centred[energy <= np.quantile(energy, share)]
    n = centred.shape[1]
    result = np.zeros((lags, CHANNELS, CHANNELS))
    for lag in range(min(lags, n - 2)):
        a, b = centred[:, : n - lag], centred[:, lag:]
        result[lag] = np.einsum("bic,bid->cd", a, b) / (a.shape[0] * n)
    return result


def _block_covariance(lags: np.ndarray, count: int) -> np.ndarray:
    """(3 n, 3 n) covariance, channel by channel, from (lags, 3, 3) autocovariance; made positive definite."""
    index = np.abs(np.arange(count)[:, None] - np.arange(count)[None, :])
    capped = np.minimum(index, len(lags) - 1)
    full = np.zeros((CHANNELS * count, CHANNELS * count))
    for c in range(CHANNELS):
        for d in range(CHANNELS):
            half = (lags[:, c, d] + lags[:, d, c]) / 2
            full[c * count : (c + 1) * count, d * count : (d + 1) * count] = np.where(index < len(lags), half[capped], 0.0)
    values, vectors = np.linalg.eigh((full + full.T) / 2)
    return np.asarray((vectors * np.clip(values, 1e-3, None)) @ vectors.T)


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


@dataclass(frozen=True, slots=True)
class WallGuess:
    """Width of the side wall on the paper by geometry (negative: the lens looks from the piece's side) and its doubt, mm."""

    width_mm: float
    sd_mm: float


@dataclass(frozen=True, slots=True)
class _Model:
    """One way the edge may be made: a side wall of a width (mm on the paper, 0 for none), shaded beside the face when it is
    too narrow to have a level of its own; and what it costs beforehand by the geometry."""

    wall_mm: float
    shade: float
    prior_cost: float


def _models(guess: WallGuess, scale: float, step_px: float) -> list[_Model]:
    """The walls that the geometry allows, a step apart."""
    sd = math.hypot(guess.sd_mm, 0.2 / scale)
    step = step_px / scale
    count = math.ceil(2.5 * sd / step)
    result = []
    bare_cost = math.inf
    for k in range(-count, count + 1):
        wall = guess.width_mm + k * step
        cost = (k * step / sd) ** 2
        if wall * scale < LEAST_WALL_PX:
            bare_cost = min(bare_cost, cost)
        elif wall * scale < NARROW_WALL_PX:
            result.extend(_Model(wall, shade, cost) for shade in SHADES)
        else:
            result.append(_Model(wall, math.nan, cost))
    if math.isfinite(bare_cost):
        result.append(_Model(0.0, math.nan, bare_cost))
    return result


@dataclass(frozen=True, slots=True)
class _CostStack:
    """cost[block, place, model]: minus twice the log likelihood with the edge at places_px[place] under the model."""

    places_px: np.ndarray
    models: tuple[_Model, ...]
    cost: np.ndarray
    no_step: np.ndarray
    freedom: int


def _composite(levels: np.ndarray, u: np.ndarray, wall_px: float, blur: float) -> np.ndarray:
    """(n, 3) stored profile of paper, a narrow wall and the face, less the paper's level: one shape, since a wall of a few
    pixels has no level of its own to be fitted."""
    wide = math.hypot(blur, CHROMA_BLUR_PX)
    luma, chroma = (_stored_step(levels, u, [0.0, -wall_px], width) for width in (blur, wide))
    profile = np.column_stack([luma[:, 0], chroma[:, 1:]])
    profile -= profile[-1]
    for c, width in enumerate((blur, wide, wide)):
        if np.abs(profile[:, c]).max() < LEAST_RISE / 2:
            profile[:, c] = ndtr(-(u + wall_px / 2) / width)
    return np.asarray(profile)


def _cost_stack(
    profiles: _Profiles,
    places: np.ndarray,
    models: Sequence[_Model],
    optics: Optics,
    channels: tuple[int, ...] = (0, 1, 2),
    *,
    segment_mm: float = 10.0,
    everything: bool = False,
) -> _CostStack:
    """The costs of all blocks. places lie on a grid of GRID_PX.

    everything: use the whole profile from beyond the arris to beyond the last place, not only what is near the two steps.
    """
    offsets, values = profiles.offsets_px, profiles.values
    scale = float(profiles.scales.mean())
    walls = [model.wall_mm * scale for model in models]
    widest, narrowest = max(walls), min(walls)
    near = (offsets >= -widest - REACH_PX) & (offsets <= (places[-1] if everything else 0) + REACH_PX)
    if not everything:
        # what lies farther from both steps says nothing of them
        near &= (offsets >= -REACH_PX) | (offsets <= -narrowest + REACH_PX)
    d = offsets[near]
    n = len(d)
    wood = _block_covariance(_strip_covariance(values[:, offsets < -widest - REACH_PX / 2], 3 * REACH_PX, 0.9), n)
    paper = _block_covariance(_strip_covariance(values[:, offsets > REACH_PX / 2 + 1], 2 * REACH_PX, 0.7), n)
    on_wood = np.tile(d < 0, CHANNELS)
    noise = np.where(np.outer(on_wood, on_wood), wood, np.where(np.outer(~on_wood, ~on_wood), paper, 0.0))
    noise += QUANTISATION**2 * np.eye(CHANNELS * n)
    # light on the paper changes from place to place far more than its colour does
    slope = np.where(d > 0, d, 0.0) / REACH_PX
    for c in (1, 2):
        noise[c * n : (c + 1) * n, c * n : (c + 1) * n] += CHROMA_SLOPE**2 * np.outer(slope, slope)
    pick = np.concatenate([np.arange(c * n, (c + 1) * n) for c in channels])
    noise = noise[np.ix_(pick, pick)]
    count = len(values)
    data = values[:, near, :].transpose(0, 2, 1).reshape(count, -1)[:, pick].T

    block_mm = float(profiles.along_mm[1] - profiles.along_mm[0])
    groups = np.array_split(np.arange(count), max(1, round(count * block_mm / segment_mm)))
    # u = d - place on the fine grid, so that every place reads the same table
    low, high = d[0] - places[-1], d[-1] - places[0]
    table_u = np.arange(round(low / GRID_PX), round(high / GRID_PX) + 1) * GRID_PX
    index = np.rint((d[None, :] - places[:, None] - table_u[0]) / GRID_PX).astype(int)
    cost = np.empty((count, len(places), len(models)))
    flat = np.empty(count)
    for group in groups:
        here = float(np.mean(profiles.scales[group]))
        shapes_of = [_model_shapes(profiles, group, model, here, table_u, optics) for model in models]
        paper_level, face_level = _ends(profiles, group, widest)
        contrast = float(np.abs(paper_level - face_level).max()) * 255
        # what the model's shape gets wrong stands where the steps are: a share of the contrast
        spread = np.exp(-0.5 * (d / 2.0) ** 2)
        if widest > 0:
            spread = spread + np.exp(-0.5 * ((d + (widest + narrowest) / 2) / 2.0) ** 2)
        own = noise + np.diag((SHAPE_ERROR * contrast * np.tile(spread, len(channels))) ** 2)
        root = linalg.cholesky(own, lower=True)
        white = linalg.solve_triangular(root, data[:, group], lower=True)
        energy = (white**2).sum(axis=0)
        plain = np.kron(np.eye(len(channels)), np.ones((n, 1)))
        if 0 in channels:
            plain = np.column_stack([plain, np.pad(slope, (0, n * (len(channels) - 1)))])
        q, _ = np.linalg.qr(linalg.solve_triangular(root, plain, lower=True))
        flat[group] = energy - ((q.T @ white) ** 2).sum(axis=0)
        for j, shapes in enumerate(shapes_of):
            free = plain.shape[1]
            basis = np.zeros((len(places), n * len(channels), free + len(shapes) * len(channels)))
            basis[:, :, :free] = plain
            for k, c in enumerate(channels):
                for s, shape in enumerate(shapes):
                    basis[:, k * n : (k + 1) * n, free + k * len(shapes) + s] = shape[index, c]
            stacked = basis.transpose(1, 0, 2).reshape(n * len(channels), -1)
            whitened = linalg.solve_triangular(root, stacked, lower=True)
            q, _ = np.linalg.qr(whitened.reshape(n * len(channels), len(places), -1).transpose(1, 0, 2))
            extra = LEVEL_COST * len(channels) * (len(shapes) - 1)
            cost[group, :, j] = (energy - ((q.transpose(0, 2, 1) @ white) ** 2).sum(axis=1)).T + extra
    freedom = len(pick) - 2 * len(channels) - 2
    return _CostStack(places, tuple(models), cost, flat, freedom)


def _model_shapes(
    profiles: _Profiles, group: np.ndarray, model: _Model, scale: float, u: np.ndarray, optics: Optics
) -> list[np.ndarray]:
    """The steps of a model over a run of blocks, as shapes at distances u outward of the edge."""
    wall_px = model.wall_mm * scale
    paper, face = _ends(profiles, group, wall_px)
    if wall_px <= 0:
        return _shapes(np.array([paper, face]), u, 0.0, optics.blur_px)
    if not math.isnan(model.shade):
        return [_composite(np.array([paper, face * model.shade, face]), u, wall_px, optics.blur_px)]
    middle = np.abs(profiles.offsets_px + wall_px / 2) <= max(0.75, wall_px / 2 - 2.5)
    return _shapes(np.array([paper, _level(profiles, group, middle), face]), u, wall_px, optics.blur_px)


def _level(profiles: _Profiles, group: np.ndarray, chosen: np.ndarray) -> np.ndarray:
    """(3,) linear colour of the chosen offsets over a run of blocks."""
    stored = np.median(profiles.values[np.ix_(group, np.nonzero(chosen)[0])], axis=(0, 1)) @ RGB_FROM_LUMA_CHROMA.T
    return np.asarray(linear_from_stored(np.clip(stored, 0, 255)))


def _ends(profiles: _Profiles, group: np.ndarray, wall_px: float) -> tuple[np.ndarray, np.ndarray]:
    """Linear colour of paper and face beside the edge."""
    offsets = profiles.offsets_px
    paper = (offsets >= 4) & (offsets <= REACH_PX)
    face = (offsets <= -wall_px - 4) & (offsets >= -wall_px - REACH_PX)
    return _level(profiles, group, paper), _level(profiles, group, face)


def _ridge(stack: _CostStack, profiles: _Profiles, slope_reach_px: float) -> tuple[np.ndarray, int]:
    """The line through the stack that explains most blocks, each capped: ((offset, slope), model index), slope in px from the
    middle to an end. Costs are divided by the block's own misfit, so that a block no model explains has little say."""
    best_fit = stack.cost.min(axis=(1, 2))
    scale = np.maximum(1.0, best_fit / stack.freedom)
    places = stack.places_px
    step = places[1] - places[0]
    slopes = np.arange(-slope_reach_px, slope_reach_px + 1e-9, step)
    x = np.linspace(-1, 1, len(best_fit))
    rows = np.arange(len(x))[None, :]
    best: tuple[float, np.ndarray, int] = (np.inf, np.zeros(2), 0)
    colour = _Colours(profiles, places) if len(stack.models) > 1 else None
    for j, model in enumerate(stack.models):
        above = np.minimum((stack.cost[:, :, j] - best_fit[:, None]) / scale[:, None], MOST_COST)
        against = np.zeros(len(places)) if colour is None else len(x) * HUE_COST * colour.against(model)
        for slope in slopes:
            at = places[:, None] + slope * x[None, :]
            index = np.rint((at - places[0]) / step).astype(int)
            outside = (index < 0) | (index >= len(places))
            total = np.where(outside, MOST_COST, above[rows, np.clip(index, 0, len(places) - 1)]).sum(axis=1)
            worth = (total + against) / BLOCKS_TOGETHER + model.prior_cost
            k = int(np.argmin(worth))
            if worth[k] < best[0]:
                best = (float(worth[k]), np.array([places[k], slope]), j)
    return best[1], best[2]


class _Colours:
    """What colour alone says of where the edge is: paper outside it has little of the face's hue, a wall inside it much."""

    def __init__(self, profiles: _Profiles, places: np.ndarray) -> None:
        stored = np.median(profiles.values, axis=0)
        red, green, blue = linear_from_stored(np.clip(stored @ RGB_FROM_LUMA_CHROMA.T, 1.0, 255.0)).T
        self._hue = np.log((red + green) / 2 / blue)
        self._offsets = profiles.offsets_px
        self._places = places
        self._scale = float(profiles.scales.mean())
        self._paper = float(np.median(self._hue[self._offsets > places[-1] + 3]))

    def _between(self, low: float, high: float) -> float:
        return float(np.median(self._hue[(self._offsets >= low) & (self._offsets <= max(high, low + 1))])) - self._paper

    def against(self, model: _Model) -> np.ndarray:
        """(P,) what speaks against the edge at each place, from 0 to about 1."""
        wall_px = model.wall_mm * self._scale
        result = np.zeros(len(self._places))
        for k, place in enumerate(self._places):
            face = self._between(place - wall_px - 9, place - wall_px - 4)
            if face < LEAST_HUE:
                continue
            result[k] = max(0.0, self._between(place + 3, place + 7) / face - 0.5)
            if wall_px >= NARROW_WALL_PX:
                result[k] += max(0.0, 0.5 - self._between(place - wall_px + 1.5, place - 1.5) / face)
        return np.minimum(result, 1.0)


def _block_minima(stack: _CostStack, model: int, line_px: np.ndarray, reach_px: float) -> tuple[np.ndarray, np.ndarray]:
    """(B,) place of the least cost within reach of the line, and its standard uncertainty by the cost's curvature."""
    cost = stack.cost[:, :, model]
    places = stack.places_px
    step = float(places[1] - places[0])
    allowed = np.abs(places[None, :] - line_px[:, None]) <= reach_px
    masked = np.where(allowed, cost, np.inf)
    k = np.clip(np.argmin(masked, axis=1), 1, len(places) - 2)
    rows = np.arange(len(cost))
    left, middle, right = cost[rows, k - 1], cost[rows, k], cost[rows, k + 1]
    curvature = np.maximum((left - 2 * middle + right) / step**2, 1e-3)
    shift = np.clip((left - right) / (2 * step * curvature), -step, step)
    sigma = np.sqrt(2 / curvature)
    return places[k] + shift, sigma


def trace_edge(
    photo: Photo, pose: SheetPose, start: np.ndarray, end: np.ndarray, guess: WallGuess, optics: Optics
) -> EdgePoints:
    """Edge points along the coarse line from start to end (mm on the paper, clockwise round the piece).

    The coarse line may run along the outline or along a side wall's inner edge: both are tried.
    """
    start, end, guess = _settle(photo, pose, start, end, guess, optics)
    profiles = _profiles(photo, pose, start, end, max(0.0, guess.width_mm + 3 * guess.sd_mm) * optics.scale_px_per_mm)
    x = np.linspace(-1, 1, len(profiles.along_mm))
    places = np.arange(-10, 11) * GRID_PX
    stack = _cost_stack(profiles, places, _models(guess, float(profiles.scales.mean()), 0.5), optics)
    line, chosen = _ridge(stack, profiles, 2.0)
    at = line[0] + line[1] * x
    place, sigma = _block_minima(stack, chosen, at, 1.5)
    misfit = stack.cost[:, :, chosen].min(axis=1) / stack.freedom
    used = np.abs(place - at) < 1.45
    parts = []
    for channels in ((0,), (1, 2)):
        sub = _cost_stack(profiles, places, stack.models[chosen : chosen + 1], optics, channels)
        alone, _ = _block_minima(sub, 0, at, 1.5)
        parts.append(alone - place)
    gain = float(np.mean((stack.no_step - stack.cost[:, :, chosen].min(axis=1)) / np.maximum(1.0, misfit)))
    return EdgePoints(
        profiles.along_mm,
        profiles.base_px + place[:, None] * profiles.across,
        profiles.across,
        sigma * np.sqrt(np.maximum(1.0, misfit)),
        misfit,
        used,
        stack.models[chosen].wall_mm,
        gain,
        profiles.scale_px_per_mm,
        parts[0],
        parts[1],
    )


def _settle(
    photo: Photo, pose: SheetPose, start: np.ndarray, end: np.ndarray, guess: WallGuess, optics: Optics
) -> tuple[np.ndarray, np.ndarray, WallGuess]:
    """Bring a coarse line onto the outline, first among all places it may have, then closer, and narrow the wall's guess."""
    direction = (end - start) / np.hypot(*(end - start))
    outward = np.array([direction[1], -direction[0]])
    for first in (True, False):
        widest = max(0.0, guess.width_mm + 3 * guess.sd_mm) * optics.scale_px_per_mm
        profiles = _profiles(photo, pose, start, end, widest)
        spacing = 1.0 if first else 0.5
        reach = 8.0 if first else 4.0
        farthest = min(reach + (widest if first else 0.0), 3 * REACH_PX + widest)
        places = np.rint(np.arange(-reach, farthest + 1e-9, spacing) / GRID_PX) * GRID_PX
        models = _models(guess, float(profiles.scales.mean()), 2.0 if first else 0.75)
        segment_mm = 1e3 if first else 30.0
        stack = _cost_stack(profiles, places, models, optics, segment_mm=segment_mm, everything=first)
        x = np.linspace(-1, 1, len(profiles.along_mm))
        line, chosen = _ridge(stack, profiles, 4.0)
        shift = (line[0] + line[1] * x[[0, -1]]) / profiles.scale_px_per_mm
        start, end = start + shift[0] * outward, end + shift[1] * outward
        found, doubt = stack.models[chosen].wall_mm, (1.0 if first else 0.4) / optics.scale_px_per_mm
        if doubt < guess.sd_mm:
            guess = WallGuess(found if found > 0 else min(guess.width_mm, 0.0), doubt)
    return start, end, guess
