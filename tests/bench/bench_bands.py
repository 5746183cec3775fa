"""Bands of ten million samples, beside the plain ways of doing it, in one run.

    python tests/bench/bench_bands.py [rows]

All ways get the same frame in memory (a throttle, a speed, a lambda and a mask of steady running) and answer the
same: for each band the number, mean, deviation and three percentiles. Ours is ``bridge.bands.tally`` and
``bridge.bands.scatter``, which the product runs: the counts, which answer just that; then the sums and the scatter,
which add what the others do not give: seconds and standard errors that hold for samples that resemble their
neighbours. Both are shown. Medians of five after one turn to warm up; ratios count, times move from machine to
machine. Goals: at most 1.2 times polars streaming, ahead of DuckDB's exact quantiles, 8 times pandas.
"""

import sys
import time
from statistics import median

import duckdb
import numpy as np
import pandas as pd
import polars as pl

from bridge.align import readings_at
from bridge.bands import banding
from bridge.bands.scatter import scatter
from bridge.bands.tally import STEP, count_steps, counted_rows, percentiles, summary, tally

EDGES = (12.5, 25.0, 50.0, 75.0)


def made(rows):
    """Return an invented ride of that many rows at 100 Hz."""
    rng = np.random.default_rng(1)
    t = np.arange(rows) * 0.01
    return pl.DataFrame(
        {
            "t_s": t,
            "dt_s": np.full(rows, 0.01),
            "throttle": np.clip(50 + 60 * np.sin(t / 7) + rng.normal(0, 0.3, rows), 0, 100).astype(
                np.float32
            ),
            "rpm": (6000 + 3000 * np.sin(t / 11) + rng.normal(0, 20, rows)).astype(np.float32),
            "lambda_1": (0.9 + 0.05 * rng.standard_normal(rows)).astype(np.float32),
            "steady": np.sin(t / 3) > -0.6,
        }
    )


def counts_alone(frame):
    """The product's first pass: number, mean, deviation and percentiles by counts of steps."""
    division = banding(None, 500)
    counts = count_steps(counted_rows(frame.lazy(), "lambda_1", division), "lambda_1", division)
    value, n = pl.col("step") * STEP, pl.col("n").cast(pl.Float64)
    moments = counts.group_by("band").agg(n.sum(), mean=(value * n).sum() / n.sum())
    return moments.join(percentiles(counts), on="band")


def ours(frame):
    """All that the product does: counts, sums, scatter and their summary."""
    division = banding(None, 500, shut_percent=3.0, overrun_rpm=2500.0)
    said = summary(tally(frame.lazy(), "lambda_1", None, division))
    noise = scatter(counted_rows(frame.lazy(), "lambda_1", division), "lambda_1", division.key(), 0.01)
    error = noise.standard_error(pl.col("level").fill_null(1.0), pl.col("seconds"), pl.col("lambda_sd"))
    return said.join(noise.by_band(), on="band", how="left").with_columns(lambda_se=error)


def polars_streaming(frame):
    """One integer key, exact quantiles, streaming engine."""
    place = sum(((pl.col("throttle") >= e).cast(pl.Int32) * 256 for e in EDGES), start=pl.lit(0, pl.Int32))
    value = pl.col("lambda_1")
    return (
        frame.lazy()
        .filter("steady")
        .group_by(band=place + (pl.col("rpm") / 500).cast(pl.Int32))
        .agg(
            pl.len(),
            mean=value.mean(),
            sd=value.std(),
            p10=value.quantile(0.1),
            p50=value.quantile(0.5),
            p90=value.quantile(0.9),
        )
        .collect(engine="streaming")
    )


def duckdb_exact(table):
    """DuckDB on the same columns in memory, exact quantiles."""
    place = " + ".join(f"(throttle >= {e})::int" for e in EDGES)
    source = duckdb.from_df(table)
    return source.query(
        "source",
        f"select {place} as place, (rpm // 500)::int as speed, count(*), avg(lambda_1), stddev(lambda_1),"
        " quantile_cont(lambda_1, [0.1, 0.5, 0.9]) from source where steady group by all",
    ).fetchall()


def pandas_groupby(table):
    """Pandas with a mask, ``cut``, a group-by of two keys and quantiles."""
    steady = table[table["steady"]]
    opening = pd.cut(steady["throttle"], [0, *EDGES, 100.001], right=False)
    groups = steady["lambda_1"].groupby([opening, steady["rpm"] // 500], observed=True)
    return groups.agg(["size", "mean", "std"]), groups.quantile([0.1, 0.5, 0.9])


def side_by_side(ways, turns=5):
    """Return the median seconds of each way, all of them taken in turn."""
    times = {name: [] for name in ways}
    for turn in range(turns + 1):
        for name, way in ways.items():
            began = time.perf_counter()
            way()
            if turn:
                times[name].append(time.perf_counter() - began)
    return {name: median(seconds) for name, seconds in times.items()}


def show(title, taken, base):
    """Print each way's time, and how many times as long as ours it takes."""
    print(title)
    for name, seconds in taken.items():
        print(f"  {name:<34}{seconds * 1e3:9.0f} ms   {seconds / taken[base]:6.2f} x ours")


def main():
    """Run both tables."""
    rows = int(float(sys.argv[1])) if len(sys.argv) > 1 else 10_000_000
    frame = made(rows)
    table = pd.DataFrame({name: frame[name].to_numpy() for name in ("throttle", "rpm", "lambda_1", "steady")})
    check, plain = ours(frame), polars_streaming(frame)
    assert check["samples"].sum() == plain["len"].sum()
    show(
        f"bands of {rows:,} rows with a steady mask",
        side_by_side(
            {
                "ours, counts alone": lambda: counts_alone(frame),
                "ours, with honest standard errors": lambda: ours(frame),
                "polars streaming, exact quantiles": lambda: polars_streaming(frame),
                "DuckDB, exact quantiles": lambda: duckdb_exact(table),
                "pandas": lambda: pandas_groupby(table),
            }
        ),
        "ours, with honest standard errors",
    )
    t, values = frame["t_s"].to_numpy(), frame["lambda_1"].cast(pl.Float64).to_numpy()
    at = t + 0.15 + 0.05 * np.sin(t)
    show(
        f"shifting {rows:,} readings",
        side_by_side(
            {
                "ours (holes kept)": lambda: readings_at(t, values, at),
                "numpy.interp": lambda: np.interp(at, t, values),
            }
        ),
        "ours (holes kept)",
    )


if __name__ == "__main__":
    main()
