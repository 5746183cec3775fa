"""What a session's delay comes with: the delay itself, that of each sample, and how the ride was asked."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.align.delay import Delay

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Example:
    """A short stretch of the ride for a picture."""

    t_s: Array
    """Times of the readings, shape (n,) [s]; nan before a gap."""
    seen: Array
    """Lambda as the sensor said it, shape (n,) [1]."""
    explained: Array
    """Lambda as throttle and speed explain it by the delay found, shape (n,) [1]."""


@dataclass(frozen=True)
class DelayFit:
    """How well each delay would explain the ride."""

    lag_axis_s: Array
    """Delays that were tried, rising, shape (n,) [s]."""
    misfit: Array
    """Weighted sum of squares left over with each of them, over that with the best one, shape (n,) [1]."""
    best_s: float
    """The delay that explains the ride best [s]."""
    low_s: float
    """Lower end of its 95 % interval [s]."""
    high_s: float
    """Upper end of it [s]."""
    steps: int
    """Movements of the throttle that could be used."""
    explained: float
    """Correlation of lambda with what throttle and speed make of it, on stretches that the fit had not seen [1]."""
    per_channel: Mapping[str, float]
    """Delay by each lambda channel alone [s]."""
    example: Example | None
    """None where nothing could be fitted."""
    refused: str | None
    """Why the delay is not taken from this fit, in a sentence; None where it is."""


@dataclass(frozen=True)
class Found:
    """A session's delay."""

    delay: Delay
    later_s: Array
    """What is to be added to the time of each row to find the reading that shows its charge, shape (n,) [s];
    nan where that is not known."""
    fit: DelayFit | None
    """None where the ride was not asked at all: no lambda, no throttle, or no row."""
