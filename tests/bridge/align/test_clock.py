"""Ticks to seconds."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.align import lay_on_time

WRAP = 2**32


def ticks_of(counts):
    """Return counts as a 32-bit counter shows them."""
    return (np.asarray(counts, dtype=np.int64) % WRAP).astype(np.uint32)


def test_without_arrivals_the_first_line_is_at_0():
    """Ticks alone begin at nought, whatever the counter stood at."""
    assert lay_on_time(ticks_of([5_000_000, 5_010_000, 5_020_000]), 1_000_000, None) == pytest.approx(
        [0, 0.01, 0.02]
    )


@given(
    st.integers(0, WRAP - 1),
    st.lists(st.integers(0, WRAP // 2 - 1), max_size=20),
    st.sampled_from([1000, 10**6]),
)
def test_wrapping_is_unwound(start, steps, per_second):
    """However often the counter wraps, steps below half a wrap come out as they were."""
    counts = start + np.concatenate(([0], np.cumsum(np.array(steps, dtype=np.int64))))

    assert lay_on_time(ticks_of(counts), per_second, None) == pytest.approx((counts - start) / per_second)


def test_a_mark_stamped_earlier_stays_earlier():
    """A line may carry a tick a little before its forerunner's: that is a step back, not 71 minutes."""
    assert lay_on_time(ticks_of([1000, 2000, 1900, 3000]), 1000, None) == pytest.approx([0, 1, 0.9, 2])


def test_late_arrivals_do_not_move_the_clock():
    """The line that came through soonest sets the origin; lines that waited in a buffer keep their time."""
    true = 100.0 + np.arange(1000) * 0.01
    late = true + 0.002 + np.random.default_rng(3).exponential(0.02, 1000)
    late[500] = true[500] + 0.002

    assert lay_on_time(ticks_of(np.arange(1000) * 10_000), 1_000_000, late) == pytest.approx(true + 0.002)


def test_a_long_silence_is_measured_by_arrival():
    """Forty minutes between two lines are over half a wrap of 71.6; the arrivals tell how long it was."""
    arrival = np.array([0.0, 1.0, 2401.0, 2402.0, 2402.0 + 5000.0])

    assert lay_on_time(ticks_of(arrival * 1e6), 1_000_000, arrival) == pytest.approx(arrival)


def test_no_lines_no_seconds():
    """An empty boot gives no times."""
    assert len(lay_on_time(ticks_of([]), 1000, None)) == 0
    assert len(lay_on_time(ticks_of([]), 1000, np.empty(0))) == 0
