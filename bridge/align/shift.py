"""Readings of one clock taken at the times of another, and never across a hole."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

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
    place = between(at_s, times_s, np.arange(len(values), dtype=np.float64))
    lost = np.isnan(place)
    place[lost] = 0.0
    taken = values[np.rint(place, out=place).astype(np.intp)]
    taken[lost] = np.nan
    return taken


def between(at_s: Array, times_s: Array, values: Array) -> Array:
    """Return a channel straight from one reading to the next, with nan outside them and in each hole between them.

    Args:
        at_s: times wanted, shape (m,) [s].
        times_s: rising times of the readings, shape (n,) [s].
        values: the readings, shape (n,); each is one.
    """
    if len(times_s) == 0:
        return np.full(len(at_s), np.nan)
    holes = np.flatnonzero(np.diff(times_s) > longest_step_s(times_s))
    if len(holes):
        # one knot without a value in the middle of each hole makes both sides of it nan
        middle = (times_s[holes] + times_s[holes + 1]) / 2
        times_s = np.insert(times_s, holes + 1, middle)
        values = np.insert(values, holes + 1, np.nan)
    return np.interp(at_s, times_s, values, left=np.nan, right=np.nan).astype(np.float64, copy=False)
