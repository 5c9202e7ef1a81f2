"""The annotated photo: what was measured, drawn over the picture so that a person can believe it or not."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np
from PIL import Image, ImageDraw

from cutvision.errors import InputError
from cutvision.files import write_output
from cutvision.imaging.photo import Photo
from cutvision.measurement.result import Measurement, PhotoEvidence
from cutvision.reports import canvas
from cutvision.reports.cautions import ADVISED, MEASURED, Topic, cautions
from cutvision.reports.departure import Departure, departure, fence_to_far, long_edges
from cutvision.reports.says_measurement import pencil_line, piece_headline
from cutvision.reports.wording import angle_words
from cutvision.uncertainty import Quantity
from cutvision.units import MM_PER_INCH

LONG_SIDE_PX = 1600
SUPERSAMPLING = 2
ROUND_THE_FRAME = 0.06
GHOST: canvas.Colour = (255, 214, 0)
DROPPED: canvas.Colour = (255, 96, 64)
FRAME: canvas.Colour = (120, 200, 255)
STROKE = 4
MOST_RINGS = 40
ARROW_AT = 0.8
SCALE_BAR_MM = 50
QUALITY = 90
FORMATS = {".png": "PNG", ".jpg": "JPEG", ".jpeg": "JPEG"}


def annotate(
    photo: Photo,
    measurement: Measurement,
    index: int,
    answer: Sequence[str] = (),
    *,
    nominal_rad: float = math.pi / 4,
    kept: Literal["left", "right"] | None = None,
) -> Image.Image:
    """A copy of one photo, 1600 px on its long side, with what was measured drawn over it and the answer above it.

    photo: the photo that `measurement.photos[index]` speaks of.
    answer: what to do, as the correction words it; without it the measurement's own headline stands there.
    nominal_rad, kept: as asked for; they say what a true cut of a miter is.

    The copy is cropped to the sheet and carries none of the photo's EXIF data.
    """
    evidence = measurement.photos[index]
    picture, to_picture = _crop(photo, evidence)
    draw = ImageDraw.Draw(picture, "RGBA")
    evidence = _moved(evidence, to_picture)
    judged = departure(measurement, evidence, nominal_rad, kept)
    _draw_lines(draw, evidence, judged)
    _draw_words(draw, measurement, evidence, judged, picture.size)
    picture = picture.reduce(SUPERSAMPLING)
    above = _answer_panel(answer or piece_headline(measurement, nominal_rad, kept), picture.width)
    below = _legend_panel(measurement, evidence, judged, ADVISED if answer else MEASURED, picture.width)
    whole = Image.new("RGB", (picture.width, above.height + picture.height + below.height), canvas.LIGHT)
    whole.paste(above, (0, 0))
    whole.paste(picture, (0, above.height))
    whole.paste(below, (0, above.height + picture.height))
    return whole


def write_picture(image: Image.Image, path: Path, photos: Sequence[Path] = ()) -> None:
    """Write a PNG or JPEG, by the name's ending, whole or not at all. photos: what was measured, never written over.

    Raises InputError when the ending is another or the file cannot be written.
    """
    form = FORMATS.get(path.suffix.lower())
    if form is None:
        raise InputError(
            f"A picture cannot be written as {path.suffix or 'a file without an ending'!r}: {path}.",
            "Give the picture's file a name that ends in .png or .jpg.",
        )
    write_output(path, picture_bytes(image, form), "picture", inputs=photos)


def picture_bytes(image: Image.Image, form: str = "JPEG") -> bytes:
    """The picture as a file's content."""
    out = io.BytesIO()
    image.save(out, form, quality=QUALITY)
    return out.getvalue()


@dataclass(frozen=True, slots=True)
class _ToPicture:
    """Photo pixels to picture pixels: a shift and a scale, pixel centres at whole numbers in both."""

    left: float
    top: float
    scale: float

    def __call__(self, points_px: np.ndarray) -> np.ndarray:
        moved: np.ndarray = (points_px + 0.5 - np.array([self.left, self.top])) * self.scale - 0.5
        return moved


def _crop(photo: Photo, evidence: PhotoEvidence) -> tuple[Image.Image, _ToPicture]:
    """The sheet's part of the photo, at the picture's supersampled size."""
    points = np.vstack([evidence.frame_px, *(edge.line_px for edge in evidence.edges)])
    low, high = points.min(axis=0), points.max(axis=0)
    spare = ROUND_THE_FRAME * float(np.max(high - low))
    left, top = (max(0, math.floor(v - spare)) for v in low)
    right, bottom = (
        min(size, math.ceil(v + spare)) for v, size in zip(high, (photo.width_px, photo.height_px), strict=True)
    )
    stored = photo.stored[top:bottom, left:right]
    if stored.dtype == np.uint16:
        stored = (stored >> 8).astype(np.uint8)
    scale = SUPERSAMPLING * LONG_SIDE_PX / max(right - left, bottom - top)
    size = (SUPERSAMPLING * round((right - left) * scale / 2), SUPERSAMPLING * round((bottom - top) * scale / 2))
    picture = Image.fromarray(np.ascontiguousarray(stored)).resize(size, Image.Resampling.BICUBIC)
    return picture, _ToPicture(left, top, scale)


def _moved(evidence: PhotoEvidence, to_picture: _ToPicture) -> PhotoEvidence:
    """The same evidence in picture pixels."""
    return replace(
        evidence,
        edges=tuple(
            replace(
                edge,
                line_px=to_picture(edge.line_px),
                used_px=to_picture(edge.used_px.reshape(-1, 2)),
                dropped_px=to_picture(edge.dropped_px.reshape(-1, 2)),
            )
            for edge in evidence.edges
        ),
        corners_px={name: tuple(to_picture(np.array(at)).tolist()) for name, at in evidence.corners_px.items()},
        frame_px=to_picture(evidence.frame_px),
        scale_px_per_mm=evidence.scale_px_per_mm * to_picture.scale,
    )


def _draw_lines(draw: ImageDraw.ImageDraw, evidence: PhotoEvidence, judged: Departure | None) -> None:
    frame = [(float(x), float(y)) for x, y in [*evidence.frame_px, evidence.frame_px[0]]]
    draw.line(frame, fill=FRAME, width=STROKE)
    if judged is not None:
        _draw_ghost(draw, judged)
    for edge in evidence.edges:
        canvas.cased_line(draw, edge.line_px, STROKE)
        for point in edge.dropped_px[:: max(1, len(edge.dropped_px) // MOST_RINGS)]:
            canvas.ring(draw, point, 3 * STROKE, STROKE, DROPPED)
    if judged is not None and judged.is_told:
        _draw_arrow(draw, judged)


def _draw_ghost(draw: ImageDraw.ImageDraw, judged: Departure) -> None:
    """The true edge, dashed, inside the wedge that its bound allows."""
    turn, bound = judged.turn.value, judged.turn.expanded_uncertainty
    wedge = [judged.pivot_px, *(judged.true_tip_px(turn + t * bound) for t in (-1.0, -0.5, 0.0, 0.5, 1.0))]
    draw.polygon([(float(x), float(y)) for x, y in wedge], fill=(*GHOST, 90))
    canvas.dashed_line(draw, judged.pivot_px, judged.true_tip_px(turn), 2 * STROKE, GHOST, 12 * STROKE)


def _draw_arrow(draw: ImageDraw.ImageDraw, judged: Departure) -> None:
    """From the true edge to the edge as it is, near the end where they are farthest apart."""
    start = judged.pivot_px + ARROW_AT * (judged.true_tip_px(judged.turn.value) - judged.pivot_px)
    end = judged.pivot_px + ARROW_AT * (judged.tip_px - judged.pivot_px)
    canvas.arrow(draw, start, end, 2 * STROKE, GHOST)


def _draw_words(
    draw: ImageDraw.ImageDraw,
    measurement: Measurement,
    evidence: PhotoEvidence,
    judged: Departure | None,
    size: tuple[int, int],
) -> None:
    typeface = canvas.font(size[0] / 42)
    middle = np.vstack([edge.line_px for edge in evidence.edges]).mean(axis=0)
    taken: list[canvas.Box] = [_draw_scale_bar(draw, evidence.scale_px_per_mm, size)]
    for text, at in _corner_words(measurement, evidence):
        taken.append(canvas.plate(draw, text, at, at - middle, typeface, taken, size))
    for text, at in _edge_words(measurement, evidence):
        outward = middle - at if judged is not None and judged.is_outside(middle, at) else at - middle
        taken.append(canvas.plate(draw, text, at, outward, typeface, taken, size))


def _corner_words(measurement: Measurement, evidence: PhotoEvidence) -> list[tuple[str, np.ndarray]]:
    words = []
    for name, at in evidence.corners_px.items():
        if name in measurement.quantities:
            number = f"{name[-1]}: " if measurement.shape == "board" else ""
            words.append((number + _degree_signs(measurement.quantities[name]), np.array(at)))
    return words


def _edge_words(measurement: Measurement, evidence: PhotoEvidence) -> list[tuple[str, np.ndarray]]:
    if measurement.shape == "board":
        return []
    if measurement.shape != "strip":
        return [(edge.name, _half_way(edge.line_px)) for edge in evidence.edges]
    ends = np.array([fence_to_far(evidence, edge) for edge in long_edges(evidence)])
    fence, far = ends.mean(axis=0)
    return [
        ("fence end", fence),
        ("far end", far),
        *(
            (f"{n} long edge", _half_way(e.line_px))
            for n, e in zip(("first", "second"), long_edges(evidence), strict=True)
        ),
    ]


def _half_way(line_px: np.ndarray) -> np.ndarray:
    middle: np.ndarray = (line_px[0] + line_px[-1]) / 2
    return middle


def _draw_scale_bar(draw: ImageDraw.ImageDraw, px_per_mm: float, size: tuple[int, int]) -> canvas.Box:
    """A bar at the lower left, true at the middle of the piece; returns the box that it takes."""
    typeface = canvas.font(size[0] / 60)
    width, margin = SCALE_BAR_MM * px_per_mm, size[0] / 50
    left, bottom = margin, size[1] - margin
    top = bottom - 2.2 * typeface.size
    box = (left - margin / 2, top - margin / 2, left + width + margin / 2, bottom + margin / 2)
    draw.rounded_rectangle(box, radius=margin / 2, fill=canvas.DARK)
    draw.text(
        (left + width / 2, top),
        f"{SCALE_BAR_MM} mm ({SCALE_BAR_MM / MM_PER_INCH:.2f} in)",
        font=typeface,
        fill=canvas.LIGHT,
        anchor="mt",
    )
    draw.line([(left, bottom - margin / 4), (left + width, bottom - margin / 4)], fill=canvas.LIGHT, width=2 * STROKE)
    for x in (left, left + width):
        draw.line([(x, bottom - margin / 1.4), (x, bottom + margin / 4)], fill=canvas.LIGHT, width=STROKE)
    return box


def _answer_panel(lines: Sequence[str], width_px: int) -> Image.Image:
    first, *rest = (re.sub(r" deg\b", "°", line) for line in lines)
    return canvas.panel(
        [(first, "bold", width_px / 32), *((line, "regular", width_px / 40) for line in rest)], width_px
    )


def _legend_panel(
    measurement: Measurement,
    evidence: PhotoEvidence,
    judged: Departure | None,
    topics: Sequence[Topic],
    width_px: int,
) -> Image.Image:
    lines = [line for line in (pencil_line(measurement.shape), *(_ghost_lines(judged) if judged else ())) if line]
    if any(len(edge.dropped_px) for edge in evidence.edges):
        lines.append("Rings: edge points left out (tips, chips, fibres).")
    size = width_px / 52
    words: list[canvas.Paragraph] = [(line, "regular", size) for line in lines]
    words.append(("Cautions", "bold", size))
    words += [(line, "regular", size) for line in cautions(*topics)]
    return canvas.panel(words, width_px)


def _degree_signs(angle: Quantity) -> str:
    """An angle with its uncertainty, as short as a picture wants it."""
    return angle_words(angle).replace(" deg", "°").replace(" ±", "° ±")


def _ghost_lines(judged: Departure) -> tuple[str, ...]:
    told = _degree_signs(judged.turn).lstrip("-")
    larger = f"drawn {judged.enlargement} times larger" if judged.enlargement > 1 else "drawn as large as it is"
    if judged.is_told:
        return (
            f"Yellow dashes: where {judged.true} would run. Arrow: which way {judged.edge} departs from it, by {told}, "
            f"{larger}; shaded: its uncertainty.",
        )
    return (
        f"Yellow: where {judged.true} may run. {judged.edge.capitalize()} departs from it by less than the bound "
        f"({told}, {larger}), so there is no arrow.",
    )
