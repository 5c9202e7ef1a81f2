"""What a person reads off the print becomes the print's distortion."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cutvision.errors import InputError
from cutvision.target import SHEETS, PrintReadings, print_scale
from cutvision.target.print_scale import ORDINARY_SHEAR, ORDINARY_STRETCH

FINE_MM = 1e-4  # readings so fine that the prior weighs nothing
FLOAT_NOISE = 2e-7  # dimension one, what FINE_MM and the prior leave


def _readings(paper: str, e: tuple[float, float, float], read_to_mm: float, **left_out: None) -> PrintReadings:
    """Lengths between the frame's printed corners, by the definition centre + (I + E) (drawn - centre)."""
    sheet = SHEETS[paper]
    ex, ey, g = e
    matrix = np.array([[1 + ex, g], [0, 1 + ey]])
    half = np.array([sheet.width_mm / 2, sheet.height_mm / 2])
    a, b, c, d = (matrix @ (half * sign) for sign in ([-1, -1], [1, -1], [1, 1], [-1, 1]))

    def far(p: np.ndarray, q: np.ndarray) -> float:
        return float(np.linalg.norm(p - q))

    lengths = {
        "long_side_mm": far(a, b),
        "short_side_mm": far(a, d),
        "diagonal_down_mm": far(a, c),
        "diagonal_up_mm": far(d, b),
    }
    return PrintReadings(read_to_mm=read_to_mm, **(lengths | left_out))


@pytest.mark.parametrize("paper", list(SHEETS))
@pytest.mark.parametrize(
    "e",
    [(0.0015, 0.0, 0.0), (0.0, -0.002, 0.0), (0.0, 0.0, 0.0012), (-0.02, -0.0185, -0.001), (0.0004, 0.0021, -0.0015)],
)
def test_known_distortion_comes_back(paper: str, e: tuple[float, float, float]) -> None:
    """Fine readings of a print made with known stretch and shear give them back, signs and all (closed form)."""
    scale = print_scale(SHEETS[paper], _readings(paper, e, FINE_MM))
    np.testing.assert_allclose(scale.estimate, e, atol=FLOAT_NOISE)
    assert scale.read


def test_longer_diagonal_down_means_positive_shear() -> None:
    """With g positive the bottom goes to the right, so the diagonal down to the right is the longer (closed form)."""
    readings = PrintReadings(250.0, 180.0, 0.1, diagonal_down_mm=308.3, diagonal_up_mm=307.8)
    scale = print_scale(SHEETS["a4"], readings)
    assert scale.estimate[2] > 0
    moved = scale.matrix @ np.array([0.0, 90.0])
    assert moved[0] > 0


def test_unread_print_is_the_ordinary_printer() -> None:
    """Without a reading the estimate is no distortion, with the ordinary printer's uncertainties (common practice)."""
    for readings in (None, PrintReadings()):
        scale = print_scale(SHEETS["a4"], readings)
        np.testing.assert_array_equal(scale.estimate, 0.0)
        expected = np.diag([ORDINARY_STRETCH, ORDINARY_STRETCH, ORDINARY_SHEAR]) ** 2
        np.testing.assert_allclose(scale.covariance, expected)
        assert not scale.read


def test_uncertainty_of_two_sides_read_by_rule() -> None:
    """Sides read to 0.25 mm leave u = 0.25 / sqrt 3 / side each (closed form; the prior takes less than a tenth)."""
    scale = print_scale(SHEETS["a4"], PrintReadings(250.0, 180.0))
    u = np.sqrt(np.diag(scale.covariance))
    closed = 0.25 / math.sqrt(3) / np.array([250.0, 180.0])
    assert np.all(u[:2] <= closed)
    assert np.all(u[:2] >= 0.9 * closed)
    assert u[2] == pytest.approx(ORDINARY_SHEAR)


def test_diagonals_narrow_the_shear() -> None:
    """Two diagonals of a4 read to 0.1 mm give u(g) = D u sqrt 2 / (2 W H), joined to the prior (closed form)."""
    scale = print_scale(SHEETS["a4"], _readings("a4", (0.0, 0.0, 0.0), 0.1))
    read = math.hypot(250, 180) * 0.1 / math.sqrt(3) * math.sqrt(2) / (2 * 250 * 180)
    joined = 1 / math.sqrt(1 / read**2 + 1 / ORDINARY_SHEAR**2)
    assert math.sqrt(scale.covariance[2, 2]) == pytest.approx(joined, rel=1e-4)


def test_diagonals_alone() -> None:
    """The diagonals alone tell mean stretch and shear; the sides' difference stays the ordinary printer's."""
    nothing = {"long_side_mm": None, "short_side_mm": None}
    scale = print_scale(SHEETS["a4"], _readings("a4", (0.001, 0.001, 0.0008), FINE_MM, **nothing))
    np.testing.assert_allclose(scale.estimate, [0.001, 0.001, 0.0008], atol=2e-5)
    difference = np.array([1.0, -1.0, 0.0])
    u = math.sqrt(difference @ scale.covariance @ difference)
    assert u == pytest.approx(ORDINARY_STRETCH * math.sqrt(2), rel=0.02)


def test_reading_never_widens_what_angles_feel() -> None:
    """Any reading leaves the sides' difference and the shear, which turn directions, no less certain than before."""
    full = {"long_side_mm": 250.0, "short_side_mm": 180.0, "diagonal_down_mm": 308.06, "diagonal_up_mm": 308.06}
    before = print_scale(SHEETS["a4"]).covariance
    for name, mm in full.items():
        after = print_scale(SHEETS["a4"], PrintReadings(**{name: mm})).covariance
        for direction in ([1.0, -1.0, 0.0], [0.0, 0.0, 1.0]):
            v = np.array(direction)
            assert v @ after @ v <= v @ before @ v * (1 + 1e-9)


def test_bounds_hold_over_many_prints() -> None:
    """Over 2000 ordinary prints read by rule, 95 % bounds of ex, ey and g hold the truth 93 to 98.5 % of the time.

    Statistical: seeded; the readings' errors are rectangular, so slightly more than 95 % is right.
    """
    rng = np.random.default_rng(20240611)
    held = np.zeros(3)
    count = 2000
    for _ in range(count):
        e = rng.normal(0.0, [ORDINARY_STRETCH, ORDINARY_STRETCH, ORDINARY_SHEAR])
        exact = _readings("a4", (e[0], e[1], e[2]), 0.25)
        off = rng.uniform(-0.25, 0.25, 4)
        read = PrintReadings(
            (exact.long_side_mm or 0) + off[0],
            (exact.short_side_mm or 0) + off[1],
            0.25,
            (exact.diagonal_down_mm or 0) + off[2],
            (exact.diagonal_up_mm or 0) + off[3],
        )
        scale = print_scale(SHEETS["a4"], read)
        held += np.abs(scale.estimate - e) <= 2 * np.sqrt(np.diag(scale.covariance))
    assert np.all(held / count > 0.93)
    assert np.all(held / count < 0.985)


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        (PrintReadings(237.5, 171.0), "fitted to the page"),
        (PrintReadings(180.0, 250.0), "looks like the short side"),
        (PrintReadings(long_side_mm=9.84), "inches"),
        (PrintReadings(long_side_mm=380.0), "another paper"),
        (PrintReadings(long_side_mm=float("nan")), "read as nan"),
        (PrintReadings(250.0, 180.0, read_to_mm=0.0), "read to 0 mm"),
        (PrintReadings(250.0, 182.0, 0.25, 308.1, 308.1), "do not fit one another"),
    ],
)
def test_impossible_readings_are_refused(readings: PrintReadings, said: str) -> None:
    """A reading that no print of the sheet can give is refused with what was read, the likely cause and a remedy."""
    with pytest.raises(InputError) as caught:
        print_scale(SHEETS["a4"], readings)
    assert said in caught.value.message
    assert caught.value.remedy


@pytest.mark.parametrize(
    "readings",
    [
        PrintReadings(250.0, 180.0, 0.25, 300.0),
        PrintReadings(250.0, 180.0, 0.25, None, 315.0),
        PrintReadings(256.0, 175.0, 0.25),
    ],
)
def test_a_print_that_no_printer_makes_is_refused(readings: PrintReadings) -> None:
    """Each length is within 3 % of the drawn one, but together they tell of a lean or an uneven stretch of percents."""
    with pytest.raises(InputError, match="no working printer"):
        print_scale(SHEETS["a4"], readings)
