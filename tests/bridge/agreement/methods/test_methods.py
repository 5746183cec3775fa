"""The methods over many pairs: directions, symmetries, and what they say where they cannot say."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.agreement.methods import bland_altman, concordance, cusum, deming, equivalence, proportional
from bridge.agreement.methods.groups import index_of

NONE = np.zeros(0)
SOME = np.array([0.01, -0.02, 0.03, 0.0, -0.01, 0.02])


def test_no_pair_says_nothing():
    """Without a pair every method says why it has no figure."""
    found = bland_altman(NONE)

    assert (found.n, found.bias, found.because) == (0, None, "there is no pair")
    assert deming(NONE, NONE).because
    assert proportional(NONE, NONE).because
    assert concordance(NONE, NONE).because
    assert cusum(NONE).because
    assert not equivalence(found, 0.03).equivalent


def test_one_pair_has_a_difference_and_no_interval():
    """One pair has its difference and nothing that tells how sure it is; it is never equivalent."""
    found = bland_altman(np.array([0.001]))

    assert found.bias == 0.001
    assert (found.bias_low, found.lower) == (None, None)
    assert "one pair" in found.because
    assert not equivalence(found, 0.03).equivalent
    assert deming(np.array([0.9]), np.array([0.9])).slope is None


@pytest.mark.parametrize("groups", [None, [1, 1], [1, 2]])
def test_two_identical_pairs_do_not_claim_certainty(groups):
    """Two identical pairs have no scatter to judge by, so there is no interval of no width."""
    found = bland_altman(np.array([0.01, 0.01]), groups)

    assert (found.bias, found.bias_low, found.lower) == (0.01, None, None)
    assert "the same" in found.because
    assert not equivalence(found, 0.03).equivalent
    line = deming(np.array([0.9, 0.9]), np.array([0.91, 0.91]), 1.0, groups)
    assert line.slope is None
    assert "same each time" in line.because
    assert concordance(np.array([0.9, 0.9]), np.array([0.91, 0.91])).value is None


def test_a_method_that_never_moves_has_no_line():
    """Zero variance on one side leaves no line and no concordance to speak of, and is said."""
    moving = 0.9 + SOME

    assert "second method" in deming(moving, np.full(6, 0.9)).because
    assert "first method" in deming(np.full(6, 0.9), moving).because
    assert concordance(moving, np.full(6, 0.9)).value == pytest.approx(0.0, abs=1e-12)


def test_one_session_shows_no_scatter_between_sessions():
    """Several cylinders of one session are no season, however many there are."""
    found = bland_altman(SOME, [3] * 6)

    assert found.bias == pytest.approx(SOME.mean())
    assert found.bias_low is None
    assert "one session" in found.because


def test_few_sessions_have_a_line_without_interval():
    """Under four sessions the line stands without an interval, and says how many it takes."""
    x = 0.9 + SOME
    line = deming(x, 0.01 + x, 1.0, [1, 1, 2, 2, 3, 3])

    assert line.slope == pytest.approx(1.0)
    assert line.slope_low is None
    assert "it takes 4" in line.because


def test_sessions_count_in_order_of_first_appearance():
    """Groups get their number as they appear, since a cumulative sum needs their order."""
    index, sizes = index_of([7, 7, 3, 9, 3], 5)

    assert index.tolist() == [0, 0, 1, 2, 1]
    assert sizes.tolist() == [2, 2, 1]


@given(st.lists(st.floats(-1.0, 1.0), min_size=3, max_size=20), st.floats(-2.0, 2.0))
@settings(max_examples=60, deadline=None)
def test_a_constant_moves_bias_and_limits_and_nothing_else(values, by):
    """Adding a constant moves bias and limits by it and leaves the scatter."""
    differences = np.array(values)
    if np.ptp(differences) < 1e-3:
        differences[0] += 0.1
    one, other = bland_altman(differences), bland_altman(differences + by)

    assert other.bias == pytest.approx(one.bias + by, abs=1e-9)
    assert other.sd == pytest.approx(one.sd, rel=1e-6)
    assert other.upper.high == pytest.approx(one.upper.high + by, abs=1e-6)
    assert one.lower.low < one.lower.value < one.lower.high
    assert one.lower.value < one.bias < one.upper.value


@given(
    st.lists(st.tuples(st.floats(0.7, 1.1), st.floats(0.7, 1.1)), min_size=5, max_size=20),
    st.floats(0.1, 10.0),
)
@settings(max_examples=60, deadline=None)
def test_deming_turned_round_is_its_own_inverse(pairs, ratio):
    """Exchanging the methods, and the ratio with them, turns the slope into its inverse."""
    x, y = np.array(pairs).T
    one, other = deming(x, y, ratio), deming(y, x, 1.0 / ratio)
    if one.slope is None or other.slope is None or abs(np.cov(x, y)[0, 1]) < 1e-6:
        return

    assert one.slope * other.slope == pytest.approx(1.0, rel=1e-5)


@given(st.permutations(list(range(8))))
@settings(max_examples=30, deadline=None)
def test_order_matters_to_drift_alone(order):
    """Bias, limits, line and concordance do not care for the order of the pairs."""
    x = 0.85 + np.linspace(0.0, 0.07, 8)
    y = x + np.array([0.01, -0.01, 0.0, 0.02, -0.02, 0.01, 0.0, -0.005])
    groups = np.array([1, 1, 2, 3, 4, 4, 5, 6])

    assert bland_altman((y - x)[order], groups[order]).upper.high == pytest.approx(
        bland_altman(y - x, groups).upper.high
    )
    assert deming(x[order], y[order], 2.0, groups[order]).slope_low == pytest.approx(
        deming(x, y, 2.0, groups).slope_low
    )
    assert concordance(x[order], y[order], groups[order]).low == pytest.approx(concordance(x, y, groups).low)


def test_a_difference_that_grows_is_shown_with_its_sign():
    """A ring that spreads lambda 1.5 times shows a growing difference; one that squeezes it a falling one."""
    random = np.random.default_rng(8)
    level = np.linspace(-0.08, 0.08, 10)
    x = 0.87 + level + 0.003 * random.standard_normal(10)
    for factor, sign in ((1.5, 1.0), (0.5, -1.0)):
        y = 0.87 + factor * level + 0.003 * random.standard_normal(10)
        found = proportional(x, y)
        assert found.shown
        assert np.sign(found.slope) == sign


def test_more_error_in_the_ring_alone_makes_no_growing_difference():
    """The level is weighted by the two errors, so a noisy ring is not taken for a proportional one."""
    random = np.random.default_rng(9)
    level = random.uniform(-0.02, 0.02, (300, 12))
    x = level + 0.002 * random.standard_normal(level.shape)
    y = level + 0.02 * random.standard_normal(level.shape)
    weighted = [proportional(a, b, 100.0).slope for a, b in zip(x, y, strict=True)]
    plain = [proportional(a, b, 1.0).slope for a, b in zip(x, y, strict=True)]

    assert abs(np.median(weighted)) < 0.05
    assert np.median(plain) > 0.3


def test_a_gradual_run_is_told_from_a_jump():
    """A sensor that ages runs the difference up step by step; a changed plug lets it jump once."""
    noise = 0.002 * np.random.default_rng(10).standard_normal(12)
    ageing = cusum(0.004 * np.arange(12) + noise)
    changed = cusum(np.where(np.arange(12) < 5, 0.0, 0.04) + noise)

    assert (ageing.shown, ageing.pattern) == (True, "gradual")
    assert (changed.shown, changed.pattern, changed.turned) == (True, "jump", 5)
    assert changed.after - changed.before == pytest.approx(0.04, abs=0.005)
    assert changed.sums[-1] == pytest.approx(0.0, abs=1e-12)


def test_drift_the_other_way_is_the_mirror():
    """Turning the sign of all differences turns the sums and leaves limit and turn."""
    values = np.array([0.0, 0.01, -0.01, 0.0, 0.04, 0.05, 0.03, 0.04])
    up, down = cusum(values), cusum(-values)

    assert down.sums == pytest.approx(-up.sums)
    assert (down.limit, down.turned, down.p) == (pytest.approx(up.limit), up.turned, up.p)


def test_a_wider_margin_is_met_sooner_and_less_scatter_too():
    """Equivalence comes with a wider margin or less scatter, and its p value falls with both."""
    found = bland_altman(0.01 + SOME)

    assert not equivalence(found, 0.015).equivalent
    assert equivalence(found, 0.06).equivalent
    assert equivalence(found, 0.06).p < equivalence(found, 0.03).p
    assert equivalence(bland_altman(0.01 + SOME / 10.0), 0.015).equivalent


def test_a_ratio_that_is_none_is_refused():
    """A ratio of variances of zero or less is a mistake of the caller."""
    with pytest.raises(ValueError, match="over zero"):
        deming(SOME, SOME, 0.0)
    with pytest.raises(ValueError, match="need 6 groups"):
        bland_altman(SOME, [1, 2])
