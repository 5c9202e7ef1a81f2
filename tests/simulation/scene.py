"""What a simulated photo is made of: the printed sheet, the pieces on it, the lights, the camera and its settings.

Lengths in mm in the sheet's true frame (origin at the ring's outer top-left corner, x right, y down, height up off the
paper); the print may be stretched in it, a piece never is.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from cutvision.imaging.camera import CameraModel, Pose
from cutvision.target.sheet import Sheet

Shape = Literal["miter", "strip", "corner", "board"]
Colour = tuple[float, float, float]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Stretch:
    """How a print differs from its drawing: true = centre + [[1 + ex, g], [0, 1 + ey]] (nominal - centre)."""

    ex: float = 0.0
    ey: float = 0.0
    g: float = 0.0

    @property
    def matrix(self) -> np.ndarray:
        """(2, 2) true offsets from nominal offsets, both from the frame's centre."""
        return np.array([[1 + self.ex, self.g], [0.0, 1 + self.ey]])


@dataclass(frozen=True, slots=True)
class Chip:
    """A one-sided bite out of an edge: at_mm along it from its first vertex to the bite's middle."""

    edge: int
    at_mm: float
    length_mm: float
    depth_mm: float


@dataclass(frozen=True, slots=True)
class Fibre:
    """A fibre standing out of an edge: at_mm along it from its first vertex."""

    edge: int
    at_mm: float
    width_mm: float
    length_mm: float


@dataclass(frozen=True, slots=True)
class BrokenTip:
    """A vertex broken off by a straight line `depth_mm` inside it; `lean_rad` turns that line off the symmetric one."""

    vertex: int
    depth_mm: float
    lean_rad: float = 0.0


@dataclass(frozen=True)
class Piece:
    """A convex upright prism.

    polygon: the saw's ideal edges, clockwise seen from above (x right, y down), edge k from vertex k to vertex k + 1.
    Miter: right leg, cut, left leg. Strip: a long edge toward the far end, the far end, the other long edge, the fence
    end. Corner: the corner measured is vertex 0.
    species: a name in `wood.SPECIES`. grain_rad: direction of the grain from +x toward +y.
    roughness_mm, correlation_mm: each edge's offset along its outward normal is a Gaussian process with autocovariance
    roughness^2 exp(-|x| / correlation), equal over the whole thickness.
    base_mm: height of the underside over the paper.
    """

    polygon: tuple[Point, ...]
    thickness_mm: float
    species: str = "maple"
    grain_rad: float = 0.0
    roughness_mm: float = 0.0
    correlation_mm: float = 1.0
    chips: tuple[Chip, ...] = ()
    fibres: tuple[Fibre, ...] = ()
    broken_tips: tuple[BrokenTip, ...] = ()
    base_mm: float = 0.0
    seed: int = 0

    @property
    def top_mm(self) -> float:
        """Height of the upper face over the paper."""
        return self.base_mm + self.thickness_mm

    @cached_property
    def vertices_mm(self) -> np.ndarray:
        """(N, 2) polygon."""
        return np.array(self.polygon, dtype=float)


@dataclass(frozen=True, slots=True)
class Light:
    """A round lamp or window facing down, `radius_mm` large.

    power: share of the paper's light at the frame's centre that it gives; colour: after the camera's white balance.
    """

    x_mm: float
    y_mm: float
    height_mm: float
    radius_mm: float
    power: float
    colour: Colour = (1.0, 1.0, 1.0)


@dataclass(frozen=True, slots=True)
class Ambient:
    """Light from all round.

    power: its share at the frame's centre. gradient_x, gradient_y: its relative change over 100 mm.
    occlusion: how much of the light that a piece hides from the paper beside it is lost (1: physics, 0: none).
    """

    power: float = 1.0
    colour: Colour = (1.0, 1.0, 1.0)
    gradient_x: float = 0.0
    gradient_y: float = 0.0
    occlusion: float = 1.0


@dataclass(frozen=True, slots=True)
class Curl:
    """A corner of the paper off the board: flat at `reach_mm` from it, rising like a parabola to `height_mm`.

    corner: 0 to 3, clockwise from the top left.
    """

    corner: int
    height_mm: float
    reach_mm: float


@dataclass(frozen=True, slots=True)
class Bench:
    """What the sheet lies on: "painted", "mat" or a name in `wood.SPECIES` (planks)."""

    kind: str = "painted"
    colour: Colour = (0.25, 0.26, 0.28)
    turn_rad: float = 0.0


@dataclass(frozen=True, slots=True)
class PhotoSettings:
    """The camera behind the lens and the file it writes.

    blur_px: standard deviation of the optical blur, in linear light; motion_px: the shift of the image while exposed.
    level: linear value that white paper gets at the frame's centre (1 is full scale).
    full_well, read_noise: electrons; 0 full_well means no noise. tint: white balance left over, per channel.
    s_curve, exponent: the tone curve's departure from sRGB (0 and 1: none), unknown to whoever measures.
    denoise, sharpen: 0 to 1. vignette: light lost in the corner. quality: of the JPEG file, chroma halved both ways.
    orientation: EXIF orientation 1 to 8 under which the file stores the upright photo. focal_35mm: None for no EXIF.
    """

    width_px: int
    height_px: int
    blur_px: float = 0.6
    motion_px: Point = (0.0, 0.0)
    level: float = 0.7
    full_well: float = 6000.0
    read_noise: float = 3.0
    tint: Colour = (1.0, 1.0, 1.0)
    s_curve: float = 0.05
    exponent: float = 1.0
    denoise: float = 0.4
    sharpen: float = 0.3
    vignette: float = 0.1
    quality: int = 92
    orientation: int = 1
    focal_35mm: float | None = 26.0


@dataclass(frozen=True, slots=True)
class Scene:
    """All that goes into one photo.

    pieces: wood on the sheet, the measured one first; covers: what lies over it all (a rule, a hand, a scrap).
    ink_blur_mm: softness of the print. dust: specks per cm2 on the paper. glare: light thrown back to the camera by the
    paper's shine, in units of the paper's own brightness where a lamp mirrors.
    sheet_shown: False photographs the bench without a sheet. plain: no grain, dust or mottle, for tests of geometry.
    """

    sheet: Sheet
    camera: CameraModel
    pose: Pose
    settings: PhotoSettings
    shape: Shape = "miter"
    stretch: Stretch = Stretch()
    pieces: tuple[Piece, ...] = ()
    covers: tuple[Piece, ...] = ()
    lights: tuple[Light, ...] = ()
    ambient: Ambient = Ambient()
    bench: Bench = Bench()
    curls: tuple[Curl, ...] = ()
    ink_blur_mm: float = 0.02
    dust: float = 0.0
    glare: float = 0.0
    sheet_shown: bool = True
    plain: bool = False
    seed: int = 0

    def true_from_nominal(self, nominal_mm: np.ndarray) -> np.ndarray:
        """(N, 2) places in the drawing -> where the print has them."""
        centre = np.array([self.sheet.width_mm, self.sheet.height_mm]) / 2
        return np.asarray(centre + (nominal_mm - centre) @ self.stretch.matrix.T)

    def paper_height_mm(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """How high the paper stands off the board at true places x, y (of one shape)."""
        height = np.zeros(np.shape(x))
        mx, my = self.sheet.margin_mm
        for curl in self.curls:
            right, low = curl.corner in (1, 2), curl.corner in (2, 3)
            cx, cy = (self.sheet.width_mm + mx if right else -mx), (self.sheet.height_mm + my if low else -my)
            height += curl.height_mm * np.clip(1 - np.hypot(x - cx, y - cy) / curl.reach_mm, 0, None) ** 2
        return height
