"""A rendered photo as the file a phone would hand over."""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image

from cutvision.imaging.photo import Photo, read_photo
from simulation.render import RenderedPhoto

_MAKE, _MODEL, _ORIENTATION, _EXIF_BLOCK = 0x010F, 0x0110, 0x0112, 0x8769
_FOCAL_MM, _FOCAL_35MM = 0x920A, 0xA405
# What undoes the turn that a reader makes for each EXIF orientation.
_UNDO: dict[int, Image.Transpose] = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


def jpeg_bytes(rendered: RenderedPhoto) -> bytes:
    """The photo as a JPEG file with chroma at half size and, when the scene gives a focal length, EXIF."""
    settings = rendered.scene.settings
    image = Image.fromarray(rendered.stored)
    if settings.orientation in _UNDO:
        image = image.transpose(_UNDO[settings.orientation])
    exif = Image.Exif()
    if settings.orientation != 1:
        exif[_ORIENTATION] = settings.orientation
    if settings.focal_35mm is not None:
        exif[_MAKE], exif[_MODEL] = "cutvision", "rendered"
        block = exif.get_ifd(_EXIF_BLOCK)
        block[_FOCAL_MM] = round(settings.focal_35mm / 4.7, 2)
        block[_FOCAL_35MM] = round(settings.focal_35mm)
    out = io.BytesIO()
    image.save(out, "JPEG", quality=settings.quality, subsampling="4:2:0", exif=exif, optimize=True)
    return out.getvalue()


def write_jpeg(rendered: RenderedPhoto, path: Path) -> None:
    """Write the photo's file. Raises OSError when the place cannot be written."""
    path.write_bytes(jpeg_bytes(rendered))


def as_photo(rendered: RenderedPhoto, name: str = "rendered.jpg") -> Photo:
    """The photo as it is read back from its own file's bytes, without a file."""
    return read_photo(jpeg_bytes(rendered), name)
