"""Runs of one session are like each other: what scatters when sessions differ by more than their runs do."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_FEWEST = 2
"""Degrees of freedom between groups below which they cannot be held against their members."""


def by_groups(left: Array, columns: Array, groups: NDArray[np.int64], df: int) -> tuple[Array, Array]:
    """Return the variance that counts behind a fit, and its degrees of freedom.

    A test of lack of fit at 5 %: where the groups' means scatter about the fit more than their members do about the
    means, it is the groups that count and not their members. With hardly more groups than the fit needs nothing tells.

    Args:
        left: residuals, shape (n, k).
        columns: of the fit, shape (n, p).
        groups: which group each row is of, shape (n,).
        df: of the residuals.

    Returns:
        Variance and degrees of freedom, shape (k,) each.
    """
    from scipy.stats import f as f_distribution  # noqa: PLC0415  # start-up

    pooled, free = (left**2).sum(axis=0) / df, np.full(left.shape[1], float(df))
    _, place = np.unique(groups, return_inverse=True)
    numbers = np.bincount(place).astype(np.float64)
    sums = np.zeros((len(numbers), left.shape[1]))
    np.add.at(sums, place, left)
    means = sums / numbers[:, None]
    of_groups = np.zeros((len(numbers), columns.shape[1]))
    np.add.at(of_groups, place, columns)
    apart = len(numbers) - int(np.linalg.matrix_rank(of_groups / numbers[:, None]))
    within = len(left) - len(numbers)
    if apart < _FEWEST or within < 1:
        return pooled, free
    between = (numbers[:, None] * means**2).sum(axis=0) / apart
    inside = ((left - means[place]) ** 2).sum(axis=0) / within
    differ = between > inside * float(f_distribution.ppf(0.95, apart, within))
    return np.where(differ, np.maximum(between, pooled), pooled), np.where(differ, float(apart), free)
