"""Stretches of full throttle on even grids of time: revs and the wheel's speed without their quick noise."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bridge.pulls.log import Near

Array = NDArray[np.float64]
Places = NDArray[np.int64]

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


def laid_out(
    log: Near, stretches: Sequence[tuple[float, float]], top_speed: float, late_s: float
) -> list[Course | None]:
    """Lay stretches of full throttle out.

    Args:
        log: what was recorded around them.
        stretches: first and last moment of each, in order [s].
        top_speed: of the ride, in the road channel's unit.
        late_s: how late the road channel is [s].

    Returns:
        Of each its longest part without a hole; None where it is too short to show anything.
    """
    if not stretches:
        return []
    step = log.step_s
    starts, ends = np.array(stretches).T
    counts = np.where(ends - starts < 3.0 * step, 0, ((ends - starts) / step + 1e-6).astype(np.int64) + 1)
    firsts = np.cumsum(counts) - counts
    place = np.arange(int(counts.sum())) - np.repeat(firsts, counts)
    at = np.repeat(starts, counts) + place * step
    rpm = log.laid("rpm", at)
    road = None if log.road is None else log.laid(log.road, at + late_s)
    points = max(1, round(SMOOTH_S / step))
    # all at once; where something is missing the stretch is looked at by itself
    smooth = [_means(one, place, np.repeat(counts, counts), points) for one in (rpm, road) if one is not None]
    found: list[Course | None] = []
    for first, count in zip(firsts.tolist(), counts.tolist(), strict=True):
        mine = slice(first, first + count)
        own = Course(at[mine], rpm[mine], None if road is None else road[mine], step, top_speed)
        whole = [one[mine] for one in smooth]
        if count < 4:
            found.append(None)
        elif any(np.isnan(one).any() for one in whole):
            found.append(_longest(own, points))
        else:
            found.append(
                own._replace(rpm=np.maximum(whole[0], 0.0), road=whole[1] if len(whole) > 1 else None)
            )
    return found


def _longest(own: Course, points: int) -> Course | None:
    """Return the longest part of a stretch without a hole, smoothed; None where it is too short."""
    at, rpm, road = own.at, own.rpm, own.road
    known = ~np.isnan(rpm)
    if road is not None and np.count_nonzero(known & ~np.isnan(road)) < _ENOUGH * np.count_nonzero(known):
        road = None  # a wheel's sensor that failed leaves the revs
    if road is not None:
        known &= ~np.isnan(road)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], known.astype(np.int8), [0]))))
    if len(edges) == 0:
        return None
    longest = 2 * int(np.argmax(edges[1::2] - edges[::2]))
    part = slice(int(edges[longest]), int(edges[longest + 1]))
    count = part.stop - part.start
    if count < 4:
        return None
    place, counts = np.arange(count), np.full(count, count)
    return own._replace(
        at=at[part],
        rpm=np.maximum(_means(rpm[part], place, counts, points), 0.0),
        road=None if road is None else _means(road[part], place, counts, points),
    )


def _means(values: Array, place: Places, counts: Places, points: int) -> Array:
    """Return running means within each stretch, over fewer points where it begins and ends.

    Args:
        values: stretch after stretch, shape (n,); what is nan makes its own stretch nan.
        place: of each in its stretch, from 0, shape (n,).
        counts: of the values in each one's stretch, shape (n,).
        points: to take the mean of.
    """
    if points < 2:
        return values
    missing = np.isnan(values)
    sums = np.concatenate(([0.0], np.cumsum(np.where(missing, 0.0, values))))
    # as far on the one side as on the other, or a rising series would be told off its place at its ends
    reach = np.minimum(points // 2, np.minimum(place, counts - 1 - place))
    here = np.arange(len(values))
    mean: Array = (sums[here + reach + 1] - sums[here - reach]) / (2 * reach + 1)
    mean[missing] = np.nan
    return mean
