"""Blind draws: how often the absolute interval holds, and how often the verdict is wrong.

Invented engines with a truth: slope, place, scatter and sensor differ from what the tool assumes by just the
uncertainties that it claims. The two methods see the same mixture, so the true difference is zero.
"""

from functools import lru_cache

import numpy as np
import pytest

from bridge.agreement.verdict import judge_difference
from bridge.budget import Budget, Component
from bridge.model import ScaleStatement
from bridge.plug.scale import SCATTER, SLOPE_MM, SLOPE_RELATIVE_SD, stated
from tests.virtual_runs import NOW

DRAWS = 700
SENSOR_SD = 0.010
SAMPLING_SD = 0.002


PLACES = ((0.1, 0.2), (0.3, 0.4), (1.0, 1.0))
"""Standard uncertainties of place and reading [mm]."""
AWAY = (-0.08, 0.0, 0.14)


@lru_cache
def judged(away, place_sd_mm, reading_sd_mm, shift=0.0):
    """Return one verdict a draw, for a mixture ``away`` from where the scale is known."""
    rng = np.random.default_rng([20260514, round(1000 * (away + place_sd_mm + shift)) + 500])
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


@pytest.mark.parametrize(("place_sd_mm", "reading_sd_mm"), PLACES)
def test_the_absolute_interval_holds(place_sd_mm, reading_sd_mm):
    """The 95 % interval holds the true difference of zero 94 to 96.5 % of the time, on the place and far off it."""
    found = [one for away in AWAY for one in judged(away, place_sd_mm, reading_sd_mm)]

    assert 0.94 <= np.mean([one.low <= 0.0 <= one.high for one in found]) <= 0.965


@pytest.mark.parametrize("away", AWAY)
def test_it_holds_near_the_place_and_far_from_it_alike(away):
    """At each distance from the place by itself the 95 % interval holds, within what so few draws can show."""
    found = [one for place in PLACES for one in judged(away, *place)]

    assert 0.94 <= np.mean([one.low <= 0.0 <= one.high for one in found]) <= 0.965


def test_a_true_difference_at_the_margin_is_seldom_called_agreement():
    """A ring truly 0.03 off is called agreement in at most 5.5 % of the draws, to either side."""
    for shift in (-0.03, 0.03):
        verdicts = [one.verdict for one in judged(0.0, 0.1, 0.2, shift)]
        assert verdicts.count("agree") / DRAWS <= 0.055


def test_no_true_difference_is_seldom_called_one():
    """Where there is none, richer or leaner comes in at most 1.2 % of the draws, and never is it all one side."""
    verdicts = [one.verdict for away in AWAY for place in PLACES for one in judged(away, *place)]
    richer, leaner = (verdicts.count(f"ring {side}") / len(verdicts) for side in ("richer", "leaner"))

    assert richer + leaner <= 0.012
    assert min(richer, leaner) > 0.002


def test_a_great_difference_is_found():
    """A ring truly 0.14 off is told in most draws, and hardly ever on the wrong side."""
    for shift, side in ((-0.14, "richer"), (0.14, "leaner")):
        verdicts = [one.verdict for one in judged(0.0, 0.3, 0.4, shift)]
        other = {"richer": "leaner", "leaner": "richer"}[side]
        assert verdicts.count(f"ring {side}") / DRAWS > 0.8
        assert verdicts.count(f"ring {other}") == 0
