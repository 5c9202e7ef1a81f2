"""A straight line through edge points: what a perfect instrument would call the edge's least-squares line, how sure.

The edge itself is rough (a process with a correlation length) and the points carry noise of their own. What is wanted
is the least-squares line of the rough edge over the length that shows; so the roughness is no error where it is seen,
and only counts where points are missing, noisy or dropped (tips, chips, fibres). That is a prediction of a random
process from noisy samples (generalised least squares with the residuals' own correlation), of which the line is a
linear functional.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutvision.imaging.constants import SHARED_NOISE, SHARED_REACH_MM

LEAST_POINTS = 8
ROUGHNESS_REACH = 8
"""How many blocks' lags tell the roughness's correlation."""


@dataclass(frozen=True, slots=True)
class FittedLine:
    """A line in a plane's mm: y(x) = offset + slope x in the frame of the coarse line, x from the coarse line's start.

    origin_mm (2,), direction (2,) unit along x, outward (2,) unit along y: that frame; length_mm: what shows of it.
    offset_mm at the middle of the length, slope (dimension one); covariance: (2, 2) of (offset, slope).
    used: (N,) points that made it; residual_mm: (N,) all points less the line.
    rms_mm, correlation_mm: the edge's own roughness; dropped_share: of the points.
    """

    origin_mm: np.ndarray
    direction: np.ndarray
    outward: np.ndarray
    length_mm: float
    offset_mm: float
    slope: float
    covariance: np.ndarray
    used: np.ndarray
    residual_mm: np.ndarray
    rms_mm: float
    correlation_mm: float
    dropped_share: float

    @property
    def angle_rad(self) -> float:
        """Direction of the line in the plane's own frame, from +x toward +y."""
        along = self.direction + self.slope * self.outward
        return float(np.arctan2(along[1], along[0]))

    @property
    def point_mm(self) -> np.ndarray:
        """(2,) the line's point at the middle of the edge."""
        return np.asarray(self.origin_mm + self.length_mm / 2 * self.direction + self.offset_mm * self.outward)


@dataclass(frozen=True, slots=True)
class FitFailed:
    """Why no line could be fitted. Falsy."""

    reason: str

    def __bool__(self) -> bool:
        return False


@dataclass(frozen=True, slots=True)
class Roughness:
    """The edge's own form, and the factor by which the points' noise must be scaled to explain what is left."""

    rms_mm: float
    correlation_mm: float
    noise_scale: float


def roughness(residual: np.ndarray, used: np.ndarray, spacing: float, noise: np.ndarray) -> Roughness:
    """The edge's form from the residuals' autocovariance at lags of one block and more.

    There the noise of single blocks is gone: s^2 exp(-lag/c) is fitted to it; what is left at lag nought is noise.
    residual, used, noise: (N,), spacing and results in mm.
    """
    r = np.where(used, residual - residual[used].mean(), np.nan)
    lags = np.arange(ROUGHNESS_REACH + 1)
    moments = np.empty(len(lags))
    for lag in lags:
        product = r[: len(r) - lag] * r[lag:]
        good = product[np.isfinite(product)]
        moments[lag] = good.mean() if len(good) else 0.0
    total = max(moments[0], 1e-10)
    best = (np.inf, 0.0, spacing)
    for c in spacing * np.array([0.6, 0.9, 1.3, 1.8, 2.5, 3.5, 5.0]):
        shape = np.exp(-lags[1:] * spacing / c)
        weight = 1 / np.sqrt(lags[1:])
        s2 = float(np.clip((weight * shape) @ moments[1:] / ((weight * shape) @ shape), 0.0, total))
        miss = float((weight * (moments[1:] - s2 * shape) ** 2).sum())
        if miss < best[0]:
            best = (miss, s2, c)
    s2, c = best[1], best[2]
    left = max(total - s2, 0.0)
    scale = float(np.sqrt(left / max((noise[used] ** 2).mean(), 1e-12)))
    return Roughness(float(np.sqrt(max(s2, 1e-8))), float(c), scale)


@dataclass(frozen=True, slots=True)
class LineFit:
    """line: (2,) offset at the middle (mm) and slope; covariance: (2, 2); used: (N,) points; form: the edge's own."""

    line: np.ndarray
    covariance: np.ndarray
    used: np.ndarray
    form: Roughness


def fit_line(
    x_mm: np.ndarray, y_mm: np.ndarray, sigma_mm: np.ndarray, usable: np.ndarray, length_mm: float
) -> LineFit | FitFailed:
    """The least-squares line of the edge from 0 to length_mm, in the coarse line's frame.

    x_mm, y_mm, sigma_mm: (N,) points along and across and their own standard uncertainty; usable: (N,).
    """
    if usable.sum() < LEAST_POINTS:
        return FitFailed(f"only {int(usable.sum())} points along the edge can be used")
    t = x_mm - length_mm / 2
    basis = np.column_stack([np.ones_like(t), t])
    spacing = float(np.median(np.diff(x_mm)))
    used = usable.copy()
    line = robust_line(basis, y_mm, sigma_mm, used)
    for _ in range(8):
        residual = y_mm - basis @ line
        spread = 1.4826 * float(np.median(np.abs(residual[used] - np.median(residual[used]))))
        limit = 3.2 * np.hypot(max(spread, 0.004), np.maximum(0.0, sigma_mm - np.median(sigma_mm)))
        outlying = np.abs(residual) > limit
        # a chip or a fibre has flanks: the blocks beside one are not trusted either
        beside = outlying.copy()
        beside[1:] |= outlying[:-1] & (np.abs(residual[1:]) > 0.6 * limit[1:])
        beside[:-1] |= outlying[1:] & (np.abs(residual[:-1]) > 0.6 * limit[:-1])
        now = usable & ~beside
        if now.sum() < LEAST_POINTS:
            return FitFailed("the points along the edge do not lie on a line")
        form = roughness(residual, now, spacing, sigma_mm)
        noise = sigma_mm * np.clip(form.noise_scale, 0.8, 3.0)
        line, covariance = _line_of_process(x_mm, y_mm, noise, now, length_mm, form)
        if np.array_equal(now, used):
            break
        used = now
    return LineFit(line, covariance, used, form)


def robust_line(basis: np.ndarray, y: np.ndarray, sigma: np.ndarray, usable: np.ndarray) -> np.ndarray:
    """(2,) coefficients by weighted least squares with Tukey's biweight, through (N, 2) basis and (N,) y."""
    weight = usable / (sigma**2 + np.median(sigma) ** 2)
    line = np.zeros(2)
    for _ in range(15):
        w = basis * weight[:, None]
        line = np.linalg.solve(basis.T @ w, w.T @ y)
        residual = y - basis @ line
        spread = max(0.004, 1.4826 * float(np.median(np.abs(residual[usable]))))
        weight = usable * np.clip(1 - (residual / (4.7 * spread)) ** 2, 0, None) ** 2 / (sigma**2 + spread**2)
    return line


def _line_of_process(
    x: np.ndarray, y: np.ndarray, sigma: np.ndarray, used: np.ndarray, length: float, form: Roughness
) -> tuple[np.ndarray, np.ndarray]:
    """The least-squares line over (0, length) of a straight line plus a process s^2 exp(-|d|/c), and its covariance.

    Source: best linear unbiased prediction of a linear functional of a process from noisy points (universal kriging;
    Cressie, Statistics for Spatial Data, 1993, 3.4).
    """
    rms, correlation = form.rms_mm, form.correlation_mm
    xs, ys = x[used], y[used]
    step = float(np.median(np.diff(x)))
    grid = np.arange(step / 2, length, step)
    t, tg = xs - length / 2, grid - length / 2
    apart = np.abs(xs[:, None] - xs[None, :])
    process = rms**2 * np.exp(-apart / correlation)
    together = SHARED_NOISE * np.exp(-apart / SHARED_REACH_MM) + (1 - SHARED_NOISE) * np.eye(len(xs))
    observed = process + np.outer(sigma[used], sigma[used]) * together
    toward_grid = rms**2 * np.exp(-np.abs(grid[:, None] - xs[None, :]) / correlation)
    on_grid = rms**2 * np.exp(-np.abs(grid[:, None] - grid[None, :]) / correlation)
    functional = np.linalg.pinv(np.column_stack([np.ones_like(tg), tg]))

    basis = np.column_stack([np.ones_like(t), t])
    inverse = np.linalg.inv(observed)
    normal = np.linalg.inv(basis.T @ inverse @ basis)
    trend = normal @ basis.T @ inverse
    kriging = toward_grid @ inverse
    # weights of the points in the line: trend plus the predicted process's own line
    weights = trend + functional @ kriging @ (np.eye(len(xs)) - basis @ trend)
    line = weights @ ys
    cross = functional @ toward_grid
    covariance = (
        functional @ on_grid @ functional.T - cross @ weights.T - weights @ cross.T + weights @ observed @ weights.T
    )
    return line, (covariance + covariance.T) / 2


def fit_edge(
    points_mm: np.ndarray,
    sigma_mm: np.ndarray,
    usable: np.ndarray,
    start_mm: np.ndarray,
    end_mm: np.ndarray,
) -> FittedLine | FitFailed:
    """The line of an edge that shows from start to end (2,) by points (N, 2) in the same plane, in order along it."""
    length = float(np.hypot(*(end_mm - start_mm)))
    direction = (end_mm - start_mm) / length
    outward = np.array([direction[1], -direction[0]])
    x, y = (points_mm - start_mm) @ direction, (points_mm - start_mm) @ outward
    fitted = fit_line(x, y, sigma_mm, usable, length)
    if isinstance(fitted, FitFailed):
        return fitted
    offset, slope = (float(v) for v in fitted.line)
    return FittedLine(
        origin_mm=start_mm,
        direction=direction,
        outward=outward,
        length_mm=length,
        offset_mm=offset,
        slope=slope,
        covariance=fitted.covariance,
        used=fitted.used,
        residual_mm=y - offset - slope * (x - length / 2),
        rms_mm=fitted.form.rms_mm,
        correlation_mm=fitted.form.correlation_mm,
        dropped_share=1 - float(fitted.used.mean()),
    )
