"""Ticks to seconds, and the logger's clock on the computer's."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.align import fit_clock, unwrap_ticks

WRAP = 2**32
OFFSET_S = 5.0


def ticks_of(counts):
    """Return counts as a 32-bit counter shows them."""
    return (np.asarray(counts, dtype=np.int64) % WRAP).astype(np.uint32)


def lines(seconds, rate_hz):
    """When lines are written, by the logger's clock."""
    return np.arange(int(seconds * rate_hz)) / rate_hz


def arrivals(device_s, drift_ppm, delays_s):
    """When they come in, in order, by the computer's clock."""
    return np.maximum.accumulate(OFFSET_S + device_s * (1 + drift_ppm * 1e-6) + delays_s)


def stalled(arrival_s, rng):
    """A computer that does nothing for up to 0.9 s, ten times: what came meanwhile is read together."""
    for begin in np.sort(rng.uniform(arrival_s[0], arrival_s[-1], 10)):
        end = begin + rng.uniform(0.1, 0.9)
        arrival_s = np.where((arrival_s > begin) & (arrival_s < end), end, arrival_s)
    return arrival_s


def read_together(arrival_s, rng, longest_s):
    """A reader that looks at the port now and then and takes all that waits."""
    looks = arrival_s[0] + np.cumsum(rng.uniform(longest_s / 6, longest_s, int(1e4 + 6 * len(arrival_s))))
    return looks[np.searchsorted(looks, arrival_s)]


LAWS = {
    "exponential": lambda rng, n: rng.exponential(0.004, n),
    "a timer's rest": lambda rng, n: rng.uniform(0, 0.016, n),
    "seldom soon": lambda rng, n: rng.gamma(3, 0.002, n),
    "heavy tail": lambda rng, n: 0.003 * rng.pareto(1.5, n),
}


def test_ticks_alone_begin_at_0():
    """Ticks alone begin at nought, whatever the counter stood at."""
    assert unwrap_ticks(ticks_of([5_000_000, 5_010_000, 5_020_000]), 1_000_000) == pytest.approx(
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

    assert unwrap_ticks(ticks_of(counts), per_second) == pytest.approx((counts - start) / per_second)


@given(
    st.lists(st.integers(0, 5 * WRAP), min_size=1, max_size=10),
    st.floats(-100, 100),
    st.floats(0, 1.0),
)
def test_wraps_in_a_long_silence_are_counted_by_arrival(steps, drift_ppm, delay_s):
    """Silences of hours come out to the tick, though the clocks drift and a line comes late."""
    counts = np.concatenate(([0], np.cumsum(np.array(steps, dtype=np.int64))))
    arrival = counts / 1e6 * (1 + drift_ppm * 1e-6)
    arrival[1::2] += delay_s

    assert unwrap_ticks(ticks_of(counts), 1_000_000, arrival) == pytest.approx(counts / 1e6, abs=1e-6)


def test_a_mark_stamped_earlier_stays_earlier():
    """A line may carry a tick a little before its forerunner's: that is a step back, not 71 minutes."""
    assert unwrap_ticks(ticks_of([1000, 2000, 1900, 3000]), 1000) == pytest.approx([0, 1, 0.9, 2])


def test_no_lines_no_seconds():
    """An empty boot gives no times."""
    assert len(unwrap_ticks(ticks_of([]), 1000)) == 0
    assert len(unwrap_ticks(ticks_of([]), 1000, np.empty(0))) == 0


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("how", ["one by one", "stalls", "polled", "batches"])
def test_the_intervals_hold_the_truth(law, how):
    """In 150 seeded sessions of 2 minutes, drifts within 200 ppm, the 95 % interval of the drift holds the truth in 90
    to 99.5 % of them and that of the offset in at least 90 %, whatever the delays' law and however they are read.
    """  # noqa: D205  # one fact
    held_drift, held_offset, errors, sds = [], [], [], []
    for seed in range(150):
        rng = np.random.default_rng(seed)
        drift = rng.uniform(-200, 200)
        device = lines(120, 50)
        arrival = arrivals(device, drift, LAWS[law](rng, len(device)))
        if how == "stalls":
            arrival = stalled(arrival, rng)
        elif how != "one by one":
            arrival = read_together(arrival, rng, {"polled": 0.008, "batches": 0.3}[how])
        (fit,) = fit_clock([(device, arrival)], 1e-6)
        errors.append(fit.drift_ppm - drift)
        sds.append(fit.drift_sd_ppm)
        held_drift.append(abs(errors[-1]) < 1.96 * fit.drift_sd_ppm)
        held_offset.append(abs(fit.offset_s - OFFSET_S) < 1.96 * fit.offset_sd_s)

    assert 0.90 <= np.mean(held_drift) <= 0.995
    assert np.mean(held_offset) >= 0.90
    # honest, and not by being wide: the intervals are of the size of the errors, and both are small
    assert np.median(sds) < 1.6 * np.sqrt(np.mean(np.square(errors))) < 30
    assert abs(np.mean(errors)) < 4 * np.std(errors) / np.sqrt(len(errors))


@pytest.mark.parametrize("drift_ppm", [-5000, -200, -3, 0, 40, 200, 5000])
def test_the_drift_has_the_right_sign_and_is_taken_out(drift_ppm):
    """A slow logger has a positive drift, a resonator's 5000 ppm are measured, and the times come out right."""
    rng = np.random.default_rng(8)
    device = lines(600, 100)
    truth = OFFSET_S + device * (1 + drift_ppm * 1e-6)

    (fit,) = fit_clock([(device, arrivals(device, drift_ppm, rng.exponential(0.005, len(device))))])

    assert fit.note is None
    assert fit.drift_ppm == pytest.approx(drift_ppm, abs=0.05)
    assert fit.times(device) == pytest.approx(truth, abs=1e-4)


def test_later_arrivals_never_move_the_lines_earlier():
    """Lines that are held up further move nothing, and if all are, the lines come later: never earlier."""
    rng = np.random.default_rng(4)
    device = lines(300, 50)
    arrival = arrivals(device, 30, rng.exponential(0.004, len(device)))
    (fit,) = fit_clock([(device, arrival)])
    soon = arrival - fit.times(device) < 0.002

    (held_up,) = fit_clock([(device, np.where(soon, arrival, arrival + 0.3))])
    (all_later,) = fit_clock([(device, arrival + 0.25)])

    assert (held_up.times(device) - fit.times(device)).min() > -1e-5
    assert all_later.times(device) - fit.times(device) == pytest.approx(0.25, abs=1e-6)
    assert all_later.drift_ppm == pytest.approx(fit.drift_ppm, abs=1e-6)


def test_a_tenth_of_the_session_under_a_busy_computer_bends_nothing():
    """Where every line of a minute in ten is late by 50 ms and more, the drift is still that of the others."""
    rng = np.random.default_rng(6)
    device = lines(600, 50)
    delay = rng.exponential(0.004, len(device))
    delay[: len(delay) // 10] += 0.05 + rng.exponential(0.1, len(delay) // 10)

    (fit,) = fit_clock([(device, arrivals(device, 75, delay))])

    assert fit.drift_ppm == pytest.approx(75, abs=0.1)


@pytest.mark.parametrize("seconds", [0.01, 0.5, 3, 8])
def test_a_session_too_short_to_tell_the_drift(seconds):
    """A few batches tell no drift: it is 0, with a wide uncertainty and a note, and the earliest line leads."""
    rng = np.random.default_rng(1)
    device = lines(seconds, 100)
    arrival = read_together(arrivals(device, 150, rng.exponential(0.01, len(device))), rng, 0.4)

    (fit,) = fit_clock([(device, arrival)])

    assert fit.drift_ppm == 0
    assert fit.drift_sd_ppm >= 200
    assert "too short" in fit.note
    assert (arrival - fit.times(device)).min() == pytest.approx(0, abs=1e-9)
    assert fit.offset_sd_s > 0


def test_a_stored_ride_that_is_read_out_keeps_its_own_time():
    """Lines that come in a hundred times as fast as they were written say nothing of the logger's clock."""
    device = lines(600, 50)

    (fit,) = fit_clock([(device, 3.0 + device / 100)])

    assert fit.drift_ppm == 0
    assert "100 times as fast" in fit.note


def test_starts_of_one_logger_share_its_drift():
    """Each boot has an offset of its own; short ones take the drift from the others, and it is better for all."""
    rng = np.random.default_rng(12)
    boots, begins = [], [0.0, 200.0, 204.0, 700.0]
    for begin, seconds in zip(begins, [180, 2, 400, 300], strict=True):
        device = lines(seconds, 50)
        boots.append((device, begin + arrivals(device, -120, rng.exponential(0.004, len(device)))))

    fits, alone = fit_clock(boots), fit_clock(boots[:1])

    assert [fit.drift_ppm for fit in fits] == [pytest.approx(-120, abs=0.05)] * 4
    assert fits[0].drift_sd_ppm < alone[0].drift_sd_ppm
    assert [fit.offset_s for fit in fits] == pytest.approx([b + OFFSET_S for b in begins], abs=5e-4)


@settings(deadline=None)
@given(
    st.lists(st.tuples(st.floats(-10, 1e4), st.floats(0, 1e4)), min_size=1, max_size=400),
    st.integers(1, 3),
)
def test_whatever_comes_no_line_is_laid_after_its_arrival(pairs, boots):
    """Ticks and arrivals without sense still come to finite times, none after the arrival, twice the same."""
    device = np.array([pair[0] for pair in pairs])
    arrival = np.sort([pair[1] for pair in pairs])

    fits = fit_clock([(device, arrival)] * boots)

    assert fits == fit_clock([(device, arrival)] * boots)
    for fit in fits:
        assert (arrival - fit.times(device)).min() == pytest.approx(0, abs=1e-6)
        assert np.isfinite([fit.offset_s, fit.offset_sd_s, fit.drift_ppm, fit.drift_sd_ppm]).all()
        assert fit.offset_sd_s >= 0
        assert fit.drift_sd_ppm > 0
