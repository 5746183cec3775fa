"""Drift over time: the cumulative sum of the differences from their mean, with a decision limit.

Page 1954 (Biometrika 41:100) for the sum. A season is looked at as a whole afterwards, has few sessions and no level
that was known before, so the limit is not that of a running chart: it is what the largest sum over the standard
deviation of the sessions stays under in 95 % of seasons of as many sessions in which nothing drifts (normal ones,
drawn with a fixed seed: computed here).
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from bridge.agreement.methods.groups import Array, Groups, index_of

FEWEST = 5
"""Sessions from which on a turn can be told from chance; common practice, no source."""
LEVEL = 0.05
"""How often a limit is crossed where nothing drifts [1]."""
_DRAWS = 20_000
_ALIKE = 0.7
"""Two patterns whose misfits differ by less than this factor cannot be told apart; common practice, no source."""

Pattern = Literal["jump", "gradual", "cannot tell"]


@dataclass(frozen=True)
class Cusum:
    """The cumulative sum over sessions in their order.

    Attributes:
        n: how many differences.
        sessions: how many sessions.
        means: the mean difference of each session, in order, shape (k,).
        sums: cumulative sum of what each lies over the mean of all sessions, shape (k,); the last one is 0.
        limit: what the largest sum, either way, has to reach; None where ``because`` says why.
        p: how often chance alone gives a sum as large [1].
        shown: whether the limit is reached.
        turned: how many sessions lie before the turn; None where nothing is shown.
        before: mean of the sessions before it.
        after: mean of those after it. The turn was chosen for their difference, so that is rather too large.
        pattern: a jump at one session, a gradual run, or what cannot be told apart; None where nothing is shown.
        because: why nothing can be said.
    """

    n: int
    sessions: int
    means: Array
    sums: Array
    limit: float | None = None
    p: float | None = None
    shown: bool = False
    turned: int | None = None
    before: float | None = None
    after: float | None = None
    pattern: Pattern | None = None
    because: str | None = None


def cusum(differences: Array, groups: Groups = None, level: float = LEVEL) -> Cusum:
    """Look for drift.

    Args:
        differences: in order of time, shape (n,).
        groups: the session of each, shape (n,); sessions count in order of first appearance.
        level: how often the limit may be crossed where nothing drifts [1].
    """
    n = len(differences)
    index, sizes = index_of(groups, n)
    k = len(sizes)
    means = np.bincount(index, weights=differences, minlength=k) / sizes if n else np.zeros(0)
    away = means - means.mean() if n else means
    sums = np.cumsum(away)
    if k < FEWEST:
        return Cusum(n, k, means, sums, because=f"drift shows from {FEWEST} sessions on, and there are {k}")
    if float(np.ptp(means)) < 1e-12:
        return Cusum(n, k, means, sums, because="the difference is the same in every session")
    top = float(np.max(np.abs(sums)))
    sd = float(np.std(means, ddof=1))
    by_chance = _by_chance(k)
    p = float(np.mean(by_chance >= top / sd))
    limit = sd * float(np.quantile(by_chance, 1.0 - level))
    if top < limit:
        return Cusum(n, k, means, sums, limit, p)
    turned = int(np.argmax(np.abs(sums))) + 1
    return Cusum(
        n,
        k,
        means,
        sums,
        limit,
        p,
        shown=True,
        turned=turned,
        before=float(means[:turned].mean()),
        after=float(means[turned:].mean()),
        pattern=_pattern(means, turned),
    )


def _pattern(means: Array, turned: int) -> Pattern:
    """Return which explains the sessions better: two levels, or a straight run."""
    order = np.arange(len(means), dtype=np.float64)
    jump = sum(float(np.sum((part - part.mean()) ** 2)) for part in (means[:turned], means[turned:]))
    run = float(np.sum((means - np.polyval(np.polyfit(order, means, 1), order)) ** 2))
    if jump < _ALIKE * run:
        return "jump"
    return "gradual" if run < _ALIKE * jump else "cannot tell"


@lru_cache(maxsize=64)
def _by_chance(k: int) -> Array:
    """Return the largest sums over the sd of seasons of k sessions in which nothing drifts."""
    drawn = np.random.default_rng(1954).standard_normal((_DRAWS, k))
    away = drawn - drawn.mean(axis=1, keepdims=True)
    sums: Array = np.max(np.abs(np.cumsum(away, axis=1)), axis=1) / np.std(drawn, axis=1, ddof=1)
    return sums
