"""The sRGB tone curve and JPEG's luma and chroma against their standards."""

from __future__ import annotations

import numpy as np
import pytest

from cutvision.imaging.tone import LUMA_CHROMA_FROM_RGB, RGB_FROM_LUMA_CHROMA, linear_from_stored, stored_from_linear

FLOAT32_NOISE = 1e-7


@pytest.mark.parametrize(
    ("stored", "light", "to"),
    [
        (0.0, 0.0, 0.0),
        (255.0, 1.0, 1e-12),
        (0.04045 * 255, 0.04045 / 12.92, 1e-12),
        (0.5 * 255, ((0.5 + 0.055) / 1.055) ** 2.4, 1e-12),
        (10.0, 10 / 255 / 12.92, 1e-12),
        (128.0, 0.215861, 0.5e-6),
    ],
)
def test_light_of_stored_values(stored: float, light: float, to: float) -> None:
    """Stored values give the light of IEC 61966-2-1, 5.2: linear up to 0.04045, then the power 2.4 (closed form)."""
    assert float(linear_from_stored(np.array([stored]))[0]) == pytest.approx(light, abs=to)


def test_the_curve_s_two_parts_meet() -> None:
    """At IEC 61966-2-1's joint, 0.04045 stored and 0.0031308 light, its two parts differ by less than 1e-7 in light."""
    below, above = linear_from_stored(np.array([0.04045, 0.04045 + 1e-9]) * 255)
    assert abs(above - below) < 1e-7
    assert below == pytest.approx(0.0031308, abs=0.5e-7)


def test_eight_bit_values_give_the_same_light() -> None:
    """Whole 8-bit values go through a table that agrees with the formula to a float32's rounding."""
    values = np.arange(256)
    table = linear_from_stored(values.astype(np.uint8))
    assert np.abs(table - linear_from_stored(values.astype(float))).max() < FLOAT32_NOISE


def test_storing_undoes_linearising() -> None:
    """Every stored value comes back from its light to 1e-4 of a step (the standard's two parts do not meet exactly)."""
    values = np.linspace(0, 255, 1021)
    assert np.abs(stored_from_linear(linear_from_stored(values)) - values).max() < 1e-4


def test_light_beyond_the_scale_is_clipped() -> None:
    """Light below none and above full is stored as none and full."""
    assert np.abs(stored_from_linear(np.array([-0.1, 1.3])) - [0.0, 255.0]).max() < 1e-12


def test_luma_and_chroma_are_jfif_s() -> None:
    """White has full luma and no chroma, red has luma 0.299 and red chroma 0.5 (ITU-T T.871, clause 7; 6 decimals)."""
    white, red = LUMA_CHROMA_FROM_RGB @ np.ones(3), LUMA_CHROMA_FROM_RGB @ np.array([1.0, 0.0, 0.0])
    assert np.abs(white - [1.0, 0.0, 0.0]).max() < 1e-6
    assert red[0] == pytest.approx(0.299, abs=0.5e-6)
    assert red[2] == pytest.approx(0.5, abs=0.5e-6)


def test_colours_come_back_by_jfif_s_inverse() -> None:
    """The inverse holds 1.402, 0.344136, 0.714136 and 1.772 (ITU-T T.871, clause 7; to the printed decimals)."""
    printed = np.array([[1.0, 0.0, 1.402], [1.0, -0.344136, -0.714136], [1.0, 1.772, 0.0]])
    assert np.abs(RGB_FROM_LUMA_CHROMA - printed).max() < 2e-6
