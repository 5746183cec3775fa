"""A run's channels: the whole of it, and the short parts of it that pulls are looked for in."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import polars as pl
from numpy.typing import NDArray

from bridge.align import Knots, between, knots_of, longest_step_s, typical_period_s
from bridge.bands.running import channels_of
from bridge.errors import BadValue
from bridge.model import Run

Array = NDArray[np.float64]

ROADS = ("roller_rpm", "speed")
"""What tells how fast the wheel turns, the more certain first."""
FINEST_S = 0.005
"""Parts are laid on an even grid no finer than this [s]."""
_BEFORE_S, _AFTER_S = 3.0, 4.0
"""Beside full throttle this much is kept: how it began, and the readings that come late [s]."""


@dataclass(frozen=True)
class Log:
    """What a run's samples say, the columns that pulls need and no others."""

    frame: pl.DataFrame
    t_s: Array
    lambdas: tuple[str, ...]
    egts: tuple[str, ...]
    chts: tuple[str, ...]
    period_s: float
    longest_step_s: float
    road: str | None
    """``roller_rpm`` [1/min] or ``speed`` [km/h], whichever the wheel is told by."""

    @property
    def step_s(self) -> float:
        """Step of the even grids [s]."""
        return max(self.period_s, FINEST_S)

    def has(self, name: str) -> bool:
        """Return whether a channel was recorded."""
        return name in self.frame.columns

    def values(self, name: str) -> Array:
        """Return a channel, nan where a row has no reading."""
        return _plain(self.frame[name])

    def thinned(self, name: str, every: int, late_s: float = 0.0) -> Array:
        """Return a channel at every so many rows, filled in where those rows have none of its readings.

        Args:
            name: the channel.
            every: so many rows.
            late_s: how late the channel is [s].
        """
        late = round(late_s / self.period_s) if self.period_s > 0.0 else 0
        values = _every(self.frame[name], late, every)
        if not np.isnan(values).any():
            rows = -(-len(self.t_s) // every)
            return np.concatenate((values, np.full(rows - len(values), np.nan)))
        whole = self.values(name)
        known = ~np.isnan(whole)
        return between(self.t_s[::every] + late_s, self.t_s[known], whole[known])

    def near(self, stretches: Sequence[tuple[float, float]]) -> "Near":
        """Return what was recorded around some stretches of time, from 3 s before to 4 s after each.

        Args:
            stretches: first and last moment of each, in order [s].
        """
        lows = np.searchsorted(self.t_s, [start - _BEFORE_S for start, _ in stretches])
        highs = np.searchsorted(self.t_s, [end + _AFTER_S for _, end in stretches], side="right")
        # where one begins before another has ended, the rows are taken once
        lows = (
            np.maximum(lows, np.concatenate(([0], np.maximum.accumulate(highs)[:-1]))) if len(lows) else lows
        )
        spans = [(int(a), int(b)) for a, b in zip(lows, highs, strict=True) if b > a]
        parts = [self.frame.slice(a, b - a) for a, b in spans]
        frame = pl.concat(parts) if parts else self.frame.clear()
        rows = np.concatenate([np.arange(a, b) for a, b in spans]) if spans else np.empty(0, dtype=np.int64)
        columns = {name: _plain(frame[name]) for name in frame.columns}
        names = (self.lambdas, self.egts, self.chts, self.road)
        return Near(columns.pop("t_s"), columns, rows, *names, self.period_s, self.longest_step_s)


@dataclass(frozen=True)
class Near:
    """Parts of a run, one after another: rising times with holes between."""

    t_s: Array
    columns: dict[str, Array]
    """By name, shape (n,); nan where a row has no reading."""
    row: NDArray[np.int64]
    """Place of each in the whole run, shape (n,)."""
    lambdas: tuple[str, ...]
    egts: tuple[str, ...]
    chts: tuple[str, ...]
    road: str | None
    period_s: float
    longest_step_s: float

    @property
    def step_s(self) -> float:
        """Step of the even grids [s]."""
        return max(self.period_s, FINEST_S)

    def has(self, name: str) -> bool:
        """Return whether a channel was recorded."""
        return name in self.columns

    def rows(self, from_s: float, to_s: float) -> slice:
        """Return the rows from one moment to another, both in it."""
        low = int(np.searchsorted(self.t_s, from_s))
        return slice(low, int(np.searchsorted(self.t_s, to_s, side="right")))

    def on(self, name: str, grid: Array, rows: slice) -> Array:
        """Return a channel on a grid of times, straight from reading to reading, nan in holes.

        Args:
            name: the channel.
            grid: shape (m,) [s].
            rows: that hold all of the grid's time.
        """
        values, t_s = self.columns[name][rows], self.t_s[rows]
        known = ~np.isnan(values)
        if not known.all():
            t_s, values = t_s[known], values[known]
        if len(values) and (t_s[1:] - t_s[:-1]).max(initial=0.0) <= self.longest_step_s:
            return np.interp(grid, t_s, values, left=np.nan, right=np.nan)
        return between(grid, t_s, values)

    @cached_property
    def knots(self) -> Knots:
        """Of a channel that has a reading in each row."""
        return knots_of(self.t_s)

    def readings(self, name: str) -> tuple[Knots, Array]:
        """Return a channel's own readings and their knots."""
        values = self.columns[name]
        known = ~np.isnan(values)
        return (self.knots, values) if known.all() else (knots_of(self.t_s[known]), values[known])

    def at(self, name: str, rows: NDArray[np.int64]) -> Array:
        """Return a channel at some rows, filled in from reading to reading where it is slower than they are."""
        values = self.columns[name]
        here = values[rows]
        if not np.isnan(here).any():
            return here
        known = ~np.isnan(values)
        return between(self.t_s[rows], self.t_s[known], values[known])

    def mean(self, name: str, from_s: float, to_s: float) -> float | None:
        """Return a channel's mean over a part; None where it has no reading there."""
        if not self.has(name):
            return None
        values = self.columns[name][self.rows(from_s, to_s)]
        known = values[~np.isnan(values)]
        return float(known.sum() / len(known)) if len(known) else None


def _every(values: pl.Series, first: int, every: int) -> Array:
    """Return every so many values from one on, nan where they are null.

    Chunk by chunk, since putting a long column together takes longer than all the rest.
    """
    parts = [np.empty(0)]
    for chunk in values.get_chunks():
        parts.append(chunk.to_numpy()[first::every].astype(np.float64))
        first = first - len(chunk) if first >= len(chunk) else (first - len(chunk)) % every
    return np.concatenate(parts)


def _plain(values: pl.Series) -> Array:
    """Return a column as an array of floats, nan where it is null."""
    return values.to_numpy().astype(np.float64, copy=False)


def log_of(run: Run, extra: tuple[str, ...] = ()) -> Log:
    """Read what pulls need of a run.

    Args:
        run: the session.
        extra: other channels that are wanted where they are there.

    Raises:
        BadValue: it has no engine speed.
    """
    names = run.samples.collect_schema().names()
    if "rpm" not in names:
        raise BadValue(
            f"session {run.session.id} has no engine speed, so there are no pulls to find; record or map a channel"
            " named rpm"
        )
    lambdas, egts, chts = (channels_of(names, kind) for kind in ("lambda", "egt", "cht"))
    others = ("throttle", *ROADS, "gear", "torque", "coolant_temp", "air_temp", "air_pressure", "humidity")
    wanted = [name for name in ("rpm", *others, *lambdas, *egts, *chts, *extra) if name in names]
    frame = run.samples.select("t_s", *dict.fromkeys(wanted)).collect()
    # what is looked at row by row is put into one piece, both columns at once
    frame = frame.with_columns(
        frame.select(pl.col("t_s", *(["throttle"] if "throttle" in names else []))).rechunk()
    )
    t_s = frame["t_s"].to_numpy()
    return Log(
        frame,
        t_s,
        lambdas,
        egts,
        chts,
        typical_period_s(t_s),
        longest_step_s(t_s),
        next((name for name in ROADS if name in frame.columns and _moves(frame[name])), None),
    )


def _moves(values: pl.Series) -> bool:
    """Return whether a wheel ever turned, by an even choice of rows."""
    chosen = values.gather_every(max(1, len(values) // 100_000))
    return bool((chosen > 1.0).any()) or bool((values > 1.0).any())
