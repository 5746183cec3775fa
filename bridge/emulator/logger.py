"""The virtual logger: samples to lines of the wire format, through this project's own encoder."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from bridge.emulator.signals import Array, Sampling
from bridge.errors import BadValue, nearest
from bridge.units import convert
from bridge.wire.encode import encode
from bridge.wire.records import VERSION, ChannelLine, Data, Identity, Mark, State

BLOCK_S = 10.0
"""A block comes so often [s]; wire format."""
_START_S = 1.0
"""A restarting logger is silent for so long [s]. Assumed."""
_COUNTER = 0xFFFF_FFFF


@dataclass(frozen=True)
class _Kind:
    """How a kind of channel is printed: unit it is computed in, decimals, noise, readings a second."""

    unit: str
    decimals: int
    noise_sd: float = 0.0
    readings_per_second: float | None = None


_KINDS = {
    "lambda": _Kind("1", 3),  # its noise is the sensor's
    "egt": _Kind("Cel", 0, 1.0, 5.0),
    "cht": _Kind("Cel", 0, 0.3, 2.0),
    "rpm": _Kind("/min", 0, 6.0),
    "throttle": _Kind("%", 1, 0.1),
    "speed": _Kind("km/h", 1, 0.2),
    "roller_rpm": _Kind("/min", 2, 0.1),
    "air_temp": _Kind("Cel", 1, 0.05, 1.0),
    "air_pressure": _Kind("hPa", 1, 0.05, 1.0),
    "humidity": _Kind("%", 0, 0.2, 1.0),
    "battery": _Kind("V", 2, 0.02),
}
"""Noise and rates are assumed."""


@dataclass(frozen=True)
class LoggerChannel:
    """One channel as the logger announces it."""

    name: str
    unit: str
    decimals: int
    readings_per_second: float | None
    kept_unit: str
    """Unit in which the virtual bike computes it."""
    noise_sd: float


def channel(name: str, unit: str | None = None, decimals: int | None = None) -> LoggerChannel:
    """Return a channel that the virtual logger can print.

    Args:
        name: such as ``lambda_1``, ``rpm``.
        unit: UCUM code that it prints in, if not the usual one.
        decimals: how many it prints, if not the usual number.

    Raises:
        BadValue: no such channel here, or the unit does not fit it.
    """
    base = name.rstrip("0123456789").removesuffix("_")
    if base not in _KINDS:
        raise BadValue(f"the virtual logger has no channel '{name}'{nearest(base, _KINDS)}")
    kind = _KINDS[base]
    printed = unit or kind.unit
    convert(0.0, kind.unit, printed)
    places = kind.decimals if decimals is None else decimals
    return LoggerChannel(name, printed, places, kind.readings_per_second, kind.unit, kind.noise_sd)


@dataclass(frozen=True)
class LoggerSettings:
    """How the virtual logger starts and what its clock does."""

    boot: int = 1
    first_seq: int = 0
    first_tick: int = 0
    ticks_per_second: int = 1_000_000
    clock_ppm: float = 0.0
    """Its clock runs fast by this much [1e-6]."""
    warm_s: float = 3.0
    """Its oxygen sensors warm for so long after each start [s]."""
    restarts_s: tuple[float, ...] = ()
    """When it loses its supply and starts again [s]."""
    serial: str = "0001"


class VirtualLogger:
    """Prints samples as lines; keeps its counters from one call to the next."""

    def __init__(self, channels: Sequence[LoggerChannel], settings: LoggerSettings) -> None:
        self.channels = tuple(channels)
        self._settings = settings
        self._boot = settings.boot
        self._seq = settings.first_seq
        self._first_tick = settings.first_tick
        self._started_s = 0.0
        self._next_block_s = 0.0
        self._restarts = sorted(settings.restarts_s)
        self._parts = tuple(c.name for c in self.channels if c.name.startswith("lambda"))
        self._ready = False

    def hello(self, t_s: float) -> bytes:
        """Return a block and the states: what it prints at its start, each 10 s, and when asked."""
        head = Identity(
            version=VERSION,
            device="virtual-logger",
            firmware="1",
            serial=self._settings.serial,
            ticks_per_second=self._settings.ticks_per_second,
            channels=len(self.channels),
            boot=self._boot,
        )
        lines = [ChannelLine(i, c.name, c.unit, c.readings_per_second) for i, c in enumerate(self.channels)]
        return encode(head) + b"".join(map(encode, lines)) + self._states(t_s)

    def lines(
        self,
        t_s: Sequence[float],
        values: Sequence[Sequence[float | None]],
        marks: Sequence[tuple[float, str]],
    ) -> Iterator[tuple[float, bytes]]:
        """Print samples.

        Args:
            t_s: when each was taken, rising, also from call to call [s since the first start].
            values: one sequence a channel, as long as ``t_s``, in the channels' units; None is no reading.
            marks: (t_s, what), rising.

        Yields:
            When, and the bytes printed then.
        """
        waiting = list(marks)[::-1]
        for t, *row in zip(t_s, *values, strict=True):
            if self._restarts and t >= self._restarts[0]:
                self._restart(self._restarts.pop(0))
            if t < self._started_s:  # no supply, or starting
                while waiting and waiting[-1][0] <= t:
                    waiting.pop()
                continue
            if t >= self._next_block_s:
                self._next_block_s = max(t, self._started_s) + BLOCK_S
                yield t, self.hello(t)
            if not self._ready and t >= self._started_s + self._settings.warm_s:
                self._ready = True
                yield t, self._states(t)
            while waiting and waiting[-1][0] <= t:
                yield t, encode(Mark(self._count(), self._tick(waiting[-1][0]), waiting.pop()[1]))
            yield t, encode(Data(self._count(), self._tick(t), self._readings(row)))

    def _readings(self, row: Sequence[float | None]) -> tuple[float | None, ...]:
        """Leave out what a sensor that is still warming cannot say."""
        if self._ready:
            return tuple(row)
        return tuple(
            None if c.name in self._parts else value for c, value in zip(self.channels, row, strict=True)
        )

    def _restart(self, at_s: float) -> None:
        self._boot += 1
        self._seq = self._first_tick = 0
        self._started_s = self._next_block_s = at_s + _START_S
        self._ready = False

    def _states(self, t_s: float) -> bytes:
        word = "ready" if self._ready else "warming"
        return b"".join(encode(State(self._tick(t_s), part, word)) for part in self._parts)

    def _count(self) -> int:
        seq = self._seq
        self._seq = (seq + 1) & _COUNTER
        return seq

    def _tick(self, t_s: float) -> int:
        speed = self._settings.ticks_per_second * (1.0 + self._settings.clock_ppm * 1e-6)
        return (self._first_tick + round(max(0.0, t_s - self._started_s) * speed)) & _COUNTER


def printed(channel_: LoggerChannel, values: Array, sampling: Sampling) -> list[float | None]:
    """Return what a channel prints: with noise, in its unit, rounded, empty between slow readings.

    Args:
        channel_: which.
        values: what is true, in the channel's kept unit; nan is no reading.
        sampling: seed and rate.
    """
    noisy = values + channel_.noise_sd * sampling.noise(f"printed {channel_.name}").standard_normal(
        len(values)
    )
    if channel_.kept_unit in {"%", "/min", "km/h"}:
        noisy = np.where(values > 0.0, np.maximum(noisy, 0.0), values)  # a wheel that stands gives no pulses
    rounded = np.round(convert(noisy, channel_.kept_unit, channel_.unit), channel_.decimals)
    out: list[float | None] = rounded.tolist()
    if np.isnan(rounded).any():
        out = [None if value != value else value for value in out]  # noqa: PLR0124  # the test for nan
    if channel_.readings_per_second is not None:
        step = max(1, round(sampling.rate_hz / channel_.readings_per_second))
        out = [value if i % step == 0 else None for i, value in enumerate(out)]
    return out


def damaged(wire: bytes, seed: int, *, flips: int = 20, cuts: int = 5, bursts: int = 5) -> bytes:
    """Return what a bad cable makes of a recording.

    Args:
        wire: whole lines.
        seed: of the damage.
        flips: bits turned over.
        cuts: stretches of 1 to 200 bytes lost.
        bursts: stretches of 1 to 40 random bytes put in.
    """
    rng = Sampling(seed, 1.0).noise("damage")
    out = bytearray(wire)
    for at in rng.integers(0, len(out), flips):
        out[at] ^= 1 << int(rng.integers(0, 8))
    for at in rng.integers(0, len(out), cuts):
        del out[at : at + int(rng.integers(1, 201))]
    for at in rng.integers(0, len(out), bursts):
        out[at:at] = rng.bytes(int(rng.integers(1, 41)))
    return bytes(out)
