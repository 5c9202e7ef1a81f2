"""Which patches of the coarse map are things that lie on the paper: their rims are sharp all round.

A lamp's colour that changes over the paper, a shadow, ink and dust make patches too, but no rim of another hue.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutvision.imaging.likeness import DARKEST
from cutvision.imaging.masks import eroded, filled, grown, opened, patches
from cutvision.imaging.opencv import cv2
from cutvision.imaging.wood import WoodMap
from cutvision.target import Sheet

SMALLEST_PIECE_MM2 = 80.0
SMALLEST_SHARE = 0.04
"""Of the largest piece's area: what is smaller is a crumb or a chip beside it."""
LEAST_STEP, LEAST_CONTRAST = 0.1, 0.08
"""Change of hue over 1 mm in the middle of what a piece's rim shows, and of the middle of a band within the rim against
one beyond it, as logarithms of ratios: 0.21 and 0.15 at the least for pale wood in a shadow of its hue, 0.05 and 0.035
at the most for a lamp's gradient and for dust (rendered photos). Ink and shadow have a step of light alone."""
BAND_CELLS = 4
DEPARTURES = (0.12, 0.2, 0.3)
"""How far a second piece's colour may depart from the paper's, as a logarithm of ratios: pale wood has 0.33."""
CLINGING_MM = 2.0
"""What begins nearer to a piece is its own wall, shadow or splinter."""


@dataclass(frozen=True, slots=True)
class Steps:
    """Where hue and light change.

    hue_step, step: (h, w) change of hue, and of hue and light, over 1 mm, as logarithms.
    fields: (3, h, w) logarithms: red over green, green over blue, and the light, beside the paper's.
    shown: (h, w) bool, what lies inside the picture.
    """

    hue_step: np.ndarray
    step: np.ndarray
    fields: np.ndarray
    shown: np.ndarray
    mm_per_cell: float

    @property
    def departure(self) -> np.ndarray:
        """(h, w) of the colour from the paper's."""
        return np.asarray(np.hypot(self.fields[0], self.fields[1]))


def steps_of(wood: WoodMap) -> Steps:
    """Where colour or light change within a millimetre."""
    red, green, blue = np.moveaxis(np.log(wood.colour.astype(np.float32) + np.float32(DARKEST)), -1, 0)
    warm, cool = red - green, green - blue
    light = np.log(wood.colour.astype(np.float32).mean(axis=2) + np.float32(DARKEST))
    hue, rest = (_steepness(fields) for fields in ((warm, cool), (light,)))
    reach = np.ones((3, 3), np.uint8)
    hue_step, step = (cv2.dilate(np.sqrt(s) / wood.mm_per_cell, reach) for s in (hue, hue + rest))
    return Steps(np.asarray(hue_step), np.asarray(step), np.stack([warm, cool, light]), wood.shown, wood.mm_per_cell)


def _steepness(fields: tuple[np.ndarray, ...]) -> np.ndarray:
    """(h, w) sum of the squared slopes of fields (h, w) from cell to cell."""
    slopes = [cv2.Sobel(field, cv2.CV_32F, *along, ksize=3) / 8 for field in fields for along in ((1, 0), (0, 1))]
    return np.asarray(sum(slope * slope for slope in slopes))


def things_in(mask: np.ndarray, steps: Steps) -> list[np.ndarray]:
    """(h, w) bool each: the patches of a mask that lie on the paper as things do, the largest first."""
    found = patches(opened(mask, 2))
    areas = found.areas * steps.mm_per_cell**2
    order = [int(k) for k in np.argsort(areas)[::-1] if areas[k] >= SMALLEST_PIECE_MM2]
    things = [found.labels == k + 1 for k in order]
    things = [thing for thing in things if _stands_out(thing, steps)]
    if not things:
        return []
    least = SMALLEST_SHARE * things[0].sum()
    return [thing for thing in things if thing.sum() >= least]


def _stands_out(thing: np.ndarray, steps: Steps) -> bool:
    """Whether a patch has a rim of sharp hue and another hue within it than beyond it, as far as the rim shows."""
    rim = grown(thing, 1) & ~eroded(thing, 1) & steps.shown
    if not rim.any() or np.median(steps.hue_step[rim]) < LEAST_STEP:
        return False
    within = eroded(thing, 1) & ~eroded(thing, 1 + BAND_CELLS) & steps.shown
    beyond = grown(thing, 1 + BAND_CELLS) & ~grown(thing, 1) & steps.shown
    if not within.any() or not beyond.any():
        return True
    contrast = [np.median(field[within]) - np.median(field[beyond]) for field in steps.fields[:2]]
    return bool(np.hypot(*contrast) >= LEAST_CONTRAST)


def second_piece(sheet: Sheet, piece: np.ndarray, steps: Steps) -> np.ndarray | None:
    """(h, w) bool: another thing of wood's colour in the window, well apart from the piece; None when it is alone."""
    left, top, right, bottom = (round(v / steps.mm_per_cell) for v in sheet.window_mm)
    window = np.zeros(piece.shape, dtype=bool)
    window[top:bottom, left:right] = True
    near = grown(filled(piece), round(CLINGING_MM / steps.mm_per_cell))
    least = max(SMALLEST_PIECE_MM2 / steps.mm_per_cell**2, SMALLEST_SHARE * piece.sum())
    for departure in DEPARTURES:
        for thing in things_in((steps.departure > departure) & window, steps):
            if not (thing & near).any() and thing.sum() >= least:
                return thing
    return None
