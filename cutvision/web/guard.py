"""The door of the page: every request is looked at here before anything answers it."""

from __future__ import annotations

import ipaddress
from collections.abc import Iterable

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from cutvision.web.bench import HERE, Bench

METHODS = ("GET", "HEAD", "POST")
LONGEST_PATH = 500
# What a phone that is not paired yet may see.
OPEN_PATHS = ("/pair", "/style.css")
CONTENT_POLICY = (
    "default-src 'none'; img-src 'self'; style-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
# A drawing's styles stand in it; shown as a picture or opened by itself it may do nothing else.
DRAWING_POLICY = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; sandbox"
HEADERS = {
    "x-content-type-options": "nosniff",
    # "no-referrer" would also blank the Origin of a form's own post
    "referrer-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
    "cache-control": "no-store",
}


def is_loopback(address: str) -> bool:
    """Whether the address is of this computer alone."""
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


class Guard:
    """Around the page: names of the host, pairing, origin of a change, and the headers of every answer."""

    def __init__(self, app: ASGIApp, bench: Bench) -> None:
        self.app = app
        self.bench = bench

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer or refuse one request."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                drawn = headers.get("content-type", "").startswith("image/svg")
                headers["content-security-policy"] = DRAWING_POLICY if drawn else CONTENT_POLICY
                headers.update(HEADERS)
            await send(message)

        refused = self._refusal(scope, Headers(scope=scope))
        if refused is not None:
            status, text = refused
            closing = {"connection": "close"}
            await PlainTextResponse(text + "\n", status, closing)(scope, receive, send_guarded)
            return
        self.bench.seen()
        await self.app(scope, receive, send_guarded)

    def _refusal(self, scope: Scope, headers: Headers) -> tuple[int, str] | None:
        """Why the request is not answered; None when it is. Leaves the session in the scope."""
        names, here = self._names(scope)
        hosts = headers.getlist("host")
        if len(hosts) != 1 or hosts[0].lower() not in names:
            return 421, "This page is not served under that name."
        if scope["method"] not in METHODS:
            return 405, "The page knows GET and POST alone."
        if len(scope["path"]) > LONGEST_PATH or len(scope.get("query_string", b"")) > LONGEST_PATH:
            return 414, "That address is too long."
        if scope["method"] == "POST":
            origin = headers.getlist("origin")
            if origin != [f"http://{hosts[0]}"] or headers.get("sec-fetch-site", "same-origin") != "same-origin":
                return 403, "This came from another page, and changes nothing here."
        scope["bench_session"] = HERE if here else self._session(headers)
        if scope["bench_session"] or scope["path"] in OPEN_PATHS:
            return None
        return 403, "This phone is not paired. Scan the code that the computer shows."

    def _names(self, scope: Scope) -> tuple[Iterable[str], bool]:
        """The Host names under which this listener answers, and whether the request is from this computer."""
        client, server = scope.get("client"), scope.get("server")
        port = self.bench.port
        if client is None or server is None:
            return (), False
        if is_loopback(server[0]):
            return ((f"127.0.0.1:{port}", f"localhost:{port}"), True) if is_loopback(client[0]) else ((), False)
        if self.bench.phone is not None and server[0] == self.bench.phone:
            return (f"{self.bench.phone}:{port}",), False
        return (), False

    def _session(self, headers: Headers) -> str:
        """The phone's session; empty when it has none."""
        name = f"{self.bench.cookie}="
        pieces = [one.strip() for line in headers.getlist("cookie") for one in line.split(";")]
        said = [one.removeprefix(name) for one in pieces if one.startswith(name)]
        return said[0] if len(said) == 1 and self.bench.pairing.knows(said[0]) else ""
