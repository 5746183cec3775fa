"""The test that separates the leading causes best: the one with the greatest expected information."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bridge.agreement.causes.picture import Picture
from bridge.agreement.causes.tests import TESTS, Test

_LEADS = 0.10
"""A cause with so much weight is one that a test should separate [1]."""


@dataclass(frozen=True)
class NextTest:
    """A test to make next.

    Attributes:
        test: its name.
        how: what to do.
        bits: the information that it is expected to bring [bit].
        separates: the leading causes that its outcome would tell apart.
        outcomes: each outcome with the causes that it would speak for.
        caution: what has to stand beside it; None where nothing can hurt anybody.
    """

    test: str
    how: str
    bits: float
    separates: tuple[str, ...]
    outcomes: tuple[tuple[str, tuple[str, ...]], ...]
    caution: str | None = None


def next_test(weights: Mapping[str, float], seen: Picture) -> NextTest | None:
    """Choose the next test.

    Args:
        weights: of the causes, adding up to 1 [1].
        seen: what the bike is.

    Returns:
        The test with the greatest expected information about the cause (Lindley 1956, Ann. Math. Stat. 27:986, from
        memory), of those that can be made on this bike; None where none would tell anything.
    """
    possible = [test for test in TESTS.values() if _can_be_made(test, seen)]
    best = max(possible, key=lambda test: expected_bits(weights, test))
    bits = expected_bits(weights, best)
    if bits <= 0.0:
        return None
    leading = [name for name, weight in sorted(weights.items(), key=lambda row: -row[1]) if weight >= _LEADS]
    after = {outcome: _after(weights, best, yes=outcome == best.yes) for outcome in (best.yes, best.no)}
    outcomes = tuple(
        (outcome, tuple(name for name in leading if found[name] > weights[name]))
        for outcome, found in after.items()
    )
    both = all(names for _, names in outcomes)
    separates = tuple(leading) if both else tuple(leading[:1])
    return NextTest(best.name, best.how, bits, separates, outcomes, best.caution)


def expected_bits(weights: Mapping[str, float], test: Test) -> float:
    """Return the information about the cause that a test is expected to bring [bit].

    Args:
        weights: of the causes, adding up to 1 [1].
        test: the test.
    """
    yes = sum(weight * _share(test, name) for name, weight in weights.items())
    before = _entropy(weights.values())
    after = sum(
        chance * _entropy(_after(weights, test, yes=outcome).values())
        for chance, outcome in ((yes, True), (1.0 - yes, False))
        if chance > 0.0
    )
    return before - after


def _after(weights: Mapping[str, float], test: Test, *, yes: bool) -> dict[str, float]:
    found = {
        name: weight * (_share(test, name) if yes else 1.0 - _share(test, name))
        for name, weight in weights.items()
    }
    total = sum(found.values())
    return {name: weight / total for name, weight in found.items()}


def _share(test: Test, cause: str) -> float:
    return test.shares.get(cause, test.otherwise)


def _entropy(weights: Iterable[float]) -> float:
    return -sum(weight * math.log2(weight) for weight in weights if weight > 0.0)


def _can_be_made(test: Test, seen: Picture) -> bool:
    if test.rides and seen.no_ride:
        return False
    if test.needs == "sensors":
        return seen.cylinders > 1 and not seen.averaged
    return test.needs is None or (seen.averaged and seen.cylinders > 1)
