"""The pass over the samples: counts, sums and percentiles."""

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.bands import banding
from bridge.bands.tally import percentiles, summary, tally

DIVISION = banding(None, 500)


def steady_frame(lambda_, *, rate_hz=100.0, throttle=60.0, rpm=6000.0, egt=None):
    """Return a frame as ``prepare`` makes it, all of it steady."""
    n = len(lambda_)
    columns = {
        "t_s": np.arange(n) / rate_hz,
        "dt_s": np.full(n, 1 / rate_hz),
        "throttle": np.broadcast_to(throttle, n).astype(np.float32),
        "rpm": np.broadcast_to(rpm, n).astype(np.float32),
        "lambda_1": np.asarray(lambda_, dtype=np.float32),
        "steady": np.ones(n, dtype=bool),
    }
    return pl.DataFrame(columns | ({} if egt is None else {"egt_1": np.asarray(egt, dtype=np.float32)}))


def made_of(frame, egt=None):
    """Return the summary of a frame."""
    return summary(tally(frame.lazy(), "lambda_1", egt, DIVISION))


def test_summary_agrees_with_plain_grouping():
    """Mean, deviation, count, seconds and EGT of every band are those of a plain group-by in float64."""
    rng = np.random.default_rng(11)
    n = 50_000
    frame = steady_frame(
        rng.normal(0.9, 0.03, n),
        throttle=rng.uniform(-1, 102, n),
        rpm=rng.uniform(1000, 11_000, n),
        egt=rng.normal(650, 20, n),
    ).with_columns(steady=pl.Series(rng.random(n) < 0.7))
    ours = made_of(frame, "egt_1")
    value = pl.col("lambda_1").cast(pl.Float64)
    plain = (
        frame.filter("steady")
        .group_by(band=DIVISION.key())
        .agg(
            n=pl.len(),
            mean=value.mean(),
            sd=value.std(),
            egt=pl.col("egt_1").cast(pl.Float64).mean(),
            **{f"p{p}": value.quantile(p / 100, "linear") for p in (10, 50, 90)},
        )
        .sort("band")
    )

    assert ours["band"].to_list() == plain["band"].to_list()
    assert ours["samples"].to_list() == plain["n"].to_list()
    assert ours["lambda_mean"].to_numpy() == pytest.approx(plain["mean"].to_numpy(), abs=1e-6)
    assert ours["lambda_sd"].to_numpy() == pytest.approx(plain["sd"].to_numpy(), rel=0.005)
    assert ours["seconds"].to_numpy() == pytest.approx(plain["n"].to_numpy() / 100)
    assert ours["egt_mean_c"].to_numpy() == pytest.approx(plain["egt"].to_numpy(), abs=0.01)
    for p in (10, 50, 90):
        assert ours[f"lambda_p{p}"].to_numpy() == pytest.approx(plain[f"p{p}"].to_numpy(), abs=0.00051)


@given(st.lists(st.floats(0.625, 1.6875, width=32), min_size=1, max_size=60))
def test_percentiles_are_the_samples_own(values):
    """However few or scattered the samples are, each percentile is within half a step of polars' own."""
    exact = pl.Series(values, dtype=pl.Float64)
    found = made_of(steady_frame(values))

    for p in (10, 50, 90):
        assert found[f"lambda_p{p}"][0] == pytest.approx(exact.quantile(p / 100, "linear"), abs=0.000501)


def test_counts_add_up():
    """Each steady sample is counted once, and the counts of two halves add up to those of the whole."""
    frame = steady_frame(np.random.default_rng(3).normal(0.9, 0.05, 20_000))
    halves = [tally(part.lazy(), "lambda_1", None, DIVISION).counts for part in (frame[:7000], frame[7000:])]
    whole = tally(frame.lazy(), "lambda_1", None, DIVISION).counts
    added = pl.concat(halves).group_by("band", "step").agg(pl.col("n").sum()).sort("band", "step")

    assert whole["n"].sum() == 20_000
    assert added.rows() == whole.rows()
    assert percentiles(added).rows() == percentiles(whole).rows()


def test_a_sensor_that_never_moves_has_no_scatter():
    """A constant reading is its own percentiles, and has no deviation."""
    row = made_of(steady_frame(np.full(1000, 0.875))).row(0, named=True)

    assert (row["lambda_p10"], row["lambda_p50"], row["lambda_p90"]) == pytest.approx((0.875,) * 3)
    assert row["lambda_sd"] == pytest.approx(0, abs=1e-7)
