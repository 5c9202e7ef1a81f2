"""Photos are decoded from their bytes, upright and in sRGB; anything else is refused in words.

The pictures here are made by Pillow on the spot. The meaning of the eight orientation values is that of the EXIF
standard (JEITA CP-3451, tag Orientation), from memory.
"""

from __future__ import annotations

import hashlib
import io
import os
import struct
import sys
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms

from cutvision.errors import PhotoRefused
from cutvision.imaging.photo import ExifFacts, Photo, read_photo, read_photo_file

ORIENTATION, MAKE, MODEL = 0x0112, 0x010F, 0x0110
EXIF_IFD, LENS, FOCAL, FOCAL_35MM, ZOOM, WIDTH, HEIGHT = 0x8769, 0xA434, 0x920A, 0xA405, 0xA404, 0xA002, 0xA003
JPEG_LEVELS = 12  # 8-bit levels by which a flat patch may move through JPEG at quality 95
STORED_AS_SHOWN = {  # orientation -> how the upright picture lies in the file
    1: lambda a: a,
    2: np.fliplr,
    3: lambda a: np.rot90(a, 2),
    4: np.flipud,
    5: lambda a: a.transpose(1, 0, 2),
    6: lambda a: np.rot90(a, 1),
    7: lambda a: np.rot90(a, 2).transpose(1, 0, 2),
    8: lambda a: np.rot90(a, -1),
}


def scene(height: int = 240, width: int = 320) -> np.ndarray:
    """(H, W, 3) uint8: grey with a red patch at the top left and a blue one at the bottom left."""
    picture = np.full((height, width, 3), 128, np.uint8)
    picture[:80, :120] = (200, 30, 30)
    picture[-80:, :120] = (30, 30, 200)
    return picture


def encoded(picture: np.ndarray | Image.Image, kind: str, **options: object) -> bytes:
    """A file's bytes in the format `kind`."""
    image = picture if isinstance(picture, Image.Image) else Image.fromarray(picture)
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def oriented(value: int) -> Image.Exif:
    """EXIF that says no more than how the picture lies."""
    exif = Image.Exif()
    exif[ORIENTATION] = value
    return exif


def close(photo: Photo, picture: np.ndarray, levels: int) -> bool:
    """Whether the patches' middles agree to `levels`."""
    places = [(40, 60), (-40, 60), (120, 250)]
    return photo.stored.shape == picture.shape and all(
        np.abs(photo.stored[at].astype(int) - picture[at].astype(int)).max() <= levels for at in places
    )


def refusal_of(data: bytes) -> PhotoRefused:
    """The refusal that these bytes meet."""
    with pytest.raises(PhotoRefused) as caught:
        read_photo(data, "photo.jpg")
    assert caught.value.file == "photo.jpg"
    assert caught.value.message
    assert caught.value.remedy
    return caught.value


@pytest.mark.parametrize("value", STORED_AS_SHOWN)
@pytest.mark.parametrize(("kind", "levels"), [("JPEG", JPEG_LEVELS), ("PNG", 0), ("TIFF", 0), ("WEBP", 0)])
def test_every_orientation_comes_out_upright(kind: str, levels: int, value: int) -> None:
    """Whichever way the camera was held, the pixels stand as the scene did."""
    stored = np.ascontiguousarray(STORED_AS_SHOWN[value](scene()))
    options = {"quality": 95} if kind == "JPEG" else {"lossless": True} if kind == "WEBP" else {}
    photo = read_photo(encoded(stored, kind, exif=oriented(value), **options), "p")
    assert close(photo, scene(), levels)


def test_a_phones_mpo_gives_its_first_frame() -> None:
    """A JPEG that holds a second picture (MPO) is a photo like any other: frame 0 counts."""
    second = Image.fromarray(np.zeros((240, 320, 3), np.uint8))
    data = encoded(scene(), "MPO", save_all=True, append_images=[second], quality=95)
    assert close(read_photo(data, "p.jpg"), scene(), JPEG_LEVELS)


def test_a_heic_is_turned_once() -> None:
    """A HEIC that says twice how it lies (container and EXIF) is turned by the container alone, as HEIF wants it."""
    pillow_heif = pytest.importorskip("pillow_heif")
    stored = np.ascontiguousarray(STORED_AS_SHOWN[6](scene()))
    heif = pillow_heif.from_pillow(Image.fromarray(stored))
    heif[0].info["exif"] = oriented(6).tobytes()
    out = io.BytesIO()
    heif.save(out, quality=95)
    assert b"irot" in out.getvalue()
    assert close(read_photo(out.getvalue(), "p.jpg"), scene(), 2 * JPEG_LEVELS)


def test_a_heic_without_its_reader_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the extra a HEIC is refused with the extra's name and the phone's setting."""
    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    refusal = refusal_of(struct.pack(">I", 24) + b"ftypheic" + bytes(12))
    assert refusal.reason == "unreadable"
    assert "cutvision[heic]" in refusal.remedy
    assert "Most Compatible" in refusal.remedy


def test_the_name_does_not_say_what_the_bytes_are(tmp_path: Path) -> None:
    """A PNG named .jpg, with spaces and letters outside ASCII, is read as the PNG that it is."""
    path = tmp_path / "mitre à 45° früh 1.jpg"
    data = encoded(scene(), "PNG")
    path.write_bytes(data)
    photo = read_photo_file(path)
    assert close(photo, scene(), 0)
    assert photo.name == str(path)
    assert photo.sha256 == hashlib.sha256(data).hexdigest()
    assert path.read_bytes() == data


def test_sixteen_bit_grey_is_read() -> None:
    """16-bit grey comes out as its upper 8 bits, equal in all three channels."""
    grey = np.arange(240 * 320, dtype=np.uint16).reshape(240, 320)
    for kind in ("PNG", "TIFF"):
        photo = read_photo(encoded(grey, kind), "p")
        assert photo.stored.dtype == np.uint8
        assert np.array_equal(photo.stored, np.repeat((grey >> 8)[:, :, None], 3, axis=2))


def png(width: int, height: int, depth: int, rows: bytes) -> bytes:
    """A colour PNG that Pillow does not write. Source: W3C PNG, chunks IHDR, IDAT, IEND."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    header = struct.pack(">IIBBBBB", width, height, depth, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


def test_sixteen_bit_colour_is_read() -> None:
    """16-bit colour comes out with the same colour, to one 8-bit level."""
    photo = read_photo(png(320, 240, 16, (b"\0" + struct.pack(">3H", 51400, 7710, 25700) * 320) * 240), "p")
    assert np.allclose(photo.stored[100, 100] / 255, np.array([51400, 7710, 25700]) / 65535, atol=1 / 255)


@pytest.mark.parametrize("mode", ["L", "1", "P", "LA", "RGBA", "CMYK"])
def test_every_common_mode_becomes_colour(mode: str) -> None:
    """Grey, palette, see-through and four-colour pictures all give (H, W, 3) uint8, white staying white."""
    picture = Image.new("RGB", (320, 240), "white").convert(mode)
    kind = "TIFF" if mode == "CMYK" else "PNG"
    photo = read_photo(encoded(picture, kind), "p")
    assert photo.stored.shape == (240, 320, 3)
    assert photo.stored.dtype == np.uint8
    assert photo.stored.min() == 255


def test_what_can_be_seen_through_shows_white_paper() -> None:
    """A wholly transparent pixel counts as white, whatever colour hides under it."""
    photo = read_photo(encoded(Image.new("RGBA", (320, 240), (10, 20, 30, 0)), "PNG"), "p")
    assert photo.stored.min() == 255


def display_p3() -> bytes:
    """A matrix profile with the primaries of Display P3 and sRGB's curve.

    Source: the D50-adapted primaries (rXYZ, gXYZ, bXYZ) of Apple's Display P3 profile, from memory; each column sums to
    the D50 white (0.9642, 1, 0.8249) of ICC.1:2010 to rounding, which is checked here.
    """
    columns = {
        b"rXYZ": (0.51512, 0.24120, -0.00105),
        b"gXYZ": (0.29198, 0.69225, 0.04189),
        b"bXYZ": (0.15710, 0.06657, 0.78407),
    }
    assert np.allclose(np.sum(list(columns.values()), axis=0), (0.9642, 1.0, 0.8249), atol=2e-4)

    def s15(values: tuple[float, ...]) -> bytes:
        return b"".join(struct.pack(">i", round(v * 65536)) for v in values)

    curve = b"para\0\0\0\0" + struct.pack(">HH", 3, 0) + s15((2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045))
    text = b"desc\0\0\0\0" + struct.pack(">I", 11) + b"Display P3\0" + bytes(78)
    tags = {name: b"XYZ \0\0\0\0" + s15(xyz) for name, xyz in columns.items()}
    tags |= {b"rTRC": curve, b"gTRC": curve, b"bTRC": curve, b"desc": text, b"cprt": b"text\0\0\0\0none\0"}
    tags[b"wtpt"] = b"XYZ \0\0\0\0" + s15((0.9642, 1.0, 0.8249))
    table, body, start = b"", b"", 128 + 4 + 12 * len(tags)
    for name, value in tags.items():
        padded = value + bytes(-len(value) % 4)
        table += name + struct.pack(">II", start + len(body), len(value))
        body += padded
    head = struct.pack(">I4sI4s4s4s", 0, b"\0\0\0\0", 0x02400000, b"mntr", b"RGB ", b"XYZ ") + bytes(12) + b"acsp"
    head += bytes(28) + s15((0.9642, 1.0, 0.8249))
    head += bytes(128 - len(head))
    profile = head + struct.pack(">I", len(tags)) + table + body
    return struct.pack(">I", len(profile)) + profile[4:]


def test_display_p3_is_brought_to_srgb() -> None:
    """A colour stored in Display P3 comes out as the same colour in sRGB, to 2 or 3 levels; grey is left as it is.

    Source: closed form, from the linear Display P3 to linear sRGB matrix of CSS Color 4 (W3C), from memory, rounded.
    """
    matrix = np.array([[1.22494, -0.22494, 0.0], [-0.04206, 1.04206, 0.0], [-0.01964, -0.07864, 1.09827]])
    wood = np.array([200, 150, 100])
    linear = ((wood / 255 + 0.055) / 1.055) ** 2.4
    expected = 255 * (1.055 * (matrix @ linear) ** (1 / 2.4) - 0.055)
    picture = np.full((240, 320, 3), 128, np.uint8)
    picture[:, 160:] = wood
    for kind, levels in (("PNG", 2), ("JPEG", 3)):
        photo = read_photo(encoded(picture, kind, icc_profile=display_p3(), quality=95), "p")
        assert np.abs(photo.stored[100, 300] - expected).max() <= levels
        assert np.abs(photo.stored[100, 50].astype(int) - 128).max() <= 1
    assert np.abs(expected - wood).max() > 5


def test_a_broken_profile_does_not_break_the_photo() -> None:
    """A photo whose colour profile is damaged, or is sRGB, is read as it is stored."""
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    for profile in (b"nonsense", srgb):
        assert close(read_photo(encoded(scene(), "PNG", icc_profile=profile), "p"), scene(), 0)


def test_pixels_cannot_be_changed_by_accident() -> None:
    """The decoded pixels are read-only: nothing downstream can alter the evidence."""
    photo = read_photo(encoded(scene(), "PNG"), "p")
    with pytest.raises(ValueError, match="read-only"):
        photo.stored[0, 0, 0] = 1


def camera_jpeg(picture: np.ndarray, **details: object) -> bytes:
    """A JPEG with a camera's EXIF; details by tag name of the Exif block."""
    exif = Image.Exif()
    exif[MAKE], exif[MODEL] = "Maker\0\0", " Phone  9 "
    tags = {"lens": LENS, "focal": FOCAL, "focal_35mm": FOCAL_35MM, "zoom": ZOOM, "width": WIDTH, "height": HEIGHT}
    exif.get_ifd(EXIF_IFD).update({tags[name]: value for name, value in details.items()})
    return encoded(picture, "JPEG", exif=exif)


def test_exif_facts_are_read_and_cleaned() -> None:
    """Maker, model, lens and focal lengths come from EXIF, without padding; zero means not known."""
    photo = read_photo(camera_jpeg(scene(), lens="wide 26 mm", focal=5.8, focal_35mm=26, zoom=0.0), "p")
    assert photo.exif == ExifFacts("Maker", "Phone 9", "wide 26 mm", pytest.approx(5.8), 26.0, None, None)
    assert photo.notes == ()


def test_damaged_exif_is_no_reason_to_refuse() -> None:
    """EXIF of random bytes gives no facts and a photo all the same."""
    photo = read_photo(encoded(scene(), "JPEG", quality=95, exif=b"Exif\0\0II*\0" + b"\xff" * 40), "p")
    assert close(photo, scene(), JPEG_LEVELS)
    assert photo.exif == ExifFacts()


@pytest.mark.parametrize(
    ("data", "word"),
    [
        (encoded(scene(), "JPEG"), "chat"),
        (encoded(scene(), "PNG"), "screenshot"),
        (camera_jpeg(scene(), zoom=2.0), "digital zoom 2"),
        (camera_jpeg(scene(220, 900)), "panorama"),
        (camera_jpeg(scene(), width=4000, height=2000, focal_35mm=26), "cropped"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_lowers_trust_is_noted(data: bytes, word: str) -> None:
    """A shrunk, zoomed, cropped, stitched or screen-copied photo is measured, and says so."""
    photo = read_photo(data, "p")
    assert [word in note for note in photo.notes] == [True]
    assert photo.exif.focal_35mm is None


def animated(kind: str) -> bytes:
    """Two frames, one black and one white."""
    return encoded(
        Image.new("RGB", (320, 240)),
        kind,
        save_all=True,
        append_images=[Image.new("RGB", (320, 240), "white")],
        duration=99,
    )


WHOLE_JPEG = encoded(scene(1200, 1600), "JPEG")


@pytest.mark.parametrize(
    ("data", "reason", "word"),
    [
        (b"", "unreadable", "empty"),
        (b"not a photo at all, though it is named so", "unreadable", "not a picture"),
        (b"%PDF-1.7", "unreadable", "document"),
        (WHOLE_JPEG[: len(WHOLE_JPEG) // 2], "unreadable", "cut short"),
        (WHOLE_JPEG[:-2], "unreadable", "cut short"),
        (encoded(scene(1200, 1600), "JPEG", progressive=True)[:-400], "unreadable", "cut short"),
        (WHOLE_JPEG[:60], "unreadable", ""),
        (encoded(scene(), "PNG")[:-400], "unreadable", "cut short"),
        (animated("GIF"), "unreadable", "GIF"),
        (encoded(scene(), "GIF"), "unreadable", "GIF"),
        (b"\0\0\0\x1cftypavif\0\0\0\0avifmif1miaf", "unreadable", "AVIF"),
        (encoded(scene(), "BMP"), "unreadable", "BMP"),
        (encoded(scene(), "JPEG2000"), "unreadable", "JPEG 2000"),
        (encoded(scene(), "JPEG2000", no_jp2=True), "unreadable", "JPEG 2000"),
        (animated("WEBP"), "unreadable", "animation"),
        (animated("PNG"), "unreadable", "animation"),
        (png(30000, 30000, 8, b""), "unreadable", "million pixels"),
        (png(12500, 10000, 8, b""), "unreadable", "125 million"),
        (encoded(Image.new("RGB", (1, 1)), "PNG"), "no-target", "1 x 1"),
        (encoded(Image.new("F", (320, 240)), "TIFF"), "unreadable", "fractions"),
        (encoded(Image.new("I", (320, 240), 1 << 20), "TIFF"), "unreadable", "32 bits"),
        (encoded(scene(), "TIFF", tiffinfo={254: 1}), "unreadable", "raw"),
    ],
    ids=lambda value: value or "any" if isinstance(value, str) else "",
)
def test_what_is_no_photo_is_refused_in_words(data: bytes, reason: str, word: str) -> None:
    """Each kind of bad file meets the right reason and a message that says what it is."""
    refusal = refusal_of(data)
    assert refusal.reason == reason
    assert word in refusal.message


def test_a_path_that_cannot_be_read_is_refused(tmp_path: Path) -> None:
    """A missing file and a folder are refused by name."""
    for path, word in ((tmp_path / "nowhere.jpg", "no file"), (tmp_path, "folder")):
        with pytest.raises(PhotoRefused, match=word) as caught:
            read_photo_file(path)
        assert caught.value.reason == "unreadable"
        assert caught.value.file == str(path)


def test_a_forbidden_file_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that may not be read is told from one that is not there."""

    def forbidden(*_: object) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", forbidden)
    with pytest.raises(PhotoRefused, match="not allowed"):
        read_photo_file(tmp_path / "p.jpg")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_is_refused_instead_of_waited_for(tmp_path: Path) -> None:
    """A named pipe that nobody writes to would never end."""
    os.mkfifo(tmp_path / "photo.jpg")
    with pytest.raises(PhotoRefused, match="pipe") as refused:
        read_photo_file(tmp_path / "photo.jpg")
    assert refused.value.reason == "unreadable"
