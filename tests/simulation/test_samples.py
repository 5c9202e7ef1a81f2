"""The sample photos that our renderer makes, and what stands beside them."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from cutvision.errors import REFUSALS
from cutvision.imaging.camera import project, world_from_sheet
from cutvision.imaging.photo import read_photo_file
from simulation.photo_file import as_photo
from simulation.refused_scenes import REFUSED, good_scene, refused_scene
from simulation.render import render
from simulation.samples import MADE_BY, expected_entries, main, samples
from simulation.truth import true_quantities

FOLDER = Path(__file__).parents[2] / "sample_images"
SAMPLE_BYTES, REFUSED_BYTES, FOLDER_BYTES = 1_200_000, 300_000, 12_000_000


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


def test_photos_of_one_piece_have_one_truth() -> None:
    """Every photo of a sample shows the same quantities, however the piece lies."""
    for sample in samples():
        truths = [true_quantities(scene) for scene in sample.scenes.values()]
        for truth in truths[1:]:
            assert truth == pytest.approx(truths[0], abs=1e-6)


def test_listing_holds_what_the_renderer_says() -> None:
    """`expected.json` beside the photos is what the module would write; every photo it names is there and small."""
    content = json.loads((FOLDER / "expected.json").read_text("utf-8"))
    assert [entry for entry in content["photos"] if entry.get("made_by") == MADE_BY] == expected_entries()
    for entry in content["photos"]:
        for name in entry["photos"]:
            limit = REFUSED_BYTES if name.startswith("refused/") else SAMPLE_BYTES
            assert 0 < (FOLDER / name).stat().st_size <= limit
    assert sum(path.stat().st_size for path in FOLDER.rglob("*") if path.is_file()) <= FOLDER_BYTES


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
