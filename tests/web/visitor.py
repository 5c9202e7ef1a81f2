"""Visitors to a bench page inside the test's own process: this computer, a phone, a stranger."""

from __future__ import annotations

import asyncio
import re
import secrets
from collections.abc import AsyncIterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx

from cutvision.web.guard import Guard

PORT = 8317
PHONE = "192.168.1.20"
SAMPLES = Path(__file__).parents[2] / "sample_images"


@dataclass
class Visitor:
    """A browser as far as the page sees it. address: where it connects to. client: where it connects from."""

    app: Guard
    address: str = "127.0.0.1"
    client: str = "127.0.0.1"
    cookies: dict[str, str] = field(default_factory=dict)

    def ask(
        self,
        method: str,
        path: str,
        *,
        headers: Mapping[str, str] | Sequence[tuple[str, str]] = (),
        content: bytes | AsyncIterator[bytes] | None = None,
    ) -> httpx.Response:
        """One request; redirections are not followed."""

        async def send() -> httpx.Response:
            transport = httpx.ASGITransport(self.app, raise_app_exceptions=False, client=(self.client, 50000))
            async with httpx.AsyncClient(transport=transport, base_url=f"http://{self.address}:{PORT}") as browser:
                sent = dict(headers)
                if self.cookies:
                    sent.setdefault("cookie", "; ".join(f"{name}={value}" for name, value in self.cookies.items()))
                return await browser.request(method, path, headers=sent, content=content)

        answered = asyncio.run(send())
        self.cookies.update(answered.cookies)
        return answered

    def get(self, path: str, **said: Any) -> httpx.Response:
        """One page."""
        return self.ask("GET", path, **said)

    def hidden(self, path: str) -> dict[str, str]:
        """What a page's first form holds unseen."""
        shown = self.get(path)
        assert shown.status_code == 200, shown.text
        return {name: re.findall(f'name="{name}" value="([^"]*)"', shown.text)[0] for name in ("token", "once")}

    def post(
        self,
        path: str,
        values: Mapping[str, str],
        photos: Sequence[tuple[str, bytes]] = (),
        *,
        form: str | None = None,
        headers: Mapping[str, str] | None = None,
    ) -> httpx.Response:
        """Send the form of a page. form: the page it is on, when that is not where it goes; empty for none."""
        first = {} if form == "" else self.hidden(form or path)
        said = {**first, **values}
        boundary, content = multipart([*said.items()], photos)
        return self.ask("POST", path, headers={**self.form_headers(boundary), **(headers or {})}, content=content)

    def form_headers(self, boundary: str) -> dict[str, str]:
        """What a browser sends with a form of the page."""
        return {
            "origin": f"http://{self.address}:{PORT}",
            "content-type": f"multipart/form-data; boundary={boundary}",
        }


def multipart(values: Sequence[tuple[str, str]], photos: Sequence[tuple[str, bytes]] = ()) -> tuple[str, bytes]:
    """A form as a browser sends it: its boundary and its bytes. photos: the client's file name, and the file."""
    boundary = secrets.token_hex(8)
    parts = [
        f'--{boundary}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
        for name, value in values
    ]
    for name, data in photos:
        head = f'--{boundary}\r\nContent-Disposition: form-data; name="photo"; filename="{name}"\r\n'
        parts.append(head.encode() + b"Content-Type: image/jpeg\r\n\r\n" + data + b"\r\n")
    return boundary, b"".join(parts) + f"--{boundary}--\r\n".encode()


def new_jig(visitor: Visitor, **values: str) -> str:
    """Set up a jig on the page; its address."""
    said = {"name": "vee", "kind": "miter", "fence_length": "380mm", "kept": "left", "tolerance": "0.05deg", **values}
    made = visitor.post("/jigs/new", said)
    assert made.status_code == 303, made.text
    return made.headers["location"]


def answered(visitor: Visitor, sent: httpx.Response) -> httpx.Response:
    """The answer to what was sent, once it is there."""
    assert sent.status_code == 303, sent.text
    for _ in range(30):
        shown = visitor.get(sent.headers["location"])
        if "refresh" not in shown.headers:
            return shown
    raise AssertionError("no answer came")
