"""The computer's clocks: jumps of UTC, sleep, and when it all began."""

import numpy as np
import pytest

from bridge.align import read_host_clock, with_sleep

BEGAN_NS = 1_780_000_000_000_000_000
UP_NS = 77_000_000_000
TICKS = 1_000_000


def clocks(period_s=0.02, count=3000, seed=5):
    """A recording's two clocks, read a little apart each time."""
    rng = np.random.default_rng(seed)
    came = (np.arange(count) * period_s * 1e9).astype(np.int64)
    return UP_NS + came, BEGAN_NS + came + rng.integers(0, 3_000_000, count)


def ticks_at(seconds):
    """The logger's count, near its wrap."""
    return ((np.asarray(seconds) * TICKS + 2**32 - 5_000_000).astype(np.int64) % 2**32).astype(np.uint32)


@pytest.mark.parametrize("step_s", [3600, -3600, 1.5, -1.5, 86_400 * 365])
def test_a_clock_that_is_set_is_told_with_its_size(step_s):
    """A step of UTC is found where it was, with its size, and moves neither the arrivals nor the beginning."""
    monotonic, utc = clocks()
    utc[1200:] += int(step_s * 1e9)

    clock = read_host_clock(monotonic, utc)

    (jump,) = clock.jumps
    assert jump.chunk == 1200
    assert jump.size_s == pytest.approx(step_s, abs=0.01)
    assert clock.arrival_s == pytest.approx(np.arange(3000) * 0.02)
    assert clock.zero_utc_ns() == pytest.approx(BEGAN_NS, abs=3e6)


def test_there_and_back_are_two_jumps():
    """A clock that is set and set back is told twice."""
    monotonic, utc = clocks()
    utc[100:900] -= 3_600_000_000_000

    jumps = read_host_clock(monotonic, utc).jumps

    assert [jump.chunk for jump in jumps] == [100, 900]
    assert [jump.size_s for jump in jumps] == pytest.approx([-3600, 3600], abs=0.01)


def test_two_readings_far_apart_are_no_jump():
    """One chunk whose clocks were read a second apart, at the start, in the middle or at the end, is no jump."""
    monotonic, utc = clocks()
    utc[[700, 1500, 2998]] += 1_000_000_000
    slewed = utc + (np.arange(3000) * 10_000).astype(np.int64)  # 500 ppm, as a clock is brought in gently

    assert read_host_clock(monotonic, utc).jumps == ()
    assert read_host_clock(monotonic, slewed).jumps == ()


@pytest.mark.parametrize("slept_s", [3.0, 600.0, 4000.0, 30_000.0])
@pytest.mark.parametrize("buffered", [0, 40])
def test_a_computer_that_slept_is_told_by_the_logger(slept_s, buffered):
    """Where the logger counted on while the monotonic clock stood still, the arrivals get the time back, also where
    lines from before waited in a buffer and where the ticks wrapped meanwhile.
    """  # noqa: D205  # one fact
    monotonic, utc = clocks()
    utc[1000:] += int(slept_s * 1e9)
    truth = np.arange(3000) * 0.02 + np.where(np.arange(3000) >= 1000 + buffered, slept_s, 0.0)

    clock = with_sleep(read_host_clock(monotonic, utc), [(np.arange(3000), ticks_at(truth), TICKS)])

    (jump,) = clock.jumps
    assert jump.slept
    assert clock.arrival_s[1000 + buffered :] == pytest.approx(truth[1000 + buffered :], abs=0.01)
    assert clock.zero_utc_ns() == pytest.approx(BEGAN_NS, abs=3e6)


@pytest.mark.parametrize("step_s", [3.0, 3600.0, -3600.0])
def test_a_clock_that_was_set_is_no_sleep(step_s):
    """Where the logger counted as many seconds as the monotonic clock, nobody slept."""
    monotonic, utc = clocks()
    utc[1000:] += int(step_s * 1e9)
    ticks = ticks_at(np.arange(3000) * 0.02)

    clock = with_sleep(read_host_clock(monotonic, utc), [(np.arange(3000), ticks, TICKS)])

    assert not clock.jumps[0].slept
    assert clock.arrival_s == pytest.approx(np.arange(3000) * 0.02)


def test_a_logger_that_started_anew_cannot_be_asked():
    """A jump between two starts of the logger counts as a clock that was set."""
    monotonic, utc = clocks()
    utc[1000:] += 600_000_000_000
    ticks = ticks_at(np.arange(3000) * 0.02)
    boots = [(np.arange(1000), ticks[:1000], TICKS), (np.arange(1000, 3000), ticks[:2000], TICKS)]

    assert not with_sleep(read_host_clock(monotonic, utc), boots).jumps[0].slept


def test_one_chunk_has_no_jump():
    """A recording of one chunk is no special case."""
    clock = read_host_clock(np.array([UP_NS]), np.array([BEGAN_NS]))

    assert clock.jumps == ()
    assert clock.zero_utc_ns() == BEGAN_NS
