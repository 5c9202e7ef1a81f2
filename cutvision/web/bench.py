"""What the running page holds: the logbook's folder, the queue of jobs, who may come in, and when somebody last did."""

from __future__ import annotations

import hashlib
import hmac
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from cutvision.web.desk import Desk
from cutvision.web.pairing import Pairing

HERE = "here"


def _nowhere(_address: str) -> None:
    raise NotImplementedError


@dataclass
class Bench:
    """One running page.

    folder: the logbook's. uploads: a private folder for what is being measured. phone: the address on which phones are
    served, None while they are not. code: what the code on the computer's screen holds. open_phone: begins to listen on
    an address; raises InputError when it cannot.
    """

    folder: Path
    port: int
    uploads: Path
    desk: Desk
    pairing: Pairing = field(default_factory=Pairing)
    phone: str | None = None
    open_phone: Callable[[str], None] = _nowhere
    close_phone: Callable[[], None] = lambda: None
    clock: Callable[[], float] = time.monotonic
    last_seen: float = 0.0
    code: str = ""
    _secret: bytes = field(default_factory=lambda: secrets.token_bytes(32))

    def __post_init__(self) -> None:
        self.seen()

    def seen(self) -> None:
        """Somebody is there."""
        self.last_seen = self.clock()

    @property
    def idle_s(self) -> float:
        """Seconds since somebody was there or something was worked on."""
        return 0.0 if self.desk.busy else self.clock() - self.last_seen

    def new_code(self) -> str:
        """Where a phone goes, with a new one-time token."""
        self.code = f"http://{self.phone}:{self.port}/pair?code={self.pairing.offer()}"
        return self.code

    @property
    def cookie(self) -> str:
        """The cookie's name; cookies know no port, so the name does."""
        return f"cutvision_{self.port}"

    def form_token(self, session: str) -> str:
        """What every form of this session carries; another site cannot read it. session: HERE on this computer."""
        return hmac.new(self._secret, f"form {session}".encode(), hashlib.sha256).hexdigest()
