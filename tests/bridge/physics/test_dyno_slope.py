"""The one differentiation: what it leaves of the noise, what it rounds off."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import savgol_filter

from bridge.physics.slope import bias_of, half_window, noise_of, slope, slope_sd, smoothed, value_sd


def test_windows_are_counted_in_points():
    """Half a second at 50 Hz is 25 points, a second 51, and no window is under three."""
    assert [2 * half_window(seconds, 0.02) + 1 for seconds in (0.5, 1.0, 0.001)] == [25, 51, 3]


@given(st.integers(2, 40), st.integers(0, 1000))
def test_it_is_savitzky_and_golays(half, seed):
    """Slope and value are those of scipy's filter of second degree, where the window is whole."""
    # published: scipy, its own Savitzky-Golay filter
    values = np.random.default_rng(seed).normal(0.0, 1.0, 4 * half + 5)
    inner = slice(half, len(values) - half)
    n = 2 * half + 1

    assert slope(values, 0.02, half)[inner] == pytest.approx(
        savgol_filter(values, n, 2, 1, 0.02)[inner], abs=1e-7
    )
    assert smoothed(values, half)[inner] == pytest.approx(savgol_filter(values, n, 2)[inner], abs=1e-9)


def test_what_a_value_keeps_of_the_noise():
    """The middle of a parabola through 25 points keeps 0.299 of the noise, of three points all of it."""
    # closed form: the sum of squared weights is 3 (3 N2 - 7) / (4 N (N2 - 4)), N = 25 computed by hand
    assert value_sd(1.0, 12) == pytest.approx(
        np.sqrt(3.0 * (3.0 * 625.0 - 7.0) / (4.0 * 25.0 * 621.0)), rel=1e-9
    )
    assert value_sd(2.0, 1) == 2.0
    noise = np.random.default_rng(8).normal(0.0, 0.3, 200_000)
    assert np.nanstd(smoothed(noise, 12)) == pytest.approx(value_sd(0.3, 12), rel=0.02)


def test_where_the_window_is_not_whole_nothing_is_told():
    """The first and the last half window have no slope, and a series shorter than a window has none at all."""
    found = slope(np.arange(20.0), 0.1, 4)

    assert np.isnan(found[:4]).all()
    assert np.isnan(found[-4:]).all()
    assert found[4:-4] == pytest.approx(10.0)
    assert np.isnan(slope(np.arange(8.0), 0.1, 4)).all()


def test_noise_of_a_slope():
    """With 25 points at 0.02 s the slope's noise is 1.387 times that of the values."""
    # closed form: sqrt(12 / (N (N2 - 1))) / step, computed by hand
    assert slope_sd(1.0, 0.02, 12) == pytest.approx(1.387, abs=5e-4)
    assert slope_sd(1.0, 0.02, 25) < slope_sd(1.0, 0.02, 12)
    noise = np.random.default_rng(1).normal(0.0, 0.3, 200_000)
    found = slope(noise, 0.02, 12)
    assert np.nanstd(found) == pytest.approx(slope_sd(0.3, 0.02, 12), rel=0.02)


def test_noise_is_told_by_the_series_itself():
    """What scatters about the parabolas is the noise that was put in, whatever smooth course lies under it."""
    t = np.arange(2_000) * 0.02
    values = 100.0 + 20.0 * np.sin(t / 4.0) + np.random.default_rng(2).normal(0.0, 0.3, len(t))

    assert noise_of(values, 25) == pytest.approx(0.3, rel=0.05)
    assert np.isnan(noise_of(values, 1))


def test_bias_is_told_by_a_window_twice_as_wide():
    """A curve that bends is told with the bias of its window, sign and all, to a tenth of it."""
    t = np.arange(3_000) * 0.01
    values = np.sin(t)
    half = half_window(1.0, 0.01)
    narrow, wide = slope(values, 0.01, half), slope(values, 0.01, 2 * half)
    known = ~np.isnan(wide)

    assert bias_of(narrow, wide)[known] == pytest.approx((narrow - np.cos(t))[known], abs=0.1 * 0.025)
    assert np.abs((narrow - np.cos(t))[known]).max() > 0.02
