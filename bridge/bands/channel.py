"""One lambda channel of one session in whole numbers: what is kept beside its samples, and adds up.

Everything that a band says comes from this frame, whether it was made a moment ago or kept for years, from one
session or from a season. So all of them say the same to the last digit.
"""

from collections.abc import Sequence

import polars as pl

from bridge.align import typical_period_s
from bridge.bands.edges import Banding
from bridge.bands.running import Running
from bridge.bands.scatter import Scatter, scatter
from bridge.bands.tally import (
    Tally,
    count_steps,
    counted_rows,
    sum_up,
    summary,
)
from bridge.channels import SensorState

FULL = -1
"""Number of the band that is full throttle as a whole, whatever the engine's speed."""

KEPT_VERSION = 1
"""Grows with each change of what the numbers in a kept frame mean."""

SUMS = ("n", "time", "total", "egt", "egt_n", "cht", "cht_n")
"""Of the readings, as ``Tally`` has them."""
DOUBTS = ("sampling", "sampling_n", "delay", "accuracy", "drift")
"""Of the mean, each times ``n``. Those of sampling and delay are squared, since they are independent from one session
to the next [``SQUARE_UNIT``]; those of the sensor itself are not, since it may be the same sensor [``DOUBT_UNIT``].
``sampling_n`` counts the samples whose scatter could be told."""
SQUARE_UNIT, DOUBT_UNIT = 2.0**-30, 2.0**-20
KEYS = ("channel", "cylinder", "band")
SCHEMA = pl.Schema(
    {"channel": pl.String, "cylinder": pl.Int64, "band": pl.Int64}
    | dict.fromkeys((*SUMS, *DOUBTS), pl.Int64)
    | {"steps": pl.List(pl.Int64), "counts": pl.List(pl.UInt32)}
)
"""Of a kept frame."""


def counted(
    found: Running, column: str, cylinder: int | None, division: Banding, sensor: SensorState
) -> pl.DataFrame:
    """Return what one lambda channel leaves behind.

    Args:
        found: the run as it burned.
        column: the channel.
        cylinder: whose; None for the engine as a whole.
        division: the bands.
        sensor: what is known of the sensor.

    Returns:
        One row a band, and one for full throttle: ``channel``, ``cylinder``, ``band``, ``SUMS``, ``DOUBTS``,
        ``steps`` and ``counts`` (lists: lambda in thousandths and how often it was seen); whole numbers all.
    """
    egt, cht = (
        _heat_of(column, kind, names)
        for kind, names in (("egt", found.egt_columns), ("cht", found.cht_columns))
    )
    rows = counted_rows(found.samples, column, division)
    times = found.samples.select("t_s").collect()["t_s"].to_numpy()
    noise = scatter(rows, column, division.key(), typical_period_s(times))
    whole = pl.lit(FULL, pl.Int32)
    full = found.samples.filter(pl.col("steady") & pl.col("full") & pl.col(column).is_not_null())
    parts = [
        _one(
            Tally(count_steps(rows, column, division), sum_up(rows, column, egt, cht, division.key())),
            noise.by_band(),
            noise,
            found.delay.sd_s,
        )
    ]
    if "full" in found.samples.collect_schema():
        sums = sum_up(full, column, egt, cht, whole)
        steps = count_steps(full, column, division).group_by("step").agg(pl.col("n").sum()).sort("step")
        steps = steps.select(band=pl.lit(FULL, pl.Int64), step="step", n="n")
        parts.append(_one(Tally(steps, sums), noise.at_full(FULL), noise, found.delay.sd_s))
    return (
        pl.concat(parts)
        .with_columns(
            channel=pl.lit(column),
            cylinder=pl.lit(cylinder, pl.Int64),
            accuracy=_whole(pl.col("n") * sensor.accuracy_sd, DOUBT_UNIT),
            drift=_whole(pl.col("n") * sensor.drift_sd, DOUBT_UNIT),
        )
        .select(*KEYS, *SUMS, *DOUBTS, "steps", "counts")
    )


def _heat_of(column: str, kind: str, names: Sequence[str]) -> str | None:
    own = column.replace("lambda", kind)
    return own if own in names else kind if kind in names else None


def _one(made: Tally, levels: pl.DataFrame, noise: Scatter, delay_sd_s: float) -> pl.DataFrame:
    """Return the sums and counts of some bands with the doubts about their means."""
    said = summary(made).join(levels, on="band", how="left")
    known = said.select(
        "band",
        error=noise.standard_error(pl.col("level").fill_null(1.0), pl.col("seconds"), pl.col("lambda_sd")),
        slope=pl.col("slope").fill_null(noise.usual_slope).abs(),
    )
    lists = made.counts.group_by("band").agg(steps="step", counts=pl.col("n").cast(pl.UInt32))
    return (
        made.sums.join(known, on="band", how="left")
        .join(lists, on="band", how="left")
        .with_columns(
            sampling=_whole((pl.col("n") * pl.col("error").fill_nan(None).fill_null(0.0)) ** 2, SQUARE_UNIT),
            sampling_n=pl.when(pl.col("error").is_finite()).then("n").otherwise(0),
            delay=_whole((pl.col("n") * pl.col("slope") * delay_sd_s) ** 2, SQUARE_UNIT),
        )
        .drop("error", "slope")
    )


def _whole(value: pl.Expr, unit: float) -> pl.Expr:
    return (value / unit).round().cast(pl.Int64)


def add_up(frames: Sequence[pl.DataFrame]) -> pl.DataFrame:
    """Add kept frames up: exact, so the same in whatever order or groups.

    Args:
        frames: as ``counted`` gives them, of bands divided alike; at least one.

    Returns:
        A frame like them, sorted by channel and band.
    """
    return added(pl.concat(frames).lazy()).collect()


def added(rows: pl.LazyFrame) -> pl.LazyFrame:
    """Add up the rows of kept frames that speak of one band."""
    sums = rows.group_by(KEYS).agg(pl.col(*SUMS, *DOUBTS).sum())
    counts = (
        rows.select(*KEYS, "steps", "counts")
        .explode("steps", "counts")
        .group_by(*KEYS, "steps")
        .agg(pl.col("counts").sum())
        .sort("steps")
        .group_by(KEYS, maintain_order=True)
        .agg("steps", "counts")
    )
    return sums.join(counts, on=KEYS, how="left", nulls_equal=True).sort(KEYS)


def table_of(kept: pl.DataFrame) -> pl.DataFrame:
    """Return what is said of each band of a kept frame.

    Returns:
        ``KEYS``, the columns of ``summary``, ``lambda_se``, ``delay_sd``, ``accuracy_sd``, ``drift_sd`` [1] and
        ``effective_samples`` (how many independent samples would give that standard error).
    """
    tables = []
    for (channel, cylinder), part in kept.group_by("channel", "cylinder", maintain_order=True):
        counts = part.select("band", step="steps", n="counts").explode("step", "n")
        said = summary(Tally(counts, part))
        tables.append(said.with_columns(channel=pl.lit(channel), cylinder=pl.lit(cylinder, pl.Int64)))
    n, told = pl.col("n"), pl.col("sampling_n")
    doubts = kept.select(
        *KEYS,
        lambda_se=pl.when(told > 0).then((pl.col("sampling") * SQUARE_UNIT).sqrt() / told),
        delay_sd=(pl.col("delay") * SQUARE_UNIT).sqrt() / n,
        accuracy_sd=pl.col("accuracy") * DOUBT_UNIT / n,
        drift_sd=pl.col("drift") * DOUBT_UNIT / n,
    )
    each = pl.col("lambda_sd").pow(2) / pl.col("lambda_se").pow(2)
    samples = pl.col("samples").cast(pl.Float64)
    tells = (pl.col("lambda_sd") > 0.0) & (pl.col("lambda_se") > 0.0)
    return (
        pl.concat(tables)
        .join(doubts, on=KEYS, how="left", nulls_equal=True)
        .with_columns(effective_samples=pl.when(tells).then(pl.min_horizontal(each, samples)))
        .sort(KEYS)
    )
