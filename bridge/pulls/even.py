"""A stretch of full throttle on an even grid of time: revs and the wheel's speed without their quick noise."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bridge.pulls.log import Near

Array = NDArray[np.float64]

SMOOTH_S = 0.2
"""Revs and speed are means over this: cycles and teeth of a wheel's sensor do not show [s]."""
_ENOUGH = 0.8
"""A wheel's speed that is missing more often than this leaves is not used [1]."""


class Course(NamedTuple):
    """One stretch."""

    at: Array
    """Times, shape (n,) [s]."""
    rpm: Array
    """Shape (n,) [1/min]."""
    road: Array | None
    """The wheel's speed in its channel's unit, shape (n,)."""
    step_s: float
    top_speed: float
    """Of the ride, in the same unit."""

    def ratio(self) -> Array | None:
        """Return revs over speed, shape (n,); infinite where the wheel hardly turns, None without its speed."""
        if self.road is None:
            return None
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(self.road > 0.02 * self.top_speed, self.rpm / self.road, np.inf)


def laid_out(log: Near, start_s: float, end_s: float, top_speed: float, late_s: float) -> Course | None:
    """Lay a stretch of full throttle out.

    Args:
        log: what was recorded around it.
        start_s: its first moment [s].
        end_s: its last one [s].
        top_speed: of the ride, in the road channel's unit.
        late_s: how late the road channel is [s].

    Returns:
        Its longest part without a hole; None where it is too short to show anything.
    """
    step = log.step_s
    if end_s - start_s < 3.0 * step:
        return None
    at: Array = np.arange(int((end_s - start_s) / step + 1e-6) + 1, dtype=np.float64)
    at = start_s + at * step
    # a slow channel's nearest readings may lie outside
    rows = log.rows(start_s - 2.0 * log.longest_step_s, end_s + late_s + 2.0 * log.longest_step_s)
    rpm = log.on("rpm", at, rows)
    road = None if log.road is None else log.on(log.road, at + late_s, rows)
    known = ~np.isnan(rpm)
    if road is not None and np.count_nonzero(known & ~np.isnan(road)) < _ENOUGH * np.count_nonzero(known):
        road = None  # a wheel's sensor that failed leaves the revs
    if road is not None:
        known &= ~np.isnan(road)
    part = _longest(known)
    if part.stop - part.start < 4:
        return None
    points = max(1, round(SMOOTH_S / step))
    smooth = [_mean(one[part], points) for one in (rpm, road) if one is not None]
    rpm = np.maximum(smooth[0], 0.0)
    return Course(at[part], rpm, None if road is None else smooth[1], step, top_speed)


def _longest(known: NDArray[np.bool_]) -> slice:
    """Return the longest run of what is known."""
    if known.all():
        return slice(0, len(known))
    edges = np.flatnonzero(np.diff(np.concatenate(([0], known.astype(np.int8), [0]))))
    if len(edges) == 0:
        return slice(0, 0)
    longest = 2 * int(np.argmax(edges[1::2] - edges[::2]))
    return slice(int(edges[longest]), int(edges[longest + 1]))


def _mean(values: Array, points: int) -> Array:
    """Return running means, over fewer points where the series begins and ends."""
    if points < 2:
        return values
    sums = np.concatenate(([0.0], np.cumsum(values)))
    place = np.arange(len(values))
    # as far on the one side as on the other, or a rising series would be told off its place at its ends
    reach = np.minimum(points // 2, np.minimum(place, place[::-1]))
    mean: Array = (sums[place + reach + 1] - sums[place - reach]) / (2 * reach + 1)
    return mean
