"""A session's comparison held against the bike's history: departure, causes, the next test, and the sentences."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from bridge.agreement.bike_history import bike_history
from bridge.agreement.causes.next_test import next_test
from bridge.agreement.causes.picture import (
    Picture,
    Value,
    against_usual,
    beside,
    facts_of,
    past_running,
)
from bridge.agreement.causes.rank import Ranking, rank
from bridge.agreement.causes.running import Running
from bridge.agreement.collector import Together, together
from bridge.agreement.departure import Asked, Departed, depart
from bridge.agreement.kept import TOGETHER, Kept
from bridge.agreement.result import Comparison, CylinderResult
from bridge.agreement.statement import say_departure, say_why
from bridge.agreement.words import LEAN_AT_FULL, said_of_pull, warned
from bridge.budget import Budget
from bridge.model import PlugLife, Run, ScaleStatement
from bridge.plug.evidence import stopping
from bridge.plug.scale import SCATTER, SLOPE_MM

TO_EXPLAIN, TO_EXPLAIN_BLIND = 0.9, 0.7
"""With less probability than this that nothing is wrong, causes are ranked though no verdict asks for them [1]: with a
history to tell by, and without one; assumed."""
_BLAMED = {
    "state when fitted": "old or fouled plug",
    "gap": "coloured on the way in",
    "full throttle": "too few seconds at full throttle",
    "last minute": "too few seconds at full throttle",
    "no ring": "too few seconds at full throttle",
    "misfire": "misfire",
}
"""Rules of a reading whose failing is a cause by itself."""


@dataclass(frozen=True)
class _Held:
    """One cylinder's result, what it differs by, and what no other cylinder's doubt shares."""

    result: CylinderResult
    departed: Departed | None
    difference: Value | None
    bound: str | None
    own_sd: float


def with_history(
    found: Comparison,
    run: Run,
    statements: Sequence[ScaleStatement] = (),
    pairs: Sequence[Kept] = (),
) -> Comparison:
    """Add to a session's comparison what the bike's other sessions say of it.

    Args:
        found: what ``compare_alone`` gave.
        run: the session.
        statements: what the tuner stated of the ring on this bike.
        pairs: of the bike; this session's own are left out here, and those of another plug type, nose or build.

    Returns:
        The same with ``departure`` where there are three pairs of two other sessions, with causes where there is
        something to explain, and with ``together`` where one sensor stands for several cylinders.
    """
    bike = run.bike
    asked = Asked(
        session=run.session.id,
        started=run.session.started,
        build=run.session.build,
        strokes=bike.strokes if bike else None,
        cylinders=len(found.cylinders),
        margin=found.margin,
        drift_per_year=bike.sensor_cell.drift_per_year if bike else None,
    )
    held = [_held(result, pairs, statements, asked) for result in found.cylinders]
    past = [one for one in pairs if one.pair.session != asked.session]
    cylinders = tuple(_result(one, held, past, asked) for one in held)
    return replace(found, cylinders=cylinders, together=_together(cylinders, asked))


def _held(
    result: CylinderResult, pairs: Sequence[Kept], statements: Sequence[ScaleStatement], asked: Asked
) -> _Held:
    life, over = result.life, result.measured
    known = None
    if life is not None and life.nose_mm is not None:
        known = bike_history(
            pairs,
            statements,
            plug_type=life.type,
            nose_mm=life.nose_mm,
            build=asked.build,
            strokes=asked.strokes,
            without=asked.session,
        )
    departed = None
    if known is not None and life is not None:
        departed = depart(known, life, over, asked, valid=result.validity.valid, pull_share=result.pull_share)
    if departed is not None:
        ring, budget, scale = departed.ring, departed.judged.budget, departed.scale
        slope, scatter = scale.slope_mm, scale.scatter_of(result.pull_share)
    elif result.ring is not None and over.budget is not None:
        scatter = SCATTER if result.scale is None else result.scale.scatter_of(result.pull_share)
        ring, slope = result.ring, SLOPE_MM
        budget = Budget((*ring.budget.components, *over.budget.components, *over.sensor.components))
    else:
        return _Held(result, None, None, None, 0.0)
    at = ring.mean if ring.mean is not None else ring.bound
    if at is None or over.mean is None or budget is None or over.budget is None:
        return _Held(result, departed, None, None, 0.0)
    own = math.hypot(_read_sd(life) / slope, scatter, over.budget.sd)
    sd = max(budget.sd, own)
    return _Held(result, departed, Value(at - over.mean, sd), ring.one_sided, own)


def _read_sd(life: PlugLife | None) -> float:
    reading = life.reading if life else None
    if reading is None or reading.ring != "seen":
        return 0.0
    return reading.depth_sd_mm


def _weight(result: CylinderResult, departed: Departed | None) -> list[str]:
    """Return what is said of a reading cut at a pull's end, by the scale that its answer is by."""
    if result.after_pull is None:
        return []
    return [said_of_pull(result.after_pull, departed.scale if departed and departed.enough else result.scale)]


def _notes(result: CylinderResult, departed: Departed | None) -> tuple[str, ...]:
    return departed.notes if departed and departed.enough and result.validity.valid else ()


def _result(one: _Held, held: Sequence[_Held], past: Sequence[Kept], asked: Asked) -> CylinderResult:
    result, departed = one.result, one.departed
    seen = _picture(one, held, past, asked)
    ranking = rank(seen)
    departure = departed.difference if departed and departed.enough else None
    result = replace(
        result,
        departure=departure,
        departed=departed,
        sound=ranking.sound if seen.difference is not None else None,
        notes=(*result.notes, *_weight(result, departed), *_notes(result, departed)),
    )
    if _to_explain(result, ranking):
        ranking = _blamed(result, ranking, seen)
        result = replace(result, causes=ranking.causes, next_test=ranking.next_test)
    return replace(result, statement=_statement(result))


def _picture(one: _Held, held: Sequence[_Held], past: Sequence[Kept], asked: Asked) -> Picture:
    result, departed = one.result, one.departed
    now = result.running or Running()
    averaged = result.measured.engine_wide and asked.cylinders > 1
    own = TOGETHER if averaged else result.cylinder
    ran = (
        past_running(departed.past)
        if departed
        else [kept.running for kept in past if kept.pair.cylinder == own and kept.running is not None]
    )
    if averaged:
        # what is kept of a pair of all together has one cylinder's temperature
        now = replace(now, egt_full_c=None)
    facts, told = facts_of(result.life, result.validity, now, ran, result.measured.sensor.checked_days)
    values = [
        (kept.kept.started, kept.kept.pair.session, Value(kept.difference, kept.sd))
        for kept in (departed.past if departed else ())
        if kept.difference is not None
    ]
    before = [
        value
        for started, session, value in values
        if (started < asked.started if started and asked.started else session < asked.session)
    ]
    return Picture(
        strokes=asked.strokes or 4,
        cylinders=asked.cylinders,
        averaged=averaged,
        measured=result.measured.mean,
        difference=one.difference,
        own_sd=one.own_sd,
        bound=one.bound,
        others=tuple(
            Value(other.difference.value, other.own_sd)
            for other in held
            if other is not one
            and other.difference is not None
            and other.bound is None
            and (other.departed is None) == (departed is None)
        ),
        before=tuple(before),
        after=tuple(value for _, _, value in values if value not in before),
        beside=None if averaged else _beside(one, held, past),
        no_ride=_no_ride(one, held),
        facts=facts,
        told=told,
        **against_usual(now, ran),  # type: ignore[arg-type]  # each by its name
    )


def _no_ride(one: _Held, held: Sequence[_Held]) -> bool:
    """Return whether a plug of the session says stop, or ring or sensor that full throttle may be lean."""
    stopped = any(
        stopping(other.result.life.reading, other.result.life.ran_s)
        for other in held
        if other.result.life is not None
    )
    ring = one.departed.ring if one.departed else one.result.ring
    said = [
        one.result.measured.mean,
        *((ring.mean, ring.bound) if ring and one.result.validity.valid else ()),
    ]
    return stopped or any(value is not None and value > LEAN_AT_FULL for value in said)


def _beside(one: _Held, held: Sequence[_Held], past: Sequence[Kept]) -> Value | None:
    number = one.result.cylinder
    others = [other.result.running for other in held if other is not one and other.result.running is not None]
    sessions: dict[int, dict[int, Running]] = {}
    for kept in past:
        if kept.running is not None:
            sessions.setdefault(kept.pair.session, {})[kept.pair.cylinder] = kept.running
    rows = [
        (ran[number], [other for cylinder, other in ran.items() if cylinder != number])
        for ran in sessions.values()
        if number in ran and len(ran) == len(held)
    ]
    return beside(one.result.running or Running(), others, rows)


def _to_explain(result: CylinderResult, ranking: Ranking) -> bool:
    if any(rule.rule in _BLAMED for rule in result.validity.failed):
        return True
    if result.verdict in {"ring leaner", "ring richer"}:
        return True
    if result.departure is not None and result.validity.valid and result.verdict != "agree":
        return True
    limit = TO_EXPLAIN_BLIND if result.departure is None else TO_EXPLAIN
    return result.sound is not None and ranking.sound < limit


def _blamed(result: CylinderResult, ranking: Ranking, seen: Picture) -> Ranking:
    """Put a cause first whose rule the reading broke: that is known, whatever else may be wrong."""
    broken = [_blame(rule.rule, result) for rule in result.validity.failed if rule.rule in _BLAMED]
    if not broken or ranking.causes[0].cause == broken[0]:
        return ranking
    first = [one for one in ranking.causes if one.cause == broken[0]]
    if not first:
        return ranking
    # a broken rule speaks for its cause as strongly as anything here is believed
    odds = max(1.0, 2.0 * ranking.causes[0].weight / max(first[0].weight, 1e-6))
    total = 1.0 + (odds - 1.0) * first[0].weight
    causes = [
        replace(one, weight=one.weight * (odds if one.cause == broken[0] else 1.0) / total)
        for one in ranking.causes
    ]
    known = sorted(causes[:-1], key=lambda one: -one.weight)
    test = next_test({one.cause: one.weight for one in causes}, seen)
    return replace(ranking, causes=(*known, causes[-1]), next_test=test)


def _blame(rule: str, result: CylinderResult) -> str:
    other = result.life is not None and result.life.heat_range != 0
    return "wrong heat range" if rule == "no ring" and other else _BLAMED[rule]


def _statement(result: CylinderResult) -> str:
    """Return the sentences on a cylinder; the absolute ones stay where there is no departure."""
    departed, departure = result.departed, result.departure
    said = result.statement
    if departed is not None and departure is not None and result.validity.valid:
        said = warned(result.life, say_departure(departure, departed))
    why = say_why(result.causes, result.verdict, result.next_test) if result.tells_causes else ""
    return f"{said} {why}" if why else said


def _together(cylinders: Sequence[CylinderResult], asked: Asked) -> Together | None:
    if asked.cylinders < 2 or not all(one.measured.engine_wide for one in cylinders):
        return None
    valid = [one for one in cylinders if one.validity.valid]
    if len(valid) < asked.cylinders:
        return None
    over = valid[0].measured
    by_pairs = all(one.departure is not None for one in valid)
    if by_pairs:
        rings = [(one.cylinder, one.departed.ring) for one in valid if one.departed is not None]
        return together(rings, over, (), scale="pairs", cylinders=asked.cylinders, margin=asked.margin)
    rings = [(one.cylinder, one.ring) for one in valid if one.ring is not None]
    name = valid[0].scale.name if valid[0].scale else "guess"
    extra = over.sensor.components
    return together(rings, over, extra, scale=name, cylinders=asked.cylinders, margin=asked.margin)
