"""Where the camera stands over the sheet, what its lens does, and how the print is stretched, from one photo.

All are fitted together by least squares with priors where one photo cannot tell. Square pixels and straight rows make
the print's unequal stretch and shear visible in a single photo as soon as the perspective fixes the tilt; the prior on
the sensor's own aspect and skew (hand movement while the rows are read out) says how far that may be trusted.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from cutvision.errors import PhotoRefused
from cutvision.imaging.camera import CameraModel, Pose, back_project, project, project_by, world_from_sheet
from cutvision.imaging.locate import SheetSighting
from cutvision.imaging.photo import Photo
from cutvision.target import Sheet

FULL_FRAME_DIAGONAL_MM = 43.2666
"""Diagonal of 36 x 24 mm, by which cameras state the equivalent focal length."""

INTRINSICS = ("focal", "centre_x", "centre_y", "k1", "k2", "p1", "p2", "k3", "aspect", "skew")
LIFTS = ("right", "bottom right", "bottom", "bottom left", "left", "top left", "top", "top right")
PARAMETERS = (
    *INTRINSICS,
    *("turn_x", "turn_y", "turn_z", "shift_x", "shift_y", "shift_z"),
    *("anisotropy", "shear"),
    *(f"lift {place}" for place in LIFTS),
)
COUNT = len(PARAMETERS)
FIRST_LIFT = COUNT - len(LIFTS)
ANISOTROPY, SHEAR = PARAMETERS.index("anisotropy"), PARAMETERS.index("shear")

FEWEST_SADDLES = 24
KNOWN_BEFORE = (*range(len(INTRINSICS)), ANISOTROPY, SHEAR)
READOUT_SD = 2e-4
"""Prior standard deviation of the sensor's aspect and skew: a hand that turns by half a degree a second while the rows
are read out in a fiftieth of a second (common practice, no source)."""
USUAL_RATIOS = (1.0, 5 / 4, 4 / 3, 3 / 2, 16 / 9, 2.0)
CROPPED_CENTRE = 0.06
"""Prior standard deviation of a cropped photo's centre, share of its diagonal: 15 % cut from one side moves it so."""
PRINT_REACH = 0.01
"""Prior standard deviation of anisotropy and shear while one photo is fitted: wide, so that the narrower knowledge of
the print is brought in once, where photos are combined."""
LIFT_MM = 0.2
"""Prior standard deviation of how far a side or a corner of the sheet stands off the board (common practice, no source:
paper taped at its corners)."""


@dataclass(frozen=True, slots=True)
class CameraPrior:
    """What is known of camera and print before the photo is looked at, in the order of `KNOWN_BEFORE`.

    mean: (12,), focal length and centre in px; covariance: (12, 12); source: in words.
    """

    mean: np.ndarray
    covariance: np.ndarray
    source: str


@dataclass(frozen=True, slots=True)
class SheetPose:
    """The fitted camera, its place and the print's shape.

    values: (26,) in the order of `PARAMETERS`; turned_from: (3, 3) the rotation about which the turns are small.
    covariance: (26, 26), inflated by the fit's residuals.
    residual_rms_px: of the saddle points kept; structure: how far neighbouring residuals hang together, 0 to 1.
    used: (N,) which saddles of the sighting were kept.
    """

    sheet: Sheet
    values: np.ndarray
    turned_from: np.ndarray
    covariance: np.ndarray
    residual_rms_px: float
    structure: float
    used: np.ndarray
    prior_source: str

    @property
    def camera(self) -> CameraModel:
        return camera_of(self.values)

    @property
    def pose(self) -> Pose:
        return pose_of(self.values, self.turned_from)


def camera_of(values: np.ndarray) -> CameraModel:
    """The camera among the parameters."""
    f, cx, cy, k1, k2, p1, p2, k3, aspect, skew = (float(v) for v in values[:10])
    return CameraModel(f, cx, cy, k1, k2, p1, p2, k3, aspect, skew)


def pose_of(values: np.ndarray, turned_from: np.ndarray) -> Pose:
    """Where the camera stands by the parameters."""
    rotation = _turned_by(values[10:13]) @ turned_from
    return Pose(rotation, np.asarray(values[13:16], dtype=float))


def _turned_by(turns_rad: np.ndarray) -> np.ndarray:
    """(..., 3, 3) rotation about each of (..., 3) vectors by its length. Source: Rodrigues' formula."""
    x, y, z = np.moveaxis(turns_rad, -1, 0)
    none = np.zeros_like(x)
    cross = np.stack([none, -z, y, z, none, -x, -y, x, none], axis=-1).reshape(*turns_rad.shape[:-1], 3, 3)
    angle = np.sqrt((turns_rad**2).sum(axis=-1))[..., None, None]
    # numpy's sinc is sin(pi x) / (pi x), whole at nought
    return np.asarray(
        np.eye(3) + np.sinc(angle / np.pi) * cross + np.sinc(angle / (2 * np.pi)) ** 2 / 2 * (cross @ cross)
    )


def printed(
    sheet: Sheet, points_mm: np.ndarray, anisotropy: float | np.ndarray, shear: float | np.ndarray, mean: float = 0.0
) -> np.ndarray:
    """Drawn points -> where a print stretched about its centre puts them; E = [[mean + a, g], [0, mean - a]].

    points_mm: (N, 2); the result (N, 2), or (K, N, 2) for (K,) prints.
    """
    middle = np.array([sheet.width_mm / 2, sheet.height_mm / 2])
    x, y = (points_mm - middle).T
    a, g = np.asarray(anisotropy)[..., None], np.asarray(shear)[..., None]
    return np.asarray(middle + np.stack([(1 + mean + a) * x + g * y, (1 + mean - a) * y], axis=-1))


def lift_shapes(sheet: Sheet, points_mm: np.ndarray) -> np.ndarray:
    """(N, 2) sheet points -> (N, 8) height per unit lift of each side and corner.

    A sheet that comes off its board does so from a side or a corner: flat as far as the window's edge or a corner's
    half-way line, then bending away like a parabola; 1 at the ring's outer side or corner.
    """
    half = np.array([sheet.width_mm / 2, sheet.height_mm / 2])
    away = points_mm - half
    columns = []
    for k in range(len(LIFTS)):
        toward = np.array([np.cos(k * np.pi / 4), np.sin(k * np.pi / 4)])
        if k % 2:
            toward = half / np.hypot(*half) * np.sign(toward)
        reach = float(np.abs(half * toward).sum())
        start = 0.55 * reach
        columns.append(np.clip((away @ toward - start) / (reach - start), 0.0, None) ** 2)
    return np.column_stack(columns)


def prior_from_photo(photo: Photo) -> CameraPrior:
    """A wide prior: the focal length the file states or a phone's usual one, the centre near the middle, a modest lens.

    The 35 mm figure is a whole number of millimetres at infinity (1.1 % by rounding alone), focusing at arm's length
    lengthens it by 1 to 2 %, and makers take the diagonal or the width: 2.5 % together. A phone's main camera without
    any figure: 24 to 30 mm, taken as 27 mm with 15 %. Centre within 0.5 % of the diagonal and distortion of some
    hundredths are what calibrated phones show (common practice, no source).
    """
    diagonal = float(np.hypot(photo.width_px, photo.height_px))
    stated = photo.exif.focal_35mm
    if stated is not None and 12 <= stated <= 200:
        focal, spread, source = stated / FULL_FRAME_DIAGONAL_MM * diagonal, 0.025, "focal length in the file"
    else:
        focal, spread, source = 27 / FULL_FRAME_DIAGONAL_MM * diagonal, 0.15, "a phone's usual focal length"
    off_centre = CROPPED_CENTRE if _looks_cropped(photo) else 0.005
    mean = np.array([focal, (photo.width_px - 1) / 2, (photo.height_px - 1) / 2, *[0.0] * 9])
    lens = [0.1, 0.1, 5e-4, 5e-4, 0.03]
    sd = np.array(
        [
            spread * focal,
            off_centre * diagonal,
            off_centre * diagonal,
            *lens,
            READOUT_SD,
            READOUT_SD,
            PRINT_REACH,
            PRINT_REACH,
        ]
    )
    return CameraPrior(mean, np.diag(sd**2), source)


def _looks_cropped(photo: Photo) -> bool:
    """Whether the sides have none of the ratios cameras store, so that the lens's middle may be anywhere."""
    if photo.cropped:
        return True
    ratio = max(photo.width_px, photo.height_px) / min(photo.width_px, photo.height_px)
    return min(abs(ratio / usual - 1) for usual in USUAL_RATIOS) > 0.01


def start_pose(sighting: SheetSighting, camera: CameraModel) -> Pose:
    """A first pose from the sighting's homography and a guessed camera. Source: Zhang, IEEE TPAMI 22 (2000), 3.1."""
    inverse = np.linalg.inv(
        np.array([[camera.focal_px, 0, camera.centre_x_px], [0, camera.focal_px, camera.centre_y_px], [0, 0, 1.0]])
    )
    columns = inverse @ sighting.start
    scale = 2 / (np.linalg.norm(columns[:, 0]) + np.linalg.norm(columns[:, 1]))
    if columns[2, 2] < 0:
        scale = -scale
    x, y = columns[:, 0] * scale, columns[:, 1] * scale
    left, _, right = np.linalg.svd(np.column_stack([x, y, np.cross(x, y)]))
    return Pose(left @ right, columns[:, 2] * scale)


def predicted_px(sheet: Sheet, values: np.ndarray, turned_from: np.ndarray, points_mm: np.ndarray) -> np.ndarray:
    """(N, 2) drawn sheet points -> (N, 2) pixels under the parameters (26,), or (K, N, 2) under K sets of them."""
    values = np.asarray(values, dtype=float)
    on_paper = printed(sheet, points_mm, values[..., ANISOTROPY], values[..., SHEAR])
    height = values[..., FIRST_LIFT:] @ lift_shapes(sheet, points_mm).T
    rotation = _turned_by(values[..., 10:13]) @ turned_from
    world = world_from_sheet(np.concatenate([on_paper, height[..., None]], axis=-1))
    return project_by(values[..., :10], rotation, values[..., 13:16], world)


def parameter_steps(values: np.ndarray) -> np.ndarray:
    """(26,) steps for central differences, each moving the picture by some hundredths of a pixel."""
    focal, distance = values[0], values[15]
    lens, readout = [1e-5 * focal, 1e-2, 1e-2, *[1e-5] * 5], [1e-6] * 2
    place, print_shape, lifts = [*[1e-6] * 3, *[1e-5 * distance] * 3], [1e-6] * 2, [1e-2] * len(LIFTS)
    return np.array([*lens, *readout, *place, *print_shape, *lifts])


def parameter_jacobian(function: Callable[[np.ndarray], np.ndarray], values: np.ndarray) -> np.ndarray:
    """(M, 26) derivatives of a function of the parameters that gives (M,), by central differences."""
    columns = []
    for k, step in enumerate(parameter_steps(values)):
        nudge = np.zeros(COUNT)
        nudge[k] = step
        columns.append((function(values + nudge) - function(values - nudge)) / (2 * step))
    return np.column_stack(columns)


def predicted_jacobian(sheet: Sheet, values: np.ndarray, turned_from: np.ndarray, points_mm: np.ndarray) -> np.ndarray:
    """(2 N, 26) derivatives of `predicted_px` by the parameters, by central differences, all in one call."""
    steps = parameter_steps(values)
    nudges = np.diag(steps)
    ahead, behind = (predicted_px(sheet, values + way * nudges, turned_from, points_mm) for way in (1, -1))
    return np.asarray((ahead - behind).reshape(len(steps), -1).T / (2 * steps))


def fit_pose(sighting: SheetSighting, prior: CameraPrior) -> SheetPose:
    """Camera, lens, place and print from the saddle points. Raises PhotoRefused("target-too-little")."""
    _check_spread(sighting)
    sheet, mm, px = sighting.sheet, sighting.saddles_mm, sighting.saddles_px
    pose = start_pose(sighting, camera_of(prior.mean))
    turned_from = pose.rotation
    values = np.zeros(COUNT)
    values[list(KNOWN_BEFORE)] = prior.mean
    values[13:16] = pose.translation_mm

    information = np.zeros((COUNT, COUNT))
    information[np.ix_(KNOWN_BEFORE, KNOWN_BEFORE)] = np.linalg.inv(prior.covariance)
    information[range(FIRST_LIFT, COUNT), range(FIRST_LIFT, COUNT)] = 1 / LIFT_MM**2
    centre = values.copy()

    weight = np.ones(len(mm))
    sigma = 1.0
    for _ in range(30):
        residual = (px - predicted_px(sheet, values, turned_from, mm)).ravel()
        jacobian = predicted_jacobian(sheet, values, turned_from, mm)
        miss = np.hypot(*residual.reshape(-1, 2).T)
        # 1.1774 is the median of a Rayleigh variable of unit scale
        sigma = max(0.02, float(np.median(miss[weight > 0])) / 1.1774)
        weight = np.clip((5.0 - miss / sigma) / 2.0, 0.0, 1.0)
        if weight.astype(bool).sum() < FEWEST_SADDLES / 2:
            weight = np.ones(len(mm))
        w = np.repeat(weight, 2) / sigma**2
        normal = jacobian.T @ (jacobian * w[:, None]) + information
        gradient = jacobian.T @ (residual * w) - information @ (values - centre)
        step = _solved(normal, gradient)
        values = values + step
        if np.max(np.abs(step * np.sqrt(np.diag(normal)))) < 1e-3:
            break
    used = weight > 0.5
    if used.sum() < FEWEST_SADDLES:
        raise PhotoRefused(
            "target-too-little",
            f"Only {int(used.sum())} corners of the sheet's squares agree with a flat sheet; "
            f"{FEWEST_SADDLES} are needed.",
        )
    left = (px - predicted_px(sheet, values, turned_from, mm))[used]
    structure = _structure(mm[used], left)
    # Residuals that hang together over a patch of squares count as one observation of that patch, not as many.
    patch = 1 + structure * 8
    freedom = max(1.0, 2 * used.sum() - COUNT)
    variance = max(0.02**2, float((left**2).sum()) / freedom)
    w = np.repeat(used.astype(float), 2) / (variance * patch)
    normal = jacobian.T @ (jacobian * w[:, None]) + information
    covariance = _inverse(normal)
    rms = float(np.sqrt((left**2).mean()))
    return SheetPose(sheet, values, turned_from, covariance, rms, structure, used, prior.source)


def _solved(normal: np.ndarray, right: np.ndarray) -> np.ndarray:
    """(COUNT,) x of normal x = right, with the parameters brought to one scale first."""
    scaling = 1 / np.sqrt(np.diag(normal))
    return np.asarray(scaling * np.linalg.solve(normal * np.outer(scaling, scaling), scaling * right))


def _inverse(normal: np.ndarray) -> np.ndarray:
    """The inverse of a normal matrix by its root, so that it is symmetric and positive as a covariance must be.

    Without a stated focal length the normal matrix spans eleven decades, and a plain inverse can lose a small variance.
    """
    scaling = 1 / np.sqrt(np.diag(normal))
    root = np.linalg.cholesky(normal * np.outer(scaling, scaling))
    half = np.linalg.solve(root, np.diag(scaling))
    return np.asarray(half.T @ half)


def _check_spread(sighting: SheetSighting) -> None:
    """Refuse unless the saddles stand on at least three sides of the window, enough of them on each."""
    if len(sighting.saddles_mm) < FEWEST_SADDLES:
        raise PhotoRefused(
            "target-too-little",
            f"Only {len(sighting.saddles_mm)} corners of the sheet's squares can be seen; {FEWEST_SADDLES} are needed.",
        )
    left, top, right, bottom = sighting.sheet.window_mm
    x, y = sighting.saddles_mm.T
    # the squares in the ring's corners belong to two sides, and so speak for neither
    beside, over = (y >= top) & (y <= bottom), (x >= left) & (x <= right)
    sides = {
        "left": beside & (x < left),
        "top": over & (y < top),
        "right": beside & (x > right),
        "bottom": over & (y > bottom),
    }
    seen = [name for name, on_side in sides.items() if on_side.sum() >= 4]
    if len(seen) < 3:
        raise PhotoRefused(
            "target-too-little",
            f"The sheet's squares show on {len(seen)} of its sides ({', '.join(seen) or 'none'}); three are needed.",
        )


def _structure(mm: np.ndarray, residual: np.ndarray) -> float:
    """Mean correlation of residuals of saddles one square apart, clipped to 0..1."""
    distance = np.hypot(mm[:, None, 0] - mm[None, :, 0], mm[:, None, 1] - mm[None, :, 1])
    i, j = np.nonzero(np.triu((distance > 0) & (distance < 11)))
    if len(i) < 10:
        return 0.0
    together = float((residual[i] * residual[j]).sum(axis=1).mean() / (residual**2).sum(axis=1).mean())
    return min(1.0, max(0.0, together))


def to_paper(pose: SheetPose, pixels: np.ndarray, height_mm: np.ndarray | float) -> np.ndarray:
    """(N, 2) pixels -> (N, 2) mm in the plane at `height_mm`, to scale but for the print's unknown mean stretch."""
    return back_project(pose.camera, pose.pose, pixels, height_mm)


def predicted_view_px(pose: SheetPose, points_mm: np.ndarray, height_mm: float = 0.0) -> np.ndarray:
    """(N, 2) true mm in the plane at a height over the flat paper -> (N, 2) pixels."""
    raised = np.column_stack([points_mm, np.full(len(points_mm), height_mm)])
    return project(pose.camera, pose.pose, world_from_sheet(raised))
