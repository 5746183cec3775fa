"""Where the throttle was full, from one end of a log to the other."""

import numpy as np
from numpy.typing import NDArray

from bridge.bands.edges import FULL_PERCENT, NOT_FULL_PERCENT
from bridge.pulls.log import Log

Array = NDArray[np.float64]

_BLOCK_S = 0.25
"""Without a throttle channel the revs are looked at in blocks of this [s]."""


def stretches(log: Log, least_rpm: float) -> tuple[list[tuple[float, float]], str | None]:
    """Return the stretches of full throttle, each from its first moment to its last one [s].

    Args:
        log: the run.
        least_rpm: without a throttle channel, stretches are those in which the revs rise by this much [1/min].

    Returns:
        The stretches, split at holes in the log, and a sentence where they are not what they seem.
    """
    if not log.has("throttle"):
        return _rises(log, least_rpm), (
            "the throttle was not recorded: where the revs rise steadily, full throttle is assumed, and part throttle"
            " cannot be told from it"
        )
    own, t_s = log.frame["throttle"], log.t_s
    throttle = own.to_numpy()
    if own.null_count():
        known = ~np.isnan(throttle)
        throttle, t_s = throttle[known], t_s[known]
    found = _full(throttle, t_s)
    note = None
    if not found and len(throttle) and 60.0 < np.max(throttle) < FULL_PERCENT:
        note = (
            f"the throttle never came to {FULL_PERCENT:g} %, its highest is {np.max(throttle):.0f} %; if that was full"
            " throttle, its sensor needs calibrating ([channel.throttle] in bike.toml)"
        )
    return [part for one in found for part in _whole(log, *one)], note


def _full(throttle: NDArray[np.floating], t_s: Array) -> list[tuple[float, float]]:
    """Return where the throttle went to full, and where it had left it, by moments [s]."""
    if len(throttle) == 0:
        return []
    on, off = throttle >= FULL_PERCENT, throttle < NOT_FULL_PERCENT
    ups = np.flatnonzero(on[1:] > on[:-1]) + 1
    downs = np.append(np.flatnonzero(off[1:] > off[:-1]) + 1, len(throttle))
    if on[0]:
        ups = np.insert(ups, 0, 0)
    ends = downs[np.searchsorted(downs, ups, side="right")]
    ends, first = np.unique(ends, return_index=True)
    return [
        (float(t_s[up]), float(t_s[end - 1]))
        for up, end in zip(ups[first], ends, strict=True)
        if end - up > 1
    ]


def _whole(log: Log, start_s: float, end_s: float) -> list[tuple[float, float]]:
    """Return the parts of a stretch between holes in the log."""
    low, high = np.searchsorted(log.t_s, [start_s, end_s])
    t_s = log.t_s[low : high + 1]
    holes = np.flatnonzero(np.diff(t_s) > log.longest_step_s)
    edges = [start_s, *(t for hole in holes for t in (t_s[hole], t_s[hole + 1])), end_s]
    return [
        (float(a), float(b)) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > 2 * log.period_s
    ]


def _rises(log: Log, least_rpm: float) -> list[tuple[float, float]]:
    """Return where the revs rise without a pause, from block to block."""
    rpm = log.values("rpm")
    known = ~np.isnan(rpm)
    if known.sum() < 4:
        return []
    place = ((log.t_s[known] - log.t_s[0]) / max(_BLOCK_S, 2.0 * log.period_s)).astype(np.int64)
    at, first, counts = np.unique(place, return_index=True, return_counts=True)
    means = np.add.reduceat(rpm[known], first) / counts
    rising = (np.diff(means) > 0.0) & (np.diff(at) == 1)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], rising.astype(np.int8), [0]))))
    starts, ends = edges[::2], edges[1::2]
    t_s = log.t_s[known][first]
    return [
        (float(t_s[a]), float(t_s[b]))
        for a, b in zip(starts, ends, strict=True)
        if means[b] - means[a] >= 0.5 * least_rpm
    ]
