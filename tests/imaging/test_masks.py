"""Masks are worn, opened, parted and filled as scipy.ndimage does it, to the cell."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from cutvision.imaging.masks import eroded, extent, filled, opened, patches


@pytest.fixture(params=[0.5, 1.0, 2.5])
def mask(request: pytest.FixtureRequest) -> np.ndarray:
    """(70, 90) bool: blots of a seeded noise field that touch the borders, with holes and islands."""
    noise = np.random.default_rng(20260101).normal(size=(70, 90))
    return np.asarray(ndimage.gaussian_filter(noise, request.param) > 0)


@pytest.mark.parametrize("steps", [1, 2, 6])
def test_wearing_and_opening(mask: np.ndarray, steps: int) -> None:
    """Steps go by cells that share a side, and what lies beyond the map is empty."""
    assert np.array_equal(eroded(mask, steps), ndimage.binary_erosion(mask, iterations=steps))
    assert np.array_equal(opened(mask, steps), ndimage.binary_opening(mask, iterations=steps))


def test_patches_and_their_areas(mask: np.ndarray) -> None:
    """Cells that touch at a corner alone are two patches; areas are counts of cells."""
    found = patches(mask)
    labels, count = ndimage.label(mask)
    assert len(found.areas) == count
    for k in range(count):
        theirs = labels == labels[found.labels == k + 1][0]
        assert np.array_equal(found.labels == k + 1, theirs)
        assert found.areas[k] == theirs.sum()


def test_filling(mask: np.ndarray) -> None:
    """Holes are filled, bays open to the border are not."""
    assert np.array_equal(filled(mask), ndimage.binary_fill_holes(mask))


def test_an_empty_mask_has_no_patches() -> None:
    """Nothing gives no patch, and nothing to fill."""
    nothing = np.zeros((8, 9), dtype=bool)
    assert len(patches(nothing).areas) == 0
    assert not filled(nothing).any()


def test_the_extent_holds_the_mask_and_its_margin() -> None:
    """A margin on every side, cut at the map's borders."""
    mask = np.zeros((40, 50), dtype=bool)
    mask[2:20, 30:41] = True
    assert extent(mask, 5) == (slice(0, 25), slice(25, 46))
