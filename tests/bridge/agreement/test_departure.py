"""Departure from the bike's history: what cancels, what is told apart, what is left alone, and bad input."""

import json
from dataclasses import replace
from datetime import timedelta

import numpy as np
import polars as pl
import pytest

from bridge.agreement.causes.next_test import next_test
from bridge.agreement.causes.picture import Picture
from bridge.agreement.causes.tests import TESTS
from bridge.agreement.compare import compare
from bridge.agreement.history import history
from bridge.agreement.kept import Kept
from bridge.agreement.pairs import pairs_of
from bridge.plug.ring_fit import RingPair
from bridge.plug.scale import fit_prior
from tests.virtual_runs import BIKE, NOW, life, reading, run_of

NOSE_MM = 14.0
SLOPE_MM = 52.0
SINGLE = BIKE.model_copy(update={"cylinders": 1})


def depth_of(lambda_):
    """Return where the ring of a lambda sits by an invented straight law [mm]."""
    return 7.0 + SLOPE_MM * (lambda_ - 0.87)


def kept(session, measured, ring=None, *, cylinder=1, noise_mm=0.0, **changes):
    """Return a pair whose ring is that of another lambda than was measured, where one is told."""
    depth = depth_of(measured if ring is None else ring) + noise_mm
    pair = RingPair(session, cylinder, measured, 0.001, depth, 0.4)
    whole = Kept(pair, f"P{session}", "short", NOSE_MM, 1, None, NOW + timedelta(days=session - 9))
    return replace(whole, **changes)


def sound(sessions, *, seed=1, cylinders=(1,), sensor=0.0):
    """Return pairs of a sound bike whose jets were changed by some hundredths."""
    random = np.random.default_rng(seed)
    pairs = []
    for session in sessions:
        jets = 0.87 + random.uniform(-0.03, 0.03)
        pairs += [
            kept(session, jets + sensor, jets, cylinder=c, noise_mm=0.4 * random.standard_normal())
            for c in cylinders
        ]
    return pairs


def ride(lambda_=0.87, *, number=9, bike=SINGLE, full_s=30.0, columns=("lambda_1",)):
    """Return a short ride with a chop at its end."""
    rate = 10.0
    what = np.repeat(["idle", "part", "full"], [int(seconds * rate) for seconds in (8.0, 12.0, full_s)])
    random = np.random.default_rng(number)
    full = what == "full"
    values = np.where(full, lambda_, 0.92) + random.normal(0, 0.003, len(what))
    frame = pl.DataFrame(
        {
            "t_s": np.arange(len(what)) / rate,
            "rpm": np.select([full, what == "idle"], [8000.0, 1500.0], 5000.0),
            "throttle": np.select([full, what == "idle"], [100.0, 0.0], 45.0),
        }
        | dict.fromkeys(columns, values)
    )
    return run_of(frame, number=number, bike=bike)


def read_at(lambda_, **changes):
    """Return a reading of the ring that a lambda leaves by the law above."""
    return reading(ring_mm=depth_of(lambda_), **changes)


def judged(pairs, ring=0.87, measured=0.87, **changes):
    """Return cylinder one of a session judged by some pairs."""
    run = ride(measured)
    return compare(run, [life(run, seen=read_at(ring), **changes)], pairs=pairs).cylinders[0]


def test_a_ring_as_in_its_history_agrees_and_names_both_scales():
    """With eight sound pairs a ring where it belongs agrees, by the pairs; the guess stands beside."""
    found = judged(sound(range(1, 9)))
    document = compare(ride(), [life(ride(), seen=read_at(0.87))], pairs=sound(range(1, 9))).to_json()
    cylinder = document["cylinders"][0]

    assert found.verdict == "agree"
    assert found.departed.pairs == 8
    assert json.loads(json.dumps(document, allow_nan=False)) == document
    assert cylinder["scale"] == "pairs"
    assert cylinder["scales"] == {"absolute": "guess", "departure": "pairs"}
    assert cylinder["departure"].keys() >= {"difference", "low", "high", "verdict", "pairs", "sessions"}
    assert cylinder["verdict"] == cylinder["departure"]["verdict"]
    assert cylinder["absolute"]["verdict"] == "cannot say"


@pytest.mark.parametrize(("off", "verdict"), [(0.06, "ring leaner"), (-0.06, "ring richer")])
def test_a_ring_that_departs_is_told_with_its_side(off, verdict):
    """A ring 0.06 off its history is told, on the right side, with causes whose weights add up to 1."""
    found = judged(sound(range(1, 9)), ring=0.87 + off)

    assert found.verdict == verdict
    assert found.departure.low < off < found.departure.high
    assert sum(one.weight for one in found.causes) == pytest.approx(1.0)
    assert found.causes[-1].cause == "not known"
    assert found.next_test is not None
    assert "likeliest cause" in found.statement or "It may be" in found.statement


def test_a_constant_error_of_the_sensor_cancels_in_the_departure_alone():
    """A sensor that reads 0.04 lean all season is no departure; its own accuracy counts in the absolute alone."""
    found = judged(sound(range(1, 9), sensor=0.04), ring=0.87, measured=0.91)

    assert found.verdict == "agree"
    assert abs(found.departure.difference) < 0.015
    names = {part.name for part in found.departure.budget.components}
    assert "the sensor's own accuracy" not in names
    assert "the sensor's own accuracy" in {part.name for part in found.absolute.budget.components}


def test_a_session_is_never_judged_by_its_own_pair():
    """All pairs may be given: the session's own changes nothing, however odd it is."""
    others = sound(range(1, 9))
    found = judged(others)
    with_own = judged([*others, kept(9, 0.87, 1.05)])

    assert with_own.departed.pairs == found.departed.pairs == 8
    assert with_own.departure.difference == pytest.approx(found.departure.difference, abs=1e-6)
    assert with_own.departure.low == pytest.approx(found.departure.low, abs=1e-6)


@pytest.mark.parametrize("change", [{"plug_type": "long"}, {"nose_mm": 12.0}, {"build": 2}])
def test_pairs_of_another_plug_or_build_do_not_count(change):
    """A scale holds for one plug type and nose in one build: others make no history."""
    found = judged([replace(one, **change) for one in sound(range(1, 9))])

    assert found.departure is None
    assert found.verdict == "cannot say"


@pytest.mark.parametrize("pairs", [[], sound([1]), sound([1, 2]), sound([1], cylinders=(1, 2, 3))])
def test_too_few_pairs_make_no_departure(pairs):
    """Under three pairs, or all of one session, there is no departure and nothing breaks."""
    found = judged(pairs)

    assert found.departure is None
    assert found.verdict == "cannot say"


def test_three_pairs_say_less_than_eight():
    """With three pairs the interval is wider than with eight."""
    few, many = judged(sound([1, 2, 3])), judged(sound(range(1, 9)))
    width = [one.departure.high - one.departure.low for one in (few, many)]

    assert width[0] > 1.15 * width[1]


def test_identical_pairs_say_what_they_cannot():
    """Pairs without any spread leave the slope to the guess: a ring away from them has a wide interval."""
    same = [kept(session, 0.87) for session in range(1, 9)]
    here, away = judged(same), judged(same, ring=0.93)

    assert here.departure is not None
    assert away.departure.high - away.departure.low > 1.2 * (here.departure.high - here.departure.low)


def test_two_identical_pairs_and_one_are_no_trouble():
    """The history of two identical pairs, and of three with no doubt of the measured lambda, still has its doubts."""
    twins = [kept(1, 0.87), kept(1, 0.87), kept(2, 0.87)]
    none = [replace(one, pair=replace(one.pair, lambda_sd=0.0)) for one in twins]
    for pairs in (twins, none):
        found = judged(pairs)
        assert found.departure.high > found.departure.low
        assert np.isfinite(found.departure.difference)


def test_a_history_of_nothing_but_no_ring_says_next_to_nothing():
    """Where every pair is one-sided the scale hardly knows more than the guess, and nothing agrees."""
    censored = [
        replace(one, pair=replace(one.pair, depth_mm=NOSE_MM, one_sided="leaner"))
        for one in sound(range(1, 9))
    ]
    found = judged(censored)

    assert found.verdict != "agree"


def test_an_invalid_reading_is_not_judged_and_its_broken_rule_leads():
    """A plug that was used when fitted cannot say, and the old plug leads the causes."""
    found = judged(sound(range(1, 9)), ring=0.80, state="used")

    assert found.verdict == "cannot say"
    assert found.departure.difference is None
    assert found.causes[0].cause == "old or fouled plug"


def test_a_session_without_full_throttle_says_so():
    """Without a chop there is no measured lambda to hold a ring against: a plain sentence, no departure."""
    run = ride(full_s=0.0)
    found = compare(run, [life(run, seen=read_at(0.87))], pairs=sound(range(1, 9))).cylinders[0]

    assert found.verdict == "cannot say"
    assert found.departure is None
    assert found.statement.startswith("Cannot say")


def test_no_ring_departs_one_sided():
    """No ring, where the history puts the seat far leaner than the sensor reads, is a leaner ring."""
    run = ride(0.87, full_s=40.0)
    found = compare(run, [life(run, seen=reading(ring="none"))], pairs=sound(range(1, 9))).cylinders[0]

    assert found.verdict == "ring leaner"
    assert found.departure.difference is None
    assert found.departure.low > 0.0


def test_faulty_sessions_do_not_drag_the_scale_along():
    """With five sound sessions and three later ones off by 0.07, a sound one agrees and a faulty one departs."""
    off = [kept(session, 0.87 + 0.01 * (session - 7), 0.80 + 0.01 * (session - 7)) for session in (6, 7, 8)]
    pairs = [*sound(range(1, 6)), *off]
    faulty = judged(pairs, ring=0.80)
    known = history(pairs, fit_prior(NOSE_MM), NOSE_MM)

    assert faulty.verdict == "ring richer"
    assert known.off > 0.9
    assert set(known.stretches[0].sessions) == {6, 7, 8}
    assert all(one.off > 0.9 for one in known.past if one.kept.pair.session in {6, 7, 8})
    # a plain mean of all pairs would be half way
    assert abs(judged(pairs, ring=0.87).departure.difference) < 0.015


def test_a_sound_history_is_not_taken_for_a_faulty_one():
    """Over seasons of noise alone, what is taken to be off stays small."""
    off = [history(sound(range(1, 11), seed=seed), fit_prior(NOSE_MM), NOSE_MM).off for seed in range(12)]

    assert np.median(off) < 0.1
    assert np.mean(off) < 0.25


def test_sensors_that_stand_apart_make_no_departure():
    """Two cylinders whose sensors differ by 0.03 all season agree each by its own history."""
    pairs = sound(range(1, 9), cylinders=(1,)) + [
        replace(one, pair=replace(one.pair, cylinder=2, lambda_=one.pair.lambda_ + 0.03))
        for one in sound(range(1, 9), seed=1)
    ]
    bike = BIKE
    run = ride(0.87, bike=bike, columns=("lambda_1",))
    found = compare(run, [life(run, 1, seen=read_at(0.87))], pairs=pairs).cylinders[0]

    assert found.verdict == "agree"
    assert abs(found.departure.difference) < 0.012


def test_the_first_session_cannot_be_told_from_all_later_ones():
    """A first session that is off is not told to depart: nobody knows which side changed."""
    later = [replace(one, started=NOW + timedelta(days=one.pair.session)) for one in sound(range(10, 18))]
    found = judged(later, ring=0.80)

    assert found.verdict == "cannot say"
    assert any("first of the bike's sessions" in note for note in found.notes)


def test_a_single_with_the_engines_own_column_makes_pairs():
    """On one cylinder the engine's lambda is that cylinder's: it makes a pair, with what ran."""
    run = ride(columns=("lambda",))
    made, left = pairs_of(compare(run, [life(run, seen=read_at(0.87))]), 1)

    assert not left
    assert made[0].running.lambda_full == pytest.approx(0.87, abs=0.003)
    assert made[0].running.lambda_idle == pytest.approx(0.92, abs=0.01)
    assert made[0].started == NOW


def test_a_lean_mixture_or_a_stop_mark_sends_nobody_riding():
    """Ring and sensor differ: at lambda 1.02 and with aluminium on the plug the next test is one at the stand."""
    rides = {test.name: test.rides for test in TESTS.values()}
    run, pairs = ride(0.87), sound(range(1, 9))
    lean = judged(pairs, ring=0.93, measured=1.02)
    seen = read_at(0.80, specks="aluminium")
    stopped = compare(run, [life(run, seen=seen)], pairs=pairs).cylinders[0]

    for found in (lean, stopped):
        assert found.next_test is not None
        assert not rides[found.next_test.test]


def test_a_broken_rule_that_leads_gets_the_test_that_belongs_to_it():
    """A plug that was used: the old plug leads by what is known, and the test is chosen by these very shares."""
    found = judged(sound(range(1, 9)), ring=0.83, state="used")
    weights = {one.cause: one.weight for one in found.causes}
    chosen = next_test(weights, Picture(4, 1, averaged=False))

    assert found.causes[0].cause == "old or fouled plug"
    assert found.next_test.bits == pytest.approx(chosen.bits, abs=1e-12)
