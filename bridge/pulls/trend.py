"""What a change was worth, told apart from the engine that warms up and from the day that goes on.

Each run's power is taken as its side's level, times what the runs before it in its session did (warm-up, heat soak),
times what the day did in the order of all runs, times scatter from run to run. Ordinary least squares on logarithms, so
gains are ratios; the interval is Student's. Where sessions of one side differ by more than their runs do, the sessions
are what counts.

Where runs of both sides alternate, all of these can be told apart. Where all of the one side came first, the day's
course and the change look alike; then two readings of the trend are held against each other, one that begins anew with
each session and one that goes on from run to run, and the interval that is told holds for both and for any mixture.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.budget import t_quantile
from bridge.pulls.groups import by_groups

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

FEWEST = 3
"""Runs a side before anything is claimed (common practice)."""


@dataclass(frozen=True)
class Design:
    """Which run was of which side, and where it stood in its session and in the day."""

    after: Flags
    """Whether a run is of the side after the change, shape (n,); the runs in order of time."""
    position: Array
    """Place in its own session, from 0, shape (n,)."""
    session: NDArray[np.int64]
    """Which session a run is of, shape (n,)."""

    @property
    def enough(self) -> bool:
        """Whether there are three runs on each side."""
        return min(int(self.after.sum()), int((~self.after).sum())) >= FEWEST

    @property
    def alternates(self) -> bool:
        """Whether runs of one side lie on both sides of runs of the other, so that the day's course can be told."""
        return int(np.count_nonzero(np.diff(self.after.astype(np.int8)))) > 1

    def models(self) -> dict[str, Array]:
        """Return the columns of each reading of the trend: level, change, then trends."""
        n = len(self.after)
        base = np.column_stack((np.ones(n), self.after.astype(np.float64)))
        anew, on = self.position, np.arange(n, dtype=np.float64)
        if self.alternates:
            wanted = {"both trends": np.column_stack((base, anew, on))}
        else:
            wanted = {
                "a trend that begins anew with each session": np.column_stack((base, anew)),
                "a trend that goes on from run to run": np.column_stack((base, on)),
            }
        return {name: _estimable(columns) for name, columns in wanted.items()}


def _estimable(columns: Array) -> Array:
    """Leave out trends that the runs cannot tell, or that leave no freedom for their scatter."""
    kept = columns[:, :2]
    for trend in columns[:, 2:].T:
        more = np.column_stack((kept, trend))
        if np.linalg.matrix_rank(more) == more.shape[1] and len(more) - more.shape[1] >= 2:
            kept = more
    return kept


@dataclass(frozen=True)
class Estimate:
    """The change, for one or several columns of runs' values; all in logarithms."""

    change: Array
    """Middle of the interval, shape (k,) [1]."""
    low: Array
    """Ends of the 95 % interval, shape (k,) [1]."""
    high: Array
    spread: Array
    """Standard deviation from run to run, trends taken out, shape (k,) [1]."""
    differ: Flags
    """Whether sessions of one side differ by more than their runs do, so that they are what counts, shape (k,)."""
    by_model: dict[str, Array]
    """The change by each reading of the trend, shape (k,) [1]."""
    trend: Array
    """Of a run on the next in its session, by the first reading, shape (k,) [1]; nan where it cannot be told."""
    trend_half: Array
    """Half width of its 95 % interval [1]."""
    df: float


def estimate(design: Design, logs: Array) -> Estimate:
    """Return the change between the sides.

    Args:
        design: of n runs, three on each side or more.
        logs: logarithms of what was measured, shape (n, k).

    Returns:
        The change with its interval: the narrowest one that holds that of every reading of the trend.
    """
    lows, highs, changes = [], [], {}
    spread = trend = half = np.full(logs.shape[1], np.nan)
    differ = np.zeros(logs.shape[1], dtype=bool)
    df = np.inf
    for name, columns in design.models().items():
        inverse = np.linalg.inv(columns.T @ columns)
        fit = inverse @ (columns.T @ logs)
        left = logs - columns @ fit
        freedom = len(logs) - columns.shape[1]
        variance, free = by_groups(left, columns, design.session, freedom)
        sd, apart = np.sqrt(variance), free < freedom
        t = np.where(apart, t_quantile(0.975, float(free.min())), t_quantile(0.975, freedom))
        reach = t * sd * np.sqrt(inverse[1, 1])
        differ |= apart
        changes[name] = fit[1]
        lows.append(fit[1] - reach)
        highs.append(fit[1] + reach)
        if np.isnan(spread).all():
            spread, df = np.sqrt((left**2).sum(axis=0) / freedom), float(freedom)
            if columns.shape[1] > 2:
                trend, half = fit[2], t * sd * np.sqrt(inverse[2, 2])
    low, high = np.min(lows, axis=0), np.max(highs, axis=0)
    return Estimate((low + high) / 2.0, low, high, spread, differ, changes, trend, half, df)
