"""A photo file as it came: decoded upright from its bytes, with what the file says of the camera."""

from __future__ import annotations

import contextlib
import hashlib
import io
import math
import re
import warnings
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, SupportsFloat

import numpy as np
from PIL import ExifTags, Image, ImageCms, UnidentifiedImageError

from cutvision.errors import PhotoRefused
from cutvision.files import NotReadError, read_bounded
from cutvision.imaging.opencv import decoded_colours

if TYPE_CHECKING:
    from collections.abc import Iterator

MAX_PIXELS = 120_000_000
MIN_SIDE_PX = 200
CHAT_LONG_SIDE_PX = 2048
PANORAMA_ASPECT = 2.5
CAMERA_STEP_PX = 4
"""Cameras store frames whose sides are multiples of 8 or at least of 4 (JPEG's blocks); a hand that crops does not."""
SIXTEEN_BIT_MAX = 65535
BAND_ROWS = 256

_FORMATS = ("JPEG", "PNG", "TIFF", "WEBP")  # a JPEG that holds more than one picture calls itself MPO once it is open
_HEIF_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")
_AS_STORED = (
    "Send the photo as the phone stored it: JPEG, PNG, TIFF or WebP (or HEIC with the extra). A picture of another "
    "kind can be opened in a picture viewer and saved anew as PNG, at full size."
)
_OTHER_FILES = tuple(
    (re.compile(first_bytes, re.DOTALL), message)
    for first_bytes, message in (
        (rb"GIF8", "This is a GIF, which holds drawings or animations in 256 colours, not photos."),
        (rb"%PDF|<svg|<\?xml", "This is a document or a drawing, not a photo."),
        (rb"....ftypavi[fs]", "This is an AVIF picture, which is not read here."),
        (rb"BM....\0\0\0\0", "This is a Windows bitmap (BMP), which tells nothing of the camera and is not read here."),
        (rb"\0\0\0\x0cjP  |\xff\x4f\xff\x51", "This is a JPEG 2000 picture, which is not read here."),
        (rb"\0\0\0\x0cJXL |\xff\x0a", "This is a JPEG XL picture, which is not read here."),
    )
)
"""How files begin that are certainly no photos this program reads, and what to say of them."""
_JPEG_MARK = re.compile(rb"\xff[^\x00\x01\xd0-\xd8\xff]")
"""A marker that begins a segment or ends the picture; the others stand alone, or are stuffing among the pixels."""
_END_OF_IMAGE = 0xD9
_TURNS = {2: (True, 0), 3: (False, 2), 4: (True, 2), 5: (True, 3), 6: (False, 1), 7: (True, 1), 8: (False, 3)}
"""EXIF orientation -> whether to mirror left and right first, and then how many quarter turns clockwise."""
_SUBFILE_TYPE_TAG, _DNG_VERSION_TAG = 0x00FE, 0xC612


@dataclass(frozen=True, slots=True)
class ExifFacts:
    """What the file says of the camera; None where it says nothing."""

    make: str | None = None
    model: str | None = None
    lens: str | None = None
    focal_mm: float | None = None
    focal_35mm: float | None = None
    digital_zoom: float | None = None
    taken: str | None = None


@dataclass(frozen=True, slots=True)
class Photo:
    """An upright photo.

    name: the file's name as it was given.
    sha256: of the file's bytes as they came.
    stored: (H, W, 3) uint8 stored (tone-curved) red, green, blue in sRGB, upright after the EXIF turn.
    cropped: whether a part of the camera's frame is missing, so that the lens's middle may be anywhere.
    jpeg_step: how coarsely a JPEG rounds brightness, the mean of its table's 64 steps; 0 for other files.
    notes: what the decoder noticed that lowers trust (shrunk by a chat, no EXIF, digital zoom).
    """

    name: str
    sha256: str
    stored: np.ndarray
    exif: ExifFacts
    notes: tuple[str, ...] = ()
    cropped: bool = False
    jpeg_step: float = 0.0

    @property
    def width_px(self) -> int:
        return int(self.stored.shape[1])

    @property
    def height_px(self) -> int:
        return int(self.stored.shape[0])


def read_photo_file(path: Path) -> Photo:
    """Decode the photo at `path`, which is opened for reading only.

    Raises PhotoRefused as `read_photo` does, and "unreadable" when there is no such file or it may not be read.
    """
    try:
        data = read_bounded(path, "photo")
    except NotReadError as error:
        why = f"{error.why[0].upper()}{error.why[1:]}."
        raise PhotoRefused("unreadable", why, error.remedy, file=str(path)) from error
    return read_photo(data, str(path))


def read_photo(data: bytes, name: str) -> Photo:
    """Decode a photo from a file's bytes; what it is is told from the bytes, never from the name.

    Raises PhotoRefused: "unreadable" when the bytes are no photo, are cut short or claim to be too large; "no-target"
    when the picture is too small for a sheet to show in it.
    """
    with _refusing(name):
        _refuse_other_files(data)
        with Image.open(io.BytesIO(data), formats=_openable(data)) as image:
            _check_header(image)
            kind = "JPEG" if image.format == "MPO" else str(image.format)
            exif, recorded_px = _exif_facts(image)
            table = getattr(image, "quantization", {}).get(0)
            jpeg_step = sum(table) / len(table) if table else 0.0
            stored = _decoded(data, image, kind)
            # Pillow turns TIFF as it loads it, and HEIF's reader turns its own
            turn = None if kind == "HEIF" else _TURNS.get(image.getexif().get(ExifTags.Base.Orientation, 1))
        if turn is not None:
            mirrored, quarters = turn
            stored = np.ascontiguousarray(np.rot90(stored[:, ::-1] if mirrored else stored, -quarters))
    stored.setflags(write=False)
    photo = Photo(name, hashlib.sha256(data).hexdigest(), stored, exif, jpeg_step=jpeg_step)
    return _with_notes(photo, kind, recorded_px)


@contextlib.contextmanager
def _refusing(name: str) -> Iterator[None]:
    """Turn whatever the decoder says of broken bytes into a refusal of the photo `name`."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    except PhotoRefused as refusal:
        refusal.file = name
        raise
    except Image.DecompressionBombError as error:
        raise PhotoRefused("unreadable", _too_large("over 179 million"), file=name) from error
    except UnidentifiedImageError as error:
        message = "The file is not a picture of a kind that can be read, or its first bytes are damaged."
        raise PhotoRefused("unreadable", message, _AS_STORED, file=name) from error
    except MemoryError as error:
        raise PhotoRefused("unreadable", "The picture does not fit in this computer's memory.", file=name) from error
    except Exception as error:  # decoders meet broken bytes with nearly any exception there is
        message = f"The picture is cut short or damaged: it begins as one but cannot be decoded ({error})."
        remedy = "Copy the file from the phone again; if that does not help, take the photo again."
        raise PhotoRefused("unreadable", message, remedy, file=name) from error


def _refuse_other_files(data: bytes) -> None:
    """Say in plain words what a file is that is certainly no photo."""
    if not data:
        raise PhotoRefused("unreadable", "The file is empty.", "Copy the photo from the phone again.")
    for first_bytes, message in _OTHER_FILES:
        if first_bytes.match(data):
            raise PhotoRefused("unreadable", message, _AS_STORED)


def _openable(data: bytes) -> tuple[str, ...]:
    """The formats to try. Registers HEIC when these bytes need it. Raises PhotoRefused when its reader is missing."""
    if data[4:8] == b"ftyp" and data[8:12] in _HEIF_BRANDS:
        try:
            import pillow_heif  # noqa: PLC0415  an optional package, needed by this one format
        except ImportError as error:
            message = "This is a HEIC photo, and the package that reads HEIC is not installed."
            remedy = (
                "Install the extra (pip install 'cutvision[heic]', in a clone pip install '.[heic]'), or let the phone "
                'store JPEG (iPhone: Settings, Camera, Formats, "Most Compatible") and take the photo again.'
            )
            raise PhotoRefused("unreadable", message, remedy) from error
        pillow_heif.register_heif_opener()
        return ("HEIF",)
    return _FORMATS


def _check_header(image: Image.Image) -> None:
    """Refuse by what the header says, before any pixel is decoded."""
    width, height = image.size
    if width * height > MAX_PIXELS:
        raise PhotoRefused("unreadable", _too_large(f"{width} x {height} = {width * height / 1e6:.0f} million"))
    if min(width, height) < MIN_SIDE_PX:
        message = f"The picture is only {width} x {height} pixels: too small for a reference sheet to show in it."
        raise PhotoRefused("no-target", message)
    if image.format in ("PNG", "WEBP", "GIF") and getattr(image, "is_animated", False):
        raise PhotoRefused("unreadable", "This is an animation, not a photo.", _AS_STORED)
    if image.format == "TIFF" and _is_camera_raw(image):
        message = "This is a camera's raw file, of which only a small preview can be read."
        raise PhotoRefused("unreadable", message, "Export it as JPEG, or as TIFF, at full size.")


def _too_large(pixels: str) -> str:
    return (
        f"The file says that it holds {pixels} pixels; more than {MAX_PIXELS // 10**6} million are not read, since a "
        "damaged or hostile file can claim any size."
    )


def _is_camera_raw(image: Image.Image) -> bool:
    tags = getattr(image, "tag_v2", {})
    return _DNG_VERSION_TAG in tags or bool(int(tags.get(_SUBFILE_TYPE_TAG, 0)) & 1)


def _is_whole_jpeg(data: bytes) -> bool:
    """Whether the first picture of a JPEG's bytes comes to its end mark. Source: ITU-T T.81, annex B.

    OpenCV fills up what a file that was cut short lacks, and says nothing; Pillow refuses it.
    """
    at = 2
    while mark := _JPEG_MARK.search(data, at):
        code = mark.group()[1]
        if code == _END_OF_IMAGE:
            return True
        at = mark.end() + int.from_bytes(data[mark.end() : mark.end() + 2])
    return False


def _decoded(data: bytes, image: Image.Image, kind: str) -> np.ndarray:
    """(H, W, 3) uint8 in sRGB, as it lies in the file whose header `image` has read.

    OpenCV decodes a whole JPEG in half of Pillow's time and memory. The rest goes from Pillow's form to ours by bands,
    so that the picture is held twice at the most.
    """
    profile = _profile(image)
    if kind == "JPEG" and image.mode == "RGB" and _is_whole_jpeg(data):
        stored = decoded_colours(data)
        if profile is not None:
            for rows in _bands(len(stored)):
                stored[rows] = np.asarray(_in_srgb(Image.fromarray(stored[rows]), profile))
        return stored
    image.load()
    stored = np.empty((image.height, image.width, 3), np.uint8)
    for rows in _bands(len(stored)):
        stored[rows] = _rgb(image.crop((0, rows.start, image.width, rows.stop)), profile)
    return stored


def _bands(height: int) -> list[slice]:
    return [slice(top, min(top + BAND_ROWS, height)) for top in range(0, height, BAND_ROWS)]


def _rgb(image: Image.Image, profile: ImageCms.ImageCmsProfile | None) -> np.ndarray:
    """Any mode -> (H, W, 3) or (H, W, 1) uint8. Raises PhotoRefused for pixels without an agreed scale."""
    if image.mode.startswith("I"):
        grey = np.asarray(image)
        if grey.min() < 0 or grey.max() > SIXTEEN_BIT_MAX:
            raise PhotoRefused("unreadable", "The picture stores 32 bits a pixel, on no agreed scale.", _AS_STORED)
        return (grey >> 8).astype(np.uint8)[:, :, None]
    if image.mode == "F":
        raise PhotoRefused("unreadable", "The picture stores fractions for pixels, on no agreed scale.", _AS_STORED)
    return np.asarray(_in_srgb(_opaque(image), profile))


def _opaque(image: Image.Image) -> Image.Image:
    """Lay a picture that can be seen through on white paper; leave any other as it is."""
    if image.mode == "P" or "transparency" in image.info:
        image = image.convert("RGBA")
    if image.mode in ("RGBA", "LA", "PA", "RGBa", "La"):
        paper = Image.new("RGBA", image.size, "white")
        paper.alpha_composite(image.convert("RGBA"))
        flat = paper.convert("RGB")
        flat.info = dict(image.info)
        return flat
    return image.convert("L") if image.mode == "1" else image


def _in_srgb(image: Image.Image, profile: ImageCms.ImageCmsProfile | None) -> Image.Image:
    """8-bit pixels in sRGB; without a profile, or with one that does not fit them, they count as sRGB already."""
    if profile is not None:
        with contextlib.suppress(ImageCms.PyCMSError, OSError):
            converted = ImageCms.profileToProfile(
                image,
                profile,
                ImageCms.createProfile("sRGB"),
                renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
                outputMode="RGB",
            )
            if converted is not None:
                return converted
    return image if image.mode == "RGB" else image.convert("RGB")


def _profile(image: Image.Image) -> ImageCms.ImageCmsProfile | None:
    """The colour profile the file carries; None for sRGB's own, for one that cannot be read and for none."""
    embedded = image.info.get("icc_profile")
    if embedded:
        with contextlib.suppress(ImageCms.PyCMSError, OSError):
            profile = ImageCms.ImageCmsProfile(io.BytesIO(embedded))
            if "sRGB" not in (profile.profile.profile_description or ""):
                return profile
    return None


def _exif_facts(image: Image.Image) -> tuple[ExifFacts, tuple[float, float] | None]:
    """The camera's facts, and the width and height the camera recorded (None when it did not)."""
    try:
        exif = image.getexif()
        details = exif.get_ifd(ExifTags.IFD.Exif)
    except Exception:  # noqa: BLE001  damaged EXIF raises nearly anything, and a photo without any is still a photo
        return ExifFacts(), None
    width, height = (_number(details.get(tag)) for tag in (ExifTags.Base.ExifImageWidth, ExifTags.Base.ExifImageHeight))
    facts = ExifFacts(
        make=_text(exif.get(ExifTags.Base.Make)),
        model=_text(exif.get(ExifTags.Base.Model)),
        lens=_text(details.get(ExifTags.Base.LensModel)),
        focal_mm=_number(details.get(ExifTags.Base.FocalLength)),
        focal_35mm=_number(details.get(ExifTags.Base.FocalLengthIn35mmFilm)),
        digital_zoom=_number(details.get(ExifTags.Base.DigitalZoomRatio)),
        taken=_text(details.get(ExifTags.Base.DateTimeOriginal)),
    )
    return facts, (width, height) if width and height else None


def _text(value: object) -> str | None:
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    if not isinstance(value, str):
        return None
    return " ".join("".join(c if c.isprintable() else " " for c in value).split()) or None


def _number(value: object) -> float | None:
    """A positive, finite number, or None: cameras write 0 and 0/0 for "not known"."""
    if not isinstance(value, SupportsFloat):
        return None
    try:
        number = float(value)
    except (ValueError, ZeroDivisionError, OverflowError):
        return None
    return number if math.isfinite(number) and number > 0 else None


def _with_notes(photo: Photo, kind: str, recorded_px: tuple[float, float] | None) -> Photo:
    """Add what lowers trust in the photo. A cropped photo loses its focal length, which no longer fits its frame."""
    exif, notes = photo.exif, []
    long_px, short_px = max(photo.stored.shape[:2]), min(photo.stored.shape[:2])
    if exif == ExifFacts():
        if kind == "PNG":
            notes.append(
                "A PNG without camera data is often a screenshot. Measure the photo itself, as the phone stored it."
            )
        elif long_px <= CHAT_LONG_SIDE_PX:
            notes.append(
                f"Only {photo.width_px} x {photo.height_px} pixels and no camera data: a chat has probably shrunk this "
                "photo. Send it as a file or a document, and the bounds will be narrower."
            )
    if exif.digital_zoom is not None and exif.digital_zoom > 1:
        notes.append(
            f"Taken with digital zoom {exif.digital_zoom:g}: that adds pixels but no detail. Set the zoom to 1x and go "
            "closer instead."
        )
    if long_px > PANORAMA_ASPECT * short_px:
        notes.append("The frame is as long as a panorama's. A panorama bends straight edges: use a plain photo.")
    cropped = any(side % CAMERA_STEP_PX for side in photo.stored.shape[:2])
    recorded_aspect = max(recorded_px) / min(recorded_px) if recorded_px else None
    if recorded_aspect and not math.isclose(recorded_aspect, long_px / short_px, rel_tol=0.01):
        cropped = True
    if cropped and exif.focal_35mm is not None:
        notes.append("The photo was cropped after it was taken, so the focal length in its camera data is not used.")
        exif = replace(exif, focal_mm=None, focal_35mm=None)
    return replace(photo, exif=exif, notes=tuple(notes), cropped=cropped)
