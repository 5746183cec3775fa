"""The pass over the samples: counts, percentiles and standard errors."""

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


def correlated(rng, n, lag_s, sd, rate_hz=100.0):
    """Return noise of which each sample resembles the last: autoregressive of order 1 around 0."""
    keep = np.exp(-1 / (rate_hz * lag_s))
    steps = rng.normal(0, sd * np.sqrt(1 - keep**2), n)
    steps[0] = rng.normal(0, sd)
    return np.array([value := steps[0], *(value := keep * value + step for step in steps[1:])])


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
    assert ours["lambda_mean"].to_numpy() == pytest.approx(plain["mean"].to_numpy(), abs=1e-12)
    assert ours["lambda_sd"].to_numpy() == pytest.approx(plain["sd"].to_numpy(), abs=1e-9)
    assert ours["seconds"].to_numpy() == pytest.approx(plain["n"].to_numpy() / 100)
    assert ours["egt_mean_c"].to_numpy() == pytest.approx(plain["egt"].to_numpy())
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


@pytest.mark.parametrize("lag_s", [0.02, 0.1, 0.3])
def test_the_standard_error_covers_correlated_samples(lag_s):
    """In 200 simulated bands of two minutes, the 95 % interval holds the true mean 90 to 99 times of 100."""
    rng = np.random.default_rng(int(1000 * lag_s))
    inside = []
    for _ in range(200):
        row = made_of(steady_frame(0.88 + correlated(rng, 12_000, lag_s, 0.02))).row(0, named=True)
        inside.append(abs(row["lambda_mean"] - 0.88) <= 2.0 * row["lambda_se"])  # 60 blocks: t = 2.00

    assert 0.90 <= np.mean(inside) <= 0.99


def test_taking_samples_for_independent_would_not():
    """The plain sd over root n is several times too small for a sensor's samples, and we do not say it."""
    rng = np.random.default_rng(2)
    row = made_of(steady_frame(0.88 + correlated(rng, 30_000, 0.1, 0.02))).row(0, named=True)
    naive = row["lambda_sd"] / np.sqrt(row["samples"])

    # correlation time lag: each 2 * lag seconds are worth one independent sample (closed form)
    assert row["lambda_se"] == pytest.approx(naive * np.sqrt(2 * 0.1 * 100), rel=0.25)
    assert row["effective_samples"] == pytest.approx(300 / (2 * 0.1), rel=0.5)


def test_fewer_than_three_blocks_have_no_standard_error():
    """Three seconds make two blocks, whose scatter says nothing; seven make four."""
    rng = np.random.default_rng(1)
    short, longer = (made_of(steady_frame(rng.normal(0.9, 0.01, n))).row(0, named=True) for n in (300, 700))

    assert short["lambda_se"] is None
    assert short["effective_samples"] is None
    assert longer["lambda_se"] > 0


def test_scatter_within_and_more_running_move_the_error_as_they_should():
    """More scatter makes the mean less sure, more running surer."""
    rng = np.random.default_rng(8)
    noise = rng.normal(0, 1, 40_000)
    small, big = (made_of(steady_frame(0.9 + sd * noise[:10_000]))["lambda_se"][0] for sd in (0.01, 0.03))
    long = made_of(steady_frame(0.9 + 0.01 * noise))["lambda_se"][0]

    assert big == pytest.approx(3 * small, rel=1e-3)
    assert long < small


def test_a_sensor_that_never_moves_has_no_scatter():
    """A constant reading is its own percentiles, has no deviation, and is known to its step and no better."""
    row = made_of(steady_frame(np.full(1000, 0.875))).row(0, named=True)

    assert (row["lambda_p10"], row["lambda_p50"], row["lambda_p90"]) == pytest.approx((0.875,) * 3)
    assert row["lambda_sd"] == pytest.approx(0, abs=1e-7)
    assert row["lambda_se"] == pytest.approx(0.001 / np.sqrt(12.0))
    assert row["effective_samples"] is None
