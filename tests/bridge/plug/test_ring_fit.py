"""Fitting the ring scale on pairs: what it gives back, how it narrows, and which way one-sided facts push it."""

import numpy as np
import pytest

from bridge.plug.fitted_scale import fitted_scale
from bridge.plug.ring_fit import BENDS, Prior, RingPair, bent, fit_pairs

NOSE_MM = 14.0
GUESS = Prior(7.0, 0.0, 0.88, 0.05, 50.0, 0.385, 0.006)


def pairs_on(slope_mm: float, lambdas: list[float], noise: list[float] | None = None) -> list[RingPair]:
    """Return pairs on a straight law through 7 mm at lambda 0.88."""
    noise = noise or [0.0] * len(lambdas)
    return [
        RingPair(number, 1, lam, 0.002, 7.0 + slope_mm * (lam - 0.88) + away, 0.4)
        for number, (lam, away) in enumerate(zip(lambdas, noise, strict=True))
    ]


EIGHT = list(np.linspace(0.85, 0.91, 8))


def test_without_pairs_the_prior_comes_back():
    """An empty fit says what was held before it, place, slope and doubt."""
    scale = fitted_scale([], GUESS, NOSE_MM)
    mean, budget = scale.lambda_at(7.0)
    low, high = budget.interval(0.95)

    assert mean == pytest.approx(0.88, abs=0.002)
    assert scale.slope_mm == pytest.approx(50.0, rel=0.02)
    assert scale.slope_log_sd == pytest.approx(0.385, rel=0.03)
    assert high - low == pytest.approx(2 * 1.96 * 0.05, rel=0.1)


def test_pairs_narrow_the_scale():
    """One pair narrows the interval, eight narrow it much further, and the doubt never grows."""
    widths = []
    for number in (0, 1, 4, 8):
        lambdas = EIGHT[:: 8 // number][:number] if number else []
        _, budget = fitted_scale(pairs_on(50.0, lambdas), GUESS, NOSE_MM).lambda_at(7.0, 0.4)
        low, high = budget.interval(0.95)
        widths.append(high - low)

    assert widths == sorted(widths, reverse=True)
    assert widths[-1] < widths[0] / 4.0


@pytest.mark.parametrize("slope_mm", [30.0, 50.0, 80.0])
def test_the_slope_is_learned(slope_mm):
    """Many pairs on a law of another slope than the guess bring the slope out."""
    lambdas = list(np.linspace(0.83, 0.93, 60))

    assert fitted_scale(pairs_on(slope_mm, lambdas), GUESS, NOSE_MM).slope_mm == pytest.approx(
        slope_mm, rel=0.1
    )


def test_the_scatter_is_learned_from_rings_that_jump():
    """Rings that scatter by more than their reading noise show a larger scatter than rings that do not."""
    rng = np.random.default_rng(5)
    lambdas = list(np.linspace(0.84, 0.92, 30))
    jumping = list(rng.normal(0.0, 1.2, 30))
    calm = list(rng.normal(0.0, 0.4, 30))

    wild = fitted_scale(pairs_on(50.0, lambdas, jumping), GUESS, NOSE_MM).scatter
    tame = fitted_scale(pairs_on(50.0, lambdas, calm), GUESS, NOSE_MM).scatter

    assert wild > 2.0 * tame


def test_a_deeper_ring_is_leaner_on_every_fit():
    """Lambda rises with depth from tip to seat, whatever the pairs were."""
    scale = fitted_scale(pairs_on(50.0, EIGHT), GUESS, NOSE_MM)
    lambdas = [scale.lambda_at(depth)[0] for depth in np.linspace(0.5, 13.5, 30)]

    assert all(np.diff(lambdas) > 0)


def test_depth_and_lambda_are_inverses_on_the_nose():
    """Going from a depth to lambda and back gives the depth."""
    scale = fitted_scale(pairs_on(50.0, EIGHT), GUESS, NOSE_MM)

    for depth in (3.0, 6.0, 7.0, 9.5):
        assert scale.depth_at(scale.lambda_at(depth)[0]) == pytest.approx(depth, abs=1e-3)


def test_no_ring_pushes_the_scale_the_way_it_says():
    """A plug without a ring at a lambda that should show one says that rings sit deeper than was thought."""
    seen = pairs_on(50.0, [0.86, 0.88])
    no_ring = RingPair(9, 1, 0.93, 0.002, NOSE_MM, 0.4, "leaner")
    without, with_it = (fit_pairs(pairs, GUESS, NOSE_MM) for pairs in (seen, [*seen, no_ring]))

    def depth(fit):
        return sum(
            line.weight * (line.place_mm + line.slope_mm * (0.93 - line.lambda_)) for line in fit.lines
        )

    assert depth(with_it) > depth(without)


def test_all_dark_pushes_the_other_way():
    """An all dark plug at a rich mixture says that rings sit nearer the tip than was thought."""
    seen = pairs_on(30.0, [0.87, 0.88])
    dark = RingPair(9, 1, 0.80, 0.002, 0.0, 0.4, "richer")
    without, with_it = (fitted_scale(pairs, GUESS, NOSE_MM) for pairs in (seen, [*seen, dark]))

    assert with_it.slope_mm > without.slope_mm


def test_one_sided_facts_that_say_nothing_new_change_nothing():
    """No ring at a lambda far beyond the seat leaves the scale as it was."""
    seen = pairs_on(50.0, EIGHT)
    far = RingPair(9, 1, 1.30, 0.002, NOSE_MM, 0.4, "leaner")
    before, after = (fitted_scale(pairs, GUESS, NOSE_MM).lambda_at(7.5)[0] for pairs in (seen, [*seen, far]))

    assert after == pytest.approx(before, abs=3e-4)


def test_only_one_sided_facts_still_give_a_scale():
    """All readings censored leave a wide scale, and no error."""
    pairs = [RingPair(n, 1, lam, 0.002, NOSE_MM, 0.4, "leaner") for n, lam in enumerate((0.97, 0.99, 1.0))]
    mean, budget = fitted_scale(pairs, GUESS, NOSE_MM).lambda_at(7.0, 0.4)

    assert 0.7 < mean < 1.05
    assert budget.sd > 0.02


def test_identical_pairs_do_not_make_the_slope_sure():
    """Eight pairs at one place tell the place and leave the slope as unsure as it was."""
    scale = fitted_scale(pairs_on(50.0, [0.88] * 8), GUESS, NOSE_MM)

    assert scale.slope_log_sd == pytest.approx(0.385, rel=0.1)
    _, near = scale.lambda_at(7.0, 0.4)
    _, far = scale.lambda_at(10.0, 0.4)
    assert far.sd > 1.5 * near.sd


@pytest.mark.parametrize(("side", "sign"), [("leaner", 1), ("richer", -1)])
def test_a_nose_without_a_ring_claims_no_more_than_any_bend_that_is_believed(side, sign):
    """Far from the pairs the bends part; a one-sided reading then says only what all of them say."""
    scale = fitted_scale(pairs_on(50.0, EIGHT), GUESS, NOSE_MM)
    end_mm = NOSE_MM if side == "leaner" else 0.0
    lambdas = [
        line.lambda_ + (bent(np.array([end_mm]), scale.fit.about_mm, NOSE_MM, line.bend)[0][0] - line.place_mm)
        / line.slope_mm
        for line in scale.fit.lines
        if line.weight >= 0.02
    ]  # fmt: skip  # the inverse of the line, in one piece
    edge, budget = scale.edge_at(end_mm, side)
    mean, whole = scale.lambda_at(end_mm)

    assert max(lambdas) - min(lambdas) > 0.01
    assert edge == pytest.approx(min(lambdas) if sign > 0 else max(lambdas))
    assert sign * edge < sign * mean
    assert budget.sd > 0.0
    assert {part.name for part in budget.components} < {part.name for part in whole.components}


def test_the_order_of_the_pairs_does_not_matter():
    """The same pairs in another order give the same scale."""
    pairs = pairs_on(45.0, EIGHT, list(np.linspace(-0.3, 0.4, 8)))
    one, other = (fitted_scale(given, GUESS, NOSE_MM).lambda_at(8.0)[0] for given in (pairs, pairs[::-1]))

    assert one == pytest.approx(other, abs=1e-9)


@pytest.mark.parametrize("bend", BENDS)
def test_a_millimetre_is_a_millimetre_where_the_axes_touch(bend):
    """The bent axis touches the true one with the same step."""
    there, stretch = bent(np.array([7.0]), 7.0, NOSE_MM, bend)

    assert there[0] == pytest.approx(0.0, abs=1e-9)
    assert stretch[0] == pytest.approx(1.0, abs=1e-4)
