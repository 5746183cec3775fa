"""Bias and limits of agreement.

Bland and Altman 1986 (Lancet i:307) and 1999 (Stat. Methods Med. Res. 8:135), with several pairs a session as in
section 5 of the latter and in 2007 (J. Biopharm. Stat. 17:571): the scatter between sessions and within them are
told apart by an analysis of variance, and the limits hold both. Published; the formulas written from memory.

Intervals of the limits: exact with one pair a session, since ``mean + 1.96 sd`` is a quantile whose interval comes
from the noncentral t distribution (Carkeet 2015, Optom. Vis. Sci. 92:e71, from memory); with several by recovery of
the variances of mean and components (Zou 2013, Stat. Methods Med. Res. 22:630, from memory). ``exact=False``
gives the approximate interval of 1986, with a standard error of ``sqrt(3 sd^2 / n)``.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from bridge.agreement.methods.groups import Array, Groups, index_of, student

WIDE = 1.96
"""Standard deviations from the bias to a limit of agreement: 95 % of differences lie between the two."""
NOTHING = 1e-12
"""Differences that vary by less than this do not vary [the unit of the differences]."""


@dataclass(frozen=True)
class Limit:
    """A limit of agreement, with its 95 % interval (None where there is none)."""

    value: float
    low: float | None
    high: float | None


@dataclass(frozen=True)
class BlandAltman:
    """Bias and limits of agreement of a set of differences; all in their unit.

    Attributes:
        n: how many differences.
        sessions: how many groups they come from.
        bias: their mean; None without any.
        bias_low: lower end of its 95 % interval; None where ``because`` says why.
        bias_high: upper end of it.
        bias_se: its standard error.
        df: degrees of freedom behind that.
        sd: standard deviation of a single difference, within and between sessions together.
        between_sd: of that, what differs from session to session; 0 where it does not show.
        within_sd: of that, what differs within a session; None with one pair a session.
        lower: the lower limit of agreement.
        upper: the upper one.
        because: why there are no limits or no intervals; None where there are.
    """

    n: int
    sessions: int
    bias: float | None = None
    bias_low: float | None = None
    bias_high: float | None = None
    bias_se: float | None = None
    df: float | None = None
    sd: float | None = None
    between_sd: float | None = None
    within_sd: float | None = None
    lower: Limit | None = None
    upper: Limit | None = None
    because: str | None = None


@dataclass(frozen=True)
class _Variances:
    """Mean squares between and within groups, and how they make up the figures that are wanted."""

    between: float
    within: float
    k: int
    n: int
    usual: float
    """How many pairs a group has, averaged as unequal groups need it."""
    squares: float
    """Sum of the squares of the groups' sizes over n squared."""

    @property
    def shares(self) -> tuple[float, float]:
        """How the variance of a single difference is made up of the two mean squares."""
        return 1.0 / self.usual, 1.0 - 1.0 / self.usual

    @property
    def of_one(self) -> float:
        """Variance of a single difference."""
        return self.between / self.usual + (1.0 - 1.0 / self.usual) * self.within

    def of_mean(self) -> tuple[float, float]:
        """Return the variance of the mean of all differences, and its degrees of freedom (Satterthwaite)."""
        first = self.squares / self.usual
        parts = first * self.between, (1.0 / self.n - first) * self.within
        total = sum(parts)
        if (
            parts[0] < NOTHING**2 or total <= 0.0
        ):  # sessions that are alike to the last digit are so by chance
            return self.within / self.n, float(self.k - 1)
        spread = parts[0] ** 2 / (self.k - 1) + (parts[1] ** 2 / (self.n - self.k) if parts[1] else 0.0)
        return total, max(total**2 / spread, 1.0) if spread > 0.0 else float(self.k - 1)


def bland_altman(
    differences: Array, groups: Groups = None, *, wide: float = WIDE, exact: bool = True
) -> BlandAltman:
    """Return bias and limits of agreement.

    Args:
        differences: of two methods, one a pair, shape (n,).
        groups: the session of each, shape (n,); None where each stands for itself.
        wide: standard deviations from the bias to a limit; 2 in 1986.
        exact: intervals as above; else the approximate ones of 1986.

    Returns:
        The figures. They hold where the differences are about normal and do not grow with what is measured.
    """
    n = len(differences)
    if n == 0:
        return BlandAltman(0, 0, because="there is no pair")
    index, sizes = index_of(groups, n)
    k = len(sizes)
    bias = float(np.mean(differences))
    if n == 1:
        return BlandAltman(1, 1, bias, because="one pair does not show how pairs scatter")
    if float(np.ptp(differences)) < NOTHING:
        why = f"all {n} differences are the same, so their scatter, and with it how sure the bias is, does not show"
        return BlandAltman(n, k, bias, because=why)
    if k == 1:
        why = "the pairs of one session share what that session did; how sessions scatter shows from two on"
        return BlandAltman(n, k, bias, because=why)
    found = _variances(differences, index, sizes)
    variance, df = found.of_mean()
    se = math.sqrt(variance)
    half = student(0.975, df) * se
    sd = math.sqrt(found.of_one)
    intervals = _exact if n == k else _recovered
    ends = intervals(found, se, df, wide) if exact else _approximate(found, wide)
    return BlandAltman(
        n=n,
        sessions=k,
        bias=bias,
        bias_low=bias - half,
        bias_high=bias + half,
        bias_se=se,
        df=df,
        sd=sd,
        between_sd=math.sqrt(max((found.between - found.within) / found.usual, 0.0)),
        within_sd=math.sqrt(found.within) if n > k else None,
        # the lower limit is the upper one of the differences turned round
        lower=Limit(bias - wide * sd, bias - ends[1], bias - ends[0]),
        upper=Limit(bias + wide * sd, bias + ends[0], bias + ends[1]),
    )


def _variances(differences: Array, index: np.ndarray, sizes: np.ndarray) -> _Variances:
    n, k = len(differences), len(sizes)
    means = np.bincount(index, weights=differences) / sizes
    between = float(np.sum(sizes * (means - differences.mean()) ** 2)) / (k - 1)
    within = float(np.sum((differences - means[index]) ** 2)) / (n - k) if n > k else 0.0
    squares = float(np.sum(sizes**2))
    return _Variances(between, within, k, n, (n - squares / n) / (k - 1), squares / n**2)


Ends = tuple[float, float]
"""Where the interval of the upper limit begins and ends, from the bias."""


def _approximate(found: _Variances, wide: float) -> Ends:
    """1986: standard error sqrt(3 s^2 / n) with Student's t."""
    sd = math.sqrt(found.of_one)
    half = student(0.975, found.k - 1) * math.sqrt(3.0 / found.k) * sd
    return wide * sd - half, wide * sd + half


def _exact(found: _Variances, se: float, df: float, wide: float) -> Ends:
    """One pair a session: the quantile of a normal distribution."""
    del se, df
    low, high = _noncentral(found.k, wide)
    sd = math.sqrt(found.of_one)
    return low * sd, high * sd


@lru_cache(maxsize=256)
def _noncentral(n: int, wide: float) -> Ends:
    from scipy.stats import nct  # noqa: PLC0415  # start-up

    root = math.sqrt(n)
    low, high = nct.ppf([0.025, 0.975], n - 1, wide * root) / root
    return float(low), float(high)


def _recovered(found: _Variances, se: float, df: float, wide: float) -> Ends:
    """Several pairs a session: the interval of mean plus sd from those of the mean and of each mean square."""
    sd = math.sqrt(found.of_one)
    freedom = (found.k - 1, found.n - found.k)
    parts = [
        share * square for share, square in zip(found.shares, (found.between, found.within), strict=True)
    ]
    low, high = (
        math.hypot(*(part * (1.0 - _over_chi2(p, d)) for part, d in zip(parts, freedom, strict=True)))
        for p in (0.975, 0.025)
    )
    sd_low = math.sqrt(max(found.of_one - low, 0.0))
    sd_high = math.sqrt(found.of_one + high)
    mean_half = student(0.975, df) * se
    return (
        wide * sd - math.hypot(mean_half, wide * (sd - sd_low)),
        wide * sd + math.hypot(mean_half, wide * (sd_high - sd)),
    )


@lru_cache(maxsize=1024)
def _over_chi2(p: float, df: int) -> float:
    from scipy.stats import chi2  # noqa: PLC0415  # start-up

    return float(df / chi2.ppf(p, df))
