"""The sample photos that are to be refused, which our renderer makes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from cutvision.errors import REFUSALS
from cutvision.imaging.camera import project, world_from_sheet
from cutvision.imaging.photo import read_photo_file
from simulation.photo_file import as_photo
from simulation.refused_scenes import REFUSED, good_scene, main, refused_scene
from simulation.render import render

FOLDER = Path(__file__).parents[2] / "sample_images"


def test_every_reason_that_a_picture_can_show_has_a_scene() -> None:
    """All refusals but `unreadable`, which is a matter of the file, have a scene."""
    assert set(REFUSED) == set(REFUSALS) - {"unreadable"}
    with pytest.raises(KeyError):
        refused_scene("unreadable")


def test_refused_scenes_differ_from_a_good_photo_in_their_fault_alone() -> None:
    """Taken back to the good scene's piece, pose, settings and so on, each refused scene is the good one."""
    for reason in REFUSED:
        scene = refused_scene(reason)
        good = good_scene(scale=2 if reason in {"blurred", "overexposed"} else 1)
        mended = replace(
            scene,
            pieces=good.pieces,
            covers=(),
            pose=good.pose,
            settings=good.settings,
            bench=good.bench,
            sheet_shown=True,
        )
        assert mended == good
        moved = not np.array_equal(scene.pose.rotation, good.pose.rotation)
        assert moved or replace(scene, pose=good.pose) != good


def test_rule_covers_part_of_the_cut_and_the_near_phone_sees_one_side() -> None:
    """The two refused scenes that hang on geometry do what they say."""
    hidden = refused_scene("offcut-hidden")
    corners = hidden.covers[0].vertices_mm
    tip, other = hidden.pieces[0].vertices_mm[[1, 2]]
    middle = tip + 0.35 * (other - tip)
    assert np.all((middle > corners.min(axis=0)) & (middle < corners.max(axis=0)))
    near = refused_scene("target-too-little")
    places = np.array([[15.0, 90.0], [125.0, 15.0], [125.0, 165.0], [235.0, 90.0]])
    pixels = project(near.camera, near.pose, world_from_sheet(places))
    seen = np.all((pixels > 0) & (pixels < [near.settings.width_px, near.settings.height_px]), axis=1)
    assert seen.tolist() == [True, False, False, False]


def test_a_photo_made_again_is_the_one_in_the_folder() -> None:
    """Rendered anew, the empty window agrees with the stored file to one grey level on average (rounding)."""
    again = as_photo(render(refused_scene("no-offcut")))
    kept = read_photo_file(FOLDER / "refused" / "no-offcut.jpg")
    assert again.stored.shape == kept.stored.shape
    assert np.mean(np.abs(again.stored.astype(int) - kept.stored.astype(int))) < 1.0


def test_module_says_how_it_is_called(capsys: pytest.CaptureFixture[str]) -> None:
    """Without a folder the module prints one line on standard error and ends with 2."""
    assert main([]) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
