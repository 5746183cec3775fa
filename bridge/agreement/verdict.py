"""From a difference and its doubt to a verdict.

The rules: ``agree`` where the 90 % interval lies inside the margin (two one-sided tests at 5 %, Schuirmann
1987, J. Pharmacokinet. Biopharm. 15:657, from memory); else richer or leaner where the 99 % interval leaves
out zero; else ``cannot say``. Little data gives a wide interval, and a wide interval never agrees.
"""

from dataclasses import dataclass
from typing import Literal

from bridge.budget import Budget
from bridge.plug.scale import RingLambda

Verdict = Literal["agree", "ring richer", "ring leaner", "cannot say"]


@dataclass(frozen=True)
class Difference:
    """Ring lambda minus measured lambda, and what it comes to. Negative: the ring is the richer one.

    Attributes:
        difference: the estimate [1]; None for a one-sided or an invalid reading.
        low: lower end of the 95 % interval [1]; None where it has none.
        high: upper end of it [1]; None where it has none.
        verdict: by the rules above.
        margin: what counts as agreement [1].
        budget: every doubt counted in it; None where there is nothing to compare.
    """

    difference: float | None
    low: float | None
    high: float | None
    verdict: Verdict
    margin: float
    budget: Budget | None


def open_interval(found: Difference) -> str:
    """Return the interval that leaves a difference open, in words: the 99 % one where the 95 % one leaves out zero.

    Args:
        found: a difference with two sides that neither agrees nor is surely there.
    """
    assert found.difference is not None
    assert found.budget is not None
    low, high = (found.difference + end for end in found.budget.interval(0.95))
    share = 95
    if low > 0.0 or high < 0.0:
        low, high = (found.difference + end for end in found.budget.interval(0.99))
        share = 99
    return f"{low:+.3f} to {high:+.3f}, {share} % interval"


def nothing_to_say(margin: float) -> Difference:
    """Return the answer where there is nothing to compare."""
    return Difference(None, None, None, "cannot say", margin, None)


def judge_difference(difference: float, budget: Budget, margin: float) -> Difference:
    """Judge a difference with two sides.

    Args:
        difference: ring minus measured [1].
        budget: its doubts [1].
        margin: what counts as agreement [1].
    """
    low, high = (difference + end for end in budget.interval(0.95))
    return Difference(difference, low, high, _verdict(difference, budget, margin), margin, budget)


def _verdict(difference: float, budget: Budget, margin: float) -> Verdict:
    low, high = (difference + end for end in budget.interval(0.90))
    if -margin < low and high < margin:
        return "agree"
    # of the 99 % interval only the end nearer to zero can tell
    if difference > 0.0 and difference + budget.quantile(0.005) > 0.0:
        return "ring leaner"
    if difference < 0.0 and difference + budget.quantile(0.995) < 0.0:
        return "ring richer"
    return "cannot say"


def judge_leaner_than(bound: float, budget: Budget, margin: float) -> Difference:
    """Judge a reading that says only that the ring is leaner than some lambda.

    The difference is then over ``bound``. That can show a leaner ring, never agreement, never a richer one.

    Args:
        bound: that lambda minus the measured one [1].
        budget: its doubts [1].
        margin: what counts as agreement [1]; carried along.
    """
    shown = bound + budget.quantile(0.01) > 0.0
    verdict: Verdict = "ring leaner" if shown else "cannot say"
    return Difference(None, bound + budget.quantile(0.05), None, verdict, margin, budget)


def judge_richer_than(bound: float, budget: Budget, margin: float) -> Difference:
    """Judge a reading that says only that the ring is richer than some lambda; see ``judge_leaner_than``."""
    shown = bound + budget.quantile(0.99) < 0.0
    verdict: Verdict = "ring richer" if shown else "cannot say"
    return Difference(None, None, bound + budget.quantile(0.95), verdict, margin, budget)


def judge_ring(ring: RingLambda, measured: float, budget: Budget, margin: float) -> Difference:
    """Judge a ring's lambda against the measured one, whether it has two sides or one.

    Args:
        ring: what the reading stands for.
        measured: by the sensor [1].
        budget: all doubts about the difference [1].
        margin: what counts as agreement [1].
    """
    if ring.mean is not None:
        return judge_difference(ring.mean - measured, budget, margin)
    assert ring.bound is not None  # a ring has a mean or a bound
    one_sided = judge_leaner_than if ring.one_sided == "leaner" else judge_richer_than
    return one_sided(ring.bound - measured, budget, margin)
