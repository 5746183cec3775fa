"""The causes in order, by Bayes, with the reasoning; and how likely it is that nothing is wrong at all."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from bridge.agreement.causes.likelihood import Explained, explain, sound, sound_beside
from bridge.agreement.causes.next_test import NextTest, next_test
from bridge.agreement.causes.picture import Picture
from bridge.agreement.causes.table import CAUSES, LEAST_UNKNOWN, UNKNOWN, Cause
from bridge.agreement.causes.tests import TESTS
from bridge.agreement.causes.words import reasons

WRONG = 0.15
"""How likely it is that something is wrong with a reading or its sensor, before it is looked at; assumed [1]."""


@dataclass(frozen=True)
class Ranked:
    """A cause with its weight.

    Attributes:
        cause: its name.
        weight: how likely it is, given that something is wrong; all weights add up to 1.
        next_test: the test that would settle it.
        predicts: the pattern that it makes, a clause.
        for_: what speaks for it, a clause each with its figure.
        against: what speaks against it.
    """

    cause: str
    weight: float
    next_test: str
    predicts: str = ""
    for_: tuple[str, ...] = ()
    against: tuple[str, ...] = ()


@dataclass(frozen=True)
class Ranking:
    """All causes.

    Attributes:
        causes: the likeliest first; ``not known`` always stands at the end.
        sound: how likely it is that nothing is wrong [1].
        next_test: the test that separates the leading ones best.
    """

    causes: tuple[Ranked, ...]
    sound: float
    next_test: NextTest | None


def rank(seen: Picture, causes: Sequence[Cause] = CAUSES) -> Ranking:
    """Rank the causes of what is seen.

    Args:
        seen: of one cylinder.
        causes: the table.
    """
    rows = [(cause, weight) for cause in (*causes, UNKNOWN) if (weight := _prior(cause, seen)) > 0.0]
    total = sum(weight for _, weight in rows)
    explained = [explain(cause, seen) for cause, _ in rows]
    logs = [math.log(weight / total) + one.log for (_, weight), one in zip(rows, explained, strict=True)]
    top = max(logs)
    shares = [math.exp(log - top) for log in logs]
    wrong = top + math.log(sum(shares))
    weights = _with_unknown([share / sum(shares) for share in shares])
    nothing = sound(seen) + sound_beside(seen)
    odds = math.exp(min(max(nothing - wrong, -50.0), 50.0)) * (1.0 - WRONG) / WRONG
    by_name = {cause.name: weight for (cause, _), weight in zip(rows, weights, strict=True)}
    ranked = [
        _ranked(cause, weight, one, explained, seen)
        for (cause, _), weight, one in zip(rows, weights, explained, strict=True)
    ]
    known = sorted(ranked[:-1], key=lambda one: -one.weight)
    return Ranking((*known, ranked[-1]), odds / (1.0 + odds), next_test(by_name, seen))


def _prior(cause: Cause, seen: Picture) -> float:
    if cause.fools == "average" and not (seen.averaged and seen.cylinders > 1):
        return 0.0
    return cause.weight[0 if seen.strokes == 4 else 1]


def _with_unknown(weights: list[float]) -> list[float]:
    """Return the weights with no less than its share for what nobody knows, which stands last."""
    lack = LEAST_UNKNOWN - weights[-1]
    if lack <= 0.0:
        return weights
    rest = 1.0 - weights[-1]
    return [*(weight * (1.0 - LEAST_UNKNOWN) / rest for weight in weights[:-1]), LEAST_UNKNOWN]


def _ranked(
    cause: Cause, weight: float, own: Explained, everyone: Sequence[Explained], seen: Picture
) -> Ranked:
    speaks_for, against = reasons(cause, own, everyone, seen)
    return Ranked(cause.name, weight, TESTS[cause.test].name, cause.predicts, speaks_for, against)
