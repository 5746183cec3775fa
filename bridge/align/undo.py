"""Undoing the sensor's first-order lag, as far as the noise allows."""

from math import exp, sqrt

import numpy as np
from numpy.typing import NDArray

from bridge.align.shift import longest_step_s, typical_period_s

Array = NDArray[np.float64]

_HALVINGS = 60


def undo_lag(t_s: Array, lambda_: Array, lag_s: float, growth: float = 2.0) -> tuple[Array, float]:
    """Return a sensor's readings with its first-order lag undone, bounded so that noise does not grow too far.

    The lag is inverted exactly and what comes of it is smoothed by a shorter lag, just long enough that the
    standard deviation of noise which is independent from reading to reading grows by ``growth`` at most. That
    shorter lag is what is left of the sensor's own: the whole of it at ``growth`` 1, none where the readings are
    so far apart that nothing has to be smoothed. A level is kept as it is.

    Args:
        t_s: rising times of the rows, shape (n,) [s]; the readings are taken to come evenly.
        lambda_: a sensor's readings, shape (n,); nan where a row has none.
        lag_s: time constant of the sensor [s]; 0 or less is nothing to undo.
        growth: by how much the noise may grow, 1 and over [1].

    Returns:
        The readings, shape (n,), nan where there was none; each stretch between holes by itself, its first reading
        as it was. And the factor by which noise of the kind above really grows [1].

    Raises:
        ValueError: a growth below 1.
    """
    if growth < 1.0:
        raise ValueError(f"noise cannot be made to grow by {growth:g}: undoing a lag takes 1 and over")
    own = np.flatnonzero(np.isfinite(lambda_))
    period_s = typical_period_s(t_s[own])
    result = lambda_.astype(np.float64, copy=True)
    if lag_s <= 0.0 or period_s <= 0.0:
        return result, 1.0
    from scipy.signal import lfilter  # noqa: PLC0415  # costs the start of every command otherwise

    keeps = exp(-period_s / lag_s)
    left = _smoothing(keeps, growth)
    gain = (1.0 - left) / (1.0 - keeps)
    holes = np.flatnonzero(np.diff(t_s[own]) > longest_step_s(t_s[own])) + 1
    for rows in np.split(own, holes):
        seen = lambda_[rows].astype(np.float64)
        # the state that a level leaves behind, so that the first reading comes out as it went in
        state = seen[:1] * (1.0 - gain)
        result[rows] = lfilter([gain, -gain * keeps], [1.0, -left], seen, zi=state)[0]
    return result, _growth(keeps, left)


def _growth(keeps: float, left: float) -> float:
    """Return how the noise grows when a lag that keeps so much from reading to reading becomes a shorter one.

    The root of the sum of squares of the impulse response of ``gain (1 - keeps/z) / (1 - left/z)``.
    """
    gain = (1.0 - left) / (1.0 - keeps)
    return gain * sqrt(1.0 + (left - keeps) ** 2 / (1.0 - left**2))


def _smoothing(keeps: float, growth: float) -> float:
    """Return how much the shorter lag has to keep from reading to reading, from 0 to ``keeps``."""
    if _growth(keeps, 0.0) <= growth:
        return 0.0
    low, high = 0.0, keeps
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if _growth(keeps, middle) > growth else (low, middle)
    return high
