"""What speaks for a cause and against it, in words with their figures."""

import math
from collections.abc import Sequence

from bridge.agreement.causes.likelihood import Explained
from bridge.agreement.causes.picture import Picture, Value
from bridge.agreement.causes.table import NOT_KNOWN, Cause

_TELLS = math.log(1.6)
"""So many times likelier, or less likely, than by the other causes is worth a sentence; assumed."""
_MOST = 4


def reasons(
    cause: Cause, own: Explained, everyone: Sequence[Explained], seen: Picture
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what speaks for a cause and what against it, the strongest first.

    Args:
        cause: the row.
        own: what it makes of the picture.
        everyone: what each row makes of it, this one among them.
        seen: the picture.
    """
    if cause.name == NOT_KNOWN:
        return (), ()
    gains = []
    for item, log in own.items.items():
        others = [one.items[item] for one in everyone if one is not own]
        top = max(others)
        mean = top + math.log(sum(math.exp(other - top) for other in others) / len(others))
        gains.append((log - mean, item))
    gains.sort(reverse=True)
    speaks_for = [_say(item, seen) for gain, item in gains if gain >= _TELLS]
    against = [_say(item, seen) for gain, item in reversed(gains) if gain <= -_TELLS]
    return tuple(speaks_for[:_MOST]), tuple(against[:_MOST])


def _say(item: str, seen: Picture) -> str:
    """Return what is seen of one item, a clause with its figure."""
    said = _figures(seen).get(item)
    if said is not None:
        return said
    told = seen.told.get(item)
    long = item.startswith("full")
    grades = {"pass": "long enough" if long else "short enough", "fail": "too short" if long else "too long"}
    level = grades.get(seen.facts[item], seen.facts[item])
    return f"{item}: {level}{f' ({told})' if told else ''}"


def _figures(seen: Picture) -> dict[str, str]:
    """Return the clause of each item that is a figure."""
    found = {}
    if seen.difference is not None:
        side, size = ("leaner" if seen.difference.value > 0.0 else "richer"), abs(seen.difference.value)
        found["difference"] = (
            f"the ring reads {side} than the sensor by {size:.3f} ± {seen.difference.sd:.3f}"
        )
    others = ", ".join(f"{one.value:+.3f}" for one in seen.others)
    plural = "s" if len(seen.others) > 1 else ""
    found["other cylinders"] = f"ring less sensor in the other cylinder{plural}: {others}"
    found["other sessions"] = _sessions(seen)
    bands = (
        ("idle", seen.idle, "at idle the sensor reads", "it usually does"),
        ("part throttle", seen.part, "at part throttle the sensor reads", "it usually does"),
        ("main jet", seen.full, "at full throttle the sensor reads", "is usual with its main jet"),
        ("main jet beside", seen.beside, "beside the other cylinders the sensor reads", "it usually does"),
    )
    found |= {
        item: f"{words} {_moved(value, usual)}" for item, value, words, usual in bands if value is not None
    }
    if seen.exhaust is not None and seen.measured is not None:
        usual = seen.exhaust.expected(seen.measured)
        away = Value(seen.exhaust.today_c - usual.value, usual.sd)
        found["exhaust gas"] = f"the exhaust gas is {_warmer(away, 'the measured lambda usually makes it')}"
    if seen.head is not None:
        found["head"] = f"head or coolant is {_warmer(seen.head, 'usual')}"
    return found


_UNSEEN = 1.5
"""A move under so many of its standard uncertainties is told as none [1]."""


def _moved(value: Value, usual: str) -> str:
    side = "leaner" if value.value > 0.0 else "richer"
    size = f"{abs(value.value):.3f} ± {value.sd:.3f} {side}"
    return f"as {usual} ({size})" if abs(value.value) < _UNSEEN * value.sd else f"{size} than {usual}"


def _warmer(value: Value, usual: str) -> str:
    side = "hotter" if value.value > 0.0 else "cooler"
    size = f"{abs(value.value):.0f} ± {value.sd:.0f} K {side}"
    return f"as {usual} ({size})" if abs(value.value) < _UNSEEN * value.sd else f"{size} than {usual}"


def _sessions(seen: Picture) -> str:
    parts = [
        f"{name} {', '.join(f'{one.value:+.3f}' for one in values[-4:])}"
        for name, values in (("before it", seen.before), ("after it", seen.after[:4]))
        if values
    ]
    return f"ring less sensor in the other sessions: {'; '.join(parts)}"
