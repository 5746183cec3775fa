"""Every interval of the methods holds as often as it says: 2,000 invented seasons each."""

import numpy as np
import pytest

from bridge.agreement.methods import bland_altman, concordance, cusum, deming, equivalence, proportional

SEASONS = 2000
# three standard errors of a share of 0.95 in 2,000
LEAST, MOST = 0.935, 0.965


def share(season, seed):
    """Return how often each of a season's answers is true."""
    random = np.random.default_rng(seed)
    return np.mean([season(random) for _ in range(SEASONS)], axis=0)


@pytest.mark.parametrize(
    ("sizes", "between", "within", "most"),
    [
        ([1] * 8, 0.01, 0.0, MOST),
        # recovery of variances is on the safe side with few sessions
        ([2] * 12, 0.01, 0.003, 0.98),
        ([2] * 6, 0.0, 0.01, 0.995),
        ([1, 1, 4, 4, 2], 0.02, 0.005, 0.99),
        ([1, 2, 2, 4, 1, 2], 0.01, 0.01, 0.995),
    ],
)
def test_bias_and_limits_hold(sizes, between, within, most):
    """The intervals of bias and limits hold in 95 % of seasons or somewhat more, whatever the sessions share."""
    groups = np.repeat(np.arange(len(sizes)), sizes)
    limit = 1.96 * np.hypot(between, within)

    def season(random):
        apart = between * random.standard_normal(len(sizes))[groups] + within * random.standard_normal(
            len(groups)
        )
        found = bland_altman(0.01 + apart, groups)
        return (
            found.bias_low <= 0.01 <= found.bias_high,
            found.lower.low <= 0.01 - limit <= found.lower.high,
            found.upper.low <= 0.01 + limit <= found.upper.high,
        )

    bias, lower, upper = share(season, seed=1)
    assert LEAST <= bias <= 0.98
    assert LEAST <= lower <= most
    assert LEAST <= upper <= most


def test_pairs_of_a_session_taken_as_independent_would_claim_too_much():
    """Without the sessions the interval of the bias would hold in far under 95 %: the grouping is not for show."""
    groups = np.repeat(np.arange(6), 4)

    def season(random):
        apart = 0.01 * random.standard_normal(6)[groups] + 0.003 * random.standard_normal(24)
        lone, grouped = bland_altman(apart), bland_altman(apart, groups)
        return lone.bias_low <= 0.0 <= lone.bias_high, grouped.bias_low <= 0.0 <= grouped.bias_high

    lone, grouped = share(season, seed=2)
    assert lone < 0.8
    assert LEAST <= grouped <= MOST


@pytest.mark.parametrize(
    ("sessions", "each", "ring_sd", "slope"),
    [(8, 1, 0.01, 1.0), (8, 2, 0.01, 1.3), (5, 2, 0.01, 1.0), (20, 1, 0.015, 0.8)],
)
def test_line_growth_and_concordance_hold(sessions, each, ring_sd, slope):
    """The intervals of Deming's line, of the growth of the difference and of concordance hold in about 95 %."""
    groups = np.repeat(np.arange(sessions), each)
    span, measured_sd = 0.06, 0.005
    ratio = ring_sd**2 / measured_sd**2
    variance = span**2 / 3.0 + 0.01**2
    lin = 2.0 * slope * variance / (variance * (1.0 + slope**2) + measured_sd**2 + ring_sd**2 + 0.02**2)
    # closed form: covariance of difference and weighted level over the level's variance, errors in it
    tells = (ratio + slope) / (1.0 + ratio)
    blur = (ratio**2 * measured_sd**2 + ring_sd**2) / (1.0 + ratio) ** 2
    grows = (slope - 1.0) * tells * variance / (tells**2 * variance + blur)

    def season(random):
        level = span * random.uniform(-1.0, 1.0, sessions)[groups] + 0.01 * random.standard_normal(
            len(groups)
        )
        measured = 0.87 + level + measured_sd * random.standard_normal(len(groups))
        ring = 0.89 + slope * level + ring_sd * random.standard_normal(sessions)[groups]
        line, growth = deming(measured, ring, ratio, groups), proportional(measured, ring, ratio, groups)
        one = concordance(measured, ring, groups)
        crossing = 0.89 - slope * 0.87
        return (
            line.slope_low <= slope <= line.slope_high,
            line.intercept_low <= crossing <= line.intercept_high,
            growth.low <= grows <= growth.high,
            one.low <= lin <= one.high,
        )

    for told in share(season, seed=3):
        assert 0.925 <= told <= 0.985


def test_least_squares_would_miss_where_deming_holds():
    """With error in both the slope of least squares is drawn towards zero and Deming's is not."""
    random = np.random.default_rng(4)
    level = random.uniform(-0.03, 0.03, (400, 15))
    measured, ring = (level + 0.01 * random.standard_normal(level.shape) for _ in range(2))
    lines = [deming(x, y).slope for x, y in zip(measured, ring, strict=True)]
    squares = [np.polyfit(x, y, 1)[0] for x, y in zip(measured, ring, strict=True)]

    assert np.median(lines) == pytest.approx(1.0, abs=0.03)
    assert np.median(squares) < 0.85


@pytest.mark.parametrize("bias", [0.03, -0.03])
def test_equivalence_is_rarely_claimed_at_the_margin(bias):
    """A bias that is just the margin passes the two tests in at most some 5 % of seasons, a small one in nearly all."""

    def season(random):
        apart = 0.01 * random.standard_normal(8)
        at_margin, small = bland_altman(bias + apart), bland_altman(bias / 30.0 + apart)
        return equivalence(at_margin, 0.03).equivalent, equivalence(small, 0.03).equivalent

    wrong, right = share(season, seed=5)
    assert 0.03 < wrong < 0.065
    assert right > 0.98


@pytest.mark.parametrize("sessions", [5, 8, 12, 30])
def test_drift_is_claimed_by_chance_in_one_season_of_twenty(sessions):
    """Where nothing drifts the limit is crossed in 5 % of seasons, whatever their number of sessions."""

    def season(random):
        return (cusum(random.standard_normal(sessions)).shown,)

    assert 0.035 < share(season, seed=6)[0] < 0.065


def test_drift_that_is_there_is_found_where_it_is():
    """A jump of three deviations among twelve sessions is found in most seasons, and rarely taken for a run."""

    def season(random):
        found = cusum(random.standard_normal(12) + np.where(np.arange(12) < 6, 0.0, 3.0))
        return found.shown, found.turned == 6, found.pattern == "jump", found.pattern == "gradual"

    shown, placed, jump, gradual = share(season, seed=7)
    assert shown > 0.95
    assert placed > 0.8
    assert jump > 0.6
    assert gradual < 0.05


def test_a_gradual_run_is_rarely_taken_for_a_jump():
    """A run of half a deviation a session is found in most seasons; it is called a jump in few of them."""

    def season(random):
        found = cusum(random.standard_normal(12) + 0.5 * np.arange(12))
        return found.shown, found.pattern == "jump"

    shown, jump = share(season, seed=8)
    assert shown > 0.95
    assert jump < 0.1
