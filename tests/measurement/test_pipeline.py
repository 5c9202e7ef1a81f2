"""Photos measured from end to end: against the truth that rendered them, and every reason to refuse one."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from cutvision.errors import InputError, PhotoRefused, PhotosRefused
from cutvision.imaging.photo import ExifFacts, Photo, read_photo_file
from cutvision.measurement import pipeline
from cutvision.measurement.pipeline import _edge_form, measure
from cutvision.measurement.request import MeasureRequest
from cutvision.measurement.result import Measurement, Shape
from cutvision.measurement.shapes import KINDS
from cutvision.target import SHEETS
from simulation.photo_file import as_photo
from simulation.random_scenes import Wishes, random_scene, turned_scene
from simulation.refused_scenes import good_scene
from simulation.render import render

SAMPLES = Path(__file__).parents[2] / "sample_images"
REFUSED = tuple(
    (sample["photos"][0], sample["shape"], sample["refusal"])
    for sample in json.loads((SAMPLES / "expected.json").read_text("utf-8"))["photos"]
    if "refusal" in sample
)
SEEDS: dict[Shape, int] = {"strip": 11, "corner": 12, "board": 13}


@dataclass(frozen=True)
class Measured:
    """A measurement and what was true, in rad and mm."""

    photos: tuple[Photo, ...]
    measurement: Measurement
    truth: Mapping[str, float]


def quiet(_: str) -> None:
    """Nobody watches the progress."""


def in_rad(shape: Shape, truth: Mapping[str, float]) -> dict[str, float]:
    """The truth in the units inside the code."""
    units = KINDS[shape].units
    return {name: value if units.get(name) == "mm" else math.radians(value) for name, value in truth.items()}


@pytest.fixture(scope="module")
def miters() -> Measured:
    """A miter on one print, photographed twice, the second time turned by a quarter turn."""
    scene = good_scene()
    rng = np.random.default_rng(3)
    scenes = (scene, turned_scene(rng, scene, scene.pieces[0].grain_rad + math.pi / 2, Wishes(rough=False)))
    rendered = [render(s) for s in scenes]
    photos = tuple(as_photo(r, f"photo {k + 1}") for k, r in enumerate(rendered))
    request = MeasureRequest("miter", scene.pieces[0].thickness_mm)
    return Measured(photos, measure(photos, request, quiet), in_rad("miter", rendered[0].truth))


@pytest.fixture(scope="module", params=["strip", "corner", "board"])
def other(request: pytest.FixtureRequest) -> Measured:
    """A piece of another shape, drawn at random, in a two megapixel photo."""
    shape: Shape = request.param
    scene = random_scene(np.random.default_rng(SEEDS[shape]), shape, Wishes(paper="a4", megapixels=2.0))
    rendered = render(scene)
    photo = as_photo(rendered)
    measurement = measure([photo], MeasureRequest(shape, scene.pieces[0].thickness_mm), quiet)
    return Measured((photo,), measurement, in_rad(shape, rendered.truth))


def outside(measured: Measured, quantities: Mapping[str, object] | None = None) -> dict[str, float]:
    """Quantities whose truth lies outside the bound, by how many times the bound."""
    found = measured.measurement.quantities if quantities is None else quantities
    ratios = {
        name: abs(quantity.value - measured.truth[name]) / quantity.expanded_uncertainty
        for name, quantity in found.items()
    }
    return {name: ratio for name, ratio in ratios.items() if ratio > 1}


def test_a_turned_pair_of_photos_holds_the_truth(miters: Measured) -> None:
    """Both photos of a rendered miter, and what they give together, hold the true angles and legs in their bounds."""
    assert set(miters.measurement.quantities) == set(KINDS["miter"].quantities)
    assert outside(miters) == {}
    for photo in miters.measurement.photos:
        assert outside(miters, photo.quantities) == {}


def test_a_turned_pair_knows_more_than_either(miters: Measured) -> None:
    """Together, the split error is surer than in the better photo, for the print's error turns with the sheet."""
    together = miters.measurement.quantities["split_error"].standard_uncertainty
    assert together < min(p.quantities["split_error"].standard_uncertainty for p in miters.measurement.photos)


def test_other_shapes_hold_the_truth(other: Measured) -> None:
    """A strip's, a corner's and a board's true quantities lie in the bounds of one photo."""
    assert set(other.measurement.quantities) == set(KINDS[other.measurement.shape].quantities)
    assert outside(other) == {}


def test_the_evidence_shows_the_photo(miters: Measured) -> None:
    """Each photo's evidence has its edges by name, corners inside the picture, and the frame round them."""
    for photo, evidence in zip(miters.photos, miters.measurement.photos, strict=True):
        assert [edge.name for edge in evidence.edges] == ["right leg", "cut", "left leg"]
        assert set(evidence.corners_px) == {"angle_left", "angle_right", "corner"}
        assert evidence.sha256 == photo.sha256
        low, high = evidence.frame_px.min(axis=0), evidence.frame_px.max(axis=0)
        for corner in evidence.corners_px.values():
            assert (np.array(corner) > low).all()
            assert (np.array(corner) < high).all()
        for edge in evidence.edges:
            # used points lie on the drawn line: between its ends and within two px of it
            start, end = edge.line_px[0], edge.line_px[-1]
            along = (end - start) / np.hypot(*(end - start))
            away = (edge.used_px - start) @ np.array([-along[1], along[0]])
            bow = (edge.line_px - start) @ np.array([-along[1], along[0]])
            assert np.abs(away).max() < 2 + np.abs(bow).max()


def test_corners_in_the_picture_are_where_the_edges_meet(miters: Measured) -> None:
    """The square corner is where both legs' drawn lines, lengthened, meet: to three px (the lens bends them)."""
    for evidence in miters.measurement.photos:
        right, _, left = (edge.line_px for edge in evidence.edges)
        (p, q), (r, s) = right[[0, -1]], left[[0, -1]]
        k = np.linalg.solve(np.column_stack([q - p, r - s]), r - p)[0]
        assert np.hypot(*(p + k * (q - p) - evidence.corners_px["corner"])) < 3


def test_roughness_becomes_edge_form_by_the_formula() -> None:
    """What roughness adds to an angle once it is the fence's is s sqrt(24 c / L^3) of each side, root sum of squares.

    s = 0.03 mm and c = 1 mm over 95 mm make 0.00909419 deg a side (closed form); half of that for each leg and all of
    it for the cut make the split error's.
    """
    side = math.radians(0.00909419)
    line = SimpleNamespace(rms_mm=0.03, correlation_mm=1.0, length_mm=95.0)
    piece = cast("Any", SimpleNamespace(edges=[SimpleNamespace(line=line)] * 3))
    for count in (1, 4):  # photos of one piece: it does not average down
        form = _edge_form("miter", [piece] * count)
        assert form["corner"] == pytest.approx(side * math.sqrt(2), rel=1e-6)
        assert form["split_error"] == pytest.approx(side * math.sqrt(1.5), rel=1e-6)


def test_unknown_thickness_widens_lengths_only(miters: Measured) -> None:
    """Without the thickness the angles have the bounds they had, lengths much wider ones, and a note says so."""
    known = miters.measurement.photos[0].quantities
    unknown = measure(miters.photos[:1], MeasureRequest("miter"), quiet)
    assert unknown.quantities["leg_left"].expanded_uncertainty > 3 * known["leg_left"].expanded_uncertainty
    assert unknown.quantities["angle_left"].expanded_uncertainty == pytest.approx(
        known["angle_left"].expanded_uncertainty, rel=0.2
    )
    assert [note.name for note in unknown.notes] == ["print-scale-assumed", "thickness-unknown"]
    assert [note.name for note in miters.measurement.notes] == ["print-scale-assumed"]


@pytest.mark.parametrize(("name", "shape", "reason"), REFUSED)
def test_photos_that_cannot_be_measured_are_refused(name: str, shape: Shape, reason: str) -> None:
    """Each sample photo of the README's table is refused for its own reason, with what was seen and what to do."""
    with pytest.raises(PhotoRefused) as refusal:
        measure([read_photo_file(SAMPLES / name)], MeasureRequest(shape, 18.0), quiet)
    assert refusal.value.reason == reason
    assert refusal.value.message
    assert refusal.value.remedy


def test_photos_of_two_papers_are_not_combined(miters: Measured, monkeypatch: pytest.MonkeyPatch) -> None:
    """Photos on different sheets are no photos of one print: wrong input, said as such."""
    papers = iter(("a4", "letter"))

    def looked_at(*_: object) -> Any:
        return SimpleNamespace(pose=SimpleNamespace(sheet=SHEETS[next(papers)]))

    monkeypatch.setattr(pipeline, "look_at", looked_at)
    with pytest.raises(InputError, match="different sheets \\(a4, letter\\)"):
        measure(miters.photos, MeasureRequest("miter", 18.0), quiet)


@pytest.mark.parametrize("thickness_mm", [None, 18.0])
def test_each_photo_is_looked_at_once(monkeypatch: pytest.MonkeyPatch, thickness_mm: float | None) -> None:
    """When photos among several are refused, all of them are told and the others named good, with no second look."""
    photos = [Photo(f"{k}", f"{k}" * 64, np.zeros((300, 400, 3), np.uint8), ExifFacts()) for k in range(4)]
    seen: list[tuple[str, float | None]] = []

    def looked_at(photo: Photo, _shape: str, thickness: float | None, *_: object) -> Any:
        seen.append((photo.name, thickness))
        if photo.name in "02":
            raise PhotoRefused("no-target", "Nothing is in it.")
        return SimpleNamespace(photo=photo, thickness_mm=17.0)

    monkeypatch.setattr(pipeline, "look_at", looked_at)
    with pytest.raises(PhotosRefused) as refused:
        measure(photos, MeasureRequest("miter", thickness_mm), quiet)
    assert [refusal.file for refusal in refused.value.refusals] == ["0", "2"]
    assert refused.value.good == ("1", "3")
    found = [18.0] * 4 if thickness_mm else [None, None, 17.0, 17.0]
    assert sorted(seen) == sorted(zip("0123", found, strict=True))
