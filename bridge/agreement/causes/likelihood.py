"""How well one cause explains a picture: its likelihood over sizes, sides, cylinders and courses over the sessions."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from bridge.agreement.causes.picture import EGT_SLOPES, Exhaust, Picture, Value
from bridge.agreement.causes.table import BASE, NOT_KNOWN, Cause, Reads

Array = NDArray[np.float64]

_SIZES = np.geomspace(0.006, 0.4, 40)
_ODD = 0.03
"""How often a figure is off for a reason of its own, so that none alone can rule a cause out; assumed [1]."""
_RARELY_ODD = 0.002
"""The same of the difference itself, whose oddity is what the causes are to explain; assumed [1]."""
_ODD_LAMBDA, _ODD_K = 0.12, 80.0
_UNEVEN = 0.35
"""How unequally one cause works on several cylinders, as a share of its size; assumed [1]."""
_KNOWN_FACT = 0.002
"""No told fact is believed beyond this [1]."""


@dataclass(frozen=True)
class Explained:
    """What a cause makes of a picture.

    Attributes:
        log: the logarithm of its likelihood.
        items: of each thing seen, the logarithm of its own likelihood under the cause at its best size.
    """

    log: float
    items: Mapping[str, float]


@dataclass(frozen=True)
class _Case:
    """One side, one extent, one course of a cause, with its prior."""

    sign: float
    alone: bool
    course: str
    weight: float


def explain(cause: Cause, seen: Picture) -> Explained:
    """Hold a cause against a picture.

    Args:
        cause: the row.
        seen: what is known.
    """
    sizes = np.exp(-0.5 * (np.log(_SIZES / cause.size) / cause.size_log_sd) ** 2)
    log_sizes = np.log(sizes / sizes.sum())
    rows, logs = [], []
    for case in _cases(cause, seen):
        items = _items(cause, case, seen)
        total = log_sizes + math.log(case.weight) + sum(items.values(), start=np.zeros_like(_SIZES))
        rows.append((case, items))
        logs.append(total)
    whole = np.array(logs)
    log = _log_sum(whole)
    after = np.exp(whole - log)
    facts = _facts(cause, seen)
    # each item by itself, as a mean over what all of them together leave likely
    own: dict[str, float] = {}
    for name in rows[0][1]:
        mean = sum(float(part @ np.exp(row[name])) for part, (_, row) in zip(after, rows, strict=True))
        own[name] = math.log(max(mean, 1e-30))
    return Explained(log + sum(facts.values()), own | facts)


def sound(seen: Picture) -> float:
    """Return the logarithm of the likelihood that nothing is wrong: all of it noise."""
    logs = []
    none = np.zeros(1)
    if seen.difference is not None:
        logs.append(float(_difference(seen, none)[0]))
    logs += [
        float(_odd(value, none, 0.0)[0])
        for value in (seen.idle, seen.part, seen.full, seen.beside)
        if value is not None
    ]
    if seen.exhaust is not None and seen.measured is not None:
        logs.append(float(_of_exhaust(seen.exhaust, np.array([seen.measured]), (0.0, 0.0))[0]))
    if seen.head is not None:
        logs.append(_log_odd(seen.head.value, 0.0, seen.head.sd, _ODD_K))
    logs += [math.log(max(BASE[fact][level], _KNOWN_FACT)) for fact, level in seen.facts.items()]
    return sum(logs)


def sound_beside(seen: Picture) -> float:
    """Return what the other cylinders and the other sessions add where nothing is wrong in any of them."""
    return float(_together(seen, np.zeros(1), np.zeros(1))[0]) + sum(
        _log_odd(one.value, 0.0, one.sd, _ODD_LAMBDA) for one in (*seen.before, *seen.after)
    )


def _cases(cause: Cause, seen: Picture) -> list[_Case]:
    several = seen.cylinders > 1
    shared = seen.averaged and cause.fools == "sensor"
    alone = 0.0 if shared else cause.one if several else 1.0
    found = []
    for sign, side in ((1.0, cause.leaner), (-1.0, 1.0 - cause.leaner)):
        for single, extent in ((True, alone), (False, 1.0 - alone)):
            for course, share in (("once", cause.once), ("stays", cause.stays), ("grows", cause.grows)):
                weight = side * extent * share
                if weight > 0.0 and (single or several):
                    found.append(_Case(sign, single, course, weight))
    return found


def _items(cause: Cause, case: _Case, seen: Picture) -> dict[str, Array]:
    """Return the log likelihood of each thing seen, over sizes."""
    size = case.sign * _SIZES
    factor = _differs(cause, case, seen)
    differs = factor * _SIZES
    found: dict[str, Array] = {}
    if seen.difference is not None:
        found["difference"] = _difference(seen, differs)
    if seen.others and seen.difference is not None:
        found["other cylinders"] = _others(cause, case, seen, size, differs)
    if seen.before or seen.after:
        found["other sessions"] = _course(case.course, seen.before, seen.after, factor)
    moves = _moves(cause, seen, size)
    for name, value, reads in (("idle", seen.idle, cause.idle), ("part throttle", seen.part, cause.part)):
        if value is not None:
            found[name] = _odd(value, reads.factor * moves, _spread(cause, reads, moves))
    if seen.full is not None:
        found["main jet"] = _odd(seen.full, moves, _spread(cause, Reads(1.0, 0.15), moves))
    if seen.beside is not None:
        apart = moves if case.alone else 0.0 * moves
        found["main jet beside"] = _odd(seen.beside, apart, _spread(cause, Reads(1.0, _UNEVEN), moves))
    if seen.exhaust is not None and seen.measured is not None:
        true = seen.measured + (
            differs if cause.fools in {"sensor", "average"} or seen.averaged else 0.0 * size
        )
        found["exhaust gas"] = _of_exhaust(seen.exhaust, true, cause.egt)
    if seen.head is not None:
        mean, sd = cause.head
        log = _log_odd(seen.head.value, mean, math.hypot(seen.head.sd, sd), _ODD_K)
        found["head"] = np.full_like(size, log)
    return found


def _differs(cause: Cause, case: _Case, seen: Picture) -> float:
    """Return by how much ring and sensor differ, over the cause's size [1]."""
    if cause.fools != "mixture":
        return case.sign
    return case.sign * (1.0 - 1.0 / seen.cylinders) if seen.averaged else 0.0


def _moves(cause: Cause, seen: Picture, size: Array) -> Array:
    """Return by how much the sensor's reading at full throttle moves, over sizes."""
    if cause.fools == "sensor":
        return -size
    if cause.fools == "mixture":
        return size / seen.cylinders if seen.averaged else size
    return np.zeros_like(size)


def _spread(cause: Cause, reads: Reads, moves: Array) -> Array:
    unknown = 0.06 if cause.name == NOT_KNOWN else 0.0
    return np.hypot(reads.spread * np.abs(moves), unknown)


def _difference(seen: Picture, differs: Array) -> Array:
    value = seen.difference
    assert value is not None
    if seen.bound is None:
        sds = np.full_like(differs, value.sd)
        return _log_odd_array(value.value, differs, sds, _ODD_LAMBDA, _RARELY_ODD)
    sign = 1.0 if seen.bound == "leaner" else -1.0
    below = [NormalDist().cdf(sign * (float(one) - value.value) / value.sd) for one in differs]
    logs: Array = np.log(np.maximum(np.array(below), 1e-6))
    return logs


def _others(cause: Cause, case: _Case, seen: Picture, size: Array, differs: Array) -> Array:
    if cause.fools == "average" or (cause.fools == "mixture" and seen.averaged and case.alone):
        rest = -size / max(seen.cylinders - 1, 1) if cause.fools == "average" else -size / seen.cylinders
        return _together(seen, differs, rest, 0.5 * np.abs(rest))
    if case.alone:
        return _together(seen, differs, np.zeros_like(size))
    return _together(seen, differs, differs, _UNEVEN * np.abs(differs))


def _together(seen: Picture, differs: Array, rest: Array, spread: Array | float = 0.0) -> Array:
    """Return the log likelihood of the other cylinders, the place of the scale being as unsure for them as for this."""
    total: Array = np.zeros_like(differs)
    if seen.difference is None:
        return total
    shared = max(seen.difference.sd**2 - seen.own_sd**2, 0.0)
    share = shared / seen.difference.sd**2
    left = shared * (1.0 - share)
    for other in seen.others:
        mean = rest + share * (seen.difference.value - differs)
        total = total + _log_odd_array(
            other.value, mean, np.sqrt(other.sd**2 + left + spread**2), _ODD_LAMBDA
        )
    return total


@lru_cache(maxsize=512)
def _course(course: str, before: tuple[Value, ...], after: tuple[Value, ...], factor: float) -> Array:
    """Return the log likelihood of this cylinder's other sessions, over sizes.

    Args:
        course: of the cause.
        before: what the earlier sessions differed by, in order of time.
        after: the later ones.
        factor: of the difference over the cause's size [1].
    """
    count = len(before)
    if course == "once":
        shares = np.zeros((1, count + len(after)))
    else:
        first = np.arange(count + 1)[:, None]
        place = np.arange(count + len(after))[None, :] + (np.arange(count + len(after)) >= count)[None, :]
        grown = (place - first + 1.0) / (count - first + 1.0)
        shares = np.where(place < first, 0.0, 1.0 if course == "stays" else grown)
    means = shares[:, :, None] * (factor * _SIZES)
    values = np.array([one.value for one in (*before, *after)])[None, :, None]
    sds = np.hypot(np.array([one.sd for one in (*before, *after)])[None, :, None], 0.1 * np.abs(means))
    logs = _log_odd_array(values, means, sds, _ODD_LAMBDA).sum(axis=1)
    top = logs.max(axis=0)
    mean: Array = top + np.log(np.exp(logs - top).mean(axis=0))
    return mean


def _of_exhaust(exhaust: Exhaust, true: Array, own: tuple[float, float]) -> Array:
    """Return the log likelihood of the exhaust gas at the lambda that burned, over the slopes it may have."""
    mean, sd = own
    there = exhaust.means[:, None] + np.array(EGT_SLOPES)[:, None] * (true[None, :] - exhaust.at) + mean
    sds = np.hypot(exhaust.sds, sd)[:, None]
    density = np.exp(-0.5 * ((exhaust.today_c - there) / sds) ** 2) / sds
    logs: Array = np.log((1.0 - _ODD) * (exhaust.weights @ density) + _ODD / _ODD_K)
    return logs


def _odd(value: Value, means: Array, spread: Array | float) -> Array:
    return _log_odd_array(value.value, means, np.hypot(value.sd, spread) + 0.0 * means, _ODD_LAMBDA)


def _log_odd_array(value: float | Array, means: Array, sds: Array, width: float, odd: float = _ODD) -> Array:
    """Return a normal log density with a broad foot, so that one odd figure is never all."""
    narrow = np.exp(-0.5 * ((value - means) / sds) ** 2) / sds
    broad = np.exp(-0.5 * (value / width) ** 2) / width
    logs: Array = np.log((1.0 - odd) * narrow + odd * broad)
    return logs


def _log_odd(value: float, mean: float, sd: float, width: float) -> float:
    return float(_log_odd_array(value, np.array([mean]), np.array([sd]), width)[0])


def _facts(cause: Cause, seen: Picture) -> dict[str, float]:
    return {
        fact: math.log(max(cause.facts.get(fact, BASE[fact]).get(level, _KNOWN_FACT), _KNOWN_FACT))
        for fact, level in seen.facts.items()
    }


def _log_sum(values: Array) -> float:
    top = float(values.max())
    return top + math.log(float(np.exp(values - top).sum()))
