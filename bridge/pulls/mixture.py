"""Mixture along a pull: lambda by engine speed when its charge burned, with its interval; where it leaves a target.

Each reading is laid back by the delay at its own moment, as everywhere in this program. The interval is that of the
whole budget: scatter within a bin, the delay's doubt times how fast lambda moves, the sensor's own accuracy and drift.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from bridge.align import Delay, Nearest, nearest
from bridge.bands.cells import cylinder_of
from bridge.bands.readings import off_range
from bridge.bands.running import ready_at
from bridge.bands.steady import DEFAULT_LIMITS, air_s
from bridge.bands.uncertainty import mean_budget
from bridge.model import Run
from bridge.model.sensor_known import state_of
from bridge.pulls.grid import Placed, Places
from bridge.pulls.log import Near

Array = NDArray[np.float64]

_Z95 = 1.959964
_FEW = 8
"""With fewer readings their scatter is not asked."""
_SMALL = 1e-9 * np.eye(4)
_SLOPES = np.array([1.0, 2.0, 3.0])
"""Of a cubic's terms: it follows what a jet does along a pull, and leaves the scatter."""


@dataclass(frozen=True)
class Mixture:
    """One lambda channel along a pull."""

    column: str
    cylinder: int | None
    """None where one sensor stands for several."""
    by_rpm: Array
    """Mean of each bin, shape (m,) [1]; nan where there is none."""
    low: Array
    """Ends of its 95 % interval, shape (m,) [1]."""
    high: Array
    mean: float | None
    """Over the whole pull, each second alike [1]."""
    sd: float | None
    """Its standard uncertainty by the whole budget [1]."""
    left_out: int
    """Readings that are no mixture: sensor not ready, off its range, air in the pipe."""


@dataclass(frozen=True)
class Leaves:
    """A part of a pull in which the mixture is off its target by more than the margin."""

    cylinder: int | None
    column: str
    rpm_from: float
    rpm_to: float
    direction: str
    """``leaner`` or ``richer``."""
    farthest: float
    """Lambda where it is farthest off [1]."""
    surely: bool
    """Whether somewhere in it even the near end of the interval is off by more than the margin."""


@dataclass(frozen=True)
class Rows:
    """The rows of all pulls, one after another."""

    at: Places
    """Places in the log, shape (n,)."""
    placed: Placed
    """Which pull each is of, and where it lies on that pull's grid."""
    later_s: Array
    """What is to be added to a row's time to find the reading of its charge, shape (n,) [s]."""

    @property
    def pull(self) -> Places:
        """Which pull each is of, rising, shape (n,)."""
        return self.placed.pull

    @property
    def number(self) -> int:
        """Of pulls."""
        return len(self.placed.grids.of)


def mixtures(
    run: Run, log: Near, names: Sequence[str], rows: Rows, delay: Delay
) -> list[tuple[Mixture, ...]]:
    """Return the mixture along each pull, one for each lambda channel.

    Args:
        run: the session.
        log: what was recorded around the pulls.
        names: lambda channels.
        rows: of the pulls.
        delay: the session's, for its doubt.
    """
    at_s = log.t_s[rows.at] + rows.later_s
    shared: Nearest | None = None
    channels = []
    for name in names:
        knots, values = log.readings(name)
        if len(values) == 0:
            taken = np.full(len(at_s), np.nan)
        elif knots is log.knots:
            shared = shared or nearest(at_s, knots)
            taken = shared.of(values)
        else:
            taken = nearest(at_s, knots).of(values)
        channels.append(_channel(run, log, name, rows, at_s, taken, delay))
    return list(zip(*channels, strict=True)) if channels else [()] * rows.number


def _channel(  # noqa: PLR0913, PLR0917  # a channel's readings, and what they are held against
    run: Run, log: Near, name: str, rows: Rows, at_s: Array, taken: Array, delay: Delay
) -> list[Mixture]:
    limits = DEFAULT_LIMITS if run.bike is None else run.bike.steady
    t_s, grids = log.t_s[rows.at], rows.placed.grids
    why = off_range(at_s, taken, ready_at(run.states, name, at_s), limits, air_s(limits, delay.lag_s))
    seen = np.where(why == 0, taken, np.nan)
    means, numbers = rows.placed.mean(seen)
    cylinder = cylinder_of(name, run)
    sensor = state_of(run, cylinder)
    known = ~np.isnan(seen)
    pull, t_s, seen = rows.pull[known], t_s[known], seen[known]
    counts = np.bincount(pull, minlength=rows.number).astype(np.float64)
    with np.errstate(invalid="ignore"):
        whole = np.bincount(pull, weights=seen, minlength=rows.number) / counts
    scatter, moves = _courses(pull, t_s, seen, rows.number)
    # readings that the sensor's lag ties together are worth one in two lags
    alike = max(1.0, 2.0 * delay.lag_s / max(log.period_s, 1e-6))
    constant = np.hypot(mean_budget(0.0, 0.0, sensor.accuracy_sd, sensor.drift_sd).sd, delay.sd_s * moves)
    of = np.repeat(np.arange(rows.number), [len(grid) for grid in grids.of])
    sd = np.hypot(scatter[of] / np.sqrt(np.maximum(numbers / alike, 1.0)), constant[of])
    sds = np.hypot(scatter / np.sqrt(np.maximum(counts / alike, 1.0)), constant)
    left_out = np.bincount(rows.pull, minlength=rows.number) - counts
    parts = map(grids.split, (means, means - _Z95 * sd, means + _Z95 * sd))
    each = zip(*parts, whole.tolist(), sds.tolist(), left_out.tolist(), strict=True)
    return [
        Mixture(
            name,
            cylinder,
            by_rpm,
            low,
            high,
            None if math.isnan(mean) else mean,
            None if math.isnan(mean) else own_sd,
            int(left),
        )
        for by_rpm, low, high, mean, own_sd, left in each
    ]


def _courses(pull: Places, t_s: Array, values: Array, number: int) -> tuple[Array, Array]:
    """Return the scatter of each pull's readings about their slow course [1], and how fast that moves [1/s]."""
    scatter, moves = np.zeros(number), np.zeros(number)
    edges = np.searchsorted(pull, np.arange(number + 1))
    for i, (start, end) in enumerate(pairwise(edges.tolist())):
        if end - start >= _FEW:
            scatter[i], moves[i] = _course(t_s[start:end], values[start:end])
    return scatter, moves


def _course(t_s: Array, values: Array) -> tuple[float, float]:
    """Return the scatter of readings about a cubic in time [1], and how fast that moves, root mean square [1/s]."""
    half = max(float(t_s[-1] - t_s[0]) / 2.0, 1e-9)
    x = (t_s - (t_s[0] + half)) / half
    powers = np.stack((np.ones(len(x)), x, x * x, x * x * x))
    # a cubic that is not told, as by readings at one time, is kept small
    fit = np.linalg.solve(powers @ powers.T + _SMALL, powers @ values)
    rest = values - fit @ powers
    speed = (fit[1:] * _SLOPES) @ powers[:-1] / half
    scatter = math.sqrt(rest @ rest / max(len(values) - len(powers), 1))
    return scatter, math.sqrt(speed @ speed / len(values))


def leaves_target(
    found: Sequence[Mixture], grid: Array, step: float, target: float, margin: float
) -> tuple[Leaves, ...]:
    """Return where the mixture of each channel is off a target by more than a margin.

    Args:
        found: along one pull.
        grid: its engine speeds, shape (m,) [1/min].
        step: of the grid [1/min].
        target: lambda wanted [1].
        margin: what still counts as on it [1].
    """
    parts: list[Leaves] = []
    for one in found:
        with np.errstate(invalid="ignore"):
            sides = (
                ("leaner", one.by_rpm > target + margin, one.low > target + margin, np.nanmax),
                ("richer", one.by_rpm < target - margin, one.high < target - margin, np.nanmin),
            )
        for direction, off, sure, farthest in sides:
            edges = np.flatnonzero(np.diff(np.concatenate(([0], off.astype(np.int8), [0]))))
            parts += [
                Leaves(
                    one.cylinder,
                    one.column,
                    float(grid[a] - step / 2.0),
                    float(grid[b - 1] + step / 2.0),
                    direction,
                    float(farthest(one.by_rpm[a:b])),
                    bool(sure[a:b].any()),
                )
                for a, b in zip(edges[::2], edges[1::2], strict=True)
            ]
    return tuple(sorted(parts, key=lambda part: (part.column, part.rpm_from)))
