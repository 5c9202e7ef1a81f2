"""The page while it runs: this computer's own address, a phone's when it is asked for, and an end when nobody comes."""

from __future__ import annotations

import asyncio
import contextlib
import os
import signal
import socket
import tempfile
import webbrowser
from collections.abc import Callable, Iterator
from pathlib import Path

import uvicorn
from starlette.types import ASGIApp

from cutvision.errors import InputError
from cutvision.web.answering import answer
from cutvision.web.app import make_app
from cutvision.web.bench import Bench
from cutvision.web.desk import Desk
from cutvision.web.phone import code_text
from cutvision.web.worker import Worker

LOOPBACK = "127.0.0.1"
IDLE_S = 4 * 3600.0
_LOOK_S = 20.0
_START_S = 10.0
Say = Callable[[str], None]


class _Listener(uvicorn.Server):
    """Signals are the page's own business, as there may be two of these."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Capture none."""
        yield


def _listener(app: ASGIApp) -> _Listener:
    return _Listener(
        uvicorn.Config(
            app,
            lifespan="off",
            access_log=False,  # addresses with tokens in them are written nowhere
            log_level="warning",
            proxy_headers=False,  # a header would say who is this computer
            server_header=False,
            ws="none",
            limit_concurrency=64,
            timeout_keep_alive=15,
            timeout_graceful_shutdown=3,
            h11_max_incomplete_event_size=16_384,
        )
    )


def _bound(address: str, port: int) -> socket.socket:
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if os.name != "nt":  # there it would let another program take the port over
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((address, port))
    except OSError as error:
        listening.close()
        raise InputError(
            f"The page cannot be served on {address}, port {port}: {error.strerror or error}.",
            "Another program, or another cutvision serve, has that port: end it, or choose another with --port.",
        ) from error
    return listening


async def _started(listener: _Listener, task: asyncio.Task[None]) -> None:
    while not (listener.started or task.done()):  # noqa: ASYNC110  uvicorn sets a flag and tells nobody
        await asyncio.sleep(0.01)


class _Running:
    """The listeners of one page, in its event loop."""

    def __init__(self, bench: Bench, say: Say) -> None:
        self.bench = bench
        self.say = say
        self.app = make_app(bench)
        self.main = _listener(self.app)
        self.loop: asyncio.AbstractEventLoop | None = None
        self._phone: tuple[_Listener, asyncio.Task[None]] | None = None
        bench.open_phone, bench.close_phone = self.open_phone, self.close_phone

    def open_phone(self, address: str) -> None:
        """Listen on a private address too, from another thread. Raises InputError when it cannot be had."""
        self.close_phone()
        listening = _bound(address, self.bench.port)
        self._in_loop(self._open(listening))
        self.bench.phone = address
        url = self.bench.new_code()
        self.say(f"Phones may pair on {address}, port {self.bench.port}. Scan this, or open {url}")
        self.say(code_text(url))

    def close_phone(self) -> None:
        """Listen on this computer alone again, and forget every phone."""
        self.bench.phone = None
        self.bench.pairing.end()
        self._in_loop(self._close())

    def _in_loop(self, doing: object) -> None:
        assert self.loop is not None  # noqa: S101  requests come while it runs
        asyncio.run_coroutine_threadsafe(doing, self.loop).result(_START_S)  # type: ignore[arg-type]

    async def _open(self, listening: socket.socket) -> None:
        listener = _listener(self.app)
        task = asyncio.create_task(listener.serve([listening]))
        await _started(listener, task)
        self._phone = (listener, task)

    async def _close(self) -> None:
        if self._phone is not None:
            listener, task = self._phone
            self._phone = None
            listener.should_exit = True
            await asyncio.wait([task], timeout=_START_S)

    def _stop(self) -> None:
        self.main.should_exit = True

    async def run(self, listening: socket.socket, *, browser: bool, idle_s: float) -> None:
        """Serve until somebody stops it, or nobody has come for so long."""
        self.loop = asyncio.get_running_loop()
        with contextlib.suppress(NotImplementedError):  # Windows ends it without more ado
            self.loop.add_signal_handler(signal.SIGTERM, self._stop)
        serving = asyncio.create_task(self.main.serve([listening]))
        try:
            await _started(self.main, serving)
            if browser:
                await asyncio.to_thread(webbrowser.open, f"http://{LOOPBACK}:{self.bench.port}/")
            while not serving.done() and self.bench.idle_s < idle_s:
                await asyncio.wait([serving], timeout=min(_LOOK_S, idle_s / 4))
            if not serving.done():
                self.say(f"Nobody came for {idle_s / 3600:g} hours: the page is closed.")
        finally:
            await self._close()
            self.main.should_exit = True
            await serving


def serve(folder: Path, port: int, say: Say, *, browser: bool = True, idle_s: float = IDLE_S) -> None:
    """Serve the page until it is stopped. folder: the logbook's. port: 0 takes a free one. say: to the terminal.

    Raises InputError when the port cannot be had.
    """
    listening = _bound(LOOPBACK, port)
    port = listening.getsockname()[1]
    desk = Desk(Worker(answer))
    with tempfile.TemporaryDirectory(prefix="cutvision-") as uploads:
        try:
            running = _Running(Bench(folder, port, Path(uploads), desk), say)
            say(f"The page is at http://{LOOPBACK}:{port}/ for this computer alone. Control-C ends it.")
            say(f"It ends by itself when nobody has come for {idle_s / 3600:g} hours.")
            with contextlib.suppress(KeyboardInterrupt):
                asyncio.run(running.run(listening, browser=browser, idle_s=idle_s))
        finally:
            desk.close()
            listening.close()
