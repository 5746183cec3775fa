"""What is usual on a bike: a figure's mean over earlier sessions, a step in it told apart."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

_STEP = 0.25
"""How likely a step is somewhere in a series, before it is looked at; assumed [1]."""


@dataclass(frozen=True)
class Usual:
    """A figure as it usually is.

    Attributes:
        mean: in its unit.
        sd: how far today's may lie from it where nothing is wrong.
        log_evidence: how well the series is explained.
        sessions: how many went into it.
    """

    mean: float
    sd: float
    log_evidence: float
    sessions: int


def usual(values: Sequence[float], noises: Sequence[float], step: float) -> Usual | None:
    """Return what is usual of a series in order of time.

    The scatter is summed over a few sizes. From each session on the rest may have stepped away by an unknown amount;
    then only what was before counts. Bayes weighs these against a series without a step.

    Args:
        values: one a session, the oldest first; at least two.
        noises: sizes of scatter to try, each as likely as the others, in the unit of the values.
        step: standard deviation of a step, in that unit.
    """
    if len(values) < 2:
        return None
    series = np.array(values, dtype=np.float64)
    count = len(series)
    before = np.arange(1, count + 1)
    behind = count - before
    sums, squares = np.cumsum(series), np.cumsum(series**2)
    means = sums / before
    own = np.array(noises)[:, None] ** 2
    place = own / before
    # what lies about a mean that nobody knows (flat), but for constants
    head = squares - sums * means
    logs = np.log(np.where(behind == 0, 1.0 - _STEP, _STEP / max(count - 1, 1)))
    logs = logs - 0.5 * ((before - 1) * np.log(own) + np.log(before) + np.maximum(head, 0.0) / own)
    # what shares one step besides its noise
    total = sums[-1] - sums - behind * means
    tail = squares[-1] - squares - 2.0 * means * (sums[-1] - sums) + behind * means**2
    common = step**2 + place
    spread = own + behind * common
    quad = tail / own - common * total**2 / (own * spread)
    logs = logs - 0.5 * np.where(behind > 0, (behind - 1) * np.log(own) + np.log(spread) + quad, 0.0)
    top = logs.max()
    weights = np.exp(logs - top)
    evidence = float(top + np.log(weights.sum() / len(noises)))
    weights = weights / weights.sum()
    mean = float((weights * means).sum())
    variance = float((weights * (place + own + (means - mean) ** 2)).sum())
    return Usual(mean, float(np.sqrt(variance)), evidence, count)
