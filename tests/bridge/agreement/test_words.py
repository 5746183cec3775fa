"""The sentences claim no more than the interval."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.agreement.verdict import judge_difference, judge_leaner_than, judge_richer_than
from bridge.agreement.words import say
from bridge.budget import Budget, Component
from bridge.plug.exposure import measured
from bridge.plug.scale import RingLambda, guess, ring_lambda
from bridge.plug.validity import Validity
from tests.virtual_runs import life, reading, virtual_run

OVER = measured(life(virtual_run(1)[0]))
VALID = Validity(valid=True, because=None, full_throttle_s=13.0, gap_s=0.1)
RING = ring_lambda(reading(), guess(14.0), 14.0)


def doubt(sd):
    return Budget((Component("all of it", sd, "measured"),))


@given(difference=st.floats(-0.3, 0.3), sd=st.floats(0.001, 0.2))
def test_a_sentence_says_the_verdict_and_its_interval(difference, sd):
    """It agrees, takes a side or cannot say where the verdict does, with the interval's own figures."""
    found = judge_difference(difference, doubt(sd), 0.03)
    sentence = say(VALID, RING, OVER, found, None)

    assert sentence.startswith("They agree") is (found.verdict == "agree")
    assert sentence.startswith("Cannot say") is (found.verdict == "cannot say")
    assert ("reads leaner" in sentence) is (found.verdict == "ring leaner")
    assert ("reads richer" in sentence) is (found.verdict == "ring richer")
    figures = [abs(float(text)) for text in re.findall(r"[+-]?\d+\.\d{3}", sentence)]
    share = next(share for share in (0.90, 0.95, 0.99) if f"{share:.0%}".replace("%", " %") in sentence)
    assert (share == 0.90) is (found.verdict == "agree")
    for offset in found.budget.interval(share):
        end = found.difference + offset
        assert min(abs(abs(end) - figure) for figure in figures) < 0.0006


@pytest.mark.parametrize("judge", [judge_leaner_than, judge_richer_than])
@given(bound=st.floats(-0.3, 0.3), sd=st.floats(0.001, 0.2))
def test_a_one_sided_sentence_gives_a_bound_and_no_value(judge, bound, sd):
    """It gives the bound that holds as "at least", or cannot say; it never agrees."""
    side = "leaner" if judge is judge_leaner_than else "richer"
    ring = RingLambda(None, None, None, side, 0.9, doubt(sd))
    found = judge(bound, doubt(sd), 0.03)
    sentence = say(VALID, ring, OVER, found, None)

    assert "agree" not in sentence
    assert ("at least" in sentence) is (found.verdict == f"ring {side}")
    if found.verdict != "cannot say":
        assert f"reads {side} than the sensor" in sentence


def test_an_invalid_reading_says_why():
    """The reason stands in the sentence, and no figure of a difference."""
    invalid = Validity(
        valid=False, because="nobody could see the ring of plug A1", full_throttle_s=9.0, gap_s=0.0
    )
    found = judge_difference(0.0, doubt(0.001), 0.03)

    assert say(invalid, None, OVER, found, None) == "Cannot say: nobody could see the ring of plug A1."
