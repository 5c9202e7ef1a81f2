"""A scene photographed: linear light ray by ray, then the sensor's and the file's own doings."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from simulation.edges import sides_of
from simulation.grid import Grid, grid_of
from simulation.printed import SURFACE_MM, ink_share, surface_picture
from simulation.prism import appearance, at_height, part_of_photo
from simulation.scene import Colour, Light, Piece, Scene
from simulation.sensor import blurred, developed
from simulation.shadow import Patch, lamp_patch, surround_patch
from simulation.truth import SIDES, true_quantities
from simulation.wood import SPECIES, Picture, bench_picture, grain_picture

PAPER_ALBEDO: Colour = (0.86, 0.86, 0.86)
INK_ALBEDO: Colour = (0.045, 0.045, 0.047)
_ROWS = 96


@dataclass(frozen=True)
class RenderedPhoto:
    """A photo with known truth.

    stored: (H, W, 3) uint8, upright. truth: quantities by the interface's names in deg and mm; empty without a piece of
    the scene's shape.
    """

    scene: Scene
    stored: np.ndarray
    truth: Mapping[str, float]


def render(scene: Scene) -> RenderedPhoto:
    """Photograph a scene. The same scene always gives the same photo."""
    stored = developed(render_linear(scene), scene.settings, scene.seed)
    fits = scene.pieces and len(scene.pieces[0].polygon) == SIDES[scene.shape]
    return RenderedPhoto(scene, stored, true_quantities(scene) if fits else {})


def render_linear(scene: Scene) -> np.ndarray:
    """(H, W, 3) float32 light on the sensor, blurred by the lens, without noise; 1 is full scale."""
    stage = _Stage(scene)
    light = np.empty((scene.settings.height_px, scene.settings.width_px, 3), np.float32)
    for start in range(0, len(light), _ROWS):
        rows = slice(start, min(start + _ROWS, len(light)))
        light[rows] = stage.ground(rows)
    for piece in sorted((*scene.pieces, *scene.covers), key=lambda p: p.top_mm):
        stage.add(piece, light)
    gain = np.float32(scene.settings.level / PAPER_ALBEDO[1])
    for start in range(0, len(light), _ROWS):
        rows = slice(start, min(start + _ROWS, len(light)))
        light[rows] *= gain * stage.grid.spread(stage.vignette, rows)[..., None]
    return blurred(light, scene.settings)


class _Plane:
    """Light on a horizontal plane: unshadowed lamps on the lattice, shadows as patches."""

    def __init__(self, scene: Scene, grid: Grid, height_mm: float) -> None:
        self.scene, self.grid, self.height_mm = scene, grid, height_mm
        self.x, self.y = at_height(scene.pose.centre_mm, grid.x_mm, grid.y_mm, height_mm)
        limits = np.array([[self.x.min(), self.y.min()], [self.x.max(), self.y.max()]])
        pieces = (*scene.pieces, *scene.covers)
        self.lamps = [_lamp_strength(scene, light, self.x, self.y, height_mm) for light in scene.lights]
        self.shadows = [lamp_patch(light, pieces, height_mm, limits) for light in scene.lights]
        occlusion = scene.ambient.occlusion
        self.surround = surround_patch(pieces, height_mm, limits, 1 - 0.6 * occlusion) if occlusion > 0 else None
        self.ambient = _ambient_strength(scene, self.x, self.y)
        self.mirrored = [_mirrored(scene, light, self.x, self.y) for light in scene.lights] if height_mm == 0 else []

    def light(self, rows: slice, columns: slice, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """(h, w, 3) light on the plane's places x, y that the given pixels see."""
        ambient = self.grid.spread(self.ambient, rows, columns)
        if self.surround is not None:
            ambient *= self.surround.at(x, y)
        total = ambient[..., None] * np.array(self.scene.ambient.colour, np.float32)
        for light, strength, shadow in zip(self.scene.lights, self.lamps, self.shadows, strict=True):
            direct = _shaded(self.grid.spread(strength, rows, columns), shadow, x, y)
            total += direct[..., None] * np.array(light.colour, np.float32)
        return total

    def glare(self, rows: slice, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """(h, w, 3) light that the paper's shine throws back to the lens."""
        total = np.zeros((*x.shape, 3), np.float32)
        for light, strength, shadow in zip(self.scene.lights, self.mirrored, self.shadows, strict=True):
            direct = _shaded(self.grid.spread(strength, rows), shadow, x, y)
            total += direct[..., None] * np.array(light.colour, np.float32)
        return total


def _shaded(strength: np.ndarray, shadow: Patch | None, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    return strength if shadow is None else strength * shadow.at(x, y)


def _lamp_strength(scene: Scene, light: Light, x: np.ndarray, y: np.ndarray, height_mm: float) -> np.ndarray:
    """A lamp's light on a level place, `power` at the frame's centre: it falls with cosine and distance squared."""
    cx, cy = scene.sheet.width_mm / 2, scene.sheet.height_mm / 2
    centre = ((cx - light.x_mm) ** 2 + (cy - light.y_mm) ** 2 + light.height_mm**2) ** 1.5 / light.height_mm
    rise = light.height_mm - height_mm
    return np.asarray(light.power * centre * rise / ((x - light.x_mm) ** 2 + (y - light.y_mm) ** 2 + rise**2) ** 1.5)


def _ambient_strength(scene: Scene, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    a = scene.ambient
    slope = a.gradient_x * (x - scene.sheet.width_mm / 2) + a.gradient_y * (y - scene.sheet.height_mm / 2)
    return np.asarray(a.power * np.clip(1 + slope / 100, 0.2, 2.5))


def _mirrored(scene: Scene, light: Light, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Shine of the paper: a lobe about the mirror direction, as wide as the lamp and the paper's unevenness make it."""
    lens = scene.pose.centre_mm
    to_lens = np.stack([lens[0] - x, lens[1] - y, np.full_like(x, lens[2])])
    to_lamp = np.stack([light.x_mm - x, light.y_mm - y, np.full_like(x, light.height_mm)])
    half = to_lens / np.linalg.norm(to_lens, axis=0) + to_lamp / np.linalg.norm(to_lamp, axis=0)
    slope2 = (half[0] ** 2 + half[1] ** 2) / half[2] ** 2
    width = 0.09 + light.radius_mm / light.height_mm / 4
    return np.asarray(scene.glare * light.power * np.exp(-slope2 / width**2))


class _Stage:
    """All that several parts of one photo share."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.grid = grid_of(scene)
        self.paper = _Plane(scene, self.grid, 0.0)
        self.surface = surface_picture(scene.sheet, scene.dust, scene.seed, plain=scene.plain)
        grid = self.grid
        box = (float(grid.x_mm.min()), float(grid.y_mm.min()), float(grid.x_mm.max()), float(grid.y_mm.max()))
        bench = scene.bench
        self.bench = bench_picture(bench.kind, bench.colour, bench.turn_rad, box, scene.seed, plain=scene.plain)
        u, v = np.meshgrid(grid.columns_px, grid.rows_px)
        w, h = scene.settings.width_px, scene.settings.height_px
        r2 = ((u - w / 2) ** 2 + (v - h / 2) ** 2) / (w * w / 4 + h * h / 4)
        self.vignette = (1 - scene.settings.vignette * r2).astype(np.float32)
        self.footprint = self._footprint()
        self.raised = self._raised() if scene.curls else None

    def _raised(self) -> tuple[np.ndarray, np.ndarray]:
        """Lattice x and y of the paper seen where its corners stand off the board; two steps settle the height."""
        lens, x, y = self.scene.pose.centre_mm, self.grid.x_mm, self.grid.y_mm
        for _ in range(2):
            share = self.scene.paper_height_mm(x, y) / lens[2]
            x, y = (
                self.grid.x_mm + (lens[0] - self.grid.x_mm) * share,
                self.grid.y_mm + (lens[1] - self.grid.y_mm) * share,
            )
        return x, y

    def _footprint(self) -> tuple[float, float, float]:
        """Half-widths of the print's ramps along x and y, and the size of a pixel, all in mm at the frame's centre.

        A ramp of half-width h has the variance h^2 / 3; a pixel's box along an axis and the print's blur add up to it.
        """
        grid, sheet = self.grid, self.scene.sheet
        off = (grid.x_mm - sheet.width_mm / 2) ** 2 + (grid.y_mm - sheet.height_mm / 2) ** 2
        nearest = divmod(int(np.argmin(off)), off.shape[1])
        row, column = (min(max(n, 1), size - 2) for n, size in zip(nearest, off.shape, strict=True))
        step = grid.columns_px[1] - grid.columns_px[0]
        across, down = (
            np.array([v[row, column + 1] - v[row, column - 1], v[row + 1, column] - v[row - 1, column]]) / (2 * step)
            for v in (grid.x_mm, grid.y_mm)
        )
        ink2 = self.scene.ink_blur_mm**2
        half_x, half_y = (math.sqrt(3 * (float(j @ j) / 12 + ink2)) for j in (across, down))
        return half_x, half_y, math.sqrt(abs(float(across[0] * down[1] - across[1] * down[0])))

    def ground(self, rows: slice) -> np.ndarray:
        """(h, W, 3) light from paper and bench in some rows of the photo."""
        x, y = (self.grid.spread(v, rows) for v in (self.grid.x_mm, self.grid.y_mm))
        albedo = self.bench.at(x, y)
        light = self.paper.light(rows, slice(None), x, y)
        if not self.scene.sheet_shown:
            return np.asarray(albedo * light)
        nx, ny = (
            self._nominal(x, y)
            if self.raised is None
            else self._nominal(*(self.grid.spread(v, rows) for v in self.raised))
        )
        inside = self._paper_share(nx, ny)
        sheet = self.scene.sheet
        half_x, half_y, _ = self.footprint
        ink = ink_share(sheet, nx, ny, half_x, half_y)
        mx, my = sheet.margin_mm
        surface = Picture(self.surface, (-mx + SURFACE_MM / 2, -my + SURFACE_MM / 2), SURFACE_MM, 0.0).at(nx, ny)
        white, black = np.array(PAPER_ALBEDO, np.float32), np.array(INK_ALBEDO, np.float32)
        paper = surface[..., None] * (white + ink[..., None] * (black - white))
        albedo += inside[..., None] * (paper - albedo)
        albedo *= light
        if self.scene.glare > 0:
            shine = (inside * (1 - np.float32(0.35) * ink))[..., None] * np.float32(PAPER_ALBEDO[1])
            albedo += self.paper.glare(rows, x, y) * shine
        return albedo

    def _nominal(self, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        inverse = np.linalg.inv(self.scene.stretch.matrix).astype(np.float32)
        cx, cy = np.float32(self.scene.sheet.width_mm / 2), np.float32(self.scene.sheet.height_mm / 2)
        dx, dy = x - cx, y - cy
        return cx + inverse[0, 0] * dx + inverse[0, 1] * dy, cy + inverse[1, 0] * dx + inverse[1, 1] * dy

    def _paper_share(self, nx: np.ndarray, ny: np.ndarray) -> np.ndarray:
        sheet = self.scene.sheet
        half = np.float32(max(self.footprint[:2]))
        share = np.ones(nx.shape, np.float32)
        for place, size, ring in (
            (nx, sheet.paper_width_mm, sheet.width_mm),
            (ny, sheet.paper_height_mm, sheet.height_mm),
        ):
            edge = np.float32(size / 2) - np.abs(place - np.float32(ring / 2))
            share *= np.clip(edge / (2 * half) + np.float32(0.5), 0, 1)
        return share

    def add(self, piece: Piece, light: np.ndarray) -> None:
        """Lay a prism over the picture of everything lower."""
        part = part_of_photo(self.scene, piece)
        if part is None:
            return
        x, y = (self.grid.spread(v, *part) for v in (self.grid.x_mm, self.grid.y_mm))
        shows = appearance(self.scene, piece, x, y, part)
        area = light[part]
        keep = 1 - shows.top
        for _, seen, share, _ in shows.walls:
            keep.ravel()[seen] -= share
        area *= np.maximum(keep, 0)[..., None]
        area += shows.top[..., None] * self._top(piece, part, x, y)
        flat = np.zeros((x.size, 3), np.float32)
        for wall in shows.walls:
            flat[wall[1]] += wall[2][:, None] * self._wall(piece, wall, x, y)
        area += flat.reshape(area.shape)

    def _top(self, piece: Piece, part: tuple[slice, slice], x: np.ndarray, y: np.ndarray) -> np.ndarray:
        tx, ty = at_height(self.scene.pose.centre_mm, x, y, piece.top_mm)
        plane = _Plane(self.scene, self.grid, piece.top_mm)
        return np.asarray(plane.light(*part, tx, ty) * self._face(piece).at(tx, ty))

    def _face(self, piece: Piece) -> Picture:
        species = SPECIES[piece.species]
        if self.scene.plain:
            albedo = np.array(species.light, np.float32) + np.zeros((2, 2, 3), np.float32)
            return Picture(albedo, (0.0, 0.0), 1.0, 0.0)
        low, high = piece.vertices_mm.min(axis=0), piece.vertices_mm.max(axis=0)
        low, high = (
            np.maximum(low, -60),
            np.minimum(high, [self.scene.sheet.width_mm + 60, self.scene.sheet.height_mm + 60]),
        )
        box = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
        return grain_picture(species, box, piece.grain_rad, max(self.footprint[2], 0.05), piece.seed)

    def _wall(
        self, piece: Piece, wall: tuple[int, np.ndarray, np.ndarray, np.ndarray], x: np.ndarray, y: np.ndarray
    ) -> np.ndarray:
        """(n, 3) light from one wall: lamps by their angle to it, half the sky, and the paper's light from below."""
        k, seen, _, height = wall
        side = sides_of(piece)[k]
        share = height / np.float32(self.scene.pose.centre_mm[2])
        px = x.ravel()[seen] * (1 - share) + np.float32(self.scene.pose.centre_mm[0]) * share
        py = y.ravel()[seen] * (1 - share) + np.float32(self.scene.pose.centre_mm[1]) * share
        ambient = np.array(self.scene.ambient.colour, np.float32) * np.float32(self.scene.ambient.power)
        lift = (height - piece.base_mm) / max(piece.thickness_mm, 1e-6)
        total = ambient * (0.5 + 0.25 * (0.4 + 0.6 * lift))[:, None]
        for light in self.scene.lights:
            total += _lamp_on_wall(self.scene, light, side.outward, px, py, height)[:, None] * np.array(
                light.colour, np.float32
            )
        return np.asarray(total * self._wall_albedo(piece, k, side.along(px, py), lift))

    def _wall_albedo(self, piece: Piece, k: int, along: np.ndarray, lift: np.ndarray) -> np.ndarray:
        species = SPECIES[piece.species]
        light, dark = np.array(species.light, np.float32), np.array(species.dark, np.float32)
        if self.scene.plain:
            return light + np.zeros((len(along), 1), np.float32)
        across_grain = abs(math.sin(piece.grain_rad - math.atan2(*reversed(sides_of(piece)[k].direction))))
        # End grain drinks light: the more a wall cuts across the fibres, the darker it is.
        tone = 0.97 - 0.22 * across_grain
        if species.plies > 1:
            layer = np.floor(np.clip(lift, 0, 0.9999) * species.plies).astype(int) % 2
            return np.where(layer[:, None] == 0, light, dark * np.float32(0.8))
        noise = np.random.default_rng([piece.seed, 6, k]).standard_normal((4096,)).astype(np.float32)
        index = (along * 6).astype(np.int32) % 4096
        shade = np.clip(0.4 + 0.5 * species.ring_contrast * noise[index], 0, 1.3)[:, None]
        return np.asarray((light + (dark - light) * shade) * np.float32(tone))


def _lamp_on_wall(
    scene: Scene, light: Light, outward: Sequence[float], x: np.ndarray, y: np.ndarray, height: np.ndarray
) -> np.ndarray:
    """A lamp's light on a wall in the units of its light on the paper."""
    cx, cy = scene.sheet.width_mm / 2, scene.sheet.height_mm / 2
    centre = ((cx - light.x_mm) ** 2 + (cy - light.y_mm) ** 2 + light.height_mm**2) ** 1.5 / light.height_mm
    dx, dy, rise = light.x_mm - x, light.y_mm - y, light.height_mm - height
    facing = np.maximum(outward[0] * dx + outward[1] * dy, 0)
    return np.asarray(light.power * centre * facing / (dx * dx + dy * dy + rise * rise) ** 1.5, np.float32)
