"""Whether a session departs from the bike's own history: by a scale of its other sessions, constant errors left out."""

import math
from dataclasses import dataclass, replace
from datetime import datetime

from bridge.agreement.history import History, Past
from bridge.agreement.kept import TOGETHER, Kept
from bridge.agreement.statement import percent
from bridge.agreement.verdict import Difference, judge_ring, nothing_to_say
from bridge.budget import Budget, Component
from bridge.channels.sensor_state import DRIFT_PER_YEAR
from bridge.model import PlugLife
from bridge.plug.exposure import Measured
from bridge.plug.fitted_scale import FittedScale
from bridge.plug.ring_fit import OneSided
from bridge.plug.scale import RingLambda, ring_lambda

_YEAR_S = 365.0 * 86_400.0


@dataclass(frozen=True)
class Asked:
    """What a departure is asked about.

    Attributes:
        session: number of the session looked at.
        started: when it did, in UTC; None where nobody knows.
        build: number of the engine build.
        strokes: 2 or 4; None where nobody knows.
        cylinders: of the bike.
        margin: what counts as agreement [1].
        drift_per_year: of the sensor; None for the usual [1].
    """

    session: int
    started: datetime | None
    build: int | None
    strokes: int | None
    cylinders: int
    margin: float
    drift_per_year: float | None = None


@dataclass(frozen=True)
class Departed:
    """A reading against the bike's history.

    Attributes:
        history: what it is held against.
        ring: the ring's lambda by that scale, on the sensor's own axis.
        judged: ring less measured, judged as if the reading were valid; causes look at it, verdicts do not.
        difference: the same for a valid reading; nothing to say for another.
        past: the other sessions of the same cylinder, in order of time, each with what it differed by.
        earlier: how many of these sessions were before this one.
        notes: what has to be known beside it, one sentence each.
    """

    history: History
    ring: RingLambda
    judged: Difference
    difference: Difference
    past: tuple[Past, ...]
    earlier: int
    notes: tuple[str, ...]

    @property
    def scale(self) -> FittedScale:
        """The scale of the other sessions."""
        return self.history.scale

    @property
    def pairs(self) -> int:
        """How many pairs it stands on."""
        return self.history.pairs

    @property
    def sessions(self) -> int:
        """Of how many sessions these are."""
        return self.history.sessions

    @property
    def enough(self) -> bool:
        """Whether these are enough to judge a reading by."""
        return self.history.enough


def depart(  # noqa: PLR0913  # a reading, what it is held against, and what is known of it
    found: History,
    life: PlugLife,
    over: Measured,
    asked: Asked,
    *,
    valid: bool,
    pull_share: float = 0.0,
) -> Departed | None:
    """Hold a reading against the bike's history.

    Args:
        found: the history.
        life: the plug and its reading.
        over: the measured lambda that it lived through.
        asked: about the session.
        valid: whether the reading is.
        pull_share: of a reading cut at a pull's end the share of its exposure that was pulls [1].

    Returns:
        None where there is no ring or no measured lambda to hold against one another.
    """
    if life.reading is None or over.mean is None or over.budget is None:
        return None
    ring = ring_lambda(life.reading, found.scale, life.nose_mm, pull_share)
    if ring is None:
        return None
    if ring.one_sided is not None and life.nose_mm is not None:
        ring = _one_sided(found.scale, ring.one_sided, life.nose_mm, pull_share)
    cylinder = life.fitting.cylinder
    together = all(one.kept.pair.cylinder == TOGETHER for one in found.past)
    doubts = [*over.budget.components, _drift(found, asked)]
    past = own_past(found, cylinder)
    if not together:
        mean, sd = found.apart(cylinder)
        ring, apart = _without_apart(ring, mean, sd)
        doubts.append(apart)
        past = tuple(
            one
            if one.difference is None
            else replace(one, difference=one.difference - mean, sd=math.hypot(one.sd, sd))
            for one in past
        )
    judged = judge_ring(ring, over.mean, Budget((*ring.budget.components, *doubts)), asked.margin)
    earlier = len({one.kept.pair.session for one in found.past if _before(one.kept, asked)})
    notes = [*_said_of(found)]
    if earlier == 0 and judged.verdict in {"ring leaner", "ring richer"}:
        judged = replace(judged, verdict="cannot say")
        notes.append(
            "this is the first of the bike's sessions with a pair, so nobody can tell whether it departs from"
            " the later ones or all of them from it"
        )
    difference = judged if valid else nothing_to_say(asked.margin)
    return Departed(found, ring, judged, difference, past, earlier, tuple(notes))


def _one_sided(scale: FittedScale, side: OneSided, nose_mm: float, pull_share: float) -> RingLambda:
    bound, budget = scale.edge_at(nose_mm if side == "leaner" else 0.0, side, pull_share)
    if side == "leaner":
        return RingLambda(None, bound + budget.quantile(0.05), None, side, bound, budget)
    return RingLambda(None, None, bound + budget.quantile(0.95), side, bound, budget)


def own_past(found: History, cylinder: int) -> tuple[Past, ...]:
    """Return what a cylinder's own rings differed by in the other sessions, in order of time."""
    own = [one for one in found.past if one.kept.pair.cylinder == cylinder]
    for one in found.past:
        depth = dict(one.kept.depths).get(cylinder)
        if depth is not None:
            ring = found.scale.lambda_at(depth)[0]
            own.append(replace(one, difference=ring - one.kept.pair.lambda_))
    return tuple(own)


def _before(kept: Kept, asked: Asked) -> bool:
    if kept.started is not None and asked.started is not None:
        return kept.started < asked.started
    return kept.pair.session < asked.session


def _without_apart(ring: RingLambda, apart: float, sd: float) -> tuple[RingLambda, Component]:
    """Take off what this cylinder's sensor stands apart from the others', all season alike."""

    def less(value: float | None) -> float | None:
        return None if value is None else value - apart

    name = "how far this cylinder's sensor stands apart from the others'"
    moved = replace(
        ring, mean=less(ring.mean), low=less(ring.low), high=less(ring.high), bound=less(ring.bound)
    )
    return moved, Component(name, sd, "fitted")


def _drift(found: History, asked: Asked) -> Component:
    """Return what the sensor may have drifted between the middle of the history and this session."""
    per_year = DRIFT_PER_YEAR if asked.drift_per_year is None else asked.drift_per_year
    times = [one.kept.started.timestamp() for one in found.past if one.kept.started is not None]
    away_s = abs(asked.started.timestamp() - sum(times) / len(times)) if times and asked.started else _YEAR_S
    name = "the sensor's drift since the middle of the bike's other sessions"
    return Component(name, per_year * away_s / _YEAR_S, "common practice")


_WORTH_SAYING = 0.05
_LEFT = ", and the ring scale hardly counts them"


def _said_of(found: History) -> list[str]:
    likely = next((one for one in found.stretches if one.sessions), None)
    if likely is None or found.off < _WORTH_SAYING:
        return []
    verb = "is" if len(likely.sessions) == 1 and likely.also is None else "are"
    return [
        f"with a probability of {percent(likely.weight)} {likely.in_words()} {verb} off in its history{_LEFT}"
    ]
