"""A line that lies where the light changes but not the hue is moved, or its uncertainty widened."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from cutvision.imaging.doubt import Doubt, doubt_of
from cutvision.imaging.photo import Photo
from cutvision.imaging.pose import SheetPose, predicted_view_px

START, END = np.array([60.0, 90.0]), np.array([190.0, 92.0])
"""An edge across the window, the piece below it on the sheet: clockwise round the piece it runs to the right."""
PAPER, FACE = np.array([212.0, 212.0, 210.0]), np.array([196.0, 172.0, 140.0])


def edge_photo(photo: Photo, pose: SheetPose, strip_px: float = 0.0, lean_px: float = 0.0) -> Photo:
    """A photo of one straight edge of wood on paper; above it a strip of neutral shadow whose far rim may lean.

    Blurred by 0.7 px in light and by 1.6 px more in chroma, as mosaic and file do.
    """
    ends = predicted_view_px(pose, np.array([START, END]))
    along = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
    y, x = np.mgrid[0 : photo.height_px, 0 : photo.width_px].astype(np.float32)
    outward = (x - ends[0, 0]) * along[1] - (y - ends[0, 1]) * along[0]
    share = ((x - ends[0, 0]) * along[0] + (y - ends[0, 1]) * along[1]) / np.hypot(*(ends[1] - ends[0]))
    picture = np.where((outward > 0)[..., None], PAPER, FACE)
    shaded = (outward > 0) & (outward < strip_px + lean_px * (share - 0.5))
    picture = np.where(shaded[..., None], 0.5 * PAPER, picture).astype(np.float32)
    sharp = cv2.GaussianBlur(picture, (0, 0), 0.7)
    chroma = cv2.cvtColor(cv2.GaussianBlur(picture, (0, 0), 1.75).astype(np.uint8), cv2.COLOR_RGB2YCrCb)
    both = cv2.cvtColor(sharp.astype(np.uint8), cv2.COLOR_RGB2YCrCb)
    both[..., 1:] = chroma[..., 1:]
    return replace(photo, stored=cv2.cvtColor(both, cv2.COLOR_YCrCb2RGB))


def doubt(photo: Photo, pose: SheetPose, away_px: float = 0.0) -> tuple[Doubt | None, float]:
    """The doubt of a line so far outward of the true edge, and pixels per mm."""
    ends = predicted_view_px(pose, np.array([START, END, START + np.array([0.0, 1.0])]))
    scale = float(np.hypot(*(ends[2] - ends[0])))
    direction = (END - START) / np.hypot(*(END - START))
    outward = away_px / scale * np.array([direction[1], -direction[0]])
    return doubt_of(photo, pose, START + outward, END + outward), scale


def test_a_true_edge_is_not_doubted(photo: Photo, fitted: SheetPose) -> None:
    """A line on the edge, with no strip beside it, is left alone."""
    assert doubt(edge_photo(photo, fitted), fitted)[0] is None


def test_a_shadow_s_far_rim_is_left_for_the_edge(photo: Photo, fitted: SheetPose) -> None:
    """A line on the far rim of a dark strip 2.5 px wide goes back to the edge, to 0.5 px."""
    found, scale = doubt(edge_photo(photo, fitted, strip_px=2.5), fitted, away_px=2.5)
    assert found is not None
    assert found.shift_mm * scale == pytest.approx(-2.5, abs=0.5)
    assert found.turn == 0
    assert found.u_shift_mm * scale == pytest.approx(0.4, abs=0.1)


def test_a_line_beside_the_hue_s_step_is_less_sure(photo: Photo, fitted: SheetPose) -> None:
    """Without a strip a line 2 px off stays, and its uncertainty holds the place where the hue changes."""
    found, scale = doubt(edge_photo(photo, fitted), fitted, away_px=2.0)
    assert found is not None
    assert found.shift_mm == 0
    assert 2 * found.u_shift_mm * scale > 2.0


def test_a_line_that_crosses_the_edge_is_turned(photo: Photo, fitted: SheetPose) -> None:
    """A line that runs from 2 px within the edge to 2 px beyond it is turned back, to a px from end to end."""
    ends = predicted_view_px(fitted, np.array([START, START + np.array([0.0, 1.0])]))
    scale = float(np.hypot(*(ends[1] - ends[0])))
    lean = np.array([0.0, 2.0 / scale])
    found = doubt_of(edge_photo(photo, fitted), fitted, START + lean, END - lean)
    assert found is not None
    assert found.turn * scale * np.hypot(*(END - START)) == pytest.approx(-4.0, abs=1.0)


def test_grey_wood_cannot_be_doubted(photo: Photo, fitted: SheetPose) -> None:
    """Where paper and piece have one hue, nothing can be told and the line is left alone."""
    grey = np.repeat(cv2.cvtColor(edge_photo(photo, fitted).stored, cv2.COLOR_RGB2GRAY)[..., None], 3, axis=2)
    assert doubt(replace(photo, stored=grey), fitted, away_px=2.0)[0] is None
