"""How long measuring takes beside its floor: reading the photo by OpenCV and one detection of all codes at full size.

    python tests/benchmarks/speed.py PHOTO [SECOND ...] [--shape miter] [--thickness-mm 19] [--times 5] [--stages]

Floor and measurement take turns in one run, so that what else the computer does falls on both alike; told are the
medians and the median of their ratios, in seconds by the clock and of the processor. The command is set against a bare
script that loads cv2 and does what the floor does, and its peak of memory is told. Without a second photo of the piece
no pair is timed.
"""

from __future__ import annotations

import argparse
import math
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2

from cutvision.imaging.locate import locate_sheet
from cutvision.imaging.outline import find_outline
from cutvision.imaging.photo import read_photo_file
from cutvision.imaging.pose import fit_pose, prior_from_photo
from cutvision.imaging.sharpness import measure_optics
from cutvision.imaging.wood import map_wood
from cutvision.measurement.pipeline import measure
from cutvision.measurement.request import MeasureRequest

FLOOR = """
import sys
import cv2
detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000))
for name in sys.argv[1:]:
    detector.detectMarkers(cv2.imread(name))
"""


LAUNCHER = """
import resource, subprocess, sys, time
start = time.perf_counter()
subprocess.run(sys.argv[1:], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(time.perf_counter() - start, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)
"""


@dataclass(frozen=True)
class Taken:
    """Seconds by the clock and of the processor; peak_mib: of a process of its own, else nan."""

    wall_s: float
    cpu_s: float
    peak_mib: float = float("nan")


def here(work: Callable[[], Any]) -> Taken:
    """What a call takes in this process."""
    start, spent = time.perf_counter(), time.process_time()
    work()
    return Taken(time.perf_counter() - start, time.process_time() - spent)


def apart(arguments: list[str]) -> Taken:
    """What a process takes, started by a small one: of a large one the memory would be counted as the new one's."""
    told = subprocess.run([sys.executable, "-c", LAUNCHER, *arguments], check=True, capture_output=True, text=True)
    return Taken(*(float(figure) for figure in told.stdout.split()))


def compare(name: str, floor: Callable[[], Taken], ours: Callable[[], Taken], times: int) -> None:
    """Let both take turns and print the medians, the median ratios and the peaks of memory."""
    pairs = [(floor(), ours()) for _ in range(times)]

    def median(of: Callable[[tuple[Taken, Taken]], float]) -> float:
        return statistics.median(of(pair) for pair in pairs)

    line = (
        f"{name:24} floor {median(lambda p: p[0].wall_s):6.2f} s   ours {median(lambda p: p[1].wall_s):6.2f} s   "
        f"ratio {median(lambda p: p[1].wall_s / p[0].wall_s):5.2f}   of the processor "
        f"{median(lambda p: p[1].cpu_s / p[0].cpu_s):5.2f}"
    )
    peak = median(lambda p: p[1].peak_mib)
    sys.stdout.write(line + ("\n" if math.isnan(peak) else f"   peak {peak:.0f} MiB\n"))


def main() -> None:
    """Time one photo, a pair and the command against their floors and, when asked, each stage."""
    parser = argparse.ArgumentParser(description="How long measuring takes beside its floor.")
    parser.add_argument("photos", type=Path, nargs="+")
    parser.add_argument("--shape", default="miter")
    parser.add_argument("--thickness-mm", type=float, default=19.0)
    parser.add_argument("--times", type=int, default=5)
    parser.add_argument("--stages", action="store_true")
    options = parser.parse_args()
    request = MeasureRequest(options.shape, options.thickness_mm)
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000))

    def floor(paths: list[Path]) -> None:
        for path in paths:
            detector.detectMarkers(cv2.imread(str(path)))

    def ours(paths: list[Path]) -> None:
        measure([read_photo_file(path) for path in paths], request, quiet)

    for count in sorted({1, len(options.photos)}):
        paths = options.photos[:count]
        names = [str(path) for path in paths]
        ours(paths)  # what is loaded on first use is the command's business
        what = "one photo" if count == 1 else f"{count} photos"
        compare(
            f"{what}, library",
            lambda p=paths: here(lambda: floor(p)),
            lambda p=paths: here(lambda: ours(p)),
            options.times,
        )
        said = ["--shape", options.shape, "--thickness", f"{options.thickness_mm}mm", "--json"]
        bare = [sys.executable, "-c", FLOOR, *names]
        command = [sys.executable, "-m", "cutvision", "measure", *names, *said]
        compare(f"{what}, command", lambda a=bare: apart(a), lambda a=command: apart(a), options.times)
    if options.stages:
        stages(options.photos[0], options.shape, options.times)


def quiet(_: str) -> None:
    """Nobody watches the progress."""


def stages(path: Path, shape: str, times: int) -> None:
    """Print the processor's seconds for each stage, the median of some runs."""

    def timed(name: str, stage: Callable[[], Any]) -> Any:
        taken = [here(stage).cpu_s for _ in range(times)]
        sys.stdout.write(f"{name:24}{statistics.median(taken):8.3f} s\n")
        return stage()

    photo = timed("read the file", lambda: read_photo_file(path))
    sighting = timed("find the sheet", lambda: locate_sheet(photo))
    prior = prior_from_photo(photo)
    pose = timed("fit the camera", lambda: fit_pose(sighting, prior))
    timed("measure blur and tone", lambda: measure_optics(photo, pose))
    wood = timed("map the wood", lambda: map_wood(photo, pose))
    timed("find the outline", lambda: find_outline(pose.sheet, wood, shape))


if __name__ == "__main__":
    main()
