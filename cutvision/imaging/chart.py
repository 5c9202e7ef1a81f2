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
from cutvision.imaging.response import GRID_PX, USUAL_CHROMA_BLUR_PX, EdgeResponse, filed, stored_steps
from cutvision.imaging.tone import LUMA_CHROMA_FROM_RGB, RGB_FROM_LUMA_CHROMA, linear_from_stored
from cutvision.target.sheet import MARKER_MM, SQUARE_MM

RIM_MM = (SQUARE_MM - MARKER_MM) / 2
"""White between a black square and the marker in the white square beside it."""
DARK_REACH_PX = 12.0
SPACING_PX = 0.5
SIDE_MM = 6.0
"""Of each square's 10 mm side, what is looked at: clear of the corners, where two more squares meet."""
STATIONS = 25
FEWEST_SIDES = 20
USUAL = EdgeResponse(0.7)
USUAL_MISFIT = 0.02
"""Where too few sides show to tell: what sharp rendered photos without sharpening come out at."""
CLEAR_PX = 6.0
"""Farther into the black than this a square's level is read."""
START = (np.log(0.7), 0.5, np.log(1.5), 0.4)
LEAST, MOST = (np.log(0.25), 0.0, np.log(0.5), 0.0), (np.log(8.0), 4.0, np.log(6.0), 3.0)
HELD = 0.01
"""Weight of the usual sharpening and log radius beside a profile of unit height."""
TYPICAL_STEP = (0.2, 0.3, 0.2, 0.2)
"""Of the response's parameters: log blur, sharpening, log radius, blur of stored values."""
SCALE_PRIOR_PX, CUBIC_PRIOR_PX = 1.5, 0.3
"""Prior standard deviations of lateral color at the picture's corner: phones show up to 1.2 px, and little of it
departs from a change of scale (common practice, no source)."""
CHROMA_BLURS_PX = (0.8, 1.1, 1.4, 1.7, 2.0, 2.4, 2.9)
CHROMA_BLUR_PRIOR_PX = 0.5
TOGETHER = 8.0
"""How many samples of a chroma profile say the same: half a pixel apart, two pixels of blur and 4:2:0 storage."""


@dataclass(frozen=True, slots=True)
class LateralColor:
    """How far red and blue stand from green, away from the picture's middle.

    middle_px: (2,) of the lens; corner_px: half the picture's diagonal; terms: (2, 2) for red and blue the scale and
    the cubic term, px at the corner.
    """

    middle_px: np.ndarray
    corner_px: float
    terms: np.ndarray

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
    """What the squares tell.

    misfit: rms of what the response leaves of the squares' mean luma profile, as a share of the step.
    scale_px_per_mm: the median over the ring.
    """

    response: EdgeResponse
    color: LateralColor
    misfit: float
    scale_px_per_mm: float


def read_chart(photo: Photo, pose: SheetPose) -> Chart:
    """Response and lateral color of this photo, from the squares that show; the usual ones where too few do."""
    sides = _read_sides(photo, pose)
    scale = float(np.median(sides.rims_px)) / RIM_MM
    middle = pose.camera.centre_px
    corner = float(np.hypot(photo.width_px, photo.height_px)) / 2
    shown = sides.shown
    if len(shown.values) < FEWEST_SIDES:
        return Chart(USUAL, LateralColor(middle, corner, np.zeros((2, 2))), USUAL_MISFIT, scale)
    luma = _fit_luma(shown)
    return Chart(
        luma.response, LateralColor(middle, corner, _fit_color(shown, luma, middle, corner)), luma.misfit, scale
    )


@dataclass(frozen=True, slots=True)
class _Sides:
    """Profiles across the squares' sides: values (N, n, 3) luma and chroma at u_px (n,), outward into the white.

    places_px, outward: (N, 2); rims_px: (N,) distance of the marker from the side; inside: (N,) wholly in the picture.
    """

    u_px: np.ndarray
    values: np.ndarray
    places_px: np.ndarray
    outward: np.ndarray
    rims_px: np.ndarray
    inside: np.ndarray

    @property
    def shown(self) -> _Sides:
        """Those in the picture with nothing on them: a step from black to white of about the usual height."""
        rise = self.values[:, -4:, 0].mean(axis=1) - self.values[:, :4, 0].mean(axis=1)
        usual = float(np.median(rise[self.inside])) if self.inside.any() else 0.0
        good = self.inside & (rise > 0.5 * usual)
        return _Sides(
            self.u_px,
            self.values[good],
            self.places_px[good],
            self.outward[good],
            self.rims_px[good],
            self.inside[good],
        )


def _read_sides(photo: Photo, pose: SheetPose) -> _Sides:
    sheet = pose.sheet
    table = np.array(
        [
            (column + 0.5 + dc / 2, row + 0.5 + dr / 2, dc, dr)
            for column, row in sheet.black_squares
            for dc, dr in ((1, 0), (0, 1), (-1, 0), (0, -1))
            if sheet.in_ring(column + dc, row + dr)
        ]
    )
    count = len(table)
    middles, outward = table[:, :2] * SQUARE_MM, table[:, 2:]
    along = np.linspace(-SIDE_MM / 2, SIDE_MM / 2, STATIONS)
    tangent = np.column_stack([-outward[:, 1], outward[:, 0]])
    stations = (middles[:, None] + along[None, :, None] * tangent[:, None]).reshape(-1, 2)
    both = np.concatenate([stations, stations + np.repeat(outward, STATIONS, axis=0)])
    base, ahead = predicted_px(sheet, pose.values, pose.turned_from, both).reshape(2, count, STATIONS, 2)
    run, side = (ahead - base).mean(axis=1), base[:, -1] - base[:, 0]
    # across the side as the photo shows it, which perspective leaves at no right angle to the run from square to square
    normal = np.column_stack([side[:, 1], -side[:, 0]])
    normal *= (np.sign((normal * run).sum(axis=1)) / np.hypot(*normal.T))[:, None]
    rims = RIM_MM * (run * normal).sum(axis=1)
    u = np.arange(-DARK_REACH_PX, min(DARK_REACH_PX, float(np.median(rims))) + 1e-9, SPACING_PX)
    at = (base[:, :, None, :] + normal[:, None, None, :] * u[:, None]).reshape(count * STATIONS, len(u), 2)
    stored = photo.stored if photo.stored.dtype == np.uint8 else (photo.stored >> 8).astype(np.uint8)
    x, y = at[..., 0].astype(np.float32), at[..., 1].astype(np.float32)
    sampled = cv2.remap(stored, x, y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    rgb = np.asarray(sampled, dtype=float).reshape(count, STATIONS, len(u), 3).mean(axis=1)
    places = base.mean(axis=1)
    far = np.array([photo.width_px, photo.height_px]) - DARK_REACH_PX - 4
    inside = ((places > DARK_REACH_PX + 3) & (places < far)).all(axis=1)
    return _Sides(u, rgb @ LUMA_CHROMA_FROM_RGB.T, places, normal, rims, inside)


@dataclass(frozen=True, slots=True)
class _Template:
    """A square's side as the file shows it, on a grid: sharp, coarse (m, 3) stored red, green, blue; levels (2, 3)."""

    u_px: np.ndarray
    sharp: np.ndarray
    coarse: np.ndarray
    levels: np.ndarray

    @property
    def luma(self) -> np.ndarray:
        """(m,) luma from 0 on the black to 1 on the white."""
        weight = LUMA_CHROMA_FROM_RGB[0]
        return np.asarray((self.sharp - self.levels[0]) @ weight / ((self.levels[1] - self.levels[0]) @ weight))


def _template(sides: _Sides, levels: np.ndarray, response: EdgeResponse) -> _Template:
    """levels: (2, 3) stored red, green, blue of black and white. The marker's own side bounds the white."""
    margin = 14.0
    first, last = round((sides.u_px[0] - margin) / GRID_PX), round((sides.u_px[-1] + margin) / GRID_PX)
    u = np.arange(first, last + 1) * GRID_PX
    black, white = linear_from_stored(np.clip(levels, 0.0, 255.0))
    rim = np.full(3, float(np.median(sides.rims_px)))
    stored = stored_steps(np.array([black, white, black]), u, np.array([rim, np.zeros(3)]), response.blur_px)
    return _Template(u, *filed(stored, response), levels)


@dataclass(frozen=True, slots=True)
class _LumaFit:
    """response, chroma's part left as usual; levels (2, 3) stored; places_px, heights (N,) of the sides; misfit."""

    response: EdgeResponse
    levels: np.ndarray
    places_px: np.ndarray
    heights: np.ndarray
    misfit: float


@dataclass(frozen=True, slots=True)
class _Binned:
    """The sides' profiles together by distance from each side's own place: u_px, mean, weight (K,)."""

    u_px: np.ndarray
    mean: np.ndarray
    weight: np.ndarray


def _fit_luma(sides: _Sides) -> _LumaFit:
    """Places, levels and response in turn, each by the others."""
    rgb = np.median(sides.values, axis=0) @ RGB_FROM_LUMA_CHROMA.T
    dark, bright = sides.u_px < -CLEAR_PX, sides.u_px > min(3.0, sides.u_px[-1] - 1)
    levels = np.array([np.median(rgb[dark], axis=0), np.median(rgb[bright], axis=0)])
    parameters, misfit = np.array(START), 0.0
    placed = _Placed(np.zeros(len(sides.values)), np.zeros(0), np.zeros(0))
    for _ in range(3):
        template = _template(sides, levels, _response_of(parameters))
        placed = _place(sides, template, placed.places_px)
        read = np.array([np.median(placed.low), np.median(placed.low + placed.heights)])
        levels = levels + (read - levels @ LUMA_CHROMA_FROM_RGB[0])[:, None]
        parameters, misfit = _fit_response(sides, levels, _bin(sides, template, placed), parameters)
    return _LumaFit(_response_of(parameters), levels, placed.places_px, placed.heights, misfit)


def _response_of(parameters: np.ndarray) -> EdgeResponse:
    blur, sharpening, radius, stored_blur = (float(v) for v in parameters)
    return EdgeResponse(float(np.exp(blur)), sharpening, float(np.exp(radius)), stored_blur)


def _fit_response(sides: _Sides, levels: np.ndarray, binned: _Binned, start: np.ndarray) -> tuple[np.ndarray, float]:
    """(4,) the response's parameters that explain the binned profile, and the rms of what they leave."""

    def left(parameters: np.ndarray) -> np.ndarray:
        template = _template(sides, levels, _response_of(parameters))
        here = np.interp(binned.u_px, template.u_px, template.luma)
        slope = np.interp(binned.u_px, template.u_px, np.gradient(template.luma, GRID_PX))
        basis = np.column_stack([np.ones_like(here), here, slope]) * binned.weight[:, None]
        data = binned.mean * binned.weight
        remains = data - basis @ np.linalg.lstsq(basis, data, rcond=None)[0]
        # a weak halo of a small radius may as well be a strong one of a smaller: hold both near the usual
        return np.append(remains, HELD * (parameters - START)[1:3])

    # kernels change with the grid's resolution only, so that the step of the differences must not be tiny
    found = least_squares(left, start, bounds=(LEAST, MOST), x_scale=TYPICAL_STEP, diff_step=5e-3)
    return found.x, float(np.sqrt(np.mean(found.fun[:-2] ** 2)))


@dataclass(frozen=True, slots=True)
class _Placed:
    """(N,) place of every side beside where the pose puts it, level of its black and height of its step, in luma."""

    places_px: np.ndarray
    low: np.ndarray
    heights: np.ndarray


def _place(sides: _Sides, template: _Template, start_px: np.ndarray) -> _Placed:
    """Least squares of the template in every side, the place to first order, three times over."""
    table = template.luma
    slope = np.gradient(table, GRID_PX)
    places = start_px
    for _ in range(3):
        z = sides.u_px[None, :] - places[:, None]
        columns = [np.ones_like(z), np.interp(z, template.u_px, table), -np.interp(z, template.u_px, slope)]
        basis = np.stack(columns, axis=2)
        normal = basis.transpose(0, 2, 1) @ basis + 1e-9 * np.eye(3)
        level = np.linalg.solve(normal, basis.transpose(0, 2, 1) @ sides.values[:, :, :1])[..., 0]
        rise = np.where(np.abs(level[:, 1]) < 1.0, 1.0, level[:, 1])
        places = np.clip(places + np.clip(level[:, 2] / rise, -0.5, 0.5), -2.0, 2.0)
    return _Placed(places, level[:, 0], rise)


def _bin(sides: _Sides, template: _Template, placed: _Placed) -> _Binned:
    """The normalised profiles of the sides that agree with the rest, by distance from each side's own place."""
    z = sides.u_px[None, :] - placed.places_px[:, None]
    value = (sides.values[..., 0] - placed.low[:, None]) / placed.heights[:, None]
    energy = ((value - np.interp(z, template.u_px, template.luma)) ** 2).mean(axis=1)
    away = np.abs(placed.places_px - np.median(placed.places_px))
    agree = (energy < 3 * np.median(energy)) & (away < 3.5 * 1.4826 * np.median(away) + 0.02)
    z, value = z[agree].ravel(), value[agree].ravel()
    index = np.rint(z / GRID_PX).astype(int)
    index -= index.min()
    count = np.bincount(index)
    full = count > agree.sum() / 12
    where, total = np.bincount(index, weights=z)[full], np.bincount(index, weights=value)[full]
    return _Binned(where / count[full], total / count[full], np.sqrt(count[full] / count.max()))


def _fit_color(sides: _Sides, luma: _LumaFit, middle: np.ndarray, corner_px: float) -> np.ndarray:
    """(2, 2) the terms of lateral color, under the chroma blur that explains the squares best."""
    away = (sides.places_px - middle) / corner_px
    outward, square = (away * sides.outward).sum(axis=1), (away**2).sum(axis=1)
    field = np.column_stack([outward, outward * square])
    tried = [
        (blur, _color_terms(sides, luma, replace(luma.response, chroma_blur_px=blur), field))
        for blur in CHROMA_BLURS_PX
    ]
    least = min(found.noise for _, found in tried)

    def cost(blur: float, found: _ColorFit) -> float:
        return found.misfit / least + ((blur - USUAL_CHROMA_BLUR_PX) / CHROMA_BLUR_PRIOR_PX) ** 2

    return min(tried, key=lambda pair: cost(*pair))[1].terms


@dataclass(frozen=True, slots=True)
class _ColorFit:
    """terms (2, 2); misfit: what they leave, squares summed over independent samples; noise: variance of a sample."""

    terms: np.ndarray
    misfit: float
    noise: float


def _color_terms(sides: _Sides, luma: _LumaFit, response: EdgeResponse, field: np.ndarray) -> _ColorFit:
    """Least squares of both chroma channels at the squares' sides by the displacements of red and of blue.

    field: (N, 2) displacement across each side per unit of scale and of the cubic term.
    """
    template = _template(sides, luma.levels, response)
    z = sides.u_px[None, :] - luma.places_px[:, None]
    span = float((luma.levels[1] - luma.levels[0]) @ LUMA_CHROMA_FROM_RGB[0])
    scale = (luma.heights / span)[:, None]
    tables = (template.coarse - luma.levels[0]).T
    steps = [np.interp(z, template.u_px, table) * scale for table in tables]
    moved = [-np.interp(z, template.u_px, np.gradient(table, GRID_PX)) * scale for table in tables]
    # a side's own level and height in each chroma channel are free: take them out of data and model alike
    grey = np.mean(steps, axis=0)
    q, _ = np.linalg.qr(np.stack([np.ones_like(grey), grey], axis=2))

    def cleared(values: np.ndarray) -> np.ndarray:
        return np.asarray(values - (q @ (q.transpose(0, 2, 1) @ values[..., None]))[..., 0])

    miss, design = [], []
    for row in (1, 2):
        mix = LUMA_CHROMA_FROM_RGB[row]
        expected = np.tensordot(mix, np.stack(steps), axes=1)
        miss.append(cleared(sides.values[..., row] - expected))
        design.append(
            np.stack([cleared(mix[c] * moved[c]) * field[:, t : t + 1] for c in (0, 2) for t in range(2)], axis=2)
        )
    return _robust(np.stack(miss, axis=1), np.stack(design, axis=1))


def _robust(miss: np.ndarray, design: np.ndarray) -> _ColorFit:
    """Least squares with a prior; sides that stand out, (N, 2, n) of the data, lose their say. design: (N, 2, n, 4)."""
    count = miss[0].size
    data, columns = miss.reshape(len(miss), count), design.reshape(len(miss), count, 4)
    prior = np.diag(1 / np.array([SCALE_PRIOR_PX, CUBIC_PRIOR_PX] * 2) ** 2)
    weight, noise, terms, energy = np.ones(len(data)), 1.0, np.zeros(4), np.zeros(len(data))
    for _ in range(4):
        turned = columns.transpose(0, 2, 1) * weight[:, None, None]
        normal, right = (turned @ columns).sum(axis=0), (turned @ data[..., None]).sum(axis=0)[:, 0]
        terms = np.linalg.solve(normal / (noise * TOGETHER) + prior, right / (noise * TOGETHER))
        energy = ((data - columns @ terms) ** 2).mean(axis=1)
        noise = max(1e-6, float(np.median(energy)))
        weight = np.clip(2 - energy / noise / 3, 0.0, 1.0)
    return _ColorFit(terms.reshape(2, 2), float((weight * energy).sum()) * count / TOGETHER, noise)
