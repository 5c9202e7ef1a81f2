"""Forms and photos as they come in, attacked: too large, too many, too slow, cut short, oddly named."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from web.visitor import SAMPLES, Visitor, multipart, new_jig

from cutvision.web import upload
from cutvision.web.bench import Bench

JPEG = b"\xff\xd8\xff\xe0" + b"0" * 500


def left_over(bench: Bench) -> list[Path]:
    """What still lies in the folder for uploads."""
    return [path for path in bench.uploads.rglob("*") if path.is_file()]


def test_a_photo_that_is_too_large_is_refused(here: Visitor, bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """The limit holds while the photo comes in, and nothing of it stays."""
    monkeypatch.setattr(upload, "MOST_PHOTO_BYTES", 400)
    answered = here.post(f"{new_jig(here)}/photo", {}, [("a.jpg", JPEG)])
    assert answered.status_code == 413
    assert left_over(bench) == []


def test_an_upload_that_says_its_size_is_refused_before_it_is_read(here: Visitor, bench: Bench) -> None:
    """What a form says of its own length is looked at first; nonsense there is refused too."""
    jig = new_jig(here)
    for said in (str(10**9), "9" * 40, "-1", "x"):
        headers = {**here.form_headers("b"), "content-length": said}
        assert here.ask("POST", f"{jig}/photo", headers=headers, content=b"--b--").status_code == 413
    assert left_over(bench) == []


def test_an_upload_without_a_size_is_counted(here: Visitor, bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """One that streams without saying how long it is meets the same limit, and is not read to its end."""
    monkeypatch.setattr(upload, "MOST_PHOTO_BYTES", 50_000)
    jig = new_jig(here)
    boundary, whole = multipart([*here.hidden(f"{jig}/photo").items()], [("a.jpg", JPEG)])
    head = whole[: whole.index(JPEG)]
    sent = 0

    async def endless() -> AsyncIterator[bytes]:
        nonlocal sent
        yield head
        while sent < 10_000_000:
            sent += 10_000
            yield b"1" * 10_000

    answered = here.ask("POST", f"{jig}/photo", headers=here.form_headers(boundary), content=endless())
    assert answered.status_code == 413
    assert sent < 1_000_000
    assert left_over(bench) == []


def test_what_stands_outside_every_field_is_counted_too(here: Visitor) -> None:
    """A form that goes on for ever after its end is not read for ever."""
    boundary, whole = multipart([*here.hidden("/jigs/new").items(), ("name", "x"), ("kind", "miter")])
    sent = 0

    async def endless() -> AsyncIterator[bytes]:
        nonlocal sent
        yield whole
        while sent < 10_000_000:
            sent += 10_000
            yield b"\r\n" * 5_000

    answered = here.ask("POST", "/jigs/new", headers=here.form_headers(boundary), content=endless())
    assert answered.status_code == 413
    assert sent < 1_000_000


def test_too_many_photos_are_refused(here: Visitor, bench: Bench) -> None:
    """More than the page takes at a time."""
    photos = [(f"{n}.jpg", JPEG) for n in range(upload.MOST_PHOTOS + 1)]
    assert here.post(f"{new_jig(here)}/photo", {}, photos).status_code == 413
    assert left_over(bench) == []


def test_too_many_and_too_long_fields_are_refused(here: Visitor) -> None:
    """Fields are limited in number and length, the lines that name them too."""
    many = {f"field_{'abcdefghij'[n % 10] * (n // 10 + 1)}": "1" for n in range(upload.MOST_FIELDS + 10)}
    assert here.post("/jigs/new", many).status_code == 413
    assert here.post("/jigs/new", {"name": "x" * (upload.MOST_FIELD_BYTES + 1)}).status_code == 413
    boundary, content = multipart([(name, value) for name, value in here.hidden("/jigs/new").items()])
    long = content.replace(b'name="once"', b'name="once"; filename="' + b"x" * 100_000 + b'"')
    assert here.ask("POST", "/jigs/new", headers=here.form_headers(boundary), content=long).status_code in {400, 413}


def test_a_slow_upload_is_let_go(here: Visitor, bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """A sender who stops in the middle does not hold the page."""
    monkeypatch.setattr(upload, "CHUNK_WAIT_S", 0.05)
    jig = new_jig(here)
    boundary, whole = multipart([*here.hidden(f"{jig}/photo").items()], [("a.jpg", JPEG)])

    async def slow() -> AsyncIterator[bytes]:
        yield whole[: len(whole) // 2]
        await asyncio.sleep(2.0)
        yield whole[len(whole) // 2 :]

    answered = here.ask("POST", f"{jig}/photo", headers=here.form_headers(boundary), content=slow())
    assert answered.status_code == 408
    assert left_over(bench) == []


def test_an_upload_that_trickles_is_let_go(here: Visitor, bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """One that sends a little in time, for ever, meets the limit for the whole."""
    monkeypatch.setattr(upload, "WHOLE_WAIT_S", 0.3)
    jig = new_jig(here)
    boundary, whole = multipart([*here.hidden(f"{jig}/photo").items()], [("a.jpg", JPEG)])

    async def trickle() -> AsyncIterator[bytes]:
        for at in range(len(whole)):
            yield whole[at : at + 1]
            await asyncio.sleep(0.02)

    answered = here.ask("POST", f"{jig}/photo", headers=here.form_headers(boundary), content=trickle())
    assert answered.status_code == 408
    assert left_over(bench) == []


def test_a_form_that_is_cut_short_is_refused(here: Visitor, bench: Bench) -> None:
    """Half a form changes nothing, wherever it ends."""
    boundary, whole = multipart([*here.hidden("/jigs/new").items(), ("name", "x"), ("kind", "miter")])
    for length in range(0, len(whole) - 4, 37):
        headers = here.form_headers(boundary)
        assert here.ask("POST", "/jigs/new", headers=headers, content=whole[:length]).status_code in {400, 403}
    assert not bench.folder.exists()


def test_what_is_no_form_is_refused(here: Visitor) -> None:
    """Other kinds of content, and a form that does not keep its own boundary."""
    for kind in (
        "application/x-www-form-urlencoded",
        "application/json",
        "multipart/form-data",
        "multipart/form-data; boundary=",
    ):
        headers = {**here.form_headers("b"), "content-type": kind}
        assert here.ask("POST", "/jigs/new", headers=headers, content=b"a=b").status_code == 415
    assert here.ask("POST", "/jigs/new", headers=here.form_headers("b"), content=b"nonsense").status_code == 400


def test_the_token_comes_before_any_photo(here: Visitor, bench: Bench) -> None:
    """A photo that stands before the form's token is refused before a byte of it is written."""
    jig = new_jig(here)
    boundary, whole = multipart([*here.hidden(f"{jig}/photo").items()])
    photo_first = multipart([], [("a.jpg", JPEG)])[1]
    first = photo_first[: photo_first.rindex(b"--", 0, -6)]
    first = b"--" + boundary.encode() + first[first.index(b"\r\n") :]
    answered = here.ask("POST", f"{jig}/photo", headers=here.form_headers(boundary), content=first + whole)
    assert answered.status_code == 400
    assert left_over(bench) == []


@pytest.mark.parametrize(
    "name", ["../../../evil.jpg", "/etc/passwd", "C:\\\\evil.jpg", "photo-1.part", "x.jpg%00.sh", "<script>.jpg", "con"]
)
def test_a_clients_file_name_is_never_used(
    here: Visitor, bench: Bench, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Photos lie under names that the page gives, with the ending that their first bytes show."""
    seen: list[Path] = []
    monkeypatch.setattr(bench.desk.worker, "ask", lambda task: seen.extend(task.folder.iterdir()))
    here.post(f"{new_jig(here)}/photo", {}, [(name, JPEG), (name, b"\x89PNG" + b"0" * 60)])
    assert sorted(path.name for path in seen) == ["photo-1.jpg", "photo-2.png"]
    assert all(path.parent.parent == bench.uploads for path in seen)
    assert left_over(bench) == []


def test_no_form_names_a_file_of_the_computer(here: Visitor, bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """A field that holds a path on the command line is not taken from a form, however it is called."""
    seen: list[dict[str, object]] = []
    monkeypatch.setattr(bench.desk.worker, "ask", lambda task: seen.append(task.said))
    jig = new_jig(here, camera="/etc/passwd")
    assert "passwd" not in here.get(jig).text
    here.post(f"{jig}/photo", {"camera": "/etc/passwd", "photos": "/etc/passwd"}, [("a.jpg", JPEG)])
    assert seen != []
    assert "camera" not in seen[0]
    assert [str(one) for one in seen[0]["photos"]] == ["photo-1.jpg"]  # type: ignore[attr-defined]


def test_a_photo_under_another_fields_name_is_refused(here: Visitor) -> None:
    """A file where text is asked for, and text where a file is, are on no page of ours."""
    jig = new_jig(here)
    boundary, whole = multipart([*here.hidden(f"{jig}/photo").items()], [("a.jpg", JPEG)])
    headers = here.form_headers(boundary)
    other = whole.replace(b'name="photo"', b'name="thickness"')
    assert here.ask("POST", f"{jig}/photo", headers=headers, content=other).status_code == 400
    assert here.post(f"{jig}/photo", {"photo": "text"}).status_code == 400
    assert here.post("/jigs/new", {"name": "x"}, [("a.jpg", JPEG)]).status_code == 400


def test_a_decompression_bomb_costs_one_answer(here: Visitor) -> None:
    """A small file that claims a giant picture is refused by its header, and the page goes on."""
    from web.visitor import answered

    data = bytearray((SAMPLES / "miter-1.jpg").read_bytes())
    at = data.index(b"\xff\xc0") if b"\xff\xc0" in data else data.index(b"\xff\xc2")
    data[at + 5 : at + 9] = b"\xff\xdc\xff\xdc"  # height and width of 65500
    jig = new_jig(here)
    shown = answered(here, here.post(f"{jig}/photo", {}, [("bomb.jpg", bytes(data))]))
    assert "unreadable" in shown.text
    assert here.get(jig).status_code == 200
