"""The uncertainty budget and Student's t."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.plug.budget import Budget, Component, t_quantile

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
    assert budget.half_width(0.95) == pytest.approx(5.0 * 1.959964, rel=1e-5)


def test_welch_satterthwaite_of_two_equal_halves():
    """Two equal doubts of 5 degrees of freedom each come to 10 (closed form)."""
    budget = Budget((Component("a", 1.0, "measured", df=5.0), Component("b", 1.0, "measured", df=5.0)))

    assert budget.df == pytest.approx(10.0)


def test_a_well_known_doubt_drowns_the_few_degrees_of_freedom_of_a_small_one():
    """A small doubt from three readings beside a large known one leaves nearly a normal interval."""
    budget = Budget((Component("few", 0.1, "measured", df=2.0), Component("known", 1.0, "stated")))

    assert budget.half_width(0.95) == pytest.approx(1.96 * budget.sd, rel=1e-3)


def test_one_sided_bounds_lie_nearer_than_two_sided_ends():
    """A bound on one side spends all of its risk there."""
    budget = Budget((Component("a", 1.0, "stated"),))

    assert budget.one_sided(0.95) == pytest.approx(1.644854, rel=1e-5)
    assert budget.one_sided(0.95) < budget.half_width(0.95)


def test_no_doubt_at_all_is_a_width_of_zero():
    """A budget of zeros has no width and does not divide by it."""
    assert Budget((Component("a", 0.0, "stated", df=3.0),)).half_width(0.95) == 0.0
