"""The uncertainty budget and Student's t."""

import math
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.budget import Budget, Component, t_quantile

# Published: the t table that statistics books print (values from memory, e.g. Fisher & Yates).
TABLE = [
    (0.975, 1.0, 12.7062),
    (0.975, 2.0, 4.3027),
    (0.975, 5.0, 2.5706),
    (0.975, 10.0, 2.2281),
    (0.975, 30.0, 2.0423),
    (0.975, 120.0, 1.9799),
    (0.995, 2.0, 9.9248),
    (0.95, 4.0, 2.1318),
    (0.975, math.inf, 1.9600),
]


@pytest.mark.parametrize(("p", "df", "expected"), TABLE)
def test_student_t_is_the_printed_table(p, df, expected):
    """The t quantile gives the digits that the tables print."""
    assert t_quantile(p, df) == pytest.approx(expected, abs=6e-5)


@given(df=st.floats(1.0, 400.0), p=st.floats(0.55, 0.995))
def test_fewer_degrees_of_freedom_never_narrow_the_interval(df, p):
    """Less data gives a wider interval, also where one way of reckoning hands over to the other."""
    assert t_quantile(p, df) >= t_quantile(p, df * 1.5) - 1e-5


def test_nonsense_is_refused():
    """A probability of 1 or no degree of freedom at all has no quantile."""
    with pytest.raises(ValueError, match="t_quantile needs"):
        t_quantile(1.0, 5.0)
    with pytest.raises(ValueError, match="t_quantile needs"):
        t_quantile(0.975, 0.5)


def test_doubts_add_as_squares():
    """Independent doubts of 3 and 4 come to 5, and the larger is named."""
    budget = Budget((Component("a", 3.0, "measured"), Component("b", 4.0, "measured")))

    assert budget.sd == pytest.approx(5.0)
    assert budget.largest.name == "b"
    assert budget.quantile(0.975) == pytest.approx(5.0 * 1.959964, rel=1e-5)


def test_welch_satterthwaite_of_two_equal_halves():
    """Two equal doubts of 5 degrees of freedom each come to 10 (closed form)."""
    budget = Budget((Component("a", 1.0, "measured", df=5.0), Component("b", 1.0, "measured", df=5.0)))

    assert budget.df == pytest.approx(10.0)


def test_a_well_known_doubt_drowns_the_few_degrees_of_freedom_of_a_small_one():
    """A small doubt from three readings beside a large known one leaves nearly a normal interval."""
    budget = Budget((Component("few", 0.1, "measured", df=2.0), Component("known", 1.0, "stated")))

    assert budget.quantile(0.975) == pytest.approx(1.96 * budget.sd, rel=1e-3)


def test_one_sided_bounds_lie_nearer_than_two_sided_ends():
    """A bound on one side spends all of its risk there."""
    budget = Budget((Component("a", 1.0, "stated"),))

    assert budget.quantile(0.95) == pytest.approx(1.644854, rel=1e-5)
    assert budget.quantile(0.95) < budget.quantile(0.975)


def test_no_doubt_at_all_is_a_width_of_zero():
    """A budget of zeros has no width and does not divide by it."""
    assert Budget((Component("a", 0.0, "stated", df=3.0),)).interval(0.95) == (0.0, 0.0)


LOG_SD = 0.385
FACTOR = Component("a factor", 0.4, "assumed", log_sd=LOG_SD, lever=1.0)


def test_a_factor_alone_has_its_own_quantiles():
    """With hardly another doubt the interval ends at the lognormal's quantiles (closed form), not evenly."""
    nothing = Component("else", 0.02, "stated")
    for p in (0.005, 0.025, 0.05, 0.95, 0.975, 0.995):
        expected = np.exp(LOG_SD * NormalDist().inv_cdf(p)) - 1.0
        assert Budget((FACTOR, nothing)).quantile(p) == pytest.approx(expected, abs=4e-3)
    low, high = Budget((FACTOR, nothing)).interval(0.95)
    assert -low < 0.7 * high


def test_a_factor_with_other_doubts_has_the_quantiles_of_draws():
    """Factor, scaled and plain doubts together: the quantiles are those of 400,000 seeded draws (JCGM 101:2008)."""
    budget = Budget(
        (FACTOR, Component("scaled", 0.3, "stated", scaled=True), Component("plain", 0.2, "stated")),
    )
    rng = np.random.default_rng(101)
    factor = np.exp(rng.normal(0.0, LOG_SD, 400_000))
    draws = (1.0 + rng.normal(0.0, 0.3, factor.size)) * factor - 1.0 + rng.normal(0.0, 0.2, factor.size)

    for p in (0.01, 0.025, 0.05, 0.95, 0.975, 0.99):
        assert budget.quantile(p) == pytest.approx(np.quantile(draws, p), abs=0.015)


def test_a_factor_far_from_its_lever_changes_no_sign():
    """A factor cannot be zero or less, so what it multiplies keeps its sign, to either side."""
    for lever in (1.0, -1.0):
        budget = Budget((Component("a factor", 0.4, "assumed", log_sd=LOG_SD, lever=lever),))
        low, high = (lever + end for end in budget.interval(0.999))
        assert min(low * lever, high * lever) > 0.0


def test_a_doubt_from_few_readings_is_wider_beside_a_factor_too():
    """Three degrees of freedom in the normal part widen the interval, as t does."""
    few, many = (
        Budget((FACTOR, Component("sampling", 1.0, "measured", df=df))).interval(0.95) for df in (3.0, 1e9)
    )

    assert few[0] < 1.4 * many[0]
    assert few[1] > 1.2 * many[1]
