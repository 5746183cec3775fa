"""Undoing the sensor's lag."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.align import undo_lag

T = np.arange(2000) * 0.01


def step(lag_s, t_s=T, at_s=5.0):
    """Return the exact answer of a first-order sensor to a step of lambda (closed form)."""
    since = np.maximum(t_s - at_s, 0.0)
    return 0.9 - 0.08 * (1.0 - np.exp(-since / lag_s)) * (t_s >= at_s)


def rise_s(values, t_s=T, at_s=5.0):
    """Return the time to 63.2 % of the step."""
    return t_s[np.argmax(values <= 0.9 - 0.08 * 0.63212)] - at_s


@given(
    st.floats(0.02, 0.5),
    st.floats(1.0, 20.0),
    st.sampled_from([0.002, 0.01, 0.05]),
)
def test_noise_never_grows_past_the_stated_factor(lag_s, growth, period_s):
    """Whatever lag is undone, the factor told is at most the one asked for (closed form)."""
    _, factor = undo_lag(np.arange(50) * period_s, np.full(50, 0.9), lag_s, growth)

    assert 0.99 <= factor <= growth + 1e-9


@pytest.mark.parametrize("growth", [1.5, 2.0, 5.0])
def test_the_factor_told_is_what_noise_really_does(growth):
    """White noise comes out with its standard deviation grown by the factor, within 2 %."""
    noise = 0.9 + np.random.default_rng(4).normal(0.0, 0.003, 100_000)
    undone, factor = undo_lag(np.arange(100_000) * 0.01, noise, 0.1, growth)

    assert undone[100:].std() / noise.std() == pytest.approx(factor, rel=0.02)
    assert factor == pytest.approx(growth, rel=1e-6)


def test_a_step_comes_back_sooner_the_more_noise_is_allowed():
    """More growth leaves a shorter lag; with no bound the step is whole again at once (closed form)."""
    seen = step(0.1)
    times = [rise_s(undo_lag(T, seen, 0.1, growth)[0]) for growth in (1.0, 1.5, 2.0, 4.0, 1000.0)]

    assert (np.diff(times) < 0).all()
    assert times[0] == pytest.approx(rise_s(seen))
    assert times[-1] <= 0.011


def test_a_level_and_what_is_missing_stay_as_they_are():
    """Undoing neither moves a level nor makes up a reading."""
    seen = np.full(200, 0.87)
    seen[::3] = np.nan
    undone, _ = undo_lag(T[:200], seen, 0.2)

    assert np.array_equal(np.isnan(undone), np.isnan(seen))
    assert undone[~np.isnan(undone)] == pytest.approx(0.87)


def test_a_hole_begins_anew():
    """What comes after a hole knows nothing of what stood before it."""
    seen = np.where(T < 5.0, 0.7, 0.9)
    seen[(T > 4.0) & (T < 6.0)] = np.nan
    undone, _ = undo_lag(T, seen, 0.1)

    assert np.nanmax(undone) == pytest.approx(0.9)
    assert np.nanmin(undone) == pytest.approx(0.7)


def test_no_lag_is_nothing_to_undo_and_less_noise_is_not_to_be_had():
    """A lag of zero leaves all as it is; a growth below one is refused."""
    seen = step(0.1)

    assert undo_lag(T, seen, 0.0)[0] == pytest.approx(seen)
    with pytest.raises(ValueError, match="1 and over"):
        undo_lag(T, seen, 0.1, 0.5)
