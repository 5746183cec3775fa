"""Fitting the ring scale on a bike's own pairs of ring depth and measured lambda.

Depth is modelled on lambda and then inverted, so that no prior on lambda comes from the sensor::

    bent depth = place + slope * (lambda - lambda at the pivot + scatter) + reading error

A Bayesian fit. The prior is the scale that held before (the guess, or the tuner's statement): lognormal in the
slope, normal in the place. The scatter from session to session is half-normal about nothing, until the pairs
show how large it is; a reading cut at the end of a pull has less of it, since its load, its speeds and its cut are the
best known of all, by a share that is fitted too. How much of the bending of the fin model (``bridge.physics.nose``) is
believed is one more unknown. Readings without a ring and all dark ones count as what they are, one-sided facts
(censored data). Slope, scatter and bend are summed over a grid, the place is integrated in closed form, so that the
same pairs always give the same scale.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bridge.physics.nose import Nose, bent_depth_mm

Array = NDArray[np.float64]

BENDS = (0.0, 0.25, 0.5, 1.0)
"""Shares of the fin model's bending that are tried, 0 being a straight line ..."""
BEND_WEIGHTS = (0.4, 0.3, 0.2, 0.1)
"""... and how likely each is before any pair (assumed: the model is unvalidated, and bends more than tuners'
rules of thumb do)."""
_SLOPE_STEPS = np.linspace(-3.5, 3.5, 71)
_SCATTER_STEPS = np.linspace(0.0, 3.0, 16)
PULL_SCATTERS = np.array([0.4, 0.7, 1.0])
"""How much of the usual scatter a ring has that pulls alone printed: shares that are tried [1] ..."""
PULL_WEIGHTS = np.array([0.25, 0.4, 0.35])
"""... and how likely each is before any pair (both assumed, no source: load, gear and speeds are the same each time,
timing and heat may not be). By simulation, readings to 0.2 mm on eight pairs and a scatter of 0.005: intervals are 6 %
narrower, and hold in 91 % of cases instead of 92 % where such rings scatter as much as any other."""
PULL_SCATTER = float(np.sqrt(PULL_WEIGHTS @ PULL_SCATTERS**2))
"""Their root mean square: the share where no pairs tell it [1]."""
# Gauss-Hermite nodes for the place where one-sided facts bend its distribution
_NODES, _NODE_WEIGHTS = np.polynomial.hermite_e.hermegauss(21)
_NODE_WEIGHTS = _NODE_WEIGHTS / _NODE_WEIGHTS.sum()


OneSided = Literal["leaner", "richer"]
"""What a reading without a ring depth says: leaner (no ring) or richer (all dark) than the nose's end."""


@dataclass(frozen=True)
class RingPair:
    """One valid reading and the lambda that the same plug lived through.

    Attributes:
        session: number of the session.
        cylinder: from 1.
        lambda_: measured [1].
        lambda_sd: its standard uncertainty without the sensor's constant error, which the scale shares [1].
        depth_mm: of the ring's middle, from the tip [mm]; for a one-sided reading the end of the nose that the
            ring lies beyond: its length for no ring, 0 for all dark.
        depth_sd_mm: standard uncertainty of the reading [mm].
        one_sided: ``leaner`` for no ring, ``richer`` for all dark; None for a ring seen.
        pull_share: of a reading cut at a pull's end the share of its exposure that was pulls; 0 for any other [1].
    """

    session: int
    cylinder: int
    lambda_: float
    lambda_sd: float
    depth_mm: float
    depth_sd_mm: float
    one_sided: OneSided | None = None
    pull_share: float = 0.0


@dataclass(frozen=True)
class Prior:
    """What is held of the scale before the pairs.

    Attributes:
        place_mm: a depth from the tip [mm].
        place_sd_mm: its standard uncertainty [mm].
        lambda_: what it stands for [1].
        lambda_sd: standard uncertainty of that, the sensor's own accuracy among it [1].
        slope_mm: median of the slope: depth for each 1.00 of lambda [mm].
        slope_log_sd: standard deviation of the slope's logarithm [1].
        scatter: of a ring's lambda from session to session, as the scale of a half-normal [1].
    """

    place_mm: float
    place_sd_mm: float
    lambda_: float
    lambda_sd: float
    slope_mm: float
    slope_log_sd: float
    scatter: float


@dataclass(frozen=True)
class Line:
    """The scale for one bend, as the pairs leave it: ``lambda = lambda_ + (bent depth - place) / slope``.

    Attributes:
        weight: how likely this bend is after the pairs; all lines' weights add up to 1.
        bend: share of the fin model's bending.
        place_mm: the bent depth at which lambda and slope tell nothing of one another [mm].
        lambda_: what it stands for [1].
        lambda_sd: standard uncertainty of that [1].
        slope_mm: median of the slope: bent depth for each 1.00 of lambda [mm].
        slope_log_sd: standard deviation of its logarithm [1].
        scatter: root mean square of what the scatter may be [1].
        pull_scatter: the same of a ring that pulls alone printed [1].
    """

    weight: float
    bend: float
    place_mm: float
    lambda_: float
    lambda_sd: float
    slope_mm: float
    slope_log_sd: float
    scatter: float
    pull_scatter: float


@dataclass(frozen=True)
class Fit:
    """What the pairs leave of the scale: a line for each bend, and where the bent axis touches the true one."""

    lines: tuple[Line, ...]
    about_mm: float
    nose_mm: float
    pairs: int


def bent(depth_mm: Array, about_mm: float, nose_mm: float, bend: float) -> tuple[Array, Array]:
    """Return depths on a bent axis, and how many bent millimetres a millimetre is there.

    Args:
        depth_mm: from the tip, shape (n,) [mm].
        about_mm: where the axes touch [mm].
        nose_mm: length of the nose [mm].
        bend: share of the fin model's bending, 0 to 1.
    """
    step = 0.01
    nose = Nose(nose_mm)
    low, here, high = (bent_depth_mm(depth_mm + by, about_mm, nose) for by in (-step, 0.0, step))
    straight = depth_mm - about_mm
    return (1.0 - bend) * straight + bend * here, (1.0 - bend) + bend * (high - low) / (2.0 * step)


def fit_pairs(pairs: Sequence[RingPair], prior: Prior, nose_mm: float, about_mm: float | None = None) -> Fit:
    """Fit the scale.

    Args:
        pairs: valid ones only; may be empty, which gives the prior back.
        prior: what held before them.
        nose_mm: length of the nose [mm].
        about_mm: where the bent axes touch the true one [mm]; None for the middle of the pairs.

    Returns:
        The scale after the pairs. It holds for one plug type and nose length in one engine build, over the depths
        that were read; away from them the doubt of slope and bend grows with the distance.
    """
    seen = [pair.depth_mm for pair in pairs if pair.one_sided is None]
    middle = about_mm if about_mm is not None else np.mean(seen) if seen else prior.place_mm
    about = float(np.clip(middle, 0.05 * nose_mm, 0.95 * nose_mm))
    found = [_one_bend(pairs, prior, nose_mm, about, bend) for bend in BENDS]
    evidence = np.array([log for _, log in found]) + np.log(BEND_WEIGHTS)
    weights = np.exp(evidence - evidence.max())
    weights = weights / weights.sum()
    lines = tuple(
        Line(float(weight), bend, *moments)
        for weight, bend, (moments, _) in zip(weights, BENDS, found, strict=True)
    )
    return Fit(lines, about, nose_mm, len(pairs))


Moments = tuple[float, float, float, float, float, float, float]


def scatter_left(pull_share: Array, pull_scatter: Array | float) -> Array:
    """Return by what the square of the usual scatter is to be multiplied for a reading.

    Args:
        pull_share: of its exposure that was pulls, 0 for a reading that was not cut at a pull's end [1].
        pull_scatter: how much of the usual scatter a ring has that pulls alone printed [1].
    """
    return 1.0 - pull_share * (1.0 - pull_scatter**2)


def _one_bend(
    pairs: Sequence[RingPair], prior: Prior, nose_mm: float, about_mm: float, bend: float
) -> tuple[Moments, float]:
    """Return a line's moments, and the logarithm of how well this bend explains the pairs."""
    depths, stretch = bent(
        np.array([pair.depth_mm for pair in pairs] + [prior.place_mm]), about_mm, nose_mm, bend
    )
    place0, place0_sd = depths[-1], prior.place_sd_mm * stretch[-1]
    read_sd = np.array([pair.depth_sd_mm for pair in pairs]) * stretch[:-1]
    lambdas = np.array([pair.lambda_ for pair in pairs])
    lambda_sds = np.array([pair.lambda_sd for pair in pairs])
    seen = np.array([pair.one_sided is None for pair in pairs], dtype=bool)
    pivot = float(lambdas.mean()) if len(pairs) else prior.lambda_

    slope = (prior.slope_mm * np.exp(prior.slope_log_sd * _SLOPE_STEPS))[:, None, None]
    scatter = (prior.scatter * _SCATTER_STEPS)[None, :, None]
    in_pulls = np.array([pair.pull_share for pair in pairs])
    shares, log_shares = PULL_SCATTERS, np.log(PULL_WEIGHTS)
    if not in_pulls.any():  # nothing tells the shares apart
        shares, log_shares = np.array([PULL_SCATTER]), np.zeros(1)
    pull_scatter = shares[None, None, :]
    log_prior = -0.5 * (_SLOPE_STEPS[:, None, None] ** 2 + _SCATTER_STEPS[None, :, None] ** 2)
    log_prior = log_prior + log_shares[None, None, :]
    # place at the pivot, by the prior
    flat = 0.0 * scatter * pull_scatter
    mean = place0 + slope * (pivot - prior.lambda_) + flat
    variance = place0_sd**2 + (slope * prior.lambda_sd) ** 2 + flat
    left = scatter_left(in_pulls, pull_scatter[..., None])
    var = read_sd**2 + slope[..., None] ** 2 * (scatter[..., None] ** 2 * left + lambda_sds**2)
    rest = depths[:-1] - slope[..., None] * (lambdas - pivot)
    log_like, mean, variance = _with_seen(mean, variance, rest[..., seen], var[..., seen])
    shift, nodes = np.zeros(1), np.zeros(1)
    log_nodes = np.zeros((*mean.shape, 1))
    if not seen.all():
        shift, nodes = _NODES, np.log(_NODE_WEIGHTS)
        place = mean[..., None] + np.sqrt(variance)[..., None] * shift
        sides = [pair.one_sided for pair in pairs if pair.one_sided is not None]
        log_nodes = _log_one_sided(place, rest[..., ~seen], var[..., ~seen], sides) + nodes
    log_post = (log_prior + log_like)[..., None] + log_nodes
    top = float(log_post.max())
    weight = np.exp(log_post - top)
    evidence = top + math.log(float(weight.sum()))
    weight = weight / weight.sum()
    place = mean[..., None] + np.sqrt(variance)[..., None] * shift
    spread = variance[..., None] * (1.0 if seen.all() else 0.0)
    posterior = _Posterior(
        weight, place, spread, slope[..., None], scatter[..., None], pull_scatter[..., None]
    )
    return _moments(posterior, pivot), evidence


@dataclass(frozen=True)
class _Posterior:
    """Weights that add up to 1 over slopes, scatters, their shares and nodes of the place; the arrays broadcast."""

    weight: Array
    place: Array
    spread: Array
    """What a place's own variance is besides its nodes."""
    slope: Array
    scatter: Array
    pull_scatter: Array

    def mean(self, values: Array) -> float:
        return float((self.weight * values).sum())


def _with_seen(mean: Array, variance: Array, rest: Array, var: Array) -> tuple[Array, Array, Array]:
    """Fold the rings that were seen into the normal distribution of the place, in closed form."""
    weights = 1.0 / var
    precision = 1.0 / variance + weights.sum(axis=-1)
    middle = (mean / variance + (weights * rest).sum(axis=-1)) / precision
    misfit = (weights * rest**2).sum(axis=-1) + mean**2 / variance - middle**2 * precision
    log = -0.5 * (np.log(var).sum(axis=-1) + np.log(variance) + np.log(precision) + misfit)
    return log, middle, 1.0 / precision


def _log_one_sided(place: Array, rest: Array, var: Array, sides: Sequence[str]) -> Array:
    """Return the logarithm of the probability of the one-sided facts, given the place."""
    from scipy.special import log_ndtr  # noqa: PLC0415  # start-up

    # no ring: the ring would sit beyond the end of the nose, so place > rest; all dark the other way round
    sign = np.array([1.0 if side == "leaner" else -1.0 for side in sides])
    distance = sign * (place[..., None] - rest[..., None, :]) / np.sqrt(var)[..., None, :]
    logs: Array = log_ndtr(distance).sum(axis=-1)
    return logs


def _moments(found: _Posterior, pivot: float) -> Moments:
    """Return place, its lambda and that one's sd, the slope's median, its log sd and both scatters."""
    log_slope = np.log(found.slope)
    middle = found.mean(log_slope)
    log_sd = math.sqrt(found.mean((log_slope - middle) ** 2))
    per_mm = 1.0 / found.slope
    at_zero = pivot - found.place * per_mm
    away = per_mm - found.mean(per_mm)
    variance = found.mean(away**2)
    place = -found.mean(at_zero * away) / variance if variance > 0.0 else found.mean(found.place)
    there = at_zero + place * per_mm
    lambda_ = found.mean(there)
    lambda_sd = math.sqrt(found.mean((there - lambda_) ** 2 + found.spread * per_mm**2))
    scatter = math.sqrt(found.mean(found.scatter**2))
    pull_scatter = math.sqrt(found.mean((found.scatter * found.pull_scatter) ** 2))
    return place, lambda_, lambda_sd, math.exp(middle), log_sd, scatter, pull_scatter
