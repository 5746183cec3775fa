"""A whole capture to frames at once: the same results as `bridge.wire.reader.Reader`, several times faster.

Blocks of about 2 MB (large enough for polars, small enough for a processor's cache) are parted by numpy into
data lines, which polars reads together, and all else, which goes one by one through the reader's own grammar.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby, pairwise
from operator import itemgetter

import numpy as np
import polars as pl

from bridge.wire.boots import Boots
from bridge.wire.framing import count_junk, find_frame
from bridge.wire.grammar import read_body
from bridge.wire.records import Block, ChannelLine, Counts, Data, Identity, Mark, Record, State, Unknown
from bridge.wire.seqs import AcceptedSeqs
from bridge.wire.sift import Sifted, read_plain_numbers, sift

_BLOCK_BYTES = 1 << 21
_COUNTER, _OFFSET = pl.UInt32(), pl.UInt64()
_NUMBERED: dict[str, pl.DataType] = {"offset": _OFFSET, "seq": _COUNTER, "tick": _COUNTER}
_AT: dict[str, pl.DataType] = {"offset": _OFFSET, "boot_index": _COUNTER}
_MARKS = _AT | {"seq": _COUNTER, "tick": _COUNTER, "what": pl.String()}
_STATES = _AT | {"tick": _COUNTER, "part": pl.String(), "state": pl.String()}


@dataclass(frozen=True)
class Segment:
    """Data lines of one boot under one block."""

    boot_index: int
    """Counts restarts from 0."""
    identity: Identity
    """Of the block that the lines are read by; its boot is the next one's where theirs ended without a block."""
    channels: tuple[ChannelLine, ...]
    frame: pl.DataFrame
    """One row a line in order of arrival: ``offset`` (u64, byte position of its ``>``), ``seq`` and ``tick``
    (u32), then ``v0``, ``v1``, ... (f64), one a channel, null where the line had no valid reading."""


@dataclass(frozen=True)
class Decoded:
    """All that a capture says."""

    segments: tuple[Segment, ...]
    marks: pl.DataFrame
    """``offset`` (u64), ``boot_index`` (u32), ``seq``, ``tick`` (u32), ``what``."""
    states: pl.DataFrame
    """``offset`` (u64), ``boot_index`` (u32), ``tick`` (u32), ``part``, ``state``."""
    counts: Counts
    identity: Identity | None
    """Of the last segment; None where no whole block came."""


def decode(data: bytes) -> Decoded:
    """Read a whole capture.

    Args:
        data: the bytes as they came off the wire.

    Raises:
        WireTooNew: it holds an identity line of a later version of the format.
    """
    decoder = _Decoder()
    begin = data.find(b">")
    decoder.tally["junk_bytes"] += count_junk(data[: begin if begin >= 0 else len(data)])
    while 0 <= begin < len(data):
        end = _find_block_end(data, begin)
        decoder.read(data[begin:end], begin)
        begin = end
    return decoder.finish()


def _find_block_end(data: bytes, begin: int) -> int:
    """Return where a block of whole pieces ends."""
    full = begin + _BLOCK_BYTES
    if full >= len(data):
        return len(data)
    end = data.rfind(b">", begin + 1, full)
    if end < 0:
        end = data.find(b">", full)
    return end if end >= 0 else len(data)


@dataclass(frozen=True)
class _Rows:
    """Data lines one after the other, their ``seq`` never stepping back."""

    frame: pl.DataFrame

    @property
    def values(self) -> int:
        return self.frame.width - len(_NUMBERED)


@dataclass(frozen=True)
class _Line:
    """One line of another kind."""

    offset: int
    record: Mark | State | Unknown


@dataclass
class _OpenSegment:
    boot_index: int
    block: Block
    frames: list[pl.DataFrame] = field(default_factory=list)


class _Decoder:
    """What is known while the blocks of a capture are read one after the other."""

    def __init__(self) -> None:
        self.tally: Counter[str] = Counter()
        self._boots: Boots[_Rows | _Line] = Boots()
        self._seqs: defaultdict[int, AcceptedSeqs] = defaultdict(AcceptedSeqs)
        self._segments: list[_OpenSegment] = []
        self._marks: list[tuple[int, int, int, int, str]] = []
        self._states: list[tuple[int, int, int, str, str]] = []

    def read(self, block: bytes, base: int) -> None:
        """Read a block of whole pieces that begins at the byte base of the capture."""
        sifted = sift(block)
        self.tally["junk_bytes"] += sifted.data_junk
        others = list(self._judge_others(block, sifted, base))
        offsets = [offset for offset, record in others if record is not None]
        frames, damaged = self._read_data(sifted, base)
        events: list[tuple[int, _Rows | Record | None]] = [*others, *((offset, None) for offset in damaged)]
        for frame in frames:
            events.extend(_cut_rows(frame, offsets))
        events.sort(key=itemgetter(0))
        for offset, event in events:
            self._take(offset, event)
        self._judge_placed()

    def finish(self) -> Decoded:
        """Return what was read; nothing more will come."""
        self._boots.finish()
        self._judge_placed()
        segments = tuple(
            Segment(
                segment.boot_index,
                segment.block.identity,
                segment.block.channels,
                pl.concat([_empty_frame(len(segment.block.channels)), *segment.frames]),
            )
            for segment in self._segments
        )
        return Decoded(
            segments,
            pl.DataFrame(self._marks, _MARKS, orient="row"),
            pl.DataFrame(self._states, _STATES, orient="row"),
            Counts(
                **self.tally,
                lines_lost=sum(seqs.lost() for seqs in self._seqs.values()),
                restarts=self._boots.restarts,
            ),
            segments[-1].identity if segments else None,
        )

    def _judge_others(self, block: bytes, sifted: Sifted, base: int) -> Iterator[tuple[int, Record | None]]:
        """Judge one by one what is no data line with a good checksum; None is a damaged line."""
        for start, end in zip(sifted.other_starts.tolist(), sifted.other_ends.tolist(), strict=True):
            piece = block[start + 1 : end]
            frame = find_frame(piece)
            record = read_body(frame.body) if frame else None
            self.tally["junk_bytes"] += count_junk(piece[frame.size :]) if frame else 0
            self.tally["lines_damaged"] += record is None
            yield base + start, record

    def _read_data(self, sifted: Sifted, base: int) -> tuple[list[pl.DataFrame], list[int]]:
        """Read the data lines of a block: together where all are plain, else one by one.

        Returns:
            frames of lines with equally many values, and the offsets of lines whose numbers are damaged.
        """
        offsets = pl.Series("offset", sifted.data_starts + base, pl.UInt64)
        frame = read_plain_numbers(sifted.data_bodies)
        if frame is not None:
            return [frame.insert_column(0, offsets)], []
        rows, damaged = [], []
        for offset, record in zip(offsets, map(read_body, sifted.data_bodies), strict=True):
            if isinstance(record, Data):
                rows.append((offset, record.seq, record.tick, *record.values))
            else:
                damaged.append(offset)
        self.tally["lines_damaged"] += len(damaged)
        frames = [
            pl.DataFrame(list(alike), _empty_frame(width - len(_NUMBERED)).schema, orient="row")
            for width, alike in groupby(rows, key=len)
        ]
        return frames, damaged

    def _take(self, offset: int, event: _Rows | Record | None) -> None:
        match event:
            case None:
                self._boots.damaged()
            case _Rows(frame):
                self._boots.numbered(event, frame["seq"][0], frame["seq"][-1])
            case Identity():
                self.tally["lines_good"] += 1
                self._boots.identity(event)
            case ChannelLine():
                self.tally["lines_good"] += 1
                self._boots.channel(event)
            case Mark(seq=int(seq)) | Unknown(seq=int(seq)):
                self._boots.numbered(_Line(offset, event), seq, seq)
            case State() | Unknown():
                self._boots.other(_Line(offset, event))

    def _judge_placed(self) -> None:
        for placed in self._boots.take_placed():
            match placed.item:
                case None:
                    if placed.block:
                        self._segments.append(_OpenSegment(placed.boot_index, placed.block))
                case _Rows():
                    self._place_rows(placed.boot_index, placed.block, placed.item)
                case _Line():
                    self._place_line(placed.boot_index, placed.item)

    def _place_rows(self, boot_index: int, block: Block | None, rows: _Rows) -> None:
        lines = rows.frame.height
        if block is not None and rows.values != len(block.channels):
            self.tally["lines_damaged"] += lines
            return
        self.tally["lines_good"] += lines
        self._seqs[boot_index].add_all(rows.frame["seq"].to_numpy())
        if block is None:
            self.tally["unread_lines"] += lines
        else:
            self._segments[-1].frames.append(rows.frame)

    def _place_line(self, boot_index: int, line: _Line) -> None:
        self.tally["lines_good"] += 1
        match line.record:
            case Mark(seq, tick, what):
                self._seqs[boot_index].add(seq)
                self._marks.append((line.offset, boot_index, seq, tick, what))
            case State(tick, part, state):
                self._states.append((line.offset, boot_index, tick, part, state))
            case Unknown(seq=seq):
                self.tally["unknown_lines"] += 1
                if seq is not None:
                    self._seqs[boot_index].add(seq)


def _empty_frame(values: int) -> pl.DataFrame:
    return pl.DataFrame(schema=_NUMBERED | {f"v{i}": pl.Float64() for i in range(values)})


def _cut_rows(frame: pl.DataFrame, offsets: Sequence[int]) -> Iterator[tuple[int, _Rows]]:
    """Cut data lines where a line of another kind came between and where ``seq`` steps back."""
    between = frame["offset"].to_numpy().searchsorted(np.array(offsets, np.uint64))
    steps = np.diff(frame["seq"].to_numpy()).view(np.int32)
    cuts = np.unique(np.concatenate([[0], between, np.flatnonzero(steps < 0) + 1, [frame.height]])).tolist()
    for first, end in pairwise(cuts):
        rows = frame[first:end]
        yield rows["offset"][0], _Rows(rows)
