"""A step comes out in the file as the response says: its blur, its halo, its color, nothing else."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr

from cutvision.imaging.response import GRID_PX, EdgeResponse, filed, kernels, stored_steps
from cutvision.imaging.tone import linear_from_stored

U_PX = np.arange(-80, 81) * GRID_PX
BLACK, WHITE = linear_from_stored(np.array([[50.0] * 3, [200.0] * 3]))
AT_ZERO = np.zeros((1, 3))
FLOAT_NOISE = 1e-9


def step(response: EdgeResponse) -> tuple[np.ndarray, np.ndarray]:
    """(n,) the same step, bright outside, as luma and as chroma show it."""
    luma, chroma = filed(stored_steps(np.array([WHITE, BLACK]), U_PX, AT_ZERO, response.blur_px), response)
    return luma[:, 0], chroma[:, 0]


@pytest.mark.parametrize("sharpening", [0.0, 0.7, 1.5])
def test_kernels_keep_a_flat_field(sharpening: float) -> None:
    """Blur and sharpening change no level: both kernels sum to one."""
    for kernel in kernels(EdgeResponse(0.7, sharpening, 1.8, 0.4, 2.2)):
        assert kernel.sum() == pytest.approx(1.0, abs=FLOAT_NOISE)


def test_levels_far_from_the_step_are_stored_as_they_are() -> None:
    """Ten pixels from a step that is sharpened hard the stored values are those of the regions, to 0.01."""
    luma, chroma = step(EdgeResponse(0.7, 1.5, 1.5, 0.3, 2.0))
    for shown in (luma, chroma):
        assert shown[0] == pytest.approx(50.0, abs=0.01)
        assert shown[-1] == pytest.approx(200.0, abs=0.01)


def test_sharpening_leaves_a_halo_in_luma_alone() -> None:
    """An unsharp mask overshoots on both sides of a step in luma and leaves chroma within the regions' levels."""
    luma, chroma = step(EdgeResponse(0.7, 1.0, 1.5))
    assert luma.max() > 205
    assert luma.min() < 45
    assert chroma.max() <= 200 + FLOAT_NOISE
    assert chroma.min() >= 50 - FLOAT_NOISE


def test_the_halo_is_the_unsharp_mask_s() -> None:
    """A small step, linear in light, is (1 + a) Phi(u/b) - a Phi(u/sqrt(b^2 + r^2)), to 2e-3 of its height.

    Closed form: Gaussian blurs add in variance.
    """
    amount, blur, radius = 0.8, 0.9, 1.6
    grey = linear_from_stored(np.array([[120.0] * 3, [121.0] * 3]))
    stored = stored_steps(grey[::-1], U_PX, AT_ZERO, blur)
    luma = filed(stored, EdgeResponse(blur, amount, radius))[0][:, 0] - 120.0
    expected = (1 + amount) * ndtr(U_PX / blur) - amount * ndtr(U_PX / np.hypot(blur, radius))
    assert np.abs(luma - expected).max() < 2e-3


def test_each_color_s_step_stands_where_it_is_put() -> None:
    """Places given a color apart displace its own step and no other."""
    places = np.array([[0.6, 0.0, -0.4]])
    stored = stored_steps(np.array([WHITE, BLACK]), U_PX, places, 0.7)
    still = stored_steps(np.array([WHITE, BLACK]), U_PX, AT_ZERO, 0.7)
    assert np.array_equal(stored[:, 1], still[:, 1])
    half = [float(np.interp(125.0, stored[:, c], U_PX)) for c in range(3)]
    assert half[0] - half[1] == pytest.approx(0.6, abs=0.01)
    assert half[2] - half[1] == pytest.approx(-0.4, abs=0.01)


def test_the_reach_grows_with_the_halo() -> None:
    """A strong halo counts farther out than the blur; a hardly visible one does not."""
    assert EdgeResponse(0.7, 1.0, 2.0).reach_px > 2 * EdgeResponse(0.7).reach_px
    assert EdgeResponse(0.7, 0.01, 2.0).reach_px == EdgeResponse(0.7).reach_px
