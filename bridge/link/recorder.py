"""The recorder: every byte off a port into a capture, with its time of arrival.

Two threads share the work. The reading one sleeps a few milliseconds, takes all that waits and stamps it; it
never touches the disk. The disk thread joins what came within 40 ms to one record, appends it and syncs once
a second. A disk that takes half a second to sync holds nothing up: what comes meanwhile waits in memory.
"""

import contextlib
import queue
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from bridge.errors import DiskTrouble, PortLost
from bridge.link.capture import CaptureWriter
from bridge.link.ports import Port

ASK = b"?"
"""What makes a logger say who it is, where it can hear."""

_SLEEP_S = (0.004, 0.008)
"""Between two reads, while bytes come and while none do [s]. Measured: 1000 lines a second at 1 % of a core;
a pseudo-terminal holds 17 KB, which at 1 MB/s is full after 17 ms."""
_GATHER_S = 0.04
"""What comes within this time becomes one record [s]."""
_SYNC_S = 1.0
_TAKE = 65_536
_FULL_READ = 4_000
"""A terminal hands over at most 4095 bytes at a time: after a read as big as that, more may wait [bytes]."""
_MEMORY_CAP = 64_000_000
"""What may wait for the disk before recording is given up [bytes]: an hour and a half at 115200 baud."""
_DISK_PATIENCE_S = 60.0
"""How long the end of a recording waits for a disk that does not answer [s]."""


@dataclass(frozen=True)
class Recorded:
    """What a recording came to."""

    seconds: float
    bytes: int


Progress = Callable[[Recorded], None]


@dataclass(frozen=True)
class _Piece:
    """Bytes (or a note) with the moment at which they had come."""

    content: bytes | str
    monotonic_ns: int
    utc_ns: int


def record(  # noqa: PLR0913  # each of them is a separate wish of the caller
    port: Port,
    writer: CaptureWriter,
    *,
    stop: threading.Event | Callable[[], bool] | None = None,
    seconds: float | None = None,
    on_progress: Progress | None = None,
    ask: bool = True,
) -> Recorded:
    """Record a port into a capture until told to stop.

    Args:
        port: an open port; stays open.
        writer: an open capture; stays open. It is written and synced in another thread until this returns.
        stop: ends the recording when set, or when it returns True; asked every few milliseconds.
        seconds: ends the recording after so long [s]; None for no end.
        on_progress: called about once a second, in the reading thread: must return at once.
        ask: send ``?`` first, so that the logger says who it is; a port that cannot be written to is fine.

    Returns:
        How long it took and how much came; everything is on the disk by then.

    Raises:
        PortLost: the port hung up; what came until then is on the disk.
        DiskTrouble: the disk would not take what came; what it took is kept.
    """
    stopped = stop.is_set if isinstance(stop, threading.Event) else stop or (lambda: False)
    disk = _Disk(writer)
    begun = time.monotonic()
    disk.put(f"recording {port.port}")
    if ask:
        with contextlib.suppress(
            OSError
        ):  # receive-only wires exist; a port that is gone shows at the first read
            port.write(ASK)
    received, why, lost = 0, "stopped when asked to", None
    next_word = begun + _SYNC_S
    try:
        while True:
            now = time.monotonic()
            # looked at before the last read, so that what had come by then is taken
            over = seconds is not None and now - begun >= seconds
            ending = over or stopped()
            count, lost = _take(port, disk)
            received += count
            if lost is not None:
                why = f"the port was lost: {lost}"
                break
            if ending:
                why = "its time was over" if over else why
                break
            disk.check()
            if on_progress is not None and now >= next_word:
                on_progress(Recorded(now - begun, received))
                next_word = now + _SYNC_S
            time.sleep(_SLEEP_S[0] if count else _SLEEP_S[1])
    finally:
        taken = time.monotonic() - begun
        disk.put(f"ended after {taken:.3f} s: {why}")
        disk.finish()
    disk.check()
    if lost is not None:
        raise PortLost(
            f"port {port.port} went away after {taken:.1f} s; all {received} bytes that came are kept in"
            f" {writer.path}: check cable and battery, then record anew",
        ) from lost
    return Recorded(taken, received)


def _take(port: Port, disk: "_Disk") -> tuple[int, OSError | None]:
    """Hand all that waits at the port to the disk thread.

    Returns:
        How many bytes, and the error with which the port hung up, if it did.
    """
    count = 0
    while True:
        try:
            data = port.read(_TAKE)
        except OSError as error:  # SerialException is one
            return count, error
        if data:
            disk.put(bytes(data))
            count += len(data)
        if len(data) < _FULL_READ:
            return count, None


class _Disk:
    """The thread that owns the capture while a recording runs."""

    def __init__(self, writer: CaptureWriter) -> None:
        self._writer = writer
        self._put_bytes = 0
        self._queue: queue.SimpleQueue[_Piece | None] = queue.SimpleQueue()
        self._failed: OSError | None = None
        self._thread = threading.Thread(target=self._run, name="capture", daemon=True)
        self._thread.start()

    def put(self, content: bytes | str) -> None:
        """Stamp bytes, or a note, and hand them over; never waits."""
        if isinstance(content, bytes):
            self._put_bytes += len(content)
        self._queue.put(_Piece(content, time.monotonic_ns(), time.time_ns()))

    def check(self) -> None:
        """Raise DiskTrouble where the disk has refused, or has taken nothing for far too long."""
        kept = f"{self._writer.bytes_written} bytes are kept in {self._writer.path}"
        if self._failed is not None:
            reason = self._failed.strerror or str(self._failed)
            raise DiskTrouble(
                f"the disk would not take the recording ({reason}); {kept}: free the disk and record anew",
            ) from self._failed
        if self._put_bytes - self._writer.bytes_written > _MEMORY_CAP:
            raise DiskTrouble(f"the disk takes too long to write; {kept}: record to another disk")

    def finish(self) -> None:
        """Wait until everything handed over is on the disk, or was refused."""
        self._queue.put(None)
        self._thread.join(_DISK_PATIENCE_S)
        if self._thread.is_alive():
            self._failed = OSError(f"it did not answer for {_DISK_PATIENCE_S:.0f} s")

    def _run(self) -> None:
        try:
            going = True
            next_sync = time.monotonic() + _SYNC_S
            while going:
                pieces, going = self._gather(next_sync)
                for record in _records(pieces):
                    self._write(record)
                if not going or time.monotonic() >= next_sync:
                    self._writer.sync()
                    next_sync = time.monotonic() + _SYNC_S
        except OSError as error:
            self._failed = error
        except ValueError:
            # the caller closed a capture whose disk had been given up, and then the disk answered after all
            self._failed = OSError("it answered after the recording had been given up")

    def _gather(self, until: float) -> tuple[list[_Piece], bool]:
        """Wait for a piece, at most until the time given; return what has come and whether more may come."""
        try:
            piece = self._queue.get(timeout=max(0.0, until - time.monotonic()))
        except queue.Empty:
            return [], True
        if piece is not None:
            time.sleep(_GATHER_S)
        pieces: list[_Piece] = []
        while piece is not None:
            pieces.append(piece)
            try:
                piece = self._queue.get_nowait()
            except queue.Empty:
                return pieces, True
        return pieces, False

    def _write(self, record: list[_Piece]) -> None:
        last = record[-1]
        if isinstance(last.content, str):
            self._writer.note(last.content, last.monotonic_ns, last.utc_ns)
        else:
            data = b"".join(piece.content for piece in record if isinstance(piece.content, bytes))
            self._writer.append(data, last.monotonic_ns, last.utc_ns)


def _records(pieces: list[_Piece]) -> Iterator[list[_Piece]]:
    """Group pieces into records: bytes that came within the gathering time together, a note by itself."""
    record: list[_Piece] = []
    for piece in pieces:
        if record and (
            isinstance(piece.content, str)
            or isinstance(record[-1].content, str)
            or piece.monotonic_ns - record[0].monotonic_ns > _GATHER_S * 1e9
        ):
            yield record
            record = []
        record.append(piece)
    if record:
        yield record
