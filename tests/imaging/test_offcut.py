"""What is refused of an edge that was followed, and what is measured when two printed sheets show."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cutvision.errors import PhotoRefused
from cutvision.imaging.locate import locate_sheets
from cutvision.imaging.offcut import _longest_run, look_at
from cutvision.imaging.photo import Photo
from cutvision.imaging.pose import prior_from_photo
from cutvision.target import SHEETS
from simulation.photo_file import as_photo
from simulation.pose import phone_camera, pose_over
from simulation.refused_scenes import good_scene
from simulation.render import render

WIDTH_PX, HEIGHT_PX = 2600, 1224
APART_MM = 284.0  # between the middles of two A4 sheets side by side, whose rings are 250 mm wide


def side_by_side(*, empty: tuple[bool, bool], second_paper: str = "a4") -> Photo:
    """Two sheets side by side on one bench under one camera, the left and the right half rendered apart."""
    scene = good_scene()
    halves = []
    for k, sheet in enumerate((SHEETS["a4"], SHEETS[second_paper])):
        middle = (125.0 + (0.5 - k) * APART_MM, 92.0)
        one = replace(
            scene,
            sheet=sheet,
            camera=phone_camera(WIDTH_PX, HEIGHT_PX, 26.0),
            pose=pose_over(middle, 420.0, math.radians(4), math.radians(65), math.radians(1)),
            settings=replace(scene.settings, width_px=WIDTH_PX, height_px=HEIGHT_PX),
            pieces=() if empty[k] else scene.pieces,
        )
        photo = as_photo(render(one))
        halves.append(photo.stored[:, : WIDTH_PX // 2] if k == 0 else photo.stored[:, WIDTH_PX // 2 :])
    return replace(photo, stored=np.hstack(halves))


def look(photo: Photo) -> int:
    """How many sheets the photo's piece was told beside; the thickness is the scene's."""
    offcut = look_at(photo, "miter", 18.0, prior_from_photo(photo), lambda _: None)
    assert (offcut.edges[0].points.pixels[:, 0] > WIDTH_PX / 2).all()
    return offcut.sheets


@pytest.mark.parametrize("second_paper", ["a4", "letter"])
def test_the_sheet_with_the_piece_counts(second_paper: str) -> None:
    """Of two sheets, on one of which a piece lies, both are noticed and the piece is measured on its own."""
    photo = side_by_side(empty=(True, False), second_paper=second_paper)
    sightings = locate_sheets(photo)
    assert sorted(s.sheet.paper for s in sightings) == sorted(["a4", second_paper])
    left, right = sorted(sightings, key=lambda s: float(s.saddles_px[:, 0].mean()))
    assert left.saddles_px[:, 0].max() < WIDTH_PX / 2 < right.saddles_px[:, 0].min()
    assert look(photo) == 2


def test_two_pieces_on_two_sheets_are_refused() -> None:
    """With a piece on each of two sheets nobody can know which is meant."""
    with pytest.raises(PhotoRefused, match="2 printed sheets") as refusal:
        look(side_by_side(empty=(False, False)))
    assert refusal.value.reason == "several-offcuts"


@pytest.mark.parametrize(
    ("flags", "longest"),
    [("", 0), ("000", 0), ("111", 3), ("0110111", 3), ("1110110", 3), ("10101", 1)],
)
def test_the_longest_run(flags: str, longest: int) -> None:
    """Counted by hand; at either end, in the middle, and none."""
    assert _longest_run(np.array([flag == "1" for flag in flags], dtype=bool)) == longest
