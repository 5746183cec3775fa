"""One session: each cylinder's ring against its oxygen sensor."""

from collections.abc import Sequence
from dataclasses import dataclass

from bridge.agreement.result import Comparison, CylinderResult
from bridge.agreement.verdict import (
    Difference,
    judge_difference,
    judge_leaner_than,
    judge_richer_than,
    nothing_to_say,
)
from bridge.agreement.words import cautions_for, say
from bridge.bands import session_fuel
from bridge.budget import Budget, Component
from bridge.channels import find
from bridge.errors import BadValue
from bridge.model import PlugLife, Run, ScaleStatement
from bridge.plug.exposure import Measured, measured
from bridge.plug.lived import live_through
from bridge.plug.scale import NOSE_MEND, LinearScale, RingLambda, ring_lambda, scale_for
from bridge.plug.validity import Validity, judge

MARGIN = 0.03
"""What counts as agreement where the bike says nothing else [1]."""
CYLINDER_SD = 0.03
"""Standard uncertainty of one cylinder's lambda by the average that one sensor for all of them sees [1]: assumed,
no source; from memory, the cylinders of a sound engine lie within some 5 % of each other's mixture."""


@dataclass(frozen=True)
class _Asked:
    """What holds for all cylinders of a session."""

    run: Run
    statements: Sequence[ScaleStatement]
    margin: float
    part: tuple[float | None, float | None]
    """Seconds from and to which the session is looked at."""

    @property
    def in_part(self) -> bool:
        return self.part != (None, None)


def compare(
    run: Run,
    lives: Sequence[PlugLife],
    statements: Sequence[ScaleStatement] = (),
    *,
    from_s: float | None = None,
    to_s: float | None = None,
) -> Comparison:
    """Hold each cylinder's ring against its oxygen sensor.

    Args:
        run: the session looked at.
        lives: the plugs that were in it, each with the running it lived through.
        statements: what the tuner stated of the ring on this bike.
        from_s: the measured lambda leaves out what burned before, and earlier sessions [s].
        to_s: it leaves out what burned later [s]. Validity is judged on the whole log all the same.

    Returns:
        A result for each cylinder of the bike, also for one without a plug.
    """
    fuel, told = session_fuel(run.setup)
    asked = _Asked(run, statements, run.bike.margin if run.bike else MARGIN, (from_s, to_s))
    notes = [told] if told else []
    if run.bike is None:
        notes.append("no bike is named for this session, so its cylinders are those of the log and the tray")
    if asked.in_part:
        begin, end = (
            "the start" if from_s is None else f"{from_s:g} s",
            "the end" if to_s is None else f"{to_s:g} s",
        )
        notes.append(f"the measured lambda is over the part from {begin} to {end} of this session alone")
    by_cylinder = {life.fitting.cylinder: life for life in lives}
    results = tuple(
        _cylinder(asked, number, by_cylinder.get(number)) for number in _cylinders(run, by_cylinder)
    )
    return Comparison(
        run.session.id, fuel, asked.margin, results, tuple(notes), cautions_for(run.bike, lives)
    )


def _cylinders(run: Run, by_cylinder: dict[int, PlugLife]) -> list[int]:
    """Return the cylinders to speak of: the bike's, and any that a plug came from."""
    known = set(range(1, run.bike.cylinders + 1)) if run.bike else {1}
    if run.bike is None:
        found = [find(name) for name in run.samples.collect_schema().names()]
        known |= {cylinder for item in found if item and (cylinder := item[1]) is not None}
    return sorted(known | set(by_cylinder))


def _cylinder(asked: _Asked, number: int, life: PlugLife | None) -> CylinderResult:
    """Return one cylinder's result."""
    run = asked.run
    runs = life.runs if life else (run,)
    lived = live_through(runs, number)
    seen = live_through((run,), number, asked.part) if asked.in_part else lived
    over = measured((run,) if asked.in_part else runs, number, seen)
    scale, ring, missing = None, None, None
    if life is None:
        because = f"no plug is known in cylinder {number}; fit one with 'sootline plug fit'"
        validity = Validity(
            valid=False, because=because, full_throttle_s=lived.full_throttle_s, gap_s=lived.gap_s
        )
    else:
        validity = judge(life, lived)
        scale, ring, missing = _ring(life, asked)
    absolute = _absolute(validity, ring, over, asked)
    return CylinderResult(
        cylinder=number,
        life=life,
        validity=validity,
        scale=scale,
        ring=ring,
        measured=over,
        absolute=absolute,
        departure=None,
        notes=(*lived.notes, *_notes(asked, life, over), *([missing] if missing else [])),
        statement=_warned(life, say(validity, ring, over, absolute, missing)),
    )


def _warned(life: PlugLife | None, statement: str) -> str:
    """Return a statement with what goes before it where aluminium was seen on the plug."""
    if life is None or not life.aluminium:
        return statement
    return f"Aluminium on plug {life.fitting.plug}: stop, and look inside before it runs again. {statement}"


def _notes(asked: _Asked, life: PlugLife | None, over: Measured) -> list[str]:
    """Return what has to be known beside one cylinder's figures."""
    notes = []
    bike = asked.run.bike
    if _averaged(asked, over):
        notes.append(
            "one sensor stands for all cylinders, so the measured lambda is their average, and a cylinder"
            " that departs from the others shows here as a difference; how far one may is counted as a doubt of"
            f" {CYLINDER_SD:g} lambda, which is assumed",
        )
    if bike is None:
        notes.append("without a bike the sensor's own accuracy is taken as on a two-stroke, the wider one")
    if life is None:
        notes.append("the measured lambda is over this session alone, since no plug is known here")
    return notes


def _ring(life: PlugLife, asked: _Asked) -> tuple[LinearScale | None, RingLambda | None, str | None]:
    """Return a plug's scale, its ring's lambda, and what is missing to have them."""
    try:
        scale = scale_for(
            asked.statements, plug_type=life.type, nose_mm=life.nose_mm, build=asked.run.session.build
        )
    except BadValue as error:
        return None, None, str(error)
    if life.reading is None or life.reading.ring == "not-seen":
        return scale, None, None
    ring = ring_lambda(life.reading, scale, life.nose_mm)
    return scale, ring, None if ring else f"no ring on a nose of unknown length has no lambda; {NOSE_MEND}"


def _averaged(asked: _Asked, over: Measured) -> bool:
    """Return whether one sensor stands for several cylinders, or may do so."""
    return over.engine_wide and (asked.run.bike is None or asked.run.bike.cylinders > 1)


def _absolute(validity: Validity, ring: RingLambda | None, over: Measured, asked: _Asked) -> Difference:
    """Return the absolute difference with every doubt that belongs to it."""
    margin = asked.margin
    if not validity.valid or ring is None or over.mean is None or over.budget is None:
        return nothing_to_say(margin)
    doubts = [Component("the sensor's own accuracy", over.sensor_sd, "common practice")]
    if _averaged(asked, over):
        name = "how far one cylinder may be from the average that one sensor sees"
        doubts.append(Component(name, CYLINDER_SD, "assumed"))
    budget = Budget((*ring.budget.components, *over.budget.components, *doubts))
    if ring.mean is not None:
        return judge_difference(ring.mean - over.mean, budget, margin)
    assert ring.bound is not None  # a ring has a mean or a bound
    one_sided = judge_leaner_than if ring.one_sided == "leaner" else judge_richer_than
    return one_sided(ring.bound - over.mean, budget, margin)
