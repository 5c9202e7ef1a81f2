"""A rendered photo that nothing is wrong with, and sheets seen by known cameras without any picture."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from cutvision.imaging.camera import CameraModel, Pose, project, world_from_sheet
from cutvision.imaging.locate import SheetSighting, locate_sheet
from cutvision.imaging.photo import ExifFacts, Photo
from cutvision.imaging.pose import SheetPose, fit_pose, prior_from_photo
from cutvision.target import SHEETS, Sheet
from simulation.photo_file import as_photo
from simulation.pose import phone_camera, pose_over
from simulation.refused_scenes import good_scene
from simulation.render import RenderedPhoto, render

WIDTH_PX, HEIGHT_PX = 1632, 1224
FOCAL_35MM = 26.0


@dataclass(frozen=True)
class SeenSheet:
    """A sheet as a known camera sees it: the saddles' places with noise, and what they were made from."""

    photo: Photo
    sighting: SheetSighting
    camera: CameraModel
    pose: Pose
    sheet: Sheet

    def fit(self) -> SheetPose:
        """What the fit makes of it with the knowledge that a photo file gives."""
        return fit_pose(self.sighting, prior_from_photo(self.photo))


@pytest.fixture(scope="session")
def rendered() -> RenderedPhoto:
    """A two megapixel photo of a cherry miter on the A4 sheet."""
    return render(good_scene())


@pytest.fixture(scope="session")
def photo(rendered: RenderedPhoto) -> Photo:
    """The same as it is read from its file."""
    return as_photo(rendered)


@pytest.fixture(scope="session")
def sighting(photo: Photo) -> SheetSighting:
    """The sheet as it is found in the photo."""
    return locate_sheet(photo)


@pytest.fixture(scope="session")
def fitted(photo: Photo, sighting: SheetSighting) -> SheetPose:
    """The camera as it is fitted to the sighting."""
    return fit_pose(sighting, prior_from_photo(photo))


@pytest.fixture(scope="session")
def see_sheet() -> Callable[..., SeenSheet]:
    """Make a `SeenSheet` of a camera, a print's (2, 2) stretch and the paper's height, with noise on the saddles."""

    def seen(
        rng: np.random.Generator,
        *,
        tilt_deg: float = 9.0,
        azimuth_deg: float = 60.0,
        roll_deg: float = -4.0,
        stretch: np.ndarray | None = None,
        height_mm: Callable[[np.ndarray], np.ndarray] | None = None,
        noise_px: float = 0.04,
        focal_ratio: float = 1.0,
        **lens: float,
    ) -> SeenSheet:
        sheet = SHEETS["a4"]
        camera = phone_camera(WIDTH_PX, HEIGHT_PX, FOCAL_35MM * focal_ratio, **lens)
        pose = pose_over((125.0, 90.0), 330.0, *(math.radians(a) for a in (tilt_deg, azimuth_deg, roll_deg)))
        nominal = sheet.saddles_mm
        middle = np.array([sheet.width_mm, sheet.height_mm]) / 2
        on_paper = middle + (nominal - middle) @ (np.eye(2) if stretch is None else stretch).T
        height = np.zeros(len(nominal)) if height_mm is None else height_mm(on_paper)
        pixels = project(camera, pose, world_from_sheet(np.column_stack([on_paper, height])))
        pixels = pixels + rng.normal(0.0, noise_px, pixels.shape) if noise_px else pixels
        stored = np.zeros((HEIGHT_PX, WIDTH_PX, 3), np.uint8)
        start = _homography(nominal, pixels)
        return SeenSheet(
            Photo("simulated", "0" * 64, stored, ExifFacts(focal_35mm=FOCAL_35MM)),
            SheetSighting(sheet, nominal, pixels, start, len(sheet.marker_squares)),
            camera,
            pose,
            sheet,
        )

    return seen


def _homography(mm: np.ndarray, px: np.ndarray) -> np.ndarray:
    """(3, 3) pixels from mm by direct linear transformation."""
    rows = []
    for (x, y), (u, v) in zip(mm / 100, px / 1000, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y, -u])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y, -v])
    h = np.linalg.svd(np.array(rows))[2][-1].reshape(3, 3)
    return np.diag([1000.0, 1000.0, 1.0]) @ h @ np.diag([0.01, 0.01, 1.0])
