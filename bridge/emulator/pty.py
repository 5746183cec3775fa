"""The virtual logger in real time, on a pseudo-terminal or, where there is none (Windows), on a socket.

It starts when somebody opens its port, as a board does that the opening resets, and from then on prints what
the virtual bike does, a ride of one minute over and over. It answers ``?`` with a block and its states.

What it does not imitate: the speed of a serial line (bytes come as fast as they are read), parity and
framing errors, line noise (``logger.damaged`` makes that), a USB plug pulled and put back, a second reader,
the jitter of a small processor. A reader that does not read loses bytes, as with a real port, but only when
17 to 20 KB wait, the depth of a pseudo-terminal, and not at a UART's few hundred.
"""

import contextlib
import os
import select
import socket
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Protocol

from bridge.emulator.logger import LoggerSettings, VirtualLogger
from bridge.emulator.ride import Phase, short_ride
from bridge.emulator.scenario import Scenario, default_channels, sample

_TICK_S = 0.005
"""Lines are handed over this often [s]."""
_START_S = 0.3
"""From the opening of the port to the first line [s]: readers set their port up and empty it first."""
_GRACE_S = 3.0
"""A reader who is still there at the end is given this much longer to finish its own time [s]."""
_LAST_WORD_S = 0.2
"""Between the last line and the hanging up [s]: what waits in a pseudo-terminal dies with it."""


class _Line(Protocol):
    """The logger's end of a serial line."""

    address: str
    """What a recorder opens."""

    def listening(self) -> bool:
        """Return whether somebody has the other end open."""

    def received(self) -> bytes:
        """Return what the other end has sent."""

    def send(self, data: bytes) -> None:
        """Send; what does not fit any more is lost."""

    def close(self) -> None:
        """Hang up."""


def run(
    seed: int,
    rate_hz: float,
    seconds: float | None,
    announce: Callable[[str], None],
    stop: Callable[[], bool] = lambda: False,
) -> None:
    """Run the virtual logger until its time is over.

    Args:
        seed: of the rides.
        rate_hz: data lines a second, 1 to 1000.
        seconds: ends so long after the port was first opened, or after the start where nobody opens it [s];
            the ride is fitted in from 20 s on. None for no end.
        announce: called once with the port's path or URL.
        stop: ends it when it returns True; asked every few milliseconds.

    Raises:
        BadValue: the rate is none that a logger prints at.
    """
    logger = VirtualLogger(default_channels(Scenario().bike), LoggerSettings(boot=int(time.time())))
    lines = _rides(logger, seed, rate_hz, seconds)
    first = next(lines)  # a wrong rate shows before a port is made
    line = _open_line()
    try:
        announce(line.address)
        if _await_reader(line, seconds, stop):
            _stream(line, logger, first, lines, seconds, stop)
    finally:
        line.close()


def _rides(
    logger: VirtualLogger,
    seed: int,
    rate_hz: float,
    seconds: float | None,
) -> Iterator[tuple[float, bytes]]:
    """Yield (t_s, bytes) of ride after ride, without end."""
    script = short_ride(seconds)
    if seconds is not None and seconds < sum(phase.seconds for phase in short_ride()):
        # the engine stands until a late reader has finished too
        script = (*script, Phase(2 * _GRACE_S, 0.0, 0.0, burning=False))
    scenario = replace(Scenario(), script=script, rate_hz=rate_hz)
    begin_s = 0.0
    while True:
        sampled = sample(scenario, seed, begin_s)
        yield from logger.lines(sampled.t_s, sampled.values, sampled.marks)
        begin_s += len(sampled.t_s) / rate_hz
        seed += 1


def _await_reader(line: _Line, seconds: float | None, stop: Callable[[], bool]) -> bool:
    """Wait until somebody opens the port; return whether somebody did."""
    until = None if seconds is None else time.monotonic() + seconds
    while not line.listening():
        if stop() or (until is not None and time.monotonic() >= until):
            return False
        time.sleep(_TICK_S)
    time.sleep(_START_S)
    return True


def _stream(  # noqa: PLR0913, PLR0917  # the whole of a run meets here
    line: _Line,
    logger: VirtualLogger,
    first: tuple[float, bytes],
    lines: Iterator[tuple[float, bytes]],
    seconds: float | None,
    stop: Callable[[], bool],
) -> None:
    begun = time.monotonic()
    at_s, data = first
    while not stop():
        now = time.monotonic() - begun
        due = []
        while at_s <= now:
            due.append(data)
            at_s, data = next(lines)
        if b"?" in line.received():
            due.append(logger.hello(now))
        reader = line.listening()
        if due and reader:
            line.send(b"".join(due))
        if seconds is not None and now >= seconds + (_GRACE_S if reader else 0.0):
            break
        time.sleep(_TICK_S)
    time.sleep(_LAST_WORD_S)


def _open_line() -> _Line:
    try:
        return _PseudoTerminal()
    except (ImportError, AttributeError, OSError):  # no such thing on this system
        return _SocketLine()


class _PseudoTerminal:
    """The master's side of a pseudo-terminal in raw mode."""

    def __init__(self) -> None:
        import tty  # noqa: PLC0415  # not on every system

        self._raw = tty.setraw
        self._master, slave = os.openpty()
        self.address = os.ttyname(slave)
        os.set_blocking(self._master, False)
        # held open by nobody, so that the master shows a hang-up until a reader comes
        os.close(slave)
        self._poll = select.poll()
        self._poll.register(self._master, 0)
        self._listening = False

    def listening(self) -> bool:
        """Return whether somebody has the other end open."""
        now = not any(event & select.POLLHUP for _, event in self._poll.poll(0))
        if now and not self._listening:
            # the settings were lost when the last reader closed it; without raw mode it would echo
            self._raw(self._master)
        self._listening = now
        return now

    def received(self) -> bytes:
        """Return what the other end has sent."""
        try:
            return os.read(self._master, 4096)
        except OSError:  # nothing there, or nobody
            return b""

    def send(self, data: bytes) -> None:
        """Send; what does not fit any more is lost."""
        with contextlib.suppress(OSError):
            os.write(self._master, data)

    def close(self) -> None:
        """Hang up."""
        os.close(self._master)


class _SocketLine:
    """A socket on this machine that takes one reader at a time."""

    def __init__(self) -> None:
        self._server = socket.create_server(("127.0.0.1", 0))
        self._server.setblocking(False)  # noqa: FBT003  # the socket has no keyword for it
        self._peer: socket.socket | None = None
        self.address = f"socket://127.0.0.1:{self._server.getsockname()[1]}"

    def listening(self) -> bool:
        """Return whether somebody has the other end open."""
        if self._peer is None:
            with contextlib.suppress(BlockingIOError):
                self._peer, _ = self._server.accept()
                self._peer.setblocking(False)  # noqa: FBT003  # as above
        return self._peer is not None

    def received(self) -> bytes:
        """Return what the other end has sent."""
        if self._peer is None:
            return b""
        try:
            data = self._peer.recv(4096)
        except BlockingIOError:
            return b""
        except OSError:
            data = b""
        if not data:
            self._hang_up()
        return data

    def send(self, data: bytes) -> None:
        """Send; what does not fit any more is lost."""
        try:
            if self._peer is not None:
                self._peer.send(data)
        except BlockingIOError:
            pass
        except OSError:
            self._hang_up()

    def close(self) -> None:
        """Hang up."""
        self._hang_up()
        self._server.close()

    def _hang_up(self) -> None:
        if self._peer is not None:
            self._peer.close()
            self._peer = None
