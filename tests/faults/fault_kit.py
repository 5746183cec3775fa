"""A world in which cables are pulled and clocks are set: loggers, ports and time, all of them the test's own."""

import errno
from dataclasses import dataclass, field

from bridge.errors import PortNotUsable
from bridge.link import Clock, PortFinder, PortInfo
from bridge.wire import ChannelLine, Data, Identity, encode

CHANNELS = (("lambda_1", "1"), ("rpm", "/min"))
TICKS = 1000
UTC_NS = 1_780_000_000_000_000_000


def block(boot=1, serial="0007"):
    """Return what a logger says of itself."""
    lines = [Identity(1, "bench-logger", "1", serial, TICKS, len(CHANNELS), boot)]
    lines += [ChannelLine(i, name, unit) for i, (name, unit) in enumerate(CHANNELS)]
    return b"".join(map(encode, lines))


def data_line(seq, tick):
    """Return one data line, whose values say its number again."""
    return encode(Data(seq, tick, (0.7 + seq % 500 / 1000, 2000 + seq % 9000)))


class World:
    """Time that only passes when somebody sleeps, and what is plugged in meanwhile."""

    def __init__(self):
        self.now_ns = 1_000_000_000
        self.utc_step_ns = 0
        self.plugged = {}
        self.usb_serials = {}
        self.events = []
        self.handed_over = bytearray()
        self.clock = Clock(lambda: self.now_ns, self.utc_ns, self.sleep)

    def utc_ns(self):
        """Return what the host thinks UTC is."""
        return UTC_NS + self.now_ns + self.utc_step_ns

    def sleep(self, seconds):
        """Let time pass, and what is to happen in it happen."""
        self.now_ns += int(seconds * 1e9)
        while self.events and self.events[0][0] <= self.now_s:
            self.events.pop(0)[1]()

    @property
    def now_s(self):
        """Seconds since the recording began, about."""
        return (self.now_ns - 1_000_000_000) / 1e9

    def at(self, seconds, what):
        """Have something happen at a moment."""
        self.events.append((seconds, what))
        self.events.sort(key=lambda event: event[0])

    def plug(self, name, logger, usb_serial=None):
        """Plug a logger in."""
        self.plugged[name] = logger
        self.usb_serials[name] = usb_serial
        logger.powered(self.now_s)

    def pull(self, name):
        """Pull its cable."""
        self.plugged.pop(name).generation += 1

    def open(self, name, _baud=115200):
        """Open a port as ``open_port`` does."""
        if name not in self.plugged:
            raise PortNotUsable(f"there is no port '{name}'")
        return FakePort(self, name, self.plugged[name])

    def list_ports(self):
        """Return what is plugged in."""
        return [PortInfo(name, "", self.usb_serials[name]) for name in sorted(self.plugged)]

    def finder(self, name):
        """Return a finder that looks for ports in this world."""
        return PortFinder(name, open_one=self.open, list_all=self.list_ports)


@dataclass
class FakeLogger:
    """Prints 100 lines a second by the world's clock, and a block at its start, each 10 s and when asked."""

    serial: str = "0007"
    rate: int = 100
    own_battery: bool = True
    boot: int = 0
    generation: int = 0
    seq: int = 0
    started_s: float | None = None
    sent: set = field(default_factory=set)
    silent: bool = False
    deaf: bool = False
    _next_block_s: float = 0.0

    def powered(self, now_s):
        """Start, unless it has run on by itself while the cable was out."""
        if self.started_s is None or not self.own_battery:
            self.restart(now_s)

    def restart(self, now_s):
        """Begin anew, with another boot number."""
        self.boot, self.seq, self.started_s, self._next_block_s = self.boot + 1, 0, now_s, 0.0

    def due(self, now_s, *, asked):
        """Return the bytes since the last call."""
        at_s = now_s - self.started_s
        lines = []
        if (asked and not self.deaf) or at_s >= self._next_block_s:
            lines.append(block(self.boot, self.serial))
            self._next_block_s = at_s + 10
        while self.seq / self.rate <= at_s:
            lines.append(data_line(self.seq, int(self.seq * TICKS / self.rate)))
            self.sent.add((self.boot, self.seq))
            self.seq += 1
        return b"" if self.silent else b"".join(lines)


class FakePort:
    """An open port; what the logger printed while nobody had it open is gone."""

    def __init__(self, world, name, logger):
        self.port, self._world, self._logger = name, world, logger
        self._generation = logger.generation
        self._asked = False
        logger.due(world.now_s, asked=False)

    def read(self, _size=1):
        """Return what has come."""
        if self._logger.generation != self._generation:
            raise OSError(errno.EIO, "gone")
        data = self._logger.due(self._world.now_s, asked=self._asked)
        self._asked = False
        self._world.handed_over += data
        return data

    def write(self, data):
        """Take a question."""
        self._asked = b"?" in data

    def close(self):
        """Let it go."""
