"""The gain's interval by simulation: run-to-run spread, warm-up, the day's course, each alone and together.

Blind and invented: 4,000 comparisons a case, all at once; what is held is that 95 % intervals hold the truth in 94 % of
them and more, and that a gain is shown where there is none in 5 % of them or fewer.
"""

import numpy as np
import pytest

from bridge.pulls.trend import Design, estimate

TRIALS = 4_000
SPREAD = 0.006


def design(order):
    """Runs in order of time: ``B`` before and ``A`` after the change, a blank where a new session begins."""
    sides, places, sessions = [], [], []
    for number, session in enumerate(order.split()):
        for place, letter in enumerate(session):
            sides.append(letter == "A")
            places.append(float(place))
            sessions.append(number)
    return Design(np.array(sides), np.array(places), np.array(sessions))


def logs(of, *, gain=0.0, warm=0.0, drift=0.0, seed=1, curve=False):
    """Logarithms of power of many comparisons, shape (runs, TRIALS)."""
    rng = np.random.default_rng(seed)
    n = len(of.after)
    warmed = 3.0 * (1.0 - np.exp(-of.position / 2.0)) if curve else of.position
    mean = gain * of.after + warm * warmed + drift * np.arange(n)
    return mean[:, None] + rng.normal(0.0, SPREAD, (n, TRIALS))


ORDERS = (
    "BBB AAA",
    "BBBBB AAAAA",
    "BBB AAA BBB",
    "BBB AAA AAA BBB",
    "BA AB BA AB",
    "B A B A B A B A",
    "BBBAAA",
)
TRENDS = ({}, {"warm": 0.01}, {"drift": 0.004}, {"warm": -0.005}, {"drift": -0.003})


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize("trend", TRENDS, ids=str)
def test_the_interval_holds_the_gain(order, trend):
    """In any order and under any trend the interval holds a gain of 2 % in 94 % of the comparisons and more."""
    of = design(order)
    found = estimate(of, logs(of, gain=0.02, **trend))

    held = np.mean((found.low <= 0.02) & (found.high >= 0.02))
    assert held >= 0.94


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize("trend", TRENDS, ids=str)
def test_nothing_is_seldom_shown_as_a_gain(order, trend):
    """Where the change did nothing, something is shown in 5 % of the comparisons or fewer, chance apart."""
    of = design(order)
    found = estimate(of, logs(of, seed=2, **trend))

    assert np.mean((found.low > 0.0) | (found.high < 0.0)) <= 0.058


@pytest.mark.parametrize("order", ["BBB AAA AAA BBB", "BBBB AAAA BBBB AAAA"])
def test_both_trends_together_where_the_runs_alternate(order):
    """Warm-up in each session and a day's course at once are both told apart where the runs go back and forth."""
    of = design(order)
    found = estimate(of, logs(of, gain=0.02, warm=0.008, drift=0.003, seed=3))

    assert 0.935 <= np.mean((found.low <= 0.02) & (found.high >= 0.02)) <= 0.965
    assert np.mean(found.change) == pytest.approx(0.02, abs=3e-4)
    assert np.mean(found.trend) == pytest.approx(0.008, abs=3e-4)


def test_both_trends_together_where_one_side_came_first():
    """Where all of one side came first a mixture of both trends is held as well, at the price of a wide interval."""
    of = design("BBBB AAAA")
    wide = estimate(of, logs(of, gain=0.02, warm=0.004, drift=0.004, seed=4))
    free = estimate(design("BBB AAA AAA BBB"), logs(design("BBB AAA AAA BBB"), gain=0.02, seed=4))

    assert np.mean((wide.low <= 0.02) & (wide.high >= 0.02)) >= 0.95
    assert np.mean(wide.high - wide.low) > np.mean(free.high - free.low)


def test_a_warm_up_that_levels_off_is_no_gain():
    """A warm-up that is no straight line, the same in each session, does not show as a gain."""
    of = design("BBBBB AAAAA")
    found = estimate(of, logs(of, warm=0.01, curve=True, seed=5))

    assert np.mean((found.low > 0.0) | (found.high < 0.0)) <= 0.05


def test_the_spread_is_told():
    """The spread from run to run comes back, whatever trends lie under it, to a tenth of itself."""
    of = design("BBBBB AAAAA")
    found = estimate(of, logs(of, gain=0.02, warm=0.01, seed=6))

    assert np.sqrt(np.mean(found.spread**2)) == pytest.approx(SPREAD, rel=0.1)


@pytest.mark.parametrize("order", ["BBB AAA", "BBB AAA AAA BBB"])
def test_a_gain_that_is_large_enough_is_found(order):
    """A gain of ten times the spread is shown in at least nine of ten comparisons: the test can succeed."""
    of = design(order)
    found = estimate(of, logs(of, gain=10.0 * SPREAD, seed=7))

    assert np.mean(found.low > 0.0) >= 0.9


def test_more_runs_tell_more():
    """With five runs a side the interval is narrower than with three, and going back narrows it further."""

    def width(order):
        of = design(order)
        found = estimate(of, logs(of, gain=0.02, seed=8))
        return np.mean(found.high - found.low)

    assert width("BBBBB AAAAA") < width("BBB AAA")
    assert width("BBB AAA AAA BBB") < width("BBBBBB AAAAAA")


def test_three_runs_a_side():
    """Two runs a side are not enough, three are."""
    assert not design("BB AAA").enough
    assert design("BBB AAA").enough


def test_sessions_that_differ_are_noticed():
    """Where sessions have powers of their own, a gain of nothing is shown far less often than by runs alone."""
    # invented: sessions scatter by 1 %, their runs by 0.6 %; eight sessions of three
    of = design("BBB AAA AAA BBB BBB AAA AAA BBB")
    rng = np.random.default_rng(9)
    own = rng.normal(0.0, 0.01, (8, TRIALS))[of.session]
    found = estimate(of, own + logs(of, seed=10))
    alone = estimate(Design(of.after, of.position, np.arange(len(of.after))), own + logs(of, seed=10))

    def shown(one):
        return np.mean((one.low > 0.0) | (one.high < 0.0))

    assert np.mean(found.differ) > 0.7
    assert shown(found) < 0.5 * shown(alone)
    assert shown(found) < 0.12
