"""Capture files: the raw bytes of one recording with their arrival times, append-only.

A capture begins with the line ``sootline capture 1`` and goes on in records, little-endian::

    record  = marker(4) kind(1) length(u32) monotonic_ns(i64) utc_ns(i64) payload(length) crc(u32)
    kind    = "B" bytes off the wire | "N" a note in UTF-8

``crc`` is CRC-32 over everything before it in the record. The two times are those at which the last byte of
the payload had come. A record that does not check out is left out and counted, and reading goes on at the
next marker: a torn tail (power cut, full disk) or a bad sector costs that record and nothing else.
"""

import os
import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import polars as pl

from bridge.errors import BadFile, DiskTrouble

MAGIC = b"sootline capture 1\n"
_MARKER = b"\xf5\xc0\x0f\xf1"  # no byte of it is printable ASCII, so that no line of the wire looks like it
_HEADER = struct.Struct("<4scIqq")
_CRC = struct.Struct("<I")
_BYTES, _NOTE = b"B", b"N"


@dataclass(frozen=True)
class Note:
    """What the recorder wrote down beside the bytes."""

    text: str
    offset: int
    """How many bytes off the wire stand before it."""
    monotonic_ns: int
    utc_ns: int


@dataclass(frozen=True)
class Capture:
    """What a capture file holds."""

    data: bytes
    """All bytes off the wire, in order of arrival."""
    chunks: pl.DataFrame
    """One row a record: offset u64 (in data), length u32, monotonic_ns i64, utc_ns i64 (of its last byte)."""
    notes: tuple[Note, ...]
    torn_bytes: int
    """Bytes of the file after its last good record: an interrupted write."""
    damaged_bytes: int = 0
    """Bytes of the file between good records that did not check out."""


class Chunk(NamedTuple):
    """Bytes that came together."""

    data: bytes
    monotonic_ns: int
    """When the last of them had come."""
    utc_ns: int


@dataclass(frozen=True)
class Followed:
    """What a capture has gained since it was last looked at."""

    chunks: tuple[Chunk, ...]
    notes: tuple[Note, ...]
    """Their ``offset`` counts the bytes of these chunks that stand before them."""
    position: int
    """For the next call."""

    @property
    def data(self) -> bytes:
        """All the new bytes off the wire."""
        return b"".join(chunk.data for chunk in self.chunks)


class CaptureWriter:
    """Appends to a new capture file; one record a call, each handed to the system at once.

    Nothing is certain to outlive a power cut before ``sync`` has returned.
    """

    def __init__(self, path: Path) -> None:
        """Make the file.

        Args:
            path: where; a file that is there already is never written over.

        Raises:
            DiskTrouble: it cannot be made.
        """
        self.path = path
        self.bytes_written = 0
        """Bytes off the wire that the system has taken."""
        self.bytes_synced = 0
        """How many of them outlive a power cut."""
        try:
            self._file = path.open("xb", buffering=0)
            self._write(MAGIC)
            self.sync()
            _sync_folder(path.parent)
        except OSError as error:
            raise DiskTrouble(
                f"the capture {path} cannot be made ({_reason(error)}); nothing was recorded:"
                " free the disk or choose another logbook folder",
            ) from error

    def append(self, data: bytes, monotonic_ns: int, utc_ns: int) -> None:
        """Append bytes off the wire.

        Args:
            data: what came.
            monotonic_ns: monotonic clock when the last of it had come [ns].
            utc_ns: UTC at the same moment, since 1970 [ns].

        Raises:
            OSError: the disk would not take it.
        """
        self._record(_BYTES, data, monotonic_ns, utc_ns)
        self.bytes_written += len(data)

    def note(self, text: str, monotonic_ns: int, utc_ns: int) -> None:
        """Append a note; arguments and errors as ``append``."""
        self._record(_NOTE, text.encode(), monotonic_ns, utc_ns)

    def sync(self) -> None:
        """Wait until the disk holds everything that was appended.

        Raises:
            OSError: the disk would not take it.
        """
        written = self.bytes_written
        os.fsync(self._file.fileno())
        self.bytes_synced = written

    def close(self) -> None:
        """Close the file; a second time does nothing."""
        self._file.close()

    def _record(self, kind: bytes, payload: bytes, monotonic_ns: int, utc_ns: int) -> None:
        body = _HEADER.pack(_MARKER, kind, len(payload), monotonic_ns, utc_ns) + payload
        self._write(body + _CRC.pack(zlib.crc32(body)))

    def _write(self, data: bytes) -> None:
        left = memoryview(data)
        while left:  # an unbuffered write may take a part only
            left = left[self._file.write(left) or 0 :]


def read_capture(path: Path) -> Capture:
    """Read a capture, also one that is still being written or was torn off.

    Args:
        path: the file.

    Returns:
        Its bytes with their arrival times; whole records only.

    Raises:
        BadFile: the file cannot be read, or is not a capture.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        raise BadFile(f"the capture {path} cannot be read ({_reason(error)})") from error
    # a recorder that was cut off at its very start leaves less than the first line
    if not content.startswith(MAGIC) and not (len(content) < len(MAGIC) and MAGIC.startswith(content)):
        raise BadFile(f"{path} is not a capture: it does not begin with the line '{MAGIC.decode().strip()}'")
    pieces: list[memoryview] = []
    rows: list[tuple[int, int, int, int]] = []
    notes: list[Note] = []
    offset, good = 0, 0
    end = min(len(MAGIC), len(content))
    for begin, kind, payload, monotonic_ns, utc_ns in _records(content, len(MAGIC)):
        end = begin + _HEADER.size + len(payload) + _CRC.size
        good += end - begin
        if kind == _BYTES:
            pieces.append(payload)
            rows.append((offset, len(payload), monotonic_ns, utc_ns))
            offset += len(payload)
        else:
            notes.append(Note(bytes(payload).decode(errors="replace"), offset, monotonic_ns, utc_ns))
    return Capture(
        data=b"".join(pieces),
        chunks=_chunk_frame(rows),
        notes=tuple(notes),
        torn_bytes=len(content) - end,
        damaged_bytes=max(0, end - len(MAGIC) - good),
    )


def follow_capture(path: Path, position: int = 0) -> Followed:
    """Return what a growing capture has gained; only what is new is read from the disk.

    Args:
        path: the file.
        position: where the last call stopped in the file; 0 to begin with. Any other place will do too, such
            as a little before the end: reading begins at the next record.

    Returns:
        What is new, whole records only, and the position for the next call.

    Raises:
        BadFile: the file cannot be read.
    """
    start = max(position, len(MAGIC))
    try:
        with path.open("rb") as file:
            file.seek(start)
            content = file.read()
    except OSError as error:
        raise BadFile(f"the capture {path} cannot be read ({_reason(error)})") from error
    chunks: list[Chunk] = []
    notes: list[Note] = []
    end = came = 0
    for begin, kind, payload, monotonic_ns, utc_ns in _records(content, 0):
        end = begin + _HEADER.size + len(payload) + _CRC.size
        if kind == _BYTES:
            chunks.append(Chunk(bytes(payload), monotonic_ns, utc_ns))
            came += len(payload)
        else:
            notes.append(Note(bytes(payload).decode(errors="replace"), came, monotonic_ns, utc_ns))
    return Followed(tuple(chunks), tuple(notes), start + end)


def _records(content: bytes, begin: int) -> Iterator[tuple[int, bytes, memoryview, int, int]]:
    """Yield (begin, kind, payload, monotonic_ns, utc_ns) of each record that checks out."""
    view = memoryview(content)
    size = len(content)
    unpack, crc32, overhead = _HEADER.unpack_from, zlib.crc32, _HEADER.size + _CRC.size
    while begin + overhead <= size:
        marker, kind, length, monotonic_ns, utc_ns = unpack(content, begin)
        body_end = begin + _HEADER.size + length
        if (
            marker == _MARKER
            and body_end + _CRC.size <= size
            and _CRC.unpack_from(content, body_end)[0] == crc32(view[begin:body_end])
        ):
            yield begin, kind, view[begin + _HEADER.size : body_end], monotonic_ns, utc_ns
            begin = body_end + _CRC.size
        else:
            begin = content.find(_MARKER, begin + 1)
            if begin < 0:
                return


def _chunk_frame(rows: list[tuple[int, int, int, int]]) -> pl.DataFrame:
    schema = {"offset": pl.UInt64, "length": pl.UInt32, "monotonic_ns": pl.Int64, "utc_ns": pl.Int64}
    return pl.DataFrame(rows, schema=schema, orient="row")


def _sync_folder(folder: Path) -> None:
    """Make a new file's name outlive a power cut, where folders can be synced (not on Windows)."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _reason(error: OSError) -> str:
    return error.strerror or str(error)
