"""The delay found from blind rides, whose truth is known (invented, seeded; ``blind_rides.py``)."""

from dataclasses import replace

import numpy as np
import pytest

from bridge.align import geometry_delay
from bridge.model import Weather
from tests.published.blind_rides import blind_ride, blind_spec
from tests.published.blind_trial import found_in, outcome

RIDES = range(60, 82)
# one sensor a ride keeps this file within a minute; blind_trial.py rides the whole variety
ONE = {"cylinders": 1, "collector": False}
PLAIN = {
    **ONE,
    "kind": "track",
    "seconds": 200.0,
    "rate_hz": 50.0,
    "map_kind": "circuits",
    "map_spread": 0.05,
    "noise": 0.003,
    "noise_s": 0.0,
    "wander": 0.003,
    "nulls": 0.0,
    "gaps": 0,
    "cuts": 0,
    "overrun_air": False,
    "slow_lambda_hz": 0.0,
    "lag_on_phi": False,
    "clip": (0.6, 2.0),
    "told": "right",
    "told_factor": 1.0,
    "lag_s": 0.1,
    "dead_s": 0.02,
    "film_share": 0.1,
    "film_s": 0.35,
    "length_mm": 800.0,
    "cc": 200.0,
    "strokes": 4,
}


@pytest.fixture(scope="module")
def outcomes():
    """Ride all rides: maps, pipes, films, sensors, noise and what the bike's file says are drawn at random."""
    rides = (blind_ride(blind_spec(seed, **ONE)) for seed in RIDES)
    return [outcome(ride, found_in(ride)) for ride in rides]


def plain(seed=7, **changes):
    """Return an ordinary ride and what its delay was found to be."""
    ride = blind_ride(blind_spec(seed, **(PLAIN | changes)))
    return ride, found_in(ride)


def test_rides_with_steps_tell_their_delay(outcomes):
    """At most three in ten of the rides, however drawn, are refused."""
    assert sum(one.refused is None for one in outcomes) >= 0.7 * len(outcomes)


def test_the_delay_is_within_twenty_milliseconds(outcomes):
    """Of the delays that these hard rides told, 85 in 100 are within 20 ms of the truth, and none is 40 off."""
    errors = np.array([abs(one.error_s) for one in outcomes if one.refused is None])

    assert (errors < 0.02).mean() >= 0.85
    assert errors.max() < 0.04


def test_the_standard_errors_hold(outcomes):
    """The 95 % intervals hold the truth in nine rides of ten and more, and are not padded fourfold."""
    told = [one for one in outcomes if one.refused is None]
    off = np.array([one.error_s / one.sd_s for one in told])

    assert (np.abs(off) <= 1.96).mean() >= 0.9 - 1.0 / len(off)
    assert np.sqrt(np.mean(off**2)) > 0.25


@pytest.mark.parametrize(("share", "stay_s"), [(0.0, 0.3), (0.3, 0.2), (0.3, 0.8)])
def test_fuel_on_the_wall_does_not_pass_for_delay(share, stay_s):
    """The same ride with no fuel on the wall and with much of it has the same delay within 20 ms."""
    ride, found = plain(film_share=share, film_s=stay_s)

    assert found.delay.from_ == "ride"
    assert found.delay.seconds == pytest.approx(ride.delay_s, abs=0.02)


def test_a_longer_pipe_takes_longer_and_so_does_a_slower_sensor():
    """Directions: what the bike's file says stays the same, the truth moves, the ride tells."""
    usual = plain()[1].delay
    slow = plain(lag_s=0.2)[1].delay
    far = plain(length_mm=2400.0, told="wrong", told_factor=1.0 / 3.0)[1].delay

    assert slow.lag_s > usual.lag_s + 0.05
    assert slow.seconds > usual.seconds + 0.06
    assert far.seconds > usual.seconds + 0.02


@pytest.mark.parametrize(
    ("told", "factor"), [("wrong", 0.5), ("wrong", 2.0), ("none", 1.0), ("no pipe", 1.0)]
)
def test_the_ride_overrules_a_file_that_is_wrong_or_missing(told, factor):
    """With half or twice the pipe in the bike's file, or none at all, the delay is right all the same."""
    ride, found = plain(told=told, told_factor=factor)

    assert found.delay.from_ == "ride"
    assert found.delay.seconds == pytest.approx(ride.delay_s, abs=0.02)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"kind": "constant"}, "moved"),
        ({"kind": "few steps"}, "moved"),
        ({"map_kind": "flat", "film_share": 0.0}, "hardly explain"),
    ],
)
def test_a_ride_with_too_little_in_it_is_refused(changes, words):
    """No steps, few steps, or a mixture that the throttle hardly moves: the geometry stands in, and it is said."""
    ride, found = plain(**changes)
    t_s = ride.frame["t_s"].to_numpy()
    rpm, throttle, egt = (
        ride.frame[name].to_numpy() if name in ride.frame.columns else None
        for name in ("rpm", "throttle", "egt")
    )
    by_geometry, later_s = geometry_delay(t_s, rpm, throttle, egt, ride.bike, Weather())

    assert found.delay.from_ == "geometry"
    assert words in found.fit.refused
    assert words in found.delay.note
    assert found.delay == replace(by_geometry, note=found.delay.note)
    assert found.later_s == pytest.approx(later_s, nan_ok=True)


def test_without_a_throttle_channel_nothing_is_asked():
    """Lambda cannot be explained by a throttle that nobody recorded; the note names the channel."""
    ride = blind_ride(blind_spec(7, **PLAIN))
    found = found_in(ride, throttle=None)

    assert found.delay.from_ == "geometry"
    assert found.fit is None
    assert "throttle channel" in found.delay.note


def test_what_the_fit_shows_belongs_to_the_delay():
    """The misfit is least at the best delay, the interval lies about it, and the example follows lambda."""
    _, found = plain()
    fit = found.fit

    assert fit.refused is None
    assert fit.low_s < fit.best_s == found.delay.seconds < fit.high_s
    assert fit.lag_axis_s[np.argmin(fit.misfit)] == pytest.approx(fit.best_s, abs=0.006)
    assert fit.misfit[0] > 1.01 < fit.misfit[-1]
    assert found.delay.dead_s + found.delay.lag_s == pytest.approx(found.delay.seconds)
    seen, explained = fit.example.seen, fit.example.explained
    both = np.isfinite(seen)
    assert np.corrcoef(seen[both], explained[both])[0, 1] > 0.8


def test_the_delay_of_each_row_is_that_of_its_own_flow():
    """Readings never overtake one another, and at the median flow under load a row has the session's delay."""
    ride, found = plain()
    t_s = ride.frame["t_s"].to_numpy()
    loaded = ride.frame["throttle"].to_numpy() > 10.0

    assert (np.diff(t_s + found.later_s) > -1e-9).all()
    assert np.median(found.later_s[loaded]) == pytest.approx(found.delay.seconds, abs=0.02)


def test_a_wild_guess_on_the_way_reaches_nobody():
    """A ride on which the fit tries what overflows is answered all the same, and without a warning."""
    ride = blind_ride(blind_spec(328))
    one = outcome(ride, found_in(ride))

    assert one.refused is not None or abs(one.error_s) < 0.06
