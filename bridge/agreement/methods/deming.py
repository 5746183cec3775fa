"""A straight line through pairs of which both sides are in error.

Deming 1943 (Statistical Adjustment of Data), with the jackknife of Linnet 1993 (Clin. Chem. 39:424); published, written
from memory. Ordinary least squares would draw the slope towards zero, since its x is taken as without error.
"""

from dataclasses import dataclass
from functools import partial

import numpy as np

from bridge.agreement.methods.groups import Array, Groups, centred, jackknife, moments

FEWEST = 4
"""Sessions from which on a line with its interval is worth saying (common practice: two degrees of freedom left)."""


@dataclass(frozen=True)
class Deming:
    """The line ``y = intercept + slope * x``.

    Attributes:
        n: how many pairs.
        sessions: how many groups they come from.
        ratio: variance of the error of y over that of x, as it was told [1].
        slope: None where ``because`` says why.
        slope_low: lower end of its 95 % interval; None where the sessions are too few.
        slope_high: upper end of it.
        intercept: y at x = 0, far from the pairs as a rule.
        intercept_low: lower end of its 95 % interval.
        intercept_high: upper end of it.
        because: why there is no line or no interval.
    """

    n: int
    sessions: int
    ratio: float
    slope: float | None = None
    slope_low: float | None = None
    slope_high: float | None = None
    intercept: float | None = None
    intercept_low: float | None = None
    intercept_high: float | None = None
    because: str | None = None


def deming(x: Array, y: Array, ratio: float = 1.0, groups: Groups = None) -> Deming:
    """Fit Deming's line.

    Args:
        x: one method, shape (n,).
        y: the other, shape (n,).
        ratio: variance of the error of y over that of x, over 0 [1].
        groups: the session of each pair, shape (n,); None where each stands for itself.

    Returns:
        The line. Its interval is that of leaving each session out in turn; it holds where the errors are small
        beside the range that the pairs span, which ``range_told`` of the season says.
    """
    if not ratio > 0.0:
        raise ValueError(f"the ratio of the errors' variances must be over zero, not {ratio}")
    n = len(x)
    if n < 2:
        return Deming(n, n, ratio, because="a line needs two pairs at least")
    found = moments(x, y, groups)
    k = found.sums.shape[1]
    if np.ptp(x) == 0.0 or np.ptp(y) == 0.0:
        which = "first" if np.ptp(x) == 0.0 else "second"
        return Deming(n, k, ratio, because=f"the {which} method said the same each time, so there is no line")
    slope = float(_slope(found.whole, ratio)[0])
    if not np.isfinite(slope):
        return Deming(n, k, ratio, because="the two methods do not move together, so there is no line")
    intercept = found.middle_y - slope * found.middle_x
    if k < FEWEST:
        few = f"{k} session{'' if k == 1 else 's'} with pairs are too few for an interval; it takes {FEWEST}"
        return Deming(n, k, ratio, slope=slope, intercept=intercept, because=few)
    slopes = jackknife(found, partial(_slope, ratio=ratio), spent=2)
    crossings = jackknife(
        found, partial(_intercept, ratio=ratio, middles=(found.middle_x, found.middle_y)), spent=2
    )
    if slopes is None or crossings is None:
        lone = "without one of the sessions there is no line, so how sure it is does not show"
        return Deming(n, k, ratio, slope=slope, intercept=intercept, because=lone)
    return Deming(n, k, ratio, *slopes, *crossings)


def _slope(sums: Array, ratio: float) -> Array:
    """Return Deming's slope; nan where x and y do not move together."""
    _, _, xx, xy, yy = centred(sums)
    over = yy - ratio * xx
    with np.errstate(divide="ignore", invalid="ignore"):
        slope: Array = (over + np.sqrt(over**2 + 4.0 * ratio * xy**2)) / (2.0 * xy)
    return np.where(np.isfinite(slope), slope, np.nan)


def _intercept(sums: Array, ratio: float, middles: tuple[float, float]) -> Array:
    x, y, *_ = centred(sums)
    crossing: Array = (y + middles[1]) - _slope(sums, ratio) * (x + middles[0])
    return crossing
