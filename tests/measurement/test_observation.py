"""What one photo says of a piece, and how each influence moves it, for a camera and a piece known beforehand."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from cutvision.imaging.camera import CameraModel, Pose
from cutvision.imaging.lines import FittedLine
from cutvision.imaging.offcut import EDGE_NAMES, THICKNESS_READ_MM, Offcut, SeenEdge
from cutvision.imaging.photo import ExifFacts, Photo
from cutvision.imaging.pose import (
    ANISOTROPY,
    COUNT,
    PARAMETERS,
    SHEAR,
    SheetPose,
    parameter_steps,
    predicted_view_px,
)
from cutvision.imaging.sharpness import Optics
from cutvision.measurement.observation import THICKNESS_UNKNOWN_MM, TILT_RAD, Observation, observe
from cutvision.target import SHEETS
from simulation.pieces import board_outline, miter_outline, strip_outline, turned
from simulation.pose import phone_camera, pose_over

SHEET = SHEETS["a4"]
THICKNESS_MM = 19.0
SCALE_PX_PER_MM = 10.0
PHOTO = Photo("simulated", "0" * 64, np.zeros((3000, 4000, 3), np.uint8), ExifFacts())
MIDDLE = (120.0, 92.0)
ANGLES = {"miter": 2, "strip": 1, "corner": 1, "board": 3}


def sheet_pose(camera: CameraModel, pose: Pose, sd_px: float = 1.0) -> SheetPose:
    """The fit's outcome for a camera that is known but for a hundredth of a pixel's worth of every parameter."""
    values = np.zeros(COUNT)
    values[:10] = [getattr(camera, name + ("_px" if k < 3 else "")) for k, name in enumerate(PARAMETERS[:10])]
    values[13:16] = pose.translation_mm
    covariance = np.diag((sd_px * parameter_steps(values)) ** 2)
    return SheetPose(SHEET, values, pose.rotation, covariance, 0.05, 0.0, np.ones(148, bool), "known")


def outline(shape: str, turn_rad: float) -> Sequence[tuple[float, float]]:
    """Corners of a piece of the shape, about 100 mm large, turned."""
    corners = {
        "miter": miter_outline(105.0, math.radians(44.9), math.radians(45.2)),
        "strip": strip_outline(140.0, 28.0, math.radians(0.1)),
        "board": board_outline(90.0, 66.0, (1.572, 1.569, 1.573)),
        "corner": board_outline(90.0, 66.0, (1.572, 1.569, 1.573)),
    }[shape]
    return turned(corners, turn_rad, MIDDLE)


def offcut(
    shape: str,
    pose: SheetPose,
    turn_rad: float = 0.0,
    heights_mm: Sequence[float] | None = None,
    line_sd: tuple[float, float] = (0.0, 0.0),
    step_doubt_mm: float = 0.0,
    by_squares_px: float = 0.0,
) -> Offcut:
    """A piece's edges as they show, each in the plane at its height (by default the top face's).

    line_sd: standard uncertainty of each line's offset (mm) and slope; step_doubt_mm: of each edge's place;
    by_squares_px: how far outward the squares' blur would put it.
    """
    corners = np.array(outline(shape, turn_rad))
    sides = {"miter": (0, 1, 2), "strip": (0, 2), "corner": (3, 0), "board": (0, 1, 2, 3)}[shape]
    edges = []
    for name, k in zip(EDGE_NAMES[shape], sides, strict=True):
        start, end = corners[k], corners[(k + 1) % len(corners)]
        height = THICKNESS_MM if heights_mm is None else heights_mm[k]
        length = float(np.hypot(*(end - start)))
        along = (end - start) / length
        line = FittedLine(
            origin_mm=start,
            direction=along,
            outward=np.array([along[1], -along[0]]),
            length_mm=length,
            offset_mm=0.0,
            slope=0.0,
            covariance=np.diag(np.array(line_sd) ** 2),
            used=np.ones(90, bool),
            residual_mm=np.zeros(90),
            rms_mm=0.02,
            correlation_mm=1.0,
            dropped_share=0.0,
        )
        carriers = predicted_view_px(pose, start + np.array([[1 / 6], [5 / 6]]) * (end - start), height)
        points = cast(
            "Any",
            SimpleNamespace(
                scale_px_per_mm=SCALE_PX_PER_MM,
                along_mm=np.linspace(0.0, length, 90),
                by_squares_px=np.full(90, by_squares_px),
                step_doubt_mm=step_doubt_mm,
            ),
        )
        edges.append(SeenEdge(name, points, line, height, carriers, np.array([start, end])))
    optics = Optics(0.6, 0.0, 0.02, SCALE_PX_PER_MM)
    return Offcut(PHOTO, pose, optics, shape, tuple(edges), THICKNESS_MM)


def column(seen: Observation, name: str) -> np.ndarray:
    """(p + 2,) signed sum of the contributions of one name; (0) when none bears it."""
    parts = [seen.components[:, k] for k, influence in enumerate(seen.influences) if influence.name == name]
    return np.sum(parts, axis=0) if parts else np.zeros(len(seen.values))


@pytest.fixture
def phone() -> Callable[[float], SheetPose]:
    """A phone 400 mm over the sheet, tilted by an angle in deg."""

    def held(tilt_deg: float) -> SheetPose:
        camera = phone_camera(4000, 3000, 26.0, k1=0.03, k2=-0.02)
        return sheet_pose(camera, pose_over((125.0, 90.0), 400.0, math.radians(tilt_deg), 0.8, 0.05))

    return held


@pytest.mark.parametrize("shape", ["miter", "strip", "corner", "board"])
@pytest.mark.parametrize("tilt_deg", [0.0, 12.0])
@pytest.mark.parametrize("turn_rad", [0.0, 0.9])
def test_angles_do_not_feel_the_thickness(
    phone: Callable[[float], SheetPose], shape: str, tilt_deg: float, turn_rad: float
) -> None:
    """Of a thickness known to nothing better than 7 mm, no angle feels more than a millionth of a degree.

    Closed form: planes that are parallel map onto one another by a similarity; so it holds for a tilted phone, and with
    some edges seen at the top and others at the paper.
    """
    corners = len(outline(shape, 0.0))
    for heights in (None, [THICKNESS_MM * (k % 2) for k in range(corners)]):
        seen = observe(
            offcut(shape, phone(tilt_deg), turn_rad, heights), 1, thickness_known=False, camera_key="focal length"
        )
        assert np.abs(column(seen, "thickness")[: ANGLES[shape]]).max() < math.radians(1e-6)


@pytest.mark.parametrize("known", [True, False])
def test_lengths_feel_the_thickness(phone: Callable[[float], SheetPose], known: bool) -> None:  # noqa: FBT001  a case
    """A length seen at the top shrinks by L / (Z - t) a mm that the stock is taken for thicker (closed form)."""
    pose = phone(0.0)
    seen = observe(offcut("miter", pose), 1, thickness_known=known, camera_key="focal length")
    u_mm = THICKNESS_READ_MM if known else THICKNESS_UNKNOWN_MM
    expected = -seen.values[2] / (400.0 - THICKNESS_MM) * u_mm
    assert column(seen, "thickness")[2] == pytest.approx(expected, rel=1e-3)


def test_lengths_seen_on_the_paper_do_not_feel_the_thickness(phone: Callable[[float], SheetPose]) -> None:
    """Edges seen at the paper lie in its plane, whatever the stock's thickness."""
    seen = observe(offcut("miter", phone(5.0), 0.0, [0.0] * 3), 1, thickness_known=False, camera_key="focal length")
    assert np.abs(column(seen, "thickness")).max() < 1e-9


@pytest.mark.parametrize("shape", ["miter", "strip", "corner", "board"])
def test_what_is_observed_is_what_lies_there(phone: Callable[[float], SheetPose], shape: str) -> None:
    """A tilted phone's pixels of edges at their heights give the piece's own angles and lengths back."""
    piece = offcut(shape, phone(12.0), 0.4)
    seen = observe(piece, 1, thickness_known=True, camera_key="focal length")
    expected = {
        "miter": [math.radians(44.9), math.radians(45.2)],
        "strip": [math.radians(0.1), 28.0],
        "corner": [1.572],
        "board": [1.572, 1.569, 1.573],
    }[shape]
    assert seen.values[: len(expected)] == pytest.approx(expected, abs=1e-8)
    assert seen.values[-2:] == pytest.approx([0.0, 0.0])


def test_an_edge_s_own_line_bears_on_its_two_angles(phone: Callable[[float], SheetPose]) -> None:
    """Slopes uncertain by 1e-4 make each angle between two edges uncertain by root two times that (closed form)."""
    piece = offcut("miter", phone(4.0), line_sd=(0.0, 1e-4))
    seen = observe(piece, 1, thickness_known=True, camera_key="focal length")
    points = [k for k, influence in enumerate(seen.influences) if influence.name == "edge points"]
    assert np.sqrt((seen.components[:2, points] ** 2).sum(axis=1)) == pytest.approx([1.41421356e-4] * 2, rel=1e-5)
    # the cut belongs to both angles, with opposite signs
    cut = next(k for k in points if seen.influences[k].key.startswith("edge points cut 1"))
    assert seen.components[0, cut] == pytest.approx(-seen.components[1, cut], rel=1e-5)


def test_the_doubt_of_which_step_it_is_moves_widths_and_no_angle(phone: Callable[[float], SheetPose]) -> None:
    """A strip's edges each known to 0.1 mm leave its width with 0.1 mm sqrt 2, and its taper untouched."""
    seen = observe(offcut("strip", phone(0.0), step_doubt_mm=0.1), 1, thickness_known=True, camera_key="camera")
    parts = [seen.components[:, k] for k, i in enumerate(seen.influences) if i.name == "which step it is"]
    assert math.hypot(*(p[1] for p in parts)) == pytest.approx(0.1 * math.sqrt(2), rel=0.01)
    assert max(abs(p[0]) for p in parts) < 1e-6


def test_two_answers_about_the_blur_count_as_a_rectangular_doubt(phone: Callable[[float], SheetPose]) -> None:
    """Edges that the squares' blur would put 0.3 px farther out are uncertain by 0.3 px / sqrt 3 each."""
    seen = observe(offcut("strip", phone(0.0), by_squares_px=0.3), 1, thickness_known=True, camera_key="camera")
    parts = [seen.components[1, k] for k, i in enumerate(seen.influences) if i.name == "blur of the edge"]
    assert math.hypot(*parts) == pytest.approx(0.3 / SCALE_PX_PER_MM / math.sqrt(3) * math.sqrt(2), rel=0.01)


def test_a_longer_focal_length_stands_higher(phone: Callable[[float], SheetPose]) -> None:
    """The focal length's doubt has a key that photos of one camera share; all others belong to their photo."""
    seen = observe(offcut("miter", phone(4.0)), 7, thickness_known=True, camera_key="focal length/some phone")
    keys = {influence.key for influence in seen.influences}
    assert "focal length/some phone" in keys
    shared = {key for key in keys if not key.endswith("/photo 7")}
    assert shared == {"focal length/some phone", "thickness"}


def test_the_print_s_shape_is_observed_beside_the_piece() -> None:
    """The print's anisotropy and shear stand behind the parameters, each with its own row of the budget."""
    camera = phone_camera(4000, 3000, 26.0)
    pose = sheet_pose(camera, pose_over((125.0, 90.0), 400.0, 0.1, 0.8, 0.05))
    pose.values[[ANISOTROPY, SHEAR]] = 0.001, -0.002
    seen = observe(offcut("miter", pose), 1, thickness_known=True, camera_key="focal length")
    assert seen.values[-2:] == pytest.approx([0.001, -0.002])
    by_print = column(seen, "print stretch")
    steps = parameter_steps(pose.values)
    assert np.abs(by_print[-2:]) == pytest.approx(steps[[ANISOTROPY, SHEAR]], rel=1e-6)


def test_a_piece_that_does_not_lie_flat_is_seen_turned(phone: Callable[[float], SheetPose]) -> None:
    """Tilt of the face bears on angles by tilt x distance from the point below the lens / lens height, a small part.

    First order (closed form): a height that grows along an edge by w shifts its points toward the foot point by
    w r / Z. So with r up to 80 mm and Z = 381 mm an angle between two edges feels at most 2 x 80 / 381 of the tilt.
    """
    seen = observe(offcut("miter", phone(0.0), 0.5), 1, thickness_known=True, camera_key="focal length")
    tilts = [k for k, influence in enumerate(seen.influences) if influence.name == "tilt of the piece"]
    felt = np.abs(seen.components[:2, tilts]).max() / TILT_RAD
    assert len(tilts) == 2
    assert 0.02 < felt < 2 * 80 / 381


def test_budget_rows_bear_the_method_s_names(phone: Callable[[float], SheetPose]) -> None:
    """Every influence belongs to a row that the budget is known to have, and says where its figure comes from."""
    seen = observe(offcut("miter", phone(8.0), line_sd=(0.01, 1e-4)), 1, thickness_known=False, camera_key="focal")
    rows = {influence.name for influence in seen.influences}
    assert rows == {
        "edge points",
        "mapping",
        "print stretch",
        "thickness",
        "lens height and foot point",
        "sensor readout",
        "tilt of the piece",
        "pixel and tone residual",
    }
    assert all(influence.source for influence in seen.influences)
