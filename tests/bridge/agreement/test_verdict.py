"""The rule of the verdict, and how often it is wrong."""

import numpy as np
import pytest

from bridge.agreement.verdict import judge_difference, judge_leaner_than, judge_richer_than, open_interval
from bridge.budget import Budget, Component

MARGIN = 0.03


def doubt(sd, df=float("inf")):
    return Budget((Component("all", sd, "measured", df=df),))


@pytest.mark.parametrize(
    ("difference", "sd", "verdict"),
    [
        (0.0, 0.018, "agree"),  # 1.645 * 0.018 = 0.0296
        (0.0, 0.0185, "cannot say"),  # 0.0304
        (0.02, 0.006, "agree"),  # also where zero is left out: inside the margin comes first
        (0.02, 0.007, "ring leaner"),  # 0.0315 is outside; 2.576 * 0.007 = 0.018 leaves out zero
        (-0.05, 0.019, "ring richer"),  # 0.0489
        (-0.05, 0.0195, "cannot say"),  # 0.0502
        (0.10, 0.05, "cannot say"),
    ],
)
def test_the_verdict_follows_the_intervals(difference, sd, verdict):
    """Agree by the 90 % interval against the margin, richer or leaner by the 99 % interval against zero."""
    assert judge_difference(difference, doubt(sd), MARGIN).verdict == verdict


def test_negative_is_the_ring_richer():
    """The difference is ring minus measured, so a ring below the sensor is the richer one."""
    assert judge_difference(-0.2, doubt(0.01), MARGIN).verdict == "ring richer"
    assert judge_difference(0.2, doubt(0.01), MARGIN).verdict == "ring leaner"


def test_low_and_high_are_95_percent():
    """The interval given is 1.96 standard uncertainties to either side."""
    found = judge_difference(0.01, doubt(0.02), MARGIN)

    assert found.low == pytest.approx(0.01 - 1.959964 * 0.02)
    assert found.high == pytest.approx(0.01 + 1.959964 * 0.02)


def test_too_little_data_is_never_agreement():
    """The same spread from two readings instead of many does not agree."""
    assert judge_difference(0.0, doubt(0.01), MARGIN).verdict == "agree"
    assert judge_difference(0.0, doubt(0.01, df=1.0), MARGIN).verdict == "cannot say"


def test_one_sided_facts_never_agree():
    """No ring can show a leaner ring and nothing else; all dark a richer one and nothing else."""
    assert judge_leaner_than(0.10, doubt(0.02), MARGIN).verdict == "ring leaner"
    assert judge_leaner_than(0.0, doubt(0.001), MARGIN).verdict == "cannot say"
    assert judge_leaner_than(-0.10, doubt(0.02), MARGIN).verdict == "cannot say"
    assert judge_richer_than(-0.10, doubt(0.02), MARGIN).verdict == "ring richer"
    assert judge_richer_than(0.0, doubt(0.001), MARGIN).verdict == "cannot say"
    assert judge_richer_than(0.10, doubt(0.02), MARGIN).verdict == "cannot say"


@pytest.mark.parametrize("sd", [0.004, 0.010, 0.017])
@pytest.mark.parametrize("truth", [MARGIN, -MARGIN])
def test_a_difference_at_the_margin_is_called_agreement_one_time_in_twenty(sd, truth):
    """Where the true difference lies on the margin, a wrong "agree" comes in at most 5 % of 20,000 draws."""
    rng = np.random.default_rng(7)
    verdicts = [judge_difference(d, doubt(sd), MARGIN).verdict for d in rng.normal(truth, sd, 20_000)]

    assert verdicts.count("agree") / len(verdicts) <= 0.055


@pytest.mark.parametrize("sd", [0.010, 0.03])
def test_no_difference_is_called_one_at_most_one_time_in_a_hundred(sd):
    """Where there is no true difference, richer or leaner comes in at most 1 % of 20,000 draws."""
    rng = np.random.default_rng(8)
    verdicts = [judge_difference(d, doubt(sd), MARGIN).verdict for d in rng.normal(0.0, sd, 20_000)]
    wrong = verdicts.count("ring richer") + verdicts.count("ring leaner")

    assert wrong / len(verdicts) <= 0.0125


def test_the_rates_hold_with_a_doubt_estimated_from_few_readings():
    """With a standard error that is itself taken from eight readings the same rates hold."""
    rng = np.random.default_rng(9)
    readings = rng.normal(MARGIN, 0.01 * np.sqrt(8.0), (4_000, 8))
    means, errors = readings.mean(axis=1), readings.std(axis=1, ddof=1) / np.sqrt(8.0)
    at_margin = [
        judge_difference(mean, doubt(error, df=7.0), MARGIN).verdict
        for mean, error in zip(means, errors, strict=True)
    ]
    at_zero = [
        judge_difference(mean - MARGIN, doubt(error, df=7.0), MARGIN).verdict
        for mean, error in zip(means, errors, strict=True)
    ]

    assert at_margin.count("agree") / len(at_margin) <= 0.06
    assert (at_zero.count("ring richer") + at_zero.count("ring leaner")) / len(at_zero) <= 0.0145


def test_what_leaves_a_difference_open_is_shown():
    """A 95 % interval without zero is not sure enough for a verdict, so the 99 % one that holds it is told."""
    open_ = judge_difference(0.05, Budget((Component("all of it", 0.023, "invented"),)), 0.03)
    wide = judge_difference(0.01, Budget((Component("all of it", 0.023, "invented"),)), 0.03)

    assert open_.verdict == wide.verdict == "cannot say"
    assert open_.low > 0.0
    assert open_interval(open_) == "-0.009 to +0.109, 99 % interval"
    assert open_interval(wide) == "-0.035 to +0.055, 95 % interval"
