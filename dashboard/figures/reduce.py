"""Thinning of long traces: the lowest and the highest of each short stretch, so that no peak is lost."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

POINTS = 700
"""Stretches that a window is cut into; a screen has not many more columns."""

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Series:
    """One thinned trace.

    Attributes:
        name: of the channel.
        t_s: rising [s]; nan breaks the line where the log has a gap.
        value: in the channel's unit; nan at the breaks.
    """

    name: str
    t_s: Floats
    value: Floats


def reduce_window(
    samples: pl.LazyFrame, window: tuple[float, float] | None, points: int = POINTS
) -> tuple[Series, ...]:
    """Return all channels of a window of a session.

    Args:
        samples: ``t_s`` [s] and a column a channel.
        window: seconds from and to; None for all.
        points: stretches to cut the window into.

    Returns:
        A trace for each channel that has readings there, at most twice ``points`` long (with its breaks).
    """
    names = [name for name in samples.collect_schema().names() if name != "t_s"]
    if window is None:
        ends = samples.select(low=pl.col("t_s").min(), high=pl.col("t_s").max()).collect().row(0)
        if ends[0] is None:
            return ()
        window = (float(ends[0]), float(ends[1]))
    low, high = window
    inside = samples.filter(pl.col("t_s").is_between(low, high))
    rows = int(inside.select(pl.len()).collect().item())
    if rows == 0:
        return ()
    if rows <= 2 * points:
        frame = inside.collect().sort("t_s")
        return tuple(s for name in names if (s := _raw(frame, name)) is not None)
    width = (high - low) / points
    stretches = (
        inside.group_by(((pl.col("t_s") - low) / width).floor().clip(0, points - 1).alias("stretch"))
        .agg(
            *(pl.col(name).min().alias(f"{name} low") for name in names),
            *(pl.col(name).max().alias(f"{name} high") for name in names),
            *(pl.col(name).count().alias(f"{name} count") for name in names),
        )
        .sort("stretch")
        .collect()
    )
    found = (_thinned(stretches, name, low, width) for name in names)
    return tuple(series for series in found if series is not None)


def _raw(frame: pl.DataFrame, name: str) -> Series | None:
    held = frame.select("t_s", pl.col(name).cast(pl.Float64)).drop_nulls()
    if held.is_empty():
        return None
    t_s, value = held["t_s"].to_numpy(), held[name].to_numpy()
    usual = float(np.median(np.diff(t_s))) if len(t_s) > 1 else 0.0
    return _broken(name, t_s, value, max(8.0 * usual, 0.5))


def _thinned(stretches: pl.DataFrame, name: str, start_s: float, width_s: float) -> Series | None:
    held = stretches.filter(pl.col(f"{name} count") > 0)
    if held.is_empty():
        return None
    at = held["stretch"].to_numpy() * width_s + start_s
    lows, highs = held[f"{name} low"].to_numpy(), held[f"{name} high"].to_numpy()
    t_s = np.column_stack((at + 0.25 * width_s, at + 0.75 * width_s)).ravel()
    value = np.column_stack((lows, highs)).ravel().astype(np.float64)
    usual_s = width_s / float(np.median(held[f"{name} count"].to_numpy()))
    return _broken(name, t_s, value, max(8.0 * usual_s, 1.6 * width_s, 0.5))


def _broken(name: str, t_s: Floats, value: Floats, gap_s: float) -> Series:
    """Break the line where two readings lie further apart than a gap."""
    after = np.flatnonzero(np.diff(t_s) > gap_s) + 1
    middle = (t_s[after] + t_s[after - 1]) / 2.0
    return Series(name, np.insert(t_s, after, middle), np.insert(value.astype(np.float64), after, np.nan))
