"""How much the mean of readings scatters although each resembles its neighbours.

In steady running what is left of the readings after their slow course is taken away is scatter: the sensor's noise, and
cycles that burn unlike each other, both drawn out by the sensor's lag. Blocks of a quarter of a second are looked at in
short windows, a straight line is taken out of each (a mixture that wanders, a pull through the revs), and the
autocovariance of what remains is found by moments: what the line took away with it is known from algebra and put
back. All windows of a ride are pooled, since a band of a few seconds cannot tell its own; where a band has enough
of them, its own level counts more and more.

A mean over T seconds then has the standard error sqrt(a / T), with a the sum of the autocovariance over all lags times
the block's length (published: any text on time series, as Priestley 1981, 5.3; from memory).
"""

from collections import Counter
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import polars as pl
from numpy.typing import NDArray

from bridge.bands.tally import RESOLUTION_SD, STEP
from bridge.budget import t_quantile

Array = NDArray[np.float64]

BLOCK_S = 0.25
"""Length of a block [s]; of a slow log twice its period."""
WINDOW = 10
"""Blocks in a window at most: 2.5 s, in which a mixture that wanders does so in a straight line ..."""
FEWEST = 5
"""... and at least: fewer tell nothing after a line is taken out."""
LAGS = 3
"""Readings resemble each other for so many blocks and no longer: 1 s is more than three of a slow sensor's lags."""
MOST_WINDOWS = 2_000
"""More windows than that tell nothing new: of a long ride an even choice is looked at."""
OWN_COUNTS_LIKE = 20.0
"""A band's own scatter weighs as much as the ride's from so many of its own blocks on: five seconds."""
_NORMAL_95 = 1.959964


@dataclass(frozen=True)
class Scatter:
    """The scatter of one lambda channel in steady running."""

    rate: float
    """``a``: variance of a mean times its seconds [s]; nan where the ride has too little to tell."""
    df: float
    """Degrees of freedom behind it: those of a sum over so many lags (number over 2 lags + 1), halved, since a line
    taken out makes lags hard to tell apart; by simulation, see the tests."""
    blocks: pl.DataFrame
    """What each block looked at says: ``band``, ``full``, ``excess`` (its squared residual over what the whole ride
    would lead one to expect [1]) and ``slope`` (of its window [1/s])."""

    def by_band(self) -> pl.DataFrame:
        """Return ``band``, ``level`` (of its scatter over the ride's [1]) and ``slope`` [1/s]."""
        return self.blocks.group_by("band").agg(*_level())

    def at_full(self, band: int) -> pl.DataFrame:
        """Return the same over all blocks at full throttle, under a number of its own."""
        return self.blocks.filter("full").select(pl.lit(band, pl.Int64).alias("band"), *_level())

    @property
    def usual_slope(self) -> float:
        """How fast lambda drifts in a window, root mean square [1/s]; 0 where there is none."""
        return float(self.blocks.select((pl.col("slope").pow(2).mean()).sqrt()).item() or 0.0)

    def standard_error(self, level: pl.Expr, seconds: pl.Expr, sd: pl.Expr) -> pl.Expr:
        """Return the standard error of a mean, widened so that 1.96 of it are the 95 % of Student's t.

        Args:
            level: of the band's scatter over the ride's [1].
            seconds: of its steady running [s].
            sd: standard deviation of its readings [1]. Where they vary by less than a step of lambda, rounding
                does not average out: of its error exp(-(2 pi sd / step)^2 / 2) stays (Widrow 1956, from memory).
        """
        widened = t_quantile(0.975, max(self.df, 1.0)) / _NORMAL_95
        stays = (-((sd * (2.0 * np.pi / STEP)).pow(2)) / 2.0).exp() * RESOLUTION_SD
        variance: pl.Expr = level * (self.rate * widened**2) / seconds + stays.pow(2)
        return variance.sqrt()


def _level() -> list[pl.Expr]:
    """Return a band's level and slope: its own as far as it has blocks, else the ride's."""
    own = pl.len().cast(pl.Float64)
    level = (OWN_COUNTS_LIKE + pl.col("excess").sum()) / (OWN_COUNTS_LIKE + own)
    return [level.alias("level"), pl.col("slope").mean().alias("slope")]


def scatter(steady: pl.LazyFrame, lambda_column: str, band: pl.Expr, period_s: float) -> Scatter:
    """Return the scatter of a lambda channel.

    Args:
        steady: the rows that count, as ``counted_rows`` gives them, with ``full`` or without.
        lambda_column: the channel.
        band: the number of each row's band.
        period_s: median time between rows [s].
    """
    block_s = max(BLOCK_S, 2.0 * period_s)
    blocks = _blocks(steady, lambda_column, band, block_s)
    at, n = blocks["at"].to_numpy(), blocks["n"].to_numpy()
    whole = n >= 0.6 * (np.median(n) if len(n) else 0.0)
    windows = _windows(at, whole)
    if not windows:
        return Scatter(np.nan, 1.0, _said(blocks[:0], np.empty(0), np.empty(0)))
    values = blocks["mean"].to_numpy()
    found, sums, norms = [], np.zeros(LAGS + 1), np.zeros((LAGS + 1, LAGS + 1))
    for rows in windows:
        m = len(rows)
        line = _line(m)
        slope, rest = float(line[1] @ values[rows]), line[0] @ values[rows]
        found.append((rows, slope / block_s, rest))
        sums += [float(rest[k:] @ rest[: m - k]) for k in range(LAGS + 1)]
        norms += _expected(m)
    gamma = _solved(norms, sums)
    # neighbours that a sensor's lag ties together never scatter against each other
    rate = block_s * max(gamma[0] + 2.0 * gamma[1:].sum(), gamma[0])
    sizes = Counter(len(rows) for rows in windows)
    df = sum((m - 2) * number for m, number in sizes.items()) / (2.0 * LAGS + 1.0) / 2.0
    usual = {m: np.maximum(np.diag(_left_of(m, gamma)), 0.0) for m in sizes}
    excess = np.concatenate([_share(rest**2, usual[len(rows)]) for rows, _, rest in found])
    slopes = np.concatenate([np.full(len(rows), slope) for rows, slope, _ in found])
    return Scatter(rate, df, _said(blocks[np.concatenate(windows)], excess, slopes))


def _said(blocks: pl.DataFrame, excess: Array, slopes: Array) -> pl.DataFrame:
    return blocks.select("band", "full", excess=pl.Series(excess), slope=pl.Series(slopes))


def _blocks(steady: pl.LazyFrame, lambda_column: str, band: pl.Expr, block_s: float) -> pl.DataFrame:
    """Return the means over blocks of time, of a long ride those of an even choice of windows."""
    ends = steady.select(first=pl.col("t_s").min(), last=pl.col("t_s").max()).collect(engine="streaming")
    first, last = ends.row(0)
    place = (pl.col("t_s") * (1.0 / block_s)).floor().cast(pl.Int64)
    every = 1 if first is None else int((last - first) / block_s / WINDOW / MOST_WINDOWS) + 1
    chosen = steady if every == 1 else steady.filter((place // WINDOW) % every == 0)
    full = pl.col("full").all() if "full" in steady.collect_schema() else pl.lit(value=False).first()
    value = pl.col(lambda_column).cast(pl.Float64)
    made = chosen.group_by(at=place).agg(
        n=pl.len(), mean=value.mean(), band=band.first().cast(pl.Int64), full=full
    )
    return made.collect(engine="streaming").sort("at")


def _windows(at: NDArray[np.int64], whole: NDArray[np.bool_]) -> list[NDArray[np.intp]]:
    """Return the rows of each window: blocks without a hole between them, none of them half empty."""
    rows = np.flatnonzero(whole)
    stretches = np.split(rows, np.flatnonzero(np.diff(at[rows]) > 1) + 1)
    parts = [part for rows in stretches for part in np.array_split(rows, max(1, -(-len(rows) // WINDOW)))]
    return [part for part in parts if len(part) >= FEWEST]


@lru_cache
def _line(m: int) -> tuple[Array, Array]:
    """Return what takes a straight line out of m values, and what gives its slope for each step."""
    x = np.column_stack((np.ones(m), np.arange(m) - (m - 1) / 2.0))
    fit = np.linalg.pinv(x)
    return np.eye(m) - x @ fit, fit[1]


@lru_cache
def _expected(m: int) -> Array:
    """Return, for each lag of the residuals' products, what each lag of the scatter's autocovariance adds to it."""
    out = _line(m)[0]
    return np.array(
        [[np.sum(np.diag(out @ _toeplitz(m, j) @ out, k)) for j in range(LAGS + 1)] for k in range(LAGS + 1)]
    )


def _toeplitz(m: int, lag: int) -> Array:
    return np.eye(m) if lag == 0 else np.eye(m, k=lag) + np.eye(m, k=-lag)


def _left_of(m: int, gamma: Array) -> Array:
    """Return the expected products of a window's residuals with each other."""
    whole = sum((gamma[k] * _toeplitz(m, k) for k in range(LAGS + 1)), start=np.zeros((m, m)))
    out = _line(m)[0]
    left: Array = out @ whole @ out
    return left


def _solved(norms: Array, sums: Array) -> Array:
    """Return the autocovariance by lags; with fewer lags where a short ride tells no variance with all of them."""
    gamma = np.zeros(LAGS + 1)
    for lags in range(LAGS, -1, -1):
        few = slice(lags + 1)
        gamma[few] = np.linalg.solve(norms[few, few], sums[few])
        gamma[lags + 1 :] = 0.0
        if gamma[0] > 0.0:
            return gamma
    return np.zeros(LAGS + 1)


def _share(squares: Array, usual: Array) -> Array:
    return np.divide(squares, usual, out=np.ones_like(squares), where=usual > 0.0)
