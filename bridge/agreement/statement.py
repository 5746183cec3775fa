"""The result in two or three sentences that a tuner would say, none claiming more than its interval."""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.agreement.verdict import open_interval

if TYPE_CHECKING:
    from collections.abc import Sequence

    from bridge.agreement.causes.next_test import NextTest
    from bridge.agreement.causes.rank import Ranked
    from bridge.agreement.departure import Departed
    from bridge.agreement.verdict import Difference, Verdict

SHARE = 0.6
"""Causes within this share of the leading one's weight lead with it, for words [1]; assumed."""
_OPPOSITE = {
    "ring leaner": ("air leak before the sensor", "misfire", "ignition weak"),
    "ring richer": (),
}
_MOST = 3


def say_departure(found: Difference, departed: Departed) -> str:
    """Return what a reading says against the bike's own history, one sentence.

    Args:
        found: the departure of a valid reading.
        departed: what it rests on.
    """
    by = f"by the bike's own history ({departed.pairs} pairs of {departed.sessions} sessions)"
    if found.difference is None:
        return _one_sided(found, departed, by)
    low, high = found.low, found.high
    assert low is not None
    assert high is not None
    if found.verdict == "agree":
        assert found.budget is not None
        inner_low, inner_high = (found.difference + end for end in found.budget.interval(0.90))
        return (
            f"They agree {by}: the difference is {found.difference:+.3f} lambda, and its 90 % interval"
            f" ({inner_low:+.3f} to {inner_high:+.3f}) lies inside ±{found.margin:g}."
        )
    if found.verdict == "cannot say":
        return (
            f"Cannot say {by}: the difference of {found.difference:+.3f} lambda ({open_interval(found)}) is neither"
            f" surely there nor surely inside ±{found.margin:g}."
        )
    side = "leaner" if found.difference > 0.0 else "richer"
    inner, outer = sorted((abs(low), abs(high)))
    return (
        f"{by[0].upper()}{by[1:]} the ring reads {side} than the sensor by {abs(found.difference):.3f} lambda"
        f" ({inner:.3f} to {outer:.3f}, 95 % interval)."
    )


def _one_sided(found: Difference, departed: Departed, by: str) -> str:
    what = "no ring" if departed.ring.one_sided == "leaner" else "a nose dark all over"
    side = departed.ring.one_sided
    edge = found.low if side == "leaner" else found.high
    if found.verdict == "cannot say" or edge is None:
        return (
            f"Cannot say {by}: {what} means only {side} than some lambda, and the sensor's may lie beyond it."
        )
    return (
        f"{by[0].upper()}{by[1:]} the ring reads {side} than the sensor by at least {abs(edge):.3f} lambda (95 %"
        " bound)."
    )


def say_why(causes: Sequence[Ranked], verdict: Verdict, test: NextTest | None) -> str:
    """Return the likeliest causes, what would look the other way, and the next test, in two sentences at most.

    Args:
        causes: the ranking.
        verdict: of the reading.
        test: to make next.
    """
    if not causes:
        return ""
    known = [one for one in causes[:-1] if one.weight >= SHARE * causes[0].weight][:_MOST]
    last = causes[-1]
    if not known or last.weight > known[0].weight:
        said = f"None of the known causes fits well (not known: {percent(last.weight)})"
    else:
        names = " or ".join(f"{_article(one.cause)} ({percent(one.weight)})" for one in known)
        said = f"The likeliest cause is {names}" if len(known) == 1 else f"It may be {names}"
        if verdict == "cannot say":
            said = f"If they do differ, it may be {names}"
    if verdict == "agree":
        said = f"Yet something beside the difference is not as usual: {said[0].lower()}{said[1:]}"
    away = [one for one in _OPPOSITE.get(verdict, ()) if one not in {cause.cause for cause in known}]
    if away:
        said += f"; {_article(away[0])} would look the opposite way"
    return f"{said}. Next: {test.how}." if test else f"{said}."


def percent(share: float) -> str:
    """Return a share in percent that is never said to be nothing or all.

    Args:
        share: from 0 to 1 [1].
    """
    if share < 0.005:
        return "under 1%"
    return "over 99%" if share > 0.995 else f"{share:.0%}"


def _article(cause: str) -> str:
    bare = (
        "misfire",
        "oil ",
        "ignition ",
        "too few",
        "coloured",
        "engine ",
        "short-",
        "collector",
        "wrong",
        "fuel",
    )
    if cause.startswith("ignition weak"):
        return "a weak ignition"
    if cause.startswith(("wrong heat", "wrong fuel")):
        return f"the {cause}"
    if cause.startswith(bare):
        return cause
    return f"an {cause}" if cause[0] in "aeiou" else f"a {cause}"


def said_of_causes(causes: Sequence[Ranked], sound: float | None) -> list[str]:
    """Return the causes with their reasoning, a paragraph each, as far as they are worth one.

    Args:
        causes: the ranking.
        sound: how likely it is that nothing is wrong [1].
    """
    if not causes:
        return []
    lines = []
    if sound is not None:
        lines.append(
            f"That ring and sensor differ by chance alone has a probability of {percent(sound)}; if it is not chance,"
            " the shares are these:"
        )
    told = [one for one in causes[:-1] if one.weight >= 0.05][:5]
    for one in told:
        speaks = f" For: {'; '.join(one.for_)}." if one.for_ else ""
        against = f" Against: {'; '.join(one.against)}." if one.against else ""
        lines.append(
            f"Cause, {percent(one.weight)}: {one.cause}.{speaks}{against} Settled by: {one.next_test}."
        )
    lines.append(f"Cause, {percent(causes[-1].weight)}: {causes[-1].cause}.")
    return lines


def said_of_next_test(test: NextTest | None) -> list[str]:
    """Return the next test with what its outcomes would say, a paragraph.

    Args:
        test: the test; None where there is none.
    """
    if test is None:
        return []
    outcomes = "; ".join(
        f"if {seen}, it is rather {' or '.join(names)}" for seen, names in test.outcomes if names
    )
    said = (
        f"Next test: {test.how}{f' ({outcomes})' if outcomes else ''}. It should bring {test.bits:.2f} bit."
    )
    return [said, *([f"Caution: {test.caution}"] if test.caution else [])]
