"""Readings of one clock taken at the times of another, and never across a hole."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Places = NDArray[np.int64]
Flags = NDArray[np.bool_]

HOLE_PERIODS = 3.0
"""A channel is missing after this many of its own periods without a reading (the wire's own rule)."""
SHORTEST_HOLE_S = 0.1
"""A shorter silence is never a hole: within a sensor's lag the mixture can show nothing new [s]."""
_ENOUGH = 100_000


def typical_period_s(times_s: Array) -> float:
    """Return the median time between readings [s], or 0 where there are not two of them.

    Of more than 100,000 readings an even choice is looked at: the period need not be known closer.
    """
    if len(times_s) < 2:
        return 0.0
    every = max(1, len(times_s) // _ENOUGH)
    return float(np.median(times_s[1::every] - times_s[:-1:every]))


def longest_step_s(times_s: Array) -> float:
    """Return the longest time between two readings that is not yet a hole [s]."""
    return max(SHORTEST_HOLE_S, HOLE_PERIODS * typical_period_s(times_s) * (1 + 1e-9))


def filled_in(times_s: Array, values: Array) -> Array:
    """Return a channel with the rows between its own readings filled in, straight from one to the next.

    Args:
        times_s: rising times of the rows, shape (n,) [s]; they need not be even.
        values: the channel, shape (n,), nan where a row has none, as most rows of a slow channel.

    Returns:
        The channel, shape (n,); nan before its first reading, after its last one and in its holes.
    """
    valid = ~np.isnan(values)
    if valid.all():
        return values
    return between(times_s, times_s[valid], values[valid])


class Knots(NamedTuple):
    """Times between which a channel is taken as straight, and where it is not."""

    times_s: Array
    """Of the readings, and one in the middle of each hole, shape (n + h,) [s]."""
    holes: Places
    """Before which readings the holes lie, shape (h,)."""

    def with_gaps(self, values: Array) -> Array:
        """Return the readings' values, shape (n,), with nan in each hole, shape (n + h,)."""
        return np.insert(values, self.holes, np.nan) if len(self.holes) else values


def knots_of(times_s: Array) -> Knots:
    """Return the knots of a channel.

    Args:
        times_s: rising times of its readings, shape (n,) [s].
    """
    holes = np.flatnonzero(np.diff(times_s) > longest_step_s(times_s)) + 1
    if len(holes):
        # one knot without a value in the middle of each hole makes both sides of it nan
        times_s = np.insert(times_s, holes, (times_s[holes - 1] + times_s[holes]) / 2)
    return Knots(times_s, holes)


class Nearest(NamedTuple):
    """Which reading is nearest to each of some times; channels that are read at the same rows share it."""

    place: NDArray[np.intp]
    """Of the reading, shape (m,)."""
    lost: Flags
    """Where there is none: before the first one, after the last one and in a hole, shape (m,)."""

    def of(self, values: Array) -> Array:
        """Return the readings of a channel, shape (n,), at those times, shape (m,), with nan where there is none."""
        taken = values[self.place]
        taken[self.lost] = np.nan
        return taken


def nearest(at_s: Array, knots: Knots) -> Nearest:
    """Return which reading is nearest to each of the times wanted.

    Args:
        at_s: times wanted, shape (m,), in any order [s]; nan gives none.
        knots: of the channel; at least one reading.
    """
    place = straight(at_s, knots, np.arange(len(knots.times_s) - len(knots.holes), dtype=np.float64))
    lost = np.isnan(place)
    place[lost] = 0.0
    return Nearest(np.rint(place, out=place).astype(np.intp), lost)


def readings_at(times_s: Array, values: Array, at_s: Array) -> Array:
    """Return the reading nearest to each of the times wanted: a value that the channel really had.

    Args:
        times_s: rising times of the rows, shape (n,) [s]; they need not be even.
        values: the channel, shape (n,), nan where a row has no reading.
        at_s: times wanted, shape (m,), in any order [s]; nan gives nan.

    Returns:
        Readings, shape (m,), at most half a period of the channel away in time. They are not averaged, so
        their scatter stays what it was. Nan before the first reading, after the last one and in a hole.
    """
    valid = ~np.isnan(values)
    if not valid.all():
        times_s, values = times_s[valid], values[valid]
    if len(values) == 0:
        return np.full(len(at_s), np.nan)
    return nearest(at_s, knots_of(times_s)).of(values)


def straight(at_s: Array, knots: Knots, values: Array) -> Array:
    """Return a channel straight from one reading to the next, with nan outside them and in each hole between them.

    Args:
        at_s: times wanted, shape (m,) [s].
        knots: of the channel.
        values: its readings, shape (n,); each is one.
    """
    found = np.interp(at_s, knots.times_s, knots.with_gaps(values), left=np.nan, right=np.nan)
    return found.astype(np.float64, copy=False)


def between(at_s: Array, times_s: Array, values: Array) -> Array:
    """Return as ``straight`` a channel whose knots nobody has made.

    Args:
        at_s: times wanted, shape (m,) [s].
        times_s: rising times of the readings, shape (n,) [s].
        values: the readings, shape (n,); each is one.
    """
    return straight(at_s, knots_of(times_s), values) if len(times_s) else np.full(len(at_s), np.nan)
