"""The top of a curve: where a response is greatest, with an interval for the place.

A polynomial is fitted by least squares, of the lowest degree that leaves nothing telling behind. The interval holds
every place at which the fitted slope is not surely different from zero: Fieller's (published: Fieller 1954, Journal of
the Royal Statistical Society B 16:175; from memory), carried over to any polynomial.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.budget import t_quantile
from bridge.pulls.groups import by_groups

Array = NDArray[np.float64]

_FINE = 801
_FLAT = 0.01
"""The top is told flat by how far its curve stays within this share of it [1]."""
_WORTH = 4.0
"""A further degree must lower Akaike's criterion (with its correction for few points) by so much."""


@dataclass(frozen=True)
class Top:
    """Where a curve is greatest."""

    place: float | None
    """None where the curve has no top in what was tried: it is then greatest at an end."""
    low: float | None
    """Ends of the 95 % interval of the place; None where what was tried does not bound it."""
    high: float | None
    value: float
    """Of the curve at its greatest."""
    value_sd: float
    at_edge: bool
    """The best lies at the edge of what was tried, or may well lie beyond it."""
    edge: str | None
    """``low`` or ``high``: the end towards which it may lie."""
    flat_from: float
    """Between these the curve stays within 1 % of its top."""
    flat_to: float
    degree: int
    spread: float
    """Standard deviation of the points about the curve."""
    df: int
    x: Array
    """The fitted curve, for drawing, shape (801,)."""
    y: Array


def top_of(
    x: Array, y: Array, *, degrees: tuple[int, ...] = (2, 3, 4), groups: NDArray[np.int64] | None = None
) -> Top:
    """Return where a response is greatest.

    Args:
        x: what was set or measured, shape (n,); as many different values as the degree and one more.
        y: the response, shape (n,), with independent errors of one size.
        degrees: of the polynomials to try, the lowest first.
        groups: which points were taken together (one session), shape (n,). Where the groups' means scatter about the
            curve more than their points do about the means, it is the groups that count, and not the points.

    Raises:
        ValueError: too few points or different values for the lowest degree.
    """
    different = _different(x)
    able = [degree for degree in degrees if different > degree and len(x) > degree + 1]
    if not able:
        raise ValueError(f"{len(x)} points of {different} different values are too few for a top")
    middle, half = (x.max() + x.min()) / 2.0, max((x.max() - x.min()) / 2.0, 1e-12)
    u = (x - middle) / half
    fits = [_fit(u, y, degree, groups) for degree in able]
    best = fits[0]
    for fit in fits[1:]:
        if fit.criterion < best.criterion - _WORTH:
            best = fit
    return _told(best, middle, half)


@dataclass(frozen=True)
class _Fit:
    degree: int
    beta: Array
    covariance: Array
    spread: float
    df: int
    criterion: float


def _different(x: Array) -> int:
    """Return how many different values there are, those within a thousandth of the range counted as one."""
    values = np.sort(x)
    return 1 + int(np.count_nonzero(np.diff(values) > 1e-3 * max(float(np.ptp(x)), 1e-12)))


def _fit(u: Array, y: Array, degree: int, groups: NDArray[np.int64] | None) -> _Fit:
    powers = np.vander(u, degree + 1, increasing=True).astype(np.float64)
    inverse = np.linalg.inv(powers.T @ powers).astype(np.float64)
    beta = inverse @ (powers.T @ y)
    left = y - powers @ beta
    n, p = len(y), degree + 1
    df = n - p
    variance = float(left @ left) / df
    if groups is not None:
        variances, freedoms = by_groups(left[:, None], powers, groups, df)
        variance, df = float(variances[0]), int(freedoms[0])
    mean = max(float(left @ left) / n, 1e-30)
    # the variance is a parameter too
    few = 2.0 * (p + 1) * (p + 2) / (n - p - 2) if n - p - 2 > 0 else np.inf
    return _Fit(
        degree, beta, inverse * variance, float(np.sqrt(variance)), df, n * np.log(mean) + 2.0 * (p + 1) + few
    )


def _told(fit: _Fit, middle: float, half: float) -> Top:
    u = np.linspace(-1.0, 1.0, _FINE)
    y = np.vander(u, fit.degree + 1, increasing=True) @ fit.beta
    k = int(np.argmax(y))
    inner = 0 < k < _FINE - 1
    slopes = np.zeros((_FINE, fit.degree + 1))
    for power in range(1, fit.degree + 1):
        slopes[:, power] = power * u ** (power - 1)
    slope = slopes @ fit.beta
    sd = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", slopes, fit.covariance, slopes), 0.0))
    unsure = np.abs(slope) <= t_quantile(0.975, fit.df) * sd
    a, b = k, k
    while a > 0 and unsure[a - 1]:
        a -= 1
    while b < _FINE - 1 and unsure[b + 1]:
        b += 1
    curve_at = np.vander(u[k : k + 1], fit.degree + 1, increasing=True)
    value_sd = float(np.sqrt(max((curve_at @ fit.covariance @ curve_at.T).item(), 0.0)))
    flat = y >= y[k] - _FLAT * abs(y[k])
    near = np.flatnonzero(~flat)
    left = near[near < k].max(initial=-1) + 1
    right = near[near > k].min(initial=_FINE) - 1
    at = middle + half * u
    open_low, open_high = a == 0, b == _FINE - 1
    edge = None
    if open_low or open_high:
        edge = "low" if open_low and (not open_high or k < _FINE // 2) else "high"
    return Top(
        float(at[k]) if inner else None,
        None if open_low else float(at[a]),
        None if open_high else float(at[b]),
        float(y[k]),
        value_sd,
        open_low or open_high,
        edge,
        float(at[left]),
        float(at[right]),
        fit.degree,
        fit.spread,
        fit.df,
        at,
        y,
    )
