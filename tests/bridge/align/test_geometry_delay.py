"""The delay by the pipe's geometry."""

import numpy as np
import pytest

from bridge.align import geometry_delay
from bridge.align.delay import LONGEST_S, SENSOR_LAG_S, assumed_efficiency
from bridge.model import Bike, Weather

T = np.arange(100) * 0.01
WHOLE = {"sensor_distance_mm": 900.0, "pipe_bore_mm": 38.0}


def bike(**keys):
    """Return a bike of 400 cm3 and two cylinders."""
    return Bike(**({"name": "b", "strokes": 4, "cylinders": 2, "displacement_cc": 400.0} | WHOLE | keys))


def delay_of(the_bike, rpm=6000.0, throttle=80.0, egt=None, weather=None):
    """Return the delay of a steady run."""
    full = np.full(100, 1.0)
    return geometry_delay(
        T,
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
    t_s = np.arange(5) * 10.0
    _, each = geometry_delay(t_s, rpm, throttle, None, bike(), Weather())

    assert each[0] > 2 * each[2]
    assert (np.diff(each[:3]) < 0).all()
    assert np.isnan(each[3])
    assert each[4] == LONGEST_S


def test_the_sessions_delay_is_that_under_load():
    """Idling does not count: the delay told is that of the median gas flow with the throttle over 10 %."""
    rpm = np.concatenate((np.full(500, 1500.0), np.full(101, 6000.0)))
    throttle = np.concatenate((np.full(500, 2.0), np.full(101, 80.0)))

    assert geometry_delay(np.arange(601) * 0.01, rpm, throttle, None, bike(), Weather())[
        0
    ].seconds == pytest.approx(delay_of(bike()).seconds)


def test_without_a_throttle_channel_it_is_less_sure():
    """Not knowing the opening makes the flow less sure."""
    assert delay_of(bike(), throttle=None, rpm=3000.0).sd_s > delay_of(bike(), throttle=50.0, rpm=3000.0).sd_s


@pytest.mark.parametrize("rpm", [np.empty(0), np.zeros(10), np.full(10, np.nan)])
def test_an_engine_that_never_ran_has_the_sensors_lag(rpm):
    """Without gas flow only the lag is known, and the note says so."""
    found, each = geometry_delay(np.arange(len(rpm)) * 0.01, rpm, np.zeros(len(rpm)), None, bike(), Weather())

    assert found.seconds == SENSOR_LAG_S
    assert "never ran" in found.note
    assert len(each) == len(rpm)


def opening(at_s=5.0, rpm=(1500.0, 6000.0), throttle=(2.0, 100.0), holes=()):
    """Return times and each sample's delay where idle becomes full throttle from one row to the next."""
    t_s = np.arange(1000) * 0.01
    after = t_s >= at_s
    speed = np.where(after, rpm[1], rpm[0])
    speed[list(holes)] = np.nan
    _, each = geometry_delay(t_s, speed, np.where(after, throttle[1], throttle[0]), None, bike(), Weather())
    return t_s, each


def test_an_opening_flushes_what_was_in_the_pipe():
    """What burned 0.3 s before an opening has 0.3 s of its slow way behind it; the rest is fast (closed form)."""
    _, each = opening()
    idle, full = each[100] - SENSOR_LAG_S, each[-1] - SENSOR_LAG_S
    rest = 1.0 - 0.3 / idle

    assert idle > 0.35
    assert each[470] == pytest.approx(0.3 + rest * full + SENSOR_LAG_S, abs=0.006)
    assert each[499] == pytest.approx(full + SENSOR_LAG_S, abs=0.02)
    assert each[499] < 0.5 * each[100]


def test_readings_never_overtake_each_other():
    """What burned later is read later, through an opening and a closing of the throttle."""
    for rpm, throttle in (((1500.0, 6000.0), (2.0, 100.0)), ((6000.0, 1500.0), (100.0, 2.0))):
        t_s, each = opening(rpm=rpm, throttle=throttle)
        assert (np.diff(t_s + each) > 0.0).all()


def test_steady_flow_gives_each_sample_the_delay_of_its_own_flow():
    """Far from any change the delay is that of the flow held, also in the last row."""
    _, each = opening()

    assert each[-1] == pytest.approx(delay_of(bike(), throttle=100.0).seconds)
    assert each[100] == pytest.approx(delay_of(bike(), rpm=1500.0, throttle=2.0).seconds)


def test_lost_speed_on_the_way_is_bridged_and_has_no_delay_of_its_own():
    """Rows without a speed have no delay; a charge that passes them has the one between its neighbours'."""
    _, whole = opening()
    _, holed = opening(holes=range(110, 130))

    assert np.isnan(holed[110:130]).all()
    assert np.delete(holed, range(110, 130)) == pytest.approx(np.delete(whole, range(110, 130)))


def test_efficiency_rises_with_opening_and_speed():
    """An open throttle and a faster engine fill better, between 0.3 and 0.95."""
    openings = assumed_efficiency(np.array([0.0, 25.0, 50.0, 100.0]), np.full(4, 6000.0))

    assert (np.diff(openings) > 0).all()
    assert 0.3 <= openings.min() < openings.max() <= 0.95
    assert assumed_efficiency(np.array([100.0]), np.array([9000.0])) > assumed_efficiency(
        np.array([100.0]), np.array([3000.0])
    )
