"""The sheet's own squares as a test chart: how this photo's steps come out, and how its colors are displaced.

The sides of the black squares stand at places known from the saddle points: binned by their distance from there
(slanted-edge method, ISO 12233) they give the edge response; what chroma shows at them is lateral color.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares

from cutvision.imaging.opencv import cv2
from cutvision.imaging.photo import Photo
from cutvision.imaging.pose import SheetPose, predicted_px
from cutvision.imaging.response import GRID_PX, EdgeResponse, filed, stored_steps
from cutvision.imaging.tone import LUMA_CHROMA_FROM_RGB, RGB_FROM_LUMA_CHROMA, linear_from_stored
from cutvision.target.sheet import MARKER_MM, SQUARE_MM

RIM_MM = (SQUARE_MM - MARKER_MM) / 2
"""White between a black square and the marker in the white square beside it."""
DARK_REACH_PX = 12.0
SIDE_MM = 6.0
STATIONS = 25
SPACING_PX = 0.5


@dataclass(frozen=True, slots=True)
class LateralColor:
    """How far red and blue stand from green, (2, 2) of (scale, cubic) for red and blue, px at the picture's corner.

    middle_px: (2,); corner_px: distance of a corner from it. covariance: (2, 2, 2) of each color's two terms.
    """

    middle_px: np.ndarray
    corner_px: float
    terms: np.ndarray
    covariance: np.ndarray

    def shifts_px(self, points_px: np.ndarray, along: np.ndarray) -> np.ndarray:
        """(N, 3) displacement of red, green, blue at (N, 2) pixels along the unit vectors (N, 2).

        From where luma shows a step of all three alike, since the camera is fitted to saddle points in luma.
        """
        away = (points_px - self.middle_px) / self.corner_px
        outward = (away * along).sum(axis=1)
        square = (away**2).sum(axis=1)
        red, blue = ((scale + cubic * square) * outward for scale, cubic in self.terms)
        shifts = np.column_stack([red, np.zeros(len(away)), blue])
        return np.asarray(shifts - shifts @ LUMA_CHROMA_FROM_RGB[0][:, None])


@dataclass(frozen=True, slots=True)
class Chart:
    """What the squares tell: the response in the photo's middle and the lateral color.

    misfit: rms of what the response leaves of the mean luma profile, as a share of the step.
    place_scatter_px: standard deviation of the sides' places about the saddles' pose, from side to side.
    """

    response: EdgeResponse
    color: LateralColor
    misfit: float
    place_scatter_px: float
    scale_px_per_mm: float


@dataclass(frozen=True, slots=True)
class _Sides:
    """Profiles across the squares' sides: values (N, n, 3) luma and chroma at u_px (n,), outward into the white.

    places_px, outward: (N, 2); rims_px: (N,) distance of the marker from the side.
    """

    u_px: np.ndarray
    values: np.ndarray
    places_px: np.ndarray
    outward: np.ndarray
    rims_px: np.ndarray


def _read_sides(photo: Photo, pose: SheetPose) -> _Sides:
    sheet = pose.sheet
    sides = []
    for column, row in sheet.black_squares:
        for dc, dr in ((1, 0), (0, 1), (-1, 0), (0, -1)):
            if sheet.in_ring(column + dc, row + dr):
                sides.append((column + 0.5 + dc / 2, row + 0.5 + dr / 2, dc, dr))
    table = np.array(sides, dtype=float)
    middles, outward = table[:, :2] * SQUARE_MM, table[:, 2:]
    along = np.linspace(-SIDE_MM / 2, SIDE_MM / 2, STATIONS)
    tangent = np.column_stack([-outward[:, 1], outward[:, 0]])
    stations = (middles[:, None] + along[None, :, None] * tangent[:, None]).reshape(-1, 2)
    base = predicted_px(sheet, pose.values, pose.turned_from, stations)
    ahead = predicted_px(sheet, pose.values, pose.turned_from, stations + np.repeat(outward, STATIONS, axis=0))
    run = ((ahead - base).reshape(len(sides), STATIONS, 2)).mean(axis=1)
    # across the side as the photo shows it, which perspective leaves at no right angle to the run from square to square
    tangent_px = (base.reshape(len(sides), STATIONS, 2)[:, -1] - base.reshape(len(sides), STATIONS, 2)[:, 0])
    normal = np.column_stack([tangent_px[:, 1], -tangent_px[:, 0]])
    normal *= (np.sign((normal * run).sum(axis=1)) / np.hypot(*normal.T))[:, None]
    rims = RIM_MM * (run * normal).sum(axis=1)
    u = np.arange(-DARK_REACH_PX, min(DARK_REACH_PX, float(np.median(rims))) + 1e-9, SPACING_PX)
    spread = np.repeat(normal, STATIONS, axis=0)
    x = (base[:, 0:1] + spread[:, 0:1] * u).astype(np.float32)
    y = (base[:, 1:2] + spread[:, 1:2] * u).astype(np.float32)
    stored = photo.stored if photo.stored.dtype == np.uint8 else (photo.stored >> 8).astype(np.uint8)
    sampled = cv2.remap(stored, x, y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    rgb = np.asarray(sampled, dtype=float).reshape(len(sides), STATIONS, len(u), 3).mean(axis=1)
    places = base.reshape(len(sides), STATIONS, 2).mean(axis=1)
    inside = ((places > DARK_REACH_PX + 3) & (places < np.array([photo.width_px, photo.height_px]) - DARK_REACH_PX - 4)).all(axis=1)
    rise = rgb[:, -4:].mean(axis=(1, 2)) - rgb[:, :4].mean(axis=(1, 2))
    good = inside & (rise > 0.5 * np.median(rise[inside]))
    return _Sides(u, rgb[good] @ LUMA_CHROMA_FROM_RGB.T, places[good], normal[good], rims[good])


def read_chart(photo: Photo, pose: SheetPose) -> Chart:
    """Response and lateral color of this photo, from the squares that show."""
    sides = _read_sides(photo, pose)
    luma = _fit_luma(sides)
    return _fit_chroma(sides, luma, pose.camera.centre_px, np.array([photo.width_px, photo.height_px]))


@dataclass(frozen=True, slots=True)
class _Template:
    """A square's side as the file shows it, on a grid: sharp, coarse (n, 3) stored red, green, blue."""

    u_px: np.ndarray
    sharp: np.ndarray
    coarse: np.ndarray


def _template(sides: _Sides, levels: np.ndarray, response: EdgeResponse) -> _Template:
    """levels: (2, 3) stored red, green, blue of black and white."""
    margin = 14.0
    u = np.arange(round((sides.u_px[0] - margin) / GRID_PX), round((sides.u_px[-1] + margin) / GRID_PX) + 1) * GRID_PX
    black, white = linear_from_stored(np.clip(levels, 0.0, 255.0))
    rim = np.full(3, float(np.median(sides.rims_px)))
    # from the white square's marker inward: black, white, black
    stored = stored_steps(np.array([black, white, black]), u, np.array([rim, np.zeros(3)]), response.blur_px)
    return _Template(u, *filed(stored, response))


def _at(template: _Template, table: np.ndarray, u: np.ndarray) -> np.ndarray:
    """Linear interpolation of a table (m,) at any places."""
    return np.interp(u, template.u_px, table)


@dataclass(frozen=True, slots=True)
class _LumaFit:
    """response without chroma's part; levels (2, 3) stored; places_px, heights (N,) of the sides; misfit, scatter."""

    response: EdgeResponse
    levels: np.ndarray
    places_px: np.ndarray
    heights: np.ndarray
    misfit: float
    scatter_px: float


def _fit_luma(sides: _Sides) -> _LumaFit:
    luma = sides.values[..., 0]
    rgb = np.median(sides.values, axis=0) @ RGB_FROM_LUMA_CHROMA.T
    dark, bright = sides.u_px < -6, sides.u_px > min(3.0, sides.u_px[-1] - 1)
    levels = np.array([np.median(rgb[dark], axis=0), np.median(rgb[bright], axis=0)])
    weight = LUMA_CHROMA_FROM_RGB[0]
    parameters = np.array([np.log(0.7), 0.5, np.log(1.5), 0.4])
    places = np.zeros(len(luma))
    for _ in range(3):
        response = _response_of(parameters)
        template = _template(sides, levels, response)
        table = template.sharp @ weight
        span = (levels[1] - levels[0]) @ weight
        table = (table - levels[0] @ weight) / span
        places, low, height = _place_sides(luma, sides.u_px, template.u_px, table, places)
        levels = levels + np.array([[np.median(low)], [np.median(low + height)]]) - (levels @ weight)[:, None]
        agree = _agreeing(luma, sides.u_px, template.u_px, table, places, low, height)
        u, mean, share = _binned(luma[agree], sides.u_px, places[agree], low[agree], height[agree])
        found = least_squares(
            lambda p: _luma_misses(p, sides, levels, u, mean, share), parameters, bounds=_BOUNDS, x_scale=[0.2, 0.3, 0.2, 0.2], diff_step=5e-3
        )
        parameters = found.x
    misfit = float(np.sqrt(np.mean(found.fun[: len(u)] ** 2)))
    scatter = 1.4826 * float(np.median(np.abs(places - np.median(places))))
    return _LumaFit(_response_of(parameters), levels, places, height, misfit, scatter)


_BOUNDS = ([np.log(0.25), 0.0, np.log(0.5), 0.0], [np.log(8.0), 4.0, np.log(6.0), 3.0])


def _response_of(parameters: np.ndarray) -> EdgeResponse:
    return EdgeResponse(float(np.exp(parameters[0])), float(parameters[1]), float(np.exp(parameters[2])), float(parameters[3]))


def _luma_misses(parameters: np.ndarray, sides: _Sides, levels: np.ndarray, u: np.ndarray, mean: np.ndarray, share: np.ndarray) -> np.ndarray:
    """What a response leaves of the binned profile, its own level, height and place fitted."""
    template = _template(sides, levels, _response_of(parameters))
    weight = LUMA_CHROMA_FROM_RGB[0]
    table = (template.sharp - levels[0]) @ weight / ((levels[1] - levels[0]) @ weight)
    here = np.interp(u, template.u_px, table)
    slope = np.interp(u, template.u_px, np.gradient(table, GRID_PX))
    basis = np.column_stack([np.ones_like(u), here, slope])
    left = mean - basis @ np.linalg.lstsq(basis * share[:, None], mean * share, rcond=None)[0]
    # without a halo its radius means nothing: hold it near the usual
    return np.append(left * share, 1e-3 * (parameters[2] - np.log(1.5)))


def _place_sides(
    luma: np.ndarray, u: np.ndarray, grid: np.ndarray, table: np.ndarray, start: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(N,) place, low level and height of every side under a normalised template."""
    slope_table = np.gradient(table, GRID_PX)
    places = start
    for _ in range(3):
        z = u[None, :] - places[:, None]
        basis = np.stack([np.ones_like(z), np.interp(z, grid, table), -np.interp(z, grid, slope_table)], axis=2)
        normal = basis.transpose(0, 2, 1) @ basis + 1e-9 * np.eye(3)
        level = np.linalg.solve(normal, basis.transpose(0, 2, 1) @ luma[..., None])[..., 0]
        places = np.clip(places + np.clip(level[:, 2] / level[:, 1], -0.5, 0.5), -2.0, 2.0)
    return places, level[:, 0], level[:, 1]


def _binned(
    luma: np.ndarray, u: np.ndarray, places: np.ndarray, low: np.ndarray, height: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The sides' normalised profiles together, by distance from each side's own place: bin middles and means."""
    z = u[None, :] - places[:, None]
    value = (luma - low[:, None]) / height[:, None]
    index = np.rint(z / GRID_PX).astype(int)
    first = index.min()
    count = np.bincount((index - first).ravel())
    total = np.bincount((index - first).ravel(), weights=value.ravel())
    where = np.bincount((index - first).ravel(), weights=z.ravel())
    full = count > len(luma) / 12
    return where[full] / count[full], total[full] / count[full], np.sqrt(count[full] / count.max())


def _agreeing(luma, u, grid, table, places, low, height) -> np.ndarray:
    left = luma - low[:, None] - height[:, None] * np.interp(u[None, :] - places[:, None], grid, table)
    energy = (left**2).mean(axis=1)
    scatter = 1.4826 * np.median(np.abs(places - np.median(places)))
    return (energy < 3 * np.median(energy)) & (np.abs(places - np.median(places)) < 3.5 * scatter + 0.02)


SCALE_PRIOR_PX, CUBIC_PRIOR_PX = 1.5, 0.3
CHROMA_BLURS_PX = (0.8, 1.1, 1.4, 1.7, 2.0, 2.4, 2.9)
CHROMA_BLUR_PRIOR_PX = 0.5


def _fit_chroma(sides: _Sides, luma: _LumaFit, middle: np.ndarray, size: np.ndarray) -> Chart:
    corner = float(np.hypot(*size)) / 2
    away = (sides.places_px - middle) / corner
    outward, square = (away * sides.outward).sum(axis=1), (away**2).sum(axis=1)
    field = np.column_stack([outward, outward * square])
    tried = []
    for blur in CHROMA_BLURS_PX:
        response = replace(luma.response, chroma_blur_px=blur)
        tried.append((response, *_color_terms(sides, luma, response, field)))
    least = min(noise for _, _, noise, _, _ in tried)
    best = min(tried, key=lambda row: row[1] / least + ((row[0].chroma_blur_px - 1.6) / CHROMA_BLUR_PRIOR_PX) ** 2)
    _, _, _, terms, covariance = best
    response = luma.response
    return Chart(response, LateralColor(middle, corner, terms, covariance), luma.misfit, luma.scatter_px, float(np.median(sides.rims_px)) / RIM_MM)


def _color_terms(
    sides: _Sides, luma: _LumaFit, response: EdgeResponse, field: np.ndarray
) -> tuple[float, float, np.ndarray, np.ndarray]:
    template = _template(sides, luma.levels, response)
    z = sides.u_px[None, :] - luma.places_px[:, None]
    span = (luma.levels[1] - luma.levels[0]) @ LUMA_CHROMA_FROM_RGB[0]
    scale = luma.heights / span
    steps = [np.interp(z, template.u_px, template.coarse[:, c] - luma.levels[0, c]) * scale[:, None] for c in range(3)]
    slopes = [
        -np.interp(z, template.u_px, np.gradient(template.coarse[:, c], GRID_PX)) * scale[:, None] for c in (0, 2)
    ]
    # each side's own levels and height in each chroma channel are free: take them out of data and model alike
    grey = np.mean(steps, axis=0)
    plain = np.stack([np.ones_like(grey), grey], axis=2)
    q, _ = np.linalg.qr(plain)

    def cleared(values: np.ndarray) -> np.ndarray:
        return values - (q @ (q.transpose(0, 2, 1) @ values[..., None]))[..., 0]

    data, columns = [], []
    for row in (1, 2):
        mix = LUMA_CHROMA_FROM_RGB[row]
        expected = sum(mix[c] * steps[c] for c in range(3))
        data.append(cleared(sides.values[..., row] - expected))
        columns.append(
            np.stack(
                [
                    cleared(mix[c] * slopes[k]) * field[:, t : t + 1]
                    for k, c in enumerate((0, 2))
                    for t in range(2)
                ],
                axis=2,
            )
        )
    miss, design = np.stack(data), np.stack(columns)
    weight = np.ones(len(z))
    prior = np.diag(1 / np.array([SCALE_PRIOR_PX, CUBIC_PRIOR_PX] * 2) ** 2)
    for _ in range(4):
        w = design * weight[None, :, None, None]
        normal = np.einsum("rnpa,rnpb->ab", w, design)
        right = np.einsum("rnpa,rnp->a", w, miss)
        solved = np.linalg.lstsq(normal, right, rcond=1e-9)[0]
        left = miss - design @ solved
        energy = (left**2).mean(axis=(0, 2))
        noise = float(np.median(energy)) * 1.1
        solved = np.linalg.solve(normal / noise / TOGETHER + prior, right / noise / TOGETHER)
        weight = np.clip(2 - energy / noise / 3, 0.0, 1.0)
    covariance = np.linalg.inv(normal / noise / TOGETHER + prior)
    cost = float((weight * energy).sum()) * left.shape[0] * left.shape[2] / TOGETHER
    return cost, noise, solved.reshape(2, 2), np.stack([covariance[:2, :2], covariance[2:, 2:]])


TOGETHER = 8.0
"""How many samples of a chroma profile say the same: half a pixel apart, two pixels of blur and 4:2:0 storage."""
