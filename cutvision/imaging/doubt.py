"""Whether an edge's line lies where the hue changes: a step of light alone may be a shadow's, pencil's or burn's.

Wood differs from paper in hue, in the sun and in the shade. So along the whole edge the middle of the hue's step tells
which step of the light is the piece's: hue is blurred by mosaic and file, but over a hundred millimetres its middle is
good to 0.4 px (rendered photos, 92 edges without a wall).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cutvision.imaging.photo import Photo
from cutvision.imaging.pose import SheetPose
from cutvision.imaging.profiles import Profiles, profiles_across

LEVEL_PX = (5.0, 8.0)
"""Where beside the line the levels of paper and face are read."""
LEAST_HUE_STEP = 8.0
"""In stored values of both chroma channels together: less has no middle that could be found."""
PARTS = 4
STRIP_REACH_PX = 4.0
LEAST_DIP, LEAST_DIP_SHARE = 8.0, 0.5
"""A dark strip between paper and face: darker than both by so many stored values and by so much of their difference,
past what sharpening does beside a step (a third of it at the most)."""
STRIP_PX, STRAY_PX = 0.7, 1.25
"""How far the hue's middle may lie from the line, with a dark strip there and without: 0.7 px holds nine of ten edges
that are right, 1.25 px nearly all; lateral colour is within it."""
TURNED_PX = 1.3
"""From end to end, between the hue's middle in four parts of the edge and the line: 1.1 at the most beside edges that
are right (rendered photos)."""
MIDDLE_PX, U_TURN_PX = 0.4, 0.6
"""Standard uncertainties of the hue's middle, and of its change from end to end by four parts of the edge."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """What an edge's line needs.

    shift_mm, turn: how far outward it is to be moved, and by what its slope is to change. u_shift_mm, u_turn: standard
    uncertainties to add to its own.
    """

    shift_mm: float
    turn: float
    u_shift_mm: float
    u_turn: float


def doubt_of(photo: Photo, pose: SheetPose, start_mm: np.ndarray, end_mm: np.ndarray) -> Doubt | None:
    """The doubt of a line on the paper, clockwise round the piece, that shows no side wall; None when there is none."""
    profiles = profiles_across(photo, pose, start_mm, end_mm, 0.0)
    middle = _hue_middle(profiles.values, profiles)
    if math.isnan(middle):
        return None
    scale = float(profiles.scales.mean())
    length = float(np.hypot(*(end_mm - start_mm)))
    parts = np.array([_hue_middle(part, profiles) for part in np.array_split(profiles.values, PARTS)])
    at = (np.arange(PARTS) + 0.5) / PARTS - 0.5
    good = np.isfinite(parts)
    turn_px = float(np.polyfit(at[good], parts[good], 1)[0]) if good.sum() >= PARTS - 1 else 0.0
    turn = turn_px / scale / length
    if abs(turn_px) > TURNED_PX:
        # the step of light that was followed crosses the edge
        u_turn = math.hypot(U_TURN_PX / scale / length, turn / math.sqrt(3))
        return Doubt(middle / scale, turn, MIDDLE_PX / scale, u_turn)
    if _dark_strip(profiles) and abs(middle) > STRIP_PX:
        return Doubt(middle / scale, 0.0, MIDDLE_PX / scale, abs(turn) / math.sqrt(3))
    if abs(middle) > STRAY_PX:
        # the line and the hue's middle are both possible: a rectangle holds them
        return Doubt(0.0, 0.0, abs(middle) / scale / math.sqrt(3), abs(turn) / math.sqrt(3))
    return None


def _levels(median: np.ndarray, offsets: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(3,) luma and chroma of the paper and of the face beside the line, from the median profile (n, 3)."""
    near, far = LEVEL_PX
    return (
        np.median(median[(offsets >= near) & (offsets <= far)], axis=0),
        np.median(median[(offsets <= -near) & (offsets >= -far)], axis=0),
    )


def _hue_middle(values: np.ndarray, profiles: Profiles) -> float:
    """Offset, px outward of the line, at which the hue of profiles (B, n, 3) is half-way; nan without a clear step."""
    median, offsets = np.median(values, axis=0), profiles.offsets_px
    paper, face = _levels(median, offsets)
    step = (face - paper)[1:]
    height = float(np.hypot(*step))
    if height < LEAST_HUE_STEP:
        return math.nan
    chosen = np.abs(offsets) <= LEVEL_PX[1]
    share = (median[chosen, 1:] - paper[1:]) @ step / height**2
    woody = np.flatnonzero(share > 0.5)
    if len(woody) == 0 or woody[-1] == len(share) - 1:
        return math.nan
    last = int(woody[-1])
    beyond = (share[last] - 0.5) / (share[last] - share[last + 1])
    return float(offsets[chosen][last] + beyond)


def _dark_strip(profiles: Profiles) -> bool:
    """Whether a strip darker than paper and face lies between them."""
    median, offsets = np.median(profiles.values, axis=0), profiles.offsets_px
    paper, face = _levels(median, offsets)
    darkest = float(median[np.abs(offsets) <= STRIP_REACH_PX, 0].min())
    dip = min(paper[0], face[0]) - darkest
    return bool(dip > max(LEAST_DIP, LEAST_DIP_SHARE * abs(paper[0] - face[0])))
