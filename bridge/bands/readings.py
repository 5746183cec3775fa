"""What an oxygen sensor's readings are worth, before anything is said of the mixture."""

import numpy as np
from numpy.typing import NDArray

from bridge.bands.steady import SENSOR_STATES
from bridge.model.steady import SteadySettings

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

READY, NOT_READY, OFF_RANGE, NO_READING, MISFIRE = range(len(SENSOR_STATES))

_PINNED, _USUALLY = 5, 2
"""A channel's own extreme that stands for so many readings is the end of its sensor's range, if the channel usually
changes within so many."""
_LEAN_END, _RICH_END = 1.15, 0.75
"""Ends of a range lie beyond these [1]; between them a reading may well repeat."""


def off_range(
    at_s: Array, readings: Array, ready: Flags, limits: SteadySettings, air_s: float
) -> NDArray[np.uint8]:
    """Return what each reading is, as its place in ``SENSOR_STATES``.

    Off range is what no charge that fires can be; what stands at the end of the sensor's own range; and what is
    on its way to air in the pipe, or back.

    Args:
        at_s: when each was taken, shape (n,) [s], nan where nobody knows.
        readings: shape (n,), nan for none [1].
        ready: whether the sensor was ready, shape (n,).
        limits: the settings.
        air_s: how long before and after air no reading counts [s].
    """
    low, high = _range(readings[ready], limits)
    off = (readings < low) | (readings > high)
    air = at_s[(readings > high) & ~np.isnan(at_s)]
    if len(air):
        edges = np.sort(np.concatenate(([-np.inf], air, [np.inf])))
        after = np.searchsorted(edges, at_s, side="right").clip(1, len(edges) - 1)
        off |= np.minimum(at_s - edges[after - 1], edges[after] - at_s) <= air_s
    found = np.full(len(readings), READY, dtype=np.uint8)
    found[off] = OFF_RANGE
    found[np.isnan(readings)] = NO_READING
    found[~ready] = NOT_READY
    return found


def _range(readings: Array, limits: SteadySettings) -> tuple[float, float]:
    """Return between which readings there is a mixture: the settings' limits, or the sensor's own where narrower."""
    known = readings[~np.isnan(readings)]
    low, high = limits.lambda_low, limits.lambda_high
    if len(known) == 0:
        return low, high
    least, most = float(known.min()), float(known.max())
    if least > _RICH_END and most < _LEAN_END:
        return low, high
    changes = np.flatnonzero(np.diff(known) != 0.0)
    stands = np.diff(np.concatenate(([-1], changes, [len(known) - 1])))
    values = known[np.append(changes, len(known) - 1)]
    if np.median(stands) > _USUALLY:
        return low, high
    if least <= _RICH_END and stands[values == least].max() >= _PINNED:
        low = max(low, float(np.nextafter(least, np.inf)))
    if most >= _LEAN_END and stands[values == most].max() >= _PINNED:
        high = min(high, float(np.nextafter(most, -np.inf)))
    return low, high
