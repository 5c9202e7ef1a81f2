"""The door of the page, attacked: foreign names, foreign pages, foreign computers."""

from __future__ import annotations

from pathlib import Path

import pytest
from web.visitor import PHONE, PORT, Visitor, multipart, new_jig

from cutvision.web.app import ROUTES
from cutvision.web.bench import Bench
from cutvision.web.guard import Guard


@pytest.mark.parametrize(
    "host",
    ["evil.example", f"evil.example:{PORT}", "127.0.0.1", f"127.0.0.1:{PORT + 1}", f"{PHONE}:{PORT}", "", "localhost"],
)
@pytest.mark.parametrize("method", ["GET", "HEAD", "POST", "OPTIONS"])
def test_a_foreign_host_name_gets_nothing(here: Visitor, host: str, method: str) -> None:
    """A name that leads here from another site (DNS rebinding) is refused on every method, GET too."""
    answered = here.ask(method, "/", headers={"host": host, "origin": f"http://{host}"})
    assert answered.status_code == 421
    assert "jig" not in answered.text.lower()


@pytest.mark.parametrize("host", [f"127.0.0.1:{PORT}", f"localhost:{PORT}", f"LOCALHOST:{PORT}"])
def test_this_computer_is_served_without_cookies(here: Visitor, host: str) -> None:
    """On loopback every page works without a cookie, and none is set."""
    answered = here.get("/", headers={"host": host})
    assert answered.status_code == 200
    assert "set-cookie" not in answered.headers


def test_a_foreign_computer_cannot_pass_for_this_one(app: Guard) -> None:
    """What comes from another address is not this computer, whatever name or header it brings."""
    stranger = Visitor(app, "127.0.0.1", "192.168.1.66")
    assert stranger.get("/", headers={"x-forwarded-for": "127.0.0.1"}).status_code == 421


def test_a_phone_gets_nothing_before_it_is_asked_for(app: Guard) -> None:
    """Until somebody asks for the phone no other address is answered."""
    assert Visitor(app, PHONE, "192.168.1.77").get("/pair").status_code == 421


@pytest.mark.parametrize("path", ["/", "/runs", "/jigs/new", "/run/1", "/logbook.zip", "/phone", "/phone/code.svg"])
def test_a_phone_without_token_sees_no_page(phone: Visitor, path: str) -> None:
    """Without a session a phone sees the page on pairing and the style sheet alone."""
    answered = phone.get(path)
    assert answered.status_code == 403
    assert "not paired" in answered.text
    assert phone.get("/pair").status_code == 200


def test_a_phone_without_token_changes_nothing(phone: Visitor, here: Visitor, bench: Bench) -> None:
    """A form sent without a session is refused, even with a form token read on the computer itself."""
    stolen = here.hidden("/jigs/new")
    answered = phone.post("/jigs/new", {**stolen, "name": "x", "kind": "miter"}, form="")
    assert answered.status_code == 403
    assert not bench.folder.exists()


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": f"https://127.0.0.1:{PORT}"},
        {"origin": f"http://127.0.0.1:{PORT + 1}"},
        {"origin": f"http://localhost:{PORT}"},
        {"origin": ""},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_a_post_from_another_page_is_refused(here: Visitor, bench: Bench, headers: dict[str, str]) -> None:
    """A form that another site sends for the person changes nothing, even with the right token."""
    answered = here.post("/jigs/new", {"name": "x", "kind": "miter"}, headers=headers)
    assert answered.status_code == 403
    assert not bench.folder.exists()


def test_a_post_without_origin_is_refused(here: Visitor, bench: Bench) -> None:
    """A change that does not say where it comes from is no change."""
    boundary, content = multipart([*here.hidden("/jigs/new").items(), ("name", "x"), ("kind", "miter")])
    kind = {"content-type": f"multipart/form-data; boundary={boundary}"}
    assert here.ask("POST", "/jigs/new", headers=kind, content=content).status_code == 403
    assert not bench.folder.exists()


@pytest.mark.parametrize("token", ["", "0" * 64, "é"])
def test_a_form_without_its_token_is_refused(here: Visitor, bench: Bench, token: str) -> None:
    """A wrong form token changes nothing."""
    assert here.post("/jigs/new", {"token": token, "name": "x", "kind": "miter"}).status_code == 403
    assert not bench.folder.exists()


CHANGES = sorted(route.path for route in ROUTES if "POST" in (route.methods or ()))


@pytest.mark.parametrize("path", CHANGES)
def test_no_address_takes_a_change_without_origin_and_token(here: Visitor, path: str) -> None:
    """Whatever takes a form asks for both, before it looks at anything else."""
    there = path.replace("{jig}", "x").replace("{way}", "miter").replace("{run:int}", "1")
    once = "0123456789abcdef"
    assert here.post(there, {"token": "wrong", "once": once}, form="").status_code == 403
    right = here.hidden("/jigs/new")
    foreign = {"origin": "http://evil.example"}
    assert here.post(there, right, form="", headers=foreign).status_code == 403
    assert here.post(there, right, form="").status_code != 403 or path == "/pair"


def test_one_sessions_form_token_is_no_others(here: Visitor, phone: Visitor, bench: Bench) -> None:
    """A paired phone cannot use the token of the computer's own forms."""
    session = bench.pairing.swap(bench.pairing.offer())
    assert session is not None
    phone.cookies[bench.cookie] = session
    mixed = {**phone.hidden("/jigs/new"), "token": here.hidden("/jigs/new")["token"]}
    assert phone.post("/jigs/new", {**mixed, "name": "x", "kind": "miter"}, form="").status_code == 403


def test_every_answer_carries_the_strict_headers(here: Visitor) -> None:
    """No script or style from anywhere but the page's own files, no guessing of types, no storing: refusals too."""
    for path, headers in (("/", {}), ("/style.css", {}), ("/nothing", {}), ("/", {"host": "evil.example"})):
        answered = here.get(path, headers=headers)
        policy = answered.headers["content-security-policy"]
        assert policy.startswith("default-src 'none'")
        assert "unsafe" not in policy
        assert "script-src" not in policy
        assert answered.headers["x-content-type-options"] == "nosniff"
        assert answered.headers["cache-control"] == "no-store"


def test_a_faults_answer_carries_them_too(here: Visitor, monkeypatch: pytest.MonkeyPatch) -> None:
    """What goes wrong inside is told in a line, without a trace, and behind the same door."""

    def broken(_self: object) -> bool:
        raise RuntimeError("secret detail")

    monkeypatch.setattr(Path, "exists", broken)
    answered = here.get("/runs")
    assert answered.status_code == 500
    assert "RuntimeError" in answered.text
    assert "secret detail" not in answered.text
    assert answered.headers["content-security-policy"].startswith("default-src 'none'")


def test_the_pages_need_no_exception_from_the_policy(here: Visitor) -> None:
    """No page holds a script, a style of its own, or anything loaded from elsewhere."""
    jig = new_jig(here)
    paths = ["/", "/jigs/new", jig, f"{jig}/photo", f"{jig}/read", f"{jig}/read/miter", "/runs", "/print", "/phone"]
    for path in paths:
        text = here.get(path).text.lower()
        for never in ("<script", "<style", " style=", " onclick", "javascript:", "https://", "data:"):
            assert never not in text, (path, never)
        assert text.count("http://") == 0, path


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "TRACE", "OPTIONS", "CONNECT"])
def test_other_methods_are_refused(here: Visitor, method: str) -> None:
    """GET, HEAD and POST are all that is known."""
    assert here.ask(method, "/").status_code == 405


@pytest.mark.parametrize(
    "path",
    [
        "/../pyproject.toml",
        "/..%2f..%2fetc%2fpasswd",
        "/static/style.css",
        "/style.css/%2e%2e%2fapp.py",
        "/%2e%2e/app.py",
        "/a" * 300,
    ],
)
def test_no_path_leads_out(here: Visitor, path: str) -> None:
    """Only the page's own addresses are there."""
    assert here.get(path).status_code in {404, 414}


def test_no_answer_under_a_guessed_address(here: Visitor) -> None:
    """Answers are under names that nobody can guess, runs under their numbers alone."""
    new_jig(here)
    for path in ("/answer/x", "/answer/x/move.svg", "/answer/x/photo-0.jpg", "/run/1", "/run/99999999999", "/jig/x"):
        assert here.get(path).status_code == 404
