"""Where a sensor may have read the oxygen of charges that did not burn.

A missed charge reads lean whatever its mixture was, so taking it for a lean mixture is dangerous the other way: the
answer to it would be a richer jet. One sign alone is no sign: a lean spike counts only where the engine stumbled
or the exhaust cooled near it. Common practice, no source; it finds what is gross, and misses are not ruled out by it.
"""

import numpy as np
from numpy.typing import NDArray

from bridge.model.steady import SteadySettings

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

_AROUND_S = 3.0
"""A spike stands out against the readings so far before and after it [s]."""
_TIMES_USUAL = 6.0
"""... by so many times their usual scatter."""
_APART_S = 0.1
"""Spikes closer together than a sensor's lag are one [s]."""
_TO_SD = 1.4826
"""Median distance to standard deviation of a normal law (published: any text on robust statistics)."""


def suspected(  # noqa: PLR0913, PLR0917  # columns of one table, and the settings
    t_s: Array, lambda_: Array, rpm: Array, egt_c: Array | None, steady: Flags, limits: SteadySettings
) -> Flags:
    """Return where a lambda channel may have seen misfires.

    Args:
        t_s: rising times of the rows, shape (n,) [s].
        lambda_: readings laid back to their charge, nan where there is none, shape (n,) [1].
        rpm: engine speed, shape (n,) [1/min].
        egt_c: exhaust-gas temperature of the same cylinder, shape (n,) [Cel]; None without one. A bead lags by
            seconds, so a lone missed charge does not show in it.
        steady: where the engine is settled; nothing else is looked at.
        limits: the settings.

    Returns:
        Flags, shape (n,): within ``misfire_s`` of a lean spike that came with another sign.
    """
    none = np.zeros(len(t_s), dtype=bool)
    rows = np.flatnonzero(steady & ~np.isnan(lambda_))
    if len(rows) < 3:
        return none
    seen = lambda_[rows]
    away = seen - _mean_around(t_s[rows], seen, np.flatnonzero(np.diff(rows) > 1) + 1)
    usual = _TO_SD * float(np.median(np.abs(away)))
    out = max(limits.misfire_lambda, _TIMES_USUAL * usual)
    spikes = t_s[rows[away > out]]
    near_s = limits.misfire_s
    alone = t_s[rows[away > max(limits.misfire_alone_lambda, out)]]
    confirmed = [
        *alone,
        *(
            at
            for at in spikes[np.diff(spikes, prepend=-np.inf) > _APART_S]
            if _fell(t_s, rpm, at, near_s) > limits.misfire_rpm_share * np.interp(at, t_s, rpm)
            or (egt_c is not None and _fell(t_s, egt_c, at, near_s) > limits.misfire_egt_c)
        ),
    ]
    if not confirmed:
        return none
    times = np.array([-np.inf, *sorted(confirmed), np.inf])
    after = np.searchsorted(times, t_s, side="right")
    near: Flags = np.minimum(t_s - times[after - 1], times[after] - t_s) <= near_s
    return steady & near


def _mean_around(t_s: Array, values: Array, begins: NDArray[np.intp]) -> Array:
    """Return the mean of the readings before and after each one, within the stretch of steady running it is in."""
    total = np.concatenate(([0.0], np.cumsum(values)))
    edges = np.concatenate(([0], begins, [len(values)]))
    stretch = np.searchsorted(edges, np.arange(len(values)), side="right")
    low = np.maximum(np.searchsorted(t_s, t_s - _AROUND_S), edges[stretch - 1])
    high = np.minimum(np.searchsorted(t_s, t_s + _AROUND_S, side="right"), edges[stretch])
    mean: Array = (total[high] - total[low]) / (high - low)
    return mean


def _fell(t_s: Array, values: Array, at: float, near_s: float) -> float:
    """Return by how much a channel fell, at most, from before to after within a time of a moment."""
    near = values[np.searchsorted(t_s, at - near_s) : np.searchsorted(t_s, at + near_s, side="right")]
    near = near[~np.isnan(near)]
    return float(np.max(np.maximum.accumulate(near) - near)) if len(near) else 0.0
