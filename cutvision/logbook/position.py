"""Taking a photo's GPS position out of a copy of its file, without touching a pixel: bytes are blanked in place.

Source of the layout: CIPA DC-008 (Exif), 4.6: a TIFF header, its first directory, tag 0x8825 leading to the GPS
directory. Such headers are looked for everywhere in the file, since containers differ (JPEG, HEIC, WebP, TIFF, PNG).
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Iterator

_HEADERS = re.compile(rb"II\*\x00|MM\x00\*")
_GPS_TAG = 0x8825
_SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4}
_MOST_ENTRIES = 200
# XMP tells the position as attributes or as elements; both are blanked, with the words in place of a value.
_XMP = re.compile(rb"""GPS[A-Za-z]{2,30}\s*=\s*("[^"]{0,200}"|'[^']{0,200}')|GPS[A-Za-z]{2,30}>([^<>]{1,200})<""")
# Profiles that image programs pack into text; what they hold is not looked into.
_PACKED = (b"Raw profile type exif", b"Raw profile type APP1", b"Raw profile type xmp")


def without_position(data: bytes) -> bytes | None:
    """The file without its GPS position, equally long; the same bytes when it holds none.

    None when it may hold one that cannot be taken out.
    """
    if any(mark in data for mark in _PACKED):
        return None
    blanked = bytearray(data)
    for header in _HEADERS.finditer(data):
        for start, length in _position_parts(data, header.start()):
            blanked[start : start + length] = bytes(length)
        _mend_png(data, blanked, header.start())
    for found in _XMP.finditer(data):
        group = 1 if found[1] is not None else 2
        start, end = found.span(group)
        quotes = 1 if group == 1 else 0
        blanked[start + quotes : end - quotes] = b" " * (end - start - 2 * quotes)
    if blanked != data and data.startswith(b"\x89PNG") and _XMP.search(data):
        return None  # the text chunk's check sum would no longer fit
    return bytes(blanked)


def _position_parts(data: bytes, header: int) -> Iterator[tuple[int, int]]:
    """Start and length of every part of the GPS directory that a TIFF header leads to: its entries and their values."""
    order = "<" if data[header : header + 2] == b"II" else ">"
    for tag, _, _, value, _ in _entries(data, header, order, _long(data, header + 4, order)):
        if tag != _GPS_TAG:
            continue
        for _, kind, count, where, entry in _entries(data, header, order, value):
            length = _SIZES.get(kind, 0) * count
            if length > 4 and header + where + length <= len(data):
                yield header + where, length
            yield entry + 8, 4
        yield header + value + 2, 12 * min(_short(data, header + value, order), _MOST_ENTRIES)
        yield header + value, 2


def _entries(data: bytes, header: int, order: str, offset: int) -> Iterator[tuple[int, int, int, int, int]]:
    """Tag, kind, count, value and place of each entry of a directory; nothing when there is no sound one."""
    start = header + offset
    count = _short(data, start, order) if offset else 0
    if not 0 < count <= _MOST_ENTRIES or start + 2 + 12 * count > len(data):
        return
    for entry in range(start + 2, start + 2 + 12 * count, 12):
        tag, kind, number, value = struct.unpack_from(f"{order}HHII", data, entry)
        yield tag, kind, number, value, entry


def _short(data: bytes, at: int, order: str) -> int:
    return int(struct.unpack_from(f"{order}H", data, at)[0]) if 0 <= at <= len(data) - 2 else 0


def _long(data: bytes, at: int, order: str) -> int:
    return int(struct.unpack_from(f"{order}I", data, at)[0]) if 0 <= at <= len(data) - 4 else 0


def _mend_png(data: bytes, blanked: bytearray, header: int) -> None:
    """Reckon the check sum of a PNG's eXIf chunk anew when something in it was blanked."""
    if data[header - 4 : header] != b"eXIf":
        return
    end = header + struct.unpack_from(">I", data, header - 8)[0]
    if end + 4 <= len(data):
        struct.pack_into(">I", blanked, end, zlib.crc32(blanked[header - 4 : end]))
