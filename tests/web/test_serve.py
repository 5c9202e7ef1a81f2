"""The command itself: where it listens, how it ends, and what it says without its extra."""

from __future__ import annotations

import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

# A script that runs the tests behind it leaves SIGINT ignored, and its children too.
START = (
    "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler); "
    "sys.argv = ['cutvision', *sys.argv[1:]]; from cutvision.cli import main; main()"
)


@pytest.fixture
def served(tmp_path: Path) -> Iterator[tuple[subprocess.Popen[str], int]]:
    """A page in a process of its own, and its port."""
    line = [sys.executable, "-c", START, "serve", "--no-browser", "--port", "0", "--logbook", str(tmp_path / "book")]
    with subprocess.Popen(line, stderr=subprocess.PIPE, text=True) as process:
        assert process.stderr is not None
        told = process.stderr.readline()
        yield process, int(re.findall(r"127\.0\.0\.1:(\d+)/", told)[0])
        if process.poll() is None:
            process.kill()


def ask(port: int, **headers: str) -> httpx.Response:
    """The first page, once the server answers."""
    for _ in range(100):
        try:
            return httpx.get(f"http://127.0.0.1:{port}/", headers=headers, timeout=10.0)
        except httpx.ConnectError:
            time.sleep(0.1)
    raise AssertionError("nobody answers")


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_it_serves_this_computer_alone_and_ends_when_told(
    served: tuple[subprocess.Popen[str], int], how: signal.Signals
) -> None:
    """It answers on loopback and nowhere else, believes no header of a proxy, and ends without a trace of an error."""
    process, port = served
    assert ask(port).status_code == 200
    assert ask(port, **{"x-forwarded-for": "8.8.8.8", "x-forwarded-proto": "https"}).status_code == 200
    assert ask(port, host="evil.example").status_code == 421
    assert "server" not in ask(port).headers
    for address in {one[4][0] for one in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)}:
        if not str(address).startswith("127."):
            with socket.socket() as trying, pytest.raises(OSError, match="refused"):
                trying.connect((str(address), port))
    process.send_signal(how)
    assert process.wait(20) == 0
    assert process.stderr is not None
    assert "Traceback" not in process.stderr.read()


def test_it_ends_by_itself(tmp_path: Path) -> None:
    """When nobody has come for the stated time, the page closes."""
    code = (
        "from pathlib import Path; from cutvision.web.serve import serve; "
        f"serve(Path({str(tmp_path)!r}), 0, print, browser=False, idle_s=1.0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr
    assert "the page is closed" in done.stdout


def test_a_taken_port_is_told() -> None:
    """Two pages cannot have one port: the second says so."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        line = [sys.executable, "-c", START, "serve", "--no-browser", "--port", str(taken.getsockname()[1])]
        done = subprocess.run(line, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 2
    assert "choose another with --port" in " ".join(done.stderr.split())


@pytest.mark.parametrize("missing", ["starlette", "uvicorn", "python_multipart", "segno"])
def test_without_the_extra_it_says_what_to_install(missing: str) -> None:
    """The command is there without its packages, and ends with what to install and exit status 2."""
    code = f"import sys; sys.modules[{missing!r}] = None; {START}"
    done = subprocess.run(
        [sys.executable, "-c", code, "serve", "--no-browser"], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 2
    assert "pip install 'cutvision[web]'" in " ".join(done.stderr.split())
    assert "Traceback" not in done.stderr
