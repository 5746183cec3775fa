"""The causes: each one's own pattern puts it at the top, contrary evidence lowers it, and nothing is ever sure."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from bridge.agreement.causes.next_test import expected_bits, next_test
from bridge.agreement.causes.picture import EGT_SLOPES, Exhaust, Picture, Value, facts_of
from bridge.agreement.causes.rank import rank
from bridge.agreement.causes.running import Running
from bridge.agreement.causes.table import BASE, CAUSES, LEAST_UNKNOWN, NOT_KNOWN
from bridge.agreement.causes.tests import TESTS
from bridge.agreement.causes.usual import usual
from bridge.plug.validity import Validity
from tests.virtual_runs import life, reading, run_of

QUIET = tuple(Value(0.0, 0.01) for _ in range(4))
"""Four earlier sessions in which nothing was off."""


def exhaust(cooler_k=0.0, lambda_=0.88):
    """Return exhaust gas as hot as its 0.88 makes it, or cooler."""
    count = len(EGT_SLOPES)
    weights = np.zeros(count)
    weights[3] = 1.0
    return Exhaust(700.0 - cooler_k, lambda_, weights, np.full(count, 700.0), np.full(count, 6.0))


def picture(difference=-0.06, **changes):
    """Return a twin whose first cylinder's ring reads 0.06 richer than the sensor, and nothing else is off."""
    facts = {
        fact: max(levels, key=levels.get) for fact, levels in BASE.items() if fact not in {"view", "oil"}
    }
    facts.pop("sensor's check")
    seen = Picture(
        strokes=4,
        cylinders=2,
        averaged=False,
        measured=0.88,
        difference=Value(difference, 0.011),
        own_sd=0.009,
        others=(Value(0.0, 0.009),),
        before=QUIET,
        idle=Value(0.0, 0.012),
        part=Value(0.0, 0.012),
        full=Value(0.0, 0.012),
        exhaust=exhaust(),
        head=Value(0.0, 4.0),
        facts=facts,
    )
    told = changes.pop("facts", {})
    return replace(seen, **changes, facts=facts | told)


def lies(size=0.06, idle=0.0, part=0.0, **changes):
    """Return what it looks like when the sensor reads ``size`` too lean at full throttle."""
    return picture(
        -size,
        full=Value(size, 0.012),
        idle=Value(idle, 0.012),
        part=Value(part, 0.012),
        exhaust=exhaust(450.0 * size),
        measured=0.88 + 0.0 * size,
        **changes,
    )


ALIKE = (Value(-0.06, 0.009),)
STAYS = (Value(0.0, 0.01), Value(0.0, 0.01), Value(-0.06, 0.01), Value(-0.06, 0.01))
GROWS = (Value(-0.01, 0.008), Value(-0.02, 0.008), Value(-0.03, 0.008), Value(-0.045, 0.008))
MIXTURE = {"exhaust": exhaust(), "difference": 0.0}

PATTERNS = {
    "old or fouled plug": picture(facts={"plug when fitted": "used"}),
    "coloured on the way in": picture(facts={"gap before the cut": "fail"}, others=ALIKE),
    "wrong heat range": picture(facts={"heat range": "colder"}),
    "too few seconds at full throttle": picture(0.06, facts={"full throttle on the plug": "fail"}),
    "air leak before the sensor": lies(idle=0.2, part=0.1, before=STAYS),
    "misfire": lies(facts={"misfire at full throttle": "much", "wet": "yes"}),
    "short-circuited charge": lies(idle=0.09, part=0.09, before=STAYS, others=ALIKE, strokes=2),
    "collector averaging its cylinders": picture(
        0.05, others=(Value(-0.05, 0.009),), averaged=True, before=tuple(Value(0.05, 0.01) for _ in range(4)),
        exhaust=None,
    ),
    "wrong fuel told to the sensor": lies(idle=0.063, part=0.063, before=STAYS, others=ALIKE),
    "aged sensor": lies(idle=0.035, part=0.04, before=GROWS, facts={"sensor's check": "old"}),
    "engine rebuilt": picture(0.06, others=(Value(0.06, 0.009),), before=tuple(Value(-v.value, v.sd) for v in STAYS)),
    "blocked or loose jet": picture(
        full=Value(0.09, 0.012), beside=Value(0.09, 0.01), part=Value(0.02, 0.012), **MIXTURE
    ),
    "fuel level": picture(
        full=Value(0.06, 0.012), beside=Value(0.06, 0.01), part=Value(0.06, 0.012), idle=Value(0.06, 0.012), **MIXTURE
    ),
    "ignition weak": lies(before=STAYS, facts={"misfire at full throttle": "some"}),
    "oil in the chamber": picture(facts={"wet": "yes", "soot specks": "yes", "oil": "yes"}),
    "reading error of the person": picture(0.06, before=QUIET, after=QUIET, facts={"view": "magnifier"}),
}  # fmt: skip  # one row a cause


@pytest.mark.parametrize("cause", [row.name for row in CAUSES])
def test_each_causes_own_pattern_puts_it_among_the_first_two(cause):
    """What a cause does by its physics, invented by hand, puts it first or second of all."""
    found = rank(PATTERNS[cause])

    assert cause in [one.cause for one in found.causes[:2]]
    assert found.sound < 0.5


CONTRARY = {
    "old or fouled plug": {"exhaust": exhaust(27.0), "full": Value(0.06, 0.012), "idle": Value(0.2, 0.012)},
    "coloured on the way in": {"facts": {"gap before the cut": "pass"}},
    "wrong heat range": {"facts": {"heat range": "usual"}},
    "too few seconds at full throttle": {"facts": {"full throttle on the plug": "pass"}},
    "air leak before the sensor": {"idle": Value(0.0, 0.012)},
    "misfire": {"facts": {"misfire at full throttle": "none", "wet": "no"}},
    "short-circuited charge": {"idle": Value(-0.05, 0.012), "part": Value(-0.05, 0.012)},
    "collector averaging its cylinders": {"others": (Value(0.05, 0.009),)},
    "wrong fuel told to the sensor": {"others": (Value(0.0, 0.009),)},
    "aged sensor": {"facts": {"sensor's check": "fresh"}},
    "engine rebuilt": {"others": (Value(0.0, 0.009),)},
    "blocked or loose jet": {"idle": Value(0.09, 0.012)},
    "fuel level": {"idle": Value(0.0, 0.012), "part": Value(0.0, 0.012)},
    "ignition weak": {"idle": Value(0.15, 0.012), "part": Value(0.08, 0.012)},
    "oil in the chamber": {"facts": {"wet": "no", "soot specks": "no", "oil": "no"}},
    "reading error of the person": {"before": tuple(Value(0.06, 0.01) for _ in range(4))},
}


@pytest.mark.parametrize("cause", [row.name for row in CAUSES])
def test_contrary_evidence_lowers_a_cause(cause):
    """The same pattern with one thing the other way round makes the cause less likely."""
    seen = PATTERNS[cause]
    changes = dict(CONTRARY[cause])
    told = seen.facts | changes.pop("facts", {})
    weight = {one.cause: one.weight for one in rank(seen).causes}[cause]
    after = {one.cause: one.weight for one in rank(replace(seen, **changes, facts=told)).causes}[cause]

    assert after < weight


@pytest.mark.parametrize("cause", [row.name for row in CAUSES])
def test_the_weights_add_up_and_the_unknown_keeps_its_share(cause):
    """Whatever is seen, the weights add up to 1, each lies between, and what nobody knows is never left out."""
    found = rank(PATTERNS[cause]).causes

    assert sum(one.weight for one in found) == pytest.approx(1.0)
    assert all(0.0 <= one.weight <= 1.0 for one in found)
    assert found[-1].cause == NOT_KNOWN
    assert found[-1].weight >= LEAST_UNKNOWN * 0.999


def test_a_ring_on_the_other_side_turns_leak_and_misfire_away():
    """A leak and a misfire read lean, so a ring that is leaner than the sensor speaks against both."""
    ring_alone = {"idle": None, "part": None, "full": None, "exhaust": None}
    richer = {one.cause: one.weight for one in rank(picture(-0.06, **ring_alone)).causes}
    leaner = {one.cause: one.weight for one in rank(picture(0.06, **ring_alone)).causes}

    for cause in ("air leak before the sensor", "misfire", "ignition weak", "short-circuited charge"):
        assert leaner[cause] < 0.1 * richer[cause]


def test_nothing_wrong_is_likely_where_nothing_is_off():
    """Noise of both methods explains a small difference, and far less a large one."""
    assert rank(picture(0.004)).sound > 0.9
    assert rank(picture(-0.06)).sound < 0.1


def test_with_nothing_seen_all_weights_are_those_of_the_table():
    """Where nothing is known at all, the causes stand by their own weights, those of a two-stroke on a two-stroke."""
    for strokes, column in ((4, 0), (2, 1)):
        found = rank(Picture(strokes, 1, averaged=False)).causes
        first = max((row for row in CAUSES if row.fools != "average"), key=lambda row: row.weight[column])
        assert found[0].weight == pytest.approx(max(one.weight for one in found))
        assert {one.cause: one.weight for one in found}[first.name] == pytest.approx(found[0].weight)


def test_the_table_has_the_causes_that_the_trade_knows():
    """The eleven known causes and five more stand there, each with a weight, a pattern and a test that settles it."""
    assert len(CAUSES) == 16
    assert len({row.name for row in CAUSES}) == 16
    for row in CAUSES:
        assert row.test in TESTS
        assert row.once + row.stays + row.grows == pytest.approx(1.0)
        assert 0.0 <= row.leaner <= 1.0
        assert min(row.weight) > 0.0
        settling = TESTS[row.test]
        assert settling.shares[row.name] == max(settling.shares.values()) or settling.shares[row.name] >= 0.85
        for fact, levels in row.facts.items():
            assert levels.keys() == BASE[fact].keys()
            assert sum(levels.values()) == pytest.approx(1.0)
    for levels in BASE.values():
        assert sum(levels.values()) == pytest.approx(1.0)


def test_the_next_test_separates_the_two_that_lead():
    """Of a leak and an aged sensor the test is one whose outcomes speak for one each."""
    weights = {"air leak before the sensor": 0.48, "aged sensor": 0.48, NOT_KNOWN: 0.04}
    found = next_test(weights, picture())

    assert set(found.separates) == {"air leak before the sensor", "aged sensor"}
    assert {names for _, names in found.outcomes} == {("air leak before the sensor",), ("aged sensor",)}
    possible = [test for test in TESTS.values() if test.needs != "collector"]
    assert found.bits == max(expected_bits(weights, test) for test in possible)


def test_expected_information_is_that_of_a_perfect_and_of_a_useless_test():
    """A test that always tells two equal causes apart brings one bit; one that never does brings none."""
    weights = {"a": 0.5, "b": 0.5}
    model = next(iter(TESTS.values()))

    assert expected_bits(weights, replace(model, shares={"a": 1.0, "b": 0.0})) == pytest.approx(1.0)
    assert expected_bits(weights, replace(model, shares={"a": 0.3, "b": 0.3})) == pytest.approx(0.0)


def test_sensors_are_swapped_only_where_there_are_several():
    """On a single, and with one sensor in a collector, no test asks to swap sensors."""
    weights = {"aged sensor": 0.5, "air leak before the sensor": 0.5}
    for seen in (picture(cylinders=1, others=()), picture(averaged=True)):
        assert next_test(weights, seen).test != TESTS["swap the sensors"].name


def test_reasons_carry_their_figures():
    """What speaks for a leak names the idle with its figure; what speaks against it the tight idle of another."""
    by_name = {one.cause: one for one in rank(PATTERNS["air leak before the sensor"]).causes}
    assert any("0.200" in why and "idle" in why for why in by_name["air leak before the sensor"].for_)
    by_name = {one.cause: one for one in rank(lies()).causes}
    assert any("idle" in why for why in by_name["air leak before the sensor"].against)


def test_usual_tells_a_step_from_scatter():
    """After a step only what was before it is usual; without one all sessions are."""
    plain = usual([0.90, 0.91, 0.905, 0.90], (0.004, 0.01), 0.08)
    stepped = usual([0.90, 0.91, 0.905, 0.98, 0.985], (0.004, 0.01), 0.08)

    assert plain.mean == pytest.approx(0.90375, abs=0.001)
    assert stepped.mean == pytest.approx(0.905, abs=0.002)
    assert usual([0.9], (0.004,), 0.08) is None
    assert usual([0.9, 0.9], (0.004,), 0.08).sd > 0.0


def test_every_test_that_can_hurt_somebody_has_its_caution():
    """Each test of the table stands with its caution, but the one that only writes something down."""
    assert [name for name, test in TESTS.items() if test.caution is None] == ["new build"]
    assert "carbon monoxide" in TESTS["gas analysis"].caution
    assert all("ignition off" in TESTS[name].caution for name in ("jet", "fuel level", "fuel"))


@pytest.mark.parametrize("cause", [row.name for row in CAUSES])
def test_nobody_is_sent_riding_while_a_plug_or_the_mixture_says_stop(cause):
    """With a stop mark the next test is one at the stand, whatever leads; without it riding may be the better one."""
    weights = {row.name: 0.001 for row in CAUSES} | {cause: 0.6, NOT_KNOWN: 0.385}
    stopped = next_test(weights, picture(no_ride=True))

    assert stopped is not None
    assert not next(test for test in TESTS.values() if test.name == stopped.test).rides
    assert stopped.caution or stopped.test == "a new scale"


def test_a_ride_is_proposed_where_nothing_stops_it():
    """Coloured on the way in against a reading error: a clean chop or new plugs, with the caution of a ride."""
    found = next_test({"coloured on the way in": 0.5, "oil in the chamber": 0.45, NOT_KNOWN: 0.05}, picture())

    assert next(test for test in TESTS.values() if test.name == found.test).rides
    assert "Full throttle" in found.caution


@pytest.mark.parametrize(
    ("note", "level"),
    [
        ("oily at the seat", "yes"),
        ("a film of oil", "yes"),
        ("no oil seen", "no"),
        ("dry, without any oil", "no"),
        ("not oily", "no"),
        ("soil in the threads", "no"),
        ("no trace of oil", "no"),
    ],
)
def test_oil_is_taken_from_what_was_written_and_a_denial_is_none(note, level):
    """Who writes that there is no oil has not seen oil."""
    plug = life(run_of(pl.DataFrame({"t_s": [0.0, 1.0], "rpm": [0.0, 0.0]})), seen=reading(note=note))
    facts, _ = facts_of(
        plug, Validity(valid=True, because=None, full_throttle_s=9.0, gap_s=0.0), Running(), [], None
    )

    assert facts["oil"] == level
