"""Sub-pixel edge points: the line along an edge that the photo makes likeliest, and where each point stands about it.

For every block and every place the edge may have, the cost is kept (minus twice the log likelihood), and the line is
sought in that stack, so that a second step nearby (shadow, arris) is an alternative to be weighed and not a point to be
averaged in.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from cutvision.imaging.chart import Chart
from cutvision.imaging.constants import BLOCKS_TOGETHER, BLUR_PRIOR
from cutvision.imaging.edge_model import (
    NARROW_WALL_PX,
    CostStack,
    Model,
    WallGuess,
    cost_stack,
    possible_models,
)
from cutvision.imaging.lines import LEAST_POINTS, robust_line
from cutvision.imaging.photo import Photo
from cutvision.imaging.pose import SheetPose
from cutvision.imaging.profiles import REACH_PX, Profiles, profiles_across
from cutvision.imaging.response import GRID_PX
from cutvision.imaging.tone import RGB_FROM_LUMA_CHROMA, linear_from_stored

MOST_COST = 12.0
"""Beyond this a block counts as not explained, however badly."""
CHROMA_BLURS_PX = (1.1, 1.6, 2.2, 3.0, 4.0)
BLUR_FACTORS = (0.75, 1.0, 1.35, 1.8, 2.4)
"""Blurs tried on an edge's own profiles: of chroma, and of luma beside that of the squares."""
MOST_MISFIT = 6.0
"""Reduced chi-square at which a block's say is capped while its blur is sought."""
NEAR_PX, ON_THE_BRINK_PX = 1.5, 0.05
"""How far from the ridge's line a block's own place is sought, and how near to that limit it counts as not found."""
HUE_COST = 20.0
LEAST_HUE = 0.1


@dataclass(frozen=True, slots=True)
class EdgePoints:
    """Edge points of one side, one a block.

    along_mm: (B,) place along the coarse line from its start; pixels: (B, 2); across: (B, 2) unit normals, outward.
    sigma_px: (B,) standard uncertainty across the edge by the block's likelihood; misfit: (B,) its reduced chi-square;
    used: (B,) on the line's own ridge.
    wall_mm: width of the side wall that shows, on the paper, 0 where none does.
    gain: mean fall of the cost per block that the step explains.
    by_squares_px: (B,) how far outward the points would stand under the blur of the sheet's squares.
    step_doubt_mm: standard uncertainty of the whole edge's place, since another wall or none is possible too.
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
    step_doubt_mm: float
    by_squares_px: np.ndarray


@dataclass(frozen=True, slots=True)
class _Ridge:
    """The likeliest line through a stack for each of its models, and which model is the likeliest of all.

    lines: (M, 2) offset and slope, the slope in px from the middle to an end; worth: (M,) minus twice the log
    likelihood, the geometry's word included.
    """

    lines: np.ndarray
    worth: np.ndarray

    @property
    def chosen(self) -> int:
        return int(np.argmin(self.worth))

    @property
    def line(self) -> np.ndarray:
        return np.asarray(self.lines[self.chosen])


def _ridge(stack: CostStack, profiles: Profiles, slope_reach_px: float) -> _Ridge:
    """For every model the line through the stack that explains most blocks, each capped.

    Costs are divided by the block's own misfit, so that a block no model explains has little say.
    """
    best_fit = stack.cost.min(axis=(1, 2))
    scale = np.maximum(1.0, best_fit / stack.freedom)
    places = stack.places_px
    step = places[1] - places[0]
    slopes = np.arange(-slope_reach_px, slope_reach_px + 1e-9, step)
    x = np.linspace(-1, 1, len(best_fit))
    rows = np.arange(len(x))[None, :]
    colour = _Colours(profiles, places) if len(stack.models) > 1 else None
    lines, worth = np.zeros((len(stack.models), 2)), np.full(len(stack.models), np.inf)
    for j, model in enumerate(stack.models):
        above = np.minimum((stack.cost[:, :, j] - best_fit[:, None]) / scale[:, None], MOST_COST)
        against = np.zeros(len(places)) if colour is None else len(x) * HUE_COST * colour.against(model)
        for slope in slopes:
            at = places[:, None] + slope * x[None, :]
            index = np.rint((at - places[0]) / step).astype(int)
            outside = (index < 0) | (index >= len(places))
            total = np.where(outside, MOST_COST, above[rows, np.clip(index, 0, len(places) - 1)]).sum(axis=1)
            here = (total + against) / BLOCKS_TOGETHER + model.prior_cost
            k = int(np.argmin(here))
            if here[k] < worth[j]:
                worth[j], lines[j] = float(here[k]), (places[k], slope)
    return _Ridge(lines, worth)


def _step_doubt(ridge: _Ridge, stack: CostStack, guess: WallGuess, scale: float) -> float:
    """Standard uncertainty, mm, of the edge's place from not knowing which step is which: what other models say.

    A model with a wall puts the outline at the paper, one without puts it at the top face, which for the same pixels is
    the wall's width farther out. Models weigh by their likelihood.
    """
    weight = np.exp(-(ridge.worth - ridge.worth.min()) / 2)
    at_top = np.array([model.wall_mm == 0 for model in stack.models], dtype=float)
    c = ridge.chosen
    away = (ridge.lines[:, 0] - ridge.line[0]) / scale + guess.width_mm * (at_top - at_top[c])
    return float(np.sqrt((weight * away**2).sum() / weight.sum()))


class _Colours:
    """What colour says of an edge's place: paper outside it has little of the face's hue, a wall inside it much."""

    def __init__(self, profiles: Profiles, places: np.ndarray) -> None:
        stored = np.median(profiles.values, axis=0)
        red, green, blue = linear_from_stored(np.clip(stored @ RGB_FROM_LUMA_CHROMA.T, 1.0, 255.0)).T
        self._hue = np.log((red + green) / 2 / blue)
        self._ordered = profiles.offsets_px.tolist()
        self._medians: dict[tuple[int, int], float] = {}
        self._places = places
        self._scale = float(profiles.scales.mean())
        self._paper = float(np.median(self._hue[profiles.offsets_px > places[-1] + 3]))

    def _between(self, low: float, high: float) -> float:
        """The median hue from low to high, over the paper's; kept, since models and places ask for the same again."""
        part = bisect_left(self._ordered, low), bisect_right(self._ordered, max(high, low + 1))
        if part not in self._medians:
            self._medians[part] = float(np.median(self._hue[slice(*part)])) - self._paper
        return self._medians[part]

    def against(self, model: Model) -> np.ndarray:
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


def _block_minima(stack: CostStack, model: int, line_px: np.ndarray, reach_px: float) -> tuple[np.ndarray, np.ndarray]:
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
    photo: Photo, pose: SheetPose, start: np.ndarray, end: np.ndarray, guess: WallGuess, chart: Chart
) -> EdgePoints:
    """Edge points along the coarse line from start to end (mm on the paper, clockwise round the piece).

    The coarse line may run along the outline or along a side wall's inner edge: both are tried.
    """
    start, end, guess = _settle(photo, pose, start, end, guess, chart)
    profiles = profiles_across(photo, pose, start, end, guess.widest_mm * chart.scale_px_per_mm)
    x = np.linspace(-1, 1, len(profiles.along_mm))
    places = np.arange(-10, 11) * GRID_PX
    models = possible_models(guess, float(profiles.scales.mean()), 0.5)
    own = _with_own_blur(profiles, models, chart)
    stack = cost_stack(profiles, places, models, own)
    ridge = _ridge(stack, profiles, 2.0)
    chosen, at = ridge.chosen, ridge.line[0] + ridge.line[1] * x
    place, sigma = _block_minima(stack, chosen, at, NEAR_PX)
    other = cost_stack(profiles, places, [stack.models[chosen]], chart)
    misfit = stack.cost[:, :, chosen].min(axis=1) / stack.freedom
    used = np.abs(place - at) < NEAR_PX - ON_THE_BRINK_PX
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
        _step_doubt(ridge, stack, guess, profiles.scale_px_per_mm),
        _block_minima(other, 0, at, NEAR_PX)[0] - place,
    )


def _with_own_blur(profiles: Profiles, models: Sequence[Model], chart: Chart) -> Chart:
    """The chart with the blur that this edge's own profiles call for: chroma's first, then luma's.

    The edge stands nearer the lens than the squares and elsewhere in the picture, its roughness blurs it in a block,
    and chroma's blur cannot be seen on black and white squares at all.
    """
    likeliest = [min(models, key=lambda model: model.prior_cost)]
    places = np.arange(-4, 5) * 2 * GRID_PX

    start = chart.response

    def cost(tried: Chart) -> float:
        stack = cost_stack(profiles, places, likeliest, tried, segment_mm=30.0)
        blocks = np.minimum(stack.cost[:, :, 0], MOST_MISFIT * stack.freedom).min(axis=1)
        chroma = math.log(tried.response.chroma_blur_px / start.chroma_blur_px)
        luma = math.log(tried.response.blur_px / start.blur_px)
        return float(blocks.sum()) / BLOCKS_TOGETHER + (chroma**2 + luma**2) / BLUR_PRIOR**2

    by_chroma = [replace(chart, response=replace(start, chroma_blur_px=blur)) for blur in CHROMA_BLURS_PX]
    response = min(by_chroma, key=cost).response
    by_luma = [replace(chart, response=replace(response, blur_px=k * response.blur_px)) for k in BLUR_FACTORS]
    return min(by_luma, key=cost)


def _fitted_ends(stack: CostStack, model: int, line_px: np.ndarray) -> np.ndarray:
    """(2,) the ends of the straight line through the blocks' own places near a line (B,) of the ridge, px.

    The ridge's lines lie half a pixel apart. Profiles laid along one of them, and not along the edge, are sampled and
    cut off as chance has it: coarse lines 0.15 mm apart then gave directions 0.01 deg apart.
    """
    place, sigma = _block_minima(stack, model, line_px, NEAR_PX)
    near = np.abs(place - line_px) < NEAR_PX - ON_THE_BRINK_PX
    basis = np.column_stack([np.ones(len(place)), np.linspace(-1, 1, len(place))])
    if near.sum() < LEAST_POINTS:
        return np.asarray(line_px[[0, -1]])
    return np.asarray(basis[[0, -1]] @ robust_line(basis, place, sigma, near))


def _settle(
    photo: Photo, pose: SheetPose, start: np.ndarray, end: np.ndarray, guess: WallGuess, chart: Chart
) -> tuple[np.ndarray, np.ndarray, WallGuess]:
    """Bring a coarse line onto the outline, among all places it may have, then closer; and narrow the wall's guess."""
    direction = (end - start) / np.hypot(*(end - start))
    outward = np.array([direction[1], -direction[0]])
    for first in (True, False):
        widest = guess.widest_mm * chart.scale_px_per_mm
        profiles = profiles_across(photo, pose, start, end, widest)
        spacing = 1.0 if first else 0.5
        reach = 8.0 if first else 4.0
        farthest = min(reach + (widest if first else 0.0), 3 * REACH_PX + widest)
        places = np.rint(np.arange(-reach, farthest + 1e-9, spacing) / GRID_PX) * GRID_PX
        models = possible_models(guess, float(profiles.scales.mean()), 2.0 if first else 0.75)
        segment_mm = 1e3 if first else 30.0
        stack = cost_stack(profiles, places, models, chart, segment_mm=segment_mm, everything=first)
        x = np.linspace(-1, 1, len(profiles.along_mm))
        ridge = _ridge(stack, profiles, 4.0)
        at = ridge.line[0] + ridge.line[1] * x
        shift = (at[[0, -1]] if first else _fitted_ends(stack, ridge.chosen, at)) / profiles.scale_px_per_mm
        start, end = start + shift[0] * outward, end + shift[1] * outward
        found, doubt = stack.models[ridge.chosen].wall_mm, (1.0 if first else 0.4) / chart.scale_px_per_mm
        if doubt < guess.sd_mm:
            guess = guess.narrowed(found, doubt)
    return start, end, guess
