"""What a session's delay does where there is little or nothing to ask."""

import numpy as np
import pytest

from bridge.align import Found, geometry_delay, session_delay
from bridge.model import Bike, Weather

BIKE = Bike(
    name="b", strokes=4, cylinders=1, displacement_cc=200.0, sensor_distance_mm=800.0, pipe_bore_mm=38.0
)


def asked(t_s, rpm, throttle, lambdas, bike=BIKE) -> Found:
    """Return the delay of columns."""
    return session_delay(t_s, rpm, throttle, None, lambdas, bike, Weather())


def columns(seconds=60.0, rate_hz=50.0):
    """Return times, speed and a throttle that goes up and down every three seconds."""
    t_s = np.arange(0.0, seconds, 1.0 / rate_hz)
    throttle = np.where((t_s // 3.0) % 2 == 0, 20.0, 80.0)
    return t_s, np.full(len(t_s), 6000.0), throttle


def answered(t_s, throttle, dead_s=0.05, lag_s=0.1, noise=0.002):
    """Return what a sensor says of a mixture that follows the throttle at once (closed form, step by step)."""
    moves = np.flatnonzero(np.diff(throttle)) + 1
    seen = np.full(len(t_s), 0.95 - 0.001 * throttle[0])
    for at in moves:
        since = np.maximum(t_s - t_s[at] - dead_s, 0.0)
        seen -= 0.001 * (throttle[at] - throttle[at - 1]) * (1.0 - np.exp(-since / lag_s))
    return seen + np.random.default_rng(1).normal(0.0, noise, len(t_s))


def test_a_plain_train_of_steps_has_the_delay_put_into_it():
    """Steps of the throttle answered after 0.05 s with a lag of 0.1 s have a delay of 0.15 s (closed form)."""
    t_s, rpm, throttle = columns()
    found = asked(t_s, rpm, throttle, {"lambda_1": answered(t_s, throttle)})

    # a throttle that jumps between two rows moved half a row before the second one on the mean
    assert found.delay.from_ == "ride"
    assert found.delay.seconds == pytest.approx(0.15, abs=0.02)
    assert found.fit.steps >= 15
    # one of the two openings has the median flow, held steady at 2 s and at 5 s
    assert np.abs(found.later_s[[100, 250]] - found.delay.seconds).min() < 1e-3


def test_two_sensors_are_told_apart_and_taken_together():
    """A slow and a quick sensor each have their own delay; the session's lies between them."""
    t_s, rpm, throttle = columns()
    quick, slow = answered(t_s, throttle, lag_s=0.06), answered(t_s, throttle, lag_s=0.16)
    found = asked(t_s, rpm, throttle, {"lambda_1": quick, "lambda_2": slow})
    each = found.fit.per_channel

    assert each["lambda_2"] > each["lambda_1"] + 0.05
    assert each["lambda_1"] < found.fit.best_s < each["lambda_2"]


def test_readings_that_are_missing_do_not_matter():
    """A sensor that answers on every third row only, with a hole, has the same delay."""
    t_s, rpm, throttle = columns(rate_hz=100.0)
    seen = answered(t_s, throttle)
    seen[np.arange(len(seen)) % 3 != 0] = np.nan
    seen[(t_s > 20.0) & (t_s < 24.0)] = np.nan

    assert asked(t_s, rpm, throttle, {"lambda": seen}).delay.seconds == pytest.approx(0.15, abs=0.02)


@pytest.mark.parametrize("count", [0, 1, 2, 40])
def test_next_to_nothing_is_answered_by_geometry(count):
    """No rows, one row, a second of rows: the geometry stands in and nothing breaks."""
    t_s, rpm, throttle = (column[:count] for column in columns())
    found = asked(t_s, rpm, throttle, {"lambda_1": np.full(count, 0.9)})

    assert found.delay.from_ == "geometry"
    assert len(found.later_s) == count
    assert found.delay.note


@pytest.mark.parametrize(
    "lambdas", [{}, {"lambda_1": np.full(3000, np.nan)}, {"lambda_1": np.full(3000, 2.0)}]
)
def test_a_sensor_that_says_nothing_is_no_reason_to_guess(lambdas):
    """Without a channel, without readings, or with air alone, the delay is that of the pipe, and it is said."""
    t_s, rpm, throttle = columns()
    found = asked(t_s, rpm, throttle, lambdas)
    by_geometry, later_s = geometry_delay(t_s, rpm, throttle, None, BIKE, Weather())

    assert found.delay.from_ == "geometry"
    assert "geometry" in found.delay.note
    assert found.delay.seconds == by_geometry.seconds
    assert found.later_s == pytest.approx(later_s)


def test_an_engine_that_never_ran_is_no_ride():
    """A throttle that is played with while the engine stands tells nothing."""
    t_s, _, throttle = columns()
    found = asked(t_s, np.zeros(len(t_s)), throttle, {"lambda_1": np.full(len(t_s), 0.9)})

    assert found.delay.from_ == "geometry"
    assert len(found.later_s) == len(t_s)
