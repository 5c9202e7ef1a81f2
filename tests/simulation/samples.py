"""The sample photos of an invented workshop, with what a perfect instrument would read on each.

Run `python -m simulation.samples OUT_DIR` to make them again.
"""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from cutvision.target.sheet import SHEETS
from simulation.photo_file import write_jpeg
from simulation.pieces import miter_outline, strip_outline, turned
from simulation.pose import phone_camera, pose_over
from simulation.refused_scenes import REFUSED, refused_scene
from simulation.render import render
from simulation.scene import (
    Ambient,
    Bench,
    BrokenTip,
    Chip,
    Fibre,
    Light,
    PhotoSettings,
    Piece,
    Scene,
    Shape,
    Stretch,
)
from simulation.truth import true_quantities

MADE_BY = "simulation.samples"
_WIDTH, _HEIGHT, _FOCAL_35MM = 3264, 2448, 25.0
# The office printer's stretch, and what the bench maker read on the print with a steel rule.
_STRETCH = Stretch(0.0012, -0.0007, 0.0006)
_PRINT_READ = ("--long-side", "250.2mm", "--short-side", "179.9mm", "--read-to", "0.2mm")


@dataclass(frozen=True, slots=True)
class Sample:
    """Photos of one piece, by file name, and the options that a person would measure it with."""

    shape: Shape
    options: tuple[str, ...]
    scenes: Mapping[str, Scene]


def _phone(seed: int) -> Scene:
    """The bench maker's phone over the sheet, with nothing on it yet."""
    return Scene(
        SHEETS["a4"],
        phone_camera(_WIDTH, _HEIGHT, _FOCAL_35MM, k1=0.031, k2=-0.022, p1=1e-4, p2=-2e-4, centre_x_px=1641.0),
        pose_over((125.0, 90.0), 320.0, 0.1, 0.0, 0.0),
        PhotoSettings(
            _WIDTH,
            _HEIGHT,
            blur_px=0.62,
            motion_px=(0.2, -0.1),
            level=0.68,
            tint=(1.03, 1.0, 0.95),
            s_curve=0.11,
            exponent=0.985,
            denoise=0.55,
            sharpen=0.3,
            quality=88,
            focal_35mm=_FOCAL_35MM,
        ),
        stretch=_STRETCH,
        ambient=Ambient(0.42, (1.0, 1.0, 1.02), 0.05, -0.03),
        bench=Bench("pine", turn_rad=0.12),
        ink_blur_mm=0.018,
        dust=0.4,
        glare=0.12,
        seed=seed,
    )


def _miter() -> Sample:
    """An ash offcut from a seat frame's corner: the fence stands clockwise of true by about 0.12 deg."""
    outline = miter_outline(106.0, math.radians(44.93), math.radians(45.12))
    piece = Piece(
        turned(outline, 0.04, (124.0, 96.0)),
        21.0,
        "ash",
        math.radians(48.0),
        0.018,
        1.1,
        chips=(Chip(1, 31.0, 2.5, 0.35), Chip(1, 88.0, 1.5, 0.2)),
        fibres=(Fibre(1, 64.0, 0.25, 0.6), Fibre(2, 20.0, 0.2, 0.4)),
        broken_tips=(BrokenTip(2, 0.5, 0.2),),
        seed=501,
    )
    window = Light(-620.0, -420.0, 1250.0, 260.0, 0.58, (0.96, 1.0, 1.06))
    first = replace(
        _phone(502),
        pieces=(piece,),
        lights=(window,),
        pose=pose_over((125.0, 91.0), 318.0, math.radians(6.5), math.radians(80), math.radians(3)),
    )
    again = replace(piece, polygon=turned(piece.polygon, math.pi / 2, (118.0, 92.0)), grain_rad=math.radians(138.0))
    second = replace(
        first,
        pieces=(again,),
        pose=pose_over((124.0, 90.0), 309.0, math.radians(5.0), math.radians(130), math.radians(-2)),
        settings=replace(first.settings, orientation=3),
        seed=503,
    )
    options = ("--thickness", "21mm", "--fence-length", "420mm", "--kept", "left")
    return Sample("miter", options, {"bench-miter-1.jpg": first, "bench-miter-2-turned.jpg": second})


def _strip() -> Sample:
    """The strip sawn off last when the bench maker squared the crosscut sled with a birch plywood board."""
    outline = strip_outline(168.0, 26.0, math.radians(0.11), 0.004)
    piece = Piece(
        turned(outline, -0.03, (125.0, 93.0)),
        18.0,
        "birch-ply",
        0.02,
        0.015,
        0.9,
        chips=(Chip(0, 52.0, 3.0, 0.3), Chip(2, 120.0, 2.0, 0.25)),
        fibres=(Fibre(0, 96.0, 0.25, 0.7),),
        seed=601,
    )
    lamp = Light(420.0, -380.0, 760.0, 55.0, 0.6, (1.06, 1.0, 0.9))
    scene = replace(
        _phone(602),
        shape="strip",
        pieces=(piece,),
        lights=(lamp,),
        ambient=Ambient(0.4, (1.0, 1.0, 1.0), -0.04, 0.02),
        bench=Bench("mat", (0.05, 0.13, 0.10), 0.05),
        pose=pose_over((125.0, 92.0), 322.0, math.radians(5.5), math.radians(250), math.radians(2)),
    )
    options = ("--thickness", "18mm", *_PRINT_READ, "--fence-length", "560mm", "--kept", "left")
    return Sample("strip", options, {"bench-strip.jpg": scene})


def samples() -> tuple[Sample, ...]:
    """The pieces that can be measured."""
    return _miter(), _strip()


def expected_entries() -> list[dict[str, object]]:
    """What stands in `expected.json`, one entry a `measure` call; quantities in deg and mm by the interface's names."""
    entries: list[dict[str, object]] = []
    for sample in samples():
        scenes = list(sample.scenes.values())
        entries.append(
            {
                "photos": list(sample.scenes),
                "shape": sample.shape,
                "options": list(sample.options),
                "truth": {name: round(value, 5) for name, value in true_quantities(scenes[0]).items()},
                "made_by": MADE_BY,
            }
        )
    entries += [
        {"photos": [f"refused/{reason}.jpg"], "shape": "miter", "options": [], "refusal": reason, "made_by": MADE_BY}
        for reason in REFUSED
    ]
    return entries


def write_samples(folder: Path) -> None:
    """Write photos and `expected.json`, in which entries made elsewhere stay. Raises OSError."""
    (folder / "refused").mkdir(parents=True, exist_ok=True)
    scenes = {name: scene for sample in samples() for name, scene in sample.scenes.items()}
    scenes |= {f"refused/{reason}.jpg": refused_scene(reason) for reason in REFUSED}
    for name, scene in scenes.items():
        write_jpeg(render(scene), folder / name)
    listing = folder / "expected.json"
    others = []
    if listing.exists():
        others = [e for e in json.loads(listing.read_text("utf-8"))["photos"] if e.get("made_by") != MADE_BY]
    content = {"schema": "cutvision/samples/1", "photos": [*others, *expected_entries()]}
    listing.write_text(json.dumps(content, indent=2) + "\n", "utf-8")


def main(arguments: Sequence[str]) -> int:
    """Make the samples in the folder named; 2 when none is named."""
    if len(arguments) != 1:
        sys.stderr.write("say where: python -m simulation.samples OUT_DIR\n")
        return 2
    write_samples(Path(arguments[0]))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
