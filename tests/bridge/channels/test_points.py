"""Calibration points: straight lines, their inverse, their ends, and points that turn back."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from bridge.channels.points import ordered, value_at
from bridge.errors import BadValue

THROTTLE = ((0.52, 0.0), (4.31, 100.0))
TABLE = ((-1.0, 0.8), (0.0, 1.0), (1.0, 2.0))


@st.composite
def monotone_points(draw):
    """Points whose readings and values both go one way all along."""
    n = draw(st.integers(2, 12))
    steps = st.lists(st.floats(0.05, 10.0), min_size=n, max_size=n)
    readings, values = np.cumsum(draw(steps)), np.cumsum(draw(steps))
    points = list(zip(readings, values * draw(st.sampled_from([1.0, -1.0])), strict=True))
    return points[:: draw(st.sampled_from([1, -1]))]


@given(monotone_points(), st.floats(-20.0, 150.0))
def test_there_and_back(points, reading):
    """A value that points give of a reading gives that reading back by the same points turned round."""
    rising = ordered(points)
    value = value_at(rising, np.array([reading]))
    back = value_at(ordered([(v, r) for r, v in rising]), value)

    assert back == pytest.approx([reading], abs=1e-6)


@given(monotone_points())
def test_the_points_themselves(points):
    """At each point the value is that point's own, whichever way the points were written."""
    rising = ordered(points)

    assert value_at(rising, np.array([r for r, _ in rising])) == pytest.approx([v for _, v in rising])
    assert ordered(rising[::-1]) == rising


@given(monotone_points(), st.floats(-20.0, 150.0), st.floats(0.01, 5.0))
def test_direction(points, reading, more):
    """A higher reading gives a higher value where the points rise, and a lower one where they fall."""
    rising = ordered(points)
    one, two = value_at(rising, np.array([reading, reading + more]))

    assert (two > one) == (rising[-1][1] > rising[0][1])


def test_worked_values():
    """Two ends of a throttle sensor give its middle, and go on beyond both ends."""
    # computed by hand: 100 / 3.79 % for each volt
    value = value_at(THROTTLE, np.array([0.52, 2.415, 4.31, 4.4, 0.5, math.nan]))

    assert value[:5] == pytest.approx([0.0, 50.0, 100.0, 102.3747, -0.5277], abs=1e-4)
    assert math.isnan(value[5])


def test_a_table_ends():
    """Two hundredths of its span beyond a table, a sensor is no longer believed."""
    value = value_at(TABLE, np.array([-1.03, -1.05, 1.03, 1.05]), beyond=0.02)

    assert value[[0, 2]] == pytest.approx([0.794, 2.03])
    assert np.isnan(value[[1, 3]]).all()


@pytest.mark.parametrize(
    ("points", "words"),
    [
        ([(0.5, 0.0)], ["two points"]),
        ([(0.5, 0.0), (2.0, 50.0), (3.0, 40.0)], ["[2, 50]", "[3, 40]", "values"]),
        ([(0.5, 0.0), (2.0, 50.0), (1.0, 60.0), (4.0, 90.0)], ["[2, 50]", "[1, 60]", "readings"]),
        ([(0.5, 0.0), (0.5, 50.0)], ["[0.5, 0]", "[0.5, 50]", "stand still"]),
        ([(0.5, 7.0), (1.5, 7.0)], ["[0.5, 7]", "[1.5, 7]", "values"]),
        ([(0.5, 0.0), (math.nan, 50.0)], ["[nan, 50]"]),
        ([(0.5, 0.0), (1.0, math.inf)], ["[1, inf]"]),
    ],
)
def test_points_that_turn_back(points, words):
    """Points that are no curve are refused, and the two that clash are named."""
    with pytest.raises(BadValue) as error:
        ordered(points)

    assert all(word in str(error.value) for word in words)


@given(st.lists(st.tuples(st.floats(-5, 5), st.floats(-5, 5)), min_size=2, max_size=6))
def test_any_points_are_a_curve_or_refused(points):
    """Whatever points are given, they are refused, or give a finite value for every reading."""
    try:
        rising = ordered(points)
    except BadValue:
        return
    spans = [b - a for (a, _), (b, _) in pairwise(rising)]
    assume(min(spans) > 1e-6)

    assert np.isfinite(value_at(rising, np.linspace(-6, 6, 50))).all()
