"""Follows one growing capture file: its last minute at once, then whatever is appended."""

from collections.abc import Sequence
from pathlib import Path

from bridge.link.capture import Chunk, Note, follow_capture
from bridge.wire import Counts, decode
from dashboard.live.decoder import Decoder, Fresh

WINDOW_S = 75.0
"""So much is read back when somebody begins to look [s]: the minute shown and a block before it."""
_FIRST_GUESS = 512_000
"""A minute at 100 lines a second, and some more [bytes]."""
WHOLE_BYTES = 64_000_000
"""A capture up to this size is counted from its beginning, in two seconds; of a longer one the lines are
counted from where the looking began."""


class Follower:
    """One capture as it grows; for one thread."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.decoder = Decoder()
        self.position = 0
        self.began_at = 0
        """Where in the file the reading began."""
        self.first: Chunk | None = None
        """The first bytes seen: what UTC was on the arrivals' clock."""

    def open(self) -> tuple[Fresh, tuple[Note, ...]]:
        """Read the last minute.

        Raises:
            BadFile: the capture cannot be read.
        """
        size, guess = self.path.stat().st_size if self.path.exists() else 0, _FIRST_GUESS
        while True:
            self.began_at = max(0, size - guess)
            found = follow_capture(self.path, self.began_at)
            if self.began_at == 0 or _span_s(found.chunks) >= WINDOW_S:
                break
            guess *= 4
        chunks = found.chunks
        if chunks and _span_s(chunks) > WINDOW_S:
            since = chunks[-1].monotonic_ns - int(WINDOW_S * 1e9)
            chunks = tuple(chunk for chunk in chunks if chunk.monotonic_ns >= since)
        self.position = found.position
        return self._decode(chunks), found.notes

    def grown(self) -> bool:
        """Return whether the file is longer than what was read."""
        try:
            return self.path.stat().st_size > self.position
        except OSError:
            return False

    def poll(self) -> tuple[Fresh, tuple[Note, ...]]:
        """Read what was appended.

        Raises:
            BadFile: the capture cannot be read any more.
        """
        found = follow_capture(self.path, self.position)
        self.position = found.position
        return self._decode(found.chunks), found.notes

    def _decode(self, chunks: Sequence[Chunk]) -> Fresh:
        if self.first is None and chunks:
            self.first = chunks[0]
        return self.decoder.feed(chunks)


def before(path: Path, until_ns: int) -> tuple[Counts, Chunk | None, tuple[Note, ...]] | None:
    """Count the lines of a capture that came before a moment.

    Args:
        path: the capture.
        until_ns: arrival of the first chunk that is counted elsewhere [ns].

    Returns:
        Counts, the first chunk of all, and the notes from before; None where the capture is too long to be
        read whole. A line that the moment cuts in two is counted by nobody.
    """
    if path.stat().st_size > WHOLE_BYTES:
        return None
    found = follow_capture(path, 0)
    chunks = [chunk for chunk in found.chunks if chunk.monotonic_ns < until_ns]
    data = b"".join(chunk.data for chunk in chunks)
    whole = data[: data.rfind(b">")] if b">" in data else b""
    notes = tuple(note for note in found.notes if note.monotonic_ns < until_ns)
    return decode(whole).counts, chunks[0] if chunks else None, notes


def _span_s(chunks: Sequence[Chunk]) -> float:
    return (chunks[-1].monotonic_ns - chunks[0].monotonic_ns) / 1e9 if chunks else 0.0
