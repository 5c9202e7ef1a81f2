"""What counts as burnt out: values at the end of the scale, and evenness without noise or colour."""

from __future__ import annotations

import numpy as np
import pytest

from cutvision.imaging.exposure import MOST_BURNT, burnt_share
from cutvision.imaging.photo import ExifFacts, Photo

PLACES = np.column_stack([g.ravel() for g in np.meshgrid(np.arange(10, 190, 9.0), np.arange(10, 90, 9.0))])


def paper(colour: tuple[int, int, int], noise: float = 0.0, jpeg_step: float = 10.0) -> Photo:
    """A picture 200 by 100 of one colour with noise."""
    values = np.array(colour) + np.random.default_rng(3).normal(0, noise, (100, 200, 3))
    return Photo("p", "", np.clip(np.rint(values), 0, 255).astype(np.uint8), ExifFacts(), jpeg_step=jpeg_step)


@pytest.mark.parametrize(
    ("photo", "burnt"),
    [
        (paper((255, 255, 255)), True),
        (paper((252, 253, 251), 0.4), True),
        (paper((231, 231, 231)), True),
        (paper((231, 231, 231), 0.6), False),
        (paper((231, 228, 222)), False),
        (paper((180, 180, 180)), False),
        (paper((231, 231, 231), jpeg_step=70.0), False),
    ],
)
def test_what_counts_as_burnt(photo: Photo, *, burnt: bool) -> None:
    """The end of the scale counts, and even grey that tone mapping pulled down, but no noise, colour or coarse JPEG."""
    assert (burnt_share(photo, PLACES) > MOST_BURNT) == burnt


def test_the_brighter_half_counts() -> None:
    """A dark piece over a third of the window does not make burnt paper fair."""
    photo = paper((255, 255, 255))
    stored = photo.stored.copy()
    stored[:, :66] = (120, 80, 50)
    assert burnt_share(Photo("p", "", stored, ExifFacts()), PLACES) == 1.0


def test_places_outside_the_picture_do_not_count() -> None:
    """Places beyond the picture say nothing."""
    assert burnt_share(paper((255, 255, 255)), PLACES + 1000.0) == 0.0
