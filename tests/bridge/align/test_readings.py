"""Readings taken at other times, and never across a hole."""

import numpy as np
import pytest

from bridge.align import filled_in, longest_step_s, readings_at, typical_period_s


def test_a_delayed_signal_is_recovered():
    """A wave that the sensor shows 0.17 s late, at uneven times, is found where it was, to half a period."""
    rng = np.random.default_rng(4)
    t = np.cumsum(rng.uniform(0.005, 0.015, 5000))
    shown = 0.9 + 0.05 * np.sin(2 * np.pi * 0.2 * (t - 0.17))
    found = readings_at(t, shown, t + 0.17)
    kept = ~np.isnan(found)

    # the wave climbs at most 0.063 a second and half of the longest period is 0.0075 s
    assert found[kept] == pytest.approx(0.9 + 0.05 * np.sin(2 * np.pi * 0.2 * t[kept]), abs=0.063 * 0.0076)
    assert np.isnan(found[-10:]).all()


def test_every_value_was_a_reading():
    """Nothing is averaged: what comes out was read, so its scatter is the sensor's own."""
    rng = np.random.default_rng(5)
    t, values = np.arange(1000) * 0.01, rng.normal(0.9, 0.02, 1000)
    found = readings_at(t, values, t + 0.1537)

    assert np.isin(found[~np.isnan(found)], values).all()
    assert np.nanstd(found) == pytest.approx(values.std(), rel=0.02)


def test_a_hole_stays_one():
    """Half a second without readings gives nan on its whole length, and one lost line does not."""
    t = np.arange(300) * 0.01
    values = np.full(300, 0.9)
    values[100:150] = np.nan
    values[200] = np.nan
    found = readings_at(t, values, t)

    assert np.isnan(found[100:150]).all()
    assert not np.isnan(found[:100]).any()
    assert not np.isnan(found[150:]).any()


def test_nothing_beyond_the_ends():
    """Before the first reading and after the last there is none."""
    t = np.arange(10) * 0.1

    assert np.isnan(readings_at(t, t, np.array([-0.01, 0.91, np.nan]))).all()
    assert readings_at(t, t, np.array([0.0, 0.9])) == pytest.approx([0.0, 0.9])


def test_a_slow_channel_is_filled_between_its_readings():
    """A channel of 5 Hz on lines of 100 Hz is whole, and straight from one reading to the next."""
    t = np.arange(1001) * 0.01
    values = np.where(np.arange(1001) % 20 == 0, 3.0 * t, np.nan)

    assert filled_in(t, values) == pytest.approx(3.0 * t)


def test_a_slow_channel_is_missing_after_three_of_its_periods():
    """Three readings lost out of 5 Hz make a hole; two do not."""
    t = np.arange(2001) * 0.01
    values = np.where(np.arange(2001) % 20 == 0, 1.0, np.nan)
    values[[400, 420]] = np.nan
    values[[1000, 1020, 1040]] = np.nan
    found = filled_in(t, values)

    assert not np.isnan(found[380:441]).any()
    assert np.isnan(found[981:1060]).all()


@pytest.mark.parametrize("count", [0, 1])
def test_channels_with_hardly_a_reading(count):
    """No reading gives nan, one gives itself where it is."""
    t = np.arange(5) * 1.0
    values = np.full(5, np.nan)
    values[:count] = 0.9

    assert (~np.isnan(filled_in(t, values))).sum() == count
    assert (~np.isnan(readings_at(t, values, t))).sum() == count


def test_short_silences_are_never_holes():
    """At 1000 lines a second, up to a tenth of a second may be silent; at one line a second, 3 s."""
    assert longest_step_s(np.arange(100) * 0.001) == pytest.approx(0.1)
    assert longest_step_s(np.arange(100) * 1.0) == pytest.approx(3.0)
    assert typical_period_s(np.array([2.0])) == 0.0
