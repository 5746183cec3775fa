"""A valid ring that is lean is cautioned, as a lean sensor is. What lean is: common practice, no source."""

import pytest

from bridge.agreement import compare
from bridge.agreement.words import caution_on_ring
from bridge.budget import Budget, Component
from bridge.emulator.ride import practice
from bridge.plug.scale import RingLambda
from tests.virtual_runs import life, reading, virtual_run

DOUBT = Budget((Component("reading", 0.01, "measured"),))


def ring(mean, one_sided=None, bound=None):
    """Return a ring's lambda."""
    return RingLambda(mean, None, None, one_sided, bound, DOUBT)


@pytest.mark.parametrize(
    ("found", "leaner", "says"),
    [
        (ring(0.98), False, "lambda 0.980"),
        (ring(0.98), True, "lambda 0.980"),
        (ring(0.93), True, "leaner than the sensor"),
        (ring(None, "leaner", 0.97), False, "leaner than lambda 0.970"),
    ],
)
def test_a_ring_that_speaks_against_leaner_is_heard(found, leaner, says):
    """Lean by itself, leaner than the sensor, or leaner than can be seen: go no leaner."""
    said = caution_on_ring(found, leaner=leaner)
    assert says in said
    assert "go no leaner" in said


@pytest.mark.parametrize("found", [None, ring(0.88), ring(None, "richer", 0.75)])
def test_a_rich_ring_and_none_at_all_say_nothing(found):
    """No caution where the ring does not speak against leaner."""
    assert caution_on_ring(found) is None


def test_the_caution_stands_only_beside_a_valid_reading():
    """A deep ring on a clean cut is cautioned in words and for programs; the same after a roll-in is not."""
    run, _ = virtual_run(1)
    found = compare(run, [life(run, seen=reading(ring_mm=12.5))])
    told = found.to_json()["cylinders"][0]["caution"]
    assert "The ring reads lambda" in told
    assert any("The ring reads lambda" in text for text in found.in_words())

    rolled, _ = virtual_run(2, script=practice(laps=0, ending="roll in"))
    none = compare(rolled, [life(rolled, seen=reading(ring_mm=12.5))]).cylinders[0]
    assert not none.validity.valid
    assert none.caution is None
