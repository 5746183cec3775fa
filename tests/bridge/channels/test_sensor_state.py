"""What an oxygen sensor's history says on a day: offsets, gain, accuracy, drift."""

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.channels import SensorEvent, sensor_state
from bridge.channels.sensor_rules import check_event
from bridge.channels.sensor_state import free_air_gain
from bridge.errors import BadValue

DAY = datetime(2026, 5, 14, 9, 20, tzinfo=UTC)


def event(what, days_before=10, **told):
    """Something that happened some days before the session."""
    return SensorEvent(what, DAY - timedelta(days=days_before), **told)


def test_nothing_on_record():
    """Without a history a four-stroke's sensor has 0.010, a year of drift is assumed, and it is said."""
    state = sensor_state((), 1, DAY, 4)

    # common practice, no source: 0.010 lambda on a four-stroke, 0.005 a year
    assert (state.offset, state.gain, state.accuracy_sd) == (0.0, 1.0, 0.010)
    assert state.drift_sd == pytest.approx(0.005)
    assert (state.checked_days, state.calibrated) == (None, True)
    assert (state.accuracy_status, state.drift_status) == ("common practice", "assumed")
    assert "a year of drift" in state.assumed[0]
    assert state.changes == ()


@pytest.mark.parametrize("strokes", [2, None])
def test_a_two_stroke_reads_lean(strokes):
    """A two-stroke, or a bike of which nobody knows, gets the wide uncertainty and is not calibrated."""
    state = sensor_state((), 1, DAY, strokes)

    assert state.accuracy_sd == pytest.approx(0.05)  # common practice, no source
    assert not state.calibrated


def test_a_stated_trapped_offset():
    """What the exhaust reads over the trapped charge is taken off, and its doubt replaces the wide one."""
    state = sensor_state([event("trapped", value=0.08, sd=0.03)], 1, DAY, 2)

    assert state.offset == 0.08
    assert state.calibrated
    assert state.accuracy_sd == pytest.approx(math.hypot(0.010, 0.03))
    assert state.accuracy_sd < 0.05


def test_the_users_own_accuracy():
    """A sensor's own accuracy, as stated, is taken on a four-stroke, and leaves a two-stroke's lost charge."""
    assert sensor_state((), 1, DAY, 4, accuracy=0.004).accuracy_sd == 0.004
    assert sensor_state((), 1, DAY, 4, accuracy=0.004).accuracy_status == "stated"
    two = sensor_state((), 1, DAY, 2, accuracy=0.004)
    assert 0.045 < two.accuracy_sd < 0.05
    assert not two.calibrated


def test_an_offset_with_its_doubt():
    """A stated offset is taken off and brings its own uncertainty in place of the usual one."""
    state = sensor_state([event("offset", value=0.02, sd=0.006)], 1, DAY, 4)

    assert (state.offset, state.offset_sd, state.accuracy_sd) == (0.02, 0.006, 0.006)
    assert state.checked_days == pytest.approx(10.0)
    assert "+0.020" in state.changes[0]


def test_the_newest_counts():
    """Of two offsets the later one holds, in whatever order they come, and of one moment the one written later."""
    old, new = event("offset", 20, value=0.05, sd=0.01), event("offset", 5, value=0.01, sd=0.01)
    again = replace(new, value=0.03)

    assert sensor_state([new, old], 1, DAY, 4).offset == 0.01
    assert sensor_state([old, new, again], 1, DAY, 4).offset == 0.03


def test_a_replacement_voids_what_was_before():
    """A new sensor has no offset and no gain from the old one; what is known of the engine stays."""
    before = [
        event("free air", 30, value=0.19, humidity_percent=0.0),
        event("offset", 30, value=0.05, sd=0.01),
        event("trapped", 30, value=0.08, sd=0.03),
    ]
    state = sensor_state([*before, event("replaced", 7)], 1, DAY, 2)

    assert (state.gain, state.offset) == (1.0, 0.08)
    assert state.checked_days == pytest.approx(7.0)
    assert sensor_state(before, 1, DAY, 2).gain < 0.95


def test_whose_and_when():
    """What was done to another cylinder's sensor, or only later, is of no account."""
    events = [
        event("offset", cylinder=2, value=0.05, sd=0.01),
        event("offset", -1, value=0.07, sd=0.01),
    ]

    assert sensor_state(events, 1, DAY, 4).offset == 0.0
    assert sensor_state(events, 2, DAY, 4).offset == 0.05
    assert sensor_state(events, None, DAY, 4).offset == 0.0


@given(st.floats(0.0, 3000.0), st.floats(0.1, 500.0))
def test_drift_grows_with_the_days(days, more):
    """The longer ago a sensor was checked, the less sure it is; checked today, drift adds nothing."""
    state, older = (
        sensor_state([event("free air", d, value=0.207, humidity_percent=50.0)], 1, DAY, 4)
        for d in (days, days + more)
    )
    today = sensor_state([event("replaced", 0)], 1, DAY, 4)

    assert older.drift_sd > state.drift_sd
    assert older.sd > state.sd
    assert today.drift_sd == 0.0


def test_the_users_own_drift():
    """A drift that the user states is taken: half a year of it after half a year."""
    state = sensor_state([event("replaced", 182.5)], 1, DAY, 4, drift=0.02)

    assert state.drift_sd == pytest.approx(0.01)
    assert state.drift_status == "stated"


def test_a_humid_day_is_no_aged_sensor():
    """A check that tells less oxygen on a hot humid day, as it should, gives a gain of 1."""
    # published: psychrolib 2.5 (ASHRAE Fundamentals 2017) gives 0.20248 at 35 Cel and 60 %, 0.20618 at 25 and 50
    for share, temp_c, humidity in ((0.20248, 35.0, 60.0), (0.20618, 25.0, 50.0), (0.20946, 20.0, 0.0)):
        air = {"air_temp_c": temp_c, "air_pressure_hpa": 1013.25, "humidity_percent": humidity}
        gain, sd = free_air_gain(event("free air", value=share, **air))
        assert gain == pytest.approx(1.0, abs=2e-4)
        assert sd < 0.006


def test_unknown_humidity_is_less_sure():
    """A check without its air is less sure than one with it."""
    known = event("free air", value=0.2, air_temp_c=20.0, air_pressure_hpa=1013.0, humidity_percent=50.0)
    unknown = event("free air", value=0.2)

    assert free_air_gain(unknown)[1] > free_air_gain(known)[1]
    assert free_air_gain(unknown)[0] == pytest.approx(free_air_gain(known)[0], abs=1e-4)


def test_direction_of_the_gain():
    """A sensor that tells too little oxygen has a gain under 1; far under, it is told to be replaced."""
    weak = sensor_state([event("free air", value=0.19)], 1, DAY, 4)
    done = sensor_state([event("free air", value=0.18)], 1, DAY, 4)

    assert 0.9 < weak.gain < 0.95
    assert any("replace the sensor" in note for note in done.notes)
    assert done.accuracy_sd > weak.accuracy_sd > 0.010


@pytest.mark.parametrize(
    ("told", "words"),
    [
        (event("free air", value=20.5), ["percent", "0.205"]),
        (event("free air", value=0.5), ["0.209"]),
        (event("free air"), ["needs a plain number"]),
        (event("free air", value=math.nan), ["needs a plain number"]),
        (event("replaced", value=0.2), ["neither a value"]),
        (event("offset", value=14.7, sd=0.01), ["air-fuel ratio"]),
        (event("offset", value=0.02, sd=0.0), ["over 0"]),
        (event("trapped", value=0.08), ["how sure"]),
        (event("offset", value=0.02, humidity_percent=50.0), ["free-air check"]),
        (event("free air", value=0.205, humidity_percent=140.0), ["humidity", "140"]),
        (event("free air", value=0.205, air_pressure_hpa=29.92), ["inHg", "1013.2"]),
        (event("free air", value=0.205, air_temp_c=300.0), ["kelvin"]),
    ],
)
def test_what_cannot_be(told, words):
    """A slip of the hand is refused with the mend."""
    with pytest.raises(BadValue) as error:
        check_event(told)

    assert all(word in str(error.value) for word in words)


@given(st.sampled_from(["free air", "offset", "trapped"]), st.floats(-2.0, 30.0), st.floats(0.001, 1.0))
def test_what_is_not_refused_is_finite(what, value, sd):
    """An event that is let in gives a finite state, whatever its figures."""
    told = event(what, value=value, sd=sd)
    try:
        check_event(told)
    except BadValue:
        return
    state = sensor_state([told], 1, DAY, 2)

    assert all(math.isfinite(x) for x in (state.offset, state.gain, state.gain_sd, state.sd))
    assert state.sd > 0.0
