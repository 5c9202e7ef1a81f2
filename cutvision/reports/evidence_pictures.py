"""The pictures of an evidence sheet: made small, and with nothing in them but the picture (no place, no camera)."""

from __future__ import annotations

import io
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from PIL import Image, ImageOps

from cutvision.logbook.records import EvidenceFile
from cutvision.reports.columns import one_line

LONGEST_PX = 1400
MOST_PICTURES = 3
QUALITY = 82
LONGEST_NAME = 60
_CAPTIONS = {"annotated": "what was measured", "photo": "the photo", "drawing": "the move, from above"}


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture, newly encoded. drawn: not a photo. data: a JPEG or PNG, or an SVG as it was drawn."""

    caption: str
    name: str
    kind: Literal["jpeg", "png", "svg+xml"]
    drawn: bool
    data: bytes


def pictures_of(evidence: Sequence[EvidenceFile], files: Mapping[str, bytes]) -> tuple[Picture, ...]:
    """The annotated photos, or else the photos, and the drawing: at most three, of those that are here.

    A file that is no picture, or cannot be decoded here, is passed over: the list of files still names it.
    """
    shown = [one for one in evidence if one.kind == "annotated"] or [one for one in evidence if one.kind == "photo"]
    drawings = [one for one in evidence if one.kind == "drawing"][:1]
    chosen = [*shown[: MOST_PICTURES - len(drawings)], *drawings]
    made = (_picture(one, files[one.sha256]) for one in chosen if one.sha256 in files)
    return tuple(picture for picture in made if picture is not None)


def _picture(file: EvidenceFile, data: bytes) -> Picture | None:
    caption, name = _CAPTIONS[file.kind], one_line(file.name[:LONGEST_NAME])
    if data.lstrip()[:5] in (b"<?xml", b"<svg "):
        return Picture(caption, name, "svg+xml", drawn=True, data=data) if file.kind == "drawing" else None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data)) as opened:
                opened.draft("RGB", (LONGEST_PX, LONGEST_PX))
                picture = ImageOps.exif_transpose(opened).convert("RGB")
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return None
    picture.thumbnail((LONGEST_PX, LONGEST_PX))
    clean = Image.new("RGB", picture.size)  # pixels alone: no EXIF, no comment, no profile comes along
    clean.paste(picture)
    out, drawn = io.BytesIO(), file.kind == "drawing"
    if drawn:
        clean.save(out, "PNG")
    else:
        clean.save(out, "JPEG", quality=QUALITY)
    return Picture(caption, name, "png" if drawn else "jpeg", drawn, out.getvalue())
