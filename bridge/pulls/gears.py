"""Gears, by where revs over speed gather: inside a gear the ratio stays, so a ride's ratios lie in heaps."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.model import Bike
from bridge.pulls.log import Log

Array = NDArray[np.float64]

_BIN = 0.01
"""Width of a heap's bins, as a share of the ratio."""
_APART = 0.05
"""Gears are at least so far apart [1]; racing boxes have steps of 8 % and more (common practice)."""
_LEAST_SHARE = 0.01
"""A gear has at least this share of the rows that were looked at [1]."""
_STANDS_OUT = 4.0
"""... and so many times as many rows as its surroundings."""
_ROWS = 100_000
_RUNNING_RPM = 1_500.0
_DRIVES_PERCENT = 6.0
_NEAR = 0.06
"""A stated ratio is taken for one that was found within this share: tyres grow and slip [1]."""


_LATE_S = np.arange(0.0, 1.01, 0.1)
"""A speed by satellite or by a slow counter may be so late [s] ..."""
_LATE_ROWS = 20_000
_LATE_GAIN = 1.15
"""... and is taken as late where that gathers its ratios so much better [1]."""


@dataclass(frozen=True)
class Gears:
    """The gears that a ride shows."""

    ratios: tuple[float, ...]
    """Engine speed over road channel, largest (lowest gear) first [1/min per km/h, or 1 on a roller]."""
    numbers: tuple[int, ...] | None
    """The gear that each of them is; None where only one was seen and nothing else tells."""
    told_by: str
    """How the numbers are known, in words."""
    late_s: float = 0.0
    """How late the road channel is [s]."""

    def number(self, ratio: float | None) -> int | None:
        """Return the gear of a ratio."""
        place = self.place(ratio)
        return None if place is None or self.numbers is None else self.numbers[place]

    def place(self, ratio: float | None) -> int | None:
        """Return which of the ratios one is; None where it is none of them."""
        if ratio is None or not self.ratios:
            return None
        off = np.abs(np.log(np.array(self.ratios) / ratio))
        nearest = int(np.argmin(off))
        return nearest if off[nearest] < _APART / 2.0 else None


def gears_of(log: Log, bike: Bike | None) -> Gears:
    """Return the gears of a ride.

    Args:
        log: the run.
        bike: whose; its stated ratios give the gears their numbers. Else they are counted from the lowest that the
            ride shows, if it shows more than one.
    """
    if log.road is None:
        return Gears((), None, "there is no speed to tell gears by")
    every = max(1, len(log.t_s) // _ROWS)
    late_s = _late_s(log)
    rpm, road = log.thinned("rpm", every), log.thinned(log.road, every, late_s)
    least = 0.05 * np.nanmax(road, initial=0.0)
    runs = (rpm > _RUNNING_RPM) & (road > max(least, 1.0))
    if log.has("throttle"):  # an engine at idle beside a wheel that runs out is in no gear
        runs &= log.thinned("throttle", every) > _DRIVES_PERCENT
    heaps = heaps_of(rpm[runs] / road[runs])
    stated = _stated(bike, log.road)
    if stated:
        numbers = [int(np.argmin(np.abs(np.log(np.array(stated) / ratio)))) for ratio in heaps]
        if all(abs(np.log(stated[n] / ratio)) < _NEAR for n, ratio in zip(numbers, heaps, strict=True)):
            return Gears(heaps, tuple(n + 1 for n in numbers), "by the bike's gear_ratios", late_s)
    if len(heaps) > 1:
        return Gears(
            heaps, tuple(range(1, len(heaps) + 1)), "counted from the lowest gear that the ride shows", late_s
        )
    return Gears(heaps, None, "the ride shows one gear, and nothing tells which", late_s)


def _late_s(log: Log) -> float:
    """Return how late the road channel is: the shift with which revs over speed gather best."""
    if log.road is None or not log.has("throttle"):
        return 0.0
    every = max(1, len(log.t_s) // _LATE_ROWS)
    rpm, throttle = log.thinned("rpm", every), log.thinned("throttle", every)
    gathered = []
    for late in _LATE_S:
        road = log.thinned(log.road, every, float(late))
        runs = (rpm > _RUNNING_RPM) & (throttle > 50.0) & (road > 0.05 * np.nanmax(road, initial=0.0))
        logs = np.log(rpm[runs] / np.maximum(road[runs], 1e-6))
        if len(logs) < 50:
            return 0.0
        counts = np.bincount(((logs - logs.min()) / _BIN).astype(np.int64)[logs - logs.min() < 20.0])
        gathered.append(float(np.sum(counts.astype(np.float64) ** 2)) / len(logs) ** 2)
    best = int(np.argmax(gathered))
    return float(_LATE_S[best]) if gathered[best] > _LATE_GAIN * gathered[0] else 0.0


def heaps_of(ratios: Array) -> tuple[float, ...]:
    """Return where ratios gather, the largest first.

    Args:
        ratios: shape (n,), above 0.
    """
    if len(ratios) < 20:
        return ()
    logs = np.log(ratios)
    low = float(logs.min()) - 2 * _BIN
    places = ((logs - low) / _BIN).astype(np.int64)
    places = places[places < 2_000]
    counts = np.bincount(places, minlength=64).astype(np.float64)
    near = np.convolve(counts, np.ones(3), mode="same")
    around = np.convolve(counts, np.ones(31), mode="same") / 31.0 * 3.0
    stands = (near > _LEAST_SHARE * len(ratios)) & (near > _STANDS_OUT / 2.0 * around)
    found: list[float] = []
    for place in sorted(np.flatnonzero(stands), key=lambda p: -near[p]):
        middle = low + (place + 0.5) * _BIN
        if all(abs(middle - other) >= _APART for other in found):
            found.append(middle)
    return tuple(sorted((mode_near(logs, middle) for middle in found), reverse=True))


def mode_near(logs: Array, middle: float) -> float:
    """Return the ratio in the middle of those within two bins of a place."""
    near = np.sort(logs[np.abs(logs - middle) <= 2.0 * _BIN])
    return float(np.exp((near[(len(near) - 1) // 2] + near[len(near) // 2]) / 2.0))


def mode_of(ratios: Array) -> float | None:
    """Return the ratio that is held longest, or None where there is none.

    Args:
        ratios: even in time, shape (n,); nan where there is none.
    """
    logs = np.log(ratios[np.isfinite(ratios) & (ratios > 0.0)])
    if len(logs) < 3:
        return None
    low = float(logs.min()) - 2 * _BIN
    places = ((logs - low) / _BIN).astype(np.int64)
    near = np.convolve(np.bincount(places[places < 5_000], minlength=5), np.ones(3), mode="same")
    return mode_near(logs, low + (int(np.argmax(near)) + 0.5) * _BIN)


def _stated(bike: Bike | None, road: str) -> list[float]:
    """Return the stated gears as engine speed over road channel."""
    if bike is None or not bike.road.gear_ratios:
        return []
    wheel = bike.road.wheel_diameter_mm or (bike.roller.wheel_diameter_mm if bike.roller else None)
    if wheel is None:
        return []
    if road == "speed":  # turns a minute of the wheel at 1 km/h
        turns = 1.0 / 3.6 / (np.pi * wheel / 1e3) * 60.0
    elif bike.roller is not None and bike.roller.diameter_mm is not None:
        turns = bike.roller.diameter_mm / wheel
    else:
        return []
    return [float(ratio * turns) for ratio in bike.road.gear_ratios]
