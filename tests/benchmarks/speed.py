"""Seconds that each stage of a measurement takes.

python tests/benchmarks/speed.py PHOTO [--shape miter] [--times 3]
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from cutvision.imaging.locate import locate_sheet
from cutvision.imaging.offcut import look_at
from cutvision.imaging.outline import find_outline
from cutvision.imaging.photo import read_photo_file
from cutvision.imaging.pose import fit_pose, prior_from_photo
from cutvision.imaging.sharpness import measure_optics
from cutvision.imaging.wood import map_wood
from cutvision.measurement.pipeline import measure
from cutvision.measurement.request import MeasureRequest


def main() -> None:
    """Time the stages and print the best of some runs."""
    parser = argparse.ArgumentParser(description="Seconds that each stage of a measurement takes.")
    parser.add_argument("photo", type=Path)
    parser.add_argument("--shape", default="miter")
    parser.add_argument("--thickness-mm", type=float, default=19.0)
    parser.add_argument("--times", type=int, default=3)
    options = parser.parse_args()

    def timed(name: str, stage: Callable[[], Any]) -> Any:
        seconds = []
        for _ in range(options.times):
            start = time.perf_counter()
            result = stage()
            seconds.append(time.perf_counter() - start)
        sys.stdout.write(f"{name:28}{min(seconds):8.2f} s\n")
        return result

    def quiet(_: str) -> None:
        pass

    photo = timed("read the file", lambda: read_photo_file(options.photo))
    sighting = timed("find the sheet", lambda: locate_sheet(photo))
    prior = prior_from_photo(photo)
    pose = timed("fit the camera", lambda: fit_pose(sighting, prior))
    timed("measure blur and tone", lambda: measure_optics(photo, pose))
    wood = timed("map the wood", lambda: map_wood(photo, pose))
    timed("find the outline", lambda: find_outline(pose.sheet, wood, options.shape))
    timed("all of the photo", lambda: look_at(photo, options.shape, options.thickness_mm, prior, quiet))
    request = MeasureRequest(options.shape, options.thickness_mm)
    timed("the whole measurement", lambda: measure([photo], request, quiet))


if __name__ == "__main__":
    main()
