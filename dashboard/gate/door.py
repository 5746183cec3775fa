"""What the gate decides by: the PIN's file, the tries, the sessions. One door belongs to one running server."""

import asyncio
import contextlib
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from bridge.errors import SootlineError
from dashboard.gate import pins
from dashboard.gate.knock import Address
from dashboard.gate.sessions import Sessions
from dashboard.gate.tries import Tries

_HASHES_AT_ONCE = 2


@dataclass(frozen=True)
class DoorState:
    """What this machine's own page shows.

    Attributes:
        urls: the web addresses for other devices; none where only this machine is served.
        shown: the PIN where it can be shown.
        made_at: when it was made.
        sessions: how many devices are in.
        wrong: tries with a wrong PIN.
        turned_away: tries that were turned away unjudged.
    """

    urls: tuple[str, ...] = ()
    shown: str | None = None
    made_at: datetime | None = None
    sessions: int = 0
    wrong: int = 0
    turned_away: int = 0


@dataclass(frozen=True)
class Tried:
    """What came of a try: a session's token, or none and how long to wait for the next [s].

    Attributes:
        judged: whether the PIN was looked at at all.
    """

    token: str | None
    wait_s: float
    judged: bool


class Door:
    """The door for other devices.

    What is kept of the PIN is read anew whenever its file changes, so ``sootline pin`` works on a running
    server: another series ends every session. Where the file is gone or damaged nobody is let in.

    Args:
        folder: the logbook's folder.
        urls: the web addresses for other devices, to be shown on this machine's own page.
        names: further names or addresses that are right as a Host.
        now: a clock that only goes forward [s].
        verify: judges a PIN by what is kept of it.
    """

    def __init__(
        self,
        folder: Path,
        *,
        urls: tuple[str, ...] = (),
        names: frozenset[str] = frozenset(),
        now: Callable[[], float] = time.monotonic,
        verify: Callable[[str, pins.KeptPin], bool] = pins.verify,
    ) -> None:
        self.names = names
        self.trouble: str | None = None
        """Why nobody can be let in; None where the PIN is fit."""
        self._urls, self._folder, self._now, self._verify = urls, folder, now, verify
        self._tries, self._sessions = Tries(), Sessions()
        self._stamp: tuple[int, int, int] | None = None
        self._kept: pins.KeptPin | None = None
        self._shown: tuple[str, str] | None = None
        self._hashing = asyncio.Semaphore(_HASHES_AT_ONCE)
        self._look()

    def show(self, pin: str) -> None:
        """Show the PIN that this process has just made on this machine's own page, as long as it holds."""
        kept = self._look()
        self._shown = (pin, kept.hash) if kept else None

    def state(self) -> DoorState:
        """Return what this machine's own page shows."""
        kept = self._look()
        holds = self._shown is not None and kept is not None and kept.hash == self._shown[1]
        return DoorState(
            urls=self._urls,
            shown=self._shown[0] if self._shown is not None and holds else None,
            made_at=kept.made if kept else None,
            sessions=self._sessions.count(self._now()),
            wrong=self._tries.wrong,
            turned_away=self._tries.turned_away,
        )

    def admits(self, token: str | None) -> bool:
        """Return whether a session's token lets in."""
        self._look()
        return self._sessions.admits(token, self._now())

    async def try_pin(self, address: Address | None, pin: str) -> Tried:
        """Judge a PIN, or turn the try away unjudged where there have been too many."""
        kept = self._look()
        wait = self._tries.begin(address, self._now())
        if wait > 0.0 or kept is None:
            return Tried(None, wait, judged=False)
        async with self._hashing:
            right = await asyncio.to_thread(self._verify, pin, kept)
        if right and self._look() == kept:  # it may have been changed meanwhile
            self._tries.right(address)
            return Tried(self._sessions.open(self._now()), 0.0, judged=True)
        return Tried(None, self._tries.wait(address, self._now()), judged=True)

    def leave(self, token: str | None) -> None:
        """End one session."""
        self._sessions.end(token)

    async def new_pin(self) -> None:
        """Make a new PIN, to be shown on this machine's own page; whoever was let in is out."""
        self.show(await asyncio.to_thread(pins.new_pin, self._folder))

    async def end_sessions(self) -> None:
        """End every session of this logbook, of other servers on it too."""
        self._sessions.end_all()
        await asyncio.to_thread(pins.end_sessions, self._folder)

    def _look(self) -> pins.KeptPin | None:
        """Return what is kept of the PIN, read anew where its file is another one than before."""
        stamp: tuple[int, int, int] | None = None
        with contextlib.suppress(OSError):
            stat = (self._folder / pins.FILE).stat()
            stamp = (stat.st_mtime_ns, stat.st_ino, stat.st_size)
        if stamp is None or stamp != self._stamp:
            self._stamp = stamp
            self._take(self._read())
        return self._kept

    def _read(self) -> pins.KeptPin | None:
        try:
            kept = pins.read_pin(self._folder)
        except SootlineError as error:
            self.trouble = str(error)
            return None
        self.trouble = None if kept else "No PIN has been made; make one with 'sootline pin'."
        return kept

    def _take(self, kept: pins.KeptPin | None) -> None:
        before, self._kept = self._kept, kept
        if before is None and kept is None:
            return
        if before is None or kept is None or before.series != kept.series:
            self._sessions.end_all()
        if before is not None and kept is not None and before.hash != kept.hash:
            self._tries.start_anew()
