"""One small photo for each reason to refuse a photo that can be decoded.

From the folder `tests`, `python -m simulation.refused_scenes FOLDER` writes them as FOLDER/REASON.jpg.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from cutvision.target.sheet import SHEETS
from simulation.photo_file import write_jpeg
from simulation.pieces import board_outline, miter_outline, turned
from simulation.pose import phone_camera, pose_over
from simulation.render import render
from simulation.scene import Ambient, Bench, Light, PhotoSettings, Piece, Point, Scene

_WIDTH, _HEIGHT, _FOCAL_35MM = 1632, 1224, 26.0


def _miter(species: str, cut_mm: float, middle: Point, turn_rad: float = 0.05) -> Piece:
    outline = miter_outline(cut_mm, math.radians(44.9), math.radians(45.1))
    return Piece(turned(outline, turn_rad, middle), 18.0, species, turn_rad, 0.02, 1.0, seed=11)


def good_scene(scale: int = 1) -> Scene:
    """A photo that nothing is wrong with; every refused one is made from it. scale: pixels for each of its own."""
    width, height = _WIDTH * scale, _HEIGHT * scale
    return Scene(
        SHEETS["a4"],
        phone_camera(width, height, _FOCAL_35MM, k1=0.02, k2=-0.015),
        pose_over((125.0, 92.0), 315.0, math.radians(7), math.radians(65), math.radians(-4)),
        PhotoSettings(width, height, blur_px=0.6, denoise=0.6, quality=84, focal_35mm=_FOCAL_35MM),
        pieces=(_miter("cherry", 108.0, (126.0, 94.0)),),
        lights=(Light(-500.0, -350.0, 1100.0, 220.0, 0.5, (0.95, 1.0, 1.07)),),
        ambient=Ambient(0.5, gradient_x=0.04),
        bench=Bench("walnut", turn_rad=0.08),
        dust=0.2,
        glare=0.1,
        seed=21,
    )


def _no_target() -> Scene:
    return replace(good_scene(), sheet_shown=False)


def _target_too_little() -> Scene:
    """The phone held so near that it shows squares on the left side only."""
    pose = pose_over((82.0, 92.0), 112.0, math.radians(4), 0.5, 0.03)
    return replace(good_scene(), pose=pose, pieces=(_miter("cherry", 74.0, (102.0, 94.0)),))


def _blurred() -> Scene:
    """Out of focus, but not so far that the sheet's squares cannot be read: it takes a larger photo."""
    scene = good_scene(scale=2)
    settings = replace(scene.settings, blur_px=3.0, full_well=12000.0, denoise=1.0, quality=66)
    return replace(scene, settings=settings)


def _no_offcut() -> Scene:
    return replace(good_scene(), pieces=())


def _several_offcuts() -> Scene:
    pieces = (_miter("cherry", 80.0, (82.0, 100.0)), replace(_miter("cherry", 76.0, (172.0, 88.0), 0.6), seed=12))
    return replace(good_scene(), pieces=pieces)


def _wrong_shape() -> Scene:
    outline = board_outline(82.0, 58.0, (math.radians(90.1), math.radians(89.9), math.radians(90.0)))
    return replace(
        good_scene(), pieces=(Piece(turned(outline, 0.2, (125.0, 92.0)), 18.0, "cherry", 0.2, 0.02, seed=11),)
    )


def _offcut_hidden() -> Scene:
    """A steel rule lies over half of the cut."""
    rule = turned(((0.0, 0.0), (74.0, 0.0), (74.0, 26.0), (0.0, 26.0)), 0.1, (146.0, 112.0))
    return replace(good_scene(), covers=(Piece(rule, 1.2, "steel", 0.1, base_mm=18.02, seed=13),))


def _overexposed() -> Scene:
    """Paper and wood both burnt out; in a larger photo, so that the squares can still be read."""
    scene = good_scene(scale=2)
    return replace(
        scene,
        pieces=(_miter("maple", 108.0, (126.0, 94.0)),),
        bench=Bench("painted", (0.05, 0.05, 0.06)),
        settings=replace(scene.settings, level=3.4, full_well=12000.0, denoise=1.0, quality=66),
    )


REFUSED: dict[str, Callable[[], Scene]] = {
    "no-target": _no_target,
    "target-too-little": _target_too_little,
    "blurred": _blurred,
    "no-offcut": _no_offcut,
    "several-offcuts": _several_offcuts,
    "wrong-shape": _wrong_shape,
    "offcut-hidden": _offcut_hidden,
    "overexposed": _overexposed,
}


def refused_scene(reason: str) -> Scene:
    """A scene to be refused for `reason` when measured as a miter.

    Raises KeyError for a reason that no scene stands for (`unreadable` is a matter of the file).
    """
    return REFUSED[reason]()


def main(arguments: Sequence[str]) -> int:
    """Write each photo to the folder named; 2 when none is named. Raises OSError."""
    if len(arguments) != 1:
        sys.stderr.write("say where: python -m simulation.refused_scenes FOLDER\n")
        return 2
    for reason in REFUSED:
        write_jpeg(render(refused_scene(reason)), Path(arguments[0]) / f"{reason}.jpg")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
