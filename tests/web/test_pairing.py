"""A phone's way in: a token for one phone, a session that no script and no other site can use, and guesses counted."""

from __future__ import annotations

import pytest
from web.visitor import PHONE, PORT, Visitor, new_jig

from cutvision.web import actions
from cutvision.web import phone as phone_module
from cutvision.web.bench import Bench
from cutvision.web.guard import Guard
from cutvision.web.pairing import MOST_WRONG, TOKEN_LASTS_S, WRONG_WITHIN_S, Pairing, TooManyGuessesError


class Clock:
    """Seconds, as the test says."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


def test_a_token_serves_once() -> None:
    """The first phone gets a session, the second nothing; the token holds 128 bits."""
    pairing = Pairing()
    token = pairing.offer()
    assert len(token) >= 22  # 16 bytes in base 64
    session = pairing.swap(token)
    assert session is not None
    assert pairing.knows(session)
    assert pairing.swap(token) is None
    assert not pairing.knows(token)


def test_a_token_ends() -> None:
    """A token is void after its time, and when another is offered; a session when phones are no longer served."""
    clock = Clock()
    pairing = Pairing(clock)
    first, second = pairing.offer(), pairing.offer()
    assert pairing.swap(first) is None
    session = pairing.swap(second)
    third = pairing.offer()
    clock.now += TOKEN_LASTS_S
    assert not pairing.offering
    assert pairing.swap(third) is None
    assert session is not None
    pairing.end()
    assert not pairing.knows(session)


def test_guesses_are_counted() -> None:
    """After so many wrong tokens within a minute even the right one must wait; sessions go on."""
    clock = Clock()
    pairing = Pairing(clock)
    session = pairing.swap(pairing.offer())
    token = pairing.offer()
    for number in range(MOST_WRONG):
        assert pairing.swap(f"guess {number}") is None
    with pytest.raises(TooManyGuessesError):
        pairing.swap(token)
    assert session is not None
    assert pairing.knows(session)
    clock.now += WRONG_WITHIN_S + 1
    assert pairing.swap(token) is not None


def test_wrong_sessions_are_guesses_too() -> None:
    """Whoever tries cookies uses up the same count."""
    pairing = Pairing(Clock())
    token = pairing.offer()
    for number in range(MOST_WRONG):
        assert not pairing.knows(f"guess {number}")
    with pytest.raises(TooManyGuessesError):
        pairing.swap(token)


def code_of(bench: Bench) -> str:
    """The token in the code on the screen."""
    return bench.new_code().partition("code=")[2]


def test_a_phone_pairs_and_the_next_does_not(app: Guard, phone: Visitor, bench: Bench) -> None:
    """The code's page swaps the token for a strict cookie; a second phone with the same code is refused."""
    code = code_of(bench)
    paired = phone.post("/pair", {}, form=f"/pair?code={code}", headers={"referer": f"http://{PHONE}:{PORT}/pair"})
    assert paired.status_code == 403  # the code is a field of the page
    paired = phone.post("/pair", {"code": code}, form=f"/pair?code={code}")
    assert paired.status_code == 303
    cookie = paired.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert phone.get("/").status_code == 200
    assert new_jig(phone)
    second = Visitor(app, PHONE, "192.168.1.78")
    assert second.post("/pair", {"code": code}, form=f"/pair?code={code}").status_code == 403
    assert second.get("/").status_code == 403
    second.cookies[bench.cookie] = code
    assert second.get("/").status_code == 403


def test_looking_at_the_codes_address_uses_nothing_up(phone: Visitor, bench: Bench) -> None:
    """A preview that opens the address does not take the token; only the button does."""
    code = code_of(bench)
    for _ in range(3):
        assert "set-cookie" not in phone.get(f"/pair?code={code}").headers
    assert phone.post("/pair", {"code": code}, form=f"/pair?code={code}").status_code == 303


def test_guessing_on_the_page_is_stopped(phone: Visitor, bench: Bench) -> None:
    """The page itself keeps the limit on wrong tokens."""
    code = code_of(bench)
    statuses = [
        phone.post("/pair", {"code": f"guess{n}"}, form="/pair?code=x").status_code for n in range(MOST_WRONG + 2)
    ]
    assert statuses == [403] * MOST_WRONG + [429, 429]
    assert phone.post("/pair", {"code": code}, form="/pair?code=x").status_code == 429


def test_script_in_a_code_is_shown_as_text(phone: Visitor) -> None:
    """What stands in the address is escaped."""
    shown = phone.get("/pair?code=%22%3E%3Cscript%3Ealert(1)%3C/script%3E").text
    assert "<script" not in shown
    assert "&lt;script&gt;" in shown


def test_only_the_computer_opens_the_phone(here: Visitor, phone: Visitor, bench: Bench) -> None:
    """A paired phone sees neither the page that pairs others nor its code."""
    code = code_of(bench)
    assert here.get("/phone/code.svg").headers["content-type"].startswith("image/svg")
    phone.post("/pair", {"code": code}, form=f"/pair?code={code}")
    assert phone.get("/").status_code == 200
    assert phone.get("/phone").status_code == 404
    assert phone.get("/phone/code.svg").status_code == 404
    assert phone.post("/phone", {"stop": "yes"}, form="/jigs/new").status_code == 404


def test_the_phone_is_served_on_a_chosen_private_address_alone(
    here: Visitor, bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Any other address than those shown is refused; the page says what plain HTTP means, and what a firewall does."""
    opened: list[str] = []
    monkeypatch.setattr(actions, "addresses", lambda: (PHONE,))

    def open_phone(address: str) -> None:
        opened.append(address)
        bench.phone = address

    bench.open_phone = open_phone
    bench.close_phone = bench.pairing.end
    assert PHONE in here.get("/phone").text
    for other in ("0.0.0.0", "8.8.8.8", "", "::", "127.0.0.1"):  # noqa: S104  refused is what they are
        assert "no private address" in here.post("/phone", {"address": other}).text
    assert opened == []
    shown = here.post("/phone", {"address": PHONE}).text
    assert opened == [PHONE]
    for words in (f"http://{PHONE}:{PORT}/pair?code=", "plain HTTP", "firewall", "Stop serving phones"):
        assert words in shown
    assert here.get("/phone").text.count(bench.code.split("=")[1]) == 1  # the code stays until it is used or old


def test_public_addresses_are_not_offered() -> None:
    """Only addresses of a private network count, never loopback or one that means all."""
    assert all(phone_module._is_private(one) for one in ("192.168.1.5", "10.0.0.7", "172.16.3.4"))
    assert not any(phone_module._is_private(one) for one in ("8.8.8.8", "127.0.0.1", "0.0.0.0", "169.254.1.1"))  # noqa: S104
