"""What was promised of a change before the run, against what came of it."""

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from statistics import fmean
from typing import Any, Literal

from bridge.bands import Bands
from bridge.bands.uncertainty import DELAY, DRIFT, SAMPLING, FullThrottle
from bridge.budget import Budget, Component
from bridge.model import Session, Task, Weather
from bridge.physics.air import lambda_factor

How = Literal["as promised", "too little", "too much", "the other way", "cannot say"]

LAW = 0.5
"""Doubt about what the air did, as a share of it; assumed, as the law of carburettors is (see ``lambda_factor``)."""


@dataclass(frozen=True)
class Came:
    """A promise and what came.

    Attributes:
        task: what was to be done.
        before: number of the session that it was promised in.
        after: number of the bike's next session with steady full throttle; None while there is none.
        change: of lambda at full throttle, the air's own part taken off [1].
        low: lower end of the 95 % interval [1].
        high: upper end of it [1].
        air: the part that the change of air would have made by itself [1]; 0 where a weather is missing.
        how: what became of the promise.
        says: in one sentence.
    """

    task: Task
    before: int
    after: int | None
    change: float | None
    low: float | None
    high: float | None
    air: float
    how: How
    says: str

    def to_json(self) -> dict[str, Any]:
        """Return it as plain values."""
        return asdict(self)


def next_of(task: Task, sessions: Sequence[Session]) -> list[int]:
    """Return the bike's sessions after the one that a promise was written for, in order of time.

    Args:
        task: with the promise.
        sessions: all of its bike, in order of time.
    """
    own = next((one for one in sessions if one.id == task.session), None)
    if own is None:
        return []
    return [
        one.id
        for one in sessions
        if (one.started, one.id) > (own.started, own.id) and one.build == own.build and one.state == "sealed"
    ]


def came(
    task: Task,
    before: Bands | None,
    after: Bands | None,
    weathers: tuple[Weather | None, Weather | None] = (None, None),
    *,
    changed: bool = True,
) -> Came:
    """Hold a promise against what came.

    Args:
        task: with the promise.
        before: bands of the session that it was written for.
        after: bands of the next session; None while there is none.
        weathers: of both sessions.
        changed: the task was ticked off, or the set-up on record is another one since; else nothing came of it.

    Returns:
        The change with its interval. The sensor's own accuracy is the same before and after and cancels; its drift is
        counted once. Air of another density makes the same jets richer or leaner, so that part is taken off where both
        weathers are known, half of it counted as doubt.
    """
    promise = task.promise or 0.0
    both = _both(before, after, task.cylinder)
    if after is None or not both or not changed:
        why = "one of the two sessions has no steady full throttle to measure"
        if after is None:
            why = "no later session of this engine build yet"
        elif not changed:
            why = "it is not ticked off, and the set-up on record has not changed since"
        number = after.session if after else None
        return Came(
            task, task.session, number, None, None, None, 0.0, "cannot say", f"{_promised(task)}: {why}."
        )
    first, last = (fmean(full.mean for full in fulls) for fulls in zip(*both, strict=True))
    air, known = _air(first, weathers)
    change = last - first - air
    budget = Budget(tuple(_doubts(both, air, known=known)))
    low, high = (change + end for end in budget.interval(0.95))
    how = _how(promise, low, high)
    says = (
        f"{_promised(task)}, and {change:+.3f} came ({low:+.3f} to {high:+.3f}, 95 % interval) in session"
        f" {after.session}: {_WORDS[how]}."
    )
    if known and abs(air) >= 0.0005:
        says += f" The air alone made {air:+.3f} of the {last - first:+.3f} that was seen; that is taken off."
    if task.done is None:
        says += " It is not ticked off as done: look whether this is what was changed."
    if not known:
        says += " A weather is missing, so what the air did is in it."
    return Came(task, task.session, after.session, change, low, high, air, how, says)


_WORDS: dict[How, str] = {
    "as promised": "within its interval, as promised",
    "too little": "less than promised",
    "too much": "more than promised",
    "the other way": "the other way than promised",
    "cannot say": "too unsure to tell whether it was kept",
}
NO_AIR = 0.01
"""What weather does from day to day where nobody wrote it down, as a standard uncertainty of lambda [1]; assumed."""


def _promised(task: Task) -> str:
    whose = "" if task.cylinder is None else f" in cylinder {task.cylinder}"
    return f"Session {task.session} promised {task.promise or 0.0:+.3f}{whose} from '{task.what}'"


def _how(promise: float, low: float, high: float) -> How:
    sign = 1.0 if promise > 0.0 else -1.0
    least, most = sorted((sign * low, sign * high))
    if most < 0.0:
        return "the other way"
    if most < abs(promise):
        return "too little"
    if least > abs(promise):
        return "too much"
    # an interval that holds the promise and nothing at all tells neither from the other
    return "as promised" if least > 0.0 else "cannot say"


Both = list[tuple[FullThrottle, FullThrottle]]
"""Full throttle before and after, for each lambda channel that a promise is about."""


def _both(before: Bands | None, after: Bands | None, cylinder: int | None) -> Both:
    """Return the channels: a cylinder's own, or the collector's that stands for it; for the whole engine all."""
    if before is None or after is None:
        return []
    first, last = ({one.cylinder: one for one in found.full_throttle} for found in (before, after))
    there = [number for number in first if number in last]
    asked = there if cylinder is None else [cylinder if cylinder in there else None]
    return [(first[number], last[number]) for number in asked if number in there]


def _doubts(both: Both, air: float, *, known: bool) -> list[Component]:
    """Return what the change is unsure by: sampling is each channel's own, delay and drift are shared by all."""

    def sds(name: str) -> list[float]:
        return [
            part.sd for pair in both for full in pair for part in full.budget.components if part.name == name
        ]

    parts = [
        Component(SAMPLING, math.hypot(*sds(SAMPLING)) / len(both), "measured"),
        Component(DELAY, math.hypot(*sds(DELAY)) / math.sqrt(len(both)), "measured"),
        Component(DRIFT, max(sds(DRIFT), default=0.0), "common practice"),
        Component("what the air of the day did", LAW * abs(air) if known else NO_AIR, "assumed"),
    ]
    return [part for part in parts if part.sd > 0.0]


def _air(mean: float, weathers: tuple[Weather | None, Weather | None]) -> tuple[float, bool]:
    """Return what the change of air alone makes of a lambda [1], and whether it is known."""
    states = [
        (one.air_temp_c, one.air_pressure_hpa, one.humidity_percent)
        if one is not None
        else (None, None, None)
        for one in weathers
    ]
    (temp0, pressure0, humidity0), (temp1, pressure1, humidity1) = states
    if (
        temp0 is None
        or pressure0 is None
        or humidity0 is None
        or temp1 is None
        or pressure1 is None
        or humidity1 is None
    ):
        return 0.0, False
    factor = lambda_factor(temp1, pressure1, humidity1, reference=(temp0, pressure0, humidity0))
    return mean * (float(factor) - 1.0), True
