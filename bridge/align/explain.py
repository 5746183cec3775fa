"""Lambda as throttle and speed explain it: a map, fuel on the wall, the pipe, the sensor's lag.

What burns is a smooth map of throttle and speed times what the wall's fuel does to it. It comes to the sensor by
plug flow and is read through a first-order lag. All but a dozen numbers enter linearly.
"""

from dataclasses import dataclass
from math import exp, log

import numpy as np
from numpy.typing import NDArray

from bridge.align.course import STEP_S, Course, Readings

Array = NDArray[np.float64]
Index = NDArray[np.intp]

# what does not enter linearly: log of the scale on the pipe's time by geometry, constant dead time [s], log of the
# sensor's lag [s], share of the fuel that goes by the wall, log of the time it stays there [s], and seven of
# ``air_of``
SCALE, DEAD, LAG, SHARE, STAY, LEAK, OPEN, CHOKE, POWER, CORNER, RISE, BEND = range(12)
LOW = np.array(
    [log(0.15), -0.03, log(0.01), -0.1, log(0.05), log(0.005), log(0.3), -0.5, 0.6, log(1.0), -1.0, -1.5]
)
HIGH = np.array([log(6.0), 0.25, log(0.5), 0.5, log(2.0), log(1.0), log(20.0), 2.0, 2.0, log(6.0), 1.0, 0.5])
NUDGE = np.array([0.01, 0.002, 0.02, 0.005, 0.02, 0.05, 0.05, 0.02, 0.02, 0.05, 0.02, 0.02])
CYCLE_SHARE = 0.5
"""A charge leaves half a cycle after it burned (assumed; the constant dead time takes up the rest)."""
_THROTTLES = np.array(
    [0.0, 4.0, 8.0, 12.0, 16.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0]
)
MAP_SD = 0.04
"""Prior of how far the map's slope changes from knot to knot, in lambda."""


@dataclass(frozen=True)
class Explained:
    """The linear part of the model, on one sensor's readings."""

    columns: Array
    """Shape (m, k)."""
    source: Array
    """What burns by each column, on the course's clock, before the wall."""


def lagged(values: Array, tau_s: float) -> Array:
    """Return the exact first-order answer to an input that goes straight from step to step, along axis 0."""
    from scipy.signal import lfilter  # noqa: PLC0415  # costs the start of every command otherwise

    a = exp(-STEP_S / tau_s)
    mean = (1.0 - a) * tau_s / STEP_S
    b0, b1 = 1.0 - mean, mean - a
    first = values[:1] * (a + b1)
    result: Array = lfilter([b0, b1], [1.0, -a], values, axis=0, zi=first)[0]
    return result


def map_columns(course: Course, *, with_overrun: bool) -> tuple[Array, Array]:
    """Return the columns of the map on the course's clock, shape (n, k), and their ridge, shape (r, k).

    Hats over the throttle, over the logarithm of the speed, and low products of both. The ridge holds the second
    differences of the hats, and the products, to ``MAP_SD``.
    """
    throttle = np.clip(course.throttle, 0.0, 100.0)
    looked = course.usable
    visited = np.histogram(throttle[looked], np.append(_THROTTLES, 101.0))[0]
    near = visited > 25
    used = near | np.concatenate((near[1:], [False])) | np.concatenate(([False], near[:-1]))
    knots = _THROTTLES[used] if used.sum() >= 2 else _THROTTLES[[0, -1]]
    opening = hats(throttle, knots)
    speed = np.log(np.maximum(course.rpm, 500.0))
    low, high = np.quantile(speed[looked], (0.02, 0.98)) if looked.any() else (7.0, 9.0)
    at = (np.clip(speed, low - 0.3, high + 0.3) - low) / max(high - low, 0.1)
    bends = hats(at, np.linspace(0.0, 1.0, 5))[:, 1:]
    across = np.stack(
        [at * (throttle / 100.0 - 0.5), at * np.exp(-throttle / 12.0), at**2 * throttle / 100.0], axis=1
    )
    parts = [opening, bends, across]
    if with_overrun:
        parts.append(course.overrun[:, None].astype(np.float64))
    columns = np.concatenate(parts, axis=1)
    k = columns.shape[1]
    rows = []
    for first, number in ((0, opening.shape[1]), (opening.shape[1] - 1, 5)):
        for j in range(number - 2):
            row = np.zeros(k)
            row[first + j : first + j + 3] = (1.0, -2.0, 1.0)
            if first and j == 0:
                row[first] = 0.0  # the first hat over speed is left out: it is zero there
            rows.append(row)
    for j in range(opening.shape[1], k):
        row = np.zeros(k)
        row[j] = 0.7
        rows.append(row)
    for j in range(opening.shape[1]):
        row = np.zeros(k)
        row[j] = 0.4
        rows.append(row)
    return columns, np.array(rows) / MAP_SD


def hats(values: Array, knots: Array) -> Array:
    """Return the piecewise linear basis over knots, shape (n, len(knots)); beyond the ends it holds."""
    place = np.interp(values, knots, np.arange(len(knots), dtype=np.float64))
    columns: Array = np.maximum(0.0, 1.0 - np.abs(place[:, None] - np.arange(len(knots))))
    return columns


def burned_at(course: Course, theta: Array, air: Array) -> Array:
    """Return where on the clock the charge burned that is at the sensor at each step, shape (n,)."""
    n = len(course.t_s)
    steady = np.maximum(exp(theta[SCALE]) * course.volume / air + CYCLE_SHARE * course.cycle_s, 0.25 * STEP_S)
    rate = STEP_S / steady
    way = np.concatenate(([0.0], np.cumsum((rate[1:] + rate[:-1]) / 2.0)))
    steps = np.arange(n, dtype=np.float64)
    now = np.interp(steps - theta[DEAD] / STEP_S, steps, way)
    before: Array = np.interp(now - 1.0, way, steps)
    return before


def air_of(course: Course, theta: Array) -> Array:
    """Return the flow of air, in arbitrary units: what the throttle lets through, up to what the engine wants.

    The engine wants ``w = exp(rise u + bend u**2)`` with ``u = log(rpm / 6000)``; the throttle passes
    ``p = open (leak + throttle**power) (6000 / rpm)**choke``; the filling is the smaller of the two, rounded where
    they meet: ``p / (1 + (p / w)**corner)**(1 / corner)``. Assumed; its seven numbers are fitted.
    """
    u = np.log(np.maximum(course.rpm, 400.0) / 6000.0)
    opened = np.clip(course.throttle / 100.0, 1e-4, 1.0) ** theta[POWER]
    wanted = np.exp(np.clip(theta[RISE] * u + theta[BEND] * u**2, -3.0, 3.0))
    passed = exp(theta[OPEN]) * (exp(theta[LEAK]) + opened) * np.exp(-theta[CHOKE] * u)
    corner = exp(theta[CORNER])
    air: Array = passed / (1.0 + (passed / wanted) ** corner) ** (1.0 / corner) * np.exp(u) * 6000.0
    return air


def burns(air: Array, theta: Array, metered: Array) -> Array:
    """Return the mixture that burns, fuel over air, of what is metered; one row a step of the clock.

    A share of the fuel lands on the wall and leaves it with a first-order lag (Aquino, 1981, from memory).
    """
    flow = air[:, None] if metered.ndim == 2 else air
    share = theta[SHARE]
    burned: Array = (1.0 - share) * metered + share * lagged(flow * metered, exp(theta[STAY])) / flow
    return burned


def at(values: Array, place: Array) -> Array:
    """Return values at fractional places along axis 0, straight between neighbours."""
    low = np.clip(place.astype(np.intp), 0, len(values) - 2)
    part = np.clip(place - low, 0.0, 1.0)
    if values.ndim == 2:
        part = part[:, None]
    between: Array = values[low] + part * (values[low + 1] - values[low])
    return between


def seen_of(course: Course, readings: Readings, theta: Array, metered: Array, about: Array) -> Array:
    """Return what the sensor says of a mixture that is metered on the course's clock, at its readings.

    Args:
        course: what was ridden.
        readings: when it is read.
        theta: what does not enter linearly.
        metered: fuel over air, shape (n,) or (n, k).
        about: lambda near that which burns, shape (n,): lambda is taken straight about it as
            ``2 about - about**2 phi``, without the first term, which no column has.
    """
    air = air_of(course, theta)
    phi = burns(air, theta, metered)
    square = about**2
    return -arrived(course, readings, theta, phi * (square[:, None] if phi.ndim == 2 else square), air)


def arrived(course: Course, readings: Readings, theta: Array, gas: Array, air: Array) -> Array:
    """Return what the sensor says of a gas that leaves the engine on the course's clock, at its readings."""
    return at(lagged(at(gas, burned_at(course, theta, air)), exp(theta[LAG])), readings.place)
