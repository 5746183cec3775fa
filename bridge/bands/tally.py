"""The pass over the samples: what every band needs, in one small table of counts and one of blocks.

Counts of (band, lambda step of 0.001) give every percentile and the distribution, and add up over sessions
exactly. Sums over short blocks of time give the mean, and how much it can be trusted although neighbouring
samples resemble each other.
"""

from dataclasses import dataclass

import polars as pl

from bridge.bands.edges import Banding
from bridge.channels import CATALOGUE

STEP = 0.001
"""Width of a lambda step [1]."""
RESOLUTION_SD = STEP / 12.0**0.5
"""Standard uncertainty of a lambda known to a step: uniform within it (published: JCGM 100:2008, 4.3.7) [1]."""
BLOCK_S = 2.0
"""Length of a block of time [s]: twenty of the sensor's lags and four of the wall film's, so that the means
of two blocks hardly know of each other; short enough that a visit to a band makes a block or two."""
FEWEST_BLOCKS = 3
"""With fewer the scatter between blocks says nothing."""
PERCENTILES = (10, 50, 90)

STEPS = round(CATALOGUE["lambda"].high / STEP) + 1
"""Number of lambda steps from 0 to what no reading exceeds."""


@dataclass(frozen=True)
class Tally:
    """What one lambda channel leaves behind."""

    counts: pl.DataFrame
    """Columns ``band``, ``step`` (lambda in thousandths) and ``n``."""
    blocks: pl.DataFrame
    """Columns ``band``, ``n``, ``seconds``, ``total``, ``squares`` (of lambda), ``egt`` (sum), ``egt_n``."""


def tally(samples: pl.LazyFrame, lambda_column: str, egt_column: str | None, division: Banding) -> Tally:
    """Count one lambda channel's steady running.

    Args:
        samples: as ``prepare`` returns them.
        lambda_column: the channel; rows where it is null are left out.
        egt_column: the exhaust-gas temperature that goes with it, or None.
        division: the bands.

    Returns:
        The two tables, by polars' streaming engine.
    """
    steady = counted_rows(samples, lambda_column, division)
    # one whole number as the key and one pass for each table: faster than two keys, or both tables at once
    return Tally(
        count_steps(steady, lambda_column, division), _sum_blocks(steady, lambda_column, egt_column, division)
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


def _sum_blocks(
    steady: pl.LazyFrame,
    lambda_column: str,
    egt_column: str | None,
    division: Banding,
) -> pl.DataFrame:
    block = (pl.col("t_s") * (1.0 / BLOCK_S)).floor().cast(division.key_type)
    exact = pl.col(lambda_column).cast(pl.Float64)
    sums = steady.group_by(key=block * division.number + division.key()).agg(
        n=pl.len(),
        seconds=pl.col("dt_s").sum(),
        total=exact.sum(),
        squares=(exact * exact).sum(),
        **_egt_sums(egt_column),
    )
    blocks = sums.collect(engine="streaming")
    if egt_column is None:
        blocks = blocks.with_columns(egt=pl.lit(None, pl.Float64), egt_n=pl.lit(0, pl.UInt32))
    return blocks.with_columns(band=pl.col("key").cast(pl.Int64) % division.number).drop("key")


def _egt_sums(egt_column: str | None) -> dict[str, pl.Expr]:
    if egt_column is None:
        return {}
    egt = pl.col(egt_column).cast(pl.Float64)
    return {"egt": egt.sum(), "egt_n": egt.count()}


def summary(made: Tally) -> pl.DataFrame:
    """Return one row a band with everything that is said of it.

    Args:
        made: the two tables of a channel.

    Returns:
        Columns ``band``, ``seconds`` [s], ``samples``, ``lambda_mean`` (exact), ``lambda_sd``, ``lambda_se``
        (standard error of the mean by the scatter between blocks of time, so it holds for samples
        that resemble their neighbours; null below three blocks; at least ``RESOLUTION_SD`` where the samples vary
        by less than that, since then they do not tell where within a step lambda is), ``blocks``,
        ``effective_samples`` (how many independent samples would give that standard error; null where the
        resolution gives it), ``lambda_p10``, ``lambda_p50``, ``lambda_p90``
        (within 0.0005), ``egt_mean_c`` [Cel]; sorted by band.
    """
    per_band = made.blocks.group_by("band").agg(
        pl.col("seconds").sum(),
        pl.col("n").sum().cast(pl.Int64).alias("samples"),
        (pl.col("total").sum() / pl.col("n").sum()).alias("lambda_mean"),
        _deviation().alias("lambda_sd"),
        _standard_error().alias("lambda_se"),
        pl.len().cast(pl.Int64).alias("blocks"),
        (pl.col("egt").sum() / pl.col("egt_n").sum()).fill_nan(None).alias("egt_mean_c"),
    )
    flat = pl.col("lambda_sd") <= RESOLUTION_SD
    each = pl.col("lambda_sd").pow(2) / pl.col("lambda_se").pow(2)
    samples = pl.col("samples").cast(pl.Float64)
    return (
        per_band.with_columns(
            effective_samples=pl.when(~flat & (pl.col("lambda_se") > 0)).then(
                pl.min_horizontal(each, samples)
            ),
            lambda_se=pl.when(flat & (pl.col("lambda_se") < RESOLUTION_SD))
            .then(RESOLUTION_SD)
            .otherwise("lambda_se"),
        )
        .join(percentiles(made.counts), on="band", how="left")
        .sort("band")
    )


def percentiles(counts: pl.DataFrame) -> pl.DataFrame:
    """Return the percentiles of each band from its counts.

    Args:
        counts: ``band``, ``step`` and ``n``; each band's steps rising.

    Returns:
        ``band`` and a column a percentile, straight from one ordered sample to the next (type 7), each sample
        rounded to its step: within 0.0005 lambda of the samples' own.
    """
    upto = pl.col("n").cast(pl.Int64).cum_sum()
    last = pl.col("n").cast(pl.Int64).sum() - 1
    columns = []
    for percent in PERCENTILES:
        place = last * (percent / 100.0)
        below = pl.col("step").filter(upto > place.floor()).first()
        above = pl.col("step").filter(upto > place.ceil()).first()
        value = (below + (above - below) * (place - place.floor())) * STEP
        columns.append(value.alias(f"lambda_p{percent}"))
    return counts.group_by("band").agg(columns)


def _deviation() -> pl.Expr:
    """Standard deviation of the samples of a band, from the blocks' sums."""
    n, mean = pl.col("n").sum(), pl.col("total").sum() / pl.col("n").sum()
    spread = (pl.col("squares").sum() - n * mean * mean).clip(lower_bound=0.0)
    return pl.when(n > 1).then((spread / (n.cast(pl.Float64) - 1.0)).sqrt())


def _standard_error() -> pl.Expr:
    """Standard error of the mean of all samples, from the scatter between blocks of unequal size.

    The mean is a ratio of sums over blocks; its variance by linearization is B/(B-1) sum(r^2) / n^2 with
    the blocks' residuals r (published: Cochran, Sampling Techniques, 1977, ch. 6; from memory).
    """
    n, mean = pl.col("n").sum(), pl.col("total").sum() / pl.col("n").sum()
    residual = pl.col("total") - mean * pl.col("n")
    number = pl.len().cast(pl.Float64)
    error = (number / (number - 1.0) * residual.pow(2).sum()).sqrt() / n
    return pl.when(pl.len() >= FEWEST_BLOCKS).then(error)
