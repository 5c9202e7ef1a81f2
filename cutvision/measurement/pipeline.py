"""Photos of one piece to its named quantities: the path of a photo, readable aloud."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import partial
from threading import Lock

import numpy as np

from cutvision.errors import InputError, Note, PhotoRefused, PhotosRefused
from cutvision.imaging.camera_file import prior_with_camera
from cutvision.imaging.offcut import THICKNESS_FOUND_MM, THICKNESS_READ_MM, Offcut, SeenEdge, look_at
from cutvision.imaging.photo import Photo
from cutvision.imaging.pose import predicted_px, predicted_view_px, prior_from_photo
from cutvision.measurement.combine import Combined, combine, named
from cutvision.measurement.observation import observe
from cutvision.measurement.request import MeasureRequest
from cutvision.measurement.result import EdgeEvidence, Measurement, PhotoEvidence
from cutvision.measurement.shapes import ANGLE_SIDES
from cutvision.measurement.side_by_side import algebra_on_one_core, side_by_side
from cutvision.measurement.suspicions import check_square_pixels, copies_among
from cutvision.target.print_scale import print_scale
from cutvision.uncertainty import Quantity

DISAGREE = 4.0
ANOTHER_PIECE = 30.0
"""Chi-square per degree of freedom past which the photos are said to disagree, and past which they show two pieces."""


def measure(
    photos: Sequence[Photo], request: MeasureRequest, progress: Callable[[str], None], at_once: int | None = None
) -> Measurement:
    """What the photos show together. at_once: how many photos are looked at side by side; as many as cores if None.

    Raises PhotoRefused for a single photo, PhotosRefused for several, with every one that is refused and those that
    are good; InputError for photos of different papers or of different pieces.
    """
    with algebra_on_one_core():
        looks = _looked_at(photos, request, progress, at_once)
    refused = [look for look in looks if isinstance(look, PhotoRefused)]
    offcuts = [look for look in looks if not isinstance(look, PhotoRefused)]
    if refused and len(photos) == 1:
        raise refused[0]
    if refused:
        raise PhotosRefused(refused, [offcut.photo.name for offcut in offcuts])
    papers = {offcut.pose.sheet.paper for offcut in offcuts}
    if len(papers) > 1:
        raise InputError(
            f"The photos show different sheets ({', '.join(sorted(papers))}).",
            "Photograph one piece on one printed sheet, turned or moved between shots.",
        )
    prints = print_scale(offcuts[0].pose.sheet, request.readings)
    progress("working out the result")
    observations = [
        observe(offcut, k + 1, thickness_known=request.thickness_mm is not None, camera_key=_camera_key(offcut.photo))
        for k, offcut in enumerate(offcuts)
    ]
    check_square_pixels(observations, prints)
    copies = copies_among(offcuts)
    looks_once = [observation for observation, copy in zip(observations, copies, strict=True) if copy is None]
    combined = combine(request.shape, looks_once, prints)
    if combined.disagreement > ANOTHER_PIECE:
        raise InputError(
            "The photos differ so much that they cannot show one piece.",
            "Give the photos of one piece, laid the same way up, in one call.",
        )
    quantities = named(combined, _reach([o for o, copy in zip(offcuts, copies, strict=True) if copy is None]))
    evidence = tuple(
        _evidence(
            offcut,
            named(combine(request.shape, [observation], prints), _reach([offcut])),
            copy_of=None if copy is None else offcuts[copy].photo.name,
        )
        for offcut, observation, copy in zip(offcuts, observations, copies, strict=True)
    )
    return Measurement(
        request.shape, quantities, evidence, _edge_form(request.shape, offcuts), _notes(combined, request)
    )


def _looked_at(
    photos: Sequence[Photo], request: MeasureRequest, progress: Callable[[str], None], at_once: int | None
) -> list[Offcut | PhotoRefused]:
    """What each photo shows, or why it is refused, side by side; progress is told one thing at a time."""
    turn = Lock()

    def told(step: str) -> None:
        with turn:
            progress(step)

    def look(photo: Photo, thickness_mm: float | None, u_thickness_mm: float) -> Offcut | PhotoRefused:
        own = prior_from_photo(photo)
        prior = own if request.camera is None else prior_with_camera(photo, own, request.camera)
        try:
            return look_at(photo, request.shape, thickness_mm, prior, told, u_thickness_mm)
        except PhotoRefused as refusal:
            refusal.file = refusal.file or photo.name
            return refusal

    if request.thickness_mm is not None:
        return side_by_side(partial(look, thickness_mm=request.thickness_mm, u_thickness_mm=THICKNESS_READ_MM), photos)
    # one piece has one thickness: what the first good photo found holds for the others
    looks: list[Offcut | PhotoRefused] = []
    while len(looks) < len(photos):
        looks.append(look(photos[len(looks)], None, THICKNESS_FOUND_MM))
        if not isinstance(found := looks[-1], PhotoRefused):
            rest = partial(look, thickness_mm=found.thickness_mm, u_thickness_mm=THICKNESS_FOUND_MM)
            looks += side_by_side(rest, photos[len(looks) :], at_once)
    return looks


def _camera_key(photo: Photo) -> str:
    """Photos of one camera share what is not known of its focal length."""
    exif = photo.exif
    return f"focal length/{exif.make} {exif.model} {exif.focal_35mm} {sorted((photo.width_px, photo.height_px))}"


def _reach(offcuts: Sequence[Offcut]) -> tuple[float, float]:
    """Of a strip: from the middle of its two lines to its fence end and to its far end, the mean over photos."""
    if offcuts[0].shape != "strip":
        return 0.0, 0.0
    reach = []
    for offcut in offcuts:
        first, second = offcut.edges
        middle = (first.line.point_mm + second.line.point_mm) / 2
        along = np.array([math.cos(first.line.angle_rad), math.sin(first.line.angle_rad)])
        fence = (first.ends_mm[0] + second.ends_mm[1]) / 2
        far = (first.ends_mm[1] + second.ends_mm[0]) / 2
        reach.append((float((middle - fence) @ along), float((far - middle) @ along)))
    return float(np.mean([r[0] for r in reach])), float(np.mean([r[1] for r in reach]))


def _edge_form(shape: str, offcuts: Sequence[Offcut]) -> dict[str, float]:
    """What the sawn edges' roughness adds to each angle once it is the fence's, in rad: s sqrt(24 c / L^3) a side.

    One piece has one set of edges: photos are averaged, and the figure does not shrink with their number.
    """
    sides = np.array([[_direction_doubt(edge) for edge in offcut.edges] for offcut in offcuts]).mean(axis=0)
    return {
        name: math.sqrt(sum((weight * sides[k]) ** 2 for k, weight in weights.items()))
        for name, weights in ANGLE_SIDES[shape].items()
    }


def _direction_doubt(edge: SeenEdge) -> float:
    line = edge.line
    return line.rms_mm * math.sqrt(24 * line.correlation_mm / line.length_mm**3)


def _notes(combined: Combined, request: MeasureRequest) -> tuple[Note, ...]:
    notes = []
    if combined.disagreement > DISAGREE:
        notes.append(
            Note(
                "photos-disagree",
                "The photos differ by more than their bounds say; the result's bound was widened for it.",
                "Check that all show the same piece, the same way up, on the same flat sheet; leave out the doubtful "
                "one.",
            )
        )
    if request.readings is None and request.shape in {"miter", "strip"}:
        notes.append(
            Note(
                "print-scale-assumed",
                "Lengths hold if the sheet was printed at 100 %. On a sheet fitted to the page (94 to 97 %) they would "
                "read 3 to 6 % too long, and no photo shows that; angles stay right.",
                "Measure both outer sides of the printed frame and give --long-side and --short-side.",
            )
        )
    if request.thickness_mm is None and request.shape in {"miter", "strip"}:
        notes.append(
            Note(
                "thickness-unknown",
                "Angles do not need the stock's thickness; the lengths carry the doubt of not knowing it.",
                "Give --thickness for lengths.",
            )
        )
    return tuple(notes)


def _evidence(offcut: Offcut, quantities: dict[str, Quantity], copy_of: str | None) -> PhotoEvidence:
    pose, photo, sheet = offcut.pose, offcut.photo, offcut.pose.sheet
    corners = np.array(
        [[0, 0], [sheet.width_mm, 0], [sheet.width_mm, sheet.height_mm], [0, sheet.height_mm]], dtype=float
    )
    frame = predicted_px(sheet, pose.values, pose.turned_from, corners)
    lens = pose.pose.centre_mm
    tilt = math.degrees(math.acos(min(1.0, abs(float(pose.pose.rotation[2, 2])))))
    notes = [Note("photo", text) for text in photo.notes]
    if copy_of is not None:
        notes.append(
            Note(
                "same-look",
                f"This photo is the same look as {copy_of}, saved again, and adds nothing to the result.",
                "Turn the piece by a quarter turn and take another photo.",
            )
        )
    if offcut.sheets > 1:
        notes.append(
            Note(
                "several-sheets",
                f"{offcut.sheets} printed sheets show in the photo; the one that the piece lies on was measured with.",
                "Keep other sheets out of the picture.",
            )
        )
    dropped = max(edge.line.dropped_share for edge in offcut.edges)
    if dropped > 0.25:
        worst = max(offcut.edges, key=lambda edge: edge.line.dropped_share)
        notes.append(
            Note(
                "edge-dropped",
                f"{100 * dropped:.0f} % of the {worst.name} was left out: chips, fibres, a shadow or the print beside "
                "it.",
                "Lay the piece clear of the squares, brush it, and light it from two sides.",
            )
        )
    return PhotoEvidence(
        file=photo.name,
        sha256=photo.sha256,
        paper=sheet.paper,
        used=copy_of is None,
        width_px=photo.width_px,
        height_px=photo.height_px,
        edges=tuple(_edge_evidence(offcut, edge) for edge in offcut.edges),
        corners_px=_corners_px(offcut),
        frame_px=frame,
        scale_px_per_mm=offcut.edges[0].points.scale_px_per_mm,
        lens_height_mm=float(lens[2]),
        tilt_deg=tilt,
        saddles_used=int(pose.used.sum()),
        saddle_rms_px=pose.residual_rms_px,
        quantities=quantities,
        notes=tuple(notes),
    )


def _edge_evidence(offcut: Offcut, edge: SeenEdge) -> EdgeEvidence:
    line = edge.line
    along = np.linspace(-0.5, 0.5, 41)[:, None] * line.length_mm
    direction = np.array([math.cos(line.angle_rad), math.sin(line.angle_rad)])
    mm = line.point_mm + along * direction
    return EdgeEvidence(
        edge.name,
        predicted_view_px(offcut.pose, mm, edge.height_mm),
        edge.points.pixels[line.used],
        edge.points.pixels[~line.used],
        float(np.sqrt((line.residual_mm[line.used] ** 2).mean())),
        edge.height_mm,
    )


def _corners_px(offcut: Offcut) -> dict[str, tuple[float, float]]:
    """Where the two sides of each angle meet in the photo."""
    result = {}
    for name, sides in ANGLE_SIDES[offcut.shape].items():
        if offcut.shape == "strip" or len(sides) > 2:
            continue
        (p, q), (r, s) = (offcut.edges[k].carrier_px for k in sides)
        k = np.linalg.solve(np.column_stack([q - p, r - s]), r - p)[0]
        x, y = p + k * (q - p)
        result[name] = (float(x), float(y))
    return result
