"""Whether a session departs from the bike's own history: by a scale of its other sessions, constant errors left out."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from bridge.agreement.history import SENSORS_APART, History, Past, history
from bridge.agreement.kept import ENOUGH_PAIRS, ENOUGH_SESSIONS, TOGETHER, Kept, alike
from bridge.agreement.verdict import Difference, judge_ring, nothing_to_say
from bridge.budget import Budget, Component
from bridge.channels.sensor_state import DRIFT_PER_YEAR
from bridge.model import PlugLife, ScaleStatement
from bridge.plug.exposure import Measured
from bridge.plug.fitted_scale import FittedScale
from bridge.plug.ring_fit import Prior
from bridge.plug.scale import OneSided, RingLambda, fit_prior, newest_statement, ring_lambda

TWO_STROKES_APART = 0.03
"""The same as ``SENSORS_APART`` on a two-stroke, whose cylinders lose unequal shares of their charge; assumed [1]."""
_PLACE_SD_MM = 2.5
"""What a sensor that reads wrongly all season may move the place by besides [mm]; assumed."""
_SCATTER = 0.004
"""Scatter of one bike's ring from session to session before its pairs tell it, as the scale of a half-normal [1]: less
than between bikes, whose load and timing differ more; assumed. Simulated with 4 to 20 pairs, the 95 % intervals of a
scale so made hold 95 % of the time where the scatter is 0.005, and 89 % where it is 0.01."""
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

    @property
    def apart_sd(self) -> float:
        """How far one cylinder's sensor stands apart from the others', all season alike [1]."""
        return TWO_STROKES_APART if self.strokes == 2 else SENSORS_APART


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
        return self.pairs >= ENOUGH_PAIRS and self.sessions >= ENOUGH_SESSIONS


def of_history(
    kept: Sequence[Kept], life: PlugLife, statements: Sequence[ScaleStatement], asked: Asked
) -> History | None:
    """Return the history that a plug is held against; None where no other session has a pair for it.

    With few pairs it judges nothing, see ``Departed.enough``; it is still better than a guess for causes.

    Args:
        kept: pairs of the bike; those of this session, and of another plug type, nose length or build do not count.
        life: the plug.
        statements: what the tuner stated of the ring.
        asked: about the session.
    """
    if life.nose_mm is None:
        return None
    same = alike(kept, plug_type=life.type, nose_mm=life.nose_mm, build=asked.build)
    others = [one for one in same if one.pair.session != asked.session]
    if not others:
        return None
    statement = newest_statement(statements, plug_type=life.type, nose_mm=life.nose_mm, build=asked.build)
    prior = _in_depth(fit_prior(life.nose_mm, statement))
    return history(others, prior, life.nose_mm, asked.apart_sd)


def _in_depth(prior: Prior) -> Prior:
    """Return a prior as unsure of its place, but in depth, so that a place away from it does not speak on the slope.

    A doubt in lambda grows in depth with the slope, and pairs whose place is well known would then favour flat slopes.
    """
    place_sd_mm = math.hypot(prior.place_sd_mm, prior.slope_mm * prior.lambda_sd, _PLACE_SD_MM)
    scatter = min(prior.scatter, _SCATTER)
    return replace(prior, place_sd_mm=place_sd_mm, lambda_sd=0.0, scatter=scatter)


def depart(found: History, life: PlugLife, over: Measured, asked: Asked, *, valid: bool) -> Departed | None:
    """Hold a reading against the bike's history.

    Args:
        found: the history.
        life: the plug and its reading.
        over: the measured lambda that it lived through.
        asked: about the session.
        valid: whether the reading is.

    Returns:
        None where there is no ring or no measured lambda to hold against one another.
    """
    if life.reading is None or over.mean is None or over.budget is None:
        return None
    ring = ring_lambda(life.reading, found.scale, life.nose_mm)
    if ring is None:
        return None
    if ring.one_sided is not None and life.nose_mm is not None:
        ring = _one_sided(found.scale, ring.one_sided, life.nose_mm)
    cylinder = life.fitting.cylinder
    together = all(one.kept.pair.cylinder == TOGETHER for one in found.past)
    doubts = [*over.budget.components, _drift(found, asked)]
    past = own_past(found, cylinder)
    if not together:
        mean, sd = found.apart(cylinder, asked.apart_sd)
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


def _one_sided(scale: FittedScale, side: OneSided, nose_mm: float) -> RingLambda:
    bound, budget = scale.edge_at(nose_mm if side == "leaner" else 0.0, side)
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
    return [f"with a probability of {likely.weight:.0%} {likely.in_words()} {verb} off in its history{_LEFT}"]
