"""The pass over the samples: what every band needs, in one small table of counts and one of sums.

Counts of (band, lambda step of 0.001) give every percentile, the deviation and the distribution. The sums give the
mean and the seconds. Both are whole numbers, so they are the same whatever the order of the rows, and they add
up over sessions exactly.
"""

from dataclasses import dataclass

import polars as pl

from bridge.bands.edges import Banding
from bridge.channels import CATALOGUE

STEP = 0.001
"""Width of a lambda step [1]."""
RESOLUTION_SD = STEP / 12.0**0.5
"""Standard uncertainty of a lambda known to a step: uniform within it (published: JCGM 100:2008, 4.3.7) [1]."""
PERCENTILES = (10, 50, 90)

STEPS = round(CATALOGUE["lambda"].high / STEP) + 1
"""Number of lambda steps from 0 to what no reading exceeds."""

LAMBDA_UNIT = 2.0**-20
"""Lambda is summed in whole multiples of this [1]: a millionth, and exact in single precision."""
TIME_UNIT_S = 1e-6
"""Time is summed in whole multiples of this [s]."""
HEAT_UNIT_C = 2.0**-6
"""Temperatures are summed in whole multiples of this [K]."""


@dataclass(frozen=True)
class Tally:
    """What one lambda channel leaves behind."""

    counts: pl.DataFrame
    """Columns ``band``, ``step`` (lambda in thousandths) and ``n``."""
    sums: pl.DataFrame
    """Columns ``band``, ``n``, ``time`` [``TIME_UNIT_S``], ``total`` (of lambda, [``LAMBDA_UNIT``]), ``egt`` and
    ``cht`` (sums, [``HEAT_UNIT_C``]) with ``egt_n`` and ``cht_n``; whole numbers, sorted by band."""


def tally(
    samples: pl.LazyFrame,
    lambda_column: str,
    egt_column: str | None,
    division: Banding,
    cht_column: str | None = None,
) -> Tally:
    """Count one lambda channel's steady running.

    Args:
        samples: as ``prepare`` returns them.
        lambda_column: the channel; rows where it is null are left out.
        egt_column: the exhaust-gas temperature that goes with it, or None.
        division: the bands.
        cht_column: the head temperature that goes with it, or None.

    Returns:
        The two tables, by polars' streaming engine.
    """
    steady = counted_rows(samples, lambda_column, division)
    # one whole number as the key and one pass for each table: faster than two keys, or both tables at once
    return Tally(
        count_steps(steady, lambda_column, division),
        sum_up(steady, lambda_column, egt_column, cht_column, division.key()),
    )


def counted_rows(samples: pl.LazyFrame, lambda_column: str, division: Banding) -> pl.LazyFrame:
    """Return the rows that count: steady, with a lambda, in a band."""
    return samples.filter(pl.col("steady") & pl.col(lambda_column).is_not_null() & division.inside())


def count_steps(steady: pl.LazyFrame, lambda_column: str, division: Banding) -> pl.DataFrame:
    """Return how often each lambda step was seen in each band: ``band``, ``step`` and ``n``, sorted.

    Args:
        steady: ``counted_rows``.
        lambda_column: the channel.
        division: the bands.
    """
    step = (pl.col(lambda_column) * (1.0 / STEP)).round().cast(division.key_type)
    counted = steady.group_by(key=division.key() * STEPS + step).agg(n=pl.len()).collect(engine="streaming")
    key = pl.col("key").cast(pl.Int64)
    return counted.select(band=key // STEPS, step=key % STEPS, n="n").sort("band", "step")


def sum_up(
    steady: pl.LazyFrame, lambda_column: str, egt_column: str | None, cht_column: str | None, band: pl.Expr
) -> pl.DataFrame:
    """Return the sums of ``Tally``.

    Args:
        steady: the rows to be counted.
        lambda_column: the channel.
        egt_column: the exhaust-gas temperature that goes with it, or None.
        cht_column: the head temperature that goes with it, or None.
        band: the number of each row's band.
    """
    sums = steady.group_by(band=band).agg(
        n=pl.len(),
        time=_whole("dt_s", TIME_UNIT_S).sum(),
        total=_whole(lambda_column, LAMBDA_UNIT).sum(),
        **_heat("egt", egt_column),
        **_heat("cht", cht_column),
    )
    return sums.collect(engine="streaming").with_columns(pl.all().cast(pl.Int64)).sort("band")


def _whole(column: str, unit: float) -> pl.Expr:
    return (pl.col(column) * (1.0 / unit)).round().cast(pl.Int64)


def _heat(name: str, column: str | None) -> dict[str, pl.Expr]:
    if column is None:
        return {name: pl.lit(0, pl.Int64).first(), f"{name}_n": pl.lit(0, pl.Int64).first()}
    return {name: _whole(column, HEAT_UNIT_C).sum(), f"{name}_n": pl.col(column).count()}


def summary(made: Tally) -> pl.DataFrame:
    """Return one row a band with what is said of its mixture, but for how sure the mean is.

    Args:
        made: the two tables of a channel.

    Returns:
        Columns ``band``, ``seconds`` [s], ``samples``, ``lambda_mean`` (within 1e-6), ``lambda_sd`` (from the
        counts, with Sheppard's correction for their width, W. F. Sheppard 1898, from memory; good to
        0.0001 where it is over a step, and not told apart from 0 below half a step), ``lambda_p10``,
        ``lambda_p50``, ``lambda_p90`` (within 0.0005), ``egt_mean_c`` and ``cht_mean_c`` [Cel]; sorted by band.
    """
    n = pl.col("n")
    return (
        made.sums.select(
            "band",
            seconds=pl.col("time") * TIME_UNIT_S,
            samples=n,
            lambda_mean=pl.col("total") / n * LAMBDA_UNIT,
            egt_mean_c=_mean_heat("egt"),
            cht_mean_c=_mean_heat("cht"),
        )
        .join(percentiles(made.counts), on="band", how="left")
        .sort("band")
    )


def _mean_heat(name: str) -> pl.Expr:
    return pl.when(pl.col(f"{name}_n") > 0).then(pl.col(name) / pl.col(f"{name}_n") * HEAT_UNIT_C)


def percentiles(counts: pl.DataFrame) -> pl.DataFrame:
    """Return the deviation and the percentiles of each band from its counts.

    Args:
        counts: ``band``, ``step`` and ``n``; each band's steps rising.

    Returns:
        ``band``, ``lambda_sd`` and a column a percentile, straight from one ordered sample to the next (type 7),
        each sample rounded to its step: within 0.0005 lambda of the samples' own.
    """
    n = pl.col("n").cast(pl.Int64)
    upto, last = n.cum_sum(), n.sum() - 1
    columns = []
    for percent in PERCENTILES:
        place = last * (percent / 100.0)
        below = pl.col("step").filter(upto > place.floor()).first()
        above = pl.col("step").filter(upto > place.ceil()).first()
        value = (below + (above - below) * (place - place.floor())) * STEP
        columns.append(value.alias(f"lambda_p{percent}"))
    # whole numbers: step 10,000 squared, a billion times, is still within 63 bits
    step = pl.col("step").cast(pl.Int64)
    first, second = (n * step).sum(), (n * step * step).sum()
    squares = (second - first.cast(pl.Float64) * (first / n.sum())) / (n.sum() - 1)
    spread = (squares - 1.0 / 12.0).clip(lower_bound=0.0).sqrt() * STEP
    deviation = pl.when(n.sum() > 1).then(spread).alias("lambda_sd")
    return counts.group_by("band").agg(deviation, *columns)
