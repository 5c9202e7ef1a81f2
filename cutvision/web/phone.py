"""The phone's way in: this computer's private addresses, and the code to scan."""

from __future__ import annotations

import contextlib
import io
import ipaddress
import socket
import struct
import sys

import segno

_ASK_ADDRESS = 0x8915  # SIOCGIFADDR of Linux
# Nothing is sent there: the system is asked which of its own addresses it would send from.
_ELSEWHERE = ("10.255.255.255", 9)


def addresses() -> tuple[str, ...]:
    """Private IPv4 addresses of this computer on which a phone can reach it, the likeliest first."""
    found: list[str] = []
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        asking.connect(_ELSEWHERE)
        found.append(asking.getsockname()[0])
    found += _of_each_network()
    with contextlib.suppress(OSError):
        found += [str(one[4][0]) for one in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    return tuple(dict.fromkeys(one for one in found if _is_private(one)))


def _of_each_network() -> list[str]:
    if sys.platform != "linux":
        return []
    import fcntl

    found = []
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        for _, name in socket.if_nameindex():
            with contextlib.suppress(OSError):
                told = fcntl.ioctl(asking, _ASK_ADDRESS, struct.pack("256s", name.encode()[:15]))
                found.append(socket.inet_ntoa(told[20:24]))
    return found


def _is_private(text: str) -> bool:
    address = ipaddress.ip_address(text)
    return address.is_private and not (address.is_loopback or address.is_unspecified or address.is_link_local)


def code_svg(url: str) -> bytes:
    """The code as a picture."""
    out = io.BytesIO()
    segno.make(url, micro=False).save(out, kind="svg", scale=8, border=4, dark="#000", light="#fff")
    return out.getvalue()


def code_text(url: str) -> str:
    """The code for a terminal."""
    out = io.StringIO()
    segno.make(url, micro=False).terminal(out, compact=True)
    return out.getvalue()
