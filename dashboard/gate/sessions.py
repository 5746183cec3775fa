"""Who has been let in. Pure but for the random tokens; the clock is handed in. A restart ends all."""

import hashlib
import secrets
from collections import OrderedDict
from dataclasses import dataclass, replace
from typing import Final

IDLE_S: Final = 12 * 3600.0
LONGEST_S: Final = 7 * 86_400.0
MOST: Final = 256
_TOKEN_BYTES = 32


@dataclass(frozen=True)
class _Session:
    opened: float
    used: float

    def is_over(self, now: float) -> bool:
        return now - self.used >= IDLE_S or now - self.opened >= LONGEST_S


def _kept_as(token: str) -> bytes:
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).digest()


class Sessions:
    """The sessions, kept by the SHA-256 of their tokens: twelve hours unused or seven days end one.

    Their number is bounded; the one that has been quiet the longest goes first.
    """

    def __init__(self) -> None:
        self._open: OrderedDict[bytes, _Session] = OrderedDict()

    def open(self, now: float) -> str:
        """Begin a session and return its token, 256 random bits.

        Args:
            now: a clock that only goes forward [s].
        """
        token = secrets.token_urlsafe(_TOKEN_BYTES)
        self._open[_kept_as(token)] = _Session(now, now)
        while len(self._open) > MOST:
            self._open.popitem(last=False)
        return token

    def admits(self, token: str | None, now: float) -> bool:
        """Return whether a token is of a session that goes on; asking counts as use."""
        if not token:
            return False
        key = _kept_as(token)
        session = self._open.pop(key, None)
        if session is None or session.is_over(now):
            return False
        self._open[key] = replace(session, used=now)
        return True

    def end(self, token: str | None) -> None:
        """End one session; a token of none is no error."""
        self._open.pop(_kept_as(token or ""), None)

    def end_all(self) -> None:
        """End every session."""
        self._open.clear()

    def count(self, now: float) -> int:
        """Return how many sessions go on."""
        return sum(not session.is_over(now) for session in self._open.values())
