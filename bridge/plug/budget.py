"""An uncertainty budget: what each doubt adds, and what they come to together.

Source: GUM, JCGM 100:2008, 5.1.2 (independent components add as squares) and G.4 (effective degrees of
freedom by Welch and Satterthwaite); published.
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
    """

    name: str
    sd: float
    status: str
    df: float = math.inf


@dataclass(frozen=True)
class Budget:
    """Independent doubts about one number."""

    components: tuple[Component, ...]

    @property
    def sd(self) -> float:
        """Combined standard uncertainty."""
        return math.hypot(*(part.sd for part in self.components))

    @property
    def df(self) -> float:
        """Effective degrees of freedom (Welch and Satterthwaite), at least 1."""
        shares = sum(part.sd**4 / part.df for part in self.components)
        return max(self.sd**4 / shares, 1.0) if shares > 0.0 else math.inf

    @property
    def largest(self) -> Component:
        """The doubt that adds most, the one worth working on."""
        return max(self.components, key=lambda part: part.sd)

    def half_width(self, level: float) -> float:
        """Return half the width of the two-sided interval that holds with probability ``level``."""
        return t_quantile(0.5 + level / 2.0, self.df) * self.sd

    def one_sided(self, level: float) -> float:
        """Return how far a one-sided bound that holds with probability ``level`` lies from the estimate."""
        return t_quantile(level, self.df) * self.sd


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
