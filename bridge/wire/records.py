"""What a line of the wire format says, as frozen values."""

from dataclasses import dataclass, fields

VERSION = 1
"""The version of the wire format that this program reads and writes."""
MARKS = ("chop", "lap", "start", "stop", "mark")
STATES = ("warming", "ready", "fault", "off")


@dataclass(frozen=True, slots=True)
class Identity:
    """An ``I`` line: which logger this is, and which of its starts."""

    version: int
    device: str
    firmware: str
    serial: str
    ticks_per_second: int
    channels: int
    boot: int
    """A number that differs at each start of the logger."""


@dataclass(frozen=True, slots=True)
class ChannelLine:
    """A ``C`` line: one channel of the block that an ``I`` line opens."""

    index: int
    """From 0; the place of its value in a data line."""
    name: str
    unit: str
    """UCUM code."""
    readings_per_second: float | None = None
    """Told by a channel that is slower than the lines [1/s]."""


@dataclass(frozen=True, slots=True)
class Data:
    """A ``D`` line: one value for each channel, None where there was no valid reading."""

    seq: int
    """Counts ``D`` and ``M`` lines together, 32 bits, wrapping."""
    tick: int
    """The logger's clock, 32 bits, wrapping [1 / ticks_per_second]."""
    values: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Mark:
    """An ``M`` line: a button, a lap beacon, the kill switch; ``what`` is one of `MARKS`."""

    seq: int
    tick: int
    what: str


@dataclass(frozen=True, slots=True)
class State:
    """An ``S`` line: a part of the logger changed its state; ``state`` is one of `STATES`."""

    tick: int
    part: str
    state: str


@dataclass(frozen=True, slots=True)
class Unknown:
    """A sound line of a kind, or with a state or mark, that this version does not know; kept as it came."""

    kind: str
    fields: tuple[str, ...]
    seq: int | None = None
    """Its number, where it is an ``M`` line: it counts for what was lost."""


@dataclass(frozen=True, slots=True)
class Block:
    """A whole block: an ``I`` line and every ``C`` line that it announces."""

    identity: Identity
    channels: tuple[ChannelLine, ...]


Record = Identity | ChannelLine | Data | Mark | State | Unknown


@dataclass(frozen=True)
class Counts:
    """What became of the bytes; counts of two stretches add up."""

    lines_good: int = 0
    """Lines accepted, unknown ones among them."""
    lines_damaged: int = 0
    """``>`` that began no accepted line."""
    lines_lost: int = 0
    """Numbers between the first and the last accepted one of a boot that were never accepted."""
    junk_bytes: int = 0
    """Bytes outside lines, CR and LF apart."""
    restarts: int = 0
    unknown_lines: int = 0
    """Good lines of a kind, or with a state or mark, that this version does not know."""
    unread_lines: int = 0
    """Good data lines that no whole block ever described, so that nobody knows what they measure."""

    def __add__(self, other: "Counts") -> "Counts":
        return Counts(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(self)))
