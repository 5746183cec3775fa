"""Two one-sided tests: is the bias surely inside the margin?

Schuirmann 1987 (J. Pharmacokinet. Biopharm. 15:657), published, from memory. Equivalence is what has to be shown:
little data never shows it.
"""

import math
from dataclasses import dataclass

from bridge.agreement.methods.bland_altman import BlandAltman
from bridge.agreement.methods.groups import student

LEVEL = 0.05
"""Of each of the two tests [1]."""


@dataclass(frozen=True)
class Equivalence:
    """The answer of the two tests.

    Attributes:
        n: how many pairs.
        sessions: how many groups they come from.
        margin: what counts as agreement, in the differences' unit.
        equivalent: whether both tests pass; False also where there is too little to test, as ``because`` says.
        low: lower end of the bias's 90 % interval; it has to lie inside the margin.
        high: upper end of it.
        p: the larger p value of the two [1].
        because: why there was nothing to test.
    """

    n: int
    sessions: int
    margin: float
    equivalent: bool
    low: float | None = None
    high: float | None = None
    p: float | None = None
    because: str | None = None


def equivalence(found: BlandAltman, margin: float) -> Equivalence:
    """Test a bias for equivalence.

    Args:
        found: the bias with its standard error.
        margin: what counts as agreement, over 0.
    """
    if found.bias is None or found.bias_se is None or found.df is None:
        return Equivalence(found.n, found.sessions, margin, equivalent=False, because=found.because)
    from scipy.special import stdtr  # noqa: PLC0415  # start-up

    half = student(1.0 - LEVEL, found.df) * found.bias_se
    p = float(stdtr(found.df, -(margin - abs(found.bias)) / found.bias_se))
    low, high = found.bias - half, found.bias + half
    return Equivalence(
        found.n,
        found.sessions,
        margin,
        equivalent=-margin < low and high < margin,
        low=low,
        high=high,
        p=p if math.isfinite(p) else None,
    )
