"""Pairs in their sessions: sums by group, and what leaving one group out does to a figure."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Groups = Sequence[int] | NDArray[np.int64] | None


def student(p: float, df: float) -> float:
    """Return Student's t quantile; that of ``bridge.budget`` is slow where every call has other degrees of freedom."""
    from scipy.special import stdtrit  # noqa: PLC0415  # start-up

    return float(stdtrit(df, p))


def index_of(groups: Groups, n: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return each pair's group as a number from 0, in order of first appearance, and how many pairs each has.

    Args:
        groups: the session of each pair, shape (n,); None where each pair stands for itself.
        n: how many pairs there are.
    """
    if groups is None:
        return np.arange(n), np.ones(n, dtype=np.int64)
    if len(groups) != n:
        raise ValueError(f"{n} pairs need {n} groups, not {len(groups)}")
    _, first, inverse = np.unique(np.asarray(groups), return_index=True, return_inverse=True)
    rank = np.empty_like(first)
    rank[np.argsort(first)] = np.arange(len(first))
    index = rank[inverse].astype(np.int64)
    return index, np.bincount(index, minlength=len(first)).astype(np.int64)


@dataclass(frozen=True)
class Moments:
    """Sums over pairs, about a middle that takes the rounding out of them.

    Attributes:
        sums: n, x, y, xx, xy, yy of each group, shape (6, k), about the middles.
        middle_x: what was taken off each x.
        middle_y: what was taken off each y.
    """

    sums: Array
    middle_x: float
    middle_y: float

    @property
    def whole(self) -> Array:
        """The sums over all groups, shape (6, 1)."""
        whole: Array = self.sums.sum(axis=1, keepdims=True)
        return whole

    @property
    def without_each(self) -> Array:
        """The sums with each group left out in turn, shape (6, k)."""
        return self.whole - self.sums


def moments(x: Array, y: Array, groups: Groups) -> Moments:
    """Return the sums of pairs by group.

    Args:
        x: shape (n,).
        y: shape (n,).
        groups: as for ``index_of``.
    """
    index, sizes = index_of(groups, len(x))
    mx, my = float(np.mean(x)), float(np.mean(y))
    u, v = x - mx, y - my
    rows = [np.bincount(index, weights=w, minlength=len(sizes)) for w in (u, v, u * u, u * v, v * v)]
    return Moments(np.vstack([sizes.astype(np.float64), *rows]), mx, my)


def centred(sums: Array) -> tuple[Array, Array, Array, Array, Array]:
    """Return the means of x and y, and the mean squares xx, xy and yy about them, each of shape (k,)."""
    n, x, y, xx, xy, yy = sums
    x, y = x / n, y / n
    return x, y, xx / n - x * x, xy / n - x * y, yy / n - y * y


def jackknife(
    found: Moments, estimate: Callable[[Array], Array], spent: int = 1
) -> tuple[float, float, float] | None:
    """Return a figure with its interval from leaving each group out in turn.

    Linnet 1993 (Clin. Chem. 39:424, from memory) uses it for Deming's slope. Tukey's pseudo-values themselves are
    not formed: the interval stands about the figure of all pairs.

    Args:
        found: the sums.
        estimate: from sums of shape (6, m) to figures of shape (m,), nan where there is none.
        spent: degrees of freedom that the figure takes; k less this is left for Student's t.

    Returns:
        The figure and the ends of its 95 % interval; None where the groups are too few, or one of them alone makes
        the figure possible.
    """
    k = found.sums.shape[1]
    if k - spent < 1:
        return None
    each = estimate(found.without_each)
    value = float(estimate(found.whole)[0])
    se = math.sqrt((k - 1) / k * float(np.sum((each - each.mean()) ** 2)))
    if not math.isfinite(se) or not math.isfinite(value):
        return None
    half = student(0.975, k - spent) * se
    return value, value - half, value + half
