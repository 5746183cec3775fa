"""Blind draws: how often the absolute interval holds, and how often the verdict is wrong.

Invented engines with a truth: slope, place, scatter and sensor differ from what the tool assumes by just the
uncertainties that it claims. The two methods see the same mixture, so the true difference is zero.
"""

import numpy as np
import pytest

from bridge.agreement.verdict import judge_difference
from bridge.model import ScaleStatement
from bridge.plug.budget import Budget, Component
from bridge.plug.scale import SCATTER, SLOPE_MM, SLOPE_RELATIVE_SD, stated
from tests.virtual_runs import NOW

DRAWS = 10_000
SENSOR_SD = 0.010
SAMPLING_SD = 0.002


def judged(away, place_sd_mm, reading_sd_mm, shift=0.0):
    """Return one verdict a draw, for a mixture ``away`` from where the scale is known."""
    rng = np.random.default_rng(20260514)
    slope = SLOPE_MM * np.exp(rng.normal(0.0, np.sqrt(np.log1p(SLOPE_RELATIVE_SD**2)), DRAWS))
    place = 6.0 + rng.normal(0.0, place_sd_mm, DRAWS)
    ring = 0.87 + away + shift + rng.normal(0.0, SCATTER, DRAWS)
    depth = place + slope * (ring - 0.87) + rng.normal(0.0, reading_sd_mm, DRAWS)
    sensor = 0.87 + away + rng.normal(0.0, np.hypot(SENSOR_SD, SAMPLING_SD), DRAWS)
    scale = stated(ScaleStatement(6.0, place_sd_mm, 0.87, "short", 14.0, 1, NOW))
    own = (Component("sampling", SAMPLING_SD, "measured"), Component("sensor", SENSOR_SD, "common practice"))
    found = []
    for at, over in zip(depth, sensor, strict=True):
        mean, budget = scale.lambda_at(at, reading_sd_mm)
        found.append(judge_difference(mean - over, Budget((*budget.components, *own)), 0.03))
    return found


@pytest.mark.parametrize("away", [-0.05, 0.0, 0.05])
@pytest.mark.parametrize(("place_sd_mm", "reading_sd_mm"), [(0.1, 0.4), (1.0, 1.0)])
def test_the_absolute_interval_holds(away, place_sd_mm, reading_sd_mm):
    """The 95 % interval holds the true difference of zero 93 to 99.5 % of the time, also off the place."""
    found = judged(away, place_sd_mm, reading_sd_mm)
    share = np.mean([one.low <= 0.0 <= one.high for one in found])

    assert 0.93 <= share <= 0.995


def test_a_true_difference_at_the_margin_is_seldom_called_agreement():
    """A ring truly 0.03 off is called agreement in at most 5 % of the draws, to either side."""
    for shift in (-0.03, 0.03):
        verdicts = [one.verdict for one in judged(0.0, 0.1, 0.2, shift)]
        assert verdicts.count("agree") / DRAWS <= 0.055


def test_no_true_difference_is_seldom_called_one():
    """Where there is none, richer or leaner comes in at most 2 % of the draws."""
    for away in (-0.05, 0.0, 0.05):
        verdicts = [one.verdict for one in judged(away, 0.1, 0.4)]
        assert (verdicts.count("ring richer") + verdicts.count("ring leaner")) / DRAWS <= 0.02
