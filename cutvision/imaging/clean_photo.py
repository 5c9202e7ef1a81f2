"""A photo's file for others: the picture's own bytes as they are, and of all that came with them a short list alone.

What may stay is listed, not what must go: a place, a name or a thought can stand in any text of a file. Sources of the
layouts: ITU-T T.81, annex B (JPEG); W3C PNG, third edition; CIPA DC-008 (Exif), 4.6; ICC.1:2022, clause 7.
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass

from PIL import ExifTags, Image

_JPEG, _PNG = b"\xff\xd8", b"\x89PNG\r\n\x1a\n"
PICTURES = (_JPEG, _PNG)  # how the kinds that can be cleaned begin
_JFIF, _EXIF, _XMP, _ICC, _ADOBE = b"JFIF\0", b"Exif\0\0", b"http://ns.adobe.com/", b"ICC_PROFILE\0", b"Adobe"
_APP0, _APP1, _APP2, _APP13, _APP14, _COM = 0xE0, 0xE1, 0xE2, 0xED, 0xEE, 0xFE
_SOS, _EOI, _SOI = 0xDA, 0xD9, 0xD8
_PICTURE = {*range(0xC0, 0xD0), 0xDB, 0xDC, 0xDD, 0xDE, 0xDF, _SOS, _EOI}  # frames, tables, restarts, scans, the end
_NO_LENGTH = {0x01, *range(0xD0, 0xD8)}
_PICTURE_CHUNKS = {b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"sBIT", b"cICP", b"pHYs"}
_LONGEST_PROFILE = 4_000_000

_BASE = ExifTags.Base
_FIRST = (_BASE.Orientation,)
_NUMBERS = (
    *(_BASE.FocalLength, _BASE.FocalLengthIn35mmFilm, _BASE.DigitalZoomRatio, _BASE.LensSpecification),
    *(_BASE.ExposureTime, _BASE.FNumber, _BASE.ISOSpeedRatings, _BASE.ExposureBiasValue),
    *(_BASE.ExifImageWidth, _BASE.ExifImageHeight),
)
_LENS = (_BASE.LensMake, _BASE.LensModel)
_LENS_TEXT = re.compile(r"[\x20-\x7e]{1,64}")
_TIME_TEXT = re.compile(r"\d{4}:\d\d:\d\d \d\d:\d\d:\d\d")
_POINTERS = (_BASE.ExifOffset, _BASE.ExifInteroperabilityOffset, _BASE.ExifVersion)

# Of a color profile what turns its numbers into colors: white point, primaries, curves and tables, by their types.
_COLOR_TAGS = frozenset(
    b"wtpt bkpt rXYZ gXYZ bXYZ rTRC gTRC bTRC kTRC chad cicp lumi A2B0 A2B1 A2B2 B2A0 B2A1 B2A2".split()
)
_COLOR_TYPES = frozenset((b"XYZ ", b"curv", b"para", b"sf32", b"cicp", b"mft1", b"mft2", b"mAB ", b"mBA "))


class CannotCleanError(Exception):
    """A photo of a kind, or so damaged, that it cannot be cleaned with its pixels' bytes as they are; why, in words."""


@dataclass(frozen=True, slots=True)
class CleanPhoto:
    """The cleaned file, and in a few words each what was left out of it; nothing when it held no more than may stay."""

    data: bytes
    left_out: tuple[str, ...]


def clean_photo(data: bytes, *, with_time: bool = False) -> CleanPhoto:
    """A JPEG or PNG without all that is neither picture nor on the list; the pixels' own bytes are the same.

    The list: size, orientation, focal length, lens, exposure, the numbers of the color profile, and with `with_time`
    when it was taken. Raises CannotCleanError for any other kind, and for a file that is cut short or not well formed.
    """
    try:
        if data.startswith(_JPEG):
            return _clean_jpeg(data, with_time=with_time)
        if data.startswith(_PNG):
            return _clean_png(data, with_time=with_time)
    except (struct.error, IndexError, zlib.error) as error:
        raise CannotCleanError("it is cut short or damaged") from error
    raise CannotCleanError(f"{_kind_of(data)} cannot be cleaned without touching its pixels")


def _kind_of(data: bytes) -> str:
    if data[:4] in {b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"}:
        return "a TIFF"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "a WebP"
    return "a HEIC or AVIF" if data[4:8] == b"ftyp" else "a file of this kind"


def _clean_jpeg(data: bytes, *, with_time: bool) -> CleanPhoto:
    kept, left_out, end = [_JPEG], [], len(data)
    profile, color_at = b"", 1
    for marker, start, end in _segments(data):
        body = data[start + 4 : end]
        if marker == _APP2 and body.startswith(_ICC):
            color_at = color_at if profile else len(kept)
            profile += body[len(_ICC) + 2 :]
            continue
        segment, gone = _listed_segment(marker, data[start:end], with_time=with_time)
        kept.append(segment)
        left_out += gone
    if end < len(data):
        left_out.append(f"{len(data) - end} bytes after the picture")
    if profile:
        color, gone = _listed_profile(profile)
        left_out += gone
        kept[color_at:color_at] = _profile_segments(color)
    return CleanPhoto(b"".join(kept), tuple(dict.fromkeys(left_out)))


def _listed_segment(marker: int, segment: bytes, *, with_time: bool) -> tuple[bytes, list[str]]:
    """What may stay of a segment, and what was left out."""
    body = segment[4:]
    if marker in _PICTURE or marker in _NO_LENGTH:
        return segment, []
    if marker == _APP0 and body.startswith(_JFIF) and len(body) >= 14:
        bare = b"\xff\xe0" + struct.pack(">H", 16) + body[:12] + b"\0\0"
        return bare, ["a thumbnail"] if len(body) > 14 else []
    if marker == _APP14 and body.startswith(_ADOBE) and len(body) >= 12:
        return b"\xff\xee" + struct.pack(">H", 14) + body[:12], []  # how the colors are stored
    if marker == _APP1 and body.startswith(_EXIF):
        exif, gone = _listed_exif(body, with_time=with_time)
        return (b"\xff\xe1" + struct.pack(">H", 2 + len(exif)) + exif if exif else b""), gone
    return b"", [_name_of(marker, body)]


def _segments(data: bytes) -> Iterator[tuple[int, int, int]]:
    """Marker, start and end of each segment after the first, a scan with its coded pixels, to the picture's end."""
    at = 2
    while True:
        if data[at] != 0xFF:
            raise CannotCleanError("it is damaged")
        while data[at + 1] == 0xFF:  # fill bytes may stand before a marker
            at += 1
        marker, start = data[at + 1], at
        at += 2
        if marker in {_SOI, 0}:
            raise CannotCleanError("it is damaged")
        if marker not in _NO_LENGTH and marker != _EOI:
            at += struct.unpack_from(">H", data, at)[0]
        if marker == _SOS:
            found = _SCAN_END.search(data, at)
            if found is None:
                raise CannotCleanError("it is cut short")
            at = found.start()
        if at > len(data):
            raise CannotCleanError("it is cut short")
        yield marker, start, at
        if marker == _EOI:
            return


_SCAN_END = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")


def _name_of(marker: int, body: bytes) -> str:
    if marker == _COM:
        return "a comment"
    if marker == _APP1 and body.startswith(_XMP):
        return "XMP"
    if marker == _APP13:
        return "IPTC"
    return f"application data {marker - _APP0}" if _APP0 <= marker <= 0xEF else f"a segment {marker:#04x}"


def _clean_png(data: bytes, *, with_time: bool) -> CleanPhoto:
    kept, left_out, at = [_PNG], [], len(_PNG)
    while True:
        length, name = struct.unpack_from(">I4s", data, at)
        end = at + 12 + length
        if end > len(data):
            raise CannotCleanError("it is cut short")
        body = data[at + 8 : end - 4]
        if name in _PICTURE_CHUNKS:
            kept.append(data[at:end])
        elif name == b"iCCP":
            inflated = zlib.decompressobj().decompress(body.partition(b"\0")[2][1:], _LONGEST_PROFILE)
            color, gone = _listed_profile(inflated)
            left_out += gone
            kept += [_chunk(b"iCCP", b"color\0\0" + zlib.compress(color))] if color else []
        elif name == b"eXIf":
            exif, gone = _listed_exif(_EXIF + body, with_time=with_time)
            left_out += gone
            kept += [_chunk(b"eXIf", exif[len(_EXIF) :])] if exif else []
        else:
            left_out.append(f"a {name.decode('latin-1')} chunk" if name.isalpha() else "a chunk of no kind")
        at = end
        if name == b"IEND":
            break
    if at < len(data):
        left_out.append(f"{len(data) - at} bytes after the picture")
    return CleanPhoto(b"".join(kept), tuple(dict.fromkeys(left_out)))


def _chunk(name: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def _listed_exif(block: bytes, *, with_time: bool) -> tuple[bytes, list[str]]:
    """The camera's data written anew with what is on the list, empty when nothing is; and the names of what is not."""
    found = Image.Exif()
    try:
        found.load(block)
        first, details = dict(found), dict(found.get_ifd(ExifTags.IFD.Exif))
        place = bool(found.get_ifd(ExifTags.IFD.GPSInfo))
        thumbnail = bool(found.get_ifd(ExifTags.IFD.IFD1))
    except Exception:  # noqa: BLE001  damaged data raises nearly anything
        return b"", ["camera data that cannot be read"]
    listed, inner = Image.Exif(), {}
    for tag in _FIRST:
        if _is_numeric(first.get(tag)):
            listed[tag] = first[tag]
    for tag in _NUMBERS:
        if _is_numeric(details.get(tag)):
            inner[int(tag)] = details[tag]
    for tag in _LENS:
        if _LENS_TEXT.fullmatch(str(details.get(tag, ""))):
            inner[int(tag)] = details[tag]
    taken = details.get(_BASE.DateTimeOriginal)
    if with_time and _TIME_TEXT.fullmatch(str(taken or "")):
        inner[int(_BASE.DateTimeOriginal)] = taken
    if inner:
        listed[ExifTags.IFD.Exif] = inner
    gone = [tag for tag in first if tag not in listed and tag not in _POINTERS]
    gone += [tag for tag in details if tag not in inner and tag not in _POINTERS]
    names = ["a position"] if place else []
    names += ["a thumbnail"] if thumbnail else []
    names += [ExifTags.TAGS.get(tag, f"tag {tag}") for tag in gone if tag != ExifTags.IFD.GPSInfo]
    return (listed.tobytes() if dict(listed) else b""), names


def _is_numeric(value: object) -> bool:
    values = value if isinstance(value, tuple) else (value,)
    return 0 < len(values) <= 4 and all(hasattr(one, "__float__") and not isinstance(one, str) for one in values)


def _listed_profile(profile: bytes) -> tuple[bytes, list[str]]:
    """A color profile with nothing but what turns its numbers into colors, empty when it is none; what was left out."""
    try:
        if profile[36:40] != b"acsp":
            return b"", ["a color profile that cannot be read"]
        (count,) = struct.unpack_from(">I", profile, 128)
        rows = [struct.unpack_from(">4sII", profile, 132 + 12 * number) for number in range(min(count, 100))]
    except struct.error:
        return b"", ["a color profile that cannot be read"]
    blocks = {name: profile[start : start + size] for name, start, size in rows}
    kept = {name: one for name, one in blocks.items() if name in _COLOR_TAGS and one[:4] in _COLOR_TYPES}
    # the name says which space is meant, and readers skip what they know
    named = b"sRGB" if b"sRGB" in blocks.get(b"desc", b"").replace(b"\0", b"") else b"RGB"
    kept[b"desc"] = b"desc\0\0\0\0" + struct.pack(">I", len(named) + 1) + named + bytes(1 + 4 + 4 + 2 + 1 + 67)
    table, bodies = struct.pack(">I", len(kept)), b""
    for name, one in kept.items():
        at = 132 + 12 * len(kept) + len(bodies)
        table += struct.pack(">4sII", name, at, len(one))
        bodies += one + bytes(-len(one) % 4)
    # of the header: version, classes, color spaces, signature, intent, white point; no maker, model, date or identity
    header = bytearray(128)
    for start, end in ((8, 24), (36, 40), (64, 80)):
        header[start:end] = profile[start:end]
    header[8:12] = b"\x02\x10\0\0" if profile[8] < 4 else b"\x04\x30\0\0"
    clean = bytes(header) + table + bodies
    clean = struct.pack(">I", len(clean)) + clean[4:]
    gone = [name for name, one in blocks.items() if kept.get(name) != one]
    return clean, ["words of the color profile"] if gone else []


def _profile_segments(profile: bytes) -> list[bytes]:
    most = 65_000
    parts = [profile[start : start + most] for start in range(0, len(profile), most)]
    return [
        b"\xff\xe2" + struct.pack(">H", 2 + len(_ICC) + 2 + len(part)) + _ICC + bytes((number, len(parts))) + part
        for number, part in enumerate(parts, 1)
    ]
