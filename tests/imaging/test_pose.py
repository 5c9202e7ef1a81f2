"""The fit of camera, print and lifted corners: what is known comes back, as well as the fit says it does."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy import stats
from scipy.spatial.transform import Rotation

from cutvision.errors import PhotoRefused
from cutvision.imaging.camera import project, world_from_sheet
from cutvision.imaging.locate import SheetSighting
from cutvision.imaging.photo import ExifFacts, Photo
from cutvision.imaging.pose import (
    ANISOTROPY,
    FIRST_LIFT,
    LIFTS,
    PARAMETERS,
    PRINT_REACH,
    READOUT_SD,
    _turned_by,
    fit_pose,
    parameter_jacobian,
    predicted_jacobian,
    predicted_px,
    predicted_view_px,
    printed,
    prior_from_photo,
    to_paper,
)
from cutvision.target import SHEETS
from simulation.refused_scenes import good_scene
from simulation.scene import Curl

if TYPE_CHECKING:
    from conftest import SeenSheet

SEEDS = 40
FALSE_ALARM = 0.01
WINDOW_PLACES_MM = np.array([[x, y] for x in (40.0, 80.0, 125.0, 200.0) for y in (40.0, 90.0, 140.0)])
DIFFERENCE_NOISE = 1e-6  # of the largest derivative: what rounding leaves in a central difference


@dataclass(frozen=True)
class Trial:
    """One simulated sheet's fit: error over stated standard uncertainty, by parameter."""

    z: dict[str, float]


@pytest.fixture(scope="module")
def trials(see_sheet: Callable[..., SeenSheet]) -> list[Trial]:
    """Cameras and prints drawn as the prior has them, the radial terms narrower: its tails fold the picture."""
    made = []
    diagonal = math.hypot(1632, 1224)
    for seed in range(SEEDS):
        rng = np.random.default_rng(seed)
        a, g = rng.normal(0, PRINT_REACH, 2)
        seen = see_sheet(
            rng,
            tilt_deg=rng.uniform(2, 13),
            azimuth_deg=rng.uniform(0, 360),
            roll_deg=rng.normal(0, 5),
            stretch=np.array([[1 + a, g], [0, 1 - a]]),
            focal_ratio=rng.normal(1, 0.025),
            centre_x_px=815.5 + rng.normal(0, 0.005 * diagonal),
            centre_y_px=611.5 + rng.normal(0, 0.005 * diagonal),
            k1=rng.normal(0, 0.03),
            k2=rng.normal(0, 0.03),
            k3=rng.normal(0, 0.01),
            p1=rng.normal(0, 5e-4),
            p2=rng.normal(0, 5e-4),
            aspect=rng.normal(0, READOUT_SD),
            skew=rng.normal(0, READOUT_SD),
        )
        fit = seen.fit()
        camera = seen.camera
        truth = {
            "focal": camera.focal_px,
            "centre_x": camera.centre_x_px,
            "centre_y": camera.centre_y_px,
            "p1": camera.p1,
            "p2": camera.p2,
            "aspect": camera.aspect,
            "skew": camera.skew,
            "anisotropy": a,
            "shear": g,
        }
        sd = dict(zip(PARAMETERS, np.sqrt(np.diag(fit.covariance)), strict=True))
        found = dict(zip(PARAMETERS, fit.values, strict=True))
        made.append(Trial({name: (found[name] - value) / sd[name] for name, value in truth.items()}))
    return made


def test_a_known_camera_comes_back_within_its_covariance(trials: list[Trial]) -> None:
    """Over 40 cameras the errors of lens and place are as large as the covariance says: rms ratio 0.8 to 1.2.

    Nine parameters of 40 fits give the ratio a spread of about 0.05, so that this band raises a false alarm once in
    some ten thousand draws.
    """
    z = np.array([list(trial.z.values()) for trial in trials])
    assert 0.8 < math.sqrt((z**2).mean()) < 1.2


@pytest.mark.parametrize("name", ["anisotropy", "shear"])
def test_one_photo_tells_the_print_s_shape_within_its_bound(trials: list[Trial], name: str) -> None:
    """The print's unequal stretch and its shear lie within twice their stated uncertainty in 95 % of single photos.

    The limit is the binomial's at 1 % false alarm.
    """
    misses = sum(abs(trial.z[name]) > 2 for trial in trials)
    assert misses <= stats.binom.isf(FALSE_ALARM, SEEDS, 0.05)


@pytest.mark.parametrize("tilt_deg", [3.0, 13.0])
def test_square_pixels_tell_the_print_s_shape(see_sheet: Callable[..., SeenSheet], tilt_deg: float) -> None:
    """A print 0.3 % too long one way comes back within its bound; from straight above, to u = 0.03 %.

    What bounds it there is how square the pixels are while a hand moves, 0.02 %.
    """
    seen = see_sheet(np.random.default_rng(5), tilt_deg=tilt_deg, stretch=np.array([[1.003, 0.0], [0.0, 0.997]]))
    fit = seen.fit()
    u = math.sqrt(fit.covariance[ANISOTROPY, ANISOTROPY])
    assert abs(fit.values[ANISOTROPY] - 0.003) < 2.5 * u
    assert u > READOUT_SD
    assert tilt_deg > 5 or u < 3e-4


@pytest.mark.parametrize("corner", range(4))
def test_a_lifted_corner_does_not_bend_the_window(see_sheet: Callable[..., SeenSheet], corner: int) -> None:
    """A corner that curls 2 mm off the board, in another form than the fit's, is seen as a lift of that corner.

    The places in the window still come out within 0.05 mm, a hundredth of what the corner's squares are shifted by.
    """
    curled = replace(good_scene(), curls=(Curl(corner, 2.0, 70.0),))
    seen = see_sheet(
        np.random.default_rng(corner), height_mm=lambda mm: curled.paper_height_mm(mm[:, 0], mm[:, 1]), k1=0.02
    )
    fit = seen.fit()
    lifts = dict(zip(LIFTS, fit.values[FIRST_LIFT:], strict=True))
    assert (
        max(lifts, key=lambda place: lifts[place]) == ("top left", "top right", "bottom right", "bottom left")[corner]
    )
    pixels = project(seen.camera, seen.pose, world_from_sheet(WINDOW_PLACES_MM))
    found = to_paper(fit, pixels, 0.0)
    assert np.abs(found - WINDOW_PLACES_MM).max() < 0.05


def test_a_lift_of_the_fit_s_own_form_comes_back(see_sheet: Callable[..., SeenSheet]) -> None:
    """A right side lifted by 0.8 mm in the form that the fit knows comes back within its bound."""
    sheet = SHEETS["a4"]

    def lifted(mm: np.ndarray) -> np.ndarray:
        reach = sheet.width_mm / 2
        return 0.8 * np.clip((mm[:, 0] - reach - 0.55 * reach) / (0.45 * reach), 0, None) ** 2

    fit = see_sheet(np.random.default_rng(3), height_mm=lifted).fit()
    k = PARAMETERS.index("lift right")
    assert abs(fit.values[k] - 0.8) < 2.5 * math.sqrt(fit.covariance[k, k])
    assert math.sqrt(fit.covariance[k, k]) < 0.1


def test_saddles_that_are_no_saddles_are_left_out(see_sheet: Callable[..., SeenSheet]) -> None:
    """Six corners a pixel and a half off are dropped, and the window's places stay within 0.05 mm."""
    seen = see_sheet(np.random.default_rng(2))
    wrong = np.arange(0, 120, 20)
    pixels = seen.sighting.saddles_px.copy()
    pixels[wrong] += 1.1
    fit = fit_pose(replace(seen.sighting, saddles_px=pixels), prior_from_photo(seen.photo))
    assert not fit.used[wrong].any()
    assert fit.used.sum() > 0.9 * (len(pixels) - len(wrong))
    true = project(seen.camera, seen.pose, world_from_sheet(WINDOW_PLACES_MM))
    assert np.abs(to_paper(fit, true, 0.0) - WINDOW_PLACES_MM).max() < 0.05


@pytest.mark.parametrize(
    ("keep", "said"),
    [
        (lambda mm: (mm[:, 1] < 30) & (mm[:, 0] < 110), "Only 20 corners of the sheet's squares can be seen"),
        (lambda mm: (mm[:, 0] < 30) | ((mm[:, 0] < 215) & (mm[:, 1] < 30)), "on 2 of its sides \\(left, top\\)"),
        (lambda mm: mm[:, 0] < 30, "on 1 of its sides \\(left\\)"),
    ],
)
def test_too_little_of_the_sheet_is_refused(
    see_sheet: Callable[..., SeenSheet], keep: Callable[[np.ndarray], np.ndarray], said: str
) -> None:
    """Fewer than 24 corners, or corners on two sides only, are refused as target-too-little, saying which."""
    seen = see_sheet(np.random.default_rng(0))
    chosen = keep(seen.sighting.saddles_mm)
    part = SheetSighting(
        seen.sheet, seen.sighting.saddles_mm[chosen], seen.sighting.saddles_px[chosen], seen.sighting.start, 10
    )
    with pytest.raises(PhotoRefused, match=said) as refusal:
        fit_pose(part, prior_from_photo(seen.photo))
    assert refusal.value.reason == "target-too-little"


def test_focal_length_follows_from_the_file() -> None:
    """26 mm on a full frame is 26 / 43.2666 of the picture's diagonal (closed form); none is taken for 27 mm."""
    stored = np.zeros((1224, 1632, 3), np.uint8)
    stated = prior_from_photo(Photo("a", "", stored, ExifFacts(focal_35mm=26.0)))
    unstated = prior_from_photo(Photo("a", "", stored, ExifFacts()))
    assert stated.mean[0] == pytest.approx(26 / math.hypot(36, 24) * 2040, rel=1e-5)
    assert unstated.mean[0] == pytest.approx(27 / math.hypot(36, 24) * 2040, rel=1e-5)
    assert unstated.covariance[0, 0] > 20 * stated.covariance[0, 0]


@pytest.mark.parametrize("tilt_deg", [0.0, 0.5, 6.0])
def test_the_covariance_always_has_a_root(see_sheet: Callable[..., SeenSheet], tilt_deg: float) -> None:
    """From straight above and without a stated focal length, where hardly anything tells the height, it still is one.

    A covariance is symmetric and positive; one photo in twenty lost that to rounding when the inverse was a plain one.
    """
    for seed in range(5):
        seen = see_sheet(np.random.default_rng(seed), tilt_deg=tilt_deg, noise_px=0.01)
        unstated = replace(seen.photo, exif=ExifFacts())
        covariance = fit_pose(seen.sighting, prior_from_photo(unstated)).covariance
        sd = np.sqrt(np.diag(covariance))
        assert np.array_equal(covariance, covariance.T)
        assert np.linalg.eigvalsh(covariance / np.outer(sd, sd)).min() > 0
        assert np.isfinite(np.linalg.cholesky(covariance / np.outer(sd, sd))).all()


def test_derivatives_by_the_parameters(see_sheet: Callable[..., SeenSheet]) -> None:
    """Moving the centre moves every pixel as far; a longer focal length moves it off the centre (closed forms)."""
    seen = see_sheet(np.random.default_rng(0))
    fit = seen.fit()
    mm = seen.sheet.saddles_mm[:5]

    def pixels(values: np.ndarray) -> np.ndarray:
        return predicted_px(seen.sheet, values, fit.turned_from, mm).ravel()

    jacobian = parameter_jacobian(pixels, fit.values).reshape(5, 2, -1)
    assert np.abs(jacobian[:, 0, PARAMETERS.index("centre_x")] - 1).max() < 1e-7
    assert np.abs(jacobian[:, 1, PARAMETERS.index("centre_x")]).max() < 1e-7
    away = pixels(fit.values).reshape(5, 2) - fit.camera.centre_px
    assert np.abs(jacobian[:, 1, 0] - away[:, 1] / fit.values[0]).max() < 1e-6


def turned_by(phi_rad: float, ex: float, ey: float, g: float) -> float:
    """How far a print turns a line drawn at phi, in rad."""
    sheet = SHEETS["a4"]
    line = np.array([[0.0, 0.0], [math.cos(phi_rad), math.sin(phi_rad)]])
    a, b = printed(sheet, line, (ex - ey) / 2, g, (ex + ey) / 2)
    return math.atan2(*(b - a)[::-1]) - phi_rad


def test_all_nudges_in_one_call(see_sheet: Callable[..., SeenSheet]) -> None:
    """Nudging the parameters together gives the derivatives that nudging one after another gives."""
    seen = see_sheet(np.random.default_rng(22))
    fit = seen.fit()
    points = seen.sighting.saddles_mm
    together = predicted_jacobian(fit.sheet, fit.values, fit.turned_from, points)

    def pixels(values: np.ndarray) -> np.ndarray:
        return predicted_px(fit.sheet, values, fit.turned_from, points).ravel()

    apart = parameter_jacobian(pixels, fit.values)
    largest = np.abs(apart).max(axis=0)
    assert (np.abs(together - apart) < DIFFERENCE_NOISE * largest).all()


@pytest.mark.parametrize("phi_deg", [0.0, 20.0, 45.0, 90.0, 130.0])
def test_a_stretched_print_turns_lines(phi_deg: float) -> None:
    """A print turns a line drawn at phi by -a sin 2phi + b cos 2phi - b.

    E = [[ex, g], [0, ey]], a = (ex - ey)/2, b = g/2. First order (closed form); the second order is
    below 1e-5 rad for stretches of 0.2 %.
    """
    phi = math.radians(phi_deg)
    ex, ey, g = 0.0015, -0.0005, 0.001
    a, b = (ex - ey) / 2, g / 2
    expected = -a * math.sin(2 * phi) + b * math.cos(2 * phi) - b
    assert turned_by(phi, ex, ey, g) == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize(("phi_deg", "ey", "turn_deg"), [(45.0, 0.001, 0.02863357), (22.5, 0.002, 0.04050236)])
def test_stretch_of_one_side_in_figures(phi_deg: float, ey: float, turn_deg: float) -> None:
    """0.1 % more along y turns a line at 45 deg by 0.02863357 deg, 0.2 % one at 22.5 deg by 0.04050236 deg.

    Closed form.
    """
    assert math.degrees(turned_by(math.radians(phi_deg), 0.0, ey, 0.0)) == pytest.approx(turn_deg, abs=0.5e-8)


def test_stretch_of_one_side_opens_a_corner() -> None:
    """A right angle with legs at +-45 deg opens by 0.05726714 deg when y is 0.1 % longer (closed form)."""
    legs = (turned_by(math.radians(sign * 45), 0.0, 0.001, 0.0) for sign in (1, -1))
    one, other = (math.degrees(turn) for turn in legs)
    assert one - other == pytest.approx(0.05726714, abs=0.5e-8)


def test_a_view_at_a_height_is_the_projection_of_that_height(see_sheet: Callable[..., SeenSheet]) -> None:
    """Looking at a place in a raised plane and mapping the pixel back to that plane gives the place."""
    fit = see_sheet(np.random.default_rng(0)).fit()
    pixels = predicted_view_px(fit, WINDOW_PLACES_MM, 19.0)
    found = to_paper(fit, pixels, 19.0)
    assert np.abs(found - WINDOW_PLACES_MM).max() < 1e-8


def test_turns_are_rotations_about_their_vector() -> None:
    """Turns of any size, none among them, are those of scipy, one after another and together."""
    turns = np.array([[0.0, 0.0, 0.0], [1e-9, 0.0, -2e-9], [0.02, -0.01, 0.03], [1.0, -2.0, 0.5]])
    expected = Rotation.from_rotvec(turns).as_matrix()
    assert np.abs(_turned_by(turns) - expected).max() < 1e-14
    assert np.abs(_turned_by(turns[2]) - expected[2]).max() < 1e-14
