"""One sensor for several cylinders: judged together, and each ring says which cylinder departs."""

from dataclasses import replace
from datetime import timedelta

import pytest

from bridge.agreement.compare import compare
from bridge.agreement.kept import TOGETHER
from bridge.agreement.pairs import pairs_of
from tests.bridge.agreement.test_departure import depth_of, read_at, ride, sound
from tests.virtual_runs import BIKE, NOW, life, reading

TWIN = BIKE.model_copy(update={"sensor": "collector"})


def session(rings, measured=0.87, number=9, pairs=()):
    """Return a session of a twin with one sensor, its rings those of the lambdas given."""
    run = ride(measured, number=number, bike=TWIN, columns=("lambda",))
    lives = [life(run, c, seen=read_at(ring, plug=f"A{c}")) for c, ring in enumerate(rings, start=1)]
    return compare(run, lives, pairs=pairs)


def averages(count=8):
    """Return that many sessions' pairs of all cylinders together."""
    return [
        replace(one, pair=replace(one.pair, cylinder=TOGETHER, depth_sd_mm=0.28))
        for one in sound(range(1, 1 + count))
    ]


def test_all_cylinders_make_one_pair_together():
    """The rings' mean and the average that the sensor sees make one pair, with a mean's doubt."""
    made, left = pairs_of(session([0.85, 0.89]), 1)

    assert not left
    (one,) = made
    assert one.pair.cylinder == TOGETHER
    assert one.pair.depth_mm == pytest.approx(depth_of(0.87))
    assert one.pair.depth_sd_mm == pytest.approx(0.4 / 2**0.5)
    assert dict(one.depths) == pytest.approx({1: depth_of(0.85), 2: depth_of(0.89)})


def test_with_one_reading_missing_there_is_no_pair_and_no_judgement_together():
    """The mean of some rings is not what the sensor sees: nothing is judged, and the reason is told."""
    run = ride(bike=TWIN, columns=("lambda",))
    found = compare(run, [life(run, 1, seen=read_at(0.87)), life(run, 2, seen=None)], pairs=averages())
    made, left = pairs_of(found, 1)

    assert not made
    assert {one.cylinder for one in left} == {1, 2}
    assert found.together is None


def test_unequal_cylinders_agree_together_and_each_ring_says_which_departs():
    """With 0.05 to each side the mean agrees with the sensor, and the rings name the lean and the rich one."""
    found = session([0.92, 0.82], pairs=averages())
    together = found.together

    assert together.scale == "pairs"
    assert together.difference.verdict == "agree"
    assert [one.departs for one in together.cylinders] == ["leaner", "richer"]
    assert sum(one.difference for one in together.cylinders) == pytest.approx(0.0, abs=1e-9)
    assert "cylinder 1 is leaner" in together.statement
    assert [one.verdict for one in found.cylinders] == ["ring leaner", "ring richer"]
    assert {one.causes[0].cause for one in found.cylinders} == {"collector averaging its cylinders"}


def test_equal_cylinders_depart_from_nobody():
    """Two rings alike and right: together they agree, and none departs."""
    found = session([0.872, 0.868], pairs=averages())

    assert found.together.difference.verdict == "agree"
    assert {one.departs for one in found.together.cylinders} == {"not surely"}
    assert "No cylinder" in found.together.statement


def test_a_sensor_that_is_off_departs_together():
    """Both rings richer than the sensor by 0.06: the mean is richer, and no cylinder departs from the other."""
    found = session([0.87, 0.87], measured=0.93, pairs=averages())

    assert found.together.difference.verdict == "ring richer"
    assert {one.departs for one in found.together.cylinders} == {"not surely"}
    assert all(one.causes[0].cause != "collector averaging its cylinders" for one in found.cylinders)


def test_without_history_the_guess_says_little_together():
    """By the guess alone the mean cannot say, while a wide spread of the rings still shows."""
    found = session([0.97, 0.77])

    assert found.together.scale == "guess"
    assert found.together.difference.verdict == "cannot say"
    assert found.together.cylinders[0].difference > 0.0
    assert found.to_json()["together"]["cylinders"][0].keys() == {
        "cylinder",
        "difference",
        "low",
        "high",
        "departs",
    }


def test_own_sensors_are_never_judged_together():
    """Where each cylinder has its own sensor there is nothing to judge together."""
    run = ride(bike=BIKE, columns=("lambda_1", "lambda_2"))
    found = compare(run, [life(run, c, seen=reading(f"A{c}")) for c in (1, 2)])

    assert found.together is None
    assert found.to_json()["together"] is None


def test_pairs_together_carry_their_time():
    """A pair of all together knows when its session was, so that a history is in order."""
    (one,), _ = pairs_of(session([0.87, 0.87]), 1)

    assert one.started == NOW
    assert one.started < NOW + timedelta(seconds=1)
