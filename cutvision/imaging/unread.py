"""Why no code of a sheet could be read: no sheet at all, or a ring of squares that is blurred, burnt out or too small.

The ring's inner corners are saddle points of the brightness on a square lattice, and their axes turn by a right angle
from each to the next. That outlives a blur that no code survives.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from cutvision.errors import PhotoRefused
from cutvision.imaging.exposure import MOST_BURNT, burnt_share
from cutvision.imaging.locate import grey_of
from cutvision.imaging.opencv import cv2
from cutvision.imaging.photo import Photo
from cutvision.target.sheet import SQUARE_MM

LONG_SIDE_PX = 800
SCALES_PX = (1.5, 3.0, 4.5, 6.0)
MOST_SADDLES = 500
NEIGHBOURS = 12
OFF_LATTICE = 0.2
"""How far from its place a saddle may lie, as a share of the step to its neighbour."""
LEAST_CONTRAST = 30.0
"""In stored values between the black and the white beside a saddle: a ring in the blur of a whole square has 60."""
FEWEST_ON_LATTICE = 40
LEAST_BLUR_MM = 0.3
"""Blur (standard deviation) past which codes of cells of 1 mm are hard to read."""
LEAST_CODE_PX, SHARP_PX = 1.6, 0.8
"""Width of a code's cell under which it cannot be read, however sharp the photo; a photo's blur that is sharp."""
LEAST_EVEN = 0.7
STEP_SPREAD = 0.3
LEAST_ALIGNED = 0.95
"""Share of the corners whose step lies within such a share of the median step, and the length of the mean of the steps'
directions once turned alike: a sheet seen at a slant has 0.98 and more, steps at random 0.9."""
INNER_SHARE = 0.7


@dataclass(frozen=True, slots=True)
class Ring:
    """A lattice of squares. corners_px: (N, 2) where four of them meet; square_px: their width.

    blur_px: standard deviation of the blur of their edges, the wider one of the two directions.
    """

    corners_px: np.ndarray
    square_px: float
    blur_px: float


def why_unread(photo: Photo, refusal: PhotoRefused) -> PhotoRefused:
    """The refusal of a photo whose codes tell too little: the cause when a ring is plain to see, else as it was."""
    ring = find_ring(grey_of(photo))
    if ring is None:
        return refusal
    px_per_mm = ring.square_px / SQUARE_MM
    if px_per_mm < LEAST_CODE_PX and ring.blur_px < SHARP_PX:
        return PhotoRefused(
            "blurred",
            f"A ring of squares shows, but each is only {ring.square_px:.0f} px wide, too few to read its code.",
            "Go closer, until the sheet fills the picture, and send the photo at its full size.",
        )
    if ring.blur_px > LEAST_BLUR_MM * px_per_mm:
        return PhotoRefused(
            "blurred",
            f"A ring of squares shows, but they are smeared over {2 * ring.blur_px / px_per_mm:.1f} mm on the paper "
            f"({2 * ring.blur_px:.0f} px), and their codes cannot be read.",
        )
    if burnt_share(photo, _inside(ring.corners_px)) > MOST_BURNT:
        return PhotoRefused(
            "overexposed", "A ring of squares shows, but the paper is burnt out to white and the codes with it."
        )
    return refusal


def _inside(corners_px: np.ndarray) -> np.ndarray:
    """(N, 2) places spread over the middle of what the corners span."""
    low, high = np.quantile(corners_px, 0.02, axis=0), np.quantile(corners_px, 0.98, axis=0)
    middle, half = (low + high) / 2, INNER_SHARE * (high - low) / 2
    x, y = np.meshgrid(np.linspace(-1, 1, 30), np.linspace(-1, 1, 30))
    return np.asarray(middle + half * np.column_stack([x.ravel(), y.ravel()]))


def find_ring(grey: np.ndarray) -> Ring | None:
    """The lattice of squares in an (H, W) uint8 picture; None when there is none."""
    shrink = min(1.0, LONG_SIDE_PX / max(grey.shape))
    small = cv2.resize(grey, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA).astype(np.float32)
    best: tuple[np.ndarray, np.ndarray] | None = None
    for scale in SCALES_PX:
        found = _on_lattice(*_saddles(small, scale))
        if best is None or len(found[0]) > len(best[0]):
            best = found
    if best is None or len(best[0]) < FEWEST_ON_LATTICE:
        return None
    steps = _turned_alike(best[1])
    lengths = np.hypot(*steps.T)
    even = np.abs(lengths / np.median(lengths) - 1) < STEP_SPREAD
    aligned = np.hypot(*(steps / lengths[:, None]).mean(axis=0))
    if even.mean() < LEAST_EVEN or aligned < LEAST_ALIGNED:
        return None
    corners = (best[0] + 0.5) / shrink - 0.5
    return Ring(corners, float(lengths[even].mean()) / shrink, _blur(grey, corners, steps / shrink))


def _turned_alike(steps: np.ndarray) -> np.ndarray:
    """(N, 2) steps turned by quarter turns until all point as nearly one way as they can."""
    directions = steps[:, 0] + 1j * steps[:, 1]
    common = np.angle(((directions / np.abs(directions)) ** 4).mean()) / 4
    quarters = np.rint((np.angle(directions) - common) / (np.pi / 2))
    turned = directions * 1j**-quarters
    return np.column_stack([turned.real, turned.imag])


def _saddles(small: np.ndarray, scale: float) -> tuple[np.ndarray, np.ndarray]:
    """(N, 2) places of the clearest saddles and (N,) angles of their rising axes, modulo pi."""
    smooth = cv2.GaussianBlur(small, (0, 0), scale)
    xx, xy, yy = (cv2.Sobel(smooth, cv2.CV_32F, *order, ksize=5) for order in ((2, 0), (1, 1), (0, 2)))
    strength = xy * xy - xx * yy
    reach = 2 * round(2 * scale) + 1
    peak = (strength == cv2.dilate(strength, np.ones((reach, reach), np.uint8))) & (strength > 0)
    around = np.ones((4 * reach + 1, 4 * reach + 1), np.uint8)
    peak &= cv2.dilate(smooth, around) - cv2.erode(smooth, around) > LEAST_CONTRAST
    row, column = np.nonzero(peak)
    first = np.argsort(strength[row, column])[::-1][:MOST_SADDLES]
    row, column = row[first], column[first]
    angle = 0.5 * np.arctan2(2 * xy[row, column], xx[row, column] - yy[row, column])
    return np.column_stack([column, row]).astype(float), angle


def _on_lattice(points: np.ndarray, angles: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(N, 2) the saddles with neighbours on both sides in one direction and on one side across it; (N, 2) the steps."""
    if len(points) <= NEIGHBOURS:
        return np.empty((0, 2)), np.empty((0, 2))
    tree = cKDTree(points)
    _, near = tree.query(points, NEIGHBOURS + 1)
    corners, steps = [], []
    for k in range(len(points)):
        # the axes turn by a right angle from a corner to the next
        turned = near[k, 1:][np.cos(2 * (angles[near[k, 1:]] - angles[k])) < -0.5]
        ways = points[turned] - points[k]
        lengths = np.hypot(*ways.T)
        for way, length in zip(ways, lengths, strict=True):
            apart = np.hypot(*(ways + way).T)
            if not len(apart) or apart.min() > OFF_LATTICE * length:
                continue
            level = np.abs(ways @ way) < 0.4 * length * lengths
            if np.any(level & (np.abs(lengths / length - 1) < 0.4)):
                corners.append(points[k])
                steps.append(way)
                break
    return np.array(corners).reshape(-1, 2), np.array(steps).reshape(-1, 2)


def _blur(grey: np.ndarray, corners: np.ndarray, steps: np.ndarray) -> float:
    """The wider blur, px, of the squares' edges in the two directions."""
    length = np.hypot(*steps.T)
    along = steps / length[:, None]
    across = np.column_stack([-along[:, 1], along[:, 0]])
    u = np.linspace(-0.45, 0.45, 91)
    blurs = []
    for way, side in ((along, across), (across, along)):
        middle = corners + 0.5 * length[:, None] * way
        x, y = (middle[:, i : i + 1] + length[:, None] * side[:, i : i + 1] * u for i in (0, 1))
        profile = cv2.remap(
            grey, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        ).astype(float)
        low, high = np.quantile(profile, 0.05, axis=1), np.quantile(profile, 0.95, axis=1)
        steepest = np.abs(np.diff(cv2.GaussianBlur(profile, (5, 1), 1.0), axis=1)).max(axis=1) / (u[1] - u[0])
        # a blurred step of height h and standard deviation s is h / (s sqrt(2 pi)) steep
        blurs.append(float(np.median((high - low) / np.maximum(steepest, 1e-3) * length)) / np.sqrt(2 * np.pi))
    return float(max(blurs))
