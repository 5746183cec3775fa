"""Whole recordings on time: drift, jumps, reconnections, restarts, as a session shows them."""

import itertools
from datetime import UTC, datetime

import numpy as np
import polars as pl
import pytest

from bridge.sealing import frame_from_capture
from tests.bridge.sealing.wire_rides import block, data, mark, rows, state

BEGAN_S = 1_780_000_000
SCHEMA = {"offset": pl.UInt64, "length": pl.UInt32, "monotonic_ns": pl.Int64, "utc_ns": pl.Int64}


def recorded(lines, utc_step=lambda _came_s: 0.0):
    """Bytes and arrivals of (bytes, second of arrival), each line its own chunk."""
    sizes = [len(line) for line, _ in lines]
    came = [round(second * 1e9) for _, second in lines]
    chunks = {
        "offset": [0, *itertools.accumulate(sizes)][:-1],
        "length": sizes,
        "monotonic_ns": [4_000_000_000 + ns for ns in came],
        "utc_ns": [int(BEGAN_S * 1e9) + ns + round(utc_step(ns / 1e9) * 1e9) for ns in came],
    }
    return b"".join(line for line, _ in lines), pl.DataFrame(chunks, schema=SCHEMA)


def ride(seconds, drift_ppm=0.0, *, begin_s=0.0, boot=1, first=0, first_tick=0):
    """(bytes, arrival) of a block and lines of 20 a second; ticks of 1 ms, the block with the first line."""
    count = round(seconds * 20)
    late = np.random.default_rng(2).exponential(0.004, count)
    came = np.maximum.accumulate(begin_s + np.arange(count) / 20 * (1 + drift_ppm * 1e-6) + late)
    written = [
        data(rows(1), first_seq=first + i, first_tick=(first_tick + i * 50) % 2**32) for i in range(count)
    ]
    written[0] = block(boot=boot) + written[0]
    return list(zip(written, came.tolist(), strict=True))


def gaps(sealed):
    """The notes on gaps."""
    return [note for note in sealed.notes if "gap" in note]


@pytest.mark.parametrize(("drift_ppm", "pace"), [(150, "slow"), (-150, "fast")])
def test_drift_is_taken_out_and_told(drift_ppm, pace):
    """The samples of ten minutes end when they were written by the computer's clock, and the note says how far off."""
    sealed = frame_from_capture(*recorded(ride(600, drift_ppm)))

    true_end = (600 - 0.05) * (1 + drift_ppm * 1e-6)
    assert sealed.seconds == pytest.approx(true_end, abs=0.002)
    (note,) = sealed.notes
    assert f"{pace} by 1" in note
    assert "ppm" in note
    assert "uncertainty" in note


def test_no_drift_no_note():
    """A clock that runs right is not worth a word."""
    assert frame_from_capture(*recorded(ride(600))).notes == ()


@pytest.mark.parametrize("step_s", [3600.0, -3600.0])
def test_an_hours_jump_moves_no_sample_and_is_told(step_s):
    """The computer's clock is set by an hour in mid-session: same samples, same start, one note more."""
    lines = ride(60)
    plain = frame_from_capture(*recorded(lines))
    jumped = frame_from_capture(*recorded(lines, lambda came_s: step_s * (came_s > 20)))

    assert jumped.frame.equals(plain.frame)
    assert jumped.started_utc == plain.started_utc
    assert abs((jumped.started_utc - datetime.fromtimestamp(BEGAN_S, UTC)).total_seconds()) < 0.01
    (note,) = set(jumped.notes) - set(plain.notes)
    assert f"{'forward' if step_s > 0 else 'back'} by 3600.0 s" in note


def test_a_computer_that_slept_leaves_a_gap_as_long_as_the_logger_counted():
    """The monotonic clock stood still for ten minutes, the logger did not: the session shows ten minutes."""
    later = ride(30, begin_s=30.28, first=20_000, first_tick=630_080)
    sealed = frame_from_capture(
        *recorded(ride(30.05) + later, lambda came_s: 599.8 * (came_s > 30.1)),
    )

    assert sealed.frame["t_s"].diff().max() == pytest.approx(600.08, abs=0.01)
    assert any("slept for 599.8 s" in note for note in sealed.notes)
    assert gaps(sealed) == ["gap of 600.1 s without a data line, from 30.0 s on"]


def test_a_cable_pulled_and_put_back():
    """The same start of the logger goes on after 12 s: the gap is as long as its ticks say, to the millisecond."""
    later = ride(60, begin_s=72.08, first=1441, first_tick=72_080)
    sealed = frame_from_capture(*recorded(ride(60.05) + later))

    assert sealed.frame["t_s"].diff().max() == pytest.approx(12.08, abs=1e-3)
    assert sealed.counts["lines_lost"] == 240
    assert gaps(sealed) == ["gap of 12.1 s without a data line, from 60.0 s on"]


def test_starts_anew_stand_where_they_came_in():
    """A second start of the logger is laid by its own arrivals, in a gap that the note names."""
    sealed = frame_from_capture(*recorded(ride(300, 100) + ride(200, 100, begin_s=345, boot=2)))

    step = sealed.frame["t_s"].diff()
    assert step.max() == pytest.approx(345 - 299.95 * 1.0001, abs=0.005)
    assert step.drop_nulls().min() > 0
    assert gaps(sealed) == [
        "gap of 45.0 s without a data line, from 300.0 s on, in which the logger started anew"
    ]


def test_many_gaps_are_told_in_short():
    """The five longest gaps are named one by one, the others together."""
    lines, at = [], 0
    for i in range(9):
        lines += ride(5.05, begin_s=at, first=1000 * i, first_tick=1000 * at)
        at += 7 + i
    sealed = frame_from_capture(*recorded(lines))

    assert len(gaps(sealed)) == 6
    assert gaps(sealed)[-1] == "3 shorter gaps without a data line, 9.0 s in all"


def test_a_state_told_late_does_not_move_the_clock():
    """A state line that carries the tick of a change long ago, or one ahead, moves no sample."""
    lines = ride(60)
    told_late = [(state(2**32 - 900_000), lines[599][1]), (state(90_000), lines[599][1])]
    odd = [*lines[:600], *told_late, *lines[600:]]

    plain, sealed = (frame_from_capture(*recorded(some)).frame["t_s"] for some in (lines, odd))

    assert sealed.diff().drop_nulls().to_numpy() == pytest.approx(
        plain.diff().drop_nulls().to_numpy(), abs=1e-9
    )


def test_marks_lie_among_the_samples_after_a_drift():
    """A mark's time is on the same clock as the samples about it."""
    lines = ride(600, 200)
    lines.insert(6001, (mark(99, 300_025, "chop"), lines[6000][1] + 0.0261))
    sealed = frame_from_capture(*recorded(lines))

    around = sealed.frame["t_s"].gather([6000, 6001])
    (chop,) = sealed.marks
    assert around[0] < chop.t_s < around[1]
    assert chop.t_s == pytest.approx(300.025 * 1.0002, abs=0.002)


def test_a_counter_that_wraps_in_mid_session_and_drifts():
    """The 32-bit counter wraps between two lines: nothing is seen of it."""
    sealed = frame_from_capture(*recorded(ride(300, 50, first_tick=2**32 - 100_000)))

    steps = sealed.frame["t_s"].diff().drop_nulls()
    assert (steps.min(), steps.max()) == pytest.approx((0.05, 0.05), abs=1e-4)
    assert sealed.seconds == pytest.approx(299.95 * 1.00005, abs=0.002)


def test_a_long_session_of_unknown_drift_says_so():
    """Seven lines in an hour tell no drift: the note says what it may come to."""
    lines = ride(1800)[::6000]
    sealed = frame_from_capture(
        *recorded([(block() + line.split(b"\n")[-2] + b"\n", at) for line, at in lines])
    )

    assert any("too short to tell" in note and "200 ppm" in note for note in sealed.notes)
