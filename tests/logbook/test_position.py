"""A photo's GPS position is taken out of a copy without touching a pixel, whatever the file's kind."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import ExifTags, Image, TiffImagePlugin

from cutvision.logbook.position import without_position

SIZE = (64, 48)
# A made-up place: 51 deg 30' 15.5" N, 0 deg 7' 39.25" W.
LATITUDE, LONGITUDE = (51.0, 30.0, 15.5), (0.0, 7.0, 39.25)
# A photo with an embedded position in XMP as attributes and as elements, layout by Adobe's XMP specification, part 2.
XMP = (
    b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:Description exif:GPSLatitude="51,30.258N" exif:Other="kept">'
    b"<exif:GPSLongitude>0,7.654W</exif:GPSLongitude></rdf:Description></x:xmpmeta>"
)


def picture(kind: str, *, gps: bool = True, order: str = "<") -> bytes:
    """A small picture with a camera's name and, with `gps`, a place."""
    image = Image.fromarray(np.random.default_rng(1).integers(0, 255, (SIZE[1], SIZE[0], 3), dtype=np.uint8))
    out = io.BytesIO()
    place = {1: "N", 2: LATITUDE, 3: "W", 4: LONGITUDE, 29: "2026:01:05"}
    if kind == "TIFF":  # whose directory is the file's own
        tags = TiffImagePlugin.ImageFileDirectory_v2(b"II*\0\0\0\0\0" if order == "<" else b"MM\0*\0\0\0\0")
        tags.update({ExifTags.Base.Model: "Phone", ExifTags.Base.Orientation: 6})
        if gps:
            tags[ExifTags.IFD.GPSInfo] = place
        image.save(out, kind, tiffinfo=tags)
        return out.getvalue()
    exif = Image.Exif()
    exif.endian = order
    exif[ExifTags.Base.Model] = "Phone"
    exif[ExifTags.Base.Orientation] = 6
    if gps:
        exif[ExifTags.IFD.GPSInfo] = place
    image.save(out, kind, exif=exif)
    return out.getvalue()


def place_in(data: bytes) -> dict[int, object]:
    """The GPS directory as Pillow reads it."""
    with Image.open(io.BytesIO(data)) as image:
        return dict(image.getexif().get_ifd(ExifTags.IFD.GPSInfo))


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF"])
def test_the_position_goes_and_the_picture_stays(kind: str, order: str) -> None:
    """The place is gone, its numbers nowhere in the file, while pixels, camera and turn stay, at the same length."""
    data = picture(kind, order=order)
    assert place_in(data)[2] == LATITUDE
    blanked = without_position(data)
    assert blanked is not None
    assert len(blanked) == len(data)
    assert not place_in(blanked)
    assert b"2026:01:05" in data
    assert b"2026:01:05" not in blanked
    with Image.open(io.BytesIO(data)) as one, Image.open(io.BytesIO(blanked)) as other:
        assert np.array_equal(np.asarray(one), np.asarray(other))
        was, now = ({k: v for k, v in i.getexif().items() if k != ExifTags.IFD.GPSInfo} for i in (one, other))
        assert was == now
        assert now[ExifTags.Base.Model] == "Phone"


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF"])
def test_a_picture_without_a_position_stays_as_it_is(kind: str) -> None:
    """No byte changes when there is nothing to take out."""
    data = picture(kind, gps=False)
    assert without_position(data) == data


def test_the_position_in_xmp_goes_too() -> None:
    """A place told in a JPEG's XMP is blanked, in attributes and elements, and the rest of it stays."""
    out = io.BytesIO()
    Image.new("RGB", SIZE).save(out, "JPEG", xmp=XMP)
    blanked = without_position(out.getvalue())
    assert blanked is not None
    for told in (b"51,30.258N", b"0,7.654W"):
        assert told in out.getvalue()
        assert told not in blanked
    assert b'exif:Other="kept"' in blanked
    with Image.open(io.BytesIO(blanked)) as image:
        image.load()


def test_what_cannot_be_looked_into_is_not_let_out() -> None:
    """A profile packed into text, or a place in a PNG's XMP text, cannot be taken out: there is no such copy."""
    assert without_position(b"\x89PNG\r\n\x1a\n ... Raw profile type exif ...") is None
    assert without_position(b"\x89PNG\r\n\x1a\n" + XMP) is None


def test_rubbish_is_left_alone() -> None:
    """Headers that lead nowhere, to themselves or past the end change nothing and break nothing."""
    for tail in (b"", b"\x08\0\0\0", b"\xff" * 8, b"\x08\0\0\0\xff\xff" + b"\xff" * 40, b"\x08\0\0\0\x01\0"):
        for head in (b"II*\0", b"MM\0*"):
            data = b"junk" + head + tail
            assert without_position(data) == data
