"""An uncertainty budget: what each doubt adds, and what they come to together.

Source: GUM, JCGM 100:2008, 5.1.2 (independent components add as squares) and G.4 (effective degrees of
freedom by Welch and Satterthwaite); its Supplement 1, JCGM 101:2008 (propagation of distributions), where one
doubt is that of a factor, which is not normal; published. The distributions are propagated by quadrature, not
by draws, so that the same figures always give the same interval.
"""

import math
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np


@dataclass(frozen=True)
class Component:
    """One doubt.

    Attributes:
        name: what it is, in words that can stand in a sentence.
        sd: standard uncertainty, in the unit of the result.
        status: where the figure comes from (``measured``, ``stated``, ``common practice``, ``assumed``).
        df: degrees of freedom behind ``sd``; infinite where it was not estimated from few readings.
        log_sd: over 0 where the doubt is that of a factor which cannot be zero or less: lognormal with
            median 1 and this standard deviation of its logarithm [1]. A budget has one such factor at most.
        lever: what the factor multiplies in the estimate, in the unit of the result.
        scaled: the same factor multiplies this doubt too, so ``sd`` is that at the factor's median.
    """

    name: str
    sd: float
    status: str
    df: float = math.inf
    log_sd: float = 0.0
    lever: float = 0.0
    scaled: bool = False


# The factor's logarithm in its own standard deviations. The sum over even steps is exact to many digits as long
# as the other doubts are not far below a step's worth of the factor's.
_STEPS = np.linspace(-5.0, 5.0, 201)
_SHARES = np.exp(-(_STEPS**2) / 2.0) / np.exp(-(_STEPS**2) / 2.0).sum()
# The normal distribution, straight between places 0.005 apart: good to 1e-6.
_PLACES = np.linspace(-8.0, 8.0, 3201)
_BELOW = np.array([NormalDist().cdf(place) for place in _PLACES])
# Stands in for no doubt at all.
_TINY = 1e-9
# Times that a bracket of some 16 standard deviations is halved: to a millionth of one.
_HALVINGS = 24


@dataclass(frozen=True)
class Budget:
    """Independent doubts about one number."""

    components: tuple[Component, ...]

    @property
    def sd(self) -> float:
        """Combined standard uncertainty, to first order."""
        return math.hypot(*(part.sd for part in self.components))

    @property
    def df(self) -> float:
        """Effective degrees of freedom (Welch and Satterthwaite) of all but a factor, at least 1."""
        normal = [part for part in self.components if not part.log_sd]
        shares = sum(part.sd**4 / part.df for part in normal)
        return max(math.hypot(*(part.sd for part in normal)) ** 4 / shares, 1.0) if shares > 0.0 else math.inf

    @property
    def largest(self) -> Component:
        """The doubt that adds most, the one worth working on."""
        return max(self.components, key=lambda part: part.sd)

    def interval(self, level: float) -> tuple[float, float]:
        """Return where the two-sided interval that holds with probability ``level`` ends, from the estimate."""
        return self.quantile(0.5 - level / 2.0), self.quantile(0.5 + level / 2.0)

    def quantile(self, p: float) -> float:
        """Return how far from the estimate the true number lies at most with probability ``p``.

        Args:
            p: probability, over 0 and under 1 and not 0.5 [1].

        Returns:
            The signed distance: of Student's t where all doubts are normal; else of the factor's distribution
            and the normal one together (JCGM 101:2008), the latter widened as t is for its degrees of freedom.
        """
        t = math.copysign(t_quantile(max(p, 1.0 - p), self.df), p - 0.5)
        factor = next((part for part in self.components if part.log_sd), None)
        if factor is None:
            return t * self.sd
        factors = np.exp(factor.log_sd * _STEPS)
        plain, scaled = (
            math.hypot(*(part.sd for part in self.components if part is not factor and part.scaled is kind))
            for kind in (False, True)
        )
        middles = factor.lever * (factors - 1.0)
        sds = np.maximum(np.hypot(plain, scaled * factors), _TINY) * (t / NormalDist().inv_cdf(p))
        low, high = float(np.min(middles - 8.0 * sds)), float(np.max(middles + 8.0 * sds))
        for _ in range(_HALVINGS):
            middle = (low + high) / 2.0
            below = np.dot(_SHARES, np.interp((middle - middles) / sds, _PLACES, _BELOW))
            low, high = (middle, high) if below < p else (low, middle)
        return (low + high) / 2.0


# Over this many degrees of freedom two terms of the expansion in 1/df are good to 1e-5.
_MANY = 200.0


@lru_cache(maxsize=1024)
def t_quantile(p: float, df: float) -> float:
    """Return Student's t quantile.

    With ``t = sqrt(df) tan(a)`` the distribution is the integral of ``cos(a)**(df - 1)``, which
    Gauss-Legendre quadrature does to many digits; the angle is then found by halving. Over 200 degrees of
    freedom the first two terms of the expansion in 1/df (Abramowitz and Stegun 26.7.5, from memory) stand in.

    Args:
        p: probability below the quantile, 0.5 <= p < 1 [1].
        df: degrees of freedom, 1 to infinity.

    Returns:
        The quantile, good to 1e-4 for p up to 0.999.
    """
    if not 0.5 <= p < 1.0 or df < 1.0:
        raise ValueError(f"t_quantile needs 0.5 <= p < 1 and df >= 1, not p {p}, df {df}")
    if df > _MANY:
        z = NormalDist().inv_cdf(p)
        return z + (z**3 + z) / (4.0 * df) + (5.0 * z**5 + 16.0 * z**3 + 3.0 * z) / (96.0 * df**2)
    nodes, weights = np.polynomial.legendre.leggauss(64)

    def integral(angle: float) -> float:
        return float(np.sum(weights * np.cos(angle * (nodes + 1.0) / 2.0) ** (df - 1.0)) * angle / 2.0)

    wanted = (2.0 * p - 1.0) * integral(math.pi / 2.0)
    low, high = 0.0, math.pi / 2.0
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if integral(middle) < wanted else (low, middle)
    return math.sqrt(df) * math.tan((low + high) / 2.0)
