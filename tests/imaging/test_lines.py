"""A line through edge points: exact where it can be, as sure as it says on rough edges, blind to chips and frames."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest
from scipy import signal, stats

from cutvision.imaging.constants import SHARED_NOISE, SHARED_REACH_MM
from cutvision.imaging.lines import (
    LEAST_POINTS,
    FitFailed,
    FittedLine,
    fit_edge,
    fit_line,
    roughness,
)

FLOAT_NOISE = 1e-9
FINE_MM = 0.05
START_MM, LENGTH_MM = np.array([40.0, 60.0]), 95.0


@dataclass(frozen=True)
class RoughEdge:
    """A rough edge of a length: its blocks' points as a photo would give them, and its own least-squares line.

    x_mm, y_mm: (N,) points with noise; sigma_mm: (N,) its standard deviation; line: (2,) offset at the middle, slope.
    """

    x_mm: np.ndarray
    y_mm: np.ndarray
    sigma_mm: np.ndarray
    line: np.ndarray
    length_mm: float


def rough_edge(
    rng: np.random.Generator,
    rms_mm: float = 0.02,
    correlation_mm: float = 1.0,
    noise_mm: float = 0.01,
    length_mm: float = LENGTH_MM,
) -> RoughEdge:
    """An edge whose form has the autocovariance rms^2 exp(-|d| / correlation), seen in blocks of one millimetre.

    Half of the noise's variance hangs together over some blocks, as the fit supposes of what its model leaves.
    """
    count = round(length_mm / FINE_MM)
    keep = math.exp(-FINE_MM / correlation_mm)
    white = rng.normal(0, rms_mm, count)
    white[1:] *= math.sqrt(1 - keep * keep)
    form = signal.lfilter([1.0], [1.0, -keep], white)
    fine_x = (np.arange(count) + 0.5) * FINE_MM
    slope, offset = np.polyfit(fine_x - length_mm / 2, form, 1)
    per = round(1 / FINE_MM)
    inner = slice(per, count - per)
    x, y = (v[inner].reshape(-1, per).mean(axis=1) for v in (fine_x, form))
    together = SHARED_NOISE * np.exp(-np.abs(x[:, None] - x) / SHARED_REACH_MM) + (1 - SHARED_NOISE) * np.eye(len(x))
    y = y + noise_mm * np.linalg.cholesky(together) @ rng.normal(size=len(x)) if noise_mm else y
    return RoughEdge(x, y, np.full(len(x), noise_mm or 1e-4), np.array([offset, slope]), length_mm)


def fitted(points_mm: np.ndarray, sigma_mm: np.ndarray, start_mm: np.ndarray, end_mm: np.ndarray) -> FittedLine:
    """The line through points of which all may be used."""
    line = fit_edge(points_mm, sigma_mm, np.ones(len(points_mm), bool), start_mm, end_mm)
    assert isinstance(line, FittedLine)
    return line


def in_plane(edge: RoughEdge, start_mm: np.ndarray, angle_rad: float) -> tuple[np.ndarray, np.ndarray]:
    """(N, 2) points and (2,) end of an edge that starts at a place and runs at an angle, its outside to the left."""
    along = np.array([math.cos(angle_rad), math.sin(angle_rad)])
    outward = np.array([along[1], -along[0]])
    points = start_mm + edge.x_mm[:, None] * along + edge.y_mm[:, None] * outward
    return points, start_mm + edge.length_mm * along


def through(line: FittedLine) -> tuple[float, float]:
    """What tells a line without its frame: its direction and its signed distance from the origin."""
    a = line.angle_rad
    return a, float(line.point_mm @ [-math.sin(a), math.cos(a)])


def test_points_on_a_line_give_that_line() -> None:
    """Points that lie on a straight line give it exactly, however uneven their stated uncertainty is."""
    x = np.arange(1.5, 94, 1.0)
    sigma = np.random.default_rng(0).uniform(0.002, 0.05, len(x))
    fit = fit_line(x, 0.3 + 0.004 * (x - LENGTH_MM / 2), sigma, np.ones(len(x), bool), LENGTH_MM)
    assert not isinstance(fit, FitFailed)
    assert np.abs(fit.line - [0.3, 0.004]).max() < FLOAT_NOISE
    assert fit.used.all()


@pytest.fixture(scope="module")
def trials() -> tuple[np.ndarray, np.ndarray]:
    """(400, 2) errors of offset and slope over what was stated, and (400, 2) stated, on rough edges with noise."""
    z, stated = [], []
    for seed in range(400):
        edge = rough_edge(np.random.default_rng(seed))
        fit = fit_line(edge.x_mm, edge.y_mm, edge.sigma_mm, np.ones(len(edge.x_mm), bool), edge.length_mm)
        assert not isinstance(fit, FitFailed)
        stated.append(np.sqrt(np.diag(fit.covariance)))
        z.append((fit.line - edge.line) / stated[-1])
    return np.array(z), np.array(stated)


@pytest.mark.parametrize("parameter", [0, 1])
def test_scatter_is_as_stated(trials: tuple[np.ndarray, np.ndarray], parameter: int) -> None:
    """Over 400 rough edges with noise, errors are 0.8 to 1.25 times what the covariance says, and 89 % within two.

    The scatter may talk the points' stated noise down to 0.8 of itself, since what hangs together looks like roughness:
    so where the statement was right, errors may be 1 / 0.8 of what the covariance says, and P(|z| < 1.6) = 0.89 within
    two. The coverage's limit is the binomial's at 0.1 % false alarm; 400 draws give the ratio a spread of 0.035.
    """
    z = trials[0][:, parameter]
    assert 0.8 < math.sqrt((z**2).mean()) < 1.25
    assert (np.abs(z) < 2).sum() >= stats.binom.ppf(0.001, len(z), 0.89)


def test_fit_is_unbiased(trials: tuple[np.ndarray, np.ndarray]) -> None:
    """The mean error of offset and slope is nothing, to 3.5 standard errors of 400 edges (false alarm 0.1 %)."""
    assert np.abs(trials[0].mean(axis=0)).max() < 3.5 * 1.25 / math.sqrt(400)


def test_an_edge_seen_whole_is_known_better_than_the_saw_s_path(trials: tuple[np.ndarray, np.ndarray]) -> None:
    """The piece's own line is not blurred by its roughness: its stated slope is under half of s sqrt(24 c / L^3).

    That formula is for the saw's path (closed form for L much longer than c); noise of 0.01 mm a block alone would
    give 0.01 sqrt(12 / (n L^2)) if it were independent.
    """
    saw = 0.02 * math.sqrt(24 * 1.0 / LENGTH_MM**3)
    independent = 0.01 * math.sqrt(12 / (93 * LENGTH_MM**2))
    slope = float(np.median(trials[1][:, 1]))
    assert independent < slope < saw


def test_roughness_blurs_the_saw_s_path_by_the_formula() -> None:
    """The least-squares slope of a rough edge scatters by s sqrt(24 c / L^3), its offset by s sqrt(2 c / L).

    Closed forms for L much longer than c, here 95 times; 2000 edges tell a scatter to 1.6 %, the formulas hold to 3 %.
    """
    lines = np.array([rough_edge(np.random.default_rng(seed), noise_mm=0.0).line for seed in range(2000)])
    offset, slope = lines.std(axis=0)
    assert offset == pytest.approx(0.02 * math.sqrt(2 * 1.0 / LENGTH_MM), rel=0.08)
    assert slope == pytest.approx(0.02 * math.sqrt(24 * 1.0 / LENGTH_MM**3), rel=0.08)


@pytest.mark.parametrize("missing", [slice(0, 30), slice(30, 70)])
def test_missing_spans_cost_what_their_roughness_may_hide(missing: slice) -> None:
    """Where a third of the edge is not seen, the errors grow and the statement with them: ratio 0.75 to 1.25.

    200 edges give the ratio a spread of 0.05; the noise is small here, so that roughness leads.
    """
    z, growth = [], []
    for seed in range(200):
        edge = rough_edge(np.random.default_rng(seed), noise_mm=0.004)
        usable = np.ones(len(edge.x_mm), bool)
        whole = fit_line(edge.x_mm, edge.y_mm, edge.sigma_mm, usable, edge.length_mm)
        usable[missing] = False
        part = fit_line(edge.x_mm, edge.y_mm, edge.sigma_mm, usable, edge.length_mm)
        assert not isinstance(part, FitFailed)
        assert not isinstance(whole, FitFailed)
        z.append((part.line - edge.line) / np.sqrt(np.diag(part.covariance)))
        growth.append(np.sqrt(np.diag(part.covariance) / np.diag(whole.covariance)))
    ratio = np.sqrt((np.array(z) ** 2).mean(axis=0))
    assert ratio.min() > 0.75
    assert ratio.max() < 1.25
    assert np.median(growth, axis=0)[0] > 1.2


@pytest.mark.parametrize(("rms_mm", "correlation_mm"), [(0.03, 1.5), (0.02, 3.0), (0.01, 2.0)])
def test_roughness_is_told_from_noise(rms_mm: float, correlation_mm: float) -> None:
    """Rms and correlation of the edge's form come back from points with 0.01 mm of independent noise.

    What edge form needs is s sqrt(c): its median over 60 edges comes back to 25 %.
    """
    found = []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        edge = rough_edge(rng, rms_mm, correlation_mm, 0.0)
        y = edge.y_mm + rng.normal(0, 0.01, len(edge.y_mm))
        residual = y - np.polyval(np.polyfit(edge.x_mm, y, 1), edge.x_mm)
        form = roughness(residual, np.ones(len(y), bool), 1.0, np.full(len(y), 0.01))
        found.append(form.rms_mm * math.sqrt(form.correlation_mm))
    assert np.median(found) == pytest.approx(rms_mm * math.sqrt(correlation_mm), rel=0.25)


@pytest.mark.parametrize("depth_mm", [-0.6, 0.9])
def test_tear_out_and_fibres_are_left_out(depth_mm: float) -> None:
    """A bite 5 mm long or fibres standing out are dropped, told of, and move the line by less than its bound."""
    edge = rough_edge(np.random.default_rng(7))
    torn = edge.y_mm.copy()
    torn[20:25] += depth_mm
    points, end = in_plane(edge, START_MM, 0.4)
    clean = fitted(points, edge.sigma_mm, START_MM, end)
    bitten, _ = in_plane(RoughEdge(edge.x_mm, torn, edge.sigma_mm, edge.line, edge.length_mm), START_MM, 0.4)
    fit = fitted(bitten, edge.sigma_mm, START_MM, end)
    assert not fit.used[20:25].any()
    assert fit.dropped_share >= clean.dropped_share + 4 / len(torn)
    moved = np.abs([fit.offset_mm - clean.offset_mm, fit.slope - clean.slope])
    assert (moved < 2 * np.sqrt(np.diag(fit.covariance))).all()


def test_swapping_the_ends_changes_nothing() -> None:
    """The same points from the other end give the same line, run the other way, with the same uncertainty."""
    edge = rough_edge(np.random.default_rng(3))
    points, end = in_plane(edge, START_MM, 0.4)
    one = fitted(points, edge.sigma_mm, START_MM, end)
    other = fitted(points[::-1], edge.sigma_mm, end, START_MM)
    (angle, distance), (back, away) = through(one), through(other)
    assert abs(math.sin(back - angle)) < FLOAT_NOISE
    assert math.cos(back - angle) < 0
    assert away == pytest.approx(-distance, abs=1e-8)
    assert np.sqrt(np.diag(other.covariance)) == pytest.approx(np.sqrt(np.diag(one.covariance)), rel=1e-6)


@pytest.mark.parametrize("turn_rad", [0.7, 2.5, -1.9])
def test_turning_and_moving_turns_and_moves_the_line(turn_rad: float) -> None:
    """Points turned and moved give the line turned and moved, with the same uncertainty and the same points used."""
    edge = rough_edge(np.random.default_rng(4))
    (points, end), away = in_plane(edge, START_MM, 0.4), np.array([12.0, -30.0])
    turn = np.array([[math.cos(turn_rad), -math.sin(turn_rad)], [math.sin(turn_rad), math.cos(turn_rad)]])
    one = fitted(points, edge.sigma_mm, START_MM, end)
    other = fitted(points @ turn.T + away, edge.sigma_mm, turn @ START_MM + away, turn @ end + away)
    assert math.sin(other.angle_rad - one.angle_rad - turn_rad) == pytest.approx(0, abs=FLOAT_NOISE)
    assert np.abs(turn @ one.point_mm + away - other.point_mm).max() < 1e-8
    assert np.array_equal(one.used, other.used)
    assert other.covariance == pytest.approx(one.covariance, rel=1e-5)


def test_the_unit_of_length_is_no_matter() -> None:
    """An edge a quarter larger in every length, noise included, turns its line by less than a tenth of its bound.

    Only the floors of the robust start and the reach of the shared noise are lengths of their own.
    """
    edge = rough_edge(np.random.default_rng(5))
    points, end = in_plane(edge, START_MM, 0.4)
    one = fitted(points, edge.sigma_mm, START_MM, end)
    other = fitted(1.25 * points, 1.25 * edge.sigma_mm, 1.25 * START_MM, 1.25 * end)
    u = math.sqrt(one.covariance[1, 1])
    assert abs(other.angle_rad - one.angle_rad) < 0.2 * u
    assert math.sqrt(other.covariance[1, 1]) == pytest.approx(u, rel=0.15)


def test_the_coarse_line_does_not_matter() -> None:
    """A coarse line that starts 0.4 mm off and leans by half a degree gives the same fine line, to a tenth of its u."""
    edge = rough_edge(np.random.default_rng(6))
    points, end = in_plane(edge, START_MM, 0.4)
    outward = np.array([math.sin(0.4), -math.cos(0.4)])
    one = fitted(points, edge.sigma_mm, START_MM, end)
    other = fitted(points, edge.sigma_mm, START_MM + 0.4 * outward, end - 0.4 * outward)
    assert abs(other.angle_rad - one.angle_rad) < 0.1 * math.sqrt(one.covariance[1, 1])


def test_too_few_points_are_no_line() -> None:
    """With fewer points than a line is trusted to, the answer is a reason and not a line."""
    x = np.arange(20.0)
    usable = np.arange(20) < LEAST_POINTS - 1
    failed = fit_line(x, np.zeros(20), np.full(20, 0.01), usable, 20.0)
    assert isinstance(failed, FitFailed)
    assert not failed
    assert f"only {LEAST_POINTS - 1} points" in failed.reason
