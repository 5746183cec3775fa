"""How close pairs lie to the line of equality, beside how far they spread along it.

Lin 1989 (Biometrics 45:255), published: ``2 s_xy / (s_x^2 + s_y^2 + (mean x - mean y)^2)``, sums
over n. The interval comes from leaving each session out in turn, on Fisher's z scale.
"""

import math
from dataclasses import dataclass

import numpy as np

from bridge.agreement.methods.deming import FEWEST
from bridge.agreement.methods.groups import Array, Groups, centred, jackknife, moments


@dataclass(frozen=True)
class Concordance:
    """Lin's coefficient.

    Attributes:
        n: how many pairs.
        sessions: how many groups they come from.
        value: the coefficient, -1 to 1; None where ``because`` says why.
        low: lower end of its 95 % interval; None where there is none.
        high: upper end of it.
        because: why there is no value or no interval.
    """

    n: int
    sessions: int
    value: float | None = None
    low: float | None = None
    high: float | None = None
    because: str | None = None


def concordance(x: Array, y: Array, groups: Groups = None) -> Concordance:
    """Return Lin's concordance.

    Args:
        x: one method, shape (n,).
        y: the other, shape (n,).
        groups: the session of each pair, shape (n,); None where each stands for itself.

    Returns:
        The coefficient. It grows with the range that the pairs span, so it compares no two seasons of different range.
    """
    n = len(x)
    if n < 2:
        return Concordance(n, n, because="concordance needs two pairs at least")
    found = moments(x, y, groups)
    k = found.sums.shape[1]
    if np.ptp(x) == 0.0 and np.ptp(y) == 0.0:
        return Concordance(n, k, because="neither method moved, so there is nothing to agree on")
    middles = found.middle_x - found.middle_y

    def fisher(sums: Array) -> Array:
        return np.arctanh(np.clip(_lin(sums, middles), -1.0 + 1e-12, 1.0 - 1e-12))

    value = float(_lin(found.whole, middles)[0])
    if k < FEWEST:
        few = f"{k} session{'' if k == 1 else 's'} with pairs are too few for an interval; it takes {FEWEST}"
        return Concordance(n, k, value, because=few)
    whole = jackknife(found, fisher, spent=2)
    if whole is None:
        return Concordance(n, k, value, because="without one of the sessions neither method moved")
    return Concordance(n, k, value, math.tanh(whole[1]), math.tanh(whole[2]))


def _lin(sums: Array, apart: float) -> Array:
    x, y, xx, xy, yy = centred(sums)
    below = xx + yy + (x - y + apart) ** 2
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(below > 0.0, 2.0 * xy / below, np.nan)
