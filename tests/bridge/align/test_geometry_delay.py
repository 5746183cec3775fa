"""The delay by the pipe's geometry."""

import numpy as np
import pytest

from bridge.align import geometry_delay
from bridge.align.delay import LONGEST_S, SENSOR_LAG_S, assumed_efficiency
from bridge.model import Bike, Weather

WHOLE = {"sensor_distance_mm": 900.0, "pipe_bore_mm": 38.0}


def bike(**keys):
    """Return a bike of 400 cm3 and two cylinders."""
    return Bike(**({"name": "b", "strokes": 4, "cylinders": 2, "displacement_cc": 400.0} | WHOLE | keys))


def delay_of(the_bike, rpm=6000.0, throttle=80.0, egt=None, weather=None):
    """Return the delay of a steady run."""
    full = np.full(100, 1.0)
    return geometry_delay(
        rpm * full,
        None if throttle is None else throttle * full,
        None if egt is None else egt * full,
        the_bike,
        weather or Weather(),
    )[0]


def test_at_speed_the_sensors_own_lag_is_most_of_it():
    """At 6000 rpm and 80 % it is lag 0.1 s, a cycle of 0.02 s and some 0.035 s of pipe (closed form)."""
    found = delay_of(bike())

    assert found.from_ == "geometry"
    assert found.note is None
    assert found.seconds == pytest.approx(SENSOR_LAG_S + 0.02 + 0.035, abs=0.006)
    assert 0.03 < found.sd_s < 0.04


def test_directions():
    """Faster, hotter and wider open: shorter. A longer or wider pipe, a smaller engine: longer."""
    usual = delay_of(bike()).seconds

    assert delay_of(bike(), rpm=9000.0).seconds < usual < delay_of(bike(), rpm=3000.0).seconds
    assert delay_of(bike(), throttle=20.0).seconds > usual
    assert delay_of(bike(), egt=950.0).seconds < delay_of(bike(), egt=450.0).seconds
    assert delay_of(bike(sensor_distance_mm=1500.0)).seconds > usual
    assert delay_of(bike(pipe_bore_mm=45.0)).seconds > usual
    assert delay_of(bike(displacement_cc=250.0)).seconds > usual
    assert delay_of(bike(strokes=2)).seconds < usual


def test_thin_air_takes_longer():
    """In the mountains less air goes through the engine."""
    thin = Weather(air_temp_c=20.0, air_pressure_hpa=700.0, humidity_percent=50.0)

    assert delay_of(bike(), weather=thin).seconds > delay_of(bike()).seconds


def test_a_collector_carries_all_cylinders():
    """Where the pipes have met more gas flows, so it takes less time, and less is known about the way."""
    assert delay_of(bike(sensor="collector")).seconds < delay_of(bike()).seconds
    assert delay_of(bike(sensor="collector"), rpm=1500.0).sd_s > 0.5 * delay_of(bike(), rpm=1500.0).sd_s


@pytest.mark.parametrize(
    ("keys", "words"),
    [({"sensor_distance_mm": None}, "sensor_distance_mm"), ({"pipe_bore_mm": None}, "pipe_bore_mm")],
)
def test_a_missing_key_is_assumed_named_and_doubted(keys, words):
    """What bike.toml leaves out stands in the note by its key, and makes the delay less sure."""
    found = delay_of(bike(**keys), rpm=3000.0)

    assert words in found.note
    assert found.sd_s > delay_of(bike(), rpm=3000.0).sd_s


def test_without_a_bike_all_is_assumed():
    """A session without a bike still has a delay, with a note and the widest uncertainty."""
    found = delay_of(None, rpm=3000.0)

    assert "no bike" in found.note
    assert found.sd_s > delay_of(bike(pipe_bore_mm=None), rpm=3000.0).sd_s


def test_each_sample_has_its_own_delay_longest_near_idle():
    """The gas of an idling engine takes several times as long as that of a pull."""
    rpm = np.array([1500.0, 3000.0, 9000.0, np.nan, 0.0])
    throttle = np.array([3.0, 40.0, 100.0, 50.0, 0.0])
    _, each = geometry_delay(rpm, throttle, None, bike(), Weather())

    assert each[0] > 2 * each[2]
    assert (np.diff(each[:3]) < 0).all()
    assert np.isnan(each[3])
    assert each[4] == LONGEST_S


def test_the_sessions_delay_is_that_under_load():
    """Idling does not count: the delay told is that of the median gas flow with the throttle over 10 %."""
    rpm = np.concatenate((np.full(500, 1500.0), np.full(101, 6000.0)))
    throttle = np.concatenate((np.full(500, 2.0), np.full(101, 80.0)))

    assert geometry_delay(rpm, throttle, None, bike(), Weather())[0].seconds == pytest.approx(
        delay_of(bike()).seconds
    )


def test_without_a_throttle_channel_it_is_less_sure():
    """Not knowing the opening makes the flow less sure."""
    assert delay_of(bike(), throttle=None, rpm=3000.0).sd_s > delay_of(bike(), throttle=50.0, rpm=3000.0).sd_s


@pytest.mark.parametrize("rpm", [np.empty(0), np.zeros(10), np.full(10, np.nan)])
def test_an_engine_that_never_ran_has_the_sensors_lag(rpm):
    """Without gas flow only the lag is known, and the note says so."""
    found, each = geometry_delay(rpm, np.zeros(len(rpm)), None, bike(), Weather())

    assert found.seconds == SENSOR_LAG_S
    assert "never ran" in found.note
    assert len(each) == len(rpm)


def test_efficiency_rises_with_opening_and_speed():
    """An open throttle and a faster engine fill better, between 0.3 and 0.95."""
    openings = assumed_efficiency(np.array([0.0, 25.0, 50.0, 100.0]), np.full(4, 6000.0))

    assert (np.diff(openings) > 0).all()
    assert 0.3 <= openings.min() < openings.max() <= 0.95
    assert assumed_efficiency(np.array([100.0]), np.array([9000.0])) > assumed_efficiency(
        np.array([100.0]), np.array([3000.0])
    )
