"""How accurate measurements of rendered photos are, and whether their bounds hold the truth as often as they say.

    python tests/benchmarks/accuracy.py 200 [--megapixels 8] [--first-seed 0] [--jobs 2] [--json FILE] [--worst 10]

Scenes are drawn at random as shops and phones would make them; every scene's truth is known. A photo that is refused is
counted and not scored.
"""

from __future__ import annotations

import argparse
import json
import math
import multiprocessing
import os
import sys
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")  # before numpy is loaded: photos are spread over processes instead
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

sys.path.insert(0, str(Path(__file__).parents[1]))  # the renderer, `simulation`

import numpy as np

from cutvision.errors import PhotoRefused
from cutvision.measurement.pipeline import measure
from cutvision.measurement.request import MeasureRequest
from cutvision.measurement.result import Shape
from simulation.photo_file import as_photo
from simulation.random_scenes import Wishes, random_scene
from simulation.render import render

SHAPES: tuple[Shape, ...] = ("miter", "miter", "strip", "corner", "board")
"""Drawn in turn: miters are what most photos show."""


@dataclass(frozen=True, slots=True)
class Row:
    """One quantity of one photo: error and bound in deg or mm."""

    seed: int
    shape: str
    quantity: str
    unit: str
    error: float
    bound: float


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one rendered photo gave: rows, or the reason of its refusal; seconds for measuring alone."""

    seed: int
    shape: str
    rows: tuple[Row, ...]
    refused: str
    seconds: float


def outcome(seed: int, megapixels: float | None) -> Outcome:
    """Render the scene of a seed and measure its photo."""
    shape = SHAPES[seed % len(SHAPES)]
    scene = random_scene(np.random.default_rng(seed), shape, Wishes(megapixels=megapixels))
    rendered = render(scene)
    photo = as_photo(rendered, f"seed {seed}")
    start = time.perf_counter()
    try:
        measured = measure([photo], MeasureRequest(shape, scene.pieces[0].thickness_mm), lambda _: None)
    except PhotoRefused as refusal:
        return Outcome(seed, shape, (), refusal.reason, time.perf_counter() - start)
    seconds = time.perf_counter() - start
    rows = []
    for name, quantity in measured.quantities.items():
        unit, factor = ("mm", 1.0) if quantity.unit == "mm" else ("deg", math.degrees(1.0))
        error = quantity.value * factor - rendered.truth[name]
        rows.append(Row(seed, shape, name, unit, error, quantity.expanded_uncertainty * factor))
    return Outcome(seed, shape, tuple(rows), "", seconds)


def outcomes(count: int, first_seed: int, megapixels: float | None, jobs: int) -> list[Outcome]:
    """Many photos, spread over processes, in the seeds' order."""
    seeds = range(first_seed, first_seed + count)
    with multiprocessing.get_context("spawn").Pool(jobs) as pool:
        return list(pool.imap(partial(outcome, megapixels=megapixels), seeds))


def table(rows: Sequence[Row]) -> Iterable[str]:
    """A line a kind of quantity: bias, scatter, and how often the bound holds the truth."""
    yield f"{'':22}{'n':>5}{'bias':>10}{'rms':>10}{'median':>10}{'95 %':>10}{'worst':>10}{'bound':>10}{'held':>8}"
    for unit, what in (("deg", "angles"), ("mm", "lengths")):
        kinds = {"all " + what: [r for r in rows if r.unit == unit]}
        kinds |= {f"{s} {q}": [] for s, q in dict.fromkeys((r.shape, r.quantity) for r in kinds["all " + what])}
        for row in kinds["all " + what]:
            kinds[f"{row.shape} {row.quantity}"].append(row)
        for name, chosen in kinds.items():
            if chosen:
                error, bound = (np.array([getattr(r, key) for r in chosen]) for key in ("error", "bound"))
                size = np.abs(error)
                figures = (error.mean(), math.sqrt((error**2).mean()), np.median(size), np.quantile(size, 0.95))
                told = "".join(f"{v:10.4f}" for v in (*figures, size.max(), np.median(bound)))
                yield f"{name + ', ' + unit:22}{len(chosen):5}{told}{100 * (size <= bound).mean():7.1f}%"


def main() -> None:
    """Run the study and print it."""
    parser = argparse.ArgumentParser(description="How accurate measurements of rendered photos are.")
    parser.add_argument("count", type=int, help="how many photos")
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--megapixels", type=float, help="of every photo; otherwise 2 to 12 as phones have them")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--json", type=Path, help="file for the outcome of every photo")
    parser.add_argument("--worst", type=int, default=0, help="how many of the worst errors over bound to name")
    options = parser.parse_args()
    found = outcomes(options.count, options.first_seed, options.megapixels, options.jobs)
    if options.json:
        options.json.write_text(json.dumps([asdict(o) for o in found]), "utf-8")
    rows = [row for o in found for row in o.rows]
    seconds = [o.seconds for o in found if not o.refused]
    lines = [*table(rows)] if rows else []
    lines.append(f"{len(seconds)} of {len(found)} photos measured, {np.median(seconds or [0]):.1f} s a photo (median)")
    lines.extend(
        f"refused, {reason}: {count}" for reason, count in Counter(o.refused for o in found if o.refused).items()
    )
    worst = sorted(rows, key=lambda r: -abs(r.error) / r.bound)[: options.worst]
    lines.extend(
        f"seed {row.seed}: {row.shape} {row.quantity} {row.error:+.4f} {row.unit}, "
        f"{abs(row.error) / row.bound:.1f} times its bound"
        for row in worst
    )
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
