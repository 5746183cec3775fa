"""What is not known of the sensor itself: which session counts, what stays the same, what it does to the mean."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import polars as pl
import pytest

from bridge.bands import running
from bridge.channels.sensor import SensorEvent
from bridge.plug.exposure import MEMORY_S, measured
from bridge.plug.sensor import ACCURACY, DRIFT, sensor_doubt
from tests.virtual_runs import BIKE, NOW, life, run_of

TWO = BIKE.model_copy(update={"strokes": 2})
RATE_HZ = 20.0


def full(seconds=20.0, lambda_=0.87, *, number=1, bike=BIKE, days=0, events=(), slope=0.0):
    """Return a run at full throttle with a sensor's history, ``days`` after NOW."""
    t_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    columns = {
        "t_s": t_s,
        "throttle": np.full(t_s.size, 100.0),
        "rpm": np.full(t_s.size, 9000.0),
        "lambda_1": lambda_ + slope * t_s,
    }
    run = run_of(pl.DataFrame(columns), number=number, bike=bike)
    started = replace(run.session, started=NOW + timedelta(days=days))
    return replace(run, session=started, sensor_events=tuple(events))


def checked(days=0, what="free air", value=0.2062, sd=0.0005, **more):
    """Return an event of the sensor's history, ``days`` after NOW."""
    return SensorEvent(what, NOW + timedelta(days=days), value=value, sd=sd, **more)


def test_accuracy_and_drift_are_told_apart_and_marked():
    """Accuracy is the same in each session and drift is not; both together stand beside the interval."""
    found = measured(life(full()))

    assert [part.name for part in found.sensor.constant] == [ACCURACY]
    assert [part.name for part in found.sensor.changing] == [DRIFT]
    assert found.sensor.components == found.sensor.constant + found.sensor.changing
    assert found.sensor_sd == pytest.approx(np.hypot(*(part.sd for part in found.sensor.components)))
    assert not any(part.name in (ACCURACY, DRIFT) for part in found.budget.components)


def test_a_fresh_check_leaves_less_drift():
    """Drift grows with the days since the last check, and without one on record a year is taken (common practice)."""
    fresh, month, never = (
        measured(life(full(days=31, events=events))).sensor
        for events in ([checked(days=31)], [checked(days=0)], [])
    )

    assert fresh.changing[0].sd == pytest.approx(0.0, abs=1e-9)
    assert month.changing[0].sd == pytest.approx(0.005 * 31 / 365)
    assert never.changing[0].sd == pytest.approx(0.005)
    assert (fresh.checked_days, month.checked_days, never.checked_days) == (0.0, 31.0, None)
    assert any("no free-air check" in note for note in never.notes)


def test_a_stated_offset_counts_with_its_own_sd():
    """The standard uncertainty of a stated offset takes the place of the usual accuracy, and is called stated."""
    usual = sensor_doubt([full()], 1)
    stated = sensor_doubt([full(events=[checked(what="offset", value=0.02, sd=0.004)])], 1)

    assert (usual.constant[0].sd, usual.constant[0].status) == (0.010, "common practice")
    assert (stated.constant[0].sd, stated.constant[0].status) == (0.004, "stated")


def test_a_trapped_offset_calibrates_a_two_stroke():
    """With the lost charge's offset stated, the wide 0.05 gives way to its sd beside the sensor's own 0.010."""
    wide = sensor_doubt([full(bike=TWO)], 1)
    narrow = sensor_doubt([full(bike=TWO, events=[checked(what="trapped", value=0.08, sd=0.02)])], 1)

    assert not wide.calibrated
    assert wide.constant[0].sd == pytest.approx(0.05)
    assert narrow.calibrated
    assert narrow.constant[0].sd == pytest.approx(np.hypot(0.010, 0.02))


def test_the_bikes_own_word_on_its_sensor_counts():
    """Accuracy and drift that the bike's file states stand instead of common practice, and say so."""
    cell = BIKE.sensor_cell.model_copy(update={"accuracy": 0.006, "drift_per_year": 0.02})
    found = sensor_doubt([full(bike=BIKE.model_copy(update={"sensor_cell": cell}))], 1)

    assert [(part.sd, part.status) for part in found.components] == [(0.006, "stated"), (0.02, "stated")]


def test_each_session_counts_with_the_sensor_that_it_had():
    """A plug that lived through a session before a check and one after it has drift from both, by their weights.

    Closed form: the weights are exp(-age/60 s), ages in running time.
    """
    before = full(20, number=1, days=0)
    after = full(20, number=2, days=1, events=[checked(days=1)])
    found = measured(life([before, after])).sensor
    old = np.exp(-20.0 / MEMORY_S)

    assert found.changing[0].sd == pytest.approx(0.005 * old / (1.0 + old), rel=0.02)
    assert 0.0 < found.changing[0].sd < 0.005
    assert found.checked_days == 0.0


def test_one_sensor_stays_one_error_however_many_sessions():
    """The sensor's own error goes the same way each time, so more sessions do not make it smaller."""
    one = measured(life(full()))
    four = measured(life([full(number=number, days=number) for number in (1, 2, 3, 4)]))

    assert four.sensor.constant[0].sd == pytest.approx(one.sensor.constant[0].sd)


def test_without_a_mean_the_last_session_speaks():
    """Where nothing was measured, what is known of the sensor is that of the session looked at."""
    runs = [full(), full(number=2, days=1, events=[checked(days=1)])]
    shut = [replace(r, samples=r.samples.with_columns(throttle=pl.lit(20.0, dtype=pl.Float32))) for r in runs]
    found = measured(life(shut))

    assert found.mean is None
    assert found.sensor.checked_days == 0.0
    assert found.sensor.changing[0].sd == pytest.approx(0.0, abs=1e-9)


def test_an_engines_one_sensor_has_its_own_history():
    """What was written down of cylinder 1's sensor says nothing of the one for the whole engine."""
    events = [checked(what="offset", value=0.02, sd=0.004, cylinder=1)]
    run = full(events=events)
    engine = replace(run, samples=run.samples.rename({"lambda_1": "lambda"}))

    assert measured(life(run)).sensor.constant[0].sd == 0.004
    assert measured(life(engine)).sensor.constant[0].sd == 0.010


def test_the_delays_doubt_moves_the_mean_by_the_slope_of_the_mixture():
    """On a slope of lambda the delay's component is slope times the delay's own sd, wherever that comes from."""
    run = full(slope=0.004)
    delay = next(part for part in measured(life(run)).budget.components if "delay" in part.name)

    assert delay.sd == pytest.approx(0.004 * running(run).delay.sd_s, rel=0.1)
