"""What the virtual bike's equations share: seeded noise, first-order lag, slow wander."""

import zlib
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Sampling:
    """How one ride is sampled: its seed, and so many evenly spaced values a second."""

    seed: int
    rate_hz: float

    def noise(self, what: str) -> np.random.Generator:
        """Return a random generator of its own for one source of noise.

        No source takes numbers from another's row, so that two rides of one seed differ only in what was
        changed between them.
        """
        return np.random.default_rng([self.seed, zlib.crc32(what.encode())])

    def lag(self, values: Array, tau_s: float) -> Array:
        """Return values after a first-order lag: tau*y' + y = x, exact for a stepwise constant x.

        Args:
            values: without nan; the first one is taken as settled.
            tau_s: time in which 63.2 % of a step have come through [s]; 0 for none.
        """
        if tau_s <= 0:
            return values.copy()
        return pl.Series(values).ewm_mean(alpha=self._share(tau_s), adjust=False).to_numpy()

    def wander(self, what: str, count: int, sd: float, tau_s: float) -> Array:
        """Return a slow random wander about zero (first-order, stationary).

        Args:
            what: name of this source of noise.
            count: how many values.
            sd: standard deviation.
            tau_s: correlation time [s].
        """
        white = self.noise(what).standard_normal(count)
        share = self._share(tau_s)
        spread = (share / (2.0 - share)) ** 0.5  # standard deviation of the lagged white noise
        white[:1] *= spread
        return np.asarray(self.lag(white, tau_s) * (sd / spread))

    def _share(self, tau_s: float) -> float:
        return float(-np.expm1(-1.0 / (tau_s * self.rate_hz)))
