"""The thread that owns a capture while a recording runs, so that a slow disk holds no reading up.

It joins what came within 20 ms to one record, appends it, and syncs within each second. What comes while the
disk is busy waits in memory.
"""

import contextlib
import errno
import queue
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from bridge.errors import DiskTrouble
from bridge.link import room
from bridge.link.capture import CaptureWriter
from bridge.link.notes import Kind, note_text

GATHER_S = 0.02
"""What comes within this time becomes one record [s]."""
SYNC_S = 0.9
"""Between two syncs [s]: with the gathering no byte is older than a second when it is safe."""
_MEMORY_CAP = 64_000_000
"""What may wait for the disk before recording is given up [bytes]: an hour and a half at 115200 baud."""
_MOST_PIECES = 10_000
"""Taken at once, so that a flood cannot put a sync off."""
_PATIENCE_S = 60.0
"""How long the end of a recording waits for a disk that does not answer [s]."""


@dataclass(frozen=True)
class Clock:
    """The clocks that a recording goes by; tests put others in their place."""

    monotonic_ns: Callable[[], int] = time.monotonic_ns
    """Never jumps: everything is measured by it [ns]."""
    utc_ns: Callable[[], int] = time.time_ns
    """The host's idea of UTC, which may be set meanwhile: noted, never reckoned with [ns]."""
    sleep: Callable[[float], None] = time.sleep

    def now_s(self) -> float:
        """Return the monotonic clock [s]."""
        return self.monotonic_ns() / 1e9


@dataclass(frozen=True, slots=True)
class _Piece:
    """Bytes, or a note, with the moment at which they had come."""

    content: bytes | str
    monotonic_ns: int
    utc_ns: int


class Disk:
    """Takes bytes and notes, stamps them, and has them written by a thread of its own."""

    def __init__(self, writer: CaptureWriter, clock: Clock) -> None:
        self._writer = writer
        self._clock = clock
        self._put_bytes = 0
        self._queue: queue.SimpleQueue[_Piece | None] = queue.SimpleQueue()
        self._failed: OSError | None = None
        self._thread = threading.Thread(target=self._run, name="capture", daemon=True)
        self._thread.start()

    def put(self, data: bytes) -> None:
        """Stamp bytes off the wire and hand them over; never waits."""
        self._put_bytes += len(data)
        self._queue.put(_Piece(data, self._clock.monotonic_ns(), self._clock.utc_ns()))

    def note(self, kind: Kind, words: str) -> None:
        """Stamp a note and hand it over; never waits."""
        self._queue.put(_Piece(note_text(kind, words), self._clock.monotonic_ns(), self._clock.utc_ns()))

    def check(self) -> None:
        """Raise DiskTrouble where the disk has refused, is nearly full, or has taken nothing for far too long."""
        kept = f"{self._writer.bytes_written} bytes are kept in {self._writer.path}"
        if self._failed is not None:
            reason = self._failed.strerror or str(self._failed)
            raise DiskTrouble(
                f"the disk would not take the recording any longer ({reason}); {kept}: free the disk and record"
                " anew",
            ) from self._failed
        if self._put_bytes - self._writer.bytes_written > _MEMORY_CAP:
            raise DiskTrouble(f"the disk takes too long to write; {kept}: record to another disk")

    def finish(self) -> None:
        """Wait until everything handed over is on the disk, or was refused."""
        self._queue.put(None)
        self._thread.join(_PATIENCE_S)
        if self._thread.is_alive():
            self._failed = OSError(f"it did not answer for {_PATIENCE_S:.0f} s")

    def _run(self) -> None:
        try:
            self._write_and_sync()
        except OSError as error:
            self._failed = error
            with contextlib.suppress(OSError):
                self._writer.sync()
        except ValueError:
            # the caller closed a capture whose disk had been given up, and then the disk answered after all
            self._failed = OSError("it answered after the recording had been given up")

    def _write_and_sync(self) -> None:
        going = True
        next_sync = time.monotonic() + SYNC_S
        while going:
            pieces, going = self._gather(next_sync)
            for record in _records(pieces):
                self._write(record)
            if not going or time.monotonic() >= next_sync:
                next_sync = time.monotonic() + SYNC_S
                self._writer.sync()
                self._look_at_room()

    def _look_at_room(self) -> None:
        """End the recording while there is room to seal it; the thread goes on, to write down how it ended."""
        free = room.free_bytes(self._writer.path.parent)
        if self._failed is None and free < room.reserve(self._writer.bytes_written):
            words = f"only {free / 1e6:.1f} MB are left, which sealing will need"
            self._failed = OSError(errno.ENOSPC, words)
            self.note(Kind.DISK, f"the recording stops here: {words}")

    def _gather(self, until: float) -> tuple[list[_Piece], bool]:
        """Wait for a piece, at most until the time given; return what has come and whether more may come."""
        try:
            piece = self._queue.get(timeout=max(0.0, until - time.monotonic()))
        except queue.Empty:
            return [], True
        if piece is not None:
            time.sleep(GATHER_S)
        pieces: list[_Piece] = []
        while piece is not None:
            pieces.append(piece)
            if len(pieces) >= _MOST_PIECES:
                return pieces, True
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
            or piece.monotonic_ns - record[0].monotonic_ns > GATHER_S * 1e9
        ):
            yield record
            record = []
        record.append(piece)
    if record:
        yield record
