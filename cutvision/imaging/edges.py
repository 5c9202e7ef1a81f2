"""Sub-pixel edge points: the mean profile across the edge, about every millimetre, explained by a model of what made it.

The model: paper, perhaps a side wall, and the wood's face, parted by steps that the lens blurs in linear light, stored through
the tone curve, chroma blurred further by the camera and the file. Levels are free in every block and channel; the noise is
the grain and the print's own, as measured on strips of the same photo parallel to the edge. For every block and every place
the edge may have, the cost (minus twice the log likelihood) is kept, and the line is sought in that stack, so that a second
step nearby (shadow, arris) is an alternative to be weighed and not a point to be averaged in.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import linalg
from scipy.special import ndtr

from cutvision.imaging.opencv import cv2
from cutvision.imaging.photo import Photo
from cutvision.imaging.pose import SheetPose, predicted_view_px
from cutvision.imaging.sharpness import Optics
from cutvision.imaging.tone import LUMA_CHROMA_FROM_RGB, linear_from_stored, stored_from_linear

BLOCK_MM = 1.0
LEAST_BLOCK_PX = 7.0
REACH_PX = 8
CHANNELS = 3
TRIM_MM = 1.2
GRID_PX = 0.25
LEAST_RISE = 4.0
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

    wall_px: (B,) width of the side wall that shows inside the edge.
    """

    along_mm: np.ndarray
    base_px: np.ndarray
    across: np.ndarray
    offsets_px: np.ndarray
    values: np.ndarray
    scale_px_per_mm: float
    wall_px: np.ndarray


def _profiles(photo: Photo, pose: SheetPose, start: np.ndarray, end: np.ndarray, wall_mm: float) -> _Profiles:
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
    inward_mm = wall_mm * np.array([-direction[1], direction[0]])
    arris = predicted_view_px(pose, start + stations.reshape(-1, 1) * direction + inward_mm)
    wall_px = ((points - arris) * normal).sum(axis=1).reshape(count, rows).mean(axis=1)
    offsets = np.arange(-math.ceil(wall_px.max() + 4 * REACH_PX), math.ceil(wall_px.max() + 4 * REACH_PX) + 1, dtype=float)
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
    return _Profiles(stations.mean(axis=1), middle, across, offsets, values, scale, wall_px)


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
class _CostStack:
    """cost[block, place, delta]: minus twice the log likelihood with the edge at places_px[place], the arris off by deltas_px."""

    places_px: np.ndarray
    deltas_px: np.ndarray
    cost: np.ndarray
    no_step: np.ndarray
    freedom: int


def _cost_stack(
    profiles: _Profiles,
    places: np.ndarray,
    deltas: np.ndarray,
    optics: Optics,
    channels: tuple[int, ...] = (0, 1, 2),
    *,
    segment_mm: float = 10.0,
    everything: bool = False,
) -> _CostStack:
    """The costs of all blocks. places and deltas lie on a grid of GRID_PX.

    everything: use the whole profile from beyond the arris to beyond the last place, not only what is near the two steps.
    """
    offsets, values = profiles.offsets_px, profiles.values
    wall = float(np.median(profiles.wall_px))
    has_wall = wall > 0
    if everything:
        near = (offsets >= -wall - REACH_PX) & (offsets <= places[-1] + REACH_PX)
    else:
        # what lies farther from both steps says nothing of them
        near = (np.abs(offsets) <= REACH_PX) | (np.abs(offsets + wall) <= REACH_PX)
    d = offsets[near]
    n = len(d)
    wood = _block_covariance(_strip_covariance(values[:, offsets < -wall - REACH_PX / 2], 3 * REACH_PX, 0.9), n)
    paper = _block_covariance(_strip_covariance(values[:, offsets > REACH_PX / 2 + 1], 2 * REACH_PX, 0.7), n)
    on_wood = np.tile(d < 0, CHANNELS)
    noise = np.where(np.outer(on_wood, on_wood), wood, np.where(np.outer(~on_wood, ~on_wood), paper, 0.0))
    noise += QUANTISATION**2 * np.eye(CHANNELS * n)
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
    cost = np.empty((count, len(places), len(deltas)))
    flat = np.empty(count)
    per = 3 + has_wall
    for group in groups:
        wall_here = float(np.mean(profiles.wall_px[group]))
        levels = _levels(profiles, group, wall)
        contrast = float(np.abs(levels[0] - levels[-1]).max()) * 255
        # what the model's shape gets wrong stands where the steps are: a share of the contrast
        spread = np.exp(-0.5 * (d / 2.0) ** 2) + np.exp(-0.5 * ((d + wall_here) / 2.0) ** 2) * has_wall
        own = noise + np.diag((SHAPE_ERROR * contrast * np.tile(spread, len(channels))) ** 2)
        root = linalg.cholesky(own, lower=True)
        white = linalg.solve_triangular(root, data[:, group], lower=True)
        energy = (white**2).sum(axis=0)
        plain = np.zeros((n * len(channels), 2 * len(channels)))
        slope = np.where(d > 0, d, 0.0) / REACH_PX
        for k in range(len(channels)):
            plain[k * n : (k + 1) * n, 2 * k] = 1.0
            plain[k * n : (k + 1) * n, 2 * k + 1] = slope
        q, _ = np.linalg.qr(linalg.solve_triangular(root, plain, lower=True))
        flat[group] = energy - ((q.T @ white) ** 2).sum(axis=0)
        for j, delta in enumerate(deltas):
            shapes = _shapes(levels, table_u, wall_here - float(delta), optics.blur_px)
            basis = np.zeros((len(places), n * len(channels), per * len(channels)))
            for k, c in enumerate(channels):
                rows = slice(k * n, (k + 1) * n)
                basis[:, rows, k * per] = 1.0
                basis[:, rows, k * per + 1] = slope
                for s, shape in enumerate(shapes):
                    basis[:, rows, k * per + 2 + s] = shape[index, c]
            stacked = basis.transpose(1, 0, 2).reshape(n * len(channels), -1)
            whitened = linalg.solve_triangular(root, stacked, lower=True)
            q, _ = np.linalg.qr(whitened.reshape(n * len(channels), len(places), -1).transpose(1, 0, 2))
            cost[group, :, j] = (energy - ((q.transpose(0, 2, 1) @ white) ** 2).sum(axis=1)).T
    freedom = len(pick) - len(channels) * per - 1
    return _CostStack(places, deltas, cost, flat, freedom)


def _levels(profiles: _Profiles, group: np.ndarray, wall: float) -> np.ndarray:
    """(regions, 3) linear levels of paper, wall when it is wide enough to have one of its own, and face."""
    offsets = profiles.offsets_px
    inverse = np.linalg.inv(LUMA_CHROMA_FROM_RGB).T

    def level(chosen: np.ndarray) -> np.ndarray:
        stored = np.median(profiles.values[np.ix_(group, np.nonzero(chosen)[0])], axis=(0, 1)) @ inverse
        return np.asarray(linear_from_stored(np.clip(stored, 0, 255)))

    paper = level((offsets >= 4) & (offsets <= REACH_PX))
    face = level((offsets <= -wall - 4) & (offsets >= -wall - REACH_PX))
    if wall <= 0:
        return np.array([paper, face])
    middle = np.abs(offsets + wall / 2) <= max(0.75, wall / 2 - 2.5)
    return np.array([paper, level(middle), face])


def _ridge(stack: _CostStack, x: np.ndarray, slope_reach_px: float) -> tuple[np.ndarray, int]:
    """The line through the stack that explains most blocks, each capped: ((offset, slope), delta index), slope in px per
    unit of x (-1..1). Costs are divided by the block's own misfit, so that a block no model explains has little say."""
    best_fit = stack.cost.min(axis=(1, 2))
    scale = np.maximum(1.0, best_fit / stack.freedom)
    places = stack.places_px
    step = places[1] - places[0]
    offsets = places
    slopes = np.arange(-slope_reach_px, slope_reach_px + 1e-9, step)
    best: tuple[float, np.ndarray, int] = (np.inf, np.zeros(2), 0)
    for j in range(len(stack.deltas_px)):
        above = (stack.cost[:, :, j] - best_fit[:, None]) / scale[:, None]
        above = np.minimum(above, 12.0)
        for slope in slopes:
            at = offsets[:, None] + slope * x[None, :]
            index = np.clip(np.rint((at - places[0]) / step).astype(int), 0, len(places) - 1)
            outside = (at < places[0] - step / 2) | (at > places[-1] + step / 2)
            total = np.where(outside, 12.0, above[np.arange(len(x))[None, :], index]).sum(axis=1)
            k = int(np.argmin(total))
            if total[k] < best[0]:
                best = (float(total[k]), np.array([offsets[k], slope]), j)
    return best[1], best[2]


def _block_minima(stack: _CostStack, delta: int, line_px: np.ndarray, reach_px: float) -> tuple[np.ndarray, np.ndarray]:
    """(B,) place of the least cost within reach of the line, and its standard uncertainty by the cost's curvature."""
    cost = stack.cost[:, :, delta]
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


def _refined(points: np.ndarray) -> np.ndarray:
    return np.asarray(np.rint(points / GRID_PX) * GRID_PX)


def trace_edge(
    photo: Photo, pose: SheetPose, start: np.ndarray, end: np.ndarray, wall_mm: float, optics: Optics
) -> EdgePoints:
    """Edge points along the coarse line from start to end (mm on the paper, clockwise round the piece).

    wall_mm: how wide a side wall shows inside the edge, on the paper; 0 for none. The coarse line may run along the outline
    or along the wall's inner edge: both are tried.
    """
    direction = (end - start) / np.hypot(*(end - start))
    outward = np.array([direction[1], -direction[0]])
    start, end, delta = _settle(photo, pose, start, end, outward, wall_mm, optics)
    profiles = _profiles(photo, pose, start, end, wall_mm)
    x = np.linspace(-1, 1, len(profiles.along_mm))
    places = np.arange(-10, 11) * GRID_PX
    deltas = np.array([0.0]) if wall_mm <= 0 else _refined(delta + np.arange(-2, 3) * 0.5)
    stack = _cost_stack(profiles, places, deltas, optics)
    line, chosen = _ridge(stack, x, 2.0)
    at = line[0] + line[1] * x
    place, sigma = _block_minima(stack, chosen, at, 1.5)
    misfit = stack.cost.min(axis=(1, 2)) / stack.freedom
    used = np.abs(place - at) < 1.45
    parts = []
    for channels in ((0,), (1, 2)):
        sub = _cost_stack(profiles, places, stack.deltas_px[chosen : chosen + 1], optics, channels)
        alone, _ = _block_minima(sub, 0, at, 1.5)
        parts.append(alone - place)
    gain = float(np.mean((stack.no_step - stack.cost.min(axis=(1, 2))) / np.maximum(1.0, misfit)))
    return EdgePoints(
        profiles.along_mm,
        profiles.base_px + place[:, None] * profiles.across,
        profiles.across,
        sigma * np.sqrt(np.maximum(1.0, misfit)),
        misfit,
        used,
        wall_mm,
        gain,
        profiles.scale_px_per_mm,
        parts[0],
        parts[1],
    )


def _settle(
    photo: Photo, pose: SheetPose, start: np.ndarray, end: np.ndarray, outward: np.ndarray, wall_mm: float, optics: Optics
) -> tuple[np.ndarray, np.ndarray, float]:
    """Bring a coarse line onto the outline: start, end (mm) and how far the arris stands from where geometry puts it (px)."""
    delta = 0.0
    for spacing in (1.0, 0.5):
        profiles = _profiles(photo, pose, start, end, wall_mm)
        wall = float(np.max(profiles.wall_px))
        first = spacing == 1.0
        reach = 8.0 if first else 4.0
        farthest = reach + (wall if first else 0.0)
        places = _refined(np.arange(-reach, min(farthest, 3 * REACH_PX + wall) + 1e-9, spacing))
        deltas = np.array([0.0]) if wall_mm <= 0 else _refined(np.arange(-3, 3.1, 1.5))
        stack = _cost_stack(profiles, places, deltas, optics, segment_mm=1e3 if first else 30.0, everything=first)
        x = np.linspace(-1, 1, len(profiles.along_mm))
        line, chosen = _ridge(stack, x, 4.0)
        delta = float(deltas[chosen])
        shift = (line[0] + line[1] * x[[0, -1]]) / profiles.scale_px_per_mm
        start, end = start + shift[0] * outward, end + shift[1] * outward
    return start, end, delta
