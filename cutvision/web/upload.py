"""A form as it comes in: its limits are kept while it streams, and photos go to files that the page itself names."""

from __future__ import annotations

import asyncio
import hmac
import re
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, TYPE_CHECKING

from python_multipart.exceptions import FormParserError
from python_multipart.multipart import MultipartParser, parse_options_header
from starlette.requests import ClientDisconnect, Request

if TYPE_CHECKING:
    from python_multipart.multipart import MultipartCallbacks

MOST_PHOTOS = 4
MOST_PHOTO_BYTES = 60_000_000
MOST_FIELDS = 120
MOST_FIELD_BYTES = 2000
MOST_HEADER_BYTES = 2000
# Of all that is not a photo: fields, their names, the lines between them.
MOST_OTHER_BYTES = 400_000
LONGEST_BOUNDARY = 70  # RFC 2046, 5.1.1
LONGEST_NUMBER = 12
CHUNK_WAIT_S = 30.0
WHOLE_WAIT_S = 900.0
TOKEN, ONCE, PHOTO = "token", "once", "photo"
_NAME = re.compile(r"[a-z][a-z_]{0,40}")
_ONCE = re.compile(r"[A-Za-z0-9_-]{16,64}")
_ENDINGS = (
    (re.compile(rb"\xff\xd8\xff"), ".jpg"),
    (re.compile(rb"\x89PNG"), ".png"),
    (re.compile(rb"II\*\0|MM\0\*"), ".tif"),
    (re.compile(rb"RIFF....WEBP", re.DOTALL), ".webp"),
    (re.compile(rb"....ftyp", re.DOTALL), ".heic"),
)


class FormRefusedError(Exception):
    """A form that is not taken. status: of HTTP."""

    def __init__(self, status: int, message: str) -> None:
        super().__init__(message)
        self.status = status
        self.message = message


@dataclass(frozen=True, slots=True)
class Form:
    """values: by field, without empty ones. once: the same when a form is sent again. photos: as they came."""

    values: dict[str, str]
    once: str
    photos: tuple[Path, ...] = ()


@dataclass
class _Part:
    name: str = ""
    is_file: bool = False
    data: bytearray = field(default_factory=bytearray)
    file: IO[bytes] | None = None
    path: Path | None = None
    size: int = 0


class _Reader:
    """What the parser calls. The form's token stands first, so that no photo of a stranger is ever written down."""

    def __init__(self, token: str, folder: Path | None) -> None:
        self.token = token
        self.folder = folder
        self.values: dict[str, str] = {}
        self.photos: list[Path] = []
        self.other_bytes = 0
        self.ended = False
        self.parts = 0
        self.part = _Part()
        self._header: list[bytearray] = [bytearray(), bytearray()]

    def callbacks(self) -> MultipartCallbacks:
        """By the parser's names."""
        return {
            "on_part_begin": self.begin,
            "on_header_field": lambda data, start, end: self.header(0, data[start:end]),
            "on_header_value": lambda data, start, end: self.header(1, data[start:end]),
            "on_header_end": self.header_end,
            "on_headers_finished": self.headers_finished,
            "on_part_data": lambda data, start, end: self.take(data[start:end]),
            "on_part_end": self.part_end,
            "on_end": self.end,
        }

    def begin(self) -> None:
        """A part begins."""
        self.parts += 1
        if self.parts > MOST_FIELDS:
            raise FormRefusedError(413, "The form has too many fields.")
        self.part = _Part()
        self._header = [bytearray(), bytearray()]

    def header(self, which: int, data: bytes) -> None:
        """Some of a header's name (0) or value (1)."""
        self._header[which] += data
        if len(self._header[which]) > MOST_HEADER_BYTES:
            raise FormRefusedError(413, "A field's name is too long.")

    def header_end(self) -> None:
        """A header is whole. What it says of a file's name is looked at for whether there is one, and forgotten."""
        name, value = bytes(self._header[0]).lower(), bytes(self._header[1])
        self._header = [bytearray(), bytearray()]
        if name == b"content-disposition":
            _, options = parse_options_header(value)
            self.part.name = options.get(b"name", b"").decode("ascii", "replace")
            self.part.is_file = b"filename" in options

    def headers_finished(self) -> None:
        """The part's name is known."""
        part = self.part
        if self.parts == 1 and part.name != TOKEN:
            raise FormRefusedError(400, "The form does not begin with its token.")
        if not _NAME.fullmatch(part.name) or part.name in self.values or part.is_file != (part.name == PHOTO):
            raise FormRefusedError(400, "The form holds a field that is not on the page.")
        if part.is_file and self.folder is None:
            raise FormRefusedError(400, "No photo is taken here.")

    def take(self, data: bytes) -> None:
        """Some of a part's content."""
        part = self.part
        part.size += len(data)
        if not part.is_file:
            part.data += data
            self.other_bytes += len(data)
            if part.size > MOST_FIELD_BYTES or self.other_bytes > MOST_OTHER_BYTES:
                raise FormRefusedError(413, "A field is too long.")
            return
        if part.size > MOST_PHOTO_BYTES:
            raise FormRefusedError(413, f"A photo is larger than {MOST_PHOTO_BYTES // 1_000_000} MB.")
        if part.file is None:
            if len(self.photos) >= MOST_PHOTOS or self.folder is None:
                raise FormRefusedError(413, f"At most {MOST_PHOTOS} photos at a time.")
            part.path = self.folder / f"photo-{len(self.photos) + 1}.part"
            part.file = part.path.open("xb")
        part.file.write(data)

    def part_end(self) -> None:
        """The part is whole."""
        part = self.part
        if part.is_file:
            if part.file is not None and part.path is not None:
                part.file.close()
                self.photos.append(_named(part.path))
            return
        try:
            text = part.data.decode("utf-8").strip()
        except UnicodeDecodeError:
            raise FormRefusedError(400, "A field is not UTF-8 text.") from None
        if self.parts == 1 and not hmac.compare_digest(text.encode(), self.token.encode()):
            raise FormRefusedError(403, "The page was started again since you opened it. Open it again.")
        self.values[part.name] = text

    def end(self) -> None:
        """The form is whole."""
        self.ended = True

    def form(self) -> Form:
        """All that was sent. Raises FormRefusedError when it was cut short."""
        once = self.values.pop(ONCE, "")
        self.values.pop(TOKEN, None)
        if not self.ended or not _ONCE.fullmatch(once):
            raise FormRefusedError(400, "The form was cut short.")
        return Form({name: text for name, text in self.values.items() if text}, once, tuple(self.photos))

    def close(self) -> None:
        """Let go of a file that was not finished."""
        if self.part.file is not None:
            self.part.file.close()


def _named(path: Path) -> Path:
    """The photo under the ending that its first bytes show."""
    with path.open("rb") as file:
        head = file.read(16)
    ending = next((ending for first, ending in _ENDINGS if first.match(head)), ".bin")
    return path.rename(path.with_suffix(ending))


async def read_form(request: Request, token: str, uploads: Path | None = None) -> Form:
    """The form, read within its limits. uploads: where a folder for its photos is made; None takes none.

    Whoever gets photos removes their folder. Raises FormRefusedError, with nothing left behind.
    """
    folder = None if uploads is None else Path(tempfile.mkdtemp(dir=uploads))
    reader = _Reader(token, folder)
    try:
        async with asyncio.timeout(WHOLE_WAIT_S):
            await _read(request, reader)
        return reader.form()
    except BaseException as error:
        reader.close()
        if folder is not None:
            remove_folder(folder)
        for kind, status, message in _BROKEN:
            if isinstance(error, kind):
                raise FormRefusedError(status, message) from error
        raise


_BROKEN: tuple[tuple[type[Exception], int, str], ...] = (
    (FormParserError, 400, "The form cannot be read."),
    (TimeoutError, 408, "The form came too slowly."),
    (ClientDisconnect, 400, "The form was cut short."),
    (OSError, 507, "There is no room on the disk for the photos."),
)


async def _read(request: Request, reader: _Reader) -> None:
    kind, options = parse_options_header(request.headers.get("content-type", ""))
    boundary = options.get(b"boundary", b"")
    if kind != b"multipart/form-data" or not 1 <= len(boundary) <= LONGEST_BOUNDARY:
        raise FormRefusedError(415, "This is no form of the page.")
    most = MOST_OTHER_BYTES + (0 if reader.folder is None else MOST_PHOTOS * MOST_PHOTO_BYTES)
    said = request.headers.get("content-length", "0")
    if not said.isdecimal() or len(said) > LONGEST_NUMBER or int(said) > most:
        raise FormRefusedError(413, "The form is too large.")
    parser = MultipartParser(boundary, reader.callbacks())
    stream = request.stream()
    got = 0
    while True:
        try:
            chunk = await asyncio.wait_for(anext(stream), CHUNK_WAIT_S)
        except StopAsyncIteration:
            return
        got += len(chunk)
        if got > most:
            raise FormRefusedError(413, "The form is too large.")
        parser.write(chunk)


def remove_folder(folder: Path) -> None:
    """Remove an upload's folder with its files; one that is gone already is no matter."""
    for path in folder.glob("*"):
        path.unlink(missing_ok=True)
    if folder.exists():
        folder.rmdir()
