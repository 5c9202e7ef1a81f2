"""From light on the sensor to the numbers a phone stores: blur, noise, tone curve, denoising, sharpening."""

from __future__ import annotations

import math

import cv2
import numpy as np

from simulation.scene import PhotoSettings

_STEPS = 1 << 14
_BORDER = cv2.BORDER_REPLICATE


def blurred(light: np.ndarray, settings: PhotoSettings) -> np.ndarray:
    """The (H, W, 3) linear picture through the lens's blur and the hand's motion."""
    if settings.blur_px > 0:
        light = cv2.GaussianBlur(light, (0, 0), settings.blur_px, borderType=_BORDER)
    dx, dy = settings.motion_px
    if math.hypot(dx, dy) > 0:
        light = cv2.filter2D(light, -1, _motion_kernel(dx, dy), borderType=_BORDER)
    return np.asarray(light)


def _motion_kernel(dx: float, dy: float) -> np.ndarray:
    half = math.ceil(max(abs(dx), abs(dy)) / 2) + 1
    kernel = np.zeros((2 * half + 1, 2 * half + 1), np.float32)
    for t in (np.arange(8 * half) + 0.5) / (8 * half) - 0.5:
        x, y = t * dx + half, t * dy + half
        i, j = int(x), int(y)
        for row, column, weight in ((j, i, (1 - y + j) * (1 - x + i)), (j, i + 1, (1 - y + j) * (x - i)),
                                    (j + 1, i, (y - j) * (1 - x + i)), (j + 1, i + 1, (y - j) * (x - i))):  # fmt: skip
            kernel[row, column] += weight
    return np.asarray(kernel / kernel.sum())


def tone_curve(settings: PhotoSettings) -> np.ndarray:
    """(N,) stored 0..255 for linear 0..1 in even steps: sRGB (IEC 61966-2-1), then exponent and s-curve."""
    linear = np.linspace(0, 1, _STEPS + 1)
    stored = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 1e-9) ** (1 / 2.4) - 0.055)
    stored = stored**settings.exponent
    stored = stored + settings.s_curve * 4 * stored * (1 - stored) * (stored - 0.5)
    return np.clip(stored * 255, 0, 255).astype(np.float32)


def developed(light: np.ndarray, settings: PhotoSettings, seed: int) -> np.ndarray:
    """(H, W, 3) linear light, 1 full scale -> stored uint8. `light` is used up."""
    rng = np.random.default_rng([seed, 5])
    curve = tone_curve(settings)
    stored = np.empty(light.shape, np.float32)
    tint = np.array(settings.tint, np.float32)
    for start in range(0, light.shape[0], 128):
        block = light[start : start + 128] * tint
        if settings.full_well > 0:
            floor = np.float32((settings.read_noise / settings.full_well) ** 2)
            sigma = np.sqrt(np.maximum(block, 0) * np.float32(1 / settings.full_well) + floor)
            block = block + sigma * rng.standard_normal(block.shape, dtype=np.float32)
        index = (np.clip(block, 0, 1) * np.float32(_STEPS) + np.float32(0.5)).astype(np.int32)
        stored[start : start + 128] = curve[index]
    return _finished(stored, settings)


def _finished(stored: np.ndarray, settings: PhotoSettings) -> np.ndarray:
    """Denoising (chroma more than luma), then sharpening of luma by an unsharp mask, as 8-bit RGB."""
    if settings.denoise > 0 or settings.sharpen > 0:
        weights = np.array([[0.299, 0.587, 0.114]], np.float32)
        luma = cv2.transform(stored, weights)
        chroma = stored - luma[..., None]
        if settings.denoise > 0:
            chroma = cv2.GaussianBlur(chroma, (0, 0), 0.5 + 1.3 * settings.denoise, borderType=_BORDER)
            soft = cv2.GaussianBlur(luma, (0, 0), 0.8, borderType=_BORDER)
            quiet = np.exp(-(((luma - soft) / np.float32(6)) ** 2)) * np.float32(settings.denoise)
            luma = luma + (soft - luma) * quiet
        if settings.sharpen > 0:
            soft = cv2.GaussianBlur(luma, (0, 0), 1.2, borderType=_BORDER)
            luma = luma + np.float32(1.5 * settings.sharpen) * (luma - soft)
        stored = chroma + luma[..., None]
    return np.asarray(np.clip(np.rint(stored), 0, 255).astype(np.uint8))
