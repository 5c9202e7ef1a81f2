"""A photo for others keeps its pixels' own bytes and a short list of what came with them, wherever a place was told."""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Callable

import numpy as np
import pytest
from PIL import ExifTags, Image, ImageCms, IptcImagePlugin, PngImagePlugin

from cutvision.imaging.clean_photo import CannotCleanError, clean_photo

# A made-up place, in the spellings that files use: none of them may be found in a cleaned file, packed or not.
PLACE = "51.50431N 0.12757W Musterstadt"
TOWN = "Musterstadt"
SPELT = [TOWN.encode(), TOWN.encode("utf-16-le"), TOWN.encode("utf-16-be"), TOWN.encode().hex().encode()]
XMP_ELEMENT = (
    '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF><rdf:Description rdf:about="">'
    f'<exif:GPSLatitude xml:lang="x-default">{PLACE}</exif:GPSLatitude></rdf:Description></rdf:RDF></x:xmpmeta>'
)
HALF = XMP_ELEMENT.index(PLACE) + 10
BASE = ExifTags.Base


def pixels() -> Image.Image:
    """A picture of noise, which shows any change."""
    return Image.fromarray(np.random.default_rng(1).integers(0, 255, (48, 64, 3), dtype=np.uint8))


def exif(**more: object) -> Image.Exif:
    """Camera data with all that is on the list, and more."""
    found = Image.Exif()
    found[BASE.Orientation] = 6
    found[ExifTags.IFD.Exif] = {
        BASE.FocalLength: 4.25,
        BASE.FocalLengthIn35mmFilm: 26,
        BASE.LensModel: "back camera 4.25mm f/1.8",
        BASE.ExposureTime: 0.01,
        BASE.FNumber: 1.8,
        BASE.ISOSpeedRatings: 64,
        BASE.ExifImageWidth: 64,
        BASE.ExifImageHeight: 48,
        BASE.DateTimeOriginal: "2026:01:05 09:30:00",
        **more.pop("details", {}),  # type: ignore[dict-item]
    }
    for tag, value in more.items():
        found[ExifTags.IFD.GPSInfo if tag == "GPSInfo" else BASE[tag]] = value
    return found


def jpeg(**options: object) -> bytes:
    """The picture as JPEG."""
    out = io.BytesIO()
    pixels().save(out, "JPEG", **{"exif": exif(), **options})
    return out.getvalue()


def with_segment(marker: int, body: bytes, data: bytes | None = None) -> bytes:
    """A JPEG with one more segment, before its first table."""
    whole = data or jpeg()
    at = whole.index(b"\xff\xdb")
    return whole[:at] + bytes((0xFF, marker)) + struct.pack(">H", 2 + len(body)) + body + whole[at:]


def png(**options: object) -> bytes:
    """The picture as PNG."""
    out = io.BytesIO()
    pixels().save(out, "PNG", **{"exif": exif(), **options})
    return out.getvalue()


def png_text(*, packed: bool) -> bytes:
    """A PNG whose XMP tells the place, packed or not."""
    told = PngImagePlugin.PngInfo()
    told.add_itxt("XML:com.adobe.xmp", XMP_ELEMENT, zip=packed)
    return png(pnginfo=told)


def raw_profile() -> bytes:
    """A PNG with a profile that image programs pack into text, in hexadecimal."""
    told = PngImagePlugin.PngInfo()
    told.add_text("Raw profile type exif", PLACE.encode().hex(), zip=True)
    return png(pnginfo=told)


def iptc() -> bytes:
    """A JPEG whose IPTC names the city."""
    city = PLACE.encode()
    record = b"\x1c\x02\x5a" + struct.pack(">H", len(city)) + city
    block = b"Photoshop 3.0\0" + b"8BIM\x04\x04\0\0" + struct.pack(">I", len(record)) + record
    return with_segment(0xED, block)


def named_color() -> bytes:
    """A JPEG whose color profile has the place for a name."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    name = b"desc\0\0\0\0" + struct.pack(">I", len(PLACE) + 1) + PLACE.encode() + bytes(79)
    count = struct.unpack_from(">I", profile, 128)[0]
    for row in range(132, 132 + 12 * count, 12):
        if profile[row : row + 4] == b"desc":
            profile = profile[: row + 4] + struct.pack(">II", len(profile), len(name)) + profile[row + 12 :] + name
    return jpeg(icc_profile=profile)


def second_picture() -> bytes:
    """Two pictures in one file, of which the second has the place."""
    out = io.BytesIO()
    other = pixels()
    other.encoderinfo = {"exif": exif(ImageDescription=PLACE)}
    pixels().save(out, "MPO", save_all=True, append_images=[other], exif=exif())
    return out.getvalue()


WITH_PLACE: dict[str, Callable[[], bytes]] = {
    "GPS directory": lambda: jpeg(exif=exif(GPSInfo={1: "N", 2: (51.0, 30.0, 15.5), 29: PLACE})),
    "a description in the camera data": lambda: jpeg(exif=exif(ImageDescription=PLACE)),
    "maker's notes": lambda: jpeg(exif=exif(details={BASE.MakerNote: PLACE.encode()})),
    "XMP, element with an attribute": lambda: with_segment(
        0xE1, b"http://ns.adobe.com/xap/1.0/\0" + XMP_ELEMENT.encode()
    ),
    "XMP in UTF-16": lambda: with_segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0" + XMP_ELEMENT.encode("utf-16")),
    "XMP split in two": lambda: with_segment(
        0xE1,
        b"http://ns.adobe.com/xmp/extension/\0" + XMP_ELEMENT[HALF:].encode(),
        with_segment(0xE1, b"http://ns.adobe.com/xmp/extension/\0" + XMP_ELEMENT[:HALF].encode()),
    ),
    "a comment": lambda: with_segment(0xFE, PLACE.encode()),
    "IPTC": iptc,
    "after the picture": lambda: jpeg() + PLACE.encode(),
    "a second picture": second_picture,
    "a lens's name": lambda: jpeg(exif=exif(details={BASE.LensModel: PLACE * 5})),
    "a color profile's name": named_color,
    "an application's own segment": lambda: with_segment(0xEB, PLACE.encode()),
    "PNG, XMP": lambda: png_text(packed=False),
    "PNG, XMP packed": lambda: png_text(packed=True),
    "PNG, camera data": lambda: png(exif=exif(GPSInfo={29: PLACE}, Artist=PLACE)),
    "PNG, a raw profile": raw_profile,
    "PNG, a chunk of another program": lambda: png()[:33] + chunk(b"plAc", PLACE.encode()) + png()[33:],
    "PNG, after the picture": lambda: png() + PLACE.encode(),
}


def chunk(name: bytes, body: bytes) -> bytes:
    """A chunk of a PNG."""
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def unpacked(data: bytes) -> bytes:
    """The file, and all in it that zlib can unpack."""
    found = [data]
    for at in range(len(data) - 1):
        if data[at] == 0x78 and (data[at] * 256 + data[at + 1]) % 31 == 0:
            try:
                found.append(zlib.decompressobj().decompress(data[at:], 1_000_000))
            except zlib.error:
                continue
    return b"|".join(found)


@pytest.mark.parametrize("make", WITH_PLACE.values(), ids=WITH_PLACE)
def test_no_place_is_left(make: Callable[[], bytes]) -> None:
    """Wherever a file tells a place, the cleaned one does not, and says what was left out; the pixels are the same."""
    data = make()
    clean = clean_photo(data)
    assert clean.left_out
    with Image.open(io.BytesIO(data)) as was, Image.open(io.BytesIO(clean.data)) as now:
        assert was.tobytes() == now.tobytes()
        assert not now.getexif().get_ifd(ExifTags.IFD.GPSInfo)
        assert not IptcImagePlugin.getiptcinfo(now)
    assert any(one in unpacked(data) for one in SPELT)
    assert not any(one in unpacked(clean.data) for one in SPELT)
    again = clean_photo(clean.data)
    assert (again.data, again.left_out) == (clean.data, ())


@pytest.mark.parametrize("make", [jpeg, png])
def test_what_is_on_the_list_stays(make: Callable[..., bytes]) -> None:
    """Orientation, focal length, lens, exposure and size are kept; the time only when it is wanted."""
    data = make()
    for with_time in (False, True):
        clean = clean_photo(data, with_time=with_time)
        with Image.open(io.BytesIO(clean.data)) as now:
            kept = now.getexif()
            details = kept.get_ifd(ExifTags.IFD.Exif)
        assert kept[BASE.Orientation] == 6
        assert float(details[BASE.FocalLength]) == 4.25
        assert (details[BASE.FocalLengthIn35mmFilm], details[BASE.ISOSpeedRatings]) == (26, 64)
        assert details[BASE.LensModel] == "back camera 4.25mm f/1.8"
        assert (float(details[BASE.ExposureTime]), float(details[BASE.FNumber])) == (0.01, 1.8)
        assert (details[BASE.ExifImageWidth], details[BASE.ExifImageHeight]) == (64, 48)
        assert (BASE.DateTimeOriginal in details) is with_time
        assert clean.left_out == (() if with_time else ("DateTimeOriginal",))


def test_the_coded_pixels_are_the_same_bytes() -> None:
    """From the first table on, a cleaned JPEG is the file as it came, scan by scan, progressive or not."""
    for options in ({}, {"progressive": True}, {"restart_marker_blocks": 2}):
        data = jpeg(comment=PLACE, **options)
        clean = clean_photo(data)
        assert clean.data[clean.data.index(b"\xff\xdb") :] == data[data.index(b"\xff\xdb") :]
        assert "a comment" in clean.left_out


def test_the_colors_stay() -> None:
    """A profile keeps what turns numbers into colors: the same picture in sRGB, though its words are gone."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))
    with Image.open(io.BytesIO(clean_photo(named_color()).data)) as now:
        kept = ImageCms.ImageCmsProfile(io.BytesIO(now.info["icc_profile"]))
        assert "sRGB" not in (kept.profile.profile_description or "")
        turned = ImageCms.profileToProfile(now, kept, profile, outputMode="RGB")
        assert turned is not None
        assert np.abs(np.asarray(turned).astype(int) - np.asarray(now).astype(int)).max() <= 1
    named = clean_photo(png(icc_profile=profile.tobytes()))
    with Image.open(io.BytesIO(named.data)) as now:
        kept = ImageCms.ImageCmsProfile(io.BytesIO(now.info["icc_profile"]))
        assert "sRGB" in (kept.profile.profile_description or "")


def test_a_spoilt_profile_goes() -> None:
    """What is no color profile is left out."""
    for profile in (b"x" * 20, b"x" * 200, (bytes(36) + b"acsp").ljust(130, b"\0")):
        clean = clean_photo(jpeg(icc_profile=profile))
        assert "a color profile that cannot be read" in clean.left_out
        assert b"ICC_PROFILE" not in clean.data


def test_thumbnails_go() -> None:
    """A small picture before or in the camera data shows what the large one no longer does."""
    first = jpeg(exif=b"")
    at = first.index(b"JFIF\0") - 2
    small = first[at + 2 : at + 14] + b"\x01\x01" + b"rgb"
    data = first[:at] + struct.pack(">H", 2 + len(small)) + small + first[first.index(b"\xff\xdb") :]
    clean = clean_photo(data)
    assert clean.left_out == ("a thumbnail",)
    assert b"rgb" not in clean.data


def test_spoilt_camera_data_goes() -> None:
    """Camera data that cannot be read is left out whole."""
    clean = clean_photo(with_segment(0xE1, b"Exif\0\0" + PLACE.encode(), jpeg(exif=b"")))
    assert clean.left_out == ("camera data that cannot be read",)
    assert PLACE.encode() not in clean.data


@pytest.mark.parametrize("kind", ["TIFF", "WEBP", "HEIF", "BMP"])
def test_other_kinds_are_named(kind: str) -> None:
    """What cannot be cleaned with its bytes as they are is refused by name."""
    if kind == "HEIF":
        data = b"\0\0\0\x18ftypheic"
    else:
        out = io.BytesIO()
        pixels().save(out, kind)
        data = out.getvalue()
    names = {"TIFF": "a TIFF", "WEBP": "a WebP", "HEIF": "a HEIC or AVIF", "BMP": "a file of this kind"}
    with pytest.raises(CannotCleanError, match=names[kind]):
        clean_photo(data)


@pytest.mark.parametrize("make", [jpeg, png])
def test_whatever_is_cut_short_is_refused(make: Callable[[], bytes]) -> None:
    """A file cut anywhere is cleaned of nothing, and not handed on."""
    data = make()
    for length in [*range(2, 700, 7), len(data) - 13, len(data) - 1]:
        with pytest.raises(CannotCleanError):
            clean_photo(data[:length])


def test_rubbish_between_segments_is_refused() -> None:
    """Bytes that are no segment, and a second beginning, are damage."""
    data = jpeg()
    at = data.index(b"\xff\xdb")
    for rubbish in (b"rubbish", b"\xff\xd8", b"\xff\x00"):
        with pytest.raises(CannotCleanError, match="damaged"):
            clean_photo(data[:at] + rubbish + data[at:])
    filled = clean_photo(data[:at] + b"\xff\xff" + data[at:])
    with Image.open(io.BytesIO(filled.data)) as now, Image.open(io.BytesIO(data)) as was:
        assert now.tobytes() == was.tobytes()
