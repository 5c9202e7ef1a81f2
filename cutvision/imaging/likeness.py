"""How much every place of the coarse map is like the piece's face: 0 on paper, 1 on the face, whatever the light.

A shadow scales red, green and blue by factors of its own lamp, which lie near one another; wood scales them by its own.
So the logarithms of the colour's ratios, projected on the face's, part wood from shadow far better than any difference
of values does, and the side walls, which are of the same wood in another light, go with the face.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutvision.imaging.masks import eroded, opened, patches
from cutvision.imaging.opencv import cv2
from cutvision.imaging.wood import WoodMap

DARKEST = 0.02
"""Added to every colour, as a share of the paper's, before its logarithm: sensor noise and glare rule below that."""
CORE_CELLS = 6
"""How far inside a mask the face is sure to lie: 2 mm."""
FEWEST_CELLS = 100
SMOOTHED_CELLS = 3


@dataclass(frozen=True, slots=True)
class Likeness:
    """What the places of a map, or along a line, look like.

    face: share of the face's departure from the paper's hue, 0 on paper and 1 on the face; light: logarithm of the
    brightness beside the paper's.
    """

    face: np.ndarray
    light: np.ndarray


def biggest_patch(mask: np.ndarray) -> np.ndarray:
    """(h, w) bool: the largest patch of an opened mask; empty when there is none."""
    found = patches(opened(mask, 2))
    if len(found.areas) == 0:
        return np.zeros(mask.shape, dtype=bool)
    return np.asarray(found.labels == 1 + int(np.argmax(found.areas)))


def core_of(mask: np.ndarray) -> np.ndarray:
    """(h, w) bool: what lies well inside a mask; the mask itself when it is too narrow for that."""
    core = eroded(mask, CORE_CELLS)
    return core if core.sum() >= FEWEST_CELLS else mask


def likeness_to(wood: WoodMap, mask: np.ndarray) -> Likeness:
    """Likeness to the wood in a mask, of which up to half may be a shadow that clings to the piece."""
    colour = np.log(wood.colour.astype(np.float32) + np.float32(DARKEST))
    ratios = np.stack([colour[..., 0] - colour[..., 1], colour[..., 1] - colour[..., 2]], axis=-1)
    inside = ratios[core_of(mask)]
    strength = np.hypot(*inside.T)
    face = np.median(inside[strength >= np.median(strength)], axis=0)
    share = (ratios @ face) / max(float(face @ face), 1e-6)
    smooth = cv2.medianBlur(np.ascontiguousarray(share, dtype=np.float32), SMOOTHED_CELLS)
    return Likeness(np.asarray(smooth), np.log(wood.colour.astype(float).mean(axis=2) + 0.05))
