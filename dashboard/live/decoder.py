"""From followed chunks to rows, by the wire's own reader; no file, thread or clock in here."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from bridge.errors import WireTooNew
from bridge.link.capture import Chunk, Note
from bridge.wire import NEED_DATA, ChannelLine, Counts, Data, Identity, Mark, Reader, State
from dashboard.live.clock import TickClock
from dashboard.live.columns import Column, Value, columns_of


class Row(NamedTuple):
    """One data line."""

    t: float
    """When it was written, on the monotonic clock that stamps the arrivals [s]."""
    layout: int
    """Which of the decoder's ``layouts`` names its values."""
    values: tuple[Value, ...]


class Moment(NamedTuple):
    """What the logger marked."""

    t: float
    what: str


@dataclass
class Fresh:
    """What new bytes came to."""

    rows: list[Row] = field(default_factory=list)
    marks: list[Moment] = field(default_factory=list)


Timed = tuple[Data | Mark, float]


class Decoder:
    """Keeps what holds from one chunk to the next: the reader, the block, the clock, each part's state."""

    def __init__(self) -> None:
        self._reader = Reader()
        self._clock = TickClock(1)
        self._boot: int | None = None
        self._layout_of_boot = 0
        self._block: list[ChannelLine] | None = None
        self._announced = 0
        self.layouts: list[tuple[Column, ...]] = []
        self.states: dict[str, str] = {}
        """What each part of the logger last said of itself: warming, ready, fault or off."""
        self.last_line_s: float | None = None
        """When the last good line had come, on the arrivals' clock [s]."""
        self.too_new: str | None = None
        """The bridge's sentence where the logger speaks a later version of the format."""

    @property
    def counts(self) -> Counts:
        """What became of the bytes so far."""
        return self._reader.counts

    def feed(self, chunks: Sequence[Chunk]) -> Fresh:
        """Decode what came in.

        Args:
            chunks: bytes with their arrival, in order.

        Returns:
            The rows and marks that are certain by now; the others come with a later call.
        """
        fresh = Fresh()
        waiting: list[Timed] = []
        for chunk in chunks:
            good = self._reader.counts.lines_good
            self._reader.feed(chunk.data)
            self._drain(chunk.monotonic_ns / 1e9, waiting, fresh)
            if self._reader.counts.lines_good > good:
                self.last_line_s = chunk.monotonic_ns / 1e9
        self._lay(waiting, fresh)
        return fresh

    def _drain(self, arrival_s: float, waiting: list[Timed], fresh: Fresh) -> None:
        while True:
            try:
                record = self._reader.next_record()
            except WireTooNew as error:
                self.too_new = str(error)
                continue
            if record is NEED_DATA:
                return
            if isinstance(record, Identity):
                self._lay(waiting, fresh)
                self._begin(record)
            elif isinstance(record, ChannelLine):
                self._add_channel(record)
            elif isinstance(record, Data | Mark):
                waiting.append((record, arrival_s))
            elif isinstance(record, State):
                self.states[record.part] = record.state

    def _begin(self, identity: Identity) -> None:
        """Open a block; another boot has a clock of its own, and its parts say anew how they are."""
        self._block, self._announced, self.too_new = [], identity.channels, None
        if self._boot != self._reader.boot_index:
            if self._boot is not None:
                self.states.clear()
            self._boot = self._reader.boot_index
            self._clock = TickClock(identity.ticks_per_second)

    def _add_channel(self, line: ChannelLine) -> None:
        if self._block is None:
            return
        self._block.append(line)
        if len(self._block) == self._announced:
            columns, self._block = columns_of(self._block), None
            if columns not in self.layouts:
                self.layouts.append(columns)
            self._layout_of_boot = self.layouts.index(columns)

    def _lay(self, waiting: list[Timed], fresh: Fresh) -> None:
        """Lay lines on time and make rows of them."""
        times = self._clock.lay([(record.tick, arrival_s) for record, arrival_s in waiting])
        for (record, _), t in zip(waiting, times, strict=True):
            if isinstance(record, Mark):
                fresh.marks.append(Moment(t, record.what))
            else:
                columns = self.layouts[self._layout_of_boot]
                values = tuple(column.read(record.values) for column in columns)
                fresh.rows.append(Row(t, self._layout_of_boot, values))
        waiting.clear()


__all__ = ["Decoder", "Fresh", "Moment", "Note", "Row"]
