"""Which phones may use the page: a one-time token, shown as a code to scan, is swapped for a session."""

from __future__ import annotations

import hashlib
import hmac
import secrets
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field

TOKEN_BYTES = 16
SESSION_BYTES = 32
TOKEN_LASTS_S = 600.0
MOST_WRONG = 10
WRONG_WITHIN_S = 60.0


class TooManyGuessesError(Exception):
    """So many wrong tokens came within a minute that none is looked at."""


def _digest(text: str) -> bytes:
    return hashlib.sha256(text.encode("utf-8", "surrogateescape")).digest()


@dataclass
class Pairing:
    """Tokens and sessions live in memory alone and end with the server. clock: seconds, monotonic."""

    clock: Callable[[], float] = time.monotonic
    _token: tuple[bytes, float] | None = None
    _sessions: set[bytes] = field(default_factory=set)
    _wrong: deque[float] = field(default_factory=deque)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def offer(self) -> str:
        """A new token of 128 bits for one phone; the one before it is void."""
        token = secrets.token_urlsafe(TOKEN_BYTES)
        with self._lock:
            self._token = (_digest(token), self.clock() + TOKEN_LASTS_S)
        return token

    @property
    def offering(self) -> bool:
        """Whether a token waits for a phone."""
        with self._lock:
            return self._token is not None and self.clock() < self._token[1]

    def swap(self, token: str) -> str | None:
        """A session for the token, which is void from then on; None for a wrong or an old one.

        Raises TooManyGuessesError while too many wrong ones came.
        """
        with self._lock:
            if self._blocked():
                raise TooManyGuessesError
            offered = self._token
            good = offered is not None and hmac.compare_digest(offered[0], _digest(token)) and self.clock() < offered[1]
            if not good:
                self._wrong.append(self.clock())
                return None
            self._token = None
            session = secrets.token_urlsafe(SESSION_BYTES)
            self._sessions.add(_digest(session))
            return session

    def knows(self, session: str) -> bool:
        """Whether the session was given out by `swap`; a wrong one counts as a guess."""
        with self._lock:
            if _digest(session) in self._sessions:
                return True
            self._wrong.append(self.clock())
            self._blocked()
            return False

    def end(self) -> None:
        """Forget every token and session."""
        with self._lock:
            self._token = None
            self._sessions.clear()

    def _blocked(self) -> bool:
        while self._wrong and self._wrong[0] < self.clock() - WRONG_WITHIN_S:
            self._wrong.popleft()
        while len(self._wrong) > MOST_WRONG:
            self._wrong.popleft()
        return len(self._wrong) >= MOST_WRONG
