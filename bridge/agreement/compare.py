"""One session: each cylinder's ring against its oxygen sensor."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from bridge.agreement.against_history import with_history
from bridge.agreement.causes.running import ran_so
from bridge.agreement.kept import Kept
from bridge.agreement.result import Comparison, CylinderResult
from bridge.agreement.verdict import Difference, judge_ring, nothing_to_say
from bridge.agreement.witness import GasFound, gas_found, gas_witness
from bridge.agreement.words import cautions_for, say, warned
from bridge.bands import session_fuel
from bridge.budget import Budget, Component
from bridge.channels import find
from bridge.errors import BadValue
from bridge.model import PlugLife, Run, ScaleStatement
from bridge.model.sensor_known import pressure_corrected
from bridge.model.weather import carried_notes, weather_notes
from bridge.physics.fooled import TWO_STROKE_READS, Fooled, what_fools
from bridge.physics.fuel import Fuel
from bridge.plug.after_pull import AfterPull, cut_after_pull, pulls_in
from bridge.plug.exposure import Measured, measured
from bridge.plug.hours import with_ran
from bridge.plug.lived import live_through
from bridge.plug.scale import NOSE_MEND, LinearScale, RingLambda, ring_lambda, scale_for
from bridge.plug.validity import LIMITS, Validity, judge
from bridge.pulls.find import Findings

MARGIN = 0.03
"""What counts as agreement where the bike says nothing else [1]."""
CYLINDER_SD = 0.03
"""Standard uncertainty of one cylinder's lambda by the average that one sensor for all of them sees [1]: assumed,
no source; from memory, the cylinders of a sound engine lie within some 5 % of each other's mixture."""
AVERAGE = Component(
    "how far one cylinder may be from the average that one sensor sees", CYLINDER_SD, "assumed"
)


@dataclass(frozen=True)
class _Asked:
    """What holds for all cylinders of a session."""

    run: Run
    statements: Sequence[ScaleStatement]
    margin: float
    part: tuple[float | None, float | None]
    """Seconds from and to which the session is looked at."""
    gas: tuple[GasFound, ...]
    fuel: Fuel

    @cached_property
    def pulls(self) -> Findings:
        """The session's pulls, looked for once for all cylinders."""
        return pulls_in(self.run)

    @property
    def in_part(self) -> bool:
        return self.part != (None, None)


def compare(  # noqa: PLR0913  # what is compared, with what, and which part of it
    run: Run,
    lives: Sequence[PlugLife],
    statements: Sequence[ScaleStatement] = (),
    *,
    from_s: float | None = None,
    to_s: float | None = None,
    pairs: Sequence[Kept] = (),
) -> Comparison:
    """Hold each cylinder's ring against its oxygen sensor.

    Args:
        run: the session looked at.
        lives: the plugs that were in it, each with the running it lived through.
        statements: what the tuner stated of the ring on this bike.
        from_s: the measured lambda leaves out what burned before, and earlier sessions [s].
        to_s: it leaves out what burned later [s]. Validity is judged on the whole log all the same.
        pairs: of the bike, for the departure from its history; this session's own are left out, so all may be given.

    Returns:
        A result for each cylinder of the bike, also for one without a plug.
    """
    found = compare_alone(run, lives, statements, from_s=from_s, to_s=to_s)
    return with_history(found, run, statements, pairs)


def compare_alone(
    run: Run,
    lives: Sequence[PlugLife],
    statements: Sequence[ScaleStatement] = (),
    *,
    from_s: float | None = None,
    to_s: float | None = None,
) -> Comparison:
    """Compare as ``compare``, without the bike's other sessions: no departure, no causes.

    This is the part that takes time, and none of the pairs changes it; ``with_history`` adds the rest, once.

    Args:
        run: as ``compare``.
        lives: as ``compare``.
        statements: as ``compare``.
        from_s: as ``compare``.
        to_s: as ``compare``.
    """
    fuel, told = session_fuel(run.setup)
    margin = run.bike.margin if run.bike else MARGIN
    gas = gas_found(run.gas, fuel, run.setup.weather)
    asked = _Asked(run, statements, margin, (from_s, to_s), gas, fuel)
    notes = [told] if told else []
    if run.bike is None:
        notes.append("no bike is named for this session, so its cylinders are those of the log and the tray")
    if asked.in_part:
        begin, end = (
            "the start" if from_s is None else f"{from_s:g} s",
            "the end" if to_s is None else f"{to_s:g} s",
        )
        notes.append(f"the measured lambda is over the part from {begin} to {end} of this session alone")
    lives = [with_ran(life) for life in lives]
    by_cylinder = {life.fitting.cylinder: life for life in lives}
    results = tuple(
        _cylinder(asked, number, by_cylinder.get(number)) for number in _cylinders(run, by_cylinder)
    )
    calibrated = all(result.measured.sensor.calibrated for result in results)
    # the sensor's history stands with its cylinder already
    said = tuple({note for result in results for note in result.measured.sensor.notes})
    notes += [note for note in run.notes if not note.endswith(said)]
    return Comparison(
        session=run.session.id,
        fuel=fuel,
        margin=margin,
        cylinders=results,
        gas=gas,
        weather=(*weather_notes(run.setup.weather), *carried_notes(run.weather_of)),
        notes=tuple(notes),
        cautions=cautions_for(run.bike, lives, calibrated=calibrated),
        limits=run.bike.reading if run.bike else LIMITS,
        started=run.session.started,
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
    after_pull: AfterPull | None = None
    if life is None:
        because = f"no plug is known in cylinder {number}; write down which one was fitted, and when"
        validity = Validity(
            valid=False, because=because, full_throttle_s=lived.full_throttle_s, gap_s=lived.gap_s
        )
    else:
        validity = judge(life, lived)
        after_pull = cut_after_pull(run, lived, validity, asked.pulls) if validity.valid else None
        scale, ring, missing = _ring(life, asked, after_pull.pull_share if after_pull else 0.0)
    absolute = _absolute(validity, ring, over, asked)
    average = AVERAGE if run.bike is None or run.bike.cylinders > 1 else None
    return CylinderResult(
        cylinder=number,
        life=life,
        validity=validity,
        scale=scale,
        ring=ring,
        measured=over,
        absolute=absolute,
        departure=None,
        gas=gas_witness(asked.gas, number, ring if validity.valid else None, over, average),
        fooled=_fooled(run, over, asked.fuel),
        reads=_reads(run, over),
        notes=(*lived.notes, *_notes(asked, life, over), *([missing] if missing else [])),
        statement=warned(life, say(validity, ring, over, absolute, missing)),
        after_pull=after_pull,
        running=ran_so(runs, number, lived),
    )


def _notes(asked: _Asked, life: PlugLife | None, over: Measured) -> list[str]:
    """Return what has to be known beside one cylinder's figures."""
    notes = list(over.sensor.notes)
    if _averaged(asked, over):
        notes.append(
            "one sensor stands for all cylinders, so the measured lambda is their average, and a cylinder"
            " that departs from the others shows here as a difference; how far one may is counted as a doubt of"
            f" {CYLINDER_SD:g} lambda, which is assumed",
        )
    if life is None:
        notes.append("the measured lambda is over this session alone, since no plug is known here")
    return notes


def _ring(
    life: PlugLife, asked: _Asked, pull_share: float
) -> tuple[LinearScale | None, RingLambda | None, str | None]:
    """Return a plug's scale, its ring's lambda, and what is missing to have them."""
    try:
        scale = scale_for(
            asked.statements, plug_type=life.type, nose_mm=life.nose_mm, build=asked.run.session.build
        )
    except BadValue as error:
        return None, None, str(error)
    if life.reading is None or life.reading.ring == "not-seen":
        return scale, None, None
    ring = ring_lambda(life.reading, scale, life.nose_mm, pull_share)
    return scale, ring, None if ring else f"no ring on a nose of unknown length has no lambda; {NOSE_MEND}"


def _fooled(run: Run, over: Measured, fuel: Fuel) -> tuple[Fooled, ...]:
    """Return what can fool this bike's sensor, and by how much near what it says."""
    if over.mean is None or run.bike is None:
        return ()
    sensor = "collector" if over.engine_wide else run.bike.sensor
    return what_fools(
        run.bike.strokes,
        sensor,
        cylinders=run.bike.cylinders,
        calibrated=over.sensor.calibrated,
        lambda_=over.mean,
        h_to_c=fuel.h_to_c,
        o_to_c=fuel.o_to_c,
        pressure_corrected=pressure_corrected(run),
    )


def _reads(run: Run, over: Measured) -> str | None:
    """Return the mark of a two-stroke's measured lambda; None where the engine is no two-stroke or is calibrated."""
    two_stroke = run.bike is not None and run.bike.strokes == 2
    return TWO_STROKE_READS if two_stroke and not over.sensor.calibrated else None


def _averaged(asked: _Asked, over: Measured) -> bool:
    """Return whether one sensor stands for several cylinders, or may do so."""
    return over.engine_wide and (asked.run.bike is None or asked.run.bike.cylinders > 1)


def _absolute(validity: Validity, ring: RingLambda | None, over: Measured, asked: _Asked) -> Difference:
    """Return the absolute difference with every doubt that belongs to it."""
    margin = asked.margin
    if not validity.valid or ring is None or over.mean is None or over.budget is None:
        return nothing_to_say(margin)
    doubts = [*over.sensor.components, *([AVERAGE] if _averaged(asked, over) else [])]
    budget = Budget((*ring.budget.components, *over.budget.components, *doubts))
    return judge_ring(ring, over.mean, budget, margin)
