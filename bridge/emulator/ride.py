"""What the virtual rider does: scripts of phases, and the throttle and speed that come of them.

Everything here is assumed, not measured: it is what a ride looks like, made up by us.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from bridge.emulator.signals import Array, Sampling

HAND_S = 0.12
"""A throttle hand moves this long [s]. Assumed."""
_HAND_LAG_S = 0.04
_SPEED_LAG_S = 0.25
"""Crank and wheel follow torque with this lag [s]. Assumed."""
_STANDS_RPM = 120.0
"""Below this an engine without spark stands still. Assumed."""


@dataclass(frozen=True)
class Phase:
    """One thing that the rider does."""

    seconds: float
    throttle: float
    """Opening that the hand goes to [%]."""
    rpm: float
    """Engine speed that it leads to [/min]."""
    rise: float = 0.35
    """Share of the phase in which the speed gets there, evenly; then it stays."""
    burning: bool = True
    """False where the ignition is cut."""
    mark: str | None = None
    """What the logger marks at its start: chop, lap, start, stop or mark."""


Script = tuple[Phase, ...]
Ending = Literal["chop", "roll in", "shut off"]


@dataclass(frozen=True)
class Trace:
    """What the script came to, sample by sample."""

    t_s: Array
    throttle: Array
    """[%]"""
    rpm: Array
    """[/min]"""
    burning: npt.NDArray[np.bool_]
    marks: tuple[tuple[float, str], ...]
    """(t_s, what)"""


def trace(script: Sequence[Phase], sampling: Sampling) -> Trace:
    """Ride a script.

    Args:
        script: the phases, in order.
        sampling: seed and rate.

    Returns:
        Throttle and speed, smooth, with the unsteadiness of a hand (0.3 %, one second) and of an engine
        (0.3 % of the speed, one second).
    """
    begins = np.concatenate([[0.0], np.cumsum([phase.seconds for phase in script])])
    count = round(begins[-1] * sampling.rate_hz)
    t_s = np.arange(count) / sampling.rate_hz
    throttle = _knots(t_s, begins, [p.throttle for p in script], [HAND_S] * len(script))
    rpm = _knots(t_s, begins, [p.rpm for p in script], [p.seconds * p.rise for p in script])
    index = np.clip(np.searchsorted(begins, t_s, side="right") - 1, 0, len(script) - 1)
    burning = np.array([p.burning for p in script])[index]

    hand = sampling.wander("hand", count, 0.3, 1.0)
    moving = (throttle > 1.0) & (throttle < 99.0)  # both ends are stops
    throttle = np.clip(sampling.lag(throttle + hand * moving, _HAND_LAG_S), 0.0, 100.0)
    rpm = sampling.lag(rpm, _SPEED_LAG_S) * (1.0 + sampling.wander("speed", count, 0.003, 1.0))
    rpm = np.where(~burning & (rpm < _STANDS_RPM), 0.0, rpm)
    marks = tuple((float(begins[i]), p.mark) for i, p in enumerate(script) if p.mark is not None)
    return Trace(t_s, throttle, np.maximum(rpm, 0.0), burning, marks)


def _knots(t_s: Array, begins: Array, targets: Sequence[float], take_s: Sequence[float]) -> Array:
    """Go from each target to the next one in a straight line of so many seconds, then hold it."""
    times, values = [0.0], [targets[0]]
    for begin, target, seconds in zip(begins[1:-1], targets[1:], take_s[1:], strict=True):
        times += [begin, begin + max(seconds, 1e-3)]
        values += [values[-1], target]
    return np.interp(t_s, times, values)


def lap(top_rpm: float, seed: int = 0) -> Script:
    """Return one lap: part throttle of every kind, two straights at full throttle, braking; about 45 s.

    Args:
        top_rpm: speed at the end of a straight [/min].
        seed: laps of different seeds differ a little, as a rider's do.
    """
    # seconds, throttle, share of top speed
    plan = (
        (4.5, 20.0, 0.50),
        (4.5, 35.0, 0.60),
        (8.0, 100.0, 0.96),
        (2.5, 0.0, 0.48),
        (4.0, 14.0, 0.45),
        (5.0, 55.0, 0.72),
        (4.0, 84.0, 0.82),
        (8.0, 100.0, 1.00),
        (2.5, 0.0, 0.42),
        (4.0, 6.0, 0.36),
    )
    rng = Sampling(seed, 1.0).noise("lap")
    return tuple(
        Phase(
            seconds * rng.uniform(0.92, 1.08),
            throttle if throttle in (0.0, 100.0) else throttle * rng.uniform(0.95, 1.05),
            share * top_rpm * rng.uniform(0.98, 1.02),
            mark="lap" if i == 0 else None,
        )
        for i, (seconds, throttle, share) in enumerate(plan)
    )


def practice(
    *,
    laps: int = 6,
    last_full_s: float = 12.0,
    ending: Ending = "chop",
    idle_rpm: float = 1500.0,
    top_rpm: float = 9800.0,
) -> Script:
    """Return a practice: idle, laps, a last straight and how it ended; laps of 47 s and about 40 s more.

    Args:
        laps: how many.
        last_full_s: full throttle before the end [s].
        ending: ``chop``, or ``roll in`` (throttle shut and back to the pit with the engine running), or
            ``shut off`` (throttle shut, three seconds later the ignition).
        idle_rpm: [/min]
        top_rpm: [/min]
    """
    out: Script = (Phase(8.0, 0.0, idle_rpm), Phase(3.0, 22.0, 0.4 * top_rpm, mark="start"))
    around = tuple(phase for i in range(laps) for phase in lap(top_rpm, seed=i))
    full = (Phase(3.0, 40.0, 0.6 * top_rpm), Phase(last_full_s, 100.0, 0.99 * top_rpm))
    return out + around + full + end(ending, idle_rpm, top_rpm)


def end(ending: Ending, idle_rpm: float, top_rpm: float) -> Script:
    """Return how a ride at full throttle ends; for the arguments see ``practice``."""
    standing = Phase(6.0, 0.0, 0.0, rise=0.1, burning=False)
    if ending == "chop":
        return (chop(), standing)
    if ending == "shut off":
        return (Phase(3.0, 0.0, 0.5 * top_rpm), Phase(1.5, 0.0, 0.0, burning=False, mark="stop"), standing)
    return (
        Phase(3.0, 0.0, 0.45 * top_rpm),
        Phase(12.0, 5.0, 0.28 * top_rpm),
        Phase(20.0, 0.0, idle_rpm, rise=0.1),
        Phase(1.5, 0.0, 0.0, burning=False, mark="stop"),
        standing,
    )


def chop() -> Phase:
    """Return the chop: throttle still full, ignition cut and clutch in at once."""
    return Phase(1.2, 100.0, 0.0, rise=0.9, burning=False, mark="chop")


def dyno_day(
    *,
    pulls: int = 4,
    pull_s: float = 9.0,
    ending: Ending = "chop",
    idle_rpm: float = 1500.0,
    top_rpm: float = 10_000.0,
) -> Script:
    """Return pulls on a roller: each held at part throttle, then full throttle through the revs; 25 s each.

    Args:
        pulls: how many.
        pull_s: from 40 % of the top speed to the top [s].
        ending: as ``practice``; after the last pull.
        idle_rpm: [/min]
        top_rpm: [/min]
    """
    low = 0.4 * top_rpm
    one = (
        Phase(5.0, 25.0, low),
        Phase(0.8, 100.0, low),
        Phase(pull_s, 100.0, top_rpm, rise=1.0, mark="start"),
    )
    rest = (Phase(3.0, 0.0, 0.5 * low, mark="stop"), Phase(7.0, 0.0, idle_rpm, rise=0.3))
    last = (Phase(4.0, 100.0, top_rpm),)  # held by the brake at the top, so that the plug prints
    return (
        Phase(6.0, 0.0, idle_rpm),
        *((one + rest) * (pulls - 1)),
        *one,
        *last,
        *end(ending, idle_rpm, top_rpm),
    )


def short_ride(seconds: float | None = None, *, idle_rpm: float = 1500.0, top_rpm: float = 9800.0) -> Script:
    """Return the ride that the virtual logger repeats: idle, part and full throttle, chop, standing still.

    Args:
        seconds: what it has to fit into [s]: from 20 s on with 8 s of full throttle. With None, or 30 s and
            more, the chop comes at 26 s after 13 s of full throttle; after it the engine stands until 60 s.
        idle_rpm: [/min]
        top_rpm: [/min]
    """
    whole = 60.0 if seconds is None else seconds
    riding = min(26.0, max(0.82 * whole, whole - 4.0))
    full_s = max(0.5 * riding, min(8.0, 0.6 * riding))
    before = riding - full_s
    standing = max(1.0, min(60.0, whole) - riding - chop().seconds)
    return (
        Phase(0.30 * before, 0.0, idle_rpm),
        Phase(0.15 * before, 20.0, 0.45 * top_rpm),
        Phase(0.32 * before, 35.0, 0.58 * top_rpm),
        Phase(0.23 * before, 60.0, 0.70 * top_rpm),
        Phase(full_s, 100.0, 0.98 * top_rpm, rise=0.3),
        chop(),
        Phase(standing, 0.0, 0.0, rise=0.1, burning=False),
    )
