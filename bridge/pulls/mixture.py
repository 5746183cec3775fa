"""Mixture along a pull: lambda by engine speed when its charge burned, with its interval; where it leaves a target.

Each reading is laid back by the delay at its own moment, as everywhere in this program. The interval is that of the
whole budget: scatter within a bin, the delay's doubt times how fast lambda moves, the sensor's own accuracy and drift.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.align import Delay, readings_at
from bridge.bands.cells import cylinder_of
from bridge.bands.readings import off_range
from bridge.bands.running import ready_at
from bridge.bands.steady import DEFAULT_LIMITS, air_s
from bridge.bands.uncertainty import mean_budget
from bridge.model import Run
from bridge.model.sensor_known import state_of
from bridge.pulls.grid import Grids, Places
from bridge.pulls.log import Near

Array = NDArray[np.float64]

_Z95 = 1.959964
_FEW = 8
"""With fewer readings their scatter is not asked."""
_DEGREE = 3
"""A cubic in time follows what a jet does along a pull, and leaves the scatter."""


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
    pull: Places
    """Which pull each is of, rising, shape (n,)."""
    rpm: Array
    """[1/min], shape (n,)."""
    later_s: Array
    """What is to be added to a row's time to find the reading of its charge, shape (n,) [s]."""
    number: int
    """Of pulls."""


def mixtures(  # noqa: PLR0913, PLR0917  # pulls and what they are laid on
    run: Run, log: Near, names: Sequence[str], rows: Rows, grids: Grids, delay: Delay
) -> list[tuple[Mixture, ...]]:
    """Return the mixture along each pull, one for each lambda channel.

    Args:
        run: the session.
        log: what was recorded around the pulls.
        names: lambda channels.
        rows: of the pulls.
        grids: of engine speed.
        delay: the session's, for its doubt.
    """
    channels = [_channel(run, log, name, rows, grids, delay) for name in names]
    return list(zip(*channels, strict=True)) if channels else [()] * rows.number


def _channel(  # noqa: PLR0913, PLR0917  # as mixtures
    run: Run, log: Near, name: str, rows: Rows, grids: Grids, delay: Delay
) -> list[Mixture]:
    limits = DEFAULT_LIMITS if run.bike is None else run.bike.steady
    t_s = log.t_s[rows.at]
    at_s = t_s + rows.later_s
    taken = readings_at(log.t_s, log.columns[name], at_s)
    why = off_range(at_s, taken, ready_at(run.states, name, at_s), limits, air_s(limits, delay.lag_s))
    seen = np.where(why == 0, taken, np.nan)
    means, numbers = grids.mean(rows.pull, rows.rpm, seen)
    cylinder = cylinder_of(name, run)
    sensor = state_of(run, cylinder)
    known = ~np.isnan(seen)
    counts = np.bincount(rows.pull[known], minlength=rows.number).astype(np.float64)
    whole = np.bincount(rows.pull[known], weights=seen[known], minlength=rows.number)
    scatter, moves = _courses(rows.pull[known], t_s[known], seen[known], rows.number)
    # readings that the sensor's lag ties together are worth one in two lags
    alike = max(1.0, 2.0 * delay.lag_s / max(log.period_s, 1e-6))
    constant = [
        mean_budget(0.0, delay.sd_s * float(move), sensor.accuracy_sd, sensor.drift_sd).sd for move in moves
    ]
    found = []
    all_rows = np.bincount(rows.pull, minlength=rows.number)
    for i, (by_rpm, n) in enumerate(zip(grids.split(means), grids.split(numbers), strict=True)):
        sd = np.hypot(scatter[i] / np.sqrt(np.maximum(n / alike, 1.0)), constant[i])
        some = counts[i] > 0.0
        found.append(
            Mixture(
                name,
                cylinder,
                by_rpm,
                by_rpm - _Z95 * sd,
                by_rpm + _Z95 * sd,
                float(whole[i] / counts[i]) if some else None,
                float(np.hypot(scatter[i] / np.sqrt(max(counts[i] / alike, 1.0)), constant[i]))
                if some
                else None,
                int(all_rows[i] - counts[i]),
            )
        )
    return found


def _courses(pull: Places, t_s: Array, values: Array, number: int) -> tuple[Array, Array]:
    """Return the scatter of each pull's readings about their slow course [1], and how fast that moves [1/s].

    The course is a cubic in time, fitted to all pulls at once by their normal equations.
    """
    counts = np.bincount(pull, minlength=number)
    ends = np.cumsum(counts)
    some = np.flatnonzero(counts)
    if len(some) == 0:
        return np.zeros(number), np.zeros(number)
    first, last = np.zeros(number), np.zeros(number)
    first[some], last[some] = t_s[ends[some] - counts[some]], t_s[ends[some] - 1]
    half = np.maximum((last - first) / 2.0, 1e-9)
    x = (t_s - (first + half)[pull]) / half[pull]
    powers = np.ones((2 * _DEGREE + 1, len(x)))
    np.cumprod(np.broadcast_to(x, (2 * _DEGREE, len(x))), axis=0, out=powers[1:])
    moments = np.stack([np.bincount(pull, weights=row, minlength=number) for row in powers])
    right = np.stack(
        [np.bincount(pull, weights=row * values, minlength=number) for row in powers[: _DEGREE + 1]]
    )
    i = np.arange(_DEGREE + 1)
    left = moments[i[:, None] + i[None, :]].transpose(2, 0, 1) + 1e-9 * np.eye(_DEGREE + 1)
    fit = np.linalg.solve(left, right.T[:, :, None])[:, :, 0]
    rest = values - np.einsum("kn,nk->n", powers[: _DEGREE + 1], fit[pull])
    speed = (fit[pull, 1] + 2.0 * fit[pull, 2] * x + 3.0 * fit[pull, 3] * x**2) / half[pull]
    squares = np.bincount(pull, weights=rest**2, minlength=number)
    moved = np.bincount(pull, weights=speed**2, minlength=number)
    enough = counts >= _FEW
    scatter = np.where(enough, np.sqrt(squares / np.maximum(counts - _DEGREE - 1, 1)), 0.0)
    return scatter, np.where(enough, np.sqrt(moved / np.maximum(counts, 1)), 0.0)


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
