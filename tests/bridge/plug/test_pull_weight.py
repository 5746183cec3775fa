"""The weight of a reading cut at a pull's end: which way it moves a scale, what pairs make of it, what intervals hold.

The scatter of such rings is assumed to be smaller (no source); the simulations are invented.
"""

import math
from datetime import timedelta

import numpy as np
import pytest

from bridge.agreement.bike_history import bike_history
from bridge.agreement.kept import Kept
from bridge.budget import Budget, Component
from bridge.plug.fitted_scale import fitted_scale
from bridge.plug.ring_fit import PULL_SCATTER, PULL_SCATTERS, RingPair
from bridge.plug.scale import SCATTER, fit_prior, guess
from tests.virtual_runs import NOW

NOSE_MM = 14.0


def law(rng, pulls, *, scatter, left, slope_mm=50.0, place_mm=7.0, read_mm=0.1):
    """Return pairs on a straight law, a session each; rings after a pull scatter by a share of the others' scatter."""
    pairs = []
    for session, pull in enumerate(pulls):
        lambda_ = 0.87 + rng.normal(0.0, 0.02)
        ring = lambda_ + rng.normal(0.0, scatter * (left if pull else 1.0))
        depth = place_mm + slope_mm * (ring - 0.87) + rng.normal(0.0, read_mm)
        measured = lambda_ + rng.normal(0.0, 0.002)
        depth = float(np.clip(depth, 0.2, NOSE_MM - 0.2))
        pairs.append(RingPair(session, 1, measured, 0.002, depth, read_mm, pull_share=1.0 if pull else 0.0))
    return pairs


def test_the_more_of_a_ring_pulls_printed_the_surer_it_is():
    """By the guess and by a fit the interval narrows as the share grows, down to the scatter that is left."""
    fitted = fitted_scale(
        law(np.random.default_rng(1), [0, 1] * 5, scatter=0.01, left=0.5), fit_prior(14.0), 14.0
    )
    for scale in (guess(NOSE_MM), fitted):
        sds = [scale.lambda_at(6.0, 0.4, share)[1].sd for share in (0.0, 0.3, 0.7, 1.0)]
        scatters = [scale.scatter_of(share) for share in (0.0, 0.3, 0.7, 1.0)]

        assert sds == sorted(sds, reverse=True)
        assert scatters == sorted(scatters, reverse=True)
    assert guess(NOSE_MM).scatter_of(0.0) == SCATTER
    assert guess(NOSE_MM).scatter_of(1.0) == pytest.approx(SCATTER * PULL_SCATTER)
    assert fitted.edge_at(NOSE_MM, "leaner", 1.0)[1].sd < fitted.edge_at(NOSE_MM, "leaner")[1].sd


def test_where_readings_disagree_the_scale_goes_with_the_pulls():
    """Two groups of rings half a millimetre apart: the scale lies nearer those after pulls, whichever they are."""
    places = []
    for pulls in ([1] * 6 + [0] * 6, [0] * 6 + [1] * 6, [0] * 12):
        pairs = [
            RingPair(n, 1, 0.87, 0.001, 6.75 + 0.5 * (n >= 6) + 0.3 * (-1) ** n, 0.1, pull_share=float(pull))
            for n, pull in enumerate(pulls)
        ]
        places.append(fitted_scale(pairs, fit_prior(NOSE_MM), NOSE_MM).depth_at(0.87))
    shallow, deep, middle = places

    assert shallow < middle - 0.04
    assert deep > middle + 0.04
    assert middle == pytest.approx(7.0, abs=0.05)


@pytest.mark.parametrize("left", [0.4, 1.0])
def test_how_much_less_they_scatter_is_learned(left):
    """Many pairs tell whether rings after pulls scatter less, whatever was assumed of it."""
    pairs = law(np.random.default_rng(5), [0, 1] * 60, scatter=0.015, left=left)
    scale = fitted_scale(pairs, fit_prior(NOSE_MM), NOSE_MM)

    assert scale.pull_scatter / scale.scatter == pytest.approx(left, abs=0.06)


def test_without_a_pull_nothing_changes():
    """Pairs of rides alone leave the share as it was assumed, and the fit as if there were none."""
    pairs = law(np.random.default_rng(2), [0] * 8, scatter=0.005, left=1.0)
    scale = fitted_scale(pairs, fit_prior(NOSE_MM), NOSE_MM)

    assert scale.pull_scatter / scale.scatter == pytest.approx(PULL_SCATTER)
    assert min(PULL_SCATTERS) < PULL_SCATTER < 1.0


def judged(rng, pulls, *, scatter, left, weighed=True):
    """Return whether the interval of a last reading, after a pull, holds by the scale of the others, and its width."""
    slope_mm, place_mm = math.exp(rng.normal(math.log(50.0), 0.25)), rng.normal(7.0, 0.7)
    pairs = law(
        rng, [*pulls, 1], scatter=scatter, left=left, slope_mm=slope_mm, place_mm=place_mm, read_mm=0.2
    )
    kept = [
        Kept(
            pair if weighed else RingPair(**(vars(pair) | {"pull_share": 0.0})),
            f"P{pair.session}",
            "short",
            NOSE_MM,
            1,
            None,
            NOW + timedelta(days=pair.session),
        )
        for pair in pairs
    ]
    found = bike_history(kept[:-1], (), plug_type="short", nose_mm=NOSE_MM, build=1, strokes=4)
    last = kept[-1].pair
    ring, budget = found.scale.lambda_at(last.depth_mm, last.depth_sd_mm, last.pull_share)
    budget = Budget((*budget.components, Component("the sensor", last.lambda_sd, "measured")))
    low, high = budget.interval(0.95)
    return low <= last.lambda_ - ring <= high, high - low


@pytest.mark.parametrize(("left", "expected"), [(0.4, 0.95), (0.7, 0.93), (1.0, 0.91)])
def test_intervals_hold_with_the_weight_and_are_narrower(left, expected):
    """Last readings by eight others, with their weight and without: a twentieth narrower, and as often right.

    The coverage expected is that of 300 simulated bikes; three of its own standard errors are left below it.
    """
    runs, number = {}, 120
    for weighed in (True, False):
        rng = np.random.default_rng(11)
        held = [judged(rng, [0, 1] * 4, scatter=0.005, left=left, weighed=weighed) for _ in range(number)]
        runs[weighed] = np.mean(held, axis=0)
    (holds, width), (holds_alike, width_alike) = runs[True], runs[False]

    assert holds >= expected - 3.0 * math.sqrt(expected * (1.0 - expected) / number)
    assert holds >= holds_alike - 0.03
    assert width < 0.96 * width_alike
