"""How sure the mean of a band is: samples resemble each other, bands are short, mixtures wander."""

import numpy as np
import polars as pl
import pytest
from scipy.signal import lfilter

from bridge.bands import banding, bands
from bridge.bands.scatter import scatter
from bridge.bands.tally import RESOLUTION_SD

DIVISION = banding(None, 500)


def correlated(rng, n, lag_s, sd, rate_hz=100.0):
    """Return noise of which each sample resembles the last: autoregressive of order 1 around 0."""
    if lag_s == 0.0:
        return rng.normal(0.0, sd, n)
    keep = np.exp(-1.0 / (rate_hz * lag_s))
    steps = rng.normal(0.0, sd * np.sqrt(1.0 - keep**2), n)
    return lfilter([1.0], [1.0, -keep], steps, zi=[keep * rng.normal(0.0, sd)])[0]


def frame_of(lambda_, rate_hz=100.0, rpm=6000.0):
    """Return rows as they count: all of them steady, in one band unless the speed says otherwise."""
    n = len(lambda_)
    return pl.LazyFrame(
        {"t_s": np.arange(n) / rate_hz, "lambda_1": lambda_, "throttle": 60.0, "rpm": np.broadcast_to(rpm, n)}
    )


def rate_of(lambda_, rate_hz=100.0):
    """Return what is found of a run's scatter."""
    return scatter(frame_of(lambda_, rate_hz), "lambda_1", DIVISION.key(), 1.0 / rate_hz)


@pytest.mark.parametrize("lag_s", [0.0, 0.03, 0.1, 0.3])
@pytest.mark.parametrize("rate_hz", [20.0, 100.0])
def test_the_scatter_is_that_of_the_noise(lag_s, rate_hz):
    """For noise of a known memory the variance of a mean times its seconds is known, and found within 25 %."""
    rng = np.random.default_rng(int(1000 * lag_s + rate_hz))
    sd, keep = 0.02, np.exp(-1.0 / (rate_hz * lag_s)) if lag_s else 0.0
    found = rate_of(0.9 + correlated(rng, int(1500 * rate_hz), lag_s, sd, rate_hz), rate_hz)
    # closed form: variance of the mean of n samples of such a noise is sd^2/n (1 + keep)/(1 - keep) for large n
    expected = sd**2 / rate_hz * (1.0 + keep) / (1.0 - keep)

    assert found.rate == pytest.approx(expected, rel=0.25)


def test_taking_samples_for_independent_would_not():
    """The plain sd over root n is four times too small for a sensor's samples of 0.1 s memory."""
    values = correlated(np.random.default_rng(2), 300_000, 0.1, 0.02)
    naive = 0.02**2 / 100.0

    # each 2 * lag seconds are worth one independent sample (closed form)
    assert rate_of(0.9 + values).rate == pytest.approx(naive * 2 * 0.1 * 100, rel=0.15)


def test_a_mixture_that_wanders_is_no_scatter_of_the_readings():
    """A wander of many seconds and a slope through the revs add little to what the noise alone scatters."""
    rng = np.random.default_rng(3)
    noise = correlated(rng, 60_000, 0.1, 0.01)
    slow = 0.02 * np.sin(np.arange(60_000) / 100.0 / 5.0) + correlated(rng, 60_000, 15.0, 0.002)

    assert rate_of(0.9 + noise + slow).rate == pytest.approx(rate_of(0.9 + noise).rate, rel=0.3)


@pytest.mark.parametrize("lag_s", [0.0, 0.1, 0.3])
@pytest.mark.parametrize("seconds", [8, 30, 120])
def test_the_standard_error_covers(lag_s, seconds):
    """In 100 simulated bands, few seconds or many, 1.96 standard errors hold the true mean 89 to 100 times."""
    rng = np.random.default_rng(int(1000 * lag_s) + seconds)
    inside = 0
    for _ in range(100):
        noise = correlated(rng, seconds * 100, lag_s, 0.015)
        found = rate_of(noise)
        level = found.by_band()["level"][0]
        error = pl.select(found.standard_error(pl.lit(level), pl.lit(float(seconds)), pl.lit(0.015))).item()
        inside += abs(noise.mean()) <= 1.96 * error

    # 90 to 99 % is the aim; under 15 s the degrees of freedom are so few that the widening is on the safe side
    assert 89 <= inside <= 100


def test_a_band_of_few_seconds_borrows_from_the_ride(make_run):
    """A band of 1.5 s has a standard error by the ride's scatter, as many times wider as its seconds are fewer."""
    rng = np.random.default_rng(5)
    t_s = np.arange(12_000) * 0.01
    rpm = np.where((t_s > 50) & (t_s < 51.5), 6600.0, 6400.0)
    cells = bands(make_run(120, rpm=rpm, lambda_1=rng.normal(0.9, 0.01, 12_000))).cells
    long, short = (cells.filter(pl.col("rpm_from") == low).row(0, named=True) for low in (6000.0, 6500.0))

    ratio = np.sqrt(long["seconds"] / short["seconds"])
    assert short["lambda_se"] / long["lambda_se"] == pytest.approx(ratio, rel=0.2)


def test_a_band_that_scatters_more_says_so(make_run):
    """Where one band is four times as noisy as the other, its standard error is three to five times as large."""
    rng = np.random.default_rng(6)
    t_s = np.arange(20_000) * 0.01
    noisy = t_s > 100
    columns = {
        "rpm": np.where(noisy, 3100.0, 6400.0),
        "lambda_1": 0.9 + rng.normal(0, 0.01, 20_000) * np.where(noisy, 4, 1),
    }
    quiet, loud = (
        bands(make_run(200, **columns)).cells.sort("rpm_from", descending=True).iter_rows(named=True)
    )

    assert 3.0 < loud["lambda_se"] / quiet["lambda_se"] < 5.0


def test_more_scatter_is_less_sure_and_more_running_surer(make_run):
    """Three times the scatter makes three times the error, and four times the running about half of it."""
    noise = np.random.default_rng(8).normal(0, 1, 40_000)
    small, big = (
        bands(make_run(100, lambda_1=0.9 + sd * noise[:10_000])).cells["lambda_se"][0] for sd in (0.01, 0.03)
    )
    long = bands(make_run(400, lambda_1=0.9 + 0.01 * noise)).cells["lambda_se"][0]

    assert big == pytest.approx(3 * small, rel=1e-2)
    assert long == pytest.approx(small / 2, rel=0.25)


def test_a_ride_too_short_to_tell_says_nothing_of_its_error(make_run):
    """Two seconds of steady running hold no window: the mean is told, how sure it is is not."""
    row = bands(make_run(2.0, lambda_1=0.9)).cells.row(0, named=True)

    assert row["lambda_mean"] == pytest.approx(0.9, abs=1e-6)
    assert row["lambda_se"] is None
    assert row["lambda_low"] is None
    assert row["effective_samples"] is None


def test_a_sensor_that_never_moves_is_known_to_its_step(make_run):
    """A constant reading may be anywhere within its step, however long it is looked at."""
    row = bands(make_run(60, lambda_1=0.875)).cells.row(0, named=True)

    # published: JCGM 100:2008, 4.3.7, uniform within a step of 0.001
    assert row["lambda_se"] == pytest.approx(0.001 / np.sqrt(12.0)) == pytest.approx(RESOLUTION_SD)
    assert row["effective_samples"] is None
