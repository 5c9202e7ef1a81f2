"""Files that people name: read within a limit, written whole or not at all, and never over what is not ours."""

from __future__ import annotations

import contextlib
import errno
import os
import re
import stat
import struct
import uuid
import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Literal

from cutvision.errors import InputError

LOGBOOK_FILE = "logbook.sqlite"
ASIDE = ".part"

OutputKind = Literal[
    "picture", "drawing", "reference sheet", "printed sheet", "evidence sheet", "table", "jig", "camera", "archive"
]
InputKind = Literal["photo", "camera", "jig", "measurement", "steps", "evidence", "archive"]


@dataclass(frozen=True, slots=True)
class Limit:
    """What a kind of file is called, how many bytes it may have, and what to do when it cannot be read."""

    what: str
    most_bytes: int
    remedy: str


_TEXT, _PHOTO = 100_000, 400_000_000  # 120 million pixels of three bytes are 360 MB
LIMITS: dict[InputKind, Limit] = {
    "photo": Limit("photo", _PHOTO, "Check the name, the folder and the file's permissions."),
    "camera": Limit("camera file", 1_000_000, "Give the file that `cutvision camera calibrate` wrote."),
    "jig": Limit("jig's file", _TEXT, "Give the path of a jig's file, such as sled.toml."),
    "measurement": Limit("measurement", 20_000_000, "Give the file into which `cutvision measure --json` was written."),
    "steps": Limit("file of steps", _TEXT, "Give a text file with one step a line."),
    "evidence": Limit("evidence file", _PHOTO, "Put it back from a backup or an export."),
    "archive": Limit("logbook's export", 20_000_000_000, "Name a file that `cutvision log export` wrote."),
}


class NotReadError(InputError):
    """A file that cannot be read. why: the message without the file's name."""

    def __init__(self, path: Path, why: str, remedy: str) -> None:
        super().__init__(f"{path} cannot be read: {why}.", remedy)
        self.why = why


@contextlib.contextmanager
def opened_to_read(path: Path, kind: InputKind, *, follow_links: bool = True) -> Iterator[BinaryIO]:
    """The file, open for reading: a plain one, no longer than its kind may be, and no link unless it may be followed.

    Raises NotReadError for anything else, before a byte is read.
    """
    limit = LIMITS[kind]
    try:
        # O_NONBLOCK: a pipe opens at once, and is then refused, where it would wait for a writer
        flags = os.O_RDONLY | _flag("O_NONBLOCK") | _flag("O_BINARY") | _flag("O_CLOEXEC")
        if not follow_links:
            flags |= _flag("O_NOFOLLOW")
            if path.is_symlink():
                raise NotReadError(path, "it is a link", limit.remedy)
        handle = os.open(path, flags)
    except (OSError, ValueError) as error:
        raise NotReadError(path, _why(path, error), limit.remedy) from error
    try:
        seen = os.fstat(handle)
        if stat.S_ISDIR(seen.st_mode):
            raise NotReadError(path, "it is a folder", limit.remedy)
        if not stat.S_ISREG(seen.st_mode):
            raise NotReadError(path, "it is a pipe or a device, not a file", limit.remedy)
        if seen.st_size > limit.most_bytes:
            raise NotReadError(path, _too_long(kind, seen.st_size), limit.remedy)
        with os.fdopen(handle, "rb", closefd=False) as file:
            yield file
    finally:
        with contextlib.suppress(OSError):  # what was read was read
            os.close(handle)


def read_bounded(path: Path, kind: InputKind, *, follow_links: bool = True) -> bytes:
    """The file's bytes. Raises NotReadError as `opened_to_read`, and when reading fails."""
    with opened_to_read(path, kind, follow_links=follow_links) as file:
        limit = LIMITS[kind]
        try:
            data = file.read(limit.most_bytes + 1)  # one that grows, or does not tell its size, ends here
        except OSError as error:
            raise NotReadError(path, _why(path, error), limit.remedy) from error
    if len(data) > limit.most_bytes:
        raise NotReadError(path, _too_long(kind, len(data)), limit.remedy)
    return data


def _flag(name: str) -> int:
    return int(getattr(os, name, 0))  # not every system has each


def _why(path: Path, error: OSError | ValueError) -> str:
    if isinstance(error, FileNotFoundError):
        return "there is no file of this name"
    if isinstance(error, PermissionError):
        return "it is a folder" if path.is_dir() else "the file is there, but you are not allowed to read it"
    return str(getattr(error, "strerror", None) or error)


def _too_long(kind: InputKind, size: int) -> str:
    limit = LIMITS[kind]
    return f"it holds {size:,} bytes, and a {limit.what} at most {limit.most_bytes:,}"


def write_output(
    path: Path,
    data: bytes,
    kind: OutputKind,
    *,
    inputs: Sequence[Path] = (),
    protected: Sequence[Path] = (),
    force: bool = False,
) -> None:
    """Write what a command made, marked as the program's own where its format can hold a mark.

    Raises InputError as `check_output`, and when the file cannot be written; what was there before then stays.
    """
    with writing_output(path, kind, inputs=inputs, protected=protected, force=force) as handle:
        _write(handle, _marked(data, kind))


@contextlib.contextmanager
def writing_output(
    path: Path,
    kind: OutputKind,
    *,
    inputs: Sequence[Path] = (),
    protected: Sequence[Path] = (),
    force: bool = False,
) -> Iterator[int]:
    """A handle to write the output to, piece by piece; it is there under its name only when all went well.

    Raises InputError as `write_output`.
    """
    check_output(path, kind, inputs=inputs, protected=protected, force=force)
    try:
        with replacing(path) as handle:
            yield handle
    except OSError as error:
        raise InputError(f"{path} cannot be written: {error.strerror or error}.", _WHERE) from error


_WHERE = "Name a file in a folder that exists and that you may write to, on a disk with room."


def check_output(
    path: Path,
    kind: OutputKind,
    *,
    inputs: Sequence[Path] = (),
    protected: Sequence[Path] = (),
    force: bool = False,
) -> None:
    """Raise InputError where an output would destroy something; to be asked before the work is done, too.

    inputs: what the command reads, which is never written to, nor is anything in a folder of `protected` or in a
    logbook's. Any other file that is there is written over when the program wrote it as the same kind, or with force.
    """
    another = "Give the output another name."
    if not path.name or "\0" in str(path):
        raise InputError(f"{path} cannot be written: it is no file's name.", _WHERE)
    if any(_same_file(path, one) for one in inputs):
        raise InputError(f"{path} is read by this command: writing to it would destroy it.", another)
    folders = [Path(os.path.realpath(path)), *Path(os.path.realpath(path)).parents]
    if any(_same_file(folder, one) for folder in folders for one in protected) or any(
        (folder / LOGBOOK_FILE).exists() for folder in folders[1:]
    ):
        raise InputError(
            f"{path} lies in a logbook's folder, which holds the logbook and its evidence alone.",
            "Name a file in another folder.",
        )
    try:
        mode = os.lstat(path).st_mode
    except OSError:
        return  # nothing is there, or writing it will say why it cannot be
    if not (stat.S_ISREG(mode) or stat.S_ISLNK(mode)):
        raise InputError(f"{path} cannot be written: a folder or a device is there.", another)
    if not force and (stat.S_ISLNK(mode) or not _is_own(path, kind)):
        what = "a link" if stat.S_ISLNK(mode) else f"no {kind} that cutvision wrote"
        raise InputError(
            f"{path} is there already and is {what}, so nothing was written.",
            "Give the output another name, or --force to write over it.",
        )


def _same_file(one: Path, other: Path) -> bool:
    """Whether two names mean one file or folder, through links of either kind."""
    with contextlib.suppress(OSError, ValueError):
        if os.path.samestat(os.stat(one), os.stat(other)):  # noqa: PTH116  samestat wants what os gives
            return True
    return os.path.normcase(os.path.realpath(one)) == os.path.normcase(os.path.realpath(other))


@contextlib.contextmanager
def replacing(path: Path) -> Iterator[int]:
    """A handle to a new file that takes the path's place when all went well, and leaves nothing otherwise.

    It is opened exclusively under a random name beside the path, so that no link is followed, and is on the disk before
    it is renamed. Raises OSError; ValueError for a path without a name.
    """
    aside = path.with_name(f"{uuid.uuid4().hex}{ASIDE}")
    try:
        flags = os.O_RDWR | os.O_CREAT | os.O_EXCL | _flag("O_NOFOLLOW") | _flag("O_BINARY") | _flag("O_CLOEXEC")
        handle = os.open(aside, flags, 0o644)
        try:
            yield handle
            os.fsync(handle)
        finally:
            os.close(handle)
        os.replace(aside, path)  # noqa: PTH105  os alone, so that tests can fail each call in turn
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(aside)  # noqa: PTH108  as above
        raise
    sync_folder(path.parent)


def put(path: Path, pieces: Iterable[bytes]) -> None:
    """Write a file that is either whole under its name or not there, with its folders. Raises OSError."""
    make_folder(path.parent)
    with replacing(path) as handle:
        for piece in pieces:
            _write(handle, piece)


def settle(aside: Path, path: Path) -> None:
    """Bring a file that was written aside to its place on the same disk, with its folders. Raises OSError."""
    make_folder(path.parent)
    os.replace(aside, path)  # noqa: PTH105  as above
    sync_folder(path.parent)


def _write(handle: int, data: bytes) -> None:
    rest = memoryview(data)
    while rest:
        rest = rest[os.write(handle, rest) :]


def make_folder(folder: Path) -> None:
    """Make the folder, with those above it, so that each outlasts a power cut. Raises OSError."""
    missing = []
    while not folder.is_dir():
        missing.append(folder)
        folder = folder.parent
    for one in reversed(missing):
        with contextlib.suppress(FileExistsError):  # another process may have been quicker
            os.mkdir(one)  # noqa: PTH102  as above
        sync_folder(one.parent)


def sync_folder(folder: Path) -> None:
    """See that what was made or renamed in the folder is on the disk; Windows needs, and allows, no such call."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno != errno.EINVAL:  # said by file systems on which a folder needs no such call
            raise
    finally:
        os.close(handle)


# How a file tells that the program wrote it, and as what: text by how it begins, the others by a mark put into them.
_BEGINNINGS: dict[OutputKind, re.Pattern[bytes]] = {
    "table": re.compile(rb"run,day,recorded_at,"),
    "jig": re.compile(rb"# A jig for cutvision"),
    "camera": re.compile(rb'\{\s*"schema":\s*"cutvision/camera'),
}
_LOOKED_AT = 4096  # bytes, at either end


def _mark(kind: OutputKind) -> bytes:
    return b"written by cutvision: " + kind.encode()


def _is_own(path: Path, kind: OutputKind) -> bool:
    try:
        with path.open("rb") as file:
            head = file.read(_LOOKED_AT)
            file.seek(max(0, file.seek(0, os.SEEK_END) - _LOOKED_AT))
            tail = file.read()
    except OSError:
        return False
    beginning = _BEGINNINGS.get(kind)
    return _mark(kind) in head + tail if beginning is None else beginning.match(head) is not None


def _marked(data: bytes, kind: OutputKind) -> bytes:
    """The file with the mark as a comment of its format; as it is when its beginning says it, or it can hold none."""
    mark = _mark(kind)
    if kind in _BEGINNINGS:
        return data
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        chunk = b"tEXtComment\0" + mark
        chunk = struct.pack(">I", len(chunk) - 4) + chunk + struct.pack(">I", zlib.crc32(chunk))
        return data[:_PNG_HEADER] + chunk + data[_PNG_HEADER:]
    if data.startswith(b"\xff\xd8"):
        first = 2 + (2 + int.from_bytes(data[4:6], "big") if data[2:4] == b"\xff\xe0" else 0)
        return data[:first] + b"\xff\xfe" + struct.pack(">H", 2 + len(mark)) + mark + data[first:]
    if data.startswith(b"%PDF"):
        end = data.rindex(b"startxref")  # what stands before it is found by its place, which this leaves as it is
        return data[:end] + b"%" + mark + b"\n" + data[end:]
    return data + b"<!-- " + mark + b" -->\n" if data.lstrip().startswith(b"<") else data


_PNG_HEADER = 33  # the signature and the first chunk, which stays the first
