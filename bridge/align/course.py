"""The parts of a ride that can tell its delay, laid on an even clock, and one sensor's readings on them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.align.delay import LONGEST_S, Ways, assumed_efficiency
from bridge.align.shift import typical_period_s

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Index = NDArray[np.intp]

STEP_S = 0.02
"""The even clock's step [s]: a third of the quickest hand's movement, a fifth of the usual sensor lag."""
LEAD_S = 4.0
"""Before what is looked at the ride is followed so long [s]: pipe, film and lag have forgotten what was before."""
AT_MOST_S = 360.0
"""No more of a ride is looked at [s]; of a longer one, where the throttle moves most."""
CELL_S = 5.0
"""A ride is chosen from, and the slow wander of its mixture taken off, by cells of this length [s]."""
MOVE_PERCENT = 6.0
"""A movement of the throttle by more than this within a second is one that can tell the delay [%]."""
LAMBDA_LOW, LAMBDA_HIGH = 0.6, 1.6
"""Readings outside are no mixture that burned [1]."""
RECOVERS_S = 1.0
"""After one the sensor still remembers it for so long [s]."""
FEWEST_READINGS = 20
"""Fewer say nothing."""
OVERRUN_LOW, OVERRUN_HIGH = 0.65, 1.15
"""Where the readings of an overrun lie here the engine burns a mixture then, and does not pump air [1]."""
RUNS_RPM, OVERRUN_RPM, SHUT_PERCENT = 700.0, 2500.0, 3.0
SLOWEST_CYCLE_S = 0.3
"""Of an engine that runs [s]."""
LOST_RPM_PER_S = 3500.0
"""An open engine that loses speed this fast for half a second has no spark [1/min per s]."""


@dataclass(frozen=True)
class Course:
    """What was ridden, on an even clock; pieces of the ride stand one after another, each with its lead."""

    t_s: Array
    """Time in the session, shape (n,) [s]."""
    throttle: Array
    rpm: Array
    volume: Array
    """Time through the pipe by geometry times the flow of air in the units of ``explain.air_of``, shape (n,)."""
    cycle_s: Array
    """A working cycle, shape (n,) [s]."""
    usable: Mask
    """Whether what burns can be explained by throttle and speed: the engine runs by itself, not in a lead."""
    overrun: Mask
    """Whether the wheel drives the engine with the throttle shut."""

    @classmethod
    def of(  # noqa: PLR0913, PLR0917  # columns of one table
        cls,
        t_s: Array,
        rpm: Array,
        throttle: Array,
        transport_s: Array,
        cycle_s: Array,
        usable: Mask | None = None,
        overrun: Mask | None = None,
    ) -> "Course":
        """Return a course of columns; the pipe's time is taken apart into a volume and a flow."""
        flow = assumed_efficiency(throttle, rpm) * np.maximum(rpm, 400.0)
        volume = np.minimum(transport_s, LONGEST_S) * flow
        none = np.zeros(len(t_s), dtype=bool)
        return cls(
            t_s,
            throttle,
            rpm,
            volume,
            np.minimum(cycle_s, SLOWEST_CYCLE_S),
            ~none if usable is None else usable,
            none if overrun is None else overrun,
        )


@dataclass(frozen=True)
class Readings:
    """One sensor's readings on a course, gathered over steps of time."""

    place: Array
    """Where on the course's clock, in steps, shape (m,)."""
    seen: Array
    """Lambda, shape (m,); 0 where there is none."""
    valid: Mask
    cell: Index
    """Which cell of ``CELL_S`` each belongs to; rising, shape (m,)."""
    step_s: float


def pieces_of(t_s: Array, rpm: Array, throttle: Array) -> list[tuple[float, float]]:
    """Return the stretches to look at, in order, as (begin, end) [s]: the whole ride, or its liveliest parts."""
    every = max(1, int(0.1 / max(typical_period_s(t_s), 1e-6)))
    t, speed, opening = t_s[::every], rpm[::every], throttle[::every]
    cell = ((t - t[0]) / CELL_S).astype(np.intp)
    moved = np.abs(np.diff(opening, prepend=opening[:1]))
    moved = np.where((speed > RUNS_RPM) & np.isfinite(moved), np.minimum(moved, 30.0), 0.0)
    lively = np.bincount(cell, weights=moved)
    runs = np.bincount(cell, weights=speed > RUNS_RPM) > 0
    number = int(AT_MOST_S / CELL_S)
    if runs.sum() > number:
        least = np.sort(lively)[-number]
        runs &= lively >= least
        runs &= np.cumsum(runs) <= number
    edges = np.flatnonzero(np.diff(np.concatenate(([False], runs, [False])).astype(int)))
    begins = t[0] + CELL_S * edges[::2]
    ends = np.minimum(t[0] + CELL_S * edges[1::2], t[-1])
    return [(float(a), float(b)) for a, b in zip(begins, ends, strict=True) if b > a]


def course_of(
    t_s: Array, rpm: Array, throttle: Array, ways: Ways, pieces: list[tuple[float, float]]
) -> Course:
    """Return the pieces of a ride on an even clock, each with a lead before it; holes are bridged."""
    times, lead = [], []
    for begin, end in pieces:
        own = np.arange(begin - LEAD_S, end, STEP_S)
        times.append(own)
        lead.append(own < begin)
    clock = np.concatenate(times)

    def on_clock(values: Array) -> Array:
        known = np.isfinite(values)
        laid: Array = np.interp(clock, t_s[known], values[known]) if known.any() else np.zeros(len(clock))
        return laid

    speed, opening = on_clock(rpm), on_clock(throttle)
    usable, overrun = engine_alone(clock, opening, speed, np.concatenate(lead))
    transport_s = on_clock(np.minimum(ways.transport_s, LONGEST_S))
    return Course.of(clock, speed, opening, transport_s, on_clock(ways.cycle_s), usable, overrun)


def readings_on(pieces: list[tuple[float, float]], t_s: Array, values: Array) -> Readings | None:
    """Return a channel's own readings on the even clock, or None where there are too few in these pieces.

    Args:
        pieces: as ``pieces_of`` gives them.
        t_s: rising times of the rows [s].
        values: the channel, nan where a row has no reading.
    """
    rows = np.concatenate([np.arange(*np.searchsorted(t_s, piece)) for piece in pieces])
    rows = rows[np.isfinite(values[rows])]
    if len(rows) < FEWEST_READINGS:
        return None
    times, seen = t_s[rows], values[rows]
    off = _off_range(times, seen)
    step = max(STEP_S, typical_period_s(times))
    made: list[tuple[Array, Array, Mask, Index]] = []
    first_cell = 0
    at = 0
    for begin, end in pieces:
        number = len(np.arange(begin - LEAD_S, end, STEP_S))
        low, high = np.searchsorted(times, (begin, end))
        if high > low:
            place, mean, valid, mean_t = _gathered(times[low:high], seen[low:high], off[low:high], step)
            cell = first_cell + ((mean_t - begin) / CELL_S).astype(np.intp)
            made.append((at + (place - (begin - LEAD_S)) / STEP_S, mean, valid, cell))
            # one number is left out, so that no two pieces are neighbours
            first_cell = int(cell[-1]) + 2
        at += number
    place, mean, valid, cells = (np.concatenate([one[i] for one in made]) for i in range(4))
    return Readings(place, mean, valid.astype(np.bool_), cells.astype(np.intp), step)


def _gathered(times: Array, seen: Array, off: Mask, step: float) -> tuple[Array, Array, Mask, Array]:
    """Return the means of readings over even bins: time, lambda, whether valid, and the time again."""
    # half a step before the first reading, so that a reading sits in the middle of its bin
    origin = times[0] - step / 2.0
    bins = ((times - origin) / step).astype(np.intp)
    number = int(bins[-1]) + 1
    count = np.bincount(bins, minlength=number)
    some = np.maximum(count, 1)
    middle = origin + step * (np.arange(number) + 0.5)
    mean_t = np.where(count > 0, np.bincount(bins, times, number) / some, middle)
    valid = (count > 0) & (np.bincount(bins, off, number) == 0)
    return mean_t, np.bincount(bins, seen, number) / some, valid, mean_t


def overrun_burns(course: Course, readings: Readings) -> tuple[Mask, bool]:
    """Return which readings can be used, and whether those of overrun are among them.

    With the throttle shut and the wheel driving, some engines burn a mixture and some pump air; the sensor tells.
    """
    place = np.clip(np.rint(readings.place).astype(np.intp), 0, len(course.t_s) - 1)
    used: Mask = readings.valid & course.usable[place]
    after = near(course.t_s, course.overrun, 0.0, RECOVERS_S)[place]
    inside = after & course.usable[place]
    plausible = readings.valid & (readings.seen > OVERRUN_LOW) & (readings.seen < OVERRUN_HIGH)
    burns = bool(inside.sum() > FEWEST_READINGS and plausible[inside].mean() > 0.9)
    return (used if burns else used & ~after), burns


def _off_range(times: Array, seen: Array) -> Mask:
    """Return which readings are of no mixture that burned: beyond the limits, at the sensor's end, or just after."""
    off = (seen < LAMBDA_LOW) | (seen > LAMBDA_HIGH)
    for end in (float(seen.max()), float(seen.min())):
        at_end = seen == end
        if (end > 1.2 or end < 0.75) and at_end.sum() >= 5:
            off |= at_end
    return off | near(times, off, 0.1, RECOVERS_S)


def near(times: Array, flagged: Mask, before_s: float, after_s: float) -> Mask:
    """Return which times lie up to ``before_s`` before or ``after_s`` after a flagged one."""
    if not flagged.any():
        return flagged
    at = times[flagged]
    last = np.searchsorted(at, times, side="right") - 1
    since = np.where(last >= 0, times - at[np.maximum(last, 0)], np.inf)
    until = np.where(last + 1 < len(at), at[np.minimum(last + 1, len(at) - 1)] - times, np.inf)
    near_it: Mask = (since <= after_s) | (until <= before_s)
    return near_it


def movements(course: Course) -> Index:
    """Return where on the even clock the throttle begins each movement that can tell the delay."""
    t_s, throttle = course.t_s, course.throttle
    ahead = min(round(0.5 / STEP_S), max(1, len(throttle) - 1))
    moved = np.abs(throttle[ahead:] - throttle[:-ahead]) > MOVE_PERCENT
    moved &= course.usable[:-ahead] & ((t_s[ahead:] - t_s[:-ahead]) < 2.0 * ahead * STEP_S)
    starts: Index = np.flatnonzero(moved & ~np.concatenate(([False], moved[:-1])))
    if len(starts) == 0:
        return starts
    return starts[np.concatenate(([True], np.diff(starts) * STEP_S > 0.8))]


def engine_alone(t_s: Array, throttle: Array, rpm: Array, lead: Mask) -> tuple[Mask, Mask]:
    """Return where the engine runs by itself with its spark, and where the wheel drives it with the throttle shut."""
    overrun = (throttle < SHUT_PERCENT) & (rpm > OVERRUN_RPM)
    half = round(0.5 / STEP_S)
    lost = np.zeros(len(rpm), dtype=bool)
    if len(rpm) > half:
        lost[half:] = (rpm[:-half] - rpm[half:] > 0.5 * LOST_RPM_PER_S) & (throttle[half:] > 10.0)
    dead = near(t_s, (rpm < RUNS_RPM) | lost, 0.6, LONGEST_S)
    return ~lead & ~dead, overrun
