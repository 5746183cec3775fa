"""Whether the difference of two methods grows with what is measured.

Bland and Altman 1999, section 3 (Stat. Methods Med. Res. 8:135): the differences regressed on the average. Where the
methods err by different amounts the plain average is tied to the difference by its error alone, so the average here is
weighted by the two errors, which takes that out (closed form: covariance of the errors set to zero).
"""

from dataclasses import dataclass

import numpy as np

from bridge.agreement.methods.deming import FEWEST
from bridge.agreement.methods.groups import Array, Groups, centred, jackknife, moments


@dataclass(frozen=True)
class Proportional:
    """How the difference ``y - x`` changes with the level.

    Attributes:
        n: how many pairs.
        sessions: how many groups they come from.
        slope: change of the difference for each 1.00 of the level [1]; None where ``because`` says why.
        low: lower end of its 95 % interval; None where there is none.
        high: upper end of it.
        shown: whether that leaves out zero.
        because: why there is no slope or no interval.
    """

    n: int
    sessions: int
    slope: float | None = None
    low: float | None = None
    high: float | None = None
    shown: bool = False
    because: str | None = None


def level_of(x: Array, y: Array, ratio: float) -> Array:
    """Return the average of two methods that their errors do not tie to their difference.

    Args:
        x: one method, shape (n,).
        y: the other, shape (n,).
        ratio: variance of the error of y over that of x; 1 gives the plain average [1].
    """
    return (ratio * x + y) / (1.0 + ratio)


def proportional(x: Array, y: Array, ratio: float = 1.0, groups: Groups = None) -> Proportional:
    """Regress the differences on the level.

    Args:
        x: one method, shape (n,).
        y: the other, shape (n,).
        ratio: variance of the error of y over that of x, over 0 [1].
        groups: the session of each pair, shape (n,); None where each stands for itself.
    """
    n = len(x)
    if n < 2:
        return Proportional(n, n, because="a slope needs two pairs at least")
    level = level_of(x, y, ratio)
    found = moments(level, y - x, groups)
    k = found.sums.shape[1]
    if np.ptp(level) == 0.0:
        return Proportional(n, k, because="all pairs lie at one level, so nothing can be said of others")
    slope = float(_slope(found.whole)[0])
    if k < FEWEST:
        few = f"{k} session{'' if k == 1 else 's'} with pairs are too few for an interval; it takes {FEWEST}"
        return Proportional(n, k, slope, because=few)
    whole = jackknife(found, _slope, spent=2)
    if whole is None:
        return Proportional(n, k, slope, because="without one of the sessions all pairs lie at one level")
    return Proportional(n, k, *whole, shown=not whole[1] <= 0.0 <= whole[2])


def _slope(sums: Array) -> Array:
    _, _, xx, xy, _ = centred(sums)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(xx > 0.0, xy / xx, np.nan)
