"""A promise against what came: the change at full throttle, its interval, the air's own part, and the word for it."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from bridge.agreement.promises import came, next_of
from bridge.bands import bands
from bridge.model import Task, Weather
from bridge.physics.air import lambda_factor
from tests.virtual_runs import session, virtual_run

WRITTEN = datetime(2026, 5, 14, 12, 0, tzinfo=UTC)
COOL, HOT = (
    Weather(air_temp_c=10.0, air_pressure_hpa=1013.0, humidity_percent=50.0),
    Weather(air_temp_c=35.0, air_pressure_hpa=1013.0, humidity_percent=50.0),
)


def task(promise, cylinder=1):
    """A change that was promised in session 1."""
    return Task(1, 1, cylinder, "main jet 155 to 158", None, promise, WRITTEN)


@pytest.fixture(scope="module")
def ridden():
    """Bands of two rides: full throttle at 0.87, then at 0.85."""

    def one(number, main):
        run, _ = virtual_run(5, main=main, number=number)
        return bands(run)

    return one(1, 0.87), one(2, 0.85)


@pytest.mark.parametrize(
    ("promise", "how"),
    [(-0.02, "as promised"), (-0.2, "too little"), (-0.001, "too much"), (0.02, "the other way")],
)
def test_a_promise_is_held_against_what_came(ridden, promise, how):
    """Richer by 0.02 came: as promised, less than 0.2, more than 0.001, and the other way than leaner."""
    found = came(task(promise), *ridden, (COOL, COOL))

    assert found.how == how
    assert found.low < -0.02 < found.high
    assert found.high - found.low < 0.04  # the sensor's own accuracy cancels
    assert found.after == 2


def test_nothing_came_of_it_where_the_interval_holds_nothing_at_all(ridden):
    """The same ride again: a promise of 0.002 can be neither told nor denied."""
    same = replace(ridden[0], session=2)
    found = came(task(-0.002), ridden[0], same, (COOL, COOL))

    assert found.how == "cannot say"
    assert found.change == pytest.approx(0.0, abs=1e-9)


def test_the_air_of_the_day_is_taken_off(ridden):
    """Hot air is richer by itself, so the jet did less than was seen; without the weather it is said and doubted."""
    plain = came(task(-0.02), *ridden, (COOL, COOL))
    hot = came(task(-0.02), *ridden, (COOL, HOT))
    unknown = came(task(-0.02), *ridden, (COOL, None))

    factor = lambda_factor(35.0, 1013.0, 50.0, reference=(10.0, 1013.0, 50.0))
    assert factor < 1.0
    assert hot.air == pytest.approx(ridden[0].full_throttle[0].mean * (factor - 1.0))
    assert hot.change > plain.change
    assert hot.high - hot.low > plain.high - plain.low
    assert "The air alone" in hot.says
    assert unknown.high - unknown.low > plain.high - plain.low
    assert "A weather is missing" in unknown.says


def test_without_a_later_run_nothing_is_said(ridden):
    """No later session, or one without full throttle: the promise stands and waits."""
    waiting = came(task(-0.02), ridden[0], None)
    blind = came(task(-0.02), ridden[0], replace(ridden[1], full_throttle=()))

    assert (waiting.how, waiting.change, waiting.after) == ("cannot say", None, None)
    assert "no later session" in waiting.says
    assert blind.change is None
    assert "no steady full throttle" in blind.says


def test_the_answer_comes_from_a_later_session_of_the_same_build():
    """An earlier one, one of another build and one that is not sealed answer nothing."""
    later = timedelta(hours=1)
    own = session(1)
    all_ = [
        replace(session(5), started=own.started - later),
        own,
        replace(session(2), started=own.started + later, state="recording"),
        replace(session(3), started=own.started + 2 * later, build=2),
        replace(session(4), started=own.started + 3 * later),
    ]
    assert next_of(task(-0.02), all_) == [4]
    assert next_of(replace(task(-0.02), session=9), all_) == []


def test_one_sensor_for_all_answers_for_a_cylinder(ridden):
    """Where one sensor stands in the collector its change stands for the cylinder that was promised."""
    collector = [
        replace(one, full_throttle=(replace(one.full_throttle[0], cylinder=None),)) for one in ridden
    ]
    assert came(task(-0.02, cylinder=2), *collector, (COOL, COOL)).how == "as promised"
    assert came(task(-0.02, cylinder=None), *collector, (COOL, COOL)).how == "as promised"


def test_a_promise_for_the_whole_engine_is_held_against_all_cylinders(ridden):
    """The mean of both cylinders changes as each did, and is somewhat surer than one alone."""
    whole = came(task(-0.02, cylinder=None), *ridden, (COOL, COOL))
    each = [came(task(-0.02, cylinder=number), *ridden, (COOL, COOL)) for number in (1, 2)]

    assert whole.change == pytest.approx(sum(one.change for one in each) / 2.0)
    assert whole.high - whole.low < max(one.high - one.low for one in each)


def test_a_change_that_nobody_made_is_not_judged(ridden):
    """Neither ticked off nor on record as changed: what came came of something else."""
    found = came(task(-0.02), *ridden, (COOL, COOL), changed=False)

    assert (found.how, found.change) == ("cannot say", None)
    assert "not ticked off" in found.says
