"""The recorder: every byte off a port into a capture, with its time of arrival, whatever happens to the port.

The reading thread sleeps a few milliseconds, takes all that waits and hands it on; it never touches the disk
(``bridge.link.disk``). Where the port goes away it waits for it (``bridge.link.reconnect``) and goes on in the
same capture. What befalls it is written down in notes (``bridge.link.notes``).
"""

import contextlib
import threading
from collections.abc import Callable
from dataclasses import dataclass

from bridge.errors import DiskTrouble, ForeignDevice, PortLost
from bridge.link.capture import CaptureWriter
from bridge.link.disk import Clock, Disk
from bridge.link.notes import Kind, refused_words
from bridge.link.ports import Port
from bridge.link.reconnect import PortFinder, Waiting
from bridge.link.watch import Watch

ASK = b"?"
"""What makes a logger say who it is, where it can hear."""

_SLEEP_S = (0.004, 0.008)
"""Between two reads, while much comes and while little does [s]. Measured: 1000 lines a second at 1 % of a core;
a pseudo-terminal holds 17 KB, which at 1 MB/s is full after 17 ms."""
_MUCH = 1000
"""Bytes at one read."""
_TAKE = 65_536
_FULL_READ = 4_000
"""A terminal hands over at most 4095 bytes at a time: after a read as big as that, more may wait [bytes]."""
_TOGETHER = 262_144
"""Read at most so much before looking at anything else, so that a flood cannot hold up a stop [bytes]."""
_LOOK_S = 0.25
"""How often the watch looks at the time [s]."""
_PROGRESS_S = 1.0
_DEAD_SOCKET_S = 30.0
"""A network connection that has been silent for so long is opened anew [s]: its other side may have lost its
supply without a word, and a logger prints a block every 10 s."""


@dataclass(frozen=True)
class Recorded:
    """What a recording came to."""

    seconds: float
    bytes: int
    reconnects: int = 0
    """How often the port went away and came back."""


Progress = Callable[[Recorded], None]
Tell = Callable[[Kind, str], None]


def record(  # noqa: PLR0913  # each of them is a separate wish of the caller
    port: Port,
    writer: CaptureWriter,
    *,
    finder: PortFinder | None = None,
    stop: threading.Event | Callable[[], bool] | None = None,
    seconds: float | None = None,
    on_progress: Progress | None = None,
    on_note: Tell | None = None,
    ask: bool = True,
    clock: Clock | None = None,
) -> Recorded:
    """Record a port into a capture until told to stop.

    Args:
        port: an open port. It stays open unless it goes away; those that take its place are closed.
        writer: an open capture; stays open. It is written and synced in another thread until this returns.
        finder: finds the port again when it goes away; the recording then goes on, and its time runs on while
            it waits. None to end with the port.
        stop: ends the recording when set, or when it returns True; asked every few milliseconds.
        seconds: ends the recording after so long [s]; None for no end.
        on_progress: called about once a second, in the reading thread: must return at once.
        on_note: called with each note but the first and the last; must return at once.
        ask: send ``?`` at each opening, so that the logger says who it is; a port that cannot be written to is
            fine.
        clock: the clocks to go by; the machine's where left out.

    Returns:
        How long it took and how much came; everything is on the disk by then.

    Raises:
        PortLost: the port went away and was still away at the end; what came is on the disk.
        ForeignDevice: nothing that came in more than 10 s was a line of the wire format; it is on the disk.
        DiskTrouble: the disk would not take what came; what it took is kept.
    """
    stopped = stop.is_set if isinstance(stop, threading.Event) else stop or (lambda: False)
    recording = _Recording(port, writer, clock or Clock(), stopped, seconds)
    return recording.run(finder, on_progress, on_note, ask=ask)


class _Recording:
    """One run of the recorder."""

    def __init__(
        self,
        port: Port,
        writer: CaptureWriter,
        clock: Clock,
        stopped: Callable[[], bool],
        seconds: float | None,
    ) -> None:
        self._port = port
        self._writer = writer
        self._clock = clock
        self._stopped = stopped
        self._begun = clock.now_s()
        self._until = None if seconds is None else self._begun + seconds
        self._received = 0
        self._reconnects = 0
        self._on_note: Tell | None = None
        self._on_progress: Progress | None = None
        self._next_progress = self._begun + _PROGRESS_S
        self._next_look = self._begun
        self._disk = Disk(writer, clock)
        self._watch = Watch(self._tell, self._begun)
        self._waiting: Waiting | None = None
        self._may_go_dead = False

    def run(
        self, finder: PortFinder | None, on_progress: Progress | None, on_note: Tell | None, *, ask: bool
    ) -> Recorded:
        """Record until the end, and say how it ended."""
        self._on_note, self._on_progress = on_note, on_progress
        if finder is not None:
            self._waiting = Waiting(finder, self._tell, self._clock)
            self._may_go_dead = finder.is_url
        first, name, why, lost = self._port, self._port.port, "it broke off", False
        trouble: DiskTrouble | None = None
        self._disk.note(Kind.BEGAN, f"recording from {name}")
        try:
            while True:
                if ask:
                    self._ask()
                gone = self._read_until_end_or_loss()
                why = self._why_end() or gone or why
                if gone is None:
                    lost = self._refuse_stranger()
                    break
                lost = not self._get_back(name, gone)
                if lost:
                    break
        except DiskTrouble as error:
            trouble, why = error, "the disk"
        finally:
            taken = self._clock.now_s() - self._begun
            self._disk.note(Kind.ENDED, f"after {taken:.3f} s: {'the port was away' if lost else why}")
            self._disk.finish()
            if self._port is not first:
                self._close()
        self._disk.check()  # by now it knows exactly how much it took
        if trouble is not None:
            raise trouble
        self._raise_what_went_wrong(name, taken, lost=lost)
        return self._so_far()

    def _read_until_end_or_loss(self) -> str | None:
        """Read; return why the port is of no use any more, or None at the end."""
        while True:
            # looked at before the last read, so that what had come by then is taken
            ending = self._why_end() is not None
            count, gone = self._take()
            now = self._clock.now_s()
            if now >= self._next_look:
                self._watch.look(now)
                self._next_look = now + _LOOK_S
            if ending:
                return None
            if gone is None and self._may_go_dead and self._watch.silence_s(now) >= _DEAD_SOCKET_S:
                gone = f"has said nothing for {_DEAD_SOCKET_S:.0f} s"
            if gone is not None or self._watch.stranger is not None:
                return gone or "is another logger's"
            self._keep_house(now)
            self._clock.sleep(_SLEEP_S[0] if count > _MUCH else _SLEEP_S[1])

    def _take(self) -> tuple[int, str | None]:
        """Hand all that waits at the port to the disk; return how much, and why the port is gone, if it is."""
        count = 0
        while True:
            try:
                data = self._port.read(_TAKE)
            except OSError:  # SerialException is one; what it says is about file descriptors
                return count, "went away"
            if data:
                self._disk.put(bytes(data))
                count += len(data)
                self._received += len(data)
                self._watch.feed(data, self._clock.now_s())
            if len(data) < _FULL_READ or count >= _TOGETHER:
                return count, None

    def _get_back(self, name: str, gone: str) -> bool:
        """Wait for the port; return False where it was still away at the end."""
        after = self._clock.now_s() - self._begun
        refused = self._refuse_stranger()
        self._tell(Kind.LOST, f"port {self._port.port} {gone}, {after:.1f} s after the start; {self._kept()}")
        if self._waiting is None:
            return False
        if refused:
            self._waiting.refused(self._port.port)
        elif self._watch.accepted:
            self._waiting.settled()
        self._close()
        found = self._waiting.get(f"port {name} {gone}", self._wait_on)
        if found is None:
            return False
        self._port = found.port
        self._reconnects += 1
        now = self._clock.now_s()
        self._watch.opened(now, must_prove=found.must_prove)
        away = now - self._begun - after
        self._tell(Kind.BACK, f"port {name} is back as {self._port.port} after {away:.1f} s")
        return True

    def _refuse_stranger(self) -> bool:
        """Say which of the last bytes are no part of the session, where another logger spoke."""
        self._watch.closed()
        stranger = self._watch.stranger
        if stranger is None:
            return False
        self._reconnects -= not self._watch.proven  # it was never ours that came back
        self._tell(Kind.REFUSED, refused_words(stranger.size, stranger.because))
        return True

    def _wait_on(self) -> bool:
        self._keep_house(self._clock.now_s())
        return self._why_end() is None

    def _why_end(self) -> str | None:
        if self._until is not None and self._clock.now_s() >= self._until:
            return "its time was over"
        return "stopped when asked to" if self._stopped() else None

    def _keep_house(self, now: float) -> None:
        self._disk.check()
        if self._on_progress is not None and now >= self._next_progress:
            self._on_progress(self._so_far())
            self._next_progress = now + _PROGRESS_S

    def _ask(self) -> None:
        # receive-only wires exist; a port that is gone shows at the first read
        with contextlib.suppress(OSError):
            self._port.write(ASK)

    def _close(self) -> None:
        with contextlib.suppress(OSError):
            self._port.close()

    def _tell(self, kind: Kind, words: str) -> None:
        self._disk.note(kind, words)
        if self._on_note is not None:
            self._on_note(kind, words)

    def _so_far(self) -> Recorded:
        return Recorded(self._clock.now_s() - self._begun, self._received, self._reconnects)

    def _kept(self) -> str:
        return f"all {self._received} bytes that came are kept in {self._writer.path}"

    def _raise_what_went_wrong(self, name: str, taken: float, *, lost: bool) -> None:
        if lost:
            raise PortLost(
                f"port {name} was away at the end of the recording, after {taken:.1f} s; {self._kept()}: check"
                " cable and battery, then record anew",
            )
        if self._watch.foreign is not None and not self._watch.understood:
            raise ForeignDevice(f"{self._watch.foreign}; {self._kept()}")
