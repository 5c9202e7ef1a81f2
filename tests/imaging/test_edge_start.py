"""An edge is what the photo shows, wherever the coarse line began."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cutvision.imaging import offcut
from cutvision.imaging.offcut import look_at
from cutvision.imaging.outline import Outline, Side
from cutvision.imaging.photo import Photo
from cutvision.imaging.pose import prior_from_photo

OFF_MM = 0.15
"""Half a cell of the coarse map, on which the outline is found."""
OF_STATED, MOST_OF_STATED = 0.35, 0.7
"""Of the stated standard uncertainty of an edge's direction: what may hang on where the coarse line began: of the
middle one of three edges, and of the worst, which here has two places that draw it."""


def test_the_coarse_line_s_place_does_not_matter(photo: Photo, monkeypatch: pytest.MonkeyPatch) -> None:
    """Coarse sides moved by half a cell at either end, ten times over, give directions that scatter little."""
    find = offcut.find_outline
    rng = np.random.default_rng(5)

    def shaken(*arguments: object) -> Outline:
        outline = find(*arguments)  # type: ignore[arg-type]
        sides = []
        for side in outline.sides:
            across = np.array([side.direction[1], -side.direction[0]])
            first, last = rng.uniform(-OFF_MM, OFF_MM, 2)
            sides.append(Side(side.start_mm + first * across, side.end_mm + last * across))
        return replace(outline, sides=tuple(sides))

    monkeypatch.setattr(offcut, "find_outline", shaken)
    looks = [look_at(photo, "miter", 18.0, prior_from_photo(photo), lambda _: None) for _ in range(10)]
    ratios = []
    for k in range(3):
        angles = np.array([look.edges[k].line.angle_rad for look in looks])
        stated = np.sqrt(np.mean([look.edges[k].line.covariance[1, 1] for look in looks]))
        ratios.append(float(angles.std() / stated))
    assert np.median(ratios) < OF_STATED
    assert max(ratios) < MOST_OF_STATED
