"""Bytes to records as they come in: store with `Reader.feed`, take out with `Reader.next_record`."""

from collections import Counter, defaultdict, deque
from enum import Enum
from typing import Literal

from bridge.wire.boots import Boots, Placed
from bridge.wire.encode import LINE_BYTES
from bridge.wire.framing import can_be_judged, count_junk, find_frame
from bridge.wire.grammar import read_body
from bridge.wire.records import Block, ChannelLine, Counts, Data, Identity, Mark, Record, State, Unknown
from bridge.wire.seqs import AcceptedSeqs


class NeedData(Enum):
    """The type of `NEED_DATA`."""

    NEED_DATA = "need data"


NEED_DATA: Literal[NeedData.NEED_DATA] = NeedData.NEED_DATA
"""What `Reader.next_record` returns where more bytes are needed."""


class Reader:
    """Reads the wire format from any chunks of bytes; however they are cut, they give the same records.

    Records come in order of arrival, each once it is certain which boot and which block it belongs to
    (`bridge.wire.boots`). An `Identity` and the channels after it are a whole block that begins to hold, and
    so begin a segment; a block that changes nothing is only counted.

    After `next_record` has returned `NEED_DATA`, at most one unfinished line is stored: beyond 512 bytes a
    line is given up as damaged, so that noise without a ``>`` cannot fill the memory.
    """

    def __init__(self) -> None:
        self._buffer = bytearray()
        self._outside = True  # before the first >, or behind the digits of a good checksum
        self._boots: Boots[Data | Mark | State | Unknown] = Boots()
        self._ready: deque[tuple[int, Record]] = deque()
        self._tally: Counter[str] = Counter()
        self._seqs: defaultdict[int, AcceptedSeqs] = defaultdict(AcceptedSeqs)
        self.boot_index = 0
        """The boot of the record that was returned last, counted from 0."""

    @property
    def counts(self) -> Counts:
        """What became of the bytes so far; lines that are still held are not yet among them."""
        lost = sum(seqs.lost() for seqs in self._seqs.values())
        return Counts(**self._tally, lines_lost=lost, restarts=self._boots.restarts)

    def feed(self, data: bytes) -> None:
        """Store bytes; nothing is read yet."""
        self._buffer += data

    def next_record(self) -> Record | Literal[NeedData.NEED_DATA]:
        """Return the next record.

        Returns:
            1. the next record, or
            2. `NEED_DATA`, where none is whole yet.

        Raises:
            WireTooNew: an identity line of a later version; reading may go on behind it. Anything else raised
                is a defect of this program.
        """
        while not self._ready and self._read_piece(last=False):
            self._judge_placed()
        if not self._ready:
            return NEED_DATA
        self.boot_index, record = self._ready.popleft()
        return record

    def close(self) -> None:
        """Say that nothing more will come.

        An unfinished line is damaged; what was held comes out by `next_record`.

        Raises:
            WireTooNew: as `next_record`, where that has not been called until it returned `NEED_DATA`.
        """
        while self._read_piece(last=True):
            pass
        self._boots.finish()
        self._judge_placed()

    def _read_piece(self, *, last: bool) -> bool:
        """Read one stretch of the buffer; return whether there may be another."""
        if not self._buffer.startswith(b">"):
            return self._leave_outside()
        end = self._buffer.find(b">", 1)
        piece = bytes(self._buffer[1 : min(end, LINE_BYTES) if end >= 0 else LINE_BYTES])
        if end < 0 and not last and not can_be_judged(piece):
            return False
        frame = find_frame(piece)
        del self._buffer[: 1 + (frame.size if frame else 0)]
        record = read_body(frame.body) if frame else None
        self._outside = frame is not None
        if record is None:
            self._tally["lines_damaged"] += 1
            self._boots.damaged()
        else:
            self._accept(record)
        return True

    def _leave_outside(self) -> bool:
        """Drop what stands before the next ``>``; return whether there is one."""
        end = self._buffer.find(b">")
        outside = bytes(self._buffer[: end if end >= 0 else len(self._buffer)])
        del self._buffer[: len(outside)]
        if self._outside:
            self._tally["junk_bytes"] += count_junk(outside)
        return end >= 0

    def _accept(self, record: Record) -> None:
        match record:
            case Identity():
                self._tally["lines_good"] += 1
                self._boots.identity(record)
            case ChannelLine():
                self._tally["lines_good"] += 1
                self._boots.channel(record)
            case Data(seq=int(seq)) | Mark(seq=int(seq)) | Unknown(seq=int(seq)):
                self._boots.numbered(record, seq, seq)
            case State() | Unknown():
                self._boots.other(record)

    def _judge_placed(self) -> None:
        """Make ready what the boots have placed; only now a data line's number of values can be judged."""
        for placed in self._boots.take_placed():
            if placed.item is None:
                self._begin_segment(placed)
            else:
                self._judge(placed.boot_index, placed.block, placed.item)

    def _begin_segment(self, placed: Placed[Data | Mark | State | Unknown]) -> None:
        if placed.block is not None:
            records: tuple[Record, ...] = (placed.block.identity, *placed.block.channels)
            self._ready.extend((placed.boot_index, record) for record in records)

    def _judge(self, boot_index: int, block: Block | None, record: Data | Mark | State | Unknown) -> None:
        if isinstance(record, Data) and block is not None and len(record.values) != len(block.channels):
            self._tally["lines_damaged"] += 1
            return
        self._tally["lines_good"] += 1
        self._tally["unknown_lines"] += isinstance(record, Unknown)
        if not isinstance(record, State) and record.seq is not None:
            self._seqs[boot_index].add(record.seq)
        if isinstance(record, Data) and block is None:
            self._tally["unread_lines"] += 1
        else:
            self._ready.append((boot_index, record))
