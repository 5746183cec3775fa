"""A season in two or three sentences that a tuner would say; none claims more than its interval."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bridge.agreement.season.result import Season


def season_statement(found: Season) -> list[str]:
    """Return the sentences.

    Args:
        found: the season.
    """
    if not found.points:
        return ["No pair of a valid reading and a measured lambda yet: there is nothing to compare."]
    return [_average(found), *_single(found), *without_off(found), *_drift(found)]


def _average(found: Season) -> str:
    limits = found.bland_altman
    bias = limits.bias or 0.0
    low, high = found.bias_interval
    sessions = f"{limits.sessions} session{'' if limits.sessions == 1 else 's'}"
    if low is None or high is None:
        return f"Over {sessions} the ring lies {bias:+.3f} from the sensor on average, with nothing to say how surely."
    ends = f"{low:+.3f} to {high:+.3f}"
    if found.equivalent:
        against = " against the bike's own history" if found.scale == "pairs" else ""
        return (
            f"Over {sessions} ring and sensor agree on average{against}: the difference is {bias:+.3f} ({ends}),"
            f" within the margin of {found.margin:g}."
        )
    if low > 0.0 or high < 0.0:
        way = "leaner" if low > 0.0 else "richer"
        return f"Over {sessions} the ring reads {way} than the sensor by {abs(bias):.3f} on average ({ends})."
    return (
        f"Over {sessions} neither agreement nor a difference is shown: the ring lies {bias:+.3f} from the sensor on"
        f" average, and it may be {ends}."
    )


def _single(found: Season) -> list[str]:
    lower, upper = found.bland_altman.lower, found.bland_altman.upper
    if lower is None or upper is None:
        return []
    return [f"A single reading may lie {lower.value:+.3f} to {upper.value:+.3f} from its sensor."]


def without_off(found: Season) -> list[str]:
    """Return what is left where sessions that are likely off by themselves are taken away.

    Args:
        found: the season.
    """
    rest = found.without_off
    if rest is None:
        return []
    which = " and ".join(one.in_words() for one in found.off)
    first = f"Likely off by itself, against all others: {which}."
    if rest.lower is None or rest.upper is None:
        return [first]
    ends = f"{rest.lower.value:+.3f} to {rest.upper.value:+.3f}"
    return [f"{first} Without that a single reading lies {ends} from its sensor."]


def _drift(found: Season) -> list[str]:
    drift, turn = found.drift, found.turn
    if not drift.shown or turn is None or drift.before is None or drift.after is None:
        return []
    changed = f" ({'; '.join(turn.changed)})" if turn.changed else ""
    before = f"where it was {drift.before:+.3f} before"
    return [f"From session {turn.first} on{changed} the difference is {drift.after:+.3f}, {before}."]
